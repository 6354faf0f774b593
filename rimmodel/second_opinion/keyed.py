"""The rotor on its keys as a plane deck: half a pitch of an even fit, or the whole ring with each key by itself."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.second_opinion.bricks import BORE_FACE, OUTSIDE_FACE, THICKNESS, Sector, collection
from rimmodel.second_opinion.drawing import Drawing, Rows, deck_speeds, steps
from rimmodel.second_opinion.printed import Printed
from rimmodel.second_opinion.states import States, bore_values
from rimmodel.second_opinion.text import heading, step_comment

SECTOR, RING = "sector", "ring"
AXIS = "0, 0, 0, 0, 0, 1"
GAUSS = np.array([5.0, 8.0, 5.0]) / 18.0


@dataclass(frozen=True)
class Keyed:
    """The deck of a drawing with keys, and how its results are read.

    Parameters
    ----------
    drawing : Drawing
        With keys.
    whole : bool
        The whole ring, each key with its own interference; else half a pitch with the mean interference.
    """

    drawing: Drawing
    whole: bool = False

    @property
    def name(self) -> str:
        """Of the deck."""
        return RING if self.whole else SECTOR

    @cached_property
    def keys(self) -> range:
        """Numbers of the keys that are drawn, from 1."""
        return range(1, self.drawing.key_count + 1 if self.whole else 2)

    @cached_property
    def _half(self) -> tuple[Floats, int]:
        """Angles (rad) from the middle of a key to half a pitch, and how many bricks lie under the key."""
        half, end = 0.5 * self.drawing.patch, 0.5 * self.drawing.pitch
        finest, widest = (0.35, 0.06) if self.whole else (0.15, 0.03)
        under = half - steps(half, finest * half, 0.6 * half)[::-1]
        if end - half < 1e-9:
            return under, under.size - 1
        beside = half + steps(end - half, finest * half, max(widest, 0.2 * (end - half)))
        return np.concatenate([under, beside[1:]]), under.size - 1

    @cached_property
    def angles(self) -> Floats:
        """Angles of the edges of bricks, rad, from the middle of key 1."""
        half, _ = self._half
        if not self.whole:
            return half
        pitch = np.concatenate([half, self.drawing.pitch - half[-2::-1]])[:-1]
        starts = self.drawing.pitch * np.arange(self.drawing.key_count)
        return np.append((starts[:, None] + pitch).reshape(-1), 2 * np.pi)

    def under(self, key: int) -> list[int]:
        """Bricks in angle that lie under a key, from 1."""
        half, under = self._half
        if not self.whole:
            return list(range(under))
        around = 2 * (half.size - 1)
        middle, every = around * (key - 1), around * self.drawing.key_count
        return [brick % every for brick in range(middle - under, middle + under)]

    @cached_property
    def rim(self) -> tuple[Rows, Sector]:
        """Rows of the rim, and its bricks."""
        rows, first = self.drawing.rim_rows(5 if self.whole else 8, with_poles=self.whole), self.spider[1].last + 1
        return rows, Sector("RIM", first, rows.radii, self.angles, self.whole)

    @cached_property
    def spider(self) -> tuple[Rows, Sector]:
        """Rows of the spider, and its bricks: drawn too large by the interference of each key."""
        rows = self.drawing.spider_rows(coarse=True)
        at_key = np.zeros(self.angles.size - 1, dtype=bool)
        nodes = self.angles.size * 2 - 2 if self.whole else self.angles.size * 2 - 1
        raised = np.full(nodes, self.drawing.interference)
        each = self.drawing.key_interference if self.whole else [self.drawing.interference]
        for key, interference in zip(self.keys, each, strict=True):
            under = np.array(self.under(key))
            at_key[under] = True
            raised[(2 * under[:, None] + np.arange(3)) % nodes] = interference
        solid = ~np.array(rows.under_keys)[:, None] | at_key
        return rows, Sector("SPIDER", 1, rows.radii, self.angles, self.whole, solid, raised, rows.raised_share)

    @cached_property
    def speeds(self) -> Mapping[str, float]:
        """Speeds of the steps by name, rad/s."""
        every = deck_speeds(self.drawing.rotor)
        left_out = ("0.75 x rated", "1.3 x highest")
        wanted = ("standstill", "rated") if self.whole else (name for name in every if name not in left_out)
        return {name: every[name] for name in wanted}

    def lines(self, title: str) -> list[str]:
        """The deck."""
        (_, spider), (_, rim) = self.spider, self.rim
        top = rim.radii.size - 2
        return [
            *heading(title, self._subject(), self.drawing, self._particulars()),
            *(*spider.mesh(), *rim.mesh()),
            *_materials(*self.spider),
            *_materials(*self.rim),
            *self._rows_of_rim(),
            *collection("NSET", "EDGES", self._edge_nodes()),
            *collection("NSET", "FEET", sorted({spider.node(*place) for place in spider.places if place[0] == 0})),
            *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", "RIM, 0", "SPIDER, 0"),
            *collection("ELSET", "TOP", (rim.brick(top, j) for j in range(self.angles.size - 1))),
            *self._surfaces(),
            *self._holds(),
            *(line for name, speed in self.speeds.items() for line in self._step(name, speed)),
        ]

    def _subject(self) -> str:
        count, width = self.drawing.key_count, self.drawing.key_width
        what = (
            "Whole ring: every key with its own interference, the mass of the poles as a thin layer on the outside; "
            "each step is of large displacement (NLGEOM), so that the spin pulls on the ring where it is."
            if self.whole
            else "Half a pitch: from the middle of a key (angle 0) to the middle between it and the next, "
            "the same at every key."
        )
        return f"Plane: {what} {count} keys, {width:g} m wide along the bore; between them rim and spider do not touch."

    def _particulars(self) -> list[str]:
        drawing, share = self.drawing, 1 if self.whole else 2
        each = [
            f"key {key} {interference:.9g} m"
            for key, interference in zip(self.keys, drawing.key_interference, strict=False)
            if self.whole
        ]
        return [
            *([f"KEYS: {', '.join(each)}."] if each else []),
            "PRINTED: displacements along bore, outside and seat (radial first), stress along the bore of the rim (sxx "
            "radial, syy hoop), force of contact of each key "
            f"{'' if self.whole else 'that is drawn, one half '}on the slice. Force of a whole key is that normal "
            f"force times {share * drawing.length / THICKNESS:.9g}.",
        ]

    def _rows_of_rim(self) -> list[str]:
        """Nodes of the rim by radius, for a temperature that changes with it."""
        _, rim = self.rim
        if not float(self.drawing.condition.rim_temperature_rise):
            return []
        return [
            line
            for row in range(rim.radius.size)
            for line in collection("NSET", f"RIMROW{row}", (rim.node(*p) for p in rim.places if p[0] == row))
        ]

    def _edge_nodes(self) -> list[int]:
        """Nodes whose displacement is printed, of the lowest layer."""
        (_, spider), (_, rim) = self.spider, self.rim
        seat = spider.radius.size - 1
        bore = [rim.node(i, j) for i in (0, self._outside_row) for j in range(rim.angle.size)]
        return bore + [spider.node(*place) for place in spider.places if place[0] == seat and place[2] == 0]

    @property
    def _outside_row(self) -> int:
        """Row of nodes at the rim outside, under the layer that stands for the poles."""
        _, rim = self.rim
        return rim.radius.size - (3 if self.whole else 1)

    def _surfaces(self) -> list[str]:
        (_, spider), (_, rim) = self.spider, self.rim
        lines = [
            *("*SURFACE INTERACTION, NAME=FIT", "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR"),
            f"{self.drawing.contact_stiffness:.9g}",
        ]
        for key in self.keys:
            under = self.under(key)
            lines += [
                *(f"*SURFACE, NAME=BORE{key}", *(f"{rim.brick(0, j)}, S{BORE_FACE}" for j in under)),
                *(f"*SURFACE, NAME=SEAT{key}", *(f"{spider.brick(-1, j)}, S{OUTSIDE_FACE}" for j in under)),
                *("*CONTACT PAIR, INTERACTION=FIT, TYPE=SURFACE TO SURFACE", f"BORE{key}, SEAT{key}"),
            ]
        every = [spider.brick(-1, j) for key in self.keys for j in self.under(key)]
        return [*lines, *collection("ELSET", "SEATS", every)]

    def _holds(self) -> list[str]:
        """What keeps a whole ring from turning, and its spider in the middle."""
        if not self.whole:
            return []
        _, rim = self.rim
        return ["** nothing but this keeps the rim from turning, and the spider in the middle", "*BOUNDARY",
                f"{rim.node(self._outside_row, 0)}, 2, 2", "FEET, 2, 2"]  # fmt: skip

    def _step(self, name: str, speed: float) -> list[str]:
        loads, (_, rim) = self.drawing.loads(speed, with_poles=self.whole), self.rim
        turning = f"CENTRIF, {speed**2:.14g}, {AXIS}"
        feet = ["*BOUNDARY", f"FEET, 1, 1, {loads.foot:.14g}"] if self.drawing.on_feet else []
        rises = self.drawing.rim_rises(rim.radius)
        warm = [f"RIMROW{row}, {rise:.9g}" for row, rise in enumerate(rises)]
        warm = warm if float(self.drawing.condition.rim_temperature_rise) else [f"RIM, {self.drawing.rim_rise:.9g}"]
        forces = [
            line
            for key in self.keys
            for line in (f"*CONTACT PRINT, SLAVE=BORE{key}, MASTER=SEAT{key}, TOTALS=ONLY", "CF")
        ]
        return [
            *step_comment(name, loads),
            *(f"*STEP, INC=1000{', NLGEOM' if self.whole else ''}", "*STATIC", "1, 1"),
            *feet,
            *("*TEMPERATURE", f"SPIDER, {self.drawing.spider_rise:.9g}", *warm),
            *("*DLOAD, OP=NEW", f"RIM, {turning}", f"SPIDER, {turning}"),
            f"TOP, P{OUTSIDE_FACE}, {-loads.outside:.14g}",
            f"SEATS, P{OUTSIDE_FACE}, {-loads.tip:.14g}",
            *("*NODE PRINT, NSET=EDGES, GLOBAL=NO", "U", "*EL PRINT, ELSET=RIMBORE", "S"),
            *(*forces, "*END STEP"),
        ]

    def key_force(self, printed: list[Printed]) -> Floats:
        """Force (n, keys) of each whole key on the whole rim in each state, N."""
        scale = (1 if self.whole else 2) * self.drawing.length / THICKNESS
        rows = [[state.contact_force[f"BORE{key}"] for key in self.keys] for state in printed]
        return scale * np.array(rows)

    def states(self, printed: list[Printed]) -> States:
        """What a reviewer asks, from the printed results of all states or of the first."""
        (_, spider), (_, rim) = self.spider, self.rim
        drawing, key, names = self.drawing, 1, tuple(self.speeds)[: len(printed)]
        area = 2 * np.pi * drawing.bore * drawing.length
        pressure = self.key_force(printed).mean(axis=1) * drawing.key_count / area
        bore = [self._mean(s, [rim.node(0, j) for j in range(rim.angle.size)], self._all) for s in printed]
        outside = [
            self._mean(s, [rim.node(self._outside_row, j) for j in range(rim.angle.size)], self._all) for s in printed
        ]
        under = self.under(key)
        apart = []
        for state in printed:
            both = [
                self._mean(state, [part.node(row, j) for j in range(part.angle.size)], under)
                for part, row in ((rim, 0), (spider, spider.radius.size - 1))
            ]
            apart.append(both[0] - both[1] - drawing.interference)
        speed = np.array([self.speeds[name] for name in names])
        hoop = np.array([self._bore_hoop(state) for state in printed])
        return States(
            names, speed, pressure, np.array(apart), np.array(bore), np.array(outside), hoop
        )  # fmt: skip

    @property
    def _all(self) -> list[int]:
        return list(range(self.angles.size - 1))

    def _mean(self, state: Printed, nodes: list[int], bricks: Iterable[int]) -> float:
        """Mean radial displacement over bricks, by Simpson's rule on the three nodes along each."""
        widths, total, around = np.diff(self.angles), 0.0, 0.0
        for j in bricks:
            ends = [state.radial[nodes[(2 * j + step) % len(nodes)]] for step in range(3)]
            total += widths[j] * (ends[0] + 4 * ends[1] + ends[2]) / 6
            around += widths[j]
        return float(total / around)

    def _bore_hoop(self, state: Printed) -> float:
        """Mean hoop stress around the bore."""
        _, rim = self.rim
        widths = np.diff(self.angles)
        along = [bore_values(state.stress[rim.brick(0, j)][:, 1]).mean(axis=0) @ GAUSS for j in self._all]
        return float(np.array(along) @ widths / widths.sum())


def _materials(rows: Rows, part: Sector) -> list[str]:
    """Bricks of each steel as a set of their own, with its material."""
    lines = []
    for number, (steel, of_steel) in enumerate(rows.sets().items(), start=1):
        name = f"{part.name}{number}"
        lines += [
            *collection("ELSET", name, (part.brick(i, j) for i, j in part.bricks if i in of_steel)),
            *steel.section(name, name, f"{part.name}AXES"),
        ]
    return lines
