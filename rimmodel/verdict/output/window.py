"""The shrink window as figure, as table for JSON, and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour.limits.check import NOT_CHECKED
from rimmodel.planning.edges import Edge
from rimmodel.planning.predicted import has_other_tolerances
from rimmodel.planning.shrink_window import ShrinkWindow, half_width, in_steps
from rimmodel.plotting import window_chart
from rimmodel.rotor.case.case import Case
from rimmodel.units import celsius, in_mm, in_print, mm, number
from rimmodel.verdict.output import basis
from rimmodel.verdict.shims import shim_advice, shim_paragraph, shims_table

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 100


def edges_that_count(window: ShrinkWindow) -> list[Edge]:
    """Criteria that limit the interference at all: those not met anywhere, then lower edges, then upper ones."""
    limiting = [edge for edge in window.edges if edge.nowhere or np.isfinite(edge.low) or np.isfinite(edge.high)]
    return sorted(limiting, key=lambda edge: (not edge.nowhere, -edge.low, edge.high))


def figure(window: ShrinkWindow) -> Figure:
    """Every criterion that limits the interference as a bar, with the window, the present and the recommended shim."""
    rows = [
        window_chart.Span(
            edge.words,
            in_mm(edge.low),
            in_mm(edge.high),
            in_mm(half_width(edge, window)),
        )
        for edge in edges_that_count(window)
    ]
    best = shim_advice(window).best
    ends = [value for row in rows for value in (row.low, row.high) if np.isfinite(value)]
    end = min(1.1 * max([*ends, in_mm(window.present)]), in_mm(window.widest))
    return window_chart.draw(
        rows,
        (in_mm(window.low_sure), in_mm(window.high_sure)) if window.exists else None,
        in_mm(window.present),
        None if best is None else in_mm(best.interference),
        end,
    )


def table(case: Case, window: ShrinkWindow) -> dict[str, Any]:
    """The window for JSON; lengths in mm, null where an edge is open."""
    mm = partial(number, kind="length")
    warm, margins, advice = window.heating, window.margins, shim_advice(window)
    return {
        "title": case.title,
        "statement": window.statement,
        "along_the_rim_note": basis.along_note(case) or None,
        "exists": window.exists,
        "low_mm": mm(window.low),
        "low_with_confidence_mm": mm(in_steps(window.low_sure, up=True)),
        "low_by": None if window.low_by is None else window.low_by.words,
        "high_mm": mm(window.high),
        "high_with_confidence_mm": mm(in_steps(window.high_sure, up=False)),
        "high_by": None if window.high_by is None else window.high_by.words,
        "closed_by": closed_by(window),
        "widest_mm": mm(window.widest),
        "standard_uncertainty_mm": mm(window.standard_uncertainty),
        "present_mm": mm(window.present),
        "present_measured_in": window.measured or None,
        "basis": window.basis,
        "half_width_of": half_width_words(case, window),
        "recommended_mm": None if advice.best is None else mm(advice.best.interference),
        "shims": shims_table(advice),
        "margin_below_mm": None if margins is None else mm(margins[0]),
        "margin_above_mm": None if margins is None else mm(margins[1]),
        "float_speed_rpm": {name: number(speed, "speed") for name, speed in window.float_speeds.items()},
        "heating": None
        if warm is None
        else {
            "rim_temperature_degC": in_print(warm.mean, "temperature"),
            "rim_temperature_per_key_degC": [in_print(value, "temperature") for value in warm.per_key],
            "spider_temperature_degC": in_print(warm.spider_temperature, "temperature"),
            "clearance_mm": in_mm(warm.clearance),
            "clearance_given": warm.clearance_given,
            "counts": heating_words(case, window),
        },
        "edges": [
            {
                "name": edge.name,
                "at": edge.at,
                "condition": edge.condition,
                "role": edge.role,
                "kept_nowhere": edge.nowhere and not edge.missing,
                "missing_input": edge.missing or None,
                "low_mm": None if edge.nowhere else mm(edge.low),
                "high_mm": None if edge.nowhere else mm(edge.high),
                "half_width_mm": mm(half_width(edge, window)),
                "confidence": edge.confidence,
                "source": edge.source,
                "note": edge.note,
            }
            for edge in window.edges
        ],
        "not_checked": [
            *({"name": edge.words, "missing": edge.missing} for edge in window.edges if edge.missing),
            *({"name": row.name, "missing": row.missing} for row in window.unchecked),
        ],
    }


def closed_by(window: ShrinkWindow) -> list[str]:
    """What closes the window; empty where it exists."""
    if window.exists:
        return []
    if window.hopeless:
        return [edge.words for edge in window.hopeless]
    return [edge.words for edge in (window.high_by, window.low_by) if edge is not None]


def text(case: Case, window: ShrinkWindow) -> str:
    """The window for a terminal or on paper."""
    said = shim_paragraph(shim_advice(window))
    lines = [case.title, ""]
    for paragraph in filter(None, (window.statement, said, basis.along_note(case))):
        lines += [*textwrap.wrap(paragraph, WIDTH), ""]
    if window.margins is not None:
        below, above = (mm(value) if np.isfinite(value) else "open" for value in window.margins)
        lines.append(f"margin of the best interference: {below} below, {above} above")
    lines += [
        *_heating_lines(case, window),
        "",
        f"interference allowed by each criterion [mm, uncertainty not deducted, {window.basis}]:",
    ]
    rows = edges_that_count(window)
    width = max((len(edge.words) for edge in rows), default=0)
    for edge in rows:
        outside = "not checked" if edge.missing else "not met"
        span = outside if edge.nowhere else f"{_end(edge.low, '0'):>6} to {_end(edge.high, 'open'):<6}"
        lines.append(f"    {edge.words:{width}}  {span:<16}  +-{in_mm(half_width(edge, window)):.2f}  {edge.source}")
    idle = len(window.edges) - len(rows)
    lines.append(f"    {idle} more are met from 0 to {mm(window.widest)}")
    missing = [(edge.words, edge.missing) for edge in window.edges if edge.missing]
    missing += [(row.name, row.missing) for row in window.unchecked]
    if missing:
        lines += ["", f"{NOT_CHECKED}; missing input:", *(f"    {name}: {key}" for name, key in missing)]
    lines += [
        "",
        *textwrap.wrap(half_width_words(case, window), WIDTH),
        "Limits are common practice or from memory unless the case states them: confirm each in the standards and",
        "contracts that apply.",
    ]
    return "\n".join(lines)


def half_width_words(case: Case, window: ShrinkWindow) -> str:
    """What the half-widths of the edges hold, and why they are not the tolerance of the drawing after a run."""
    tolerance = mm(case.rotor.fit.interference_tolerance)
    if not window.measured:
        if has_other_tolerances(case):
            return (
                f"The +- is the uncertainty of the shim that leads to each edge, from all tolerances of the case "
                f"together (of the interference {tolerance} at two standard uncertainties), at the confidence of each "
                f"criterion. What has no tolerance in the case is treated as exact."
            )
        return (
            f"The +- is the drawing tolerance, {tolerance} at two standard uncertainties, at the confidence of each "
            f"criterion. Only the interference is treated as uncertain; stiffness, masses and temperatures are those "
            f"of the case, so the confidence is that of the interference alone: state their [tolerances]."
        )
    return (
        f"The +- is the uncertainty of the shim that leads to each edge, from '{window.measured}' and the tolerances "
        f"of the case, interference and stiffness together, at the confidence of each criterion; the drawing "
        f"tolerance ({tolerance}) no longer applies. A run cannot separate interference from spider stiffness, so an "
        f"edge set by arm stress is less certain than one set by float speed."
    )


def _end(value: float, words: str) -> str:
    return f"{in_mm(value):.2f}" if np.isfinite(value) else words


def heating_words(case: Case, window: ShrinkWindow) -> str:
    """What the rim temperature and the edge by it leave out, and where that is counted."""
    counts = window.rim_temperature_counts
    words = f"The rim temperature stated here and the edge 'rim temperature while shrinking' count {counts}."
    if case.heating is not None:
        return (
            f"{words} 'rimmodel heating' counts those too, asks for a hotter rim and may refuse an interference below "
            f"that edge: heat by its plan, not by this."
        )
    return f"{words} Heat by the plan of 'rimmodel heating', not by this: state [heating] in the case."


def _heating_lines(case: Case, window: ShrinkWindow) -> list[str]:
    warm = window.heating
    bare = any(edge.role == "assembly" for edge in window.edges)  # stands in the list even where the window is closed
    left_out = ["", *textwrap.wrap(heating_words(case, window), WIDTH)] if bare else []
    if warm is None:
        return left_out[1:]
    play = f"{mm(warm.clearance)} play" + ("" if warm.clearance_given else ", none given")
    lines = [f"rim heated to {celsius(warm.mean)} mean, spider at {celsius(warm.spider_temperature)} ({play})"]
    if warm.per_key:
        keys = ", ".join(
            f"{number}: {in_print(value, 'temperature'):.0f}" for number, value in enumerate(warm.per_key, 1)
        )
        lines += textwrap.wrap(f"by key (degC, each with its own interference): {keys}", WIDTH)
    return [*lines, *left_out]
