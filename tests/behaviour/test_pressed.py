"""Influence coefficients of the pressed rim against the contact key by key, which takes another path."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.shape import profile
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.pressed import pressed_forces, pressed_outline
from rimmodel.behaviour.keys.run import key_run
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
POLES = 2 * np.pi * np.arange(48) / 48
SHAPE = (ShapeHarmonic(1, 0.1e-3, 0.4), ShapeHarmonic(2, 0.3e-3, 1.0), ShapeHarmonic(5, 0.05e-3))
ROTOR = replace(CASE.rotor, rim=replace(CASE.rotor.rim, shape=SHAPE))


def uneven(seed):
    return 2.1e-3 + np.random.default_rng(seed).normal(0.0, 0.05e-3, 14)


@pytest.mark.parametrize("name", ["cold", "hot"])
@pytest.mark.parametrize("speed", [0.0, 9.0, 14.0])
def test_forces_of_seated_keys_are_those_of_the_contact(name, speed):
    """The rotor is set up with other keys than it is asked for: influence alone leads from the ones to the others."""
    condition, keys = CASE.conditions[name], uneven(1)
    mean = np.full(14, keys.mean())
    influence, rest = pressed_forces(keyed_rotor(ROTOR, condition, mean), speed**2)
    force = key_run(ROTOR, condition, [speed], key_interference=keys).key_force[0]
    assert force.min() > 0.0
    assert influence @ keys + rest == pytest.approx(force, rel=1e-9)


def test_the_outline_is_that_of_the_contact_as_built_shape_and_offset_included():
    keys = uneven(2)
    matrix, rest = pressed_outline(keyed_rotor(ROTOR, CASE.conditions["cold"], np.full(14, keys.mean())), POLES)
    harmonics = key_run(ROTOR, CASE.conditions["cold"], [0.0], key_interference=keys).outer_harmonics[0].copy()
    harmonics[0] = 0.0
    shape = profile(harmonics, POLES)
    assert matrix @ keys + rest == pytest.approx(shape - shape.mean(), abs=1e-12)


@pytest.mark.derived
def test_a_shift_of_all_keys_to_one_side_moves_the_rim_and_bends_it_little():
    """cos(angle) over the keys is a rigid shift: every key keeps its force, the outline is that cosine."""
    keyed = keyed_rotor(replace(CASE.rotor, rim=replace(CASE.rotor.rim, shape=())), CASE.conditions["cold"], uneven(3))
    shift = 0.1e-3 * np.cos(keyed.key_angle)
    influence, _ = pressed_forces(keyed, 0.0)
    assert np.abs(influence @ shift).max() < 1e-6 * (influence @ np.full(14, 0.1e-3)).max()
    assert pressed_outline(keyed, POLES)[0] @ shift == pytest.approx(0.1e-3 * np.cos(POLES), abs=1e-9)


def test_a_pull_beyond_the_keys_is_refused():
    keyed = keyed_rotor(CASE.rotor, CASE.conditions["cold"], uneven(4))
    loads = replace(keyed.loads, stiffness=keyed.loads.stiffness - 1e15)
    with pytest.raises(ValueError, match="do not hold the rim"):
        pressed_forces(replace(keyed, loads=loads), 0.0)
