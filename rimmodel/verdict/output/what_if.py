"""The WHAT IF part of the page: inputs that are moved in a meeting, followed by the page itself, and never a verdict.

What is signed stands in the page as text. This part takes the same machine as numbers, moves a copy of them in the
browser (`templates/what_if_mechanics.js`, compared with the library by tests), and writes into its own cells alone.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil, floor, isfinite
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import plain_name, print_unit, quantity_text, quantity_values
from rimmodel.planning.present import is_measured, present_case
from rimmodel.planning.shrink_window import in_steps
from rimmodel.rotor import Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import blocking_doubt
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import Claim, Requirement
from rimmodel.units import MILLIMETRE, RPM, ZERO_CELSIUS, in_mm, in_print, in_rpm
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.files import PAGE_POLICY
from rimmodel.verdict.output.what_if_inputs import condition_inputs, for_json, machine_inputs
from rimmodel.verdict.result import Review

_SCRIPTS = Path(__file__).parent / "templates"
MECHANICS = (_SCRIPTS / "what_if_mechanics.js").read_text(encoding="utf-8")
SCRIPT = f"\n{MECHANICS}\n{(_SCRIPTS / 'what_if.js').read_text(encoding='utf-8')}"
"""All that the page runs."""

POLICY = (
    f"{PAGE_POLICY}; script-src 'sha256-"
    f"{base64.b64encode(hashlib.sha256(SCRIPT.encode('utf-8')).digest()).decode('ascii')}'"
)
"""As every page, and in addition this one script: none that a text of a case could bring in."""

FOLLOWED = (
    "float_speed",
    "gap",
    "residual_interference",
    "contact_pressure",
    "rim_stress",
    "spider_stress",
    "rim_growth",
)
"""Quantities that `what_if_mechanics.js` knows."""

DELIVERED = "not followed: it is about the rotor as delivered"


@dataclass(frozen=True)
class Control:
    """A number that is moved by slider or number.

    Attributes
    ----------
    size : float, SI
        Of the unit of print, as in `units.PrintUnit`.
    ends, steps : pair of float, unit of print
        Of what it may be; of the slider and of the number.
    zero : float, SI
        Value at the zero of the unit of print.
    of_condition : bool
        Each condition has its own.
    start : str
        Where it stands in the review.
    """

    name: str
    label: str
    unit: str
    size: float
    decimals: int
    ends: Interval
    steps: Interval
    zero: float = 0.0
    of_condition: bool = True
    start: str = ""


@dataclass(frozen=True)
class WhatIf:
    """What the annex is written from: numbers for the script, and what stands in the page without it."""

    data: dict[str, Any]
    controls: tuple[Control, ...]
    findings: tuple[dict[str, str], ...]
    rows: tuple[dict[str, str], ...]
    left_out: tuple[str, ...] = field(default=())

    @property
    def basis(self) -> str:
        """The machine and condition that the part starts from, in words."""
        return f"{self.data['bases'][0]['label']}, condition {self.data['condition']}"


def what_if(review: Review, window_annex: int | None = None) -> WhatIf:
    """The WHAT IF part of a review: machines to start from, controls, what is judged, and what is not followed.

    Parameters
    ----------
    window_annex : int, optional
        Number of the annex that holds the shrink window; not named when None.
    """
    case = review.case
    last = review.measurements[-1] if review.measurements else None
    starts: list[tuple[str, Rotor, bool]] = [("as drawn", case.rotor, False)]
    knee_condition = review.drivers_in
    if last is not None and is_measured(last):
        present, basis = present_case(case, last)
        starts.insert(0, (basis, present.rotor, True))
        knee_condition = last.condition
    rows = list(_rows(case))
    values = _values(starts[0][1], case, review.drivers_in, rows)
    knee = _values(starts[0][1], case, knee_condition, rows[:1])["float_speed"]
    controls = _controls(case, [rotor for _, rotor, _ in starts], review.drivers_in, knee)
    data = {
        "condition": review.drivers_in,
        "knee_condition": knee_condition,
        "conditions": {name: condition_inputs(condition) for name, condition in case.conditions.items()},
        "window": _window(review, window_annex),
        "minimum_allowed": case.rotor.air_gap.minimum_allowed,
        "speeds": dict(case.rotor.speeds.from_standstill),
        "bases": [
            {
                "label": label,
                "machine": machine_inputs(rotor, case.rotor if measured else None, measured=measured),
                "findings": [_finding(review, place, measured) for place in range(len(review.findings))],
            }
            for label, rotor, measured in starts
        ],
        "rows": rows,
        "controls": {
            row.name: {"size": row.size, "zero": row.zero, "decimals": row.decimals, "of_condition": row.of_condition}
            for row in controls
        },
    }
    return WhatIf(
        for_json(data),
        controls,
        tuple(_signed(row) for row in review.findings),
        tuple(_static(row, values[row["key"]]) for row in rows),
        tuple(_left_out(review)),
    )


def script_data(found: WhatIf) -> str:
    """The numbers as JSON that can stand inside a script element, whatever a name of the case holds."""
    plain = json.dumps(found.data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return plain.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _window(review: Review, annex: int | None) -> dict[str, Any]:
    """The admissible window of the review with its tolerance taken off, as assembled, and what is lost since, m."""
    window, fit = review.window, review.case.rotor.fit
    return {
        "words": "the shrink window" if annex is None else f"the shrink window of Annex {annex}",
        "exists": window.exists,
        "low": in_steps(window.low_sure, up=True) if isfinite(window.low_sure) else None,
        "high": in_steps(window.high_sure, up=False) if isfinite(window.high_sure) else None,
        "lost": float(fit.settlement) + float(fit.stack_growth),
    }


# ------------------------------------------------------------------------------------------------ what is judged


def _finding(review: Review, place: int, measured: bool) -> dict[str, Any]:
    """A claim or requirement as the script judges it, with the interval of the review from this start."""
    case, finding = review.case, review.findings[place]
    items: list[Claim | Requirement] = [*case.claims, *case.requirements]
    wanted, unit = quantity_at(finding.quantity), print_unit(finding.quantity)
    interval = finding.interval if measured else finding.predicted_interval
    why = ""
    if not _follows(case, finding.quantity):
        why = "not followed here"
    elif measured and finding.role == "claim" and len(review.measurements) > 1:
        why = DELIVERED
    elif blocking_doubt(case, items[place]) is not None:
        why = "open: the case is in doubt"
    return {
        "quantity": wanted.quantity.name,
        "words": f"{plain_name(finding.quantity)}, {finding.condition}",
        "speed": case.rotor.speeds.from_standstill[wanted.at] if wanted.at else 0.0,
        "condition": finding.condition,
        "limit": finding.threshold,
        "at_least": finding.at_least,
        "low": None if interval is None else interval[0],
        "high": None if interval is None else interval[1],
        "unit": unit.name,
        "size": unit.size,
        "decimals": unit.decimals,
        "why": why,
    }


def _follows(case: Case, quantity: str) -> bool:
    name = quantity_at(quantity).quantity.name
    uneven = any(np.any(condition.rim_temperature_rise) for condition in case.conditions.values())
    return name in FOLLOWED and not (name == "rim_stress" and uneven)


def _signed(finding: Finding) -> dict[str, str]:
    """A claim or requirement as the review has it."""
    bound = "at least" if finding.at_least else "at most"
    name = f"{finding.role} {finding.name}" if finding.role == "requirement" else finding.role
    return {
        "what": f"{plain_name(finding.quantity)}, {finding.condition}",
        "name": name,
        "limit": f"{bound} {quantity_text(finding.quantity, finding.threshold)}",
        "verdict": finding.verdict,
    }


def _left_out(review: Review) -> Iterator[str]:
    """What the part does not follow, in words."""
    names = dict.fromkeys(row.quantity for row in review.findings if not _follows(review.case, row.quantity))
    yield from (plain_name(name) for name in names)
    if review.histories.findings:
        yield "requirements over histories"
    yield "limits other than the hoop stress of the rim"
    yield "keys one by one, shape of rotor and bore, friction"


# ---------------------------------------------------------------------------------------------- the table of speeds


def _rows(case: Case) -> Iterator[dict[str, Any]]:
    """What is followed in the condition that is shown, at every named speed."""
    yield _row(case, "float_speed", "")
    for at in case.rotor.speeds.from_standstill:
        for name in ("gap", "residual_interference", "contact_pressure", "rim_stress"):
            if _follows(case, f"{name}_at_{at}"):
                yield _row(case, name, at)


def _row(case: Case, name: str, at: str) -> dict[str, Any]:
    key = f"{name}_at_{at}" if at else name
    unit = print_unit(key)
    limit: float | None = None
    strength = case.rotor.rim.material.yield_strength
    if name == "rim_stress" and strength is not None:
        limit = float(case.limits.share_of_yield(at)) * float(np.asarray(strength))
    elif name == "gap":
        least = case.rotor.air_gap.minimum_allowed
        limit = None if least is None else float(np.asarray(least))
    return {
        "key": key,
        "quantity": name,
        "words": plain_name(key),
        "speed": case.rotor.speeds.from_standstill[at] if at else 0.0,
        "at_least": name == "gap",
        "limit": limit,
        "unit": unit.name,
        "size": unit.size,
        "decimals": 2 if name == "contact_pressure" else unit.decimals,
    }


def _values(rotor: Rotor, case: Case, condition: str, rows: list[dict[str, Any]]) -> dict[str, float]:
    found = quantity_values(rotor, case.conditions[condition], [row["key"] for row in rows], case.rotor)
    return {name: float(value) for name, value in found.items()}


def _static(row: dict[str, Any], value: float) -> dict[str, str]:
    """A row of the table as the page holds it without its script; the words are those of `what_if.js`."""
    if np.isnan(value):
        shown = "none: gap shut"
    elif row["quantity"] == "float_speed" and (value == 0 or not isfinite(value)):
        shown = "at standstill" if value == 0 else "never by speed"
    else:
        shown = f"{value / row['size']:.{row['decimals']}f}"
    limit = "" if row["limit"] is None else f"{row['limit'] / row['size']:.{row['decimals']}f}"
    bound = "at least" if row["at_least"] else "at most"
    return {
        "words": row["words"],
        "unit": row["unit"],
        "start": shown,
        "limit": f"{bound} {limit}" if limit else "",
    }


# ------------------------------------------------------------------------------------------------ what can be moved


def _controls(case: Case, rotors: list[Rotor], state: str, knee: float) -> tuple[Control, ...]:
    """The controls, wide enough for every start; their starts are those of the first rotor in a condition."""
    fits = [rotor.fit for rotor in rotors]
    left = [float(fit.interference) - float(fit.settlement) - float(fit.stack_growth) for fit in fits]
    hoop = [float(rotor.rim.hoop_stiffness_factor) for rotor in rotors]
    low, high = in_mm(min(left)), in_mm(max(left))
    fastest = ceil(1.5 * in_rpm(float(case.rotor.speeds.highest)))
    flux = [float(one.flux_density) for one in case.conditions.values()]
    return (
        Control(
            "interference_left", "Interference left, radial, at standstill and 20 degC", "mm", MILLIMETRE, 2,
            (min(0.0, floor(low)), ceil(max(2 * high, high + 1.0))), (0.05, 0.01), of_condition=False,
            start=f"{in_mm(left[0]):.2f}",
        ),
        Control(
            "knee", "Measured knee", "rpm", RPM, 1, (0.0, fastest), (1.0, 0.1), of_condition=False,
            start=f"{in_rpm(knee):.1f}" if isfinite(knee) else "not determined",
        ),
        Control(
            "hoop_stiffness_factor", "Hoop stiffness factor of the rim", "", 1.0, 3,
            (min(0.4, *hoop), max(1.2, *hoop)), (0.01, 0.01), of_condition=False, start=f"{hoop[0]:.3f}",
        ),
        *_temperatures(case, state),
        Control(
            "flux_density", "Flux density, peak at the cold gap", "T", 1.0, 2, (0.0, max(1.5, *flux)), (0.05, 0.01),
            start=f"{float(case.conditions[state].flux_density):.2f}",
        ),
    )  # fmt: skip


def _temperatures(case: Case, state: str) -> Iterator[Control]:
    """Those that a condition states; poles without a temperature have that of the rim."""
    for part in ("rim", "spider", "pole", "stator"):
        key = f"{part}_temperature"
        stated = [getattr(one, key) for one in case.conditions.values()]
        shown = [in_print(float(value), "temperature") for value in stated if value is not None]
        if not shown:
            continue
        own = getattr(case.conditions[state], key)
        yield Control(
            key, f"{part.capitalize()} temperature, mean", "degC", 1.0, 1, (min(-20.0, *shown), max(140.0, *shown)),
            (1.0, 0.5), ZERO_CELSIUS,
            start="as the rim" if own is None else f"{in_print(float(own), 'temperature'):.1f}",
        )  # fmt: skip
