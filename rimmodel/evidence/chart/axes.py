"""The axes of a chart from marks whose values are known: a plane seen from anywhere, with the errors of the marks.

A scanned page is turned and a photographed page is seen at an angle; both take straight lines to straight lines. The
map from chart to picture is therefore a homography, eight numbers,

    (u, v, 1) ~ H (x, y, 1),      H = [[a, b, c], [d, e, f], [p, q, 1]],

found by least squares over all marks (Hartley & Zisserman, Multiple View Geometry, 2nd ed., sec. 4.1; from memory). A
mark of which one value is known lies on its axis: the place of each axis is one more unknown. p and q, the
perspective, are expected to be small; where marks are too few to show them, that expectation says how far they leave
the values open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.least_squares import fit_batch, jacobian
from rimmodel.evidence.chart.picture import ChartError

MARK_ERROR = 1.0
"""Pixels: standard uncertainty of a mark in each direction, when nothing is stated: a careful click."""

PERSPECTIVE = 0.02
"""Standard deviation of each perspective number, with half the chart as unit of length: what a page that was scanned
or photographed with care may have."""

MODES = 8
"""Most independent errors that axes can have: one for each number of the map."""

SMALL = 1e-3
"""Errors of the axes below this share of the largest are left out."""

FAR_OFF = 5.0
"""Standard uncertainties from where the other marks put it at which a mark is refused."""

_UNIT = np.ones(10)


@dataclass(frozen=True)
class Mark:
    """A place of the picture where the value of one axis, or of both, is known.

    Parameters
    ----------
    column, row : float, -
        Pixels from the left and from the top, 0 in the middle of the first.
    speed : float or None, rad/s
    height : float or None, m
        Gap, change of gap or growth.
    words : str
        As it was given, for messages.
    """

    column: float
    row: float
    speed: float | None
    height: float | None
    words: str = ""


@dataclass(frozen=True)
class ChartAxes:
    """The map between a picture and the values of its chart; made by `chart_axes`.

    Attributes
    ----------
    numbers : array (10,), -
        a to f, p, q of the map between scaled values and scaled pixels, and the places of both axes.
    root : array (8, mode), -
        Errors of the map by independent modes, each of one standard uncertainty, the largest first.
    centre, size : array (4,), SI
        Of speed, height, column and row (pixels): what is taken off and divided by.
    residual : array (mark, 2), -
        Pixels, given less fitted.
    mark_error : float, -
        Pixels, as given or as the marks themselves show.
    lowest, highest : array (2,), SI
        Speed and height between which there are marks.
    """

    numbers: Floats
    root: Floats
    centre: Floats
    size: Floats
    residual: Floats
    mark_error: float
    lowest: Floats
    highest: Floats

    def values(self, pixels: Floats) -> Floats:
        """Return speed and height (point, 2), in SI, at pixels (point, 2)."""
        return np.asarray(self._values_of(self.numbers[None, :8], pixels)[0])

    def errors(self, pixels: Floats) -> Floats:
        """Return what one standard uncertainty of each mode does to speed and height (point, 2, mode), in SI."""

        def moved(numbers: Floats) -> Floats:
            return self._values_of(numbers, pixels).reshape(len(numbers), -1)

        slope = jacobian(moved, self.numbers[None, :8], _UNIT[:8], np.arange(8))[0]
        found: Floats = (slope @ self.root).reshape(len(pixels), 2, -1)
        return found

    def pixels(self, values: Floats) -> Floats:
        """Return pixels (point, 2) at speed and height (point, 2), in SI."""
        scaled = (values - self.centre[:2]) / self.size[:2]
        seen = _seen(self.numbers[None, :8], scaled[None, :, 0], scaled[None, :, 1])[0]
        return np.asarray(seen * self.size[2:] + self.centre[2:])

    def _values_of(self, numbers: Floats, pixels: Floats) -> Floats:
        place = (pixels - self.centre[2:]) / self.size[2:]
        whole = np.concatenate([numbers, np.ones((len(numbers), 1))], axis=1).reshape(-1, 3, 3)
        back = np.linalg.inv(whole) @ np.concatenate([place, np.ones((len(place), 1))], axis=1).T
        scaled = np.swapaxes(back[:, :2] / back[:, 2:], 1, 2)
        return np.asarray(scaled * self.size[:2] + self.centre[:2])


def chart_axes(marks: Sequence[Mark], mark_error: float = MARK_ERROR) -> ChartAxes:
    """Find the axes of a chart from its marks.

    Parameters
    ----------
    marks : sequence of Mark
        At least two different values of each axis. Marks of one value lie on their axis. Perspective shows from four
        on each axis, or from four with both values.
    mark_error : float, -
        Pixels, standard uncertainty in each direction.

    Raises
    ------
    ChartError
        Too few marks, marks on one line, or a mark that the others contradict.

    Four corners of a square picture, and the middle between them:

    >>> corners = [Mark(u, v, 10.0 * u, 1.0 - v) for u in (0.0, 100.0) for v in (0.0, 100.0)]
    >>> chart_axes(corners).values(np.array([[50.0, 50.0]])).round(6).tolist()
    [[500.0, -49.0]]
    """
    if not 0.05 <= mark_error <= 50.0:
        raise ChartError(f"mark_error is {mark_error:g} pixels; it is the error of one click, from 0.05 to 50")
    _refuse_few(marks)
    speed, height = (_column(marks, name) for name in ("speed", "height"))
    pixels = np.array([[mark.column, mark.row] for mark in marks])
    _refuse_line(marks, pixels, mark_error)
    known = np.column_stack([speed, height, pixels])
    lowest, highest = np.nanmin(known, axis=0), np.nanmax(known, axis=0)
    centre, size = 0.5 * (lowest + highest), np.maximum(0.5 * (highest - lowest), 1e-12)
    size[2:] = size[2:].max()  # one scale for both directions of the picture, so that a turn stays a turn
    scaled = (known - centre) / size
    error = mark_error / size[2]

    def off(numbers: Floats) -> Floats:
        x = np.where(np.isnan(scaled[:, 0]), numbers[:, 9:], scaled[:, 0])
        y = np.where(np.isnan(scaled[:, 1]), numbers[:, 8:9], scaled[:, 1])
        rest = (_seen(numbers, x, y) - scaled[:, 2:]) / error
        return np.concatenate([rest.reshape(len(numbers), -1), numbers[:, 6:8] / PERSPECTIVE], axis=1)

    free = np.array([True] * 8 + [bool(np.isnan(scaled[:, 1]).any()), bool(np.isnan(scaled[:, 0]).any())])
    start = _start(scaled)
    flat = free & (np.arange(10) != 6) & (np.arange(10) != 7)
    begin = fit_batch(off, start[None], _UNIT, free=flat).parameters
    numbers = fit_batch(off, begin, _UNIT, free=free).parameters[0]
    slope = jacobian(off, numbers[None], _UNIT, np.flatnonzero(free))[0]
    _refuse_loose(slope, marks)
    rest = off(numbers[None])[0]
    larger = _refuse_contradiction(marks, rest, int(free.sum()))
    covariance = np.linalg.inv(slope.T @ slope)[:8, :8] * larger**2
    root: Floats = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    axes = ChartAxes(
        numbers, root, centre, size, -rest[:-2].reshape(-1, 2) * mark_error,
        mark_error * larger, lowest[:2], highest[:2],
    )  # fmt: skip
    return _in_modes(axes)


def _seen(numbers: Floats, x: Floats, y: Floats) -> Floats:
    """Scaled pixels (fit, point, 2) of scaled values (fit, point)."""
    a, b, c, d, e, f, p, q = (numbers[:, place, None] for place in range(8))
    below = 1.0 + p * x + q * y
    return np.stack([(a * x + b * y + c) / below, (d * x + e * y + f) / below], axis=-1)


def _column(marks: Sequence[Mark], name: str) -> Floats:
    return np.array([np.nan if getattr(mark, name) is None else getattr(mark, name) for mark in marks])


def _refuse_few(marks: Sequence[Mark]) -> None:
    for name, axis in (("speed", "speed axis"), ("height", "gap or growth axis")):
        found = {getattr(mark, name) for mark in marks} - {None}
        if len(found) < 2:
            raise ChartError(
                f"the {axis} has marks at {len(found)} different values; at least two are needed, and four or more "
                "where the picture shows the page at an angle"
            )


def _refuse_line(marks: Sequence[Mark], pixels: Floats, mark_error: float) -> None:
    """Refuse marks that all lie on one line: what is beside it stays unknown."""
    around = pixels - pixels.mean(axis=0)
    across = np.linalg.svd(around)[2][1]
    if np.abs(around @ across).max() < 3.0 * mark_error:
        raise ChartError(
            f"all {len(marks)} marks lie on one straight line of the picture, so the axis across it is not known; mark "
            "at least two places on each axis"
        )


def _start(scaled: Floats) -> Floats:
    """First numbers of the map: directions of both axes from marks on each, or from marks with both values."""
    x, y, place = scaled[:, 0], scaled[:, 1], scaled[:, 2:]
    numbers = np.zeros(10)
    both = ~np.isnan(x) & ~np.isnan(y)
    design = np.column_stack([np.ones(both.sum()), x[both], y[both]])
    flat = np.linalg.lstsq(design, place[both], rcond=None)[0] if both.sum() >= 2 else np.zeros((3, 2))
    for column, (value, other) in enumerate(((x, y), (y, x))):
        alone = ~np.isnan(value) & np.isnan(other)
        if alone.sum() >= 2:
            along = np.column_stack([np.ones(alone.sum()), value[alone]])
            flat[1 + column] = np.linalg.lstsq(along, place[alone], rcond=None)[0][1]
    numbers[[0, 3]], numbers[[1, 4]] = flat[1], flat[2]
    rows, right = [], []
    for a, b, (u, v) in zip(x, y, place, strict=True):  # origin and places of the axes, all linear now
        for axis, seen in ((0, u), (1, v)):
            row = np.zeros(4)
            row[axis] = 1.0
            row[2] = flat[2, axis] if np.isnan(b) else 0.0
            row[3] = flat[1, axis] if np.isnan(a) else 0.0
            rows.append(row)
            right.append(seen - flat[1, axis] * np.nan_to_num(a) - flat[2, axis] * np.nan_to_num(b))
    numbers[[2, 5, 8, 9]] = np.linalg.lstsq(np.array(rows), np.array(right), rcond=None)[0]
    return numbers


def _refuse_loose(slope: Floats, marks: Sequence[Mark]) -> None:
    """Refuse marks that leave a number of the map open."""
    if len(slope) < slope.shape[1] or np.linalg.svd(slope, compute_uv=False)[-1] < 1e-2:
        raise ChartError(
            f"the {len(marks)} marks do not fix both axes; mark at least two places on each axis, or three places with "
            "both values that do not lie on one line"
        )


def _refuse_contradiction(marks: Sequence[Mark], rest: Floats, unknowns: int) -> float:
    """Refuse a mark that the others contradict; return by how much marks are worse than stated, at least 1."""
    off = np.hypot(*rest[:-2].reshape(-1, 2).T)
    spare = len(rest) - unknowns
    if spare <= 0:
        return 1.0
    excess = float(np.sqrt(rest @ rest / spare))
    worst = int(off.argmax())
    if excess > FAR_OFF or (off[worst] > FAR_OFF and excess > 2.0):
        raise ChartError(
            f"mark {marks[worst].words or worst + 1} does not agree with the others: they miss each other by "
            f"{excess:.1f} times the stated error of a mark; check its value and place, and that both axes are linear "
            "(a logarithmic axis cannot be read)"
        )
    return max(1.0, excess)


def _in_modes(axes: ChartAxes) -> ChartAxes:
    """The same axes with independent errors, ordered by what they do over the marked area, tiny ones left out.

    They depend on the marks alone, so that two curves of one chart share them one by one.
    """
    sides = [np.linspace(low, high, 5) for low, high in zip(axes.lowest, axes.highest, strict=True)]
    grid = np.stack(np.meshgrid(*sides), axis=-1).reshape(-1, 2)
    effect = axes.errors(axes.pixels(grid)) / axes.size[None, :2, None]
    _, sizes, turn = np.linalg.svd(effect.reshape(-1, effect.shape[2]), full_matrices=False)
    kept = sizes > SMALL * sizes[0]
    turn = turn[kept]
    turn = turn * np.sign(turn[np.arange(len(turn)), np.abs(turn).argmax(axis=1)])[:, None]
    return replace(axes, root=axes.root @ turn.T)
