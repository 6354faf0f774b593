"""The even rotor as an axisymmetric deck: spider and rim touch all round, the same at every angle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rimmodel.second_opinion.bricks import THICKNESS, collection
from rimmodel.second_opinion.drawing import Drawing, Rows, deck_speeds
from rimmodel.second_opinion.printed import Printed
from rimmodel.second_opinion.slices import INSIDE_FACE, OUTSIDE_FACE, WEDGE, Slice
from rimmodel.second_opinion.states import States, bore_values
from rimmodel.second_opinion.text import heading, step_comment

NAME = "axisymmetric"
AXIS = "0, 0, 0, 0, 1, 0"
RIM_FIRST = 10001


@dataclass(frozen=True)
class Axisymmetric:
    """The deck of a drawing without keys, and how its results are read."""

    drawing: Drawing

    @cached_property
    def spider(self) -> tuple[Rows, Slice]:
        """Rows of the spider, and its elements: drawn too large by the interference."""
        rows = self.drawing.spider_rows()
        return rows, Slice("SPIDER", 1, rows.radii + self.drawing.interference * rows.raised_share[::2])

    @cached_property
    def rim(self) -> tuple[Rows, Slice]:
        """Rows of the rim, and its elements."""
        rows = self.drawing.rim_rows()
        return rows, Slice("RIM", RIM_FIRST, rows.radii)

    @cached_property
    def speeds(self) -> Mapping[str, float]:
        """Speeds of the steps by name, rad/s."""
        return deck_speeds(self.drawing.rotor)

    def lines(self, title: str) -> list[str]:
        """The deck."""
        (_, spider), (_, rim) = self.spider, self.rim
        ends = (rim.node(0), rim.node(-1), spider.node(-1))
        return [
            *heading(title, "Axisymmetric: rim and spider touch all round.", self.drawing, self._particulars()),
            *(*spider.mesh(), *rim.mesh()),
            f"*ORIENTATION, NAME=AXES, SYSTEM=CYLINDRICAL\n{AXIS}",
            *_materials(*self.spider),
            *_materials(*self.rim),
            *collection("NSET", "FEET", [spider.node(0, k) for k in range(3)]),
            *collection("NSET", "ENDS", ends),
            *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", "RIM, 0", "SPIDER, 0"),
            f"*SURFACE, NAME=RIMBORE\n{rim.element(0)}, S{INSIDE_FACE}",
            f"*SURFACE, NAME=SEAT\n{spider.element(-1)}, S{OUTSIDE_FACE}",
            *("*SURFACE INTERACTION, NAME=FIT", "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR"),
            f"{self.drawing.contact_stiffness:.9g}",
            *("*CONTACT PAIR, INTERACTION=FIT, TYPE=SURFACE TO SURFACE", "RIMBORE, SEAT"),
            *(line for name, speed in self.speeds.items() for line in self._step(name, speed)),
        ]

    def _particulars(self) -> list[str]:
        (_, spider), (_, rim) = self.spider, self.rim
        return [
            f"PRINTED: radial displacement of nodes {rim.node(0)} (rim bore), {rim.node(-1)} (rim outside) and "
            f"{spider.node(-1)} (seat on the spider); stress at the bore of the rim, in element {rim.element(0)} "
            "(sxx radial, syy hoop); force of contact on 2 degrees of the slice. Contact pressure is that normal "
            f"force over {self.drawing.bore * WEDGE * THICKNESS:.9g} m2.",
        ]

    def _step(self, name: str, speed: float) -> list[str]:
        (_, spider), (_, rim) = self.spider, self.rim
        loads = self.drawing.loads(speed)
        turning = f"CENTRIF, {speed**2:.14g}, {AXIS}"
        feet = ["*BOUNDARY", f"FEET, 1, 1, {loads.foot:.14g}"] if self.drawing.on_feet else []
        rises = enumerate(self.drawing.rim_rises(rim.radius))
        warm = [f"{rim.node(i, k)}, {rise:.9g}" for i, rise in rises for k in ((0, 2) if i % 2 else (0, 1, 2))]
        warm = warm if float(self.drawing.condition.rim_temperature_rise) else [f"RIM, {self.drawing.rim_rise:.9g}"]
        return [
            *step_comment(name, loads),
            *("*STEP, INC=1000", "*STATIC", "1, 1"),
            *feet,
            *("*TEMPERATURE", f"SPIDER, {self.drawing.spider_rise:.9g}", *warm),
            *("*DLOAD, OP=NEW", f"RIM, {turning}", f"SPIDER, {turning}"),
            f"{rim.element(-1)}, P{OUTSIDE_FACE}, {-loads.outside:.14g}",
            f"{spider.element(-1)}, P{OUTSIDE_FACE}, {-loads.tip:.14g}",
            *("*NODE PRINT, NSET=ENDS", "U", "*EL PRINT, ELSET=RIMBOREROW", "S"),
            *("*CONTACT PRINT, SLAVE=RIMBORE, MASTER=SEAT, TOTALS=ONLY", "CF", "*END STEP"),
        ]

    def states(self, printed: list[Printed]) -> States:
        """What a reviewer asks, from the printed results."""
        (_, spider), (_, rim) = self.spider, self.rim
        speed = np.array(list(self.speeds.values()))
        area = self.drawing.bore * WEDGE * THICKNESS
        bore, outside, seat = (
            np.array([state.radial[node] for state in printed]) for node in (rim.node(0), rim.node(-1), spider.node(-1))
        )
        hoop = [float(bore_values(state.stress[rim.element(0)][:, 1]).mean()) for state in printed]
        pressure = np.array([state.contact_force["RIMBORE"] for state in printed]) / area
        clearance = bore - seat - self.drawing.interference
        return States(tuple(self.speeds), speed, pressure, clearance, bore, outside, np.array(hoop))


def _materials(rows: Rows, part: Slice) -> list[str]:
    """Elements of each steel as a set of their own, with its material."""
    lines = collection("ELSET", f"{part.name}BOREROW", [part.element(0)])
    for number, (steel, of_steel) in enumerate(rows.sets().items(), start=1):
        name = f"{part.name}{number}"
        lines += [*collection("ELSET", name, map(part.element, of_steel)), *steel.section(name, name, "AXES")]
    return lines
