"""What stands behind the decision on the page: limits, shrink window, plan of the next run, load rejection."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from rimmodel.plotting.style import to_svg
from rimmodel.review.assess import Review
from rimmodel.review.limits_page import (
    after_highest_speed,
    limits_figure,
    limits_table,
    rejection_figure,
    rejection_table,
)
from rimmodel.review.plan_page import plan_figure, plan_table
from rimmodel.review.shrink_window import ShrinkWindow, shrink_window
from rimmodel.review.test_plan import RunPlan, run_plan
from rimmodel.review.window_page import window_figure, window_table
from rimmodel.rotor.case import Case
from rimmodel.rotor.rotor import settled_to
from rimmodel.units import MILLIMETRE


@dataclass(frozen=True)
class Details:
    """The shrink window of a case as it is now, and the plan of a proving run (None: see `no_plan`).

    Load rejection and what the highest speed leaves go by the interference that `basis` names.
    """

    window: ShrinkWindow
    plan: RunPlan | None
    no_plan: str
    rejection: dict[str, Any] | None
    after_highest_speed: dict[str, str]
    basis: str


def with_measured_interference(review: Review) -> tuple[Case, str]:
    """The case with the interference that the last recording shows, where it shows one; and in words which it is."""
    last = review.measurements[-1] if review.measurements else None
    if last is None or not np.isfinite(last.interference):
        return review.case, "the interference of the drawing"
    words = f"the effective interference of '{last.label}', {last.interference / MILLIMETRE:.2f} mm"
    return replace(review.case, rotor=settled_to(review.case.rotor, last.interference)), words


def details(review: Review) -> Details:
    """Work out what stands behind a review; the last recording says what interference is present."""
    case = review.case
    present, basis = with_measured_interference(review)
    plan, no_plan = None, ""
    try:
        plan = run_plan(case)
    except ValueError as refused:  # a plan takes inputs that a review can do without
        no_plan = str(refused)
    return Details(
        shrink_window(case, review.measurements[-1] if review.measurements else None),
        plan,
        no_plan,
        rejection_table(present),
        after_highest_speed(present),
        basis,
    )


def details_table(review: Review, found: Details) -> dict[str, Any]:
    """The details for review.json."""
    return {
        "limits": limits_table(review.checks),
        "window": window_table(review.case, found.window),
        "plan": None if found.plan is None else plan_table(review.case, found.plan),
        "load_rejection": found.rejection,
        "after_highest_speed": found.after_highest_speed,
    }


def details_figures(review: Review, found: Details) -> dict[str, str]:
    """SVG by name."""
    figures = {"limits": to_svg(limits_figure(review.checks)), "window": to_svg(window_figure(found.window))}
    if found.plan is not None:
        figures["plan"] = to_svg(plan_figure(review.case, found.plan))
    rejection = rejection_figure(with_measured_interference(review)[0])
    if rejection is not None:
        figures["load_rejection"] = to_svg(rejection)
    return figures
