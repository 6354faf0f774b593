"""A chart read off: from a picture and its description to points with their own and their shared errors."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.chart.axes import ChartAxes, chart_axes
from rimmodel.evidence.chart.description import Description
from rimmodel.evidence.chart.ink import colour_of, ink_of
from rimmodel.evidence.chart.picture import ChartError, read_picture
from rimmodel.evidence.chart.shared_columns import AXIS_GAPS, AXIS_SPEEDS
from rimmodel.evidence.chart.trace import BESIDE, follow, read_at
from rimmodel.units import mm, rpm

FRAME = 0.02
"""Share of the marked range at its edges in which the darkest line would be the frame of the chart."""

FEWEST = 5


@dataclass(frozen=True)
class ChartReading:
    """Points of one curve.

    Attributes
    ----------
    source, quantity, colour, direction : str
        "gap", or "gap_change" where the chart shows changes or growth.
    speed : array (point,), rad/s
    gap : array (point,), m
        Or its change: growth counts against the gap.
    gap_error : array (point,), m
        Standard uncertainty of reading the line, axes apart.
    axis_speed : array (point, mode), rad/s
        What one standard uncertainty of each error of the axes does to the speeds, ...
    axis_gap : array (point, mode), m
        ... and to the gaps.
    """

    source: str
    quantity: str
    colour: str
    direction: str
    speed: Floats
    gap: Floats
    gap_error: Floats
    axis_speed: Floats
    axis_gap: Floats
    axes: ChartAxes
    notes: tuple[str, ...]

    @property
    def axis_columns(self) -> list[tuple[str, Floats, str, Floats]]:
        """For each error of the axes its column of speeds and its column of gaps: names, and errors (point,), SI."""
        modes = range(self.axis_speed.shape[1])
        return [(AXIS_SPEEDS[at], self.axis_speed[:, at], AXIS_GAPS[at], self.axis_gap[:, at]) for at in modes]


def read_chart(path: Path, given: Description) -> ChartReading:
    """Read one curve of a printed chart.

    Parameters
    ----------
    path : Path
        Of the picture.

    Raises
    ------
    ChartError
        The picture, its marks or its curve cannot be used.
    """
    colours = read_picture(path)
    try:
        return _read(colours, path, given)
    except ChartError as error:
        raise ChartError(f"{path}: {error}") from error


def _read(colours: Floats, path: Path, given: Description) -> ChartReading:
    rows, columns = colours.shape[:2]
    for mark in given.marks:
        if not (-0.5 <= mark.column <= columns and -0.5 <= mark.row <= rows):
            raise ChartError(f"mark {mark.words} lies outside of the picture, which is {columns} x {rows} pixels")
    axes, colour = chart_axes(given.marks, given.mark_error), colour_of(given.colour)
    ink = ink_of(colours, _inside(axes, rows, columns, -FRAME if colour is None else BESIDE + 0.05), colour)
    trace = follow(axes, ink, given.limits)
    low, high = float(trace.speed.min()), float(trace.speed.max())
    beyond = [speed for speed in given.speeds if not low - trace.step <= speed <= high + trace.step]
    if beyond:
        raise ChartError(
            f"the curve is to be read at {rpm(beyond[0], '.4g')}, but runs from {rpm(low, '.4g')} to {rpm(high, '.4g')}"
        )
    edge = 2.0 * trace.step
    speed = np.array(given.speeds) if given.speeds else np.linspace(low + edge, high - edge, given.points)
    spacing = float(np.diff(speed).min()) if len(speed) > 1 else high - low
    found = read_at(trace, speed, min(0.5 * spacing, 0.02 * (high - low)))
    if len(found.speed) < FEWEST:
        raise ChartError(
            f"the curve can be read at {len(found.speed)} speeds only, at least {FEWEST} are needed; check its colour"
        )
    change = given.quantity == "growth"
    errors = axes.errors(axes.pixels(np.column_stack([found.speed, found.height])))
    lost = len(speed) - len(found.speed)
    notes = [
        f"{len(found.speed)} points read off {path.name}, {rpm(low, '.4g')} to {rpm(high, '.4g')}; a pixel is "
        f"{rpm(trace.step, '.2g')} and {mm(trace.rise, '.2g')}, the marks agree to {axes.mark_error:.1f} pixels.",
        *([f"{lost} speeds left out: the curve cannot be seen there."] if lost else []),
        *([GROWTH] if change else []),
    ]
    return ChartReading(
        path.name, "gap_change" if change else given.quantity, given.colour, given.direction, found.speed,
        -found.height if change else found.height, found.error, errors[:, 0], -errors[:, 1] if change else errors[:, 1],
        axes, tuple(notes),
    )  # fmt: skip


GROWTH = (
    "Radial growth is taken for the fall of the gap: growth of the rim alone leaves out how far the poles stretch and "
    "the stator moves."
)


def _inside(axes: ChartAxes, rows: int, columns: int, beside: float) -> Floats:
    """Where of the picture (row, column) the marked area is, with a share of its sides added or taken off."""
    lines, across = np.mgrid[0:rows, 0:columns]
    values = axes.values(np.column_stack([across.ravel(), lines.ravel()]).astype(float))
    margin = beside * (axes.highest - axes.lowest)
    inside = ((values >= axes.lowest - margin) & (values <= axes.highest + margin)).all(axis=1)
    return np.asarray(inside.reshape(rows, columns))
