"""Cut a run into speed points: holds and pieces of ramp by time, or groups of equal speed without time.

The speed is judged by its change over a window of one least hold, with hysteresis: a ramp begins where the speed
changes by more than twice the tolerance within the window, and ends where it changes by less than the tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Whole = NDArray[np.int64]

LEAST_HOLD = 20.0
"""s; a shorter stay at one speed is not a hold."""

TOLERANCE = 0.005
"""Of the highest speed: what still counts as the same speed."""

RAMP_POINTS = 60
"""Points into which the whole speed range is cut along a ramp."""

_OVERSHOOT = 0.05
_LEAST_BLOCKS = 30


@dataclass(frozen=True)
class Points:
    """Which speed point each piece of the run belongs to.

    Parameters
    ----------
    of_block : int array (block,)
        Point of each block, from 0.
    steady : bool array (point,)
        True for a hold or a settled reading, False for a piece of ramp.
    direction : int array (point,)
        +1 going up, -1 coming down, 0 unknown.
    time_gaps : tuple of (float, float), s
        Start and length of breaks in the recording.

    """

    of_block: Whole
    steady: NDArray[np.bool_]
    direction: Whole
    time_gaps: tuple[tuple[float, float], ...] = ()


def points_in_time(
    time: Floats, speed: Floats, *, least_hold: float = LEAST_HOLD, tolerance: float = TOLERANCE
) -> Points:
    """Find holds and ramps in the history of a run.

    Parameters
    ----------
    time : float array (block,), s
        Rising.
    speed : float array (block,), rad/s
        At these times.
    least_hold : float, s
        Shortest stay that counts as a hold, and the window over which the change of speed is judged.
    tolerance : float, -
        Share of the highest speed that still counts as the same speed, or twice the noise of the speed if more.

    Returns
    -------
    Points
        Holds in order of time, then pieces of ramp. Where readings are more than a third of a least hold apart, a
        hold takes four of them; and where no change of speed takes two readings, or most readings change it, none can
        show a ramp, so each stay, of one reading or more, is taken as a settled point.

    >>> import numpy as np
    >>> time = np.arange(0.0, 300.0)
    >>> speed = np.interp(time, [0.0, 100.0, 200.0, 300.0], [5.0, 5.0, 15.0, 15.0])
    >>> points = points_in_time(time, speed)
    >>> int(points.steady.sum()), points.direction[:2]
    (2, array([1, 1]))

    """
    band = max(tolerance * float(speed.max()), 2.0 * _noise(speed))
    steps = np.diff(time)
    if time.size < _LEAST_BLOCKS:
        return _settled(speed, band)
    if np.median(steps) > least_hold / 3.0:
        changing = np.abs(np.diff(speed)) > band
        if np.mean(changing) > 0.5 or not np.any(changing[1:] & changing[:-1]):
            return _settled(speed, band)
        least_hold = 4.0 * float(np.median(steps))
    breaks = np.flatnonzero(steps > max(least_hold, 20.0 * float(np.median(steps))))
    edges = [0, *(breaks + 1).tolist(), time.size]
    holds = []
    for first, end in pairwise(edges):
        holds += _joined(speed, _holds(time, speed, (first, end), least_hold, least_hold, band), band)
    gaps = tuple((float(time[i]), float(steps[i])) for i in breaks)
    return _assemble(speed, _directions(speed, 4.0 * band), holds, gaps)


def _noise(speed: Floats) -> float:
    """Standard deviation of the speed signal about its course.

    Second differences do not see a ramp, but the steps of a run read a few times at each; first differences
    the reverse. Each errs upward on what it sees, so the smaller value counts.
    """
    if speed.size < _LEAST_BLOCKS:
        return 0.0
    first, second = (float(np.median(np.abs(np.diff(speed, order)))) for order in (1, 2))
    return 1.4826 * min(first / float(np.sqrt(2.0)), second / float(np.sqrt(6.0)))


def _slope(time: Floats, speed: Floats, window: float) -> Floats:
    """Least-squares slope over a window around each block, at least two blocks to either side where there are."""
    first = np.searchsorted(time, time - window / 2.0)
    last = np.searchsorted(time, time + window / 2.0, side="right")
    here = np.arange(time.size)
    first = np.maximum(np.minimum(first, here - 2), 0)
    last = np.minimum(np.maximum(last, here + 3), time.size)
    t, v = time - time.mean(), speed - speed.mean()
    n, st, sv, stt, stv = (
        total[last] - total[first]
        for total in (np.concatenate([[0.0], np.cumsum(c)]) for c in (np.ones_like(t), t, v, t * t, t * v))
    )
    spread = n * stt - st * st
    slope: Floats = np.divide(n * stv - st * sv, spread, out=np.zeros_like(t), where=spread > 0.0)
    return slope


def _ramping(change: Floats, band: float) -> NDArray[np.bool_]:
    """Two-threshold switch: between the thresholds the last sure state goes on."""
    sure = np.where(np.abs(change) >= 2.0 * band, 1, np.where(np.abs(change) <= band, 0, -1))
    known = np.where(sure >= 0, np.arange(sure.size), -1)
    last = np.maximum.accumulate(known)
    first = int(np.argmax(sure >= 0)) if (sure >= 0).any() else 0
    filled: NDArray[np.bool_] = sure[np.where(last < 0, first, last)] == 1
    return filled


def _holds(
    time: Floats, speed: Floats, stretch: tuple[int, int], window: float, least_hold: float, band: float
) -> list[tuple[int, int]]:
    """Stays of at least half a least hold (the window blurs their ends) whose speed keeps within the band.

    A stay that wanders further is a slow ramp, perhaps with holds in it: it is looked at again through a window
    twice as long.
    """
    start, stop = stretch
    ramping = _ramping(window * _slope(time[start:stop], speed[start:stop], window), band)
    cuts = start + np.flatnonzero(np.diff(ramping.astype(np.int8))) + 1
    found = []
    for first, end in pairwise([start, *cuts.tolist(), stop]):
        lasted = time[end - 1] - time[first]
        if ramping[first - start] or lasted < least_hold / 2.0:
            continue
        parts = np.array_split(speed[first:end], min(10, end - first))
        if np.ptp([np.median(part) for part in parts]) <= 2.0 * band:
            found.append((first, end))
        elif lasted > 4.0 * window:
            found += _holds(time, speed, (first, end), 2.0 * window, least_hold, band)
    return found


def _joined(speed: Floats, holds: list[tuple[int, int]], band: float) -> list[tuple[int, int]]:
    """Put together what noise has cut."""
    joined: list[tuple[int, int]] = []
    for hold in holds:
        if joined and _same_stay(speed, joined[-1], hold, band):
            joined[-1] = (joined[-1][0], hold[1])
        else:
            joined.append(hold)
    return joined


def _directions(speed: Floats, reversal: float) -> Whole:
    """Direction of travel at each block; it turns at an extreme from which the speed has come back by `reversal`."""
    direction = np.zeros(speed.size, dtype=int)
    sense, extreme, turned = 0, 0, 0
    low = high = 0
    for i, value in enumerate(speed.tolist()):
        if sense == 0:
            low, high = (i if value < speed[low] else low), (i if value > speed[high] else high)
            if value - speed[low] >= reversal or speed[high] - value >= reversal:
                sense = 1 if value - speed[low] >= reversal else -1
                extreme = i
        elif sense * (value - speed[extreme]) > 0.0:
            extreme = i
        elif sense * (speed[extreme] - value) >= reversal:
            direction[turned : extreme + 1] = sense
            sense, turned, extreme = -sense, extreme + 1, i
    direction[turned:] = sense
    return direction


def _same_stay(speed: Floats, one: tuple[int, int], two: tuple[int, int], band: float) -> bool:
    """Two stays are one when the speed between them never left it."""
    level = float(np.median(speed[one[0] : one[1]]))
    if abs(float(np.median(speed[two[0] : two[1]])) - level) > band:
        return False
    between = speed[one[1] : two[0]]
    return between.size == 0 or bool(np.abs(between - level).max() <= 2.0 * band)


def _assemble(
    speed: Floats, heading: Whole, holds: list[tuple[int, int]], gaps: tuple[tuple[float, float], ...]
) -> Points:
    """Number the holds, cut the rest into pieces of ramp, and give both their direction."""
    of_block = np.full(speed.size, -1)
    for number, (first, end) in enumerate(holds):
        of_block[first:end] = number
    rest = np.flatnonzero(of_block < 0)
    sign = heading[rest]
    leg = np.cumsum(np.diff(rest, prepend=rest[:1]) > 1) if rest.size else rest
    width = (float(speed.max()) - float(speed.min())) / RAMP_POINTS or 1.0
    piece = np.floor((speed[rest] - speed.min()) / width).astype(int)
    keys, place = np.unique(np.stack([leg, sign, piece], axis=1), axis=0, return_inverse=True)
    of_block[rest] = len(holds) + place.ravel()
    direction = np.concatenate([_hold_directions(speed, holds), keys[:, 1]]).astype(int)
    steady = np.arange(direction.size) < len(holds)
    return Points(of_block, steady, direction, gaps)


def _hold_directions(speed: Floats, holds: list[tuple[int, int]]) -> Whole:
    """Find from where each hold was reached; the first from where the speed went next."""
    level = [float(np.median(speed[first:end])) for first, end in holds]
    over = _OVERSHOOT * float(speed.max())
    direction = np.zeros(len(holds), dtype=int)
    for i in range(1, len(holds)):
        between = speed[holds[i - 1][1] : holds[i][0]]
        peak, trough = (float(between.max()), float(between.min())) if between.size else (level[i], level[i])
        if peak > max(level[i], level[i - 1]) + over:
            direction[i] = -1
        elif trough < min(level[i], level[i - 1]) - over:
            direction[i] = 1
        else:
            direction[i] = 1 if level[i] > level[i - 1] else -1
    if holds:
        before, after = speed[: holds[0][0]], speed[holds[0][1] :]
        if before.size and abs(float(before[0]) - level[0]) > over:
            direction[0] = 1 if before[0] < level[0] else -1
        elif after.size:
            furthest = float(after[np.argmax(np.abs(after - level[0]))])
            direction[0] = 1 if furthest > level[0] else -1
    return direction


def _settled(speed: Floats, band: float) -> Points:
    """Readings too far apart to show a ramp: one point for each stay, direction from the order."""
    of_block = np.zeros(speed.size, dtype=int)
    level = float(speed[0])
    for i in range(1, speed.size):
        new = abs(float(speed[i]) - level) > band
        of_block[i] = of_block[i - 1] + new
        level = float(speed[i]) if new else level
    starts = np.flatnonzero(np.diff(of_block, prepend=-1))
    holds = list(zip(starts.tolist(), [*starts[1:].tolist(), speed.size], strict=True))
    return Points(of_block, np.ones(len(holds), dtype=bool), _hold_directions(speed, holds))


def points_by_speed(speed: Floats, direction: Whole, *, tolerance: float = TOLERANCE) -> Points:
    """Group readings without time: those of nearly equal speed in one direction are one point.

    Parameters
    ----------
    speed : float array (block,), rad/s
    direction : int array (block,)
        +1, -1 or 0.
    tolerance : float, -
        Share of the highest speed; a larger step parts two points.

    Returns
    -------
    Points
        All taken as settled. When most speeds stand well apart, as in a digitised chart, each is a point of its
        own; when they crowd, those within the tolerance are one, and an unbroken crowd is cut into equal pieces.

    >>> points_by_speed(np.array([5.0, 9.0, 5.001, 9.001, 9.002]), np.zeros(5, dtype=int)).of_block
    array([0, 1, 0, 1, 1])

    """
    order = np.lexsort((speed, direction))
    v, heading = speed[order], direction[order]
    step = tolerance * float(v.max())
    apart = np.diff(np.unique(v))
    if apart.size and float(np.median(apart)) > step / 4.0:
        step = 0.0
    fresh = (np.diff(v, prepend=np.nan) > step) | (np.diff(heading, prepend=heading[0]) != 0)
    fresh[0] = True
    chain = np.cumsum(fresh) - 1
    starts = np.flatnonzero(fresh)
    start, end = v[starts][chain], np.append(v[starts[1:] - 1], v[-1])[chain]
    width = max(2.0 * step, (float(v.max()) - float(v.min())) / RAMP_POINTS)
    piece = np.floor((v - start) / width) * (end - start > width) if width else np.zeros_like(v)
    keys, first, number = np.unique(np.stack([chain, piece]), axis=1, return_index=True, return_inverse=True)
    of_block = np.empty(v.size, dtype=int)
    of_block[order] = number.ravel()
    return Points(of_block, np.ones(keys.shape[1], dtype=bool), heading[first])
