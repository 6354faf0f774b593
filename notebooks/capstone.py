"""The last task of the course: a machine of its own for every student number, whose truth only the marker knows.

>>> task = machine_of(4711)
>>> task.claimed_rpm > 0
True
"""

import hashlib
from dataclasses import dataclass, field, replace
from functools import cache

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


def mark(task, drawn_float_speed, float_speed, interference, verdict, shim_change):
    """Print the mark of each answer and return how many of the five are right.

    `drawn_float_speed` in rpm; `float_speed` (low, high) in rpm and `interference` (low, high) in mm, both at 95 %;
    `verdict` on the claim, in words; `shim_change` in mm, what brings the best estimate to the bound of the claim.
    None in place of an end says that there is none, and in place of an answer that the run cannot tell.
    """
    wanted = _reference(task.student_number)
    rows = {
        "float speed of the drawing": _number(drawn_float_speed, wanted["drawn"], 0.005 * wanted["drawn"], "rpm"),
        "float speed by the run": _interval(float_speed, wanted["float_speed"], "rpm"),
        "interference by the run": _interval(interference, wanted["interference"], "mm"),
        "verdict on the claim": _word(verdict, wanted["verdict"]),
        "change of the shims": _number(shim_change, wanted["shim_change"], 0.10, "mm"),
    }
    for name, words in rows.items():
        print(f"{name}: {words}")
    right = sum(words == "right" for words in rows.values())
    print(f"student number {task.student_number}: {right} of {len(rows)}")
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
        "float_speed": (lift_off, low, high if decided else None),
        "interference": (held, *interval) if decided else None,
        "verdict": verdict,
        "shim_change": max(needed - held, 0.0) if decided else None,
    }


def _number(answer, right, allowed, unit):
    if answer is None or right is None:
        if answer is right:
            return "right"
        return "this run cannot tell it; say None" if right is None else f"no answer yet ({unit})"
    if abs(answer - right) <= allowed:
        return "right"
    return f"not yet, too {'large' if answer > right else 'small'} ({unit})"


def _word(answer, right):
    if answer is None:
        return f"no answer yet; one of {', '.join(VERDICTS)}"
    if answer not in VERDICTS:
        return f"say one of {', '.join(VERDICTS)}"
    return "right" if answer == right else "not yet: where does the whole interval lie, and is there one?"


def _interval(answer, right, unit):
    """An interval is right where it holds the truth and is no more than twice as wide as the library's."""
    if answer is None or right is None:
        if right is None:
            return "right" if answer is None else "this run cannot tell it; say None"
        return f"no answer yet, (low, high) in {unit}"
    truth, best_low, best_high = right
    low, high = answer
    if best_high is None:
        if high is not None:
            return "not yet: nothing in this run bounds it from above; say None for that end"
        return "right" if low is not None and 0 <= low <= truth else "not yet: the lower bound lies above the truth"
    if low is None or high is None or not low < high:
        return "not yet: this run bounds it on both sides, low before high"
    spare = 0.5 * (best_high - best_low)  # an honest interval misses once in twenty, and then by little
    if not low - spare <= truth <= high + spare:
        return "not yet: the truth lies outside"
    return "right" if high - low <= 2.0 * (best_high - best_low) else "not yet: far wider than the run allows"
