"""The heating of a rim as table for JSON, and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.elastic.wall_heating import Wall, lumped_rise
from rimmodel.planning.heating import REACHED, HeatingPlan
from rimmodel.rotor.heating import RimHeating
from rimmodel.units import KINDS, ZERO_CELSIUS, celsius, in_mm, in_print, mm, number, with_unit
from rimmodel.verdict.output.heating_checks import HEATING_CAUTIONS, REST_ON, checks_of
from rimmodel.verdict.output.heating_rows import HOUR, KILOWATT, Middle, middle_course, spans

WIDTH = 100
SPIDERS = (10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
"""Spider temperatures (degC) for which the rim temperature to reach is listed."""
LONGEST_TEXT = 14
"""Rows of the schedule that are printed, about."""


def table(plan: HeatingPlan) -> dict[str, Any]:
    """The plan for JSON."""
    heating, rows = plan.heating, middle_course(plan)
    return {
        "title": plan.case.title,
        "verdict": plan.verdict,
        "reason": plan.reason,
        "remedies": list(plan.remedies),
        "confidence": plan.confidence,
        "combinations": len(plan.kept),
        "combinations_that_reach_it": int(plan.kept.sum()),
        "growth_mm": number(plan.growth, "length"),
        "difference_K": number(plan.growth / plan.per_kelvin),
        "growth_per_kelvin_mm": number(plan.per_kelvin, "length"),
        "parts": [
            {
                "name": row.name,
                "mm": number(row.amount, "length"),
                "K": number(row.amount / plan.per_kelvin),
                "why": row.why,
            }
            for row in plan.parts
        ],
        "rim_to_reach": [
            {"spider_degC": at, "rim_degC": None if rim is None else number(rim, "temperature")}
            for at, rim in _rim_to_reach(plan).items()
        ],
        "hottest_spider_degC": number(plan.hottest_spider, "temperature"),
        "hold_h": number(plan.hold / HOUR),
        "heater_power_kW": number(heating.heater_power, "power"),
        "power_that_limits_nothing_kW": number(plan.power_needed, "power"),
        "heating": {name: _three(values) for name, values in spans(plan).items()},
        "hottest_place_degC": number(plan.hottest, "temperature"),
        "highest_mean_degC": number(plan.mean, "temperature"),
        "stress_MPa": number(plan.stress, "stress"),
        "limits": _limits(plan),
        "schedule": _schedule(rows),
        **_keys(plan),
        "cooling": _cooling(plan),
        "rim_growth_mm": dict(zip(("expected", "low", "high"), map(_mm, plan.outside_growth), strict=True)),
        "by_hand": hand_rows(plan),
        "checks": checks_of(plan),
        "ranges": range_rows(heating),
        "rests_on": list(REST_ON),
        "cautions": list(HEATING_CAUTIONS),
    }


def _rim_to_reach(plan: HeatingPlan) -> dict[float, float | None]:
    """Mean rim temperature (K) by spider temperature (degC); None where the rim may not be so hot."""
    return {
        at: plan.rim_temperature(at + ZERO_CELSIUS) if at + ZERO_CELSIUS <= plan.hottest_spider else None
        for at in SPIDERS
    }


def _withheld(plan: HeatingPlan) -> str | None:
    """Why nothing is printed of the keys; None where they may go in by the plan."""
    if plan.verdict == REACHED:
        return None
    return f"none goes in by this plan ({plan.verdict}): no order, no times, no clearances"


def _keys(plan: HeatingPlan) -> dict[str, Any]:
    withheld = _withheld(plan)
    if withheld is not None:
        return {
            "keys_withheld": withheld, "time_to_fit_min": None, "keys": [], "clearance_left_at_last_key_mm": None
        }  # fmt: skip
    return {
        "keys_withheld": None,
        "time_to_fit_min": number(float(plan.work.end.max()) / 60),
        "keys": [
            {
                "key": row.key,
                "begin_min": row.begin / 60,
                "in_by_min": row.end / 60,
                "interference_mm": number(row.interference, "length"),
                "clearance_expected_mm": number(row.expected, "length"),
                "clearance_least_mm": number(row.least, "length"),
                "clearance_wanted_mm": number(row.wanted, "length"),
            }
            for row in plan.keys
        ],
        "clearance_left_at_last_key_mm": {
            "expected": number(plan.keys[-1].expected, "length"),
            "least": number(plan.keys[-1].least, "length"),
        },
    }


def _mm(value: float) -> float | None:
    return number(value, "length")


def _three(values: Floats) -> dict[str, float | None]:
    return {name: number(float(value)) for name, value in zip(("middle", "least", "most"), values, strict=True)}


def _limits(plan: HeatingPlan) -> list[dict[str, Any]]:
    heating = plan.heating
    return [
        *(
            {
                "name": f"spread {row.name}",
                "K": row.spread,
                "stress_MPa": number(row.stress, "stress"),
                "allowed_MPa": number(row.allowed, "stress"),
                "why": row.why,
                "source": source_of(heating, key),
            }
            for row, key in zip(plan.limits, ("depth_spread", "height_spread", "around_spread"), strict=True)
        ),
        {
            "name": "rate of the mean",
            "K_per_h": number(float(heating.rate_limit) * HOUR),
            "source": source_of(heating, "rate_limit"),
        },
        {
            "name": "hottest place",
            "degC": number(heating.surface_limit, "temperature"),
            "source": "stated in the case",
        },
        {
            "name": "mean of the rim",
            "degC": number(plan.case.limits.shrinking_rim_temperature, "temperature"),
            "source": plan.case.limits.source("shrinking_rim_temperature"),
        },
    ]


def source_of(heating: RimHeating, name: str) -> str:
    """Where a value comes from: the case, or the source of its default."""
    stored = heating.__dataclass_fields__[name]
    own = getattr(heating, name) != stored.default
    return "stated in the case" if own else str(stored.metadata.get("source", ""))


def _schedule(rows: Middle) -> list[dict[str, Any]]:
    return [
        {
            "time_h": float(rows.time[row]),
            "phase": rows.phase[row],
            "power_kW": _three(rows.power[:, row]),
            "rim_degC": _three(rows.rim[:, row]),
            "spider_degC": _three(rows.spider[:, row]),
            "difference_K": _three(rows.difference[:, row]),
            "spread_K": _three(rows.spread[:, row]),
            "growth_mm": float(rows.growth[row]),
            "power_set_by": rows.governs[row],
        }
        for row in range(len(rows.time))
    ]


def _cooling(plan: HeatingPlan) -> dict[str, Any] | None:
    found = plan.cooling
    if found is None:
        return None

    def seats(values: Floats) -> dict[str, Any]:
        return {
            "time_h": _three(values[:, 0] / HOUR),
            "rim_degC": _three(in_print(values[:, 1], "temperature")),
            "spider_degC": _three(in_print(values[:, 2], "temperature")),
        }

    return {
        "work_may_take_min": _three(found.work_may_take / 60),
        "first_key_holds": seats(found.first_seats),
        "last_key_holds": seats(found.last_seats),
        "cold_h": _three(found.cooled / HOUR),
        "fastest_until_keys_hold_K_per_h": number(found.rate * HOUR),
        "spread_until_keys_hold_K": number(found.spread),
    }


def hand_rows(plan: HeatingPlan) -> list[dict[str, Any]]:
    """What a hand calculation gives, for comparison: a rim of even temperature, a plain wall."""
    case, heating, model = plan.case, plan.heating, plan.model
    rim, thermal = case.rotor.rim, case.thermal
    if thermal is None:
        return []
    conductivity = float(thermal.thermal_conductivity)
    stored = float(np.asarray(rim.material.density)) * float(thermal.specific_heat)
    inner = float(np.asarray(rim.inner_radius))
    depth = float(np.asarray(rim.slot_bottom_radius)) - inner
    heated = model.stored_in_rim
    rate = float(heating.rate_limit)
    share = float(model.values["heater_share"][0])
    middle_loss = model.lost_by_rim
    rise = plan.rim_temperature(float(heating.air)) - float(heating.air)
    rows = [
        ("heat to warm the rim by the difference", heated * rise / 3.6e9, "MWh", "C dT, without loss"),
        ("heaters to warm it at the rate limit", heated * rate / share / KILOWATT, "kW", "C R/share, without loss"),
        ("heaters to hold the difference", middle_loss * rise / share / KILOWATT, "kW", "h A dT/share"),
        (
            "rise after 10 h at the power available",
            float(lumped_rise(float(heating.heater_power) * share, middle_loss, heated, 36000.0)),
            "K",
            "P/G (1 - exp(-G t/C))",
        ),
        (
            "time to even out through the depth",
            Wall(depth, conductivity, stored).evening_time / 60,
            "min",
            "L^2/(pi^2 kappa)",
        ),
    ]
    if heating.heated_at != "even":
        wall = Wall(depth / 2 if heating.heated_at == "both" else depth, conductivity, stored)
        rows += [
            (
                "spread through the depth at the rate limit",
                wall.spread(rate),
                "K",
                f"q L/(2 k), L = {wall.depth:.2f} m",
            ),
            (
                "rate at which the spread meets its limit",
                wall.rate(float(heating.depth_spread)) * HOUR,
                "K/h",
                "2 kappa S/L^2",
            ),
        ]
    return [
        {"name": name, "value": number(value), "unit": unit, "formula": formula} for name, value, unit, formula in rows
    ]


def range_rows(heating: RimHeating) -> list[dict[str, Any]]:
    """The ranges of heat exchange, in SI."""
    rows = []
    for name, (low, high) in heating.spans.items():
        kind = heating.__dataclass_fields__[name].metadata["kind"]
        rows.append({"name": name, "low": low, "high": high, "unit": KINDS[kind].si_unit if kind else "-"})
    return rows


def text(plan: HeatingPlan) -> str:
    """The plan for a terminal or on paper."""
    lines = [plan.case.title, "", *textwrap.wrap(_headline(plan), WIDTH)]
    if plan.remedies:
        lines += ["", "what would do it:", *_listed(list(plan.remedies))]
    lines += ["", "rim bore over spider to reach before the power goes off, radial", "      mm      K"]
    for row in plan.parts:
        lines += _wrapped(_amount(plan, row.amount), f"{row.name} ({row.why})")
    lines.append(f"{_amount(plan, plan.growth)}to reach, and to hold for {plan.hold / HOUR:.2f} h")
    lines += ["", "mean rim temperature to reach, by the mean spider temperature that is read, degC"]
    lines += _reach_lines(plan)
    lines += ["", *_heating_lines(plan), "", *_limit_lines(plan), "", *_schedule_lines(plan), "", *_key_lines(plan)]
    lines += ["", *_cooling_lines(plan)]
    for stage, texts in checks_of(plan).items():
        lines += ["", f"{stage}:", *_listed(texts)]
    lines += ["", "by hand, with expected values, for comparison:"]
    for entry in hand_rows(plan):
        lines.append(f"  {entry['name']:46} {entry['value']:9.4g} {entry['unit']:5} {entry['formula']}")
    lines += ["", "ranges, SI units (expected: each at its middle):"]
    for entry in range_rows(plan.heating):
        lines.append(f"  {entry['name']:26} {entry['low']:>9.4g} to {entry['high']:<9.4g} {entry['unit']}")
    return "\n".join(
        [*lines, "", "what this rests on:", *_listed(list(REST_ON)), "", "cautions:", *_listed(list(HEATING_CAUTIONS))]
    )


def _reach_lines(plan: HeatingPlan) -> list[str]:
    """Rim temperatures to reach, as far as they are allowed."""
    found = _rim_to_reach(plan)
    rims = (f"{'-':>7}" if rim is None else f"{_up(in_print(rim, 'temperature')):7.1f}" for rim in found.values())
    lines = ["  spider " + "".join(f"{at:7.0f}" for at in found), "  rim    " + "".join(rims)]
    if not np.isfinite(plan.hottest_spider):
        return lines
    highest = np.floor(in_print(plan.hottest_spider, "temperature") * 10 + 1e-6) / 10
    return [*lines, *_wrapped("  ", f"no heating with a spider above {highest:.1f} degC: the rim would be too hot (-)")]


def _amount(plan: HeatingPlan, growth: float) -> str:
    """A growth in mm, and the difference of temperature that makes it."""
    return f"{in_mm(growth):8.2f} {growth / plan.per_kelvin:6.1f}  "


def _headline(plan: HeatingPlan) -> str:
    what = f"Rim over spider {plan.growth / plan.per_kelvin:.1f} K ({mm(plan.growth)} radial)"
    return f"{what}: {plan.verdict}. {plan.reason[:1].upper()}{plan.reason[1:]}."


def _up(value: float) -> float:
    """A temperature to reach, rounded up to tenths."""
    return float(np.ceil(value * 10 - 1e-6) / 10)


def _span(values: Floats, form: str = ".1f") -> str:
    middle, low, high = (float(value) for value in values)
    if not np.isfinite(middle):
        return "not within 240 h"
    least = f"{low:{form}}" if np.isfinite(low) else "not known"
    return f"{middle:{form}} ({least} to {high:{form}})" if np.isfinite(high) else f"{middle:{form}} (from {least})"


def _heating_lines(plan: HeatingPlan) -> list[str]:
    heating, found = plan.heating, spans(plan)
    reached = bool(plan.kept.any())
    lines = [
        f"heaters {with_unit(heating.heater_power, 'power')}; with {with_unit(plan.power_needed, 'power')} they "
        "limit no combination; expected (least to most of all combinations):"
    ]
    rows = [
        ("difference reached after", "time_to_reach_h", "h", reached),
        ("power off after", "time_to_power_off_h", "h", reached),
        ("heat drawn by the heaters", "energy_MWh", "MWh", True),
        ("highest power", "peak_power_kW", "kW", True),
        ("power at the end of the hold", "hold_power_kW", "kW", reached),
        ("rim when the power goes off", "rim_at_off_degC", "degC", reached),
        ("spider when the power goes off", "spider_at_off_degC", "degC", reached),
        ("largest spread through the depth", "spread_heating_K", "K", True),
        ("spread at the end of the hold", "spread_at_off_K", "K", reached),
        ("largest hoop stress by it", "stress_heating_MPa", "MPa", True),
    ]
    lines += [f"  {name:34} {_span(found[key])} {unit}" for name, key, unit, shown in rows if shown]
    lines.append(
        f"  {'hottest place, all included':34} {celsius(plan.hottest)}, allowed {celsius(heating.surface_limit)}"
    )
    limit = plan.case.limits.shrinking_rim_temperature
    return [*lines, f"  {'highest mean of the rim':34} {celsius(plan.mean)}, allowed {celsius(limit)}"]


def _limit_lines(plan: HeatingPlan) -> list[str]:
    lines = ["limits, and the stress that they stand for:"]
    for row in _limits(plan):
        if "K" in row:
            allowed = " (yield strength not given)" if row["allowed_MPa"] is None else f" of {row['allowed_MPa']:.0f}"
            text = f"{row['K']:g} K, {row['stress_MPa']:.1f}{allowed} MPa: {row['why']}; {row['source']}"
        elif "K_per_h" in row:
            text = f"{row['K_per_h']:g} K/h; {row['source']}"
        else:
            text = f"{row['degC']:.0f} degC; {row['source']}"
        lines += _wrapped(f"  {row['name']:23} ", text)
    return lines


def _schedule_lines(plan: HeatingPlan) -> list[str]:
    rows = middle_course(plan)
    stride = max(1, len(rows.time) // LONGEST_TEXT)
    shown = plan.verdict == REACHED
    lines = [
        ("schedule" if shown else f"how far the heating comes ({plan.verdict}: not a schedule to heat by)")
        + ", expected (heaters: least to most):",
        "   time   phase        heaters      rim  spider   over  spread  growth  power set by",
        "      h                     kW     degC    degC      K       K      mm",
    ]
    last = len(rows.time) - 1
    for row in range(len(rows.time)):
        turned = row > 0 and rows.phase[row] != rows.phase[row - 1]
        if row % stride and row != last and not turned:
            continue
        middle, low, high = rows.power[:, row]
        power = "0" if rows.phase[row] == "off" else f"{middle:.0f} ({low:.0f}-{high:.0f})"
        lines.append(
            f"{rows.time[row]:7.2f}   {rows.phase[row]:5} {power:>15} {rows.rim[0, row]:8.1f} "
            f"{rows.spider[0, row]:7.1f} {rows.difference[0, row]:6.1f} {rows.spread[0, row]:7.1f} "
            f"{abs(rows.growth[row]):7.2f}  {rows.governs[row]}".rstrip()
        )
    return lines


def _key_lines(plan: HeatingPlan) -> list[str]:
    work, withheld = plan.work, _withheld(plan)
    if withheld is not None:
        return [f"keys: {withheld}"]
    lines = [
        f"keys in order, {len(work.order)} in {float(work.end.max()) / 60:.0f} min after power off; clearance in mm",
        "  key   from     to  interference  expected     least    wanted",
        "         min    min            mm",
    ]
    for row in plan.keys:
        values = "".join(
            f"{'-':>10}" if np.isnan(value) else f"{in_mm(value):10.2f}"
            for value in (row.expected, row.least, row.wanted)
        )
        lines.append(f"{row.key:5d} {row.begin / 60:6.0f} {row.end / 60:6.0f} {in_mm(row.interference):13.2f}{values}")
    return lines


def _cooling_lines(plan: HeatingPlan) -> list[str]:
    found = plan.cooling
    if found is None:
        return ["The plan is not reached: nothing is stated of the time after it."]
    heating = plan.heating
    lines = ["after power off, expected (least to most of all combinations):"]
    rows = [
        ("all keys, in this order, may take", found.work_may_take / 60, "min", ".0f"),
        ("first key begins to hold after", found.first_seats[:, 0] / HOUR, "h", ".1f"),
        ("  with the rim at", in_print(found.first_seats[:, 1], "temperature"), "degC", ".0f"),
        ("  and the spider at", in_print(found.first_seats[:, 2], "temperature"), "degC", ".0f"),
        ("all keys hold after", found.last_seats[:, 0] / HOUR, "h", ".1f"),
        ("  with the rim at", in_print(found.last_seats[:, 1], "temperature"), "degC", ".0f"),
        ("  and the spider at", in_print(found.last_seats[:, 2], "temperature"), "degC", ".0f"),
        (f"rim and spider within {found.within:g} K after", found.cooled / HOUR, "h", ".0f"),
    ]
    lines += [f"  {name:38} {_span(values, form)} {unit}" for name, values, unit, form in rows]
    fast, rate = found.rate * HOUR, float(heating.rate_limit) * HOUR
    warning = "" if fast <= rate else f": faster than {rate:g} K/h, keep more of the covers on"
    lines.append(f"  {'fastest cooling until all keys hold':38} {fast:.1f} K/h{warning}")
    wide = "" if found.spread <= float(heating.depth_spread) else ": above its limit, keep more of the covers on"
    return [*lines, f"  {'largest spread until then':38} {found.spread:.1f} K{wide}"]


def _wrapped(head: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head))


def _listed(texts: list[str]) -> list[str]:
    return [line for item in texts for line in _wrapped("  - ", item)]
