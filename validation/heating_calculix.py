"""A rim that is heated for its keys: the schedule against CalculiX.

The invented machine of `validation.heating_finite_elements` without poles, heated at bore and outside; it heats the
spider through the contact alone. A sector of 20-node bricks through spider, contact and rim, followed in steps of 120 s
(its implicit steps are of first order) with the powers of the schedule as an amplitude. All of it lies in one
thin layer; conductivity and density of a part are scaled to its axial thickness, exchange on cylinders to their
length; ends of the rim and faces of the disc are those of the layer.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from rimmodel.planning.heating import HeatingPlan
from rimmodel.second_opinion.bricks import THICKNESS, Sector, collection
from validation.calculix_decks import require_program
from validation.check import Check, Provenance
from validation.heat_calculix import LAYER, NEXT_TO_NOTHING, material_lines, mean_of, run_heat
from validation.heating_finite_elements import BORE, ours, plan_of
from validation.heating_finite_elements import THICKNESS as DISC

Floats = NDArray[np.float64]

STEP, EVERY = 120.0, 600.0
"""Seconds of a step, and from one printed state to the next: the step of the schedule."""
SOURCE = "CalculiX, 20-node bricks, transient heat transfer in steps of 120 s"
REASON = "a sheet for the site may miss 3 %; a tenth of it is asked for, steps of first order cost 1e-3"
AFTER = 6.0
"""Hours that are followed once the power is off."""


def _plan() -> HeatingPlan:
    return plan_of("both", bore_film=False)


@cache
def _radii() -> dict[str, Floats]:
    """Radii (m) of the edges of bricks, part by part from the bore of the spider out."""
    rim = _plan().case.rotor.rim
    inner, outer = (float(np.asarray(radius)) for radius in (rim.inner_radius, rim.slot_bottom_radius))
    return {
        "SPIDER": np.linspace(BORE, inner - LAYER, 41),
        "CONTACT": np.array([inner - LAYER, inner]),
        "RIM": np.linspace(inner, outer, 25),
    }


@cache
def _sector() -> Sector:
    return Sector("ALL", 1, np.unique(np.concatenate(list(_radii().values()))), np.radians([0.0, 4.0]))


def _rows() -> dict[str, range]:
    """Rows of bricks of each part."""
    found, first = {}, 0
    for name, radii in _radii().items():
        found[name] = range(first, first + radii.size - 1)
        first += radii.size - 1
    return found


def _deck() -> list[str]:
    """Nodes, bricks and materials, at the temperature of the hall."""
    plan, sector, radii = _plan(), _sector(), _radii()
    rim, thermal = plan.case.rotor.rim, plan.case.thermal
    if thermal is None:
        raise ValueError("the built-in case has no [thermal]")
    heat, conductivity = 7850.0 * float(thermal.specific_heat), float(thermal.thermal_conductivity)
    stacked = float(np.asarray(rim.stacking_factor)) * float(np.asarray(rim.length)) / THICKNESS
    inner = radii["RIM"][0]
    contact = _value("contact_conductance") * np.log(inner / (inner - LAYER))
    return [
        *("*NODE, NSET=ALL", *sector.node_lines()),
        *("*ELEMENT, TYPE=DC3D20, ELSET=ALL", *sector.brick_lines()),
        *(
            line
            for name, rows in _rows().items()
            for line in collection("ELSET", name, (sector.brick(i, 0) for i in rows))
        ),
        *material_lines("SPIDER", conductivity * DISC / THICKNESS, heat * DISC / THICKNESS),
        *material_lines("CONTACT", contact / (2 * np.pi * THICKNESS), NEXT_TO_NOTHING),
        *material_lines("RIM", conductivity * stacked, heat * stacked),
        *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", f"ALL, {float(plan.heating.air):.12g}"),
    ]


def _value(name: str) -> float:
    """The middle of a range."""
    return float(_plan().model.values[name][0])


def _powers() -> Floats:
    """Heat into the rim in each step of the schedule, W."""
    course = _plan().course
    return course.power[0, : int(course.off[0])] * _value("heater_share")


def _amplitude() -> list[str]:
    """The powers as the program interpolates them: even through each step."""
    rows = []
    for number, power in enumerate(_powers()):
        rows += [f"{number * EVERY + 1e-3:.6f}, {power:.9g}", f"{(number + 1) * EVERY:.6f}, {power:.9g}"]
    return ["*AMPLITUDE, NAME=HEATERS, TIME=TOTAL TIME", *rows]


def _step(cover: str, time: float, heated: bool) -> list[str]:
    """A stretch of time (s) under a cover."""
    plan, sector, rows, radii = _plan(), _sector(), _rows(), _radii()
    air, film = float(plan.heating.air), _value(cover)
    bore, outside = sector.brick(rows["RIM"][0], 0), sector.brick(rows["RIM"][-1], 0)
    inner, outer = radii["RIM"][0], radii["RIM"][-1]
    length = float(np.asarray(plan.case.rotor.rim.length)) / THICKNESS
    flux = 1 / (2 * np.pi * (inner + outer) * THICKNESS)  # of 1 W, even over both cylinders
    films = [
        f"{outside}, F4, {air:.12g}, {film * length:.12g}",
        *(f"RIM, F{face}, {air:.12g}, {film:.12g}" for face in (1, 2)),
        *(f"SPIDER, F{face}, {air:.12g}, {_value('spider_heat_transfer'):.12g}" for face in (1, 2)),
    ]
    heaters = [f"{bore}, S6, {flux:.12g}", f"{outside}, S4, {flux:.12g}"]
    return [
        *(f"*STEP, INC={round(time / STEP) + 10}", "*HEAT TRANSFER, DIRECT", f"{STEP:g}, {time:g}"),
        *("*FILM, OP=NEW", *films),
        *(("*DFLUX, OP=NEW, AMPLITUDE=HEATERS", *heaters) if heated else ("*DFLUX, OP=NEW",)),
        *(f"*NODE PRINT, NSET=ALL, FREQUENCY={round(EVERY / STEP)}", "NT", "*END STEP"),
    ]


@cache
def theirs() -> dict[str, float]:
    """Growth (mm) and spread (K) at the moments of `ours`, with the temperatures that the program finds."""
    off = len(_powers())
    deck = [
        *_deck(),
        *_amplitude(),
        *_step("covered_heat_transfer", off * EVERY, heated=True),
        *_step("open_heat_transfer", AFTER * 3600, heated=False),
    ]
    states = run_heat(deck, off + round(AFTER * 3600 / EVERY))
    sector, rows = _sector(), _rows()
    inner = float(np.asarray(_plan().case.rotor.rim.inner_radius))

    def growth(number: int) -> float:
        rim, spider = (mean_of(sector, states[number - 1], rows[name]) for name in ("RIM", "SPIDER"))
        return 12e-6 * inner * (rim - spider) * 1e3

    half = states[off // 2 - 1]
    through = [half[sector.node(2 * place, 0)] for place in (*rows["RIM"], rows["RIM"][-1] + 1)]
    found = (growth(off // 2), float(np.ptp(through)), growth(off), growth(off + 6), growth(off + 36))
    return dict(zip(ours(_plan()), found, strict=True))


def checks() -> tuple[Check, ...]:
    require_program("heating_calculix")
    return tuple(
        Check(
            f"HEATED-CCX-{number + 1}",
            f"{name}, rim heated at bore and outside, spider by its contact",
            SOURCE,
            theirs()[name],
            "K" if "spread" in name else "mm",
            lambda name=name: ours(_plan())[name],  # type: ignore[misc]
            Provenance.INDEPENDENT_METHOD,
            tolerance=3e-3,
            reason=REASON,
        )
        for number, name in enumerate(theirs())
    )
