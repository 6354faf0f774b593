"""Marks the answers of a lesson: says right, or what kind of slip it is and a hint, and never the number.

A lesson lists its exercises in a folded cell, and its reader fills in the cell below::

    EXERCISES = {
        "Q1": Exercise(
            "mean hoop stress",
            20e6,
            "Pa",
            hints=("on which radius does the pressure act?", "p a = mean stress times depth"),
            slips={"the mean radius in place of the bore radius": 25e6},
        )
    }

    answer_1 = None  # Pa

    check(EXERCISES, Q1=answer_1)

which prints ``Q1, mean hoop stress: no answer yet, put a number (Pa) in place of None``. The first wrong answer brings
the first hint, another wrong one the second, which goes deeper.

`predict` keeps what a reader expects, before `compare` shows the computed number; `hold` holds a function that the
reader wrote against the library.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from math import isfinite, pi

import numpy as np

TURN = 30 / pi  # rpm per rad/s

SLIPS = (
    ((1e-6, 1e-3, 0.1, 10.0, 1e3, 1e6), "a power of ten off: mind the unit"),
    ((0.01, 100.0), "a hundred times off: mind the unit, or per cent and share"),
    ((TURN**-2, 1 / TURN, TURN, TURN**2), "rpm and rad/s are mixed up"),
    ((0.5,), "only half of it"),
    ((2.0,), "twice of it"),
)
"""Answer over right answer, and the slip that it points to; speed may enter squared."""


@dataclass(frozen=True)
class Exercise:
    """A question that one number answers; printed, it shows neither the number nor the hints.

    `slips` are the wrong numbers that readers find most often, by the words for what led to them.
    """

    quantity: str
    right: float = field(repr=False)
    unit: str
    hints: tuple[str, str] = field(repr=False)
    tolerance: float = 0.01
    """Largest share by which an answer may be off; narrower than the distance to any slip."""
    slips: Mapping[str, float] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class Build:
    """Something that the reader programs, and what it is held against.

    `trials` holds the arguments of each trial; `right` the library's function of the same arguments; both return the
    numbers or arrays named in `outputs`, a tuple of several, which agree when they differ by less than `tolerance`, a
    share of the largest.
    """

    what: str
    outputs: tuple[str, ...]
    trials: tuple[tuple, ...] = field(repr=False)
    right: Callable = field(repr=False)
    tolerance: float
    hints: tuple[str, str] = field(repr=False)


_wrong_answers: dict[str, list[float]] = {}
_predicted: dict[str, float | str] = {}
_shown: dict[str, float | str] = {}


def verdict(exercise, answer, attempt=1):
    """Judge one answer in words; large and small go by its size, not its sign. `attempt` chooses the hint."""
    if answer is None:
        return f"no answer yet, put a number ({exercise.unit}) in place of None"
    try:
        number = float("nan" if isinstance(answer, str) else answer)
        ratio = number / exercise.right
    except (TypeError, ValueError, OverflowError):
        ratio = float("nan")
    if not isfinite(ratio):
        return f"give one plain number ({exercise.unit})"
    if abs(ratio - 1) <= exercise.tolerance:
        return "right"
    hint = exercise.hints[min(attempt, len(exercise.hints)) - 1]
    return f"not yet, {_slip(exercise, number, ratio)}; hint: {hint}"


def _slip(exercise, number, ratio):
    """Words for what is wrong: a slip of this exercise, one of all exercises, or the direction of the error."""
    for words, wrong in exercise.slips.items():
        if abs(number - wrong) <= exercise.tolerance * abs(wrong):
            return f"this is {words}"
    for factors, words in SLIPS:
        if any(abs(ratio / factor - 1) <= exercise.tolerance for factor in factors):
            return f"{words} (asked for: {exercise.unit})"
    return "the sign is wrong" if ratio < 0 else "too large" if ratio > 1 else "too small"


def check(exercises, **answers):
    """Print the verdict on each answer, such as ``check(EXERCISES, Q1=answer_1)``; a second wrong one goes deeper."""
    for name, answer in answers.items():
        if name not in exercises:
            print(f"{name}: no such question here; there are {', '.join(exercises)}")
            continue
        exercise = exercises[name]
        before = _wrong_answers.setdefault(f"{name}, {exercise.quantity}", [])
        words = verdict(exercise, answer, attempt=1 + len([wrong for wrong in before if wrong != answer]))
        if words.startswith("not yet") and answer not in before:
            before.append(answer)
        print(f"{name}, {exercise.quantity}: {words}")


def misjudged(exercises, **worked):
    """Questions without a worked answer or with a wrong one, or for which a wrong or no answer would pass.

    A lesson ends in ``assert not misjudged(EXERCISES, Q1=50e6)``, the number being that of its worked answer. Every
    slip of an exercise must be refused by its own words, and the two hints must differ and not hold the answer.
    """

    def is_well_judged(name):
        exercise, number = exercises.get(name), worked.get(name)
        if exercise is None or number is None or verdict(exercise, number) != "right":
            return False
        trials = {"too large": 1.1, "too small": 0.9, "sign": -1.0, "unit": 1e3}
        bare = replace(exercise, slips={})
        refused = all(words in verdict(bare, factor * number) for words, factor in trials.items())
        named = all(f"this is {words}" in verdict(exercise, wrong) for words, wrong in exercise.slips.items())
        deeper = len(exercise.hints) == 2 and exercise.hints[0] != exercise.hints[1] and all(exercise.hints)
        return refused and named and deeper and "no answer" in verdict(exercise, None)

    return [name for name in sorted(exercises.keys() | worked.keys()) if not is_well_judged(name)]


def predict(name, value, unit=""):
    """Keep what the reader expects of `name`; once it has been computed, the first prediction stands."""
    asked = f" ({unit})" if unit else ""
    if value is None:
        print(f"{name}: no prediction yet; put yours{asked} in place of None and run this cell before the next")
    elif name in _shown:
        first = (
            f"your first prediction, {_text(_predicted[name])}, stands"
            if name in _predicted
            else "restart to begin again"
        )
        print(f"{name}: the computed answer has been shown; {first}")
    else:
        _predicted[name] = value
        print(f"{name}: {_text(value)}{asked} recorded; now compute")


def compare(name, computed, unit=""):
    """Show the computed answer beside the prediction."""
    _shown[name] = computed
    result = f"{name}: computed {_text(computed)} {unit}".rstrip()
    if name not in _predicted:
        print(f"{result}; no prediction was recorded")
    elif isinstance(computed, str) or isinstance(_predicted[name], str):
        match = str(_predicted[name]).strip().lower() == str(computed).lower()
        print(f"{result}, predicted {_text(_predicted[name])}: {'as predicted' if match else 'not as predicted'}")
    else:
        print(
            f"{result}, predicted {_text(_predicted[name])}: off by {_predicted[name] - computed:+.3g} {unit}".rstrip()
        )


def _text(value):
    return value if isinstance(value, str) else f"{float(value):.4g}"


def disagreements(build, function):
    """What separates a function that the reader wrote from the library's, one line for each trial that differs."""
    lines = []
    for number, arguments in enumerate(build.trials, start=1):
        wanted = [np.atleast_1d(part) for part in _parts(build.right(*arguments))]
        try:
            answer = function(*arguments)
            if answer is None:
                return ["not built yet: the function returns None"]
            found = [np.atleast_1d(np.asarray(part, dtype=float)) for part in _parts(answer)]
        except Exception as problem:  # whatever a reader's own lines raise is for the reader to read
            lines.append(f"trial {number}: the function stopped, {type(problem).__name__}: {problem}")
            continue
        if [part.shape for part in found] != [part.shape for part in wanted]:
            lines.append(f"trial {number}: return {', '.join(build.outputs)}, shaped as the library's")
            continue
        for name, mine, library in zip(build.outputs, found, wanted, strict=True):
            off = np.abs(mine - library) > build.tolerance * np.max(np.abs(library))
            if np.any(off | np.isnan(mine)):
                place = int(np.argmax(off | np.isnan(mine)))
                lines.append(f"trial {number}, {name}: yours {mine.flat[place]:.6g}, library {library.flat[place]:.6g}")
    return lines


def _parts(answer):
    return answer if isinstance(answer, tuple) else (answer,)


def hold(build, function):
    """Print how a function that the reader wrote compares with the library; a second failure brings a deeper hint."""
    lines = disagreements(build, function)
    if not lines:
        print(f"{build.what}: agrees with the library in {len(build.trials)} trials, within {build.tolerance:g}")
        return
    before = _wrong_answers.setdefault(build.what, [])
    print(f"{build.what}: not yet", *lines, sep="\n  ")
    if "not built" not in lines[0]:
        print(f"  hint: {build.hints[min(len(before), 1)]}")
        before.append(float(len(before)))
