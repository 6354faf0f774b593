"""A load rejection: speed against time by the turning-mass equation, and where and how long the rim floats in it.

After the load is lost the driving torque falls straight to zero while the gates close; from then on a braking torque,
where one is known, slows the unit. Source: equation of rotating masses, as in any textbook of power plants.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.behaviour.contact.state import contact
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import LoadRejection
from rimmodel.units import mm, rpm


@dataclass(frozen=True)
class FloatingTime:
    """What a load rejection does to the fit; times count from the loss of load.

    Attributes
    ----------
    peak_speed : float, rad/s
    peak_time : float, s
    float_speed : float, rad/s
    lifts_at, seats_at : float, s
        Bound the time in which the rim floats; both NaN where it never does, `seats_at` infinite
        where no braking torque is given to bring the speed down.
    note : str
        Says it in words.
    """

    peak_speed: float
    peak_time: float
    float_speed: float
    lifts_at: float
    seats_at: float
    note: str

    @property
    def duration(self) -> float:
        """Time afloat, s; zero where it never floats."""
        return 0.0 if np.isnan(self.lifts_at) else self.seats_at - self.lifts_at


def rejection_speed(rated: ArrayLike, rejection: LoadRejection, time: ArrayLike) -> Floats:
    """Speed in rad/s at times after the loss of load; everything broadcasts.

    Parameters
    ----------
    rated : float or array, rad/s
        Speed when the load is lost.
    time : float or array, s
        Zero or above.

    Returns
    -------
    array, rad/s

    Raises
    ------
    ValueError
        A time below zero.

    Notes
    -----
    ``J dw/dt = T (1 - t/t_d)`` gives ``w = w_0 + (T t_d/J) (s - s^2/2)`` with s = t/t_d up to 1; after that
    ``J dw/dt = -T_b``, down to standstill. Exact.

    A torque of 3 MN m that falls to zero in 10 s on 1.5e6 kg m2 adds 3e6 x 10/(2 x 1.5e6) = 10 rad/s:

    >>> print(rejection_speed(15.0, LoadRejection(1.5e6, 3e6, 10.0), [0.0, 10.0, 20.0]))
    [15. 25. 25.]

    """
    moment = floats(time)
    if np.any(~(moment >= 0)):
        raise ValueError(
            f"time is {moment[~(moment >= 0)].flat[0]:g} s; it must be zero or above, from the loss of load"
        )
    inertia, torque, decay, braking = (
        floats(value) for value in (rejection.inertia, rejection.torque, rejection.decay_time, rejection.braking_torque)
    )
    share = np.minimum(moment / decay, 1.0)
    rise = torque * decay / inertia * (share - share**2 / 2)
    fall = braking / inertia * np.maximum(moment - decay, 0.0)
    return np.maximum(floats(rated) + rise - fall, 0.0)


def floating_time(rotor: Rotor, condition: Condition, rejection: LoadRejection) -> FloatingTime:
    """Where in a load rejection the rim floats, and for how long.

    Parameters
    ----------
    condition : Condition
        Friction counts: lift-off in run-up, seating in run-down. Temperatures and field are
        those of the condition throughout; at the loss of load the field regulator may do otherwise.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> found = floating_time(case.rotor, case.conditions["hot"], case.load_rejection)
    >>> print(f"{rpm(found.peak_speed, '.0f')}, afloat for {found.duration:.0f} s")
    181 rpm, afloat for 17 s
    """
    rated = float(rotor.speeds.rated)
    decay = float(rejection.decay_time)
    peak = float(rejection_speed(rated, rejection, decay))
    up = float(float_speed(rotor, condition, "up").speed)
    down = float(float_speed(rotor, condition, "down").speed)
    if np.isnan(up):
        note = "no float speed: the magnetic pull closes the gap before the rim lifts off"
        return FloatingTime(peak, decay, up, np.nan, np.nan, note)
    if not peak > up:
        left = float(contact(coefficients(rotor, condition, "up"), floats(peak) ** 2).residual_interference)
        note = f"stays seated: {mm(left)} still tight at the peak of {rpm(peak)}"
        return FloatingTime(peak, decay, up, np.nan, np.nan, note)
    lifts = _time_up(rated, up, rejection)
    seats = _time_down(peak, down, rejection)
    start = "floats already when the load is lost" if lifts == 0 else f"lifts off {lifts:.1f} s after the loss of load"
    end = (
        "no braking torque is given, so when it seats again is not known"
        if np.isinf(seats)
        else f"seats again after {seats:.1f} s, {seats - lifts:.1f} s afloat"
    )
    note = f"{start}, peak {rpm(peak)} after {decay:.1f} s; {end}"
    return FloatingTime(peak, decay, up, lifts, seats, note)


def _time_up(rated: float, speed: float, rejection: LoadRejection) -> float:
    """Time at which the rising speed passes `speed`; zero where it starts above."""
    if speed <= rated:
        return 0.0
    decay = float(rejection.decay_time)
    share = (speed - rated) * float(rejection.inertia) / (float(rejection.torque) * decay)
    # s - s^2/2 = share, written so that a small share keeps its digits
    return decay * 2 * share / (1 + math.sqrt(max(1 - 2 * share, 0.0)))


def _time_down(peak: float, speed: float, rejection: LoadRejection) -> float:
    """Time at which the falling speed passes `speed`."""
    braking = float(rejection.braking_torque)
    if braking == 0 or speed <= 0:
        return np.inf
    return float(rejection.decay_time) + (peak - speed) * float(rejection.inertia) / braking
