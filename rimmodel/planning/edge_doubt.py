"""How surely the shim that leads to an edge is known: from a run that shows both together, or from the drawing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.limits.machine import AS_ASSEMBLED, checks_in
from rimmodel.behaviour.study.propagation import propagate
from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model
from rimmodel.evidence.measured.machine import by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.edges import Edge, Machine, requirement_margin, requirements
from rimmodel.planning.predicted import has_other_tolerances, standard_errors
from rimmodel.rotor import UNIFORM_COLD, Condition, Rotor

STEP = 1e-6
"""Metres of shim by which a margin is differentiated."""


def with_deviations(
    edges: Sequence[Edge], machine: Machine, measurement: Measurement, present: float
) -> tuple[Edge, ...]:
    """The edges with the standard uncertainty of the shim that leads to each.

    A stiffer rim than thought means less interference behind the same knee, and moves the edge as well: a run knows the
    shim to an edge better, or worse, than the interference by itself. Every machine that the recording may show
    (`evidence.measured_machine`) needs a shim of its own, ``s - m(s)/m'(s)`` with the margin m at the edge of the best
    one (a Newton step); what lies between them counts, once for each cause. Derived here.

    Parameters
    ----------
    edges : sequence of Edge
        Requirements first, then limits.
    present : float, m
        Interference that is there now.

    Returns
    -------
    tuple of Edge
        As they were where an edge has no end, or the recording does not bound its shim.
    """
    return tuple(_with_deviation(number, edge, machine, measurement, present) for number, edge in enumerate(edges))


def with_tolerances(edges: Sequence[Edge], machine: Machine, present: float) -> tuple[Edge, ...]:
    """The edges of a drawn machine with the standard uncertainty of the shim to each, from all tolerances of the case.

    The shim ``s - m(s)/m'(s)`` of each neighbour of the drawn machine (as in `with_deviations`), propagated linearly.

    Parameters
    ----------
    edges : sequence of Edge
        Requirements first, then limits.
    present : float, m
        Interference of the drawing.

    Returns
    -------
    tuple of Edge
        As they were where an edge has no end, and where the case has no tolerance beside that of the interference.
    """
    if not has_other_tolerances(machine.case):
        return tuple(edges)
    ends = {number: end for number, edge in enumerate(edges) if (end := _end(edge)) is not None}
    model = rotor_model(machine.case, ())

    def shims(table: Mapping[str, Floats]) -> dict[str, Floats]:
        rotor, conditions = model.machine(table)
        return {
            str(number): _shim_to(number, edges[number], machine, end - present)(
                rotor, conditions.get(edges[number].condition, UNIFORM_COLD)
            )
            for number, end in ends.items()
        }

    spread = dict(zip(ends, propagate(shims, case_inputs(machine.case)).standard_uncertainty, strict=True))
    return tuple(
        replace(edge, deviation=float(spread[number])) if np.isfinite(spread.get(number, np.nan)) else edge
        for number, edge in enumerate(edges)
    )


def _end(edge: Edge) -> float | None:
    """The finite end of an edge, the lower first."""
    return None if edge.nowhere else next((end for end in (edge.low, edge.high) if np.isfinite(end)), None)


def _with_deviation(number: int, edge: Edge, machine: Machine, measurement: Measurement, present: float) -> Edge:
    end = _end(edge)
    if end is None or not measurement.machines:
        return edge
    asked = _shim_to(number, edge, machine, end - present)
    condition = measurement.condition if edge.condition == AS_ASSEMBLED else edge.condition
    low, high = by_test(measurement.machines, asked, condition).interval
    half = high - (end - present) if end == edge.low else (end - present) - low
    if not np.isfinite(half):
        return edge
    return replace(edge, deviation=max(half, 0.0) / standard_errors(measurement.confidence))


def _shim_to(number: int, edge: Edge, machine: Machine, shim: float) -> Callable[[Rotor, Condition], Floats]:
    """The shim that takes each of several rotors to an edge, from that of the best rotor."""

    def asked(rotor: Rotor, condition: Condition) -> Floats:
        state = UNIFORM_COLD if edge.condition == AS_ASSEMBLED else condition

        def margin(extra: float) -> Floats:
            return _margin(number, edge, machine, machine.with_extra(rotor, extra), state)

        with np.errstate(divide="ignore", invalid="ignore"):  # a margin without bound has no slope
            slope = (margin(shim + STEP) - margin(shim - STEP)) / (2 * STEP)
            found: Floats = shim - margin(shim) / slope
        return found

    return asked


def _margin(number: int, edge: Edge, machine: Machine, rotor: Rotor, condition: Condition) -> Floats:
    case, asked = machine.case, requirements(machine.case)
    if number < len(asked):
        return requirement_margin(machine, asked[number], rotor, condition)
    rows = checks_in(condition, edge.condition, rotor, case.limits, case.torque, case.duty, machine.carrier)
    return next(row.margin for row in rows if (row.name, row.at) == (edge.name, edge.at))
