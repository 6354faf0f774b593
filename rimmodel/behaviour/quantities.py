"""Every quantity that a maker claims, a reviewer requires or a study reports: one entry each, and one evaluator.

A new quantity is one more `register(Quantity(...))` below; case files, JSON Schema, verdicts, studies, shrink window
and print follow from it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.axial.lift_off import first_lift_off
from rimmodel.behaviour.contact.coefficients import Coefficients, coefficients
from rimmodel.behaviour.contact.speeds import first_yield, float_speed_of
from rimmodel.behaviour.contact.spider import SpiderResponse, spider_response
from rimmodel.behaviour.contact.state import Contact, contact, rim_response
from rimmodel.behaviour.keys.named_speeds import key_speed
from rimmodel.behaviour.least_gap.least import least_gap
from rimmodel.elastic import EdgeLoads
from rimmodel.rotor import Condition, Material, Rotor
from rimmodel.rotor.quantity import POSITIVE
from rimmodel.rotor.registry import HIGHEST, Quantity, quantity_at, register
from rimmodel.units import PrintUnit, mm, mpa, rpm

SLOW_CLAIM = 0.5
"""Share of rated speed below which a claimed or required speed is no bound."""
NARROW_GAP_CLAIM = 0.2
"""Share of the cold gap below which a claimed or required gap is no bound."""
THIN_GAP_CLAIM = 0.05
"""The same of the least gap."""


@dataclass(frozen=True)
class State:
    """A rotor in a condition at one speed, as the quantities see it; that of a quantity of no speed is standstill.

    Attributes
    ----------
    rotor : Rotor
        Any field may be an array.
    spider : SpiderResponse
        Of the parts as built.
    speed_squared : array, rad2/s2
    contact, standing : Contact
        At that speed and at standstill.
    """

    rotor: Rotor
    condition: Condition
    model: Coefficients
    spider: SpiderResponse
    speed_squared: Floats
    contact: Contact
    standing: Contact

    def rim(self, loads: EdgeLoads) -> Floats:
        """An edge response of the rim, m or Pa as the loads have it."""
        return rim_response(loads, self.model, self.contact, self.speed_squared)

    def growth(self, loads: EdgeLoads) -> Floats:
        """An edge response of the rim less that at standstill, m or Pa as the loads have it."""
        return self.rim(loads) - rim_response(loads, self.model, self.standing, floats(0.0))


# ------------------------------------------------------------------------------------- what is a slip to state


def _slow(rotor: Rotor, value: float) -> str:
    rated = float(rotor.speeds.rated)
    if not value < SLOW_CLAIM * rated:
        return ""
    return (
        f"asks for {rpm(value, '.4g')}, less than half of rated speed, {rpm(rated, 'g')}; check the unit, or "
        "write it as '1.3 x rated'"
    )


def _narrow(rotor: Rotor, value: float) -> str:
    cold = float(rotor.air_gap.cold)
    if not value < NARROW_GAP_CLAIM * cold:
        return ""
    return f"asks for {mm(value, '.4g')}, less than a fifth of the cold gap, {mm(cold, 'g')}"


def _thin(rotor: Rotor, value: float) -> str:
    cold = float(rotor.air_gap.cold)
    if not value < THIN_GAP_CLAIM * cold:
        return ""
    return f"asks for {mm(value, '.4g')}, less than a twentieth of the cold gap, {mm(cold, 'g')}"


def _wider_than_gap(rotor: Rotor, value: float) -> str:
    cold = float(rotor.air_gap.cold)
    return f"allows {mm(value, '.4g')}, more than the cold gap, {mm(cold, 'g')}" if value > cold else ""


def _beyond(steel: Material, value: float) -> str:
    strength = steel.ultimate_strength or steel.yield_strength
    if strength is None or not value > float(strength):
        return ""
    limit = float(strength)
    return f"allows {mpa(value, '.4g')}, more than the strength of the steel, {mpa(limit, 'g')}"


# ---------------------------------------------------------------------------------------------- the quantities

register(
    Quantity(
        "float_speed",
        "speed",
        "float speed",
        lambda state: float_speed_of(state.model, floats(state.rotor.speeds.highest)),
        at_speed=False,
        rule=POSITIVE,
        rises_with_lift_off=True,
        zero_is_no_bound=True,
        studied_at="",
        slip_of_floor=_slow,
    )
)
register(
    Quantity(
        "first_lift_off",
        "speed",
        "first lift-off along the rim",
        lambda state: first_lift_off(state.rotor, state.condition),
        at_speed=False,
        needs=("axial.interference_taper",),
        rule=POSITIVE,
        rises_with_lift_off=True,
        zero_is_no_bound=True,
        slip_of_floor=_slow,
    )
)
register(
    Quantity(
        "first_yield_speed",
        "speed",
        "first yield speed",
        lambda state: first_yield(state.rotor, state.condition).speed,
        at_speed=False,
        rule=POSITIVE,
        needs=("rim.material.yield_strength",),
        by_gap=False,  # a gap record says nothing of strength
        slip_of_floor=_slow,
    )
)


def _of_keys(name: str, words: str, event: Literal["first key", "centring"]) -> Quantity:
    """A speed at which something happens to single keys."""
    return Quantity(
        name,
        "speed",
        words,
        lambda state: key_speed(state.rotor, state.condition, event),
        at_speed=False,
        needs=("fit.key_width",),
        rule=POSITIVE,
        rises_with_lift_off=True,
        zero_is_no_bound=True,
        of_keys=event,
        slip_of_floor=_slow,
    )


register(_of_keys("first_key_speed", "speed at which the first key lifts off", "first key"))
register(_of_keys("centring_speed", "speed up to which the keys centre the rim", "centring"))
register(
    Quantity(
        "gap",
        "small length",
        "air gap",
        lambda state: state.contact.air_gap,
        rule=POSITIVE,
        of_pole_faces=True,
        studied_at="overspeed",
        slip_of_floor=_narrow,
    )
)
register(
    Quantity(
        "rim_stress",
        "stress",
        "rim bore hoop stress (net section)",
        lambda state: (
            (state.rim(state.model.edges.bore_hoop_stress) + state.model.warm_bore_hoop_stress)
            / floats(state.rotor.rim.net_factor)
        ),
        less_is_better=True,
        studied_at=HIGHEST,
        slip_of_ceiling=lambda rotor, value: _beyond(rotor.rim.material, value),
    )
)
register(
    Quantity(
        "spider_stress",
        "stress",
        "spider hoop stress",
        lambda state: (
            state.spider.hoop_per_speed_squared * state.speed_squared
            + state.spider.hoop_per_pressure * state.contact.contact_pressure
        ),
        less_is_better=True,
        of_spider=True,
        studied_at=HIGHEST,
        slip_of_ceiling=lambda rotor, value: _beyond(rotor.spider.material or rotor.rim.material, value),
    )
)
register(
    Quantity(
        "contact_pressure",
        "stress",
        "contact pressure",
        lambda state: state.contact.contact_pressure,
        studied_at="standstill",
    )
)
register(
    Quantity(
        "residual_interference",
        "small length",
        "interference left",
        lambda state: state.contact.residual_interference,
    )
)
register(
    Quantity(
        "rim_growth",
        "small length",
        "rim growth",
        lambda state: state.growth(state.model.edges.outer_displacement),
        less_is_better=True,
        slip_of_ceiling=_wider_than_gap,
    )
)
register(
    Quantity(
        "least_gap",
        "small length",
        "least air gap",
        lambda state: least_gap(state.rotor, state.condition, state.model, state.contact, state.speed_squared).gap,
        needs=("assembly.orbit",),
        rule=POSITIVE,
        by_single_poles=True,
        of_pole_faces=True,
        slip_of_floor=_thin,
    )
)


# ---------------------------------------------------------------------------------------------- their values


def quantity_values(
    rotor: Rotor, condition: Condition, quantities: Iterable[str], carrier: Rotor | None = None
) -> dict[str, Floats]:
    """Values of quantities by name, from one set of coefficients; the fields of the rotor may be arrays.

    Stresses are hoop stresses at the bore: that of the rim in the steel of its net section. Derived in
    `rimmodel.behaviour.contact.state`.

    Parameters
    ----------
    carrier : Rotor, optional
        Whose spider carries the rim, where `rotor` knows its stiffness alone, as after a fit.

    Returns
    -------
    dict of array, SI
        By name; NaN where there is no value (the pull has closed the gap, no hub is known).

    Raises
    ------
    ValueError
        An unknown quantity, or one that needs what the case does not give (runaway speed, yield strength).

    A rim that is not turning has the interference of its drawing left:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> found = quantity_values(case.rotor, case.conditions["cold"], ["residual_interference_at_standstill"])
    >>> print(f"{float(found['residual_interference_at_standstill']) * 1e3:.3f} mm")
    2.100 mm
    """
    model = coefficients(rotor, condition)
    spider = model.spider if carrier is None else spider_response(carrier)
    speeds = rotor.speeds.from_standstill
    still = floats(0.0)
    standing = contact(model, still)
    states = {"standstill": State(rotor, condition, model, spider, still, standing, standing)}
    found: dict[str, Floats] = {}
    for name in quantities:
        wanted = quantity_at(name)
        at = wanted.at or "standstill"
        if at not in speeds:
            raise ValueError(f"{name}: the case gives no speeds.{at}")
        own = rotor if carrier is None or not wanted.quantity.of_keys else _on_keys_of(rotor, carrier)
        if lacks := wanted.quantity.missing_input(own):
            raise ValueError(f"{name}: {lacks}")
        if at not in states:
            squared = floats(speeds[at]) ** 2
            states[at] = State(rotor, condition, model, spider, squared, contact(model, squared), standing)
        found[name] = wanted.quantity.evaluate(states[at] if own is rotor else replace(states[at], rotor=own))
    return found


def _on_keys_of(rotor: Rotor, carrier: Rotor) -> Rotor:
    """The rotor on single keys and the spider as built, where it knows the stiffness of both alone."""
    keys = {key: getattr(carrier.fit, key) for key in ("key_width", "key_stiffness", "key_interference")}
    return replace(rotor, spider=carrier.spider, fit=replace(rotor.fit, **keys))


def evaluate(quantity: str, rotor: Rotor, condition: Condition) -> float:
    """`quantity_values` of one quantity of a single rotor, as a number; derived there.

    Returns
    -------
    float, SI

    Raises
    ------
    ValueError
        As `quantity_values`.

    A quarter of the interference halves the float speed of a cold rim:

    >>> import rimmodel as rm
    >>> rotor, cold = rm.example_case().rotor, rm.example_case().conditions["cold"]
    >>> part = evaluate("float_speed", rotor.with_interference(rotor.fit.interference / 4), cold)
    >>> print(f"{part / evaluate('float_speed', rotor, cold):.4f}")
    0.5000
    """
    return float(quantity_values(rotor, condition, [quantity])[quantity])


# ---------------------------------------------------------------------------------------------- their words


def plain_name(quantity: str) -> str:
    """The quantity in words.

    >>> plain_name("gap_at_overspeed")
    'air gap at overspeed'
    """
    return quantity_at(quantity).words


def less_is_better(quantity: str) -> bool:
    """Whether a claim of this quantity is a ceiling (stress, growth) and not a floor (speed, gap)."""
    return quantity_at(quantity).quantity.less_is_better


def print_unit(quantity: str) -> PrintUnit:
    """Unit of print of a quantity.

    >>> print_unit("gap_at_rated").name
    'mm'
    """
    return quantity_at(quantity).quantity.printed


def in_print(quantity: str, value: float | None) -> float | None:
    """The value in its unit of print, by definition of the unit; None for what is not a finite number.

    Parameters
    ----------
    value : float or None, SI

    Returns
    -------
    float or None, unit of print
        rpm, mm or MPa.

    >>> in_print("gap_at_rated", 0.0125), in_print("float_speed", float("inf"))
    (12.5, None)
    """
    if value is None or not np.isfinite(value):
        return None
    return print_unit(quantity).of(value)


def quantity_text(quantity: str, value: float | None) -> str:
    """The value with its unit of print, or in words where it is not finite: no number is never "none" of a quantity.

    Parameters
    ----------
    value : float or None, SI

    >>> quantity_text("gap_at_rated", 0.01234), quantity_text("float_speed", float("nan"))
    ('12.34 mm', 'not determined')
    """
    if value is None or np.isnan(value):
        return "not determined"
    if np.isinf(value):
        return "without bound" if value > 0 else "not determined"
    return print_unit(quantity).text(value)


def bare_text(quantity: str, value: float | None) -> str:
    """`quantity_text` without its unit, where the unit follows once for several.

    Parameters
    ----------
    value : float or None, SI

    >>> bare_text("gap_at_rated", 0.01234)
    '12.34'
    """
    return quantity_text(quantity, value).removesuffix(f" {print_unit(quantity).name}")


def interval_text(quantity: str, interval: tuple[float, float] | None) -> str:
    """An interval in words, open sides stated.

    Parameters
    ----------
    interval : pair of float or None, SI
    """
    if interval is None or not any(np.isfinite(interval)):
        return "no bound"
    low, high = interval
    open_below = not np.isfinite(low) or (low == 0 and quantity_at(quantity).quantity.zero_is_no_bound)
    if not np.isfinite(high):
        return "no bound" if open_below else f"above {quantity_text(quantity, low)}"
    if open_below:
        return (
            f"below {quantity_text(quantity, high)}"
            if high > 0 or not np.isfinite(low)
            else quantity_text(quantity, high)
        )
    return f"{bare_text(quantity, low)} to {quantity_text(quantity, high)}"
