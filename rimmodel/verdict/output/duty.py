"""A history of the machine as figures, as table for JSON, and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.heat.agreed import AgreedHeat
from rimmodel.behaviour.heat.events import Event, afloat
from rimmodel.behaviour.heat.restart import REST_TIMES, Restart
from rimmodel.planning.duty import Duty, DutyMargin
from rimmodel.plotting import duty_chart, restart_chart
from rimmodel.plotting.bands import Band
from rimmodel.rotor.thermal import Thermal
from rimmodel.units import in_mm, in_print, in_rpm, number, with_unit
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.output import basis
from rimmodel.verdict.output.drawer import Drawing, drawing
from rimmodel.verdict.output.duty_words import cases_words, restart_sentences, thermometer_sentence

WIDTH = 100
HOUR = 3600.0
KINDS_OF = {
    "floats": "speed",
    "may float": "speed",
    "seats": "speed",
    "closes": "speed",
    "least gap": "length",
    "peak key force": "force",
    "peak spider stress": "stress",
    "peak rim stress": "stress",
    "peak thermal stress of the rim": "stress",
}
"""Kind of `units.PRINT` of an event; the others are plain ratios."""
UNIT = {"speed": "rpm", "length": "mm", "small length": "mm", "force": "kN", "stress": "MPa", "": "-"}
WORDS = {
    "floats": "rim lifts off at",
    "may float": "rim may float from",
    "seats": "rim seats again at",
    "closes": "magnetic pull closes the gap at",
    "least gap": "least mean air gap",
    "peak rim stress": "peak hoop stress of the rim bore, gross, with T(r)",
    "peak spider stress": "peak stress of the spider",
}


def drawings(duty: Duty) -> dict[str, Drawing]:
    """The history against time, and the restart map where the machine comes to rest.

    From what they show alone: a whole history is too much to be sent about.
    """
    figures = {"duty": _course_drawing(duty)}
    if duty.run.restart is not None:
        figures["restart"] = _restart_drawing(duty, duty.run.restart)
    return figures


def _course_drawing(duty: Duty) -> Drawing:
    """Temperatures, speed with float speed, and interference against time."""
    course = duty.run.course
    time = course.heat.time / HOUR
    starts = [float(time[np.argmax(course.heat.segment == row)]) for row in range(len(duty.run.history.segments))]
    parts = (
        ("rim", course.rim_temperature),
        ("spider", course.spider_temperature),
        ("stator core", course.stator_temperature),
    )
    return drawing(
        duty_chart.draw,
        time,
        in_rpm(course.heat.speed),
        _band("float speed", in_rpm(_limited(course.float_speed))),
        [_band(name, in_print(values, "temperature")) for name, values in parts],
        _band("at the speed of the moment", in_mm(course.residual_interference)),
        [duty_chart.Mark(row.kind, start) for row, start in zip(duty.run.history.segments, starts, strict=True)],
    )


def _restart_drawing(duty: Duty, found: Restart) -> Drawing:
    """Speed to which the machine may be started again against the time that it has stood."""
    lowest = in_rpm(_limited(found.lowest) / found.ratio)
    again = found.windows()[1]
    until = float(np.clip(1.5 * again / HOUR if np.isfinite(again) else np.inf, 24.0, found.time[-1] / HOUR))
    marks = {name: float(np.asarray(in_rpm(speed))) for name, speed in duty.case.rotor.speeds.named.items()}
    shown = (found.time / HOUR, lowest.min(axis=0), lowest.max(axis=0), marks, found.ratio, until)
    return drawing(restart_chart.draw, *shown)


def _limited(speed: Floats) -> Floats:
    """Float speeds for a chart: one without end as far beyond all others as a chart shows."""
    finite = speed[np.isfinite(speed)]
    top = 1.5 * float(finite.max()) if finite.size else 1.0
    return np.nan_to_num(speed, nan=0.0, posinf=top)


def _band(name: str, values: Floats) -> Band:
    return Band(name, values[0], np.nanmin(values, axis=0), np.nanmax(values, axis=0))


def duty_summary(duty: Duty) -> dict[str, Any]:
    """What a history comes to, for JSON: speeds in rpm, times in h."""
    run = duty.run
    long = afloat(run.course)
    return {
        "history": run.history.name,
        "duration_h": number(run.history.duration / HOUR),
        "basis": duty.basis,
        "along_the_rim_note": basis.along_note(duty.case) or None,
        "steady_state": run.model.thermal.steady_state,
        "steady_float_speed_interval_rpm": [number(end, "speed") for end in duty.steady_interval],
        "draws": {"asked": run.model.asked, "possible": len(run.model.possible), "rows": len(long)},
        "ranges": range_rows(run.model.thermal, duty.agreed),
        "loss_kW": {
            "rim": _ends(run.model.losses.rim_loss / 1e3),
            "stator": _ends(run.model.losses.stator_loss / 1e3),
        },
        "heat_imbalance": number(float(run.course.heat.imbalance.max())),
        "refusal": duty.refusal or None,
        "margins": [margin_entry(one) for one in duty.margins],
        "events": [event_entry(duty, one) for one in run.events],
        "afloat_s": _ends(long),
        "restart": _restart_table(duty),
        "sentences": sentences(duty),
        "assumptions": assumption_lines(duty),
        "cautions": list(CAUTIONS),
    }


def table(duty: Duty) -> dict[str, Any]:
    """The history for JSON, with its course: temperatures in degC, lengths in mm, times in h."""
    course = duty.run.course

    def row(values: Floats, kind: str) -> dict[str, list[float | None]]:
        parts = {"middle": values[0], "low": values.min(axis=0), "high": values.max(axis=0)}
        return {name: [number(float(one), kind) for one in part] for name, part in parts.items()}

    return {
        "title": duty.case.title,
        **duty_summary(duty),
        "time_h": [number(float(one) / HOUR) for one in course.heat.time],
        "segment": [int(one) + 1 for one in course.heat.segment],
        "speed_rpm": [number(float(one), "speed") for one in course.heat.speed],
        "float_speed_rpm": row(course.float_speed, "speed"),
        "rim_temperature_degC": row(course.rim_temperature, "temperature"),
        "spider_temperature_degC": row(course.spider_temperature, "temperature"),
        "stator_temperature_degC": row(course.stator_temperature, "temperature"),
        "residual_interference_mm": row(course.residual_interference, "length"),
        "key_force_kN": row(course.key_force, "force"),
        "spider_stress_MPa": row(course.spider_stress, "stress"),
        "rim_thermal_stress_MPa": row(course.rim_thermal_stress, "stress"),
        "air_gap_mm": row(course.air_gap, "length"),
    }


def _ends(values: Floats) -> list[float | None]:
    return [number(float(values.min())), number(float(values.max()))]


def range_rows(thermal: Thermal, agreed: AgreedHeat | None = None) -> list[dict[str, Any]]:
    """The ranges as stated, each with where it comes from, and what temperatures that were read leave of it."""
    left = {} if agreed is None else {name: _ends(column) for name, column in agreed.values.items()}
    return [
        {
            "name": name,
            "low": pair[0],
            "high": pair[1],
            "left_by_readings": left.get(name),
            "unit": _unit(thermal, name),
            "source": _source(thermal, name),
        }
        for name, pair in thermal.spans.items()
    ]


def _unit(thermal: Thermal, name: str) -> str:
    from rimmodel.units import KINDS

    kind = thermal.__dataclass_fields__[name].metadata["kind"]
    return KINDS[kind].si_unit if kind else "-"


def _source(thermal: Thermal, name: str) -> str:
    stored = thermal.__dataclass_fields__[name]
    own = getattr(thermal, name) != stored.default
    return "stated in the case" if own else str(stored.metadata.get("source", ""))


def margin_entry(margin: DutyMargin) -> dict[str, Any]:
    """A margin for JSON."""
    kind = margin.kind or None
    return {
        "key": margin.key,
        "name": margin.name,
        "unit": UNIT[margin.kind],
        "at_least": number(margin.least, kind),
        "least": number(margin.best, kind),
        "interval": [number(margin.low, kind), number(margin.high, kind)],
        "verdict": margin.verdict,
        "reason": margin.reason,
        "when": margin.when or None,
    }


def event_entry(duty: Duty, event: Event) -> dict[str, Any]:
    """An event for JSON."""
    kind = KINDS_OF.get(event.kind)
    return {
        "event": event.kind,
        "time_h": number(event.time / HOUR),
        "segment": event.segment + 1,
        "kind": duty.run.history.segments[event.segment].kind,
        "unit": UNIT[kind or ""],
        "value": number(event.value, kind),
        "interval": [number(event.low, kind), number(event.high, kind)],
        "share": event.share,
        "cases": cases_of(duty),
    }


def _restart_table(duty: Duty) -> dict[str, Any] | None:
    found = duty.run.restart
    if found is None:
        return None
    until, again = found.windows()
    named = duty.case.rotor.speeds.named
    shown = not duty.refusal
    return {
        "stopped_at_h": number(found.stopped_at / HOUR),
        "float_speed_ratio": found.ratio,
        "restart_keeps_ratio_until_h": number(until / HOUR) if shown else None,
        "restart_keeps_ratio_again_from_h": number(again / HOUR) if shown else None,
        "rest_h": [float(one) / HOUR for one in found.time],
        "lowest_float_speed_rpm": [
            [number(float(low), "speed"), number(float(high), "speed")]
            for low, high in zip(found.lowest.min(axis=0), found.lowest.max(axis=0), strict=True)
        ],
        "speed_rpm": {name: number(float(np.asarray(speed)), "speed") for name, speed in named.items()},
        "lock_out": {name: lock_out(duty, float(np.asarray(speed))) for name, speed in named.items()},
    }


def lock_out(duty: Duty, speed: float) -> list[str]:
    """What is known of a restart to a speed after each time at rest, with the ratio that is asked for.

    Parameters
    ----------
    speed : float, rad/s

    Returns
    -------
    list of str
    """
    found = duty.run.restart
    if found is None:
        return []
    if duty.refusal:
        return ["not shown"] * len(found.time)
    return found.verdicts(speed, found.ratio)


def sentences(duty: Duty) -> list[str]:
    """What is found, in sentences: margins, what they leave out, restart, and which thermometers decide."""
    lines = [margin_words(row) for row in duty.margins]
    if left_out := basis.along_note(duty.case):
        lines.append(f"{left_out[:1].upper()}{left_out[1:]}.")
    lines += restart_sentences(duty)
    pair = thermometer_sentence(duty)
    return [*lines, pair] if pair else lines


def margin_words(margin: DutyMargin) -> str:
    """A margin in a sentence."""
    least, low, high = (_words(value, margin.kind) for value in (margin.least, margin.low, margin.high))
    return (
        f"{margin.name[:1].upper()}{margin.name[1:]}, at least {least} over the whole history: {margin.verdict}. "
        f"Least value {low} to {high}: {margin.reason}."
    )


def assumption_lines(duty: Duty) -> list[str]:
    """What the history takes for granted."""
    thermal = duty.run.model.thermal
    left = duty.run.model.asked - len(duty.run.model.possible)
    lines = [
        f"Losses are those that hold the machine at the temperatures of condition '{thermal.steady_state}' at rated "
        f"load: {_span_words(duty.run.model.losses.rim_loss / 1e3)} kW into the rim, "
        f"{_span_words(duty.run.model.losses.stator_loss / 1e3)} kW into the stator core.",
        "The air at the spider is as warm as it must be to hold the spider at its temperature there. The contact of "
        "rim and spider conducts the same heat seated and afloat. Windage loss is not counted apart.",
        "Intervals cover the ranges of heat transfer and the float speed in that condition, with its own "
        f"interval: {_span_words(in_rpm(np.array(duty.steady_interval)))} rpm, {duty.basis}.",
    ]
    if left:
        lines.append(
            f"{left} of {duty.run.model.asked} samples of the heat transfer are left out: they cannot give those "
            "temperatures."
        )
    if thermal.pole_conductance is None:
        lines.append("Poles are taken as hot as the rim outside, with their heat capacity there.")
    return lines


def _span_words(values: Floats) -> str:
    low, high = float(np.min(values)), float(np.max(values))
    return f"{low:.0f} to {high:.0f}" if np.isfinite([low, high]).all() else "unbounded"


def text(duty: Duty) -> str:
    """The history for a terminal or on paper."""
    run = duty.run
    head = f"History '{run.history.name}', {run.history.duration / HOUR:.2f} h, {duty.basis}."
    lines = [duty.case.title, "", *textwrap.wrap(head, WIDTH)]
    lines += ["", *(line for text in sentences(duty) for line in textwrap.wrap(text, WIDTH, break_on_hyphens=False))]
    lines += ["", "       time  segment       event", "          h"]
    for event in run.events:
        lines += event_lines(duty, event)
    long = afloat(run.course)
    lines.append(f"rim afloat for {long.min():.0f} to {long.max():.0f} s in total")
    lines += ["", *_lock_out_lines(duty), "", "what this rests on:"]
    lines += _listed(assumption_lines(duty))
    lines += ["", "ranges of heat transfer, SI units:"]
    for row in range_rows(run.model.thermal, duty.agreed):
        lines.append(f"    {row['name']:26} {row['low']:>9.4g} to {row['high']:<9.4g} {row['unit']:9} {row['source']}")
        if row["left_by_readings"]:
            low, high = row["left_by_readings"]
            lines.append(f"    {'  left by the readings':26} {low:>9.4g} to {high:<9.4g}")
    lines += ["", "cautions:", *_listed(list(CAUTIONS))]
    return "\n".join(lines)


def cases_of(duty: Duty) -> int:
    """How many cases were worked out: every possible sample of the heat transfer with each fit."""
    return len(duty.run.course.residual_interference)


def event_words(event: Event, cases: int) -> tuple[str, str, str]:
    """Words, value and interval of an event in units of print, of so many cases worked out."""
    kind = KINDS_OF.get(event.kind, "")
    value = _words(event.value, kind)
    known = np.isfinite([event.low, event.high]).all()
    parts = [f"{_words(event.low, kind)} to {_words(event.high, kind)}"] if known else []
    if event.share < 1.0:
        parts.append(cases_words(event.share, cases))
    return WORDS.get(event.kind, event.kind), value, "; ".join(parts)


def _words(value: float, kind: str) -> str:
    """A value of an event or a margin with its unit of print; a plain ratio to three decimals."""
    if not np.isfinite(value):
        return "unlimited"
    return with_unit(value, kind, {"stress": ".0f"}.get(kind)) if kind else f"{value:.3f}"


def event_lines(duty: Duty, event: Event) -> list[str]:
    """An event as lines of text."""
    words, value, span = event_words(event, cases_of(duty))
    between = f" ({span})" if span else ""
    kind = duty.run.history.segments[event.segment].kind
    first = f"{event.time / HOUR:11.3f}  {event.segment + 1} {kind:11} "
    return textwrap.wrap(f"{words} {value}{between}", WIDTH, initial_indent=first, subsequent_indent=" " * len(first))


def lock_out_rows(duty: Duty) -> tuple[list[str], list[tuple[str, str, list[str]]]]:
    """Heads of the named speeds, and for each time at rest its words, the float speed, and what is known of each."""
    found = duty.run.restart
    named = {name: float(np.asarray(speed)) for name, speed in duty.case.rotor.speeds.named.items()}
    if found is None:
        return [], []
    columns = [lock_out(duty, speed) for speed in named.values()]
    rows = []
    for place, time in enumerate(found.time):
        if time not in REST_TIMES:  # looked at besides, to find where the answer lies
            continue
        low, high = (in_rpm(float(end)) for end in (found.lowest[:, place].min(), found.lowest[:, place].max()))
        span = f"{low:.1f} to {high:.1f}" if np.isfinite([low, high]).all() else "never floats"
        rows.append((_rest_words(float(time)), span, [column[place] for column in columns]))
    return [f"{name} {in_rpm(speed):.4g}" for name, speed in named.items()], rows


def _lock_out_lines(duty: Duty) -> list[str]:
    found = duty.run.restart
    if found is None:
        return ["no restart: the history does not come to rest after it has turned"]
    heads, rows = lock_out_rows(duty)
    return [
        "restart after a stop: lowest float speed until warm again, and whether it stays above "
        f"{found.ratio:g} x each speed",
        f"  at rest    float speed, rpm{''.join(f'{head:>18}' for head in heads)}",
        *(f"{time:>9} {span:>19}{''.join(f'{cell:>18}' for cell in cells)}" for time, span, cells in rows),
    ]


def _rest_words(time: float) -> str:
    return f"{time / 60:.0f} min" if 0 < time < HOUR else f"{time / HOUR:g} h"


def _listed(texts: list[str]) -> list[str]:
    return [
        line for item in texts for line in textwrap.wrap(item, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    ]
