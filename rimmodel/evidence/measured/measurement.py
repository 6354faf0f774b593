"""What one recording shows: its `Measurement`, and the sentences and numbers that are read from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION, BackFit
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.measured.apparent_shifts import ApparentShift
from rimmodel.evidence.measured.difference import difference
from rimmodel.evidence.measured.machine import ByTest, Level, MeasuredMachine, by_test, interference_left
from rimmodel.evidence.measured.spread import KneeSpread, TwoEnds
from rimmodel.evidence.reduction.sensor_gaps import SensorGaps
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.tabular import Tabular
from rimmodel.units import in_mm, in_rpm, rpm


@dataclass(frozen=True)
class Measurement(Tabular):
    """What one recording shows; intervals are two-sided at `confidence`. As a table it is its speed points.

    Where the data give no best value it is NaN, and the interval holds what bound there is (infinite: open side; 0:
    no lower bound of a speed).

    Attributes
    ----------
    knees : dict of str to Knee
        By direction: "up", "down", and "" for all points together.
    float_speed : float, rad/s
    float_speed_interval : pair of float, rad/s
    interference : float, m
    interference_interval : pair of float, m
    confidence : float, -
    fits : dict of str to BackFit
        By direction, like `knees`; that of all points holds the float speeds inferred for other conditions.
    planes : dict of str to Knee
        By sensor plane, where there are several: sheets that slide let each axial slice answer its own pressure.
    disqualified : tuple of str
        Why no claim or requirement may be decided by this recording; empty where nothing speaks against that.
    own_interference_interval : pair of float, m
        From what changes from run to run alone: for the difference between two runs of one machine.
    machines : tuple of MeasuredMachine
        Of the case, for numbers that hold every uncertainty: see `with_case`.
    float_speeds : dict of ByTest, rad/s
        By condition of the case, from those machines.
    apparent_shifts : tuple of ApparentShift
        What causes that nobody noted would do to its float speed: see `with_shifts`.
    sensors : SensorGaps or None
        Gap of every sensor at every point.
    plane_points : SpeedPoints or None
        Plane by plane, where there are several.
    spreads : tuple of KneeSpread
        Whether planes lift off at one speed; sensors too after `with_sensors`.
    ends : TwoEnds or None
        Taper and tilt, where there are two planes.
    """

    label: str
    source: str
    condition: str
    points: SpeedPoints
    knees: dict[str, Knee]
    verdict: str
    float_speed: float
    float_speed_interval: Interval
    interference: float
    interference_interval: Interval
    confidence: float
    notes: tuple[str, ...]
    reasons: tuple[str, ...]
    fits: dict[str, BackFit] = field(default_factory=dict)
    planes: dict[str, Knee] = field(default_factory=dict)
    disqualified: tuple[str, ...] = ()
    own_interference_interval: Interval = (-float("inf"), float("inf"))
    machines: tuple[MeasuredMachine, ...] = ()
    float_speeds: dict[str, ByTest] = field(default_factory=dict)
    apparent_shifts: tuple[ApparentShift, ...] = ()
    sensors: SensorGaps | None = None
    plane_points: SpeedPoints | None = None
    spreads: tuple[KneeSpread, ...] = ()
    ends: TwoEnds | None = None

    def __repr__(self) -> str:
        return f"Measurement({self.label!r}, {self.condition}: {self.verdict}; {_described(self)})"

    def columns(self) -> dict[str, Any]:
        """Speed points with the fit and what it leaves of them."""
        used = self.knees[ALL_POINTS].used
        left = np.full(used.shape, np.nan)
        left[used] = self.fits[ALL_POINTS].residual
        fitted = np.where(used, self.points.gap - left, np.nan)
        return self.points.columns() | {
            "used_in_fit": used,
            "fitted_gap_mm": in_mm(fitted),
            "measured_less_fitted_mm": in_mm(left),
        }

    @property
    def sets_interference(self) -> bool:
        """Whether an effective interference with both bounds follows, and may decide: nothing speaks against it."""
        known = np.isfinite([self.interference, *self.interference_interval]).all()
        return bool(known) and not self.disqualified

    @property
    def interference_left(self) -> ByTest:
        """The effective interference with what each cause adds to its interval."""
        return by_test(self.machines, interference_left, self.condition)

    @property
    def level(self) -> Level | None:
        """Level of the recorded gaps against that of the case; None where no machine could be built."""
        return self.machines[0].level if self.machines else None


def describe(measurement: Measurement) -> str:
    """What a recording shows of the float speed in its condition, as the end of a sentence on the rim.

    Returns
    -------
    str
        Including all uncertainties in the interval, where the case is known.
    """
    said = _described(measurement)
    return f"{said}; not used for any verdict: {measurement.disqualified[0]}" if measurement.disqualified else said


def _described(measurement: Measurement) -> str:
    best, interval = float_speed_found(measurement)
    low, high = (in_rpm(speed) for speed in interval)
    if (measurement.verdict == "resolved" or measurement.disqualified) and np.isfinite([best, low, high]).all():
        sure = f"at {100 * measurement.confidence:.0f} % confidence"
        return f"lifts off at {rpm(best)} ({low:.1f} to {high:.1f} rpm {sure})"
    if measurement.verdict == "above tested range":
        highest = in_rpm(float(measurement.points.speed.max()))
        bound = f": it floats above {low:.1f} rpm, if at all" if low > 0.0 else ""
        return f"shows no lift-off up to {highest:.1f} rpm{bound}"
    if measurement.verdict == "already floating":
        bound = f": it lifts off below {high:.1f} rpm, if it seats at all" if np.isfinite(high) else ""
        return f"shows no seated part{bound}"
    bound = f"; it floats above {low:.1f} rpm, if at all" if low > 0.0 else ""
    bound += f"; it lifts off below {high:.1f} rpm" if np.isfinite(high) else ""
    knee = measurement.knees.get(ALL_POINTS)
    if knee is not None and knee.p_value < 1.0 - knee.confidence:
        return f"shows a change of slope, but this recording does not bound its lift-off on both sides{bound}"
    return f"shows no lift-off that this recording can distinguish from noise{bound}"


def float_speed_found(measurement: Measurement) -> tuple[float, Interval]:
    """Float speed in the condition of the run with everything that is uncertain; that of the run alone without a case.

    Returns
    -------
    best : float, rad/s
    interval : pair of float, rad/s
        0 and infinite on open sides.
    """
    found = measurement.float_speeds.get(measurement.condition)
    if found is None:
        return measurement.float_speed, measurement.float_speed_interval
    return found.best, (max(found.interval[0], 0.0), found.interval[1])


def turning_difference(measurement: Measurement) -> tuple[float, Interval] | None:
    """Float speed of the run-down less that of the run-up, from the noise of both; None without both.

    Returns
    -------
    best : float, rad/s
        NaN where a direction alone does not resolve its lift-off.
    interval : pair of float, rad/s
    """
    if not {"up", "down"} <= measurement.fits.keys() or measurement.disqualified:
        return None
    ends = []
    for direction in ("up", "down"):
        fit = measurement.fits[direction]
        interval = fit.float_speed_interval[OWN_CONDITION]
        ends.append((best_or_none(measurement.knees[direction], fit.float_speed[OWN_CONDITION], interval), interval))
    found = difference(*ends)
    if not np.isfinite([found[0], *found[1]]).all():
        return None
    both = all(measurement.knees[direction].verdict == "resolved" for direction in ("up", "down"))
    return found if both else (float("nan"), found[1])


def best_or_none(knee: Knee, value: float, interval: Interval) -> float:
    """The best value where a knee was found or both bounds are known; NaN elsewhere.

    Parameters
    ----------
    value : float, unit of value
    interval : pair of float, unit of value

    Returns
    -------
    float, unit of value
    """
    bounded = np.isfinite(interval).all() and interval[0] != 0
    return value if knee.verdict == "resolved" or bounded else float("nan")
