"""The last task of the course: a machine of its own for every student number, whose truth only the marker knows.

>>> task = machine_of(4711)
>>> task.claimed_rpm > 0
True
"""

import hashlib
from dataclasses import dataclass, field, replace
from functools import cache
from math import isfinite, isnan

import numpy as np

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.measured.measure import measure
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM

VERDICTS = ("holds", "does not hold", "not shown")
TOLERANCE = 0.05
"""Share within which the invented contract lets a claimed float speed count as met."""


@dataclass(frozen=True)
class Task:
    """What a student gets: the papers and the recording. The truth behind them is not printed.

    `drawn` is the rotor of the drawing; the claim is about the condition "cold"; `recording` is the run in it.
    """

    student_number: int
    drawn: rm.Case = field(repr=False)
    claimed_rpm: float
    recording: object = field(repr=False)
    _truth: object = field(repr=False)

    @property
    def bound_rpm(self):
        """Float speed from which on the claim counts as met."""
        return self.claimed_rpm * (1 - TOLERANCE)


def machine_of(student_number):
    """The papers and the run of an invented machine; the same number brings the same machine."""
    digest = hashlib.sha256(f"rim {int(student_number)}".encode()).digest()
    dice = np.random.default_rng(list(digest))
    case = rm.example_case()
    drawn = case.rotor.with_interference(round(dice.uniform(1.9, 2.3), 2) * MILLIMETRE)
    cold = case.conditions["cold"]
    ratio = round(float(rm.float_speed(drawn, cold).speed / drawn.speeds.rated), 2)
    claimed = round(float(ratio * drawn.speeds.rated / RPM), 2)
    kind = VERDICTS[digest[0] % len(VERDICTS)]
    kept = dice.uniform(1.0, 1.05) if kind == "holds" else dice.uniform(0.62, 0.76)
    hoop = dice.uniform(0.84, 0.88)
    rim = replace(drawn.rim, hoop_stiffness_factor=hoop)
    truth = replace(drawn, rim=rim).with_interference(kept * drawn.fit.interference)
    lift_off = float(rm.float_speed(truth, cold).speed)
    top = 0.92 * lift_off if kind == "not shown" else 1.3 * lift_off
    run = Run(speeds=tuple(np.sqrt(np.linspace(0.03, 1.0, 12)) * top), seed=int(dice.integers(2**31)))
    papers = replace(case, rotor=drawn, records=())
    return Task(int(student_number), papers, claimed, virtual_run(truth, cold, run), truth)


def asked(task):
    """How many answers are marked: all five, or papers and verdict where the run cannot tell the rest."""
    return 5 if _reference(task.student_number)["interference"] else 2


def mark(task, drawn_float_speed, float_speed, interference, verdict, shim_change):
    """Print the mark of each answer and return how many of those that are `asked` are right.

    `drawn_float_speed` in rpm; `float_speed` (low, high) in rpm and `interference` (low, high) in mm, both at 95 %;
    `verdict` on the claim, in words; `shim_change` in mm, what brings the best estimate to the bound of the claim.
    None in place of an answer says that the run cannot tell, and in place of an end that there is none. Where the run
    cannot tell, only the float speed of the drawing and the verdict are marked.
    """
    wanted = _reference(task.student_number)
    seen = asked(task) == 5
    rows = {
        "float speed of the drawing": _number(drawn_float_speed, wanted["drawn"], 0.005 * wanted["drawn"], "rpm"),
        "float speed by the run": _interval(float_speed, wanted["float_speed"], "rpm") if seen else _left(float_speed),
        "interference by the run": _interval(interference, wanted["interference"], "mm")
        if seen
        else _left(interference),
        "verdict on the claim": _word(verdict, wanted["verdict"]),
        "change of the shims": _number(shim_change, wanted["shim_change"], 0.10, "mm") if seen else _left(shim_change),
    }
    for name, words in rows.items():
        print(f"{name}: {words}")
    right = sum(words == "right" for words in rows.values())
    print(f"student number {task.student_number}: {right} of {asked(task)}")
    return right


@cache
def _reference(student_number):
    """What an able reviewer finds with the library, beside the truth: (truth, low, high) of each interval."""
    task = machine_of(student_number)
    cold = task.drawn.conditions["cold"]
    lift_off = float(rm.float_speed(task._truth, cold).speed) / RPM
    found = measure(task.drawn.rotor, cold, read_recording(task.recording, label="run"), "cold")
    low, high = np.asarray(found.float_speed_interval, dtype=float) / RPM
    decided = found.verdict == "resolved"
    verdict = "not shown"
    if decided and low >= task.bound_rpm:
        verdict = "holds"
    elif decided and high < task.bound_rpm:
        verdict = "does not hold"
    held = task._truth.fit.interference / MILLIMETRE
    growth = float(coefficients(task._truth, cold).net_growth)
    needed = growth * (task.bound_rpm * RPM) ** 2 / MILLIMETRE
    interval = np.asarray(found.interference_interval, dtype=float) / MILLIMETRE
    return {
        "drawn": float(rm.float_speed(task.drawn.rotor, cold).speed) / RPM,
        "float_speed": (lift_off, low, high) if decided else None,
        "interference": (held, *interval) if decided else None,
        "verdict": verdict,
        "shim_change": max(needed - held, 0.0) if decided else None,
    }


def _plain(answer):
    """The answer as a float, nan where it is not one finite number."""
    if isinstance(answer, (str, bytes, bool)):
        return float("nan")
    try:
        number = float(answer)
    except (TypeError, ValueError, OverflowError):
        return float("nan")
    return number if isfinite(number) else float("nan")


def _number(answer, right, allowed, unit):
    if answer is None:
        return f"no answer yet ({unit})"
    number = _plain(answer)
    if isnan(number):
        return f"give one plain number ({unit}), without quotation marks"
    if abs(number - right) <= allowed:
        return "right"
    return f"not yet, too {'large' if number > right else 'small'} ({unit})"


def _word(answer, right):
    if answer is None:
        return f"no answer yet; one of {', '.join(VERDICTS)}"
    word = answer.strip().lower() if isinstance(answer, str) else answer
    if not isinstance(word, str) or word not in VERDICTS:
        return f"say one of {', '.join(VERDICTS)}, in quotation marks"
    return "right" if word == right else "not yet: where does the whole interval lie, and is there one?"


def _interval(answer, right, unit):
    """An interval is right where it holds the truth and is half to twice as wide as the library's.

    An honest interval misses once in twenty. Where the library's misses, others may by twice as much.
    """
    if answer is None:
        return f"no answer yet, (low, high) in {unit}"
    ends = tuple(answer) if isinstance(answer, (tuple, list, np.ndarray)) else ()
    if len(ends) != 2:
        return f"give two numbers in brackets, (low, high) in {unit}"
    if any(end is None for end in ends):
        return "not yet: this run bounds it on both sides"
    low, high = (_plain(end) for end in ends)
    if isnan(low) or isnan(high):
        return f"give two plain numbers, (low, high) in {unit}, without quotation marks"
    if not low < high:
        return "not yet: low comes before high"
    truth, best_low, best_high = right
    spare = 2.0 * max(best_low - truth, truth - best_high, 0.0)
    if not low - spare <= truth <= high + spare:
        return "not yet: the truth lies outside"
    if high - low < 0.5 * (best_high - best_low):
        return "not yet: far narrower than the noise of the run allows"
    return "right" if high - low <= 2.0 * (best_high - best_low) else "not yet: far wider than the run allows"


def _left(answer):
    """Words for an answer that is left out of the marks; a float speed may have its lower end."""
    ends = tuple(answer) if isinstance(answer, (tuple, list)) else (answer,)
    if ends[-1:] == (None,):
        return "not marked: this run cannot tell it"
    return "not marked: this run cannot tell it; say None"
