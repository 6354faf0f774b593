"""The plan of a proving run as figure, as table for JSON, and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.evidence.backfit.fitter import PRIOR_SD
from rimmodel.planning.proving_run import RunPlan
from rimmodel.plotting import plan_chart
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm, mm, number, rpm
from rimmodel.verdict.cautions import CAUTIONS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 100

HOLD_MINUTES = (2, 5)
"""At each step, 20 to 50 turns averaged (from memory)."""

SENSORS = (
    "Gap sensors in at least four directions, at top and bottom of the rotor (published guides of the trade); four to "
    "eight in each of two planes for a thorough run (common practice, no source).",
    "One mark per turn, to identify each pole: eccentricity and circularity come from the gaps of single poles.",
    "Temperatures of rim, spider and stator before and after run-up and run-down: a hotter rim floats at a lower "
    "speed.",
    "Vibration and bearing temperatures with their own stop limits, which this plan does not set.",
)

ORDER = (
    "The same steps on run-down; fit run-up and run-down separately. Never take the knee from a load rejection alone.",
    "Hold below: a mean gap under this line is not yet a reason to stop, but it is outside what is expected of this "
    "rotor; go no faster until the cause is known.",
    "Stop: do not raise the speed; return to the last step, read again, and run down if the reading is confirmed.",
    "Read after the speed has settled and before the next step; a reading taken during acceleration does not clear "
    "the next step.",
)


def figure(case: Case, plan: RunPlan) -> Figure:
    """Expected gap, band, stop line and lift-off against speed."""
    planned = plan_chart.Curve(
        in_rpm(plan.speed),
        in_mm(plan.gap),
        in_mm(plan.gap_low),
        in_mm(plan.gap_high),
        in_mm(plan.stops.mean_gap),
        in_mm(plan.hold_gap),
    )
    lift_off = (
        in_rpm(plan.float_speed_low),
        in_rpm(plan.float_speed),
        in_rpm(plan.float_speed_high),
    )
    marks = {name: in_rpm(float(speed)) for name, speed in case.rotor.speeds.named.items()}
    return plan_chart.draw(planned, in_mm(plan.stops.minimum), lift_off, marks)


def table(case: Case, plan: RunPlan) -> dict[str, Any]:
    """The plan for JSON: speeds in rpm, gaps in mm."""

    def mm(values: Any) -> list[float | None]:
        return [number(value, "length") for value in values]

    return {
        "title": case.title,
        "condition": plan.condition,
        "basis": plan.basis,
        "highest_speed_rpm": in_rpm(plan.highest_speed),
        "reaches_rpm": in_rpm(plan.reaches),
        "float_speed_rpm": number(plan.float_speed, "speed"),
        "float_speed_interval_rpm": [number(plan.float_speed_low, "speed"), number(plan.float_speed_high, "speed")],
        "speed_rpm": [in_rpm(float(value)) for value in plan.speed],
        "over_rated": [float(value) for value in plan.speed / float(case.rotor.speeds.rated)],
        "fine": [bool(value) for value in plan.fine],
        "gap_mm": mm(plan.gap),
        "gap_low_mm": mm(plan.gap_low),
        "gap_high_mm": mm(plan.gap_high),
        "hold_gap_mm": mm(plan.hold_gap),
        "stop_gap_mm": mm(plan.stops.mean_gap),
        "stop_single_gap_mm": mm(plan.stops.single_gap),
        "stop_eccentricity_mm": in_mm(plan.stops.eccentricity),
        "stop_circularity_mm": in_mm(plan.stops.circularity),
        "minimum_allowed_mm": in_mm(plan.stops.minimum),
        "sensor_noise_mm": in_mm(case.plan.sensor_noise),
        "precision": [
            {
                "float_speed_rpm": in_rpm(float(speed)),
                "standard_uncertainty_rpm": in_rpm(float(error)),
            }
            for speed, error in zip(plan.precision.float_speed, plan.precision.standard_uncertainty, strict=True)
        ],
        "reasons": stop_reasons(case, plan),
        "sensors": list(SENSORS),
        "order": list(ORDER),
        "notes": list(plan.notes),
        "cautions": list(CAUTIONS),
    }


def stop_reasons(case: Case, plan: RunPlan) -> list[str]:
    """Why the stop lines stand where they stand."""
    run, stops = case.plan, plan.stops
    kept = {entry.name: entry.metadata.get("source", "") for entry in fields(run)}
    least, guard, overshoot = (
        in_mm(stops.minimum),
        in_mm(stops.guard),
        float(run.speed_overshoot),
    )
    return [
        "Hold: the lower end of the 95 % band, or the stop line if higher, rounded up to 0.01 mm.",
        "Mean gap: from a gap above the line even the steepest curve (hoop stiffness factor 0.6, pole mass and field "
        f"5 % high, floating from the start, next speed overshot by {100 * overshoot:.0f} %) stays above {least:.2f} "
        "mm at the next step. "
        f"Reading errors of {guard:.2f} mm are added: five standard uncertainties of a mean gap, and the sensor "
        f"offset. The line does not depend on the expected interference.",
        f"Eccentricity {mm(stops.eccentricity)}: {kept['eccentricity_share']}.",
        f"Circularity {mm(stops.circularity)}, largest minus smallest radius: {kept['circularity_share']}.",
        "Single gap: the mean line minus eccentricity and half the circularity; a lower reading means that the rotor "
        "exceeds at least one of these limits.",
    ]


def text(case: Case, plan: RunPlan) -> str:
    """The plan for a terminal or on paper."""
    expected = "expected at " if np.isfinite(plan.float_speed) else "speed "
    lift_off = f"lift-off {expected}{quantity_text('float_speed', plan.float_speed)} "
    lift_off += f"({interval_text('float_speed', (plan.float_speed_low, plan.float_speed_high))} at 95 %)"
    lines = [
        case.title,
        "",
        *textwrap.wrap(
            f"Proving run in condition '{plan.condition}', agreed up to {rpm(plan.highest_speed)}; {lift_off}, "
            f"{plan.basis}.",
            WIDTH,
        ),
        *(line for note in (_holds(plan), *plan.notes) for line in textwrap.wrap(note, WIDTH)),
        "",
        " step  speed   x rated   expected gap   95 % of rotors   hold below   stop below   single pole",
        "         rpm                    mm               mm            mm           mm       stop, mm",
    ]
    rated = float(case.rotor.speeds.rated)
    for row in range(len(plan.speed)):
        lines.append(
            f"{row + 1:5d} {in_rpm(plan.speed[row]):6.0f}{'*' if plan.fine[row] else ' '} "
            f"{plan.speed[row] / rated:8.2f} {_mm(plan.gap[row]):>14} "
            f"{_mm(plan.gap_low[row]) + ' to ' + _mm(plan.gap_high[row]):>16} "
            f"{_mm(plan.hold_gap[row]):>12} {_mm(plan.stops.mean_gap[row]):>12} {_mm(plan.stops.single_gap[row]):>13}"
        )
    lines += [
        "* finer steps, where lift-off is expected",
        f"holds of {HOLD_MINUTES[0]} to {HOLD_MINUTES[1]} min, 20 to 50 turns averaged",
        "",
        "stop lines:",
    ]
    lines += _listed(stop_reasons(case, plan))
    lines += ["", "expected precision (mean gaps of run-up and run-down, noise "
              f"{mm(case.plan.sensor_noise, '.3f')}):"]  # fmt: skip
    lines += _precision_lines(plan)
    for title, texts in (("sensors:", SENSORS), ("order:", ORDER), ("cautions:", CAUTIONS)):
        lines += ["", title, *_listed(texts)]
    return "\n".join(lines)


def _holds(plan: RunPlan) -> str:
    """What the interval of the lift-off includes, beside that of a prediction."""
    if plan.measured:
        return "This interval includes all that the recording leaves open."
    hoop, spider = (100 * PRIOR_SD[name] for name in ("hoop_stiffness_factor", "spider_stiffness"))
    return (
        "This interval includes the tolerance of the interference, and hoop and spider stiffness known to "
        f"{hoop:.0f} and {spider:.0f} % (standard), as a fit takes them beforehand; not the other tolerances of the "
        "case. That of a review includes the tolerances of the case alone: narrower where these leave the stiffnesses "
        "out."
    )


def _mm(value: float) -> str:
    return f"{in_mm(value):.2f}" if np.isfinite(value) else "shut"


def _listed(texts: Any) -> list[str]:
    return [
        line for item in texts for line in textwrap.wrap(item, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    ]


def _precision_lines(plan: RunPlan) -> list[str]:
    if not len(plan.precision.float_speed):
        return ["    no float speed: none is expected within the steps"]
    pairs = zip(plan.precision.float_speed, 1.96 * plan.precision.standard_uncertainty, strict=True)
    rows = [
        f"    a float speed of {rpm(speed, '.0f')} to +-{rpm(half)} (95 %, {100 * half / speed:.1f} %)"
        for speed, half in pairs
    ]
    return [
        *rows,
        "    from the information matrix, if the run covers the knee; a run that does not may bound nothing. Lower",
        "    noise helps most: average more turns and sensors.",
    ]
