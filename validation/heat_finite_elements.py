"""Float speed of a machine that warms and cools: rimmodel.behaviour.heat against transient finite elements.

scikit-fem, quadratic line elements in radius around the axis, for rim and disc spider with their contact, integrated by
the trapezoidal rule in steps of 30 s. Losses and air are those that the model finds from its steady condition; all else
(meshes, capacities, exchange, time) is made anew. What is compared is the float speed, for which the mean temperatures
of both go through the same mechanics. The machine is invented: the built-in unit on a disc.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import bmat, csr_matrix
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementLineP2, LinearForm, MeshLine

import rimmodel as rm
from rimmodel.behaviour.heat.course import HeatModel, course_condition, even_start, film_table, heat_course, heat_model
from rimmodel.behaviour.heat.draws import middle_first
from rimmodel.behaviour.heat.schedule import schedule
from rimmodel.rotor import Condition, DiscSpider
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.history import History, Segment
from validation.check import Check, Provenance

Floats = NDArray[np.float64]

HOURS = (0.5, 2.0, 8.0, 16.5, 18.0, 24.0)
"""Moments that are compared; the machine is on load until hour 16 and then stands."""
LOADED, STEP = 16.0, 30.0
SOURCE = "scikit-fem, quadratic line elements in radius, trapezoidal rule of 30 s"
REASON = "what the model may miss is 0.5 %; a tenth of it is asked for"


@cache
def machine() -> tuple[Case, HeatModel]:
    """The invented machine, and its heat model in the middle of all ranges first."""
    case = rm.example_case()
    rotor = replace(case.rotor, spider=DiscSpider(case.rotor.rim.material, 0.6, 0.25))
    case = replace(case, rotor=rotor)
    if case.thermal is None:
        raise ValueError("the built-in case has no [thermal]")
    model = heat_model(rotor, case.thermal, case.conditions["hot"], middle_first(case.thermal, 21))
    return case, model


@cache
def ours() -> Floats:
    """Float speed (rad/s) of the model at the moments, in the middle of all ranges."""
    case, model = machine()
    rated = model.rated
    segments = (
        Segment("load", LOADED * 3600, rated, 1.0, True),
        Segment("rest", (HOURS[-1] - LOADED) * 3600, 0.0, air=303.15),
    )
    moments = [hour * 3600 for hour in HOURS]
    steps = schedule(History("day", segments), model.thermal, rated, looked_at=moments)
    course = heat_course(model, steps, even_start(model.network, case.conditions["cold"]))
    places = [int(np.argmin(np.abs(course.time - moment))) for moment in moments]
    hot = case.conditions["hot"]
    condition = course_condition(model, hot, course.state[:1, places], course.excited[places])
    return np.asarray(rm.float_speed(case.rotor, condition).speed)[0]


@cache
def theirs() -> Floats:
    """Float speed (rad/s) at the moments with the temperatures of finite elements."""
    moments = {round(hour * 3600 / STEP): number for number, hour in enumerate(HOURS)}
    found = np.zeros(len(HOURS))
    now = np.full(_parts(1.0)[0].shape[0], 293.15)
    count = round(HOURS[-1] * 3600 / STEP)
    for share, first, last in ((1.0, 0, round(LOADED * 3600 / STEP)), (0.0, round(LOADED * 3600 / STEP), count)):
        capacity, matrix, means, out = _parts(share)
        around = exchange(share)
        source = out["rim"] * around.rim_air + out["spider"] * around.spider_air
        source[out["loss"]] += around.loss
        left, right = splu((capacity / STEP + matrix / 2).tocsc()), capacity / STEP - matrix / 2
        for step in range(first, last):
            now = left.solve(right @ now + source)
            if step + 1 in moments:
                rim, spider = (float(mean @ now) for mean in means)
                found[moments[step + 1]] = float_speed_at((step + 1) * STEP, rim, spider)
    return found


def float_speed_at(time: float, rim: float, spider: float) -> float:
    """Float speed (rad/s) at a time (s) of the day, with the mean temperatures (K) of rim and spider."""
    case, _ = machine()
    hot = case.conditions["hot"]
    flux = float(np.asarray(hot.flux_density)) if time <= LOADED * 3600 else 0.0
    condition = Condition(rim, spider, None, _stator(time), flux, hot.excitation)
    return float(rm.float_speed(case.rotor, condition).speed)


@dataclass(frozen=True)
class Exchange:
    """Air (K), exchange of both sides of the rim (W/K), film of each spider face (W/m^2/K), loss into the rim (W)."""

    rim_air: float
    spider_air: float
    at_bore: float
    at_outside: float
    spider_film: float
    loss: float


@cache
def exchange(share: float) -> Exchange:
    """What warms and cools at a share of rated speed and load."""
    case, model = machine()
    rim, poles, thermal = case.rotor.rim, case.rotor.poles, model.thermal
    table = film_table(model.network, model.values, np.array([share]), np.ones(1))
    films = {name: float(column[0]) for name, column in table.items()}
    inner, outer, length = (float(np.asarray(value)) for value in (rim.inner_radius, rim.outer_radius, rim.length))
    air = float(thermal.air) if share else 303.15
    return Exchange(
        air + float(model.values["air_rise"][0]) * share,
        air + float(model.losses.spider_air_rise[0]) * share,
        films["bore"] * 2 * np.pi * inner * length,
        films["outer"] * (2 * np.pi * outer * length + float(poles.count) * float(thermal.pole_surface)),
        films["spider"],
        float(model.losses.rim_loss[0]) * share,
    )


def day(hour: float) -> str:
    """An hour of the day in words."""
    stopped = f", {hour - LOADED:g} h after the stop"
    return f"{hour:g} h after a cold start" + (stopped if hour > LOADED else ", on load")


def _stator(time: float) -> float:
    """Mean temperature of the stator core (K): two exponentials in closed form."""
    _, model = machine()
    values = {name: float(column[0]) for name, column in model.values.items()}
    hot = float(np.asarray(rm.example_case().conditions["hot"].stator_temperature))
    constant = values["stator_time_constant"]
    loaded = min(time, LOADED * 3600)
    warm = hot + (293.15 - hot) * np.exp(-loaded / constant)
    film = values["still_heat_transfer"] / values["rim_outer_heat_transfer"]
    return (
        float(303.15 + (warm - 303.15) * np.exp(-(time - loaded) * film / constant)) if time > loaded else float(warm)
    )


@cache
def _parts(share: float) -> tuple[Any, Any, list[Floats], dict[str, Any]]:
    """Capacity, matrix, weights of both means, and exchange, at a share of rated speed; rim first, then spider."""
    case, model = machine()
    rotor, thermal = case.rotor, model.thermal
    rim, poles = rotor.rim, rotor.poles
    around = exchange(share)
    heat, conductivity = 7850.0 * float(thermal.specific_heat), float(thermal.thermal_conductivity)
    inner, outer, length = (float(np.asarray(value)) for value in (rim.inner_radius, rim.outer_radius, rim.length))
    stacked = float(np.asarray(rim.stacking_factor)) * length
    pieces = [
        _ring(inner, outer, stacked, heat, conductivity, 0.0),
        _ring(0.6, inner, 0.25, heat, conductivity, around.spider_film),
    ]
    capacity, matrix = (bmat([[pieces[0][n], None], [None, pieces[1][n]]]).tolil() for n in (0, 1))
    size = pieces[0][0].shape[0]
    ends = [pieces[0][3], pieces[1][3]]
    bore, outside, tip = ends[0][0], ends[0][1], size + ends[1][1]
    capacity[outside, outside] += float(poles.count) * float(poles.mass) * float(thermal.pole_specific_heat)
    matrix[bore, bore] += around.at_bore
    matrix[outside, outside] += around.at_outside
    contact = float(model.values["contact_conductance"][0])
    for row, column, sign in ((bore, bore, 1), (tip, tip, 1), (bore, tip, -1), (tip, bore, -1)):
        matrix[row, column] += sign * contact
    whole = capacity.shape[0]
    out_rim, out_spider, rim_mean, spider_mean = (np.zeros(whole) for _ in range(4))
    out_rim[[bore, outside]] = around.at_bore, around.at_outside
    out_spider[size:] = pieces[1][2] * around.spider_film * 2
    rim_mean[:size] = pieces[0][2] / pieces[0][2].sum()
    spider_mean[size:] = pieces[1][2] / pieces[1][2].sum()
    out = {"rim": out_rim, "spider": out_spider, "loss": outside}
    return csr_matrix(capacity), csr_matrix(matrix), [rim_mean, spider_mean], out


def _ring(
    inner: float, outer: float, thickness: float, heat: float, conductivity: float, film: float
) -> tuple[Any, Any, Floats, tuple[int, int]]:
    """Capacity, conduction with the exchange of both faces, area of every node, and the nodes of bore and outside."""
    basis = Basis(MeshLine(np.linspace(inner, outer, 61)), ElementLineP2())

    @BilinearForm
    def stored(u: Any, v: Any, w: Any) -> Any:
        return 2 * np.pi * w.x[0] * thickness * heat * u * v

    @BilinearForm
    def carried(u: Any, v: Any, w: Any) -> Any:
        r = 2 * np.pi * w.x[0]
        return r * thickness * conductivity * u.grad[0] * v.grad[0] + 2 * r * film * u * v

    @LinearForm
    def area(v: Any, w: Any) -> Any:
        return 2 * np.pi * w.x[0] * v

    places = basis.doflocs[0]
    ends = int(np.argmin(places)), int(np.argmax(places))
    return stored.assemble(basis), carried.assemble(basis), area.assemble(basis), ends


def checks() -> tuple[Check, ...]:
    return tuple(
        Check(
            f"HEAT-{number + 1}",
            f"float speed {day(hour)}",
            SOURCE,
            float(theirs()[number]) / (2 * np.pi / 60),
            "rpm",
            lambda number=number: float(ours()[number]) / (2 * np.pi / 60),  # type: ignore[misc]
            Provenance.INDEPENDENT_METHOD,
            tolerance=5e-4,
            reason=REASON,
        )
        for number, hour in enumerate(HOURS)
    )
