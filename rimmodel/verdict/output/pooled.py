"""Several runs of one machine, each alone and pooled, as a table for JSON and as words."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.evidence.pooling.runs import PooledRuns
from rimmodel.units import in_mm, number

WIDTH = 100
_SPEED = "float_speed"

DECIDES_NOTHING = "No verdict rests on pooled figures: each rests on its run alone."

COLUMNS = ("run", "interference alone", "pooled", "lift-off in the run alone", "pooled")


def pooled_table(found: PooledRuns | None) -> dict[str, Any] | None:
    """The pooled runs for JSON; None where fewer than two take part."""
    if found is None:
        return None
    return {
        "refused": found.refused,
        "left_out": dict(found.left_out),
        "chi_squared": number(found.chi_squared),
        "degrees_of_freedom": found.degrees_of_freedom,
        "chance_percent": 100.0 * found.chance,
        "confidence": found.confidence,
        "hoop_stiffness_factor": number(found.hoop_stiffness_factor),
        "hoop_stiffness_factor_interval": [number(end) for end in found.hoop_stiffness_factor_interval],
        "runs": [_run_table(found, place) for place in range(len(found.runs))],
    }


def _run_table(found: PooledRuns, place: int) -> dict[str, Any]:
    row = found.runs[place]
    lengths = {"interference": row.interference, "pooled_interference": row.pooled_interference}
    ends = {
        "interference_interval": row.interval,
        "interference_interval_by_noise": row.noise_interval,
        "pooled_interference_interval": row.pooled_interval,
        "pooled_interference_interval_by_noise": row.pooled_noise_interval,
    }
    speeds = {"lift_off_in_run": row.lift_off, "pooled_lift_off_in_run": row.pooled_lift_off}
    speed_ends = {
        "lift_off_in_run_interval": row.lift_off_interval,
        "pooled_lift_off_in_run_interval": row.pooled_lift_off_interval,
    }
    return {
        "label": row.label,
        **{f"{name}_mm": number(value, "length") for name, value in lengths.items()},
        **{f"{name}_mm": [number(end, "length") for end in pair] for name, pair in ends.items()},
        **{f"{name}_rpm": number(value, "speed") for name, value in speeds.items()},
        **{f"{name}_rpm": _speeds(pair) for name, pair in speed_ends.items()},
    }


def _speeds(interval: Interval) -> list[float | None]:
    low, high = interval
    return [None if low == 0.0 else number(low, "speed"), number(high, "speed")]


def pooled_sentences(found: PooledRuns) -> list[str]:
    """What pooling rests on, or why the runs are not pooled, and what it may not be used for."""
    left = [f"'{label}' takes no part: {reason}" for label, reason in found.left_out.items()]
    if found.refused:
        return [f"Not pooled: {found.refused}.", *left]
    test = (
        f"sharing is not contradicted (chi-squared {found.chi_squared:.1f} with {found.degrees_of_freedom} degrees of "
        f"freedom, chance {100 * found.chance:.0f} %)"
        if found.degrees_of_freedom
        else "the runs say too little of both to contradict one another"
    )
    low, high = found.hoop_stiffness_factor_interval
    return [
        f"{len(found.runs)} runs of one machine, hoop and spider stiffness shared, interference and level of each run "
        f"its own: hoop stiffness factor {found.hoop_stiffness_factor:.3f} ({low:.3f} to {high:.3f}); {test}.",
        *left,
    ]


def pooled_rows(found: PooledRuns) -> list[tuple[str, ...]]:
    """One row per run in the order of `COLUMNS`; interferences with every cause, lift-offs from noise alone."""
    return [
        (
            row.label,
            _length(row.interference, row.interval),
            _length(row.pooled_interference, row.pooled_interval),
            _speed(row.lift_off, row.lift_off_interval),
            _speed(row.pooled_lift_off, row.pooled_lift_off_interval),
        )
        for row in found.runs
    ]


def _length(best: float, interval: Interval) -> str:
    low, high = (in_mm(end) for end in interval)
    if np.isfinite([low, high]).all():
        ends = f"{low:.3f} to {high:.3f} mm"
    else:
        ends = (
            f"above {low:.3f} mm" if np.isfinite(low) else f"below {high:.3f} mm" if np.isfinite(high) else "no bound"
        )
    return f"{in_mm(best):.3f} mm ({ends})" if np.isfinite(best) else ends


def _speed(best: float, interval: Interval) -> str:
    ends = interval_text(_SPEED, interval)
    return f"{quantity_text(_SPEED, best)} ({ends})" if np.isfinite(best) else ends


def pooled_text(found: PooledRuns) -> str:
    """The same for a terminal."""
    lines = []
    for words in pooled_sentences(found):
        lines += textwrap.wrap(words, WIDTH)
    if not found.refused:
        for label, interference, pooled, lift_off, surer in pooled_rows(found):
            lines.append(f"    {label}:")
            rows = (("effective interference", interference, pooled), ("lift-off in the run", lift_off, surer))
            for name, alone, together in rows:
                lines += [f"        {name:24}{alone};", f"        {'':24}pooled {together}"]
    return "\n".join([*lines, *textwrap.wrap(DECIDES_NOTHING, WIDTH)])
