"""When a machine that was stopped may be started again: the lowest float speed of a restart after every time at rest.

After a stop the thinner spider cools before the rim, the interference falls, and the float speed with it; much later
the rim has followed. A restart is safe when the float speed stays above the speed asked for, with its ratio, from the
first turn through the run-up and on load until the machine is warm again.
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
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import map_arrays
from rimmodel.rotor.history import History, Segment

HOUR = 3600.0
REST_TIMES = HOUR * np.array(
    [0, 1 / 6, 1 / 3, 0.5, 0.75, 1, 1.5, 2, 3, 4, 6, 8, 12, 18, 24, 36, 48, 72, 96, 120, 144, 168]
)
"""Times at rest that are looked at, s; up to a week."""

RUN_UP, WARM_AGAIN = 300.0, 6 * HOUR
"""Of a restart: the run-up, and how long the load is followed, s."""

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
        The lowest from then on: in run-up without field, and on load.
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

    def windows(self) -> tuple[float, float]:
        """Time at rest up to which, and again from which on, a restart to rated speed is safe in every draw; s.

        The first is inf where it is safe at all times and NaN where it is not safe at once; the second is NaN where it
        is not safe again within the times looked at, and 0 where it is safe at all times.
        """
        margin = self.lowest.min(axis=0) - self.ratio * self.speed
        return _before(self.time, margin), _after(self.time, margin)


def _cross(time: Floats, margin: Floats, place: int) -> float:
    part = margin[place] / (margin[place] - margin[place + 1])
    return float(time[place] + part * (time[place + 1] - time[place]))


def _before(time: Floats, margin: Floats) -> float:
    wrong = np.flatnonzero(margin < 0)
    if not wrong.size:
        return np.inf
    return np.nan if wrong[0] == 0 else _cross(time, margin, int(wrong[0]) - 1)


def _after(time: Floats, margin: Floats) -> float:
    wrong = np.flatnonzero(margin < 0)
    if not wrong.size:
        return 0.0
    return np.nan if wrong[-1] == len(time) - 1 else _cross(time, margin, int(wrong[-1]))


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
    per_time = map_arrays(rotor, lambda leaf: leaf[..., np.newaxis])  # one axis more, for the times of a restart
    known = modes or StepModes(model)
    first = int(np.flatnonzero(course.segment == number)[0])
    rest = history.segments[number]
    [still] = schedule(
        History("rest", (Segment("rest", float(rest_times[-1]), 0.0, air=rest.air),)), model.thermal, 1.0
    )
    standing = _advance(model, known, still, course.state[:, first], rest_times)
    readings = model.network.means @ model.network.basis
    at_rest = _lift_off(rotor, model, steady, standing @ readings.T, excited=False)
    lowest = at_rest
    rated = float(np.asarray(rotor.speeds.rated))
    again = History("again", (Segment("start", RUN_UP, rated), Segment("load", WARM_AGAIN, rated, 1.0, True)))
    now = standing
    for step in schedule(again, model.thermal, rated, longest_ramp=RUN_UP):
        acting, out, films = known.at(step)
        put, air = model.drive(step, films)
        drive = ((put + out * air) @ model.network.basis)[:, np.newaxis]
        times = step.time[::4] if step.excited else step.time[[4, 8]]
        means = acting.for_each().after(now, drive, times, readings)  # (draw, rest, time, mean)
        lowest = np.minimum(lowest, _lift_off(per_time, model, steady, means, excited=step.excited).min(axis=-1))
        now = acting.for_each().after(now, drive, step.time[-1:])[..., 0, :]
    at_rest, lowest = (values.reshape(-1, len(rest_times)) for values in (at_rest, lowest))
    return Restart(float(course.time[first]), rest_times, at_rest, lowest, rated, ratio)


def _advance(model: HeatModel, modes: StepModes, step: Step, start: Floats, time: Floats) -> Floats:
    acting, out, films = modes.at(step)
    put, air = model.drive(step, films)
    return acting.after(start, (put + out * air) @ model.network.basis, time)


def _lift_off(rotor: Rotor, model: HeatModel, steady: Condition, means: Floats, *, excited: bool) -> Floats:
    field: NDArray[np.bool_] = np.asarray(excited)
    found = mean_condition(model, steady, means, field)
    return floats(float_speed_of(coefficients(rotor, found), floats(rotor.speeds.highest)))
