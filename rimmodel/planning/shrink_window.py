"""The shrink window: interference from too little to too much, the shim in between, and the heating it needs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.behaviour import float_speed
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.behaviour.limits.check import Check, listed_once
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.edge_doubt import with_deviations, with_tolerances
from rimmodel.planning.edges import CONFIDENCE, WIDEST_SHARE, Edge, Machine, edges_of
from rimmodel.planning.predicted import standard_errors
from rimmodel.planning.present import present_case
from rimmodel.rotor import REFERENCE_TEMPERATURE, Rotor
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.case.case import Case
from rimmodel.units import MILLIMETRE, mm, rpm

STEP = 0.01 * MILLIMETRE
"""To which interferences and shims are named: a micrometer reads no less."""

BARE = "interference and play alone, without uneven temperature, errors of reading and cooling while keys go in"
"""What the rim temperature and the edge by it count: less than a plan of the heating does."""


@dataclass(frozen=True)
class Heating:
    """Mean rim temperature at which an interference goes over the keys, the spider at `spider_temperature`.

    Counts `BARE`; `rimmodel.planning.heating.heating_plan` counts the rest too.

    Attributes
    ----------
    mean : float, K
    per_key : tuple of float, K
        One temperature a key, empty where the keys are not given one by one.
    spider_temperature : float, K
    clearance : float, m
        The play wanted on top.
    clearance_given : bool
        False where the case states none and zero was taken.
    """

    mean: float
    per_key: tuple[float, ...]
    spider_temperature: float
    clearance: float
    clearance_given: bool


@dataclass(frozen=True)
class ShrinkWindow:
    """Radial interferences, as assembled, between which everything is kept, and what follows.

    What shims follow is stated by `shims.shim_advice`.

    Recommendation, heating and float speeds are None or empty where no window exists.

    Attributes
    ----------
    hopeless : tuple of Edge
        What no interference keeps; the edges are then those of the others.
    low, high : float, m
        The bare edges; -inf and inf where nothing limits that side up to `widest`.
    low_sure, high_sure : float, m
        Those with the tolerance taken off at the confidence of each.
    exists : bool
        Speaks of the sure edges.
    widest, standard_uncertainty, present : float, m
    basis : str
        Of stiffnesses and interference: see `present.present_case`.
    recommended : float or None, m
    relaxation_share : float, -
    float_speeds : dict of str to float, rad/s
        By condition.
    """

    edges: tuple[Edge, ...]
    unchecked: tuple[Check, ...]
    hopeless: tuple[Edge, ...]
    low: float
    high: float
    low_sure: float
    high_sure: float
    low_by: Edge | None
    high_by: Edge | None
    exists: bool
    widest: float
    standard_uncertainty: float
    present: float
    measured: str
    basis: str
    recommended: float | None
    relaxation_share: float
    heating: Heating | None
    float_speeds: dict[str, float]
    statement: str

    @property
    def rim_temperature_counts(self) -> str:
        """What its rim temperature and the edge by it count, and what they leave out."""
        return BARE

    @property
    def missing(self) -> str:
        """Which criteria could not be checked, and the input that is missing; empty where all could."""
        lacking: dict[str, list[str]] = {}
        for edge in self.hopeless:
            if edge.missing:
                lacking.setdefault(edge.missing, []).append(edge.words)
        return " ".join(f"Not checked: {'; '.join(names)}; missing input: {key}." for key, names in lacking.items())

    @property
    def margins(self) -> tuple[float, float] | None:
        """From the recommended interference down to the lower and up to the upper sure edge, m."""
        return (
            None if self.recommended is None else (self.recommended - self.low_sure, self.high_sure - self.recommended)
        )


def shrink_window(case: Case, measurement: Measurement | None = None) -> ShrinkWindow:
    """The window of interference of a case, and the shim to choose in it.

    Parameters
    ----------
    measurement : Measurement, optional
        What a run showed: its effective interference, with the settlement that the case states put back, is then what
        is present, and its interval takes the place of the tolerance of the drawing.

    Notes
    -----
    Lower edges come from the requirements (float speed above all; 1.1 x rated by default), upper ones from the limits
    and from the rim temperature while shrinking: ``a (alpha_r (T_r - 20) - alpha_s (T_s - 20)) - clearance``. The
    tolerance counts on both sides, as half-width at the confidence of each edge. From the drawing, what is uncertain
    is what the case states a tolerance of. From a run, interference and stiffnesses are those that it shows, and
    the half-width is what it leaves open of the shim that leads to each edge (`edge_doubt`); it takes the place of the
    tolerance. Masses and temperatures are those of the case. Derived here.

    Recommended is the least interference that meets the lower edge with confidence after ageing has taken its share
    (`limits.relaxation_share`), or the middle of the window where that is less; and what is present, where that lies
    between this and the upper edge.

    >>> import rimmodel as rm
    >>> window = shrink_window(rm.example_case())
    >>> window.exists, window.low_by.name, window.low < window.recommended < window.high
    (True, 'no_float_in_service', True)
    """
    rotor = case.rotor
    present, deviation, measured = _present(rotor, measurement)
    now, basis = present_case(case, measurement)
    carrier = rotor if measured else None
    machine = Machine(now, carrier, float(now.rotor.fit.interference) - present if measured else 0.0)
    widest = max(WIDEST_SHARE * float(rotor.rim.inner_radius), 2 * abs(float(rotor.fit.interference)), 2 * abs(present))
    found, unchecked = edges_of(machine, widest)
    if measurement is not None and measured:
        found = with_deviations(found, machine, measurement, present)
    else:
        found = with_tolerances(found, machine, present)
    edges = (*found, *_assembly_edge(rotor, case.limits))
    hopeless = tuple(edge for edge in edges if edge.nowhere)
    others = [edge for edge in edges if not edge.nowhere]
    low_by = max(others, key=lambda edge: edge.low + _half(edge, deviation), default=None)
    high_by = min(others, key=lambda edge: edge.high - _half(edge, deviation), default=None)
    low_by = low_by if low_by is not None and np.isfinite(low_by.low) else None
    high_by = high_by if high_by is not None and np.isfinite(high_by.high) else None
    low_sure = -np.inf if low_by is None else low_by.low + _half(low_by, deviation)
    high_sure = np.inf if high_by is None else high_by.high - _half(high_by, deviation)
    exists = bool(not hopeless and low_sure <= high_sure and high_sure >= 0)
    recommended = _recommended(low_sure, high_sure, float(case.limits.relaxation_share), present) if exists else None
    window = ShrinkWindow(
        edges, tuple(listed_once(unchecked)), hopeless,
        max((edge.low for edge in others), default=-np.inf), min((edge.high for edge in others), default=np.inf),
        low_sure, high_sure, low_by, high_by, exists, widest, deviation, present, measured, basis, recommended,
        float(case.limits.relaxation_share),
        None if recommended is None else heating(rotor, case.limits, recommended),
        {} if recommended is None else _float_speeds(machine, recommended), "",
    )  # fmt: skip
    return replace(window, statement=_statement(window, float(rotor.speeds.rated)))


def _present(rotor: Rotor, measurement: Measurement | None) -> tuple[float, float, str]:
    """Interference as assembled that is there, its standard uncertainty, and the label of the run that shows it."""
    if measurement is not None and measurement.sets_interference:
        low, high = measurement.interference_interval
        reach = max(high - measurement.interference, measurement.interference - low)
        present = measurement.interference + float(rotor.fit.settlement) + float(rotor.fit.stack_growth)
        return present, reach / standard_errors(measurement.confidence), measurement.label
    return float(rotor.fit.interference), float(rotor.fit.interference_tolerance) / 2, ""


def half_width(edge: Edge, window: ShrinkWindow) -> float:
    """Tolerance that is taken off at an edge, at its confidence.

    Returns
    -------
    float, m
    """
    return _half(edge, window.standard_uncertainty)


def _half(edge: Edge, deviation: float) -> float:
    return standard_errors(edge.confidence) * (deviation if edge.deviation is None else edge.deviation)


def _recommended(low: float, high: float, relaxation: float, present: float) -> float:
    least = max(low, 0.0)
    chosen = min(least / (1 - relaxation), (least + high) / 2)
    return present if chosen <= present <= high else chosen


def heating(rotor: Rotor, limits: Limits, interference: float) -> Heating | None:
    """Rim temperature that a mean interference needs to be keyed; None without a thermal expansion of the rim.

    ``T_r = 20 + ((delta + clearance)/a + alpha_s (T_s - 20))/alpha_r``. Keys that differ keep their differences. The
    heated rim must clear its tightest key.

    Parameters
    ----------
    interference : float, m

    2.1 mm and 0.6 mm of play on 3.62 m: 2.7/3620/12e-6 = 62.2 K over the spider.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(f"{heating(case.rotor, case.limits, 2.1e-3).mean - 293.15:.1f} K")
    62.2 K
    """
    expansion, a = float(rotor.rim.material.thermal_expansion), float(rotor.rim.inner_radius)
    if expansion == 0:
        return None
    clearance = rotor.fit.assembly_clearance
    play = 0.0 if clearance is None else float(clearance)
    spider = float(limits.shrinking_spider_temperature)
    spider_rise = float(spider_response(rotor).thermal_expansion) * (spider - REFERENCE_TEMPERATURE)

    def needed(over: float) -> float:
        return REFERENCE_TEMPERATURE + ((interference + over + play) / a + spider_rise) / expansion

    per_key = tuple(needed(over) for over in _over_mean(rotor))
    return Heating(needed(0.0), per_key, spider, play, clearance is not None)


def _over_mean(rotor: Rotor) -> list[float]:
    """Interference of each key above their mean, m; empty where keys are not given one by one."""
    keys = rotor.fit.key_interference
    return [] if keys is None else [float(key) - sum(keys) / len(keys) for key in keys]


def _assembly_edge(rotor: Rotor, limits: Limits) -> tuple[Edge, ...]:
    """Most interference that the hottest allowed rim can be keyed with."""
    needed = heating(rotor, limits, 0.0)
    if needed is None:
        return ()
    per_kelvin = float(rotor.rim.inner_radius) * float(rotor.rim.material.thermal_expansion)
    hottest = max([needed.mean, *needed.per_key])
    most = per_kelvin * (float(limits.shrinking_rim_temperature) - hottest)
    allowed = float(limits.shrinking_rim_temperature) - REFERENCE_TEMPERATURE + 20.0
    note = f"rim at {allowed:.0f} degC, {mm(needed.clearance)} play over the keys"
    note += "" if needed.clearance_given else " (fit.assembly_clearance not given)"
    note += f"; {BARE}"
    source = limits.source("shrinking_rim_temperature")
    return (
        Edge("rim temperature while shrinking", "assembly", "", "assembly", -np.inf, most, CONFIDENCE, source, note),
    )


def _float_speeds(machine: Machine, interference: float) -> dict[str, float]:
    rotor = machine.with_interference(np.asarray(interference))
    conditions = machine.case.conditions
    return {name: float(float_speed(rotor, condition).speed) for name, condition in conditions.items()}


def in_steps(interference: float, *, up: bool) -> float:
    """An interference in whole hundredths of a millimetre, rounded up or down.

    Parameters
    ----------
    interference : float, m
        May be infinite.

    Returns
    -------
    float, m

    >>> print(f"{in_steps(1.831e-3, up=True):.5f} {in_steps(1.839e-3, up=False):.5f}")
    0.00184 0.00183
    """
    if not np.isfinite(interference):
        return interference
    steps = interference / STEP
    return float(np.ceil(steps - 1e-6) if up else np.floor(steps + 1e-6)) * STEP


def _mm(value: float) -> str:
    return mm(value)


def _least(window: ShrinkWindow) -> str:
    return _mm(in_steps(window.low_sure, up=True))


def _most(window: ShrinkWindow) -> str:
    return _mm(in_steps(window.high_sure, up=False))


def _statement(window: ShrinkWindow, rated: float) -> str:
    """The window in words: where it lies and what to choose, or which limit closes it."""
    if window.hopeless:
        lacking = window.missing
        names = "; ".join(edge.words for edge in window.hopeless if not edge.missing)
        if not names:
            return f"No window is shown. {lacking} State it, then ask again."
        return (
            f"No window: no interference up to {_mm(window.widest)} meets {names}. Shims cannot correct this; change "
            f"the machine, the limit or the requirement.{' ' if lacking else ''}{lacking}"
        )
    if not window.exists:
        low = "zero" if window.low_by is None else f"{_least(window)}, by {window.low_by.words}"
        high = "" if window.high_by is None else f"{window.high_by.words} allows at most {_most(window)}"
        bare = "" if window.low > window.high else (
            f" Without the tolerance a window from {_mm(window.low)} to {_mm(window.high)} would remain: a closer "
            f"tolerance or a better measurement may open it."
        )  # fmt: skip
        return f"No window: {high}, but at least {low} is needed.{bare}"
    low = "zero" if window.low_by is None else f"{_least(window)} ({window.low_by.words})"
    high = (
        f"{_mm(window.widest)}, the widest interference examined"
        if window.high_by is None
        else f"{_most(window)} ({window.high_by.words})"
    )
    speeds = ", ".join(
        f"{name} {rpm(speed, '.0f')} ({speed / rated:.2f} x rated)" if np.isfinite(speed) else f"{name} none"
        for name, speed in window.float_speeds.items()
    )
    return (
        f"The window runs from {low} to {high}, with the uncertainty deducted. Float speed with the recommended "
        f"interference: {speeds}."
    )
