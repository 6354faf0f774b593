"""Alternatives of one machine side by side: shims, materials, speeds or conditions, each a case of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour.study.inputs import Inputs
from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, default_asked, rotor_model
from rimmodel.planning.predicted import predicted_interval
from rimmodel.rotor.case.case import Case

SAMPLES, SEED = 8192, 1


@dataclass(frozen=True)
class SideBySide:
    """One quantity of all alternatives.

    Attributes
    ----------
    confidence : float, -
        Of all intervals.
    values : tuple of float, SI
        NaN where an alternative has no value.
    intervals : tuple of pair of float, SI
        By the tolerances of each case, as a review prints them.
    differences : tuple of pair of float and interval, SI
        Of the second and every later alternative from the first.
    """

    confidence: ClassVar[float] = 0.95

    asked: Asked
    values: tuple[float, ...]
    intervals: tuple[Interval, ...]
    differences: tuple[tuple[float, Interval], ...]


def side_by_side(cases: Sequence[Case]) -> list[SideBySide]:
    """Predictions of several cases, and how sure their differences are.

    Parameters
    ----------
    cases : sequence of Case
        The first is what the others are compared with.

    Returns
    -------
    list of SideBySide
        In conditions that all cases have, by their names.

    Raises
    ------
    ValueError
        Fewer than two cases, or no condition that all have.

    Notes
    -----
    The tolerances of all cases are drawn together, 8,192 times: a quantity has a kink where the rim lifts off, so
    that a straight line would not do. A tolerance that is the same in two cases, in value and spread, belongs to the
    same part and is drawn once for both; all others are independent from case to case. Derived here.

    One case against itself differs by nothing, surely:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> rows = side_by_side([case, case])
    >>> {(row.differences[0][0], row.differences[0][1]) for row in rows}
    {(0.0, (0.0, 0.0))}
    """
    if len(cases) < 2:
        raise ValueError(f"{len(cases)} case is given; at least two are compared")
    shared = [name for name in cases[0].conditions if all(name in case.conditions for case in cases)]
    if not shared:
        raise ValueError(
            "the cases have no condition of the same name; there are: "
            + "; ".join(", ".join(case.conditions) for case in cases)
        )
    everything = [row for case in cases for row in default_asked(case) if row.condition in shared]
    asked = list(dict.fromkeys(everything))
    inputs = [case_inputs(case) for case in cases]
    models = [rotor_model(case, asked) for case in cases]
    drawn = [model(some.values(cube)) for model, some, cube in zip(models, inputs, _cubes(inputs), strict=True)]
    stated = [model({}) for model in models]
    return [
        _row(
            row,
            [float(one[row.name]) for one in stated],
            tuple(predicted_interval(case, row.quantity, row.condition, SideBySide.confidence) for case in cases),
            [floats(one[row.name]) for one in drawn],
        )
        for row in asked
    ]


def _cubes(inputs: Sequence[Inputs]) -> list[Floats]:
    """Points (dimension, sample) of the unit cube for each case: the same coordinate for what is the same part."""
    from scipy.stats import qmc

    labels: list[tuple[int, str]] = []
    places = []
    for number, some in enumerate(inputs):
        owners = [_owner(inputs, number, row.name) for row in some.marginals]
        own = [(owner, row.name) for owner, row in zip(owners, some.marginals, strict=True)]
        labels += [label for label in own if label not in labels]
        places.append([labels.index(label) for label in own])
    points = qmc.Sobol(max(len(labels), 1), seed=SEED).random(SAMPLES).T
    return [points[place] for place in places]


def _owner(inputs: Sequence[Inputs], number: int, name: str) -> int:
    """The first case in which a tolerance is the same as in a case."""
    rows = [{row.name: row for row in some.marginals} for some in inputs[: number + 1]]
    return next(before for before, table in enumerate(rows) if table.get(name) == rows[number][name])


def _row(asked: Asked, values: Sequence[float], intervals: tuple[Interval, ...], drawn: Sequence[Floats]) -> SideBySide:
    differences = [
        (value - values[0], _interval(np.broadcast_to(some - drawn[0], SAMPLES)))
        for value, some in zip(values[1:], drawn[1:], strict=True)
    ]
    return SideBySide(asked, tuple(values), intervals, tuple(differences))


def _interval(drawn: Floats) -> Interval:
    """Central interval of samples; open where samples without a value reach its ends."""
    tail = (1 - SideBySide.confidence) / 2
    if np.mean(np.isnan(drawn)) > tail:
        return -np.inf, np.inf
    low, high = np.nanquantile(drawn, [tail, 1 - tail], method="closest_observation")
    return float(low), float(high)


def inputs_that_differ(cases: Sequence[Case]) -> dict[str, tuple[Any, ...]]:
    """Keys of the case files that are not the same in all cases, with what each states; None where one has none.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> inputs_that_differ([case, case])
    {}
    """
    stated = [dict(_flat(case.as_read)) for case in cases]
    keys = dict.fromkeys(key for table in stated for key in table)
    rows = {key: tuple(table.get(key) for table in stated) for key in keys}
    return {key: row for key, row in rows.items() if any(value != row[0] for value in row)}


def _flat(table: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{key}.")
        else:
            yield f"{before}{key}", value
