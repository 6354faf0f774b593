"""The knee of the speed points of a run: `fit_knee` in the terms of a rotor, as a speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty, widest_knee
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.warming import level_drift
from rimmodel.evidence.knee.broken_line import hinge
from rimmodel.evidence.knee.fit import Knee, fit_knee
from rimmodel.evidence.knee.points import Words
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, Rotor
from rimmodel.tabular import Tabular, wanted
from rimmodel.units import RPM, in_rpm, mm, rpm

SAME_PLACE = 6
"""Decimals of speed squared (rad2/s2): one speed read twice differs by rounding alone and must not make two places."""

WORDS = Words(
    place=lambda squared: rpm(np.sqrt(max(squared, 0.0))),
    size=lambda gap: mm(gap, ".3f"),
    slope=lambda slope: f"{mm(slope * (100 * RPM) ** 2, '.3f')} per (100 rpm)²",
)
"""The numbers of a knee as an engineer writes them."""


@dataclass(frozen=True)
class FoundKnee(Tabular):
    """Where the gap of a run bends, as a speed; `knee` holds the same in speed squared.

    As a table it is the plausibility of each lift-off speed tried.

    Attributes
    ----------
    float_speed : float, rad/s
        Best lift-off; NaN where the points show none.
    interval : pair of float, rad/s
        At `confidence`: 0 or infinite on a side that the points leave open.
    confidence : float, -
    """

    verdict: str
    float_speed: float
    interval: Interval
    confidence: float
    reasons: tuple[str, ...]
    knee: Knee
    points: SpeedPoints

    def __repr__(self) -> str:
        low, high = (in_rpm(end) for end in self.interval)
        sure = f"{low:.1f} to {high:.1f} rpm at {100 * self.confidence:.0f} %"
        best = f"{rpm(self.float_speed)} ({sure})" if np.isfinite(self.float_speed) else "no lift-off"
        return f"FoundKnee({self.verdict}: {best}, {int(self.knee.used.sum())} of {len(self.knee.used)} points)"

    def gap(self, speed: Floats) -> Floats:
        """Gap of the broken line, m; NaN where there is no knee.

        Parameters
        ----------
        speed : array, rad/s
        """
        knee = self.knee
        beyond = speed**2 - knee.position
        bend = knee.slope_after - knee.slope_before
        line: Floats = knee.level + knee.slope_before * beyond + bend * hinge(beyond, knee.width)
        return line

    def columns(self) -> dict[str, Any]:
        """Lift-off speeds tried and how plausible each is."""
        tried = np.sqrt(np.maximum(self.knee.candidates, 0.0))
        return {"float_speed_rpm": in_rpm(tried), "plausibility": self.knee.plausibility}


def moments(points: SpeedPoints) -> Floats:
    """When each point was read; without times its place in a run that goes up and comes down again.

    Returns
    -------
    array (point,), s
        Places, which have no unit, where the times are not known.
    """
    if len(points.time) and np.isfinite(points.time).all() and np.ptp(points.time) > 0.0:
        return points.time
    down = points.direction == "down"
    order = np.lexsort((np.where(down, -points.speed, points.speed), down))
    place = np.empty(len(order))
    place[order] = np.arange(len(order))
    return place


def find_knee(
    points: SpeedPoints,
    rotor: Rotor | None = None,
    condition: Condition | None = None,
    *,
    confidence: float = 0.95,
) -> FoundKnee:
    """Find the speed at which the gap of a run bends.

    Parameters
    ----------
    points : SpeedPoints
        From `speed_points`, all planes together.
    rotor : Rotor, optional
        With the condition: its slopes of the gap help where the points alone show no knee.
    condition : Condition, optional
        In which the run was taken.
    confidence : float, -
        Of the interval and of the test for a knee.

    Returns
    -------
    FoundKnee
        Best speed and interval from the noise of the run alone, verdict and reasons; see `fit_knee`.

    Raises
    ------
    TypeError
        The points are no speed points.
    ValueError
        Too few points, or planes kept apart.

    >>> import rimmodel as rm
    >>> from rimmodel.evidence.synthetic import Run, virtual_run
    >>> case = rm.example_case()
    >>> speeds = tuple(np.linspace(20.0, 235.0, 14) * rm.RPM)
    >>> frame = virtual_run(case.rotor, case.conditions["cold"], Run(speeds, noise=1e-6, offset=0.0))
    >>> found = find_knee(rm.speed_points(rm.read_recording(frame)))
    >>> truth = rm.float_speed(case.rotor, case.conditions["cold"]).speed
    >>> found.verdict, bool(abs(found.float_speed / truth - 1) < 0.005)
    ('resolved', True)
    """
    wanted(points, SpeedPoints, "points", "find_knee wants speed points", "write speed_points(read_recording(file))")
    if len(np.unique(points.plane)) > 1:
        raise ValueError("points are kept apart by plane; find the knee of speed_points(recording), without by_plane")
    options: dict[str, Any] = {}
    if rotor is not None and condition is not None:
        options = {
            "expected_slopes": expected_slopes(rotor, condition),
            "expected_slope_uncertainty": slope_uncertainty(rotor, condition, Freedom()),
            "widest": widest_knee(rotor, condition),
            "drift": level_drift(rotor, condition, points.time, float(points.speed.max())),
        }
    knee = fit_knee(
        np.round(points.speed**2, SAME_PLACE),
        points.gap,
        confidence=confidence,
        words=WORDS,
        time=moments(points),
        own_error=points.standard_error,
        **options,
    )
    low, high = (float(end) for end in np.sqrt(np.maximum(knee.interval, 0.0)))
    best = float(np.sqrt(knee.position)) if knee.verdict == "resolved" else float("nan")
    return FoundKnee(knee.verdict, best, (low, high), confidence, knee.reasons, knee, points)
