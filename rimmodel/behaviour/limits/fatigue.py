"""Life of the rim: the hoop range of starts and stops against a Goodman line, and cycles against cycles to failure.

A shrunk rim starts from the stress of its shrink: its range is smaller than that of a loose rim, its mean larger.

Sources: Goodman line and the sloped part of the S-N line from 0.9 S_u at 1000 cycles to the endurance limit at a
million: Shigley, Mechanical Engineering Design, ch. 6 (from memory, confirm in your copy). Sum of cycle shares: Miner,
Journal of Applied Mechanics 12 (1945) (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.sweep import Sweep, Sweeps
from rimmodel.behaviour.limits.check import About, Check, at_least, at_most, unknown
from rimmodel.behaviour.limits.rim import NO_ULTIMATE
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import DutyCycle, Limits
from rimmodel.units import mpa

LOW_CYCLES, HIGH_CYCLES = 1e3, 1e6
STRENGTH_AT_LOW = 0.9
"""Of the ultimate strength, at `LOW_CYCLES`."""


def goodman_ratio(
    lowest: ArrayLike, highest: ArrayLike, endurance_limit: ArrayLike, ultimate_strength: ArrayLike
) -> Floats:
    """Distance of a stress cycle from the Goodman line: factor by which both amplitude and mean may grow.

    Parameters
    ----------
    lowest, highest : float or array, Pa
        Ends of the cycle, + tension. A mean in compression counts as none.
    endurance_limit : float or array, Pa
        Amplitude, fully reversed.
    ultimate_strength : float or array, Pa

    Returns
    -------
    array, -
        ``1/(amplitude/S_e + mean/S_u)``; infinite without a cycle or a mean.

    From 0 to 200 MPa with 200 and 500 MPa: 1/(100/200 + 100/500) = 1.43.

    >>> print(f"{goodman_ratio(0.0, 200e6, 200e6, 500e6):.3f}")
    1.429

    """
    amplitude, mean = _amplitude_and_mean(lowest, highest)
    with np.errstate(divide="ignore"):
        ratio: Floats = 1 / (amplitude / floats(endurance_limit) + mean / floats(ultimate_strength))
    return ratio


def cycles_to_failure(
    lowest: ArrayLike, highest: ArrayLike, endurance_limit: ArrayLike, ultimate_strength: ArrayLike
) -> Floats:
    """Cycles from one stress to another that a part endures; infinite below the endurance limit.

    The cycle is carried to a fully reversed one by the Goodman line, ``amplitude/(1 - mean/S_u)``, and that to a number
    by the straight line in logarithms from 0.9 S_u at 1000 to S_e at a million. Zero where the highest stress reaches
    the ultimate strength. Arguments as in `goodman_ratio`; the endurance limit must be below 0.9 S_u.

    Returns
    -------
    array, -
        Number of cycles.

    Raises
    ------
    ValueError
        The endurance limit is not below 0.9 S_u.

    Halfway between both ends in logarithms lies sqrt(1e3 x 1e6) = 31623 cycles, at sqrt(0.9 S_u S_e):

    >>> print(f"{cycles_to_failure(-300e6, 300e6, 200e6, 500e6):.0f}")
    31623
    """
    amplitude, mean = _amplitude_and_mean(lowest, highest)
    ultimate, endurance = floats(ultimate_strength), floats(endurance_limit)
    if np.any(endurance >= STRENGTH_AT_LOW * ultimate):
        raise ValueError(
            f"endurance_limit is {mpa(np.max(endurance), 'g')}; it must be below {STRENGTH_AT_LOW:g} of the "
            "ultimate strength"
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        reversed_ = np.where(mean < ultimate, amplitude / (1 - mean / ultimate), np.inf)
        slope = np.log(HIGH_CYCLES / LOW_CYCLES) / np.log(STRENGTH_AT_LOW * ultimate / endurance)
        cycles = HIGH_CYCLES * (endurance / reversed_) ** slope
    cycles = np.where(reversed_ <= endurance, np.inf, cycles)
    return np.where(mean + amplitude >= ultimate, 0.0, cycles)


def _amplitude_and_mean(lowest: ArrayLike, highest: ArrayLike) -> tuple[Floats, Floats]:
    low, high = floats(lowest), floats(highest)
    return np.abs(high - low) / 2, np.maximum((high + low) / 2, 0.0)


def fatigue_checks(
    rotor: Rotor,
    condition: Condition,
    name: str,
    limits: Limits,
    duty: Sequence[DutyCycle],
    sweeps: Sweeps | None = None,
) -> Iterator[Check]:
    """Goodman distance of each kind of cycle (one start and stop where no duty is given), and the sum of all.

    The stress is the local peak of the bore: hoop stress on the net section times the concentration factor. `sweeps`
    of the rotor in the condition serve where they exist already.
    """
    states = Sweeps(rotor, condition) if sweeps is None else sweeps
    line, total = "distance from the Goodman line", "share of fatigue life used"
    of_life = About("life", name, limits.source("fatigue_damage"), "limits.fatigue_damage")
    cycles = tuple(duty) or (DutyCycle(0.0, rotor.speeds.rated, 1.0, "standstill to rated"),)
    absent = missing_for_life(rotor)
    damage = floats(0.0)
    for cycle in cycles:
        rare = bool(duty) and float(np.max(cycle.count)) < LOW_CYCLES
        reason = "so few cycles count in the share of fatigue life instead" if rare else ""
        about = About(cycle.name, name, limits.source("fatigue_ratio"), "limits.fatigue_ratio", reason)
        if absent:
            yield unknown(line, about, absent, "", ceiling=False)
            continue
        note = f"{cycle.count:g} times" if duty else "number not known: no [[duty]]"
        low, high = (peak_stress(rotor, states.at(speed)) for speed in (cycle.start, cycle.end))
        endurance, ultimate = floats(rotor.rim.material.endurance_limit), floats(rotor.rim.material.ultimate_strength)  # type: ignore[arg-type]
        yield at_least(line, about, goodman_ratio(low, high, endurance, ultimate), limits.fatigue_ratio, note=note)
        with np.errstate(divide="ignore"):
            damage = damage + floats(cycle.count) / cycles_to_failure(low, high, endurance, ultimate)
    if absent or not duty:
        yield unknown(total, of_life, absent or "[[duty]]", "")
    else:
        note = "cycles over cycles to failure, summed; zero below the endurance limit"
        yield at_most(total, of_life, damage, limits.fatigue_damage, "", note)


def missing_for_life(rotor: Rotor) -> str:
    """The first input that a check of life needs and the machine does not give; empty when all are there."""
    steel = rotor.rim.material
    needed = (
        ("rim.stress_concentration_factor", rotor.rim.stress_concentration_factor),
        ("materials.NAME.endurance_limit of the rim", steel.endurance_limit),
        (NO_ULTIMATE, steel.ultimate_strength),
    )
    return next((words for words, value in needed if value is None), "")


def peak_stress(rotor: Rotor, state: Sweep) -> Floats:
    """Local peak stress of the rim bore: hoop stress on the net section times the concentration factor.

    Returns
    -------
    array, Pa

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> state = rm.sweep(case.rotor, case.conditions["cold"], 0.0)
    >>> rim = case.rotor.rim
    >>> net = float(state.rim_bore_hoop_stress) / rim.net_factor
    >>> bool(peak_stress(case.rotor, state) == rim.stress_concentration_factor * net)
    True
    """
    factor = floats(rotor.rim.stress_concentration_factor)  # type: ignore[arg-type]
    peak: Floats = factor * state.rim_bore_hoop_stress / rotor.rim.net_factor
    return peak
