"""When a machine that was stopped may be started again: the lowest float speed of a restart after every time at rest.

After a stop the thinner spider cools before the rim, the interference falls, and the float speed with it; much later
the rim has followed. A restart is safe when the float speed stays above the speed asked for, with its ratio, from the
first turn through the run-up and on load until the machine is in its steady condition: after a long rest the rim may
pass the spider hours after the start, before both are warm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.heat.course import HeatCourse, HeatModel, StepModes, mean_condition
from rimmodel.behaviour.heat.schedule import Step, schedule
from rimmodel.elastic.heat_steps import HeatModes
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import map_arrays
from rimmodel.rotor.history import History, Segment

HOUR = 3600.0
REST_TIMES = HOUR * np.array(
    [0, 1 / 6, 1 / 3, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 8, 12, 18, 24, 36, 48, 72, 96, 120, 144, 168]
)
"""Times at rest that are looked at, s; up to a week."""

RUN_UP = 300.0
"""Of a restart: the run-up, s."""

WARM_AGAIN = 7.0
"""Slowest time constants of the warming machine for which its load is followed; the rest is its steady condition."""

FINER = 8
"""Parts of a gap between times at rest where the answer lies in it."""

_BLOCK = 400
"""Draws that are worked out at once."""

MAY, LOCKED, OPEN = "holds", "does not hold", "not shown"


@dataclass(frozen=True)
class Restart:
    """Restarts after times at rest.

    Attributes
    ----------
    stopped_at : float, s
        Time in the history at which the machine came to rest.
    time : array (rest,), s
        At rest.
    standing : array (draw, rest), rad/s
        Float speed of the machine as it stands there.
    lowest : array (draw, rest), rad/s
        The lowest from then on: in run-up without field, on load, and in the steady condition.
    speed : float, rad/s
        Of the restart: rated.
    ratio : float, -
        Float speed over that speed, at least.
    """

    stopped_at: float
    time: Floats
    standing: Floats
    lowest: Floats
    speed: float
    ratio: float

    def verdicts(self, speed: float, ratio: float = 1.0) -> list[str]:
        """What is known of a restart to a speed after each time at rest.

        Parameters
        ----------
        speed : float, rad/s
        ratio : float, -
            Float speed over it, at least.

        Returns
        -------
        list of str
        """
        kept = np.asarray(self.lowest >= ratio * speed)
        every_draw: list[bool] = np.all(kept, axis=0).tolist()
        some_draw: list[bool] = np.any(kept, axis=0).tolist()
        return [MAY if every else OPEN if some else LOCKED for every, some in zip(every_draw, some_draw, strict=True)]

    @property
    def locked_times(self) -> Floats:
        """Times at rest, s, after which no draw keeps the ratio that is asked for at the speed of the restart."""
        return self.time[[verdict == LOCKED for verdict in self.verdicts(self.speed, self.ratio)]]

    def windows(self, ratio: float | None = None) -> tuple[float, float]:
        """Time at rest up to which, and again from which on, a restart to rated speed is safe in every draw; s.

        Parameters
        ----------
        ratio : float, optional, -
            Float speed over rated speed, at least; that of the restart when None.

        Returns
        -------
        float, float, s

        Notes
        -----
        Both are times that were looked at, never guessed between two of them. The first is inf where it is safe at all
        times and NaN where it is not safe at once; the second is NaN where it is not safe again within the times
        looked at, and 0 where it is safe at all times.
        """
        asked = (self.ratio if ratio is None else ratio) * self.speed
        wrong = np.flatnonzero(~(self.lowest.min(axis=0) >= asked))
        if not wrong.size:
            return np.inf, 0.0
        first, last = int(wrong[0]), int(wrong[-1])
        until = float(self.time[first - 1]) if first > 0 else np.nan
        return until, float(self.time[last + 1]) if last + 1 < len(self.time) else np.nan


def finer_times(time: Floats, margin: Floats) -> Floats:
    """Times between those at which a margin changes sign, and beside the time at which it is least; derived here.

    Parameters
    ----------
    time, margin : array (rest,), s

    Returns
    -------
    array (new,), s

    >>> finer_times(np.array([0.0, 8.0, 16.0, 24.0]), np.array([2.0, 1.0, -1.0, -2.0])).tolist()
    [9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 17.0, 18.0, 19.0, 20.0, 21.0, 22.0, 23.0]
    """
    wrong = np.flatnonzero(~(margin >= 0))
    least = int(np.argmin(margin))
    gaps = {least - 1, least}
    if wrong.size:
        gaps |= {int(wrong[0]) - 1, int(wrong[-1])}
    inside = sorted(gap for gap in gaps if 0 <= gap < len(time) - 1)
    return floats(np.concatenate([np.linspace(time[gap], time[gap + 1], FINER + 1)[1:-1] for gap in inside]))


def first_rest(history: History, course: HeatCourse) -> int | None:
    """The first segment at rest that comes after the machine has turned; None where there is none."""
    turned = False
    for number, segment in enumerate(history.segments):
        if segment.kind == "rest" and turned:
            return number
        turned = turned or bool(np.any(course.speed[course.segment == number] > 0))
    return None


def restart(
    rotor: Rotor, model: HeatModel, steady: Condition, history: History, course: HeatCourse, ratio: float,
    modes: StepModes | None = None, rest_times: Floats = REST_TIMES,
) -> Restart | None:  # fmt: skip
    """Restarts to rated speed and load after times at rest, from the first stop of a history on; None without a stop.

    Parameters
    ----------
    rotor : Rotor
        As in `fit_course`.
    course : HeatCourse
        Of that history.
    ratio : float, -
    rest_times : array (rest,), s

    Returns
    -------
    Restart or None

    Notes
    -----
    Source: `rimmodel.elastic.heat_steps`; the air at rest is that of the segment, the air in the restart that of
    [thermal].
    """
    number = first_rest(history, course)
    if number is None:
        return None
    first = int(np.flatnonzero(course.segment == number)[0])
    stopped = _Stopped(
        rotor, model, steady, modes or StepModes(model), course.state[:, first], history.segments[number]
    )
    rated = float(np.asarray(rotor.speeds.rated))
    at_rest, lowest = stopped.restarts(rest_times)
    more = finer_times(rest_times, lowest.min(axis=0) - ratio * rated)
    at_more, lowest_more = stopped.restarts(more)
    time = np.concatenate([rest_times, more])
    order = np.argsort(time, kind="stable")
    standing, lowest = (np.concatenate(pair, axis=1)[:, order] for pair in ((at_rest, at_more), (lowest, lowest_more)))
    return Restart(float(course.time[first]), time[order], standing, lowest, rated, ratio)


@dataclass(frozen=True)
class _Stopped:
    """A machine that has come to rest: its temperatures (draw, coordinate) there, and the segment in which it rests."""

    rotor: Rotor
    model: HeatModel
    steady: Condition
    modes: StepModes
    state: Floats
    rest: Segment

    def restarts(self, rest_times: Floats) -> tuple[Floats, Floats]:
        """Float speed (draw, rest) as it stands after times at rest, and the lowest in a restart from there, rad/s."""
        model = self.model
        longest = max(float(rest_times.max()), 1.0)
        [still] = schedule(History("rest", (Segment("rest", longest, 0.0, air=self.rest.air),)), model.thermal, 1.0)
        acting, drive = self._driven(still)
        standing = acting.after(self.state, drive, rest_times)
        at_rest = self._lift_off(standing @ self._readings.T, excited=False)
        lowest, now = at_rest, standing
        *run_up, load = self._again()
        for step in run_up:
            acting, drive = self._driven(step)
            means = acting.for_each().after(now, drive[:, np.newaxis], step.time[[4, 8]], self._readings)
            lowest = np.minimum(lowest, self._lift_off(means, excited=False, times=True).min(axis=-1))
            now = acting.for_each().after(now, drive[:, np.newaxis], step.time[-1:])[..., 0, :]
        lowest = np.minimum(lowest, self._on_load(now, load))
        # on load it ends in the steady condition, whenever that is
        warm = self._lift_off(model.losses.steady[:, np.newaxis] @ self._readings.T, excited=True)
        lowest = np.minimum(lowest, warm)
        return at_rest.reshape(-1, len(rest_times)), lowest.reshape(-1, len(rest_times))

    @property
    def _readings(self) -> Floats:
        return self.model.network.means @ self.model.network.basis

    def _again(self) -> tuple[Step, ...]:
        """Run-up and load of a restart, the load until the slowest draw is warm."""
        rated = float(np.asarray(self.rotor.speeds.rated))

        def steps(length: float) -> tuple[Step, ...]:
            again = History("again", (Segment("start", RUN_UP, rated), Segment("load", length, rated, 1.0, True)))
            return schedule(again, self.model.thermal, rated, longest_ramp=RUN_UP)

        slowest = float(self.modes.at(steps(1.0)[-1])[0].rate.min())
        return steps(WARM_AGAIN / slowest)

    def _on_load(self, start: Floats, load: Step) -> Floats:
        """The lowest float speed (..., draw, rest) of a load that starts from states (draw, rest, coordinate).

        Its first moment counts: the field comes on, and its pull takes interference, before any heat has entered.
        """
        acting, drive = self._driven(load)
        found = []
        for first in range(0, len(start), _BLOCK):
            part = slice(first, first + _BLOCK)
            modes = HeatModes(acting.rate[part], acting.shape[part], acting.root_capacity).for_each()
            means = modes.after(start[part], drive[part, np.newaxis], load.time, self._readings)
            found.append(least_between(self._lift_off(means, excited=True, times=True)))
        return floats(np.concatenate(found, axis=-2))

    def _driven(self, step: Step) -> tuple[HeatModes, Floats]:
        acting, out, films = self.modes.at(step)
        put, air = self.model.drive(step, films)
        return acting, floats((put + out * air) @ self.model.network.basis)

    def _lift_off(self, means: Floats, *, excited: bool, times: bool = False) -> Floats:
        """Float speed of means (draw, rest, mean), or of (draw, rest, time, mean) with times."""
        rotor = self.rotor
        if times:  # one axis more, for the times of a restart
            rotor = map_arrays(rotor, lambda leaf: leaf[..., np.newaxis])
        field: NDArray[np.bool_] = np.asarray(excited)
        found = mean_condition(self.model, self.steady, means, field)
        return floats(float_speed_of(coefficients(rotor, found), floats(rotor.speeds.highest)))


def least_between(values: Floats) -> Floats:
    """The least of values, and of the parabola through it and its neighbours; derived here.

    Parameters
    ----------
    values : array (..., time), unit of values

    Returns
    -------
    array (...), unit of values

    The parabola (t - 1.5)^2 + 1 has the values 3.25, 1.25, 1.25, 3.25 at the times 0 to 3:

    >>> float(least_between(np.array([3.25, 1.25, 1.25, 3.25])))
    1.0
    """
    place = np.argmin(values, axis=-1)
    inside = np.clip(place, 1, values.shape[-1] - 2)
    before, middle, after = (
        np.take_along_axis(values, (inside + shift)[..., np.newaxis], axis=-1)[..., 0] for shift in (-1, 0, 1)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = before - 2 * middle + after
        lower = middle - (after - before) ** 2 / (8 * bend)
    least = values.min(axis=-1)
    return floats(np.where((place == inside) & np.isfinite(lower) & (bend > 0), np.minimum(lower, least), least))
