"""The shapes that docstrings give to the fields of results are those that the built-in case has."""

import ast
import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.shape import free_shape
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.tolerance import key_study
from rimmodel.behaviour.study.blocks import plan_study, run_blocks
from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model
from rimmodel.elastic import Ring, nested_rings
from rimmodel.evidence.knee.broken_line import full_scan
from rimmodel.evidence.knee.points import checked_points
from rimmodel.evidence.reduction.condensed import reduce_recording
from rimmodel.evidence.reduction.rotor_shape import rotor_shape
from rimmodel.planning.proving_run import run_plan
from rimmodel.verdict.records import check_records, measure_records
from rimmodel.verdict.tolerance_study import run_study
from tests.docstring_rules import Entry, entries, package_items


def stated() -> dict[str, dict[str, Entry]]:
    """Entries by field of every public class that lists its fields."""
    classes = [item for item in package_items() if isinstance(item.node, ast.ClassDef)]
    return {
        item.name: {name: entry for part in ("Parameters", "Attributes") for entry in entries(item.doc, part) or ()
                    for name in entry.names}
        for item in classes
    }  # fmt: skip


def results() -> Iterator[Any]:
    """Results of every layer, from the built-in case."""
    case = rm.example_case()
    rotor, cold, hot = case.rotor, case.conditions["cold"], case.conditions["hot"]
    keyed, speed, x = keyed_rotor(rotor, cold), np.linspace(0.0, 20.0, 7), np.arange(30.0)
    yield nested_rings([Ring(0.5, 1.0, 2e11, 0.3, 7850.0), Ring(1.0, 2.0, 2e11, 0.3, 7850.0)], [1e-4])
    yield from (rm.sweep(rotor, hot, speed), coefficients(rotor, hot), free_shape(rotor, hot, speed))
    yield from (keyed, follow(keyed.loads), keyed.loads.at(100.0))
    yield key_study(rotor, cold, np.full((3, 14), 2.1e-3))
    plan = plan_study(rotor_model(case), case_inputs(case), 2**13)
    yield from (plan, run_blocks(plan, range(1)), run_study(case, 2**13, index_samples=256), run_plan(case))
    yield full_scan(checked_points(x, -np.maximum(x - 15.0, 0.0), None, None, -1.0)[0])
    yield measure_records(case)
    for _, recording in check_records(case):
        yield reduce_recording(recording)
        if "pole" in recording.columns:
            yield rotor_shape(recording, plane=recording.planes[0])


def parts(thing: Any) -> Iterator[Any]:
    """Every dataclass within a result, itself included."""
    if dataclasses.is_dataclass(thing):
        yield thing
        for field in dataclasses.fields(thing):
            yield from parts(getattr(thing, field.name))
    elif isinstance(thing, dict | tuple | list):
        for part in thing.values() if isinstance(thing, dict) else thing:
            yield from parts(part)


def wrong_shapes(thing: Any, listed: dict[str, Entry]) -> Iterator[str]:
    """Fields that are not of the shape told; a letter stands for one length throughout the object."""
    lengths: dict[str, int] = {}
    for name, entry in listed.items():
        held = getattr(thing, name)
        for value in held.values() if isinstance(held, dict) else (held,):
            told = re.search(r"array \(([^()]*)\)$", entry.kind)
            if isinstance(value, np.ndarray) and "array" not in entry.kind:
                yield f"{name} is an array of shape {value.shape}, described as '{entry.kind}'"
            if told is None or "..." in told[1] or value is None:
                continue
            letters = [letter.strip() for letter in told[1].split(",") if letter.strip()]
            found = dict(zip(letters, np.shape(value), strict=False))
            expected = {letter: int(letter) if letter.isdigit() else lengths.get(letter) for letter in letters}
            lengths = found | lengths
            if len(letters) != np.ndim(value) or any(expected[at] not in (None, found[at]) for at in letters):
                yield f"{name} has shape {np.shape(value)}, described as '{entry.kind}' with {lengths}"


def test_fields_have_the_shapes_told() -> None:
    told = stated()
    wrong, seen = [], set()
    for result in results():
        for part in parts(result):
            name = f"{type(part).__module__}.{type(part).__qualname__}".removeprefix("rimmodel.")
            seen.add(name)
            wrong += [f"{name}: {fault}" for fault in wrong_shapes(part, told.get(name, {}))]
    assert not wrong, "\n".join(sorted(set(wrong)))
    assert {
        "behaviour.contact.sweep.Sweep",
        "evidence.knee.fit.Knee",
        "evidence.reduction.outline.Outline",
    } <= seen


@pytest.mark.parametrize(
    ("kind", "expected"),
    [("array (n, m)", "has shape (3,)"), ("array (2,)", "has shape (3,)"), ("float", "is an array of shape (3,)")],
)
def test_wrong_shape_is_told(kind: str, expected: str) -> None:
    thing = dataclasses.make_dataclass("Thing", ["x"])(np.zeros(3))
    (fault,) = wrong_shapes(thing, {"x": Entry(("x",), kind, "m")})
    assert expected in fault


def test_one_letter_is_one_length() -> None:
    thing = dataclasses.make_dataclass("Thing", ["x", "y"])(np.zeros(3), np.zeros(4))
    told = {name: Entry((name,), "array (n,)", "m") for name in "xy"}
    assert len(list(wrong_shapes(thing, told))) == 1
