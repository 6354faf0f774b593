"""Float speed of a machine that warms and cools: rimmodel.behaviour.heat against CalculiX.

The same invented machine and day as in `validation.heat_finite_elements`, followed by a program of its own: a sector
of 20-node bricks through spider, contact, rim and poles in steps of 60 s (its implicit steps are of first order). All
of it lies in one thin layer; conductivity and density of a part are scaled to its axial thickness, exchange on
cylinders to their length. Contact is a layer of 1 mm that conducts and stores next to nothing, and the poles are a
layer of 1 mm that stores all and conducts well.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rimmodel.second_opinion.bricks import THICKNESS, Sector, collection
from rimmodel.second_opinion.program import PROGRAM, ProgramError, run_program
from validation.calculix_decks import LONGEST, require_program
from validation.check import Check, Provenance
from validation.heat_finite_elements import HOURS, LOADED, day, exchange, float_speed_at, machine, ours

Floats = NDArray[np.float64]

STEP, EVERY = 60.0, 0.5
"""Seconds of a step, and hours from one printed state to the next."""
LAYER = 1e-3
"""Of contact and poles, m: 6e-4 of the spider."""
GOOD, NEXT_TO_NOTHING = 1e6, 1e-3
"""Conductivity (W/m/K) of the layer of the poles, and heat (J/m^3/K) that the contact stores."""
SOURCE = "CalculiX, 20-node bricks, transient heat transfer in steps of 60 s"
REASON = "layers of 1 mm and steps of first order cost 1e-4; a tenth of the 0.5 % that the model may miss is asked for"


def _parts() -> dict[str, Floats]:
    """Radii (m) of the edges of bricks, part by part from the bore of the spider out."""
    case, _ = machine()
    inner, outer = (float(np.asarray(radius)) for radius in (case.rotor.rim.inner_radius, case.rotor.rim.outer_radius))
    return {
        "SPIDER": np.linspace(0.6, inner - LAYER, 41),
        "CONTACT": np.array([inner - LAYER, inner]),
        "RIM": np.linspace(inner, outer, 21),
        "POLES": np.array([outer, outer + LAYER]),
    }


def _rows(parts: dict[str, Floats]) -> dict[str, range]:
    """Rows of bricks of each part."""
    found, first = {}, 0
    for name, radii in parts.items():
        found[name] = range(first, first + radii.size - 1)
        first += radii.size - 1
    return found


@cache
def _sector() -> Sector:
    radii = np.unique(np.concatenate(list(_parts().values())))
    return Sector("ALL", 1, radii, np.radians([0.0, 4.0]))


def material_lines(name: str, conductivity: float, heat: float) -> list[str]:
    """Conductivity (W/m/K) and heat (J/m^3/K), the second as density of a specific heat of 1."""
    return [
        *(f"*MATERIAL, NAME={name}STUFF", "*CONDUCTIVITY", f"{conductivity:.12g}"),
        *("*DENSITY", f"{heat:.12g}", "*SPECIFIC HEAT", "1."),
        f"*SOLID SECTION, ELSET={name}, MATERIAL={name}STUFF",
    ]


def _deck() -> list[str]:
    """Nodes, bricks and materials, at 20 degC."""
    case, model = machine()
    rim, poles, thermal = case.rotor.rim, case.rotor.poles, model.thermal
    sector, parts = _sector(), _parts()
    heat, conductivity = 7850.0 * float(thermal.specific_heat), float(thermal.thermal_conductivity)
    stacked = float(np.asarray(rim.stacking_factor)) * float(np.asarray(rim.length)) / THICKNESS
    inner, outer = parts["RIM"][0], parts["RIM"][-1]
    contact = float(model.values["contact_conductance"][0]) * np.log(inner / (inner - LAYER))
    stored = float(poles.count) * float(poles.mass) * float(thermal.pole_specific_heat)
    ring = np.pi * ((outer + LAYER) ** 2 - outer**2) * THICKNESS
    lines = [
        *("*NODE, NSET=ALL", *sector.node_lines()),
        *("*ELEMENT, TYPE=DC3D20, ELSET=ALL", *sector.brick_lines()),
    ]
    for name, rows in _rows(parts).items():
        lines += collection("ELSET", name, [sector.brick(i, 0) for i in rows])
    return [
        *lines,
        *material_lines("SPIDER", conductivity * 0.25 / THICKNESS, heat * 0.25 / THICKNESS),
        *material_lines("CONTACT", contact / (2 * np.pi * THICKNESS), NEXT_TO_NOTHING),
        *material_lines("RIM", conductivity * stacked, heat * stacked),
        *material_lines("POLES", GOOD, stored / ring),
        *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", "ALL, 293.15"),
    ]


def _step(share: float, hours: float) -> list[str]:
    """A stretch of the day, at a share of rated speed and load."""
    sector, rows = _sector(), _rows(_parts())
    found = exchange(share)
    bore, outside = (sector.brick(rows[name][0], 0) for name in ("RIM", "POLES"))
    at_bore, at_outside = (2 * np.pi * _parts()[name][end] * THICKNESS for name, end in (("RIM", 0), ("POLES", -1)))
    films = [
        f"{bore}, F6, {found.rim_air:.12g}, {found.at_bore / at_bore:.12g}",
        f"{outside}, F4, {found.rim_air:.12g}, {found.at_outside / at_outside:.12g}",
        *(f"SPIDER, F{face}, {found.spider_air:.12g}, {found.spider_film:.12g}" for face in (1, 2)),
    ]
    return [
        *(f"*STEP, INC={round(hours * 3600 / STEP) + 10}", "*HEAT TRANSFER, DIRECT", f"{STEP:g}, {hours * 3600:g}"),
        *("*FILM, OP=NEW", *films),
        *("*DFLUX, OP=NEW", f"{outside}, S4, {found.loss / at_outside:.12g}"),
        *(f"*NODE PRINT, NSET=ALL, FREQUENCY={round(EVERY * 3600 / STEP)}", "NT", "*END STEP"),
    ]


def run_heat(lines: Sequence[str], count: int) -> list[dict[int, float]]:
    """Temperatures (K) by node in each of the states that the deck prints."""
    with tempfile.TemporaryDirectory() as directory:
        Path(directory, "heat.inp").write_text("\n".join(lines) + "\n")
        try:
            text = run_program(Path(directory), "heat", LONGEST)
        except ProgramError as error:
            raise RuntimeError(str(error)) from error
    states = []
    for table in re.split(r"^ *temperatures for set ALL.*$", text, flags=re.M)[1:]:
        rows = filter(None, map(str.split, table.splitlines()))
        states.append({int(row[0]): float(row[1]) for row in rows})
    if len(states) != count:
        raise RuntimeError(f"{PROGRAM} ended after {len(states)} of {count} states")
    return states


def mean_of(sector: Sector, state: dict[int, float], rows: range) -> float:
    """Mean temperature (K) over the area of a part: Simpson's rule on the three nodes along every brick."""
    total = area = 0.0
    for i in rows:
        places = [2 * i, 2 * i + 1, 2 * i + 2]
        radius = sector.radius[places]
        weight = np.array([1.0, 4.0, 1.0]) * (radius[2] - radius[0]) / 6 * radius
        total += float(weight @ [state[sector.node(place, 0)] for place in places])
        area += float(weight.sum())
    return total / area


@cache
def theirs() -> Floats:
    """Float speed (rad/s) at the moments of the day, with the temperatures that the program finds."""
    states = run_heat([*_deck(), *_step(1.0, LOADED), *_step(0.0, HOURS[-1] - LOADED)], round(HOURS[-1] / EVERY))
    rows, sector = _rows(_parts()), _sector()
    found = []
    for hour in HOURS:
        state = states[round(hour / EVERY) - 1]
        rim, spider = (mean_of(sector, state, rows[name]) for name in ("RIM", "SPIDER"))
        found.append(float_speed_at(hour * 3600, rim, spider))
    return np.array(found)


def checks() -> tuple[Check, ...]:
    require_program("heat_calculix")
    return tuple(
        Check(
            f"HEAT-CCX-{number + 1}",
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
