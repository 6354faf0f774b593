"""Within which interference each requirement and each limit is kept: the edges of the shrink window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.limits.check import Check
from rimmodel.behaviour.limits.machine import checks
from rimmodel.behaviour.quantities import plain_name, quantity_text, quantity_values
from rimmodel.evidence.measured import scatter
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import array_shape
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import Requirement

SCAN = 801
"""Interferences looked at from zero to the widest; edges closer together than one step are not distinguished."""

FINER, ROUNDS = 65, 6
"""Each round cuts a bracket into 64 parts: six of them reach rounding error."""

CONFIDENCE = 0.95
"""Of the edges that limits set; a requirement states its own."""

WIDEST_SHARE = 1.5e-3
"""Of the bore radius: three times the tightest shrink in use (0.2 to 0.5 permille, from memory)."""

Margins = Callable[[Floats], Floats]
"""From interferences (n,) to margins (criterion, n)."""


@dataclass(frozen=True)
class Edge:
    """Range of radial interference in which one criterion is kept.

    Attributes
    ----------
    role : str
        "requirement", "limit" or "assembly".
    low, high : float, m
        Infinite where the criterion sets no edge; `low` above `high` means that it is not met anywhere.
    confidence : float, -
    deviation : float or None, m
        Standard uncertainty of the distance from the present interference to this edge, where a run shows both
        together.
    missing : str
        Input without which it cannot be checked; nothing is then shown to keep it.
    """

    name: str
    at: str
    condition: str
    role: str
    low: float
    high: float
    confidence: float
    source: str
    note: str = ""
    deviation: float | None = None
    missing: str = ""

    @property
    def nowhere(self) -> bool:
        """Whether no interference keeps it."""
        return self.low > self.high

    @property
    def words(self) -> str:
        """The name with the state in which it counts."""
        where = [part for part in (self.at, self.condition) if part and part not in self.name]
        return f"{self.name} ({', '.join(where)})" if where else self.name


@dataclass(frozen=True)
class Machine:
    """A machine whose interference is looked for.

    Attributes
    ----------
    case : Case
        With the rotor as it is now.
    carrier : Rotor or None
        Spider and keys as built, where the rotor knows their stiffness alone.
    settled : float, m
        What the interference of the rotor has lost beyond the settlement that the case states: counted on top of an
        interference that is there now.
    """

    case: Case
    carrier: Rotor | None = None
    settled: float = 0.0

    def with_interference(self, interference: Floats) -> Rotor:
        """The rotor with an interference that is there now.

        A drawing is assembled to its cold gap with any interference. A rotor that was measured stands: other shims
        leave its floating rim where it is.

        Parameters
        ----------
        interference : array, m
        """
        rotor = self.case.rotor
        return self.with_extra(rotor, interference + self.settled - rotor.fit.interference)

    def with_extra(self, rotor: Rotor, extra: Floats | float) -> Rotor:
        """A rotor of this machine with shims thicker by so much.

        Parameters
        ----------
        extra : float or array, m
        """
        if self.carrier is None:
            return rotor.with_interference(rotor.fit.interference + extra)
        return rotor.shimmed(extra)

    def margins(self, rotor: Rotor) -> list[Floats]:
        """Margins of all requirements, then of all limits that decide and can be checked, for a rotor.

        Returns
        -------
        list of array, -
        """
        of_limits = [row.margin for row in self.deciding(rotor) if not row.missing]
        own = [requirement_margin(self, row, rotor) for row in requirements(self.case)]
        return own + of_limits

    def deciding(self, rotor: Rotor) -> list[Check]:
        """The checks of a rotor that decide."""
        case = self.case
        rows = checks(rotor, case.conditions, case.limits, case.torque, case.duty, self.carrier)
        return [row for row in rows if row.binding]


def edges_of(machine: Machine, widest: float) -> tuple[tuple[Edge, ...], tuple[Check, ...]]:
    """Edges of all requirements and limits, in the order of `Machine.margins`, and the checks that lack input.

    Parameters
    ----------
    widest : float, m
        Interference up to which is looked.

    Returns
    -------
    tuple of Edge, tuple of Check
    """
    case = machine.case
    rows = machine.deciding(machine.with_interference(np.zeros(1)))
    known = [row for row in rows if not row.missing]
    asked = requirements(case)

    def margins(interference: Floats) -> Floats:
        both = machine.margins(machine.with_interference(interference))
        return np.stack([np.broadcast_to(np.nan_to_num(some, nan=-np.inf), interference.shape) for some in both])

    ranges = _ranges(margins, widest)
    found = [_of_requirement(case, row, span) for row, span in zip(asked, ranges, strict=False)]
    for number, (row, span) in enumerate(zip(known, ranges[len(asked) :], strict=True)):
        condition = _decisive(machine, number, span)
        note = "; ".join(part for part in (row.note, span.note) if part)
        found.append(Edge(row.name, row.at, condition, "limit", span.low, span.high, CONFIDENCE, row.source, note))
    return tuple(found), tuple(row for row in rows if row.missing)


def requirements(case: Case) -> list[Requirement]:
    """Requirements of the case, with a default float speed in every condition where it asks for none."""
    asked = list(case.requirements)
    if not any(row.quantity == "float_speed" and row.at_least is not None for row in asked):
        ratio = float(case.limits.float_speed_ratio)
        least = ratio * float(case.rotor.speeds.rated)
        name = f"float speed of {ratio:g} x rated, {case.limits.source('float_speed_ratio')}"
        asked += [Requirement(name, "float_speed", state, least, None, CONFIDENCE) for state in case.conditions]
    return asked


def _decisive(machine: Machine, number: int, span: _Range) -> str:
    """Condition that sets the edge of a limit; empty where there is no edge."""
    place = next((edge for edge in (span.high, span.low) if np.isfinite(edge)), None)
    if place is None:
        return ""
    rows = machine.deciding(machine.with_interference(np.array(place)))
    return [row for row in rows if not row.missing][number].condition


def requirement_margin(machine: Machine, row: Requirement, rotor: Rotor, condition: Condition | None = None) -> Floats:
    """Share of its bound by which a requirement is met by a rotor, in its condition or in that given.

    Returns
    -------
    array, -
    """
    if condition is None:
        _, condition = machine.case.condition(row.condition)
    case, at_least = machine.case, row.at_least is not None
    drawn = case if machine.carrier is None else replace(case, rotor=machine.carrier)
    sides = scatter.scatter_worth(drawn, row.quantity, case.condition(row.condition)[0], row.confidence)
    worth = sides[0 if at_least else 1]
    if not np.isfinite(worth):  # nothing says how far a shim may be from what is stated
        return np.full(array_shape(rotor, condition), np.nan)
    rotor = rotor.with_interference(rotor.fit.interference + worth) if worth else rotor
    value = quantity_values(rotor, condition, [row.quantity], machine.carrier)[row.quantity]
    bound = float(row.at_least if row.at_least is not None else row.at_most or 0.0)
    share = (value - bound) / abs(bound) if bound else value - bound
    return share if at_least else -share


def _of_requirement(case: Case, row: Requirement, span: _Range) -> Edge:
    bound = (
        f"at least {quantity_text(row.quantity, row.at_least)}"
        if row.at_least
        else f"at most {quantity_text(row.quantity, row.at_most)}"
    )
    missing, why = scatter.unknown_shims(case, row.quantity)
    parts = f"{plain_name(row.quantity)} {bound}", span.note, why
    note = "; ".join(part for part in parts if part)
    condition = case.condition(row.condition)[0]
    return Edge(
        row.name, "", condition, "requirement", span.low, span.high, row.confidence, "the case", note, missing=missing
    )


@dataclass(frozen=True)
class _Range:
    """The widest range in which one criterion is kept; infinite ends are open, (inf, -inf) is nowhere."""

    low: float
    high: float
    note: str = ""


def _ranges(margins: Margins, widest: float) -> list[_Range]:
    """For each criterion the range of interference in which its margin is not below zero."""
    grid = np.linspace(0.0, widest, SCAN)
    kept = margins(grid) >= 0
    turns = np.argwhere(kept[:, 1:] != kept[:, :-1])  # (criterion, left end of the bracket)
    exact = _refined(margins, turns[:, 0], grid[turns[:, 1]], grid[turns[:, 1] + 1])
    return [_range_of(kept[number], exact[turns[:, 0] == number]) for number in range(len(kept))]


def _range_of(kept: np.ndarray[tuple[int], np.dtype[np.bool_]], crossings: Floats) -> _Range:
    if not len(crossings):
        return _Range(-np.inf, np.inf) if kept[0] else _Range(np.inf, -np.inf)
    ends: Sequence[float] = [*([-np.inf] if kept[0] else []), *map(float, crossings), *([np.inf] if kept[-1] else [])]
    spans = list(zip(ends[::2], ends[1::2], strict=True))
    widest = max(spans, key=lambda span: span[1] - span[0])
    note = "" if len(spans) == 1 else f"met in {len(spans)} separate ranges; the widest is given"
    return _Range(*widest, note)


def _refined(margins: Margins, row: np.ndarray[tuple[int], np.dtype[np.intp]], low: Floats, high: Floats) -> Floats:
    """Crossings of the margin of each `row` through zero, bracketed by `low` and `high`."""
    if not len(row):
        return low
    step = np.linspace(0.0, 1.0, FINER)
    pick = np.arange(len(row))
    for _ in range(ROUNDS):
        inside = low[:, None] + (high - low)[:, None] * step
        kept = margins(inside.ravel())[row].reshape(len(row), len(row), FINER)[pick, pick] >= 0
        first = np.argmax(kept[:, 1:] != kept[:, :-1], axis=1)
        low, high = inside[pick, first], inside[pick, first + 1]
    middle: Floats = (low + high) / 2
    return middle
