"""The rotor as a model of recorded mean gaps: a few unknowns in, a gap for every speed point out.

The unknowns are those of `PARAMETERS`. The first can be read as an interference or as a float speed in any
condition, so that a profile of the likelihood can be taken of the very number that is asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import Loads, coefficients, loads
from rimmodel.behaviour.contact.scallop import key_compliance
from rimmodel.behaviour.contact.speeds import needed_interference
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.behaviour.contact.state import contact, lift_off_speed_squared
from rimmodel.evidence.knee.broken_line import hinge
from rimmodel.rotor import Condition, GivenSpider, Rotor
from rimmodel.rotor.quantity import varied

PARAMETERS = (
    "interference",
    "hoop_stiffness_factor",
    "spider_stiffness",
    "gap_offset",
    "drift",
    "friction_interference",
    "rim_gain",
    "spider_gain",
    "stator_gain",
)
"""Interference (m); rim hoop and spider stiffness as logarithms of their ratio to the case; offset of all gaps (m),
its drift (m/s); interference that friction adds in run-up and takes in run-down (m); by how much the mean temperature
of rim with poles, spider and stator moves more than was recorded of each, as a share."""

GAINS = PARAMETERS[6:]
"""Unknowns of recorded temperatures, in the order of `HeatTerm`."""

SCALES = np.array([1e-4, 0.1, 0.3, 1e-4, 1e-8, 2e-5, 0.1, 0.1, 0.1])
"""Size of a change that matters, by parameter."""

NO_STATE = 1.0
"""Gap (m) that stands for "no such state", far from any gap."""

_WIDEST = {"hoop_stiffness_factor": (0.1, 1.5), "spider_stiffness": (-5.0, 5.0)}
"""The factor, and the logarithm of the ratio, are kept within these: far outside of what a machine can be."""


@dataclass(frozen=True)
class HeatTerm:
    """What recorded temperatures do to the gap, point by point, beside the condition of the run.

    Attributes
    ----------
    loss : array (3, ..., point), m
        Of interference by rim, spider and stator above the condition, as recorded.
    growth : array (3, ..., point), m
        Of the pole faces beyond the stator bore.
    """

    loss: Floats
    growth: Floats

    def averaged(self, means: Floats) -> HeatTerm:
        """The term of means of points.

        Parameters
        ----------
        means : array (group, point), -
        """
        return HeatTerm(self.loss @ means.T, self.growth @ means.T)

    def with_gains(self, gains: Floats) -> tuple[Floats, Floats]:
        """Loss and growth (fit, point), m, where temperatures move by gains (fit, 3) more than recorded.

        Parameters
        ----------
        gains : array (fit, 3), -
        """
        share = 1.0 + gains.T[:, :, None]
        loss, growth = ((share * part.reshape(3, -1, part.shape[-1])).sum(axis=0) for part in (self.loss, self.growth))
        return loss, growth


def heat_term(rotor: Rotor, condition: Condition, departures: Mapping[str, Floats]) -> HeatTerm | None:
    """The heat term of temperatures above those of the condition; None where there are none.

    Parameters
    ----------
    departures : mapping of str to array (point,), K
        By "rim", "spider", "pole" and "stator"; the poles follow the rim where nothing is stated of them.

    Returns
    -------
    HeatTerm or None

    A kelvin of the built-in rim and poles takes 12e-6 x 3.62 m of interference and as much of 4.58 m of gap:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> term = heat_term(case.rotor, case.conditions["cold"], {"rim": np.ones(1)})
    >>> print(f"{term.loss[0, 0] * 1e6:.2f} {term.growth[0, 0] * 1e6:.2f}")
    43.44 54.96
    """
    if not departures:
        return None
    base = loads(rotor, condition)
    size = len(next(iter(departures.values())))
    none = np.zeros(size)
    rim, spider, stator = (departures.get(name, none) for name in ("rim", "spider", "stator"))
    pole = departures.get("pole", rim)
    own = condition.rim_temperature if condition.pole_temperature is None else condition.pole_temperature
    moved = (
        {"rim_temperature": condition.rim_temperature + rim, "pole_temperature": own + pole},
        {"spider_temperature": condition.spider_temperature + spider},
        {"stator_temperature": condition.stator_temperature + stator},
    )
    warm = [loads(rotor, varied(condition, **changes)) for changes in moved]
    shape = np.broadcast_shapes(np.shape(base.warm_loss), *(np.shape(one.warm_growth) for one in warm), (size,))
    loss, growth = (
        np.stack([np.broadcast_to(getattr(one, name) - getattr(base, name), shape) for one in warm])
        for name in ("warm_loss", "warm_growth")
    )
    return HeatTerm(loss, growth)


@dataclass(frozen=True)
class GapModel:
    """Speed points of one run, the rotor and the condition that gave them; made by `gap_model`.

    Attributes
    ----------
    speed : array (point,), rad/s
    direction : array (point,), -
        +1 up, -1 down, 0 else.
    time : array (point,), s
    width : float, rad2/s2
        Of the knee in speed squared: keys whose interferences spread evenly lift off one after another over it.
    heat : HeatTerm or None
        Of temperatures that were recorded beside the condition.
    known_loads : dict of pair of Condition and Loads
        Worked out once for each condition that is asked for.
    """

    rotor: Rotor
    condition: Condition
    speed: Floats
    direction: Floats
    time: Floats
    width: float = 0.0
    heat: HeatTerm | None = None
    known_loads: dict[int, tuple[Condition, Loads]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def gaps(self, unknowns: Floats, asked: Condition | None = None) -> Floats:
        """Mean gaps (fit, point) for unknowns (fit, parameter) in the order of `PARAMETERS`.

        With `asked` the first unknown is the float speed (rad/s) in that condition instead of the interference.
        """
        first, _, _, offset, drift, friction = (unknowns[:, column, None] for column in range(6))
        rotor = varied_interference(self.rotor_of(unknowns), 0.0)
        loose = self._loads_in(self.condition).coefficients(rotor, self.condition)
        interference = first
        if asked is not None:
            there = loose
            if asked is not self.condition:
                there = self._loads_in(asked).coefficients(rotor, asked, like=loose)
            interference = needed_interference(there, first)
        # no state at all (the pull has closed the gap) is distinguished from every other by a gap of a metre
        none = np.isnan(interference)
        model = loose.with_interference(np.where(none, 0.0, interference))
        if self.heat is not None:
            model = model.with_heat(*self.heat.with_gains(unknowns[:, -len(GAINS) :]))
        model = model.with_friction(friction * self.direction)
        gaps = contact(model, self.speed**2).air_gap
        if self.width > 0.0:
            squared, _ = lift_off_speed_squared(model)
            bend = model.floating.per_speed_squared - model.seated.per_speed_squared
            beyond = self.speed**2 - np.where(np.isnan(squared), np.inf, squared)
            gaps = gaps - bend * (hinge(beyond, self.width) - hinge(beyond))
        gaps = np.where(none | np.isnan(gaps), NO_STATE, gaps)
        drifted: Floats = gaps + offset + drift * (self.time - self.time[0])
        return drifted

    def _loads_in(self, condition: Condition) -> Loads:
        """Loads in a condition: the unknowns are stiffnesses and an interference, which do not enter them."""
        known = self.known_loads.get(id(condition))
        if known is None or known[0] is not condition:
            known = self.known_loads[id(condition)] = (condition, loads(self.rotor, condition))
        return known[1]

    def rotor_of(self, unknowns: Floats) -> Rotor:
        """The rotor of each fit, fields (fit, 1), with its interference still to be set and nothing left to settle.

        Raises TypeError for a spider that is not given by its stiffness.
        """
        factor = self.rotor.rim.hoop_stiffness_factor * np.exp(np.clip(unknowns[:, 1, None], -5.0, 5.0))
        carrier = np.exp(np.clip(unknowns[:, 2, None], *_WIDEST["spider_stiffness"]))
        rim = varied(self.rotor.rim, hoop_stiffness_factor=np.clip(factor, *_WIDEST["hoop_stiffness_factor"]))
        spider = self.rotor.spider
        if not isinstance(spider, GivenSpider):
            raise TypeError("gap model without a given spider; make it with gap_model()")
        softer = varied(spider, radial_stiffness=spider.radial_stiffness * carrier)
        return varied(self.rotor, rim=rim, spider=softer)

    def interference(self, unknowns: Floats, asked: Condition | None) -> Floats:
        """Interference (fit,), m, behind the first unknown."""
        if asked is None:
            return unknowns[:, 0]
        loose = coefficients(varied_interference(self.rotor_of(unknowns), 0.0), asked)
        return needed_interference(loose, unknowns[:, 0, None])[:, 0]

    def knee(self, unknowns: Floats, asked: Condition | None, run: Condition) -> Floats:
        """Speed squared (fit,), rad2/s2, at which the rim lifts off in the condition of the run, friction apart."""
        if asked is run:
            return unknowns[:, 0] ** 2
        interference = self.interference(unknowns, asked)[:, None]
        rotor = varied_interference(self.rotor_of(unknowns), np.where(np.isnan(interference), 0.0, interference))
        squared, _ = lift_off_speed_squared(coefficients(rotor, run))
        return np.nan_to_num(np.broadcast_to(squared, interference.shape)[:, 0])


def varied_interference(rotor: Rotor, interference: Floats | float) -> Rotor:
    """The rotor of a fit with another interference, unchecked.

    Parameters
    ----------
    interference : float or array, m
    """
    return varied(rotor, fit=varied(rotor.fit, interference=interference))


def gap_model(
    rotor: Rotor,
    condition: Condition,
    speed: Floats,
    direction: NDArray[np.str_],
    time: Floats,
    departures: Mapping[str, Floats] | None = None,
) -> GapModel:
    """Model of the speed points of a run.

    The spider enters by its growth and its stiffness, whatever its kind: more a record cannot see.

    Parameters
    ----------
    speed : array (point,), rad/s
    direction : str array (point,)
        "up", "down" or "".
    time : array (point,), s
        NaN where not known.
    departures : mapping of str to array (point,), K, optional
        Recorded temperatures above those of the condition; see `heat_term`.
    """
    sign = np.where(direction == "up", 1.0, np.where(direction == "down", -1.0, 0.0))
    moment = time if np.isfinite(time).all() else np.zeros_like(speed)
    heat = heat_term(rotor, condition, departures or {})
    return GapModel(_carried(rotor.without_settlement()), condition, floats(speed), sign, moment, heat=heat)


def _carried(rotor: Rotor) -> Rotor:
    response = spider_response(rotor)
    area = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length
    spider = GivenSpider(
        area / (response.compliance + key_compliance(rotor)),
        response.growth_per_speed_squared,
        1.0,
        rotor.spider.material or rotor.rim.material,
    )
    # keys and the scallop between them are in the stiffness already, and friction is a parameter of its own
    fit = replace(rotor.fit, key_stiffness=np.inf, key_width=None, friction_interference=0.0)
    return replace(rotor, spider=spider, fit=fit)
