"""Marks the answers to the questions of a lesson: says right, or what kind of error it is, and never the number.

A lesson lists its exercises in a folded cell, and its reader fills in the cell below::

    EXERCISES = {"Q1": Exercise("mean hoop stress", 50e6, "Pa", "on which radius does the pressure act?")}

    answer_1 = None  # Pa

    check(EXERCISES, Q1=answer_1)

which prints ``Q1, mean hoop stress: no answer yet, put a number (Pa) in place of None``.
"""

from dataclasses import dataclass, field
from math import isfinite, pi

TURN = 30 / pi  # rpm per rad/s

SLIPS = (
    ((1e-6, 1e-3, 0.1, 10.0, 1e3, 1e6), "a power of ten off: mind the unit"),
    ((0.01, 100.0), "a hundred times off: mind the unit, or per cent and share"),
    ((TURN**-2, 1 / TURN, TURN, TURN**2), "rpm and rad/s are mixed up"),
    ((0.5,), "only half of it"),
    ((2.0,), "twice of it"),
)
"""Answer over right answer, and the slip that it gives away; speed may enter squared."""


@dataclass(frozen=True)
class Exercise:
    """A question that one number answers; printed, it does not show the number."""

    quantity: str
    right: float = field(repr=False)
    unit: str
    hint: str
    tolerance: float = 0.01
    """Largest share by which an answer may be off; narrower than the error that the question is about."""


def verdict(exercise, answer):
    """Judge one answer in words; large and small go by its size, not its sign."""
    if answer is None:
        return f"no answer yet, put a number ({exercise.unit}) in place of None"
    try:
        ratio = float("nan" if isinstance(answer, str) else answer) / exercise.right
    except (TypeError, ValueError, OverflowError):
        ratio = float("nan")
    if not isfinite(ratio):
        return f"give one plain number ({exercise.unit})"

    def near(factor):
        return abs(ratio / factor - 1) <= exercise.tolerance

    if near(1):
        return "right"
    for factors, words in SLIPS:
        if any(near(factor) for factor in factors):
            return f"not yet, {words} (wanted: {exercise.unit})"
    words = "the sign is wrong" if ratio < 0 else "too large" if ratio > 1 else "too small"
    return f"not yet, {words}: {exercise.hint}"


def check(exercises, **answers):
    """Print the verdict on each answer, such as ``check(EXERCISES, Q1=answer_1)``."""
    for name, answer in answers.items():
        if name in exercises:
            print(f"{name}, {exercises[name].quantity}: {verdict(exercises[name], answer)}")
        else:
            print(f"{name}: no such question here; there are {', '.join(exercises)}")


def misjudged(exercises, **worked):
    """Questions without a worked answer or with a wrong one, or for which a wrong or no answer would pass.

    A lesson ends in ``assert not misjudged(EXERCISES, Q1=50e6)``, the number being that of its worked answer.
    """

    def is_well_judged(name):
        exercise, number = exercises.get(name), worked.get(name)
        if exercise is None or number is None or verdict(exercise, number) != "right":
            return False
        trials = {"too large": 1.1, "too small": 0.9, "sign": -1.0, "unit": 1e3}
        told = all(words in verdict(exercise, factor * number) for words, factor in trials.items())
        return told and "no answer" in verdict(exercise, None)

    return [name for name in sorted(exercises.keys() | worked.keys()) if not is_well_judged(name)]
