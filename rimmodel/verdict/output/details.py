"""What stands behind the decision on the page: limits, shrink window, plan of the next run, load rejection."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.duty import Duty, run_duty
from rimmodel.planning.least_gap import LeastGapCurve, least_gap_curve
from rimmodel.planning.present import present_case
from rimmodel.planning.proving_run import RunPlan, run_plan
from rimmodel.planning.shrink_window import ShrinkWindow
from rimmodel.verdict.limits import exceeded
from rimmodel.verdict.output import duty as duty_output
from rimmodel.verdict.output import least_gap as least_gap_output
from rimmodel.verdict.output import plan as plan_output
from rimmodel.verdict.output import window as window_output
from rimmodel.verdict.output.drawer import Drawing, drawing
from rimmodel.verdict.output.duty import duty_summary
from rimmodel.verdict.output.limits import (
    after_highest_speed,
    limits_figure,
    limits_table,
    rejection_figure,
    rejection_table,
)
from rimmodel.verdict.output.slip import slip_table
from rimmodel.verdict.records import PlanesOf
from rimmodel.verdict.result import Review


@dataclass(frozen=True)
class Details:
    """The shrink window of a case as it is now, and the plan of a proving run (None: see `no_plan`).

    All of it goes by the rotor that `basis` names: see `present.present_case`.
    """

    window: ShrinkWindow
    plan: RunPlan | None
    no_plan: str
    rejection: dict[str, Any] | None
    after_highest_speed: dict[str, str]
    basis: str
    slip: dict[str, Any]
    duty: tuple[Duty, ...] = ()
    no_duty: str = ""
    least_gap: LeastGapCurve | None = None
    no_least_gap: str = ""


def _last(review: Review) -> Measurement | None:
    return review.measurements[-1] if review.measurements else None


def details(review: Review) -> Details:
    """Work out what stands behind a review; the last recording says what interference is present."""
    case = review.case
    present, basis = present_case(case, _last(review))
    plan, no_plan = None, ""
    try:
        plan = run_plan(case, measurement=_last(review))
    except ValueError as refused:  # a plan takes inputs that a review can do without
        no_plan = str(refused)
    duty, no_duty = _followed(review)
    curve, no_curve = None, ""
    try:
        curve = least_gap_curve(case, *case.condition(review.drivers_in))
    except ValueError as refused:  # keys that cannot be followed in this condition
        no_curve = str(refused)
    return Details(
        review.window,
        plan,
        no_plan,
        rejection_table(present),
        after_highest_speed(present),
        basis,
        slip_table(case),
        duty,
        no_duty,
        curve,
        no_curve,
    )


def _followed(review: Review) -> tuple[tuple[Duty, ...], str]:
    """Every history of the case, those that ask for something as they were judged; and why others are missing."""
    found, refused = dict(review.histories.followed), dict(review.histories.refused)
    for history in review.case.histories:
        if history.name in found or history.name in refused:
            continue
        try:
            found[history.name] = run_duty(review.case, history.name, _last(review))
        except ValueError as reason:  # a steady state that no heat exchange makes
            refused[history.name] = str(reason)
    names = [history.name for history in review.case.histories]
    return tuple(found[name] for name in names if name in found), "; ".join(dict.fromkeys(refused.values()))


def review_planes(review: Review) -> list[PlanesOf]:
    """The sensor planes of every recording of a review whose poles were read one by one."""
    pairs = zip(review.measurements, review.least_gaps, strict=True)
    return [PlanesOf(row.label, row.condition, planes) for row, planes in pairs if planes]


def table(review: Review, found: Details) -> dict[str, Any]:
    """The details for review.json."""
    return {
        "basis": found.basis,
        "limits_exceeded": list(exceeded(review.checks, review.basis)),
        "limits": limits_table(review.checks),
        "window": window_output.table(review.case, found.window),
        "plan": None if found.plan is None else plan_output.table(review.case, found.plan),
        "load_rejection": found.rejection,
        "after_highest_speed": found.after_highest_speed,
        "lamination_slip": found.slip,
        "duty": [duty_summary(one) for one in found.duty],
        "least_gap": None
        if found.least_gap is None
        else least_gap_output.table(review.case, found.least_gap, review_planes(review)),
    }


def drawings(review: Review, found: Details) -> dict[str, Drawing]:
    """Drawings by name."""
    figures: dict[str, Drawing] = {
        "limits": drawing(limits_figure, review.checks),
        "window": drawing(window_output.figure, found.window),
    }
    if found.plan is not None:
        figures["plan"] = drawing(plan_output.figure, review.case, found.plan)
    if review.case.load_rejection is not None:
        figures["load_rejection"] = drawing(rejection_figure, present_case(review.case, _last(review))[0])
    if found.least_gap is not None:
        figures |= least_gap_output.drawings(review.case, found.least_gap, review_planes(review))
    for place, duty in enumerate(found.duty, 1):
        figures |= {f"{name}_{place}": chosen for name, chosen in duty_output.drawings(duty).items()}
    return figures
