"""The stored machine: every rule at the field that it guards, arrays in any field, and the walk in blocks."""

import re
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from rimmodel.behaviour import float_speed
from rimmodel.rotor import (
    AirGap,
    ArmSpider,
    Condition,
    DiscSpider,
    GivenSpider,
    Poles,
    Rim,
    Rotor,
    ShrinkFit,
    Speeds,
)
from rimmodel.rotor.blocks import BLOCK, array_shape, blocks, map_arrays
from rimmodel.rotor.case.case import example_case
from rimmodel.rotor.rotor import RotorError
from rimmodel.units import RPM
from tests.invented_steels import RIM_STEEL

STEEL = replace(RIM_STEEL, yield_strength=None)
RIM = Rim(STEEL, 3.0, 3.4, 1.5)
POLES = Poles(40, 3000.0, 3.62, 3.85)
ARMS = ArmSpider(STEEL, 12, 0.05, 1.1)
ROTOR = Rotor(RIM, POLES, ARMS, ShrinkFit(1.8e-3), AirGap(15e-3), Speeds(150 * RPM, 210 * RPM))


@pytest.mark.parametrize(
    ("stored", "field", "value", "words"),
    [
        (STEEL, "young_modulus", 0.0, "young_modulus is 0 Pa; it must be above zero"),
        (STEEL, "poisson_ratio", 0.5, "poisson_ratio is 0.5; it must be 0 or above and below 0.5"),
        (STEEL, "density", float("nan"), "density is nan kg/m^3; it must be above zero"),
        (STEEL, "thermal_expansion", -1e-6, "thermal_expansion is -1e-06 1/K; it must be"),
        (RIM, "inner_radius", -3.0, "inner_radius is -3 m; it must be above zero"),
        (RIM, "outer_radius", 2.9, "outer_radius is 2.9 m, inner_radius 3.0 m"),
        (RIM, "stacking_factor", 1.01, "stacking_factor is 1.01; it must be above 0 and at most 1"),
        (RIM, "hoop_stiffness_factor", 0.0, "hoop_stiffness_factor is 0; it must be"),
        (POLES, "count", 1, "count is 1; it must be a whole number of 2 or more"),
        (POLES, "count", 40.5, "count is 40.5; it must be a whole number"),
        (POLES, "mass", np.array([3000.0, -1.0]), "mass is -1 kg; it must be above zero"),
        (ARMS, "arm_area", 0.0, "arm_area is 0 m^2; it must be above zero"),
        (ARMS, "hub_bore_radius", 0.5, "give both hub_bore_radius and hub_length"),
        (ROTOR.fit, "interference", float("inf"), "interference is inf m; it must be"),
        (ROTOR.fit, "interference_tolerance", -1e-4, "interference_tolerance is -0.0001 m"),
        (ROTOR.air_gap, "cold", 0.0, "cold is 0 m; it must be above zero"),
        (ROTOR.speeds, "rated", -150 * RPM, "rated is -150 rpm; it must be above zero"),
        (ROTOR.speeds, "overspeed", 140 * RPM, "overspeed is 140 rpm; it must be at least rated, 150 rpm"),
        (ROTOR.speeds, "runaway", 200 * RPM, "runaway is 200 rpm; it must be at least overspeed, 210 rpm"),
        (Condition(), "flux_density", -0.1, "flux_density is -0.1 T; it must be"),
        (Condition(), "excitation", "none", "excitation is 'none'"),
        (DiscSpider(STEEL, 0.5, 0.2), "bore_radius", -0.1, "bore_radius is -0.1 m"),
        (GivenSpider(4e10, 1e-4, 15.0), "radial_stiffness", 0.0, "radial_stiffness is 0 N/m"),
    ],
)
def test_a_broken_rule_is_refused_with_field_value_and_rule(stored, field, value, words):
    with pytest.raises(ValueError, match=re.escape(words)) as caught:
        replace(stored, **{field: value})
    assert str(caught.value).startswith(f"{type(stored).__name__}: ")


def test_several_broken_rules_of_one_part_are_told_together():
    with pytest.raises(ValueError, match=r"inner_radius is -1 m.*length is 0 m"):
        Rim(STEEL, -1.0, 3.4, 0.0)


def test_hub_bore_must_lie_within_the_hub():
    with pytest.raises(ValueError, match=r"hub_bore_radius is 1.2 m; it must be below hub_radius, 1.1 m"):
        replace(ARMS, hub_bore_radius=1.2, hub_length=1.0)


@pytest.mark.parametrize(
    ("part", "changes", "key"),
    [
        ("poles", {"face_radius": 3.3}, "poles.face_radius is 3300 mm"),
        ("poles", {"mass_radius": 2.9}, "poles.mass_radius is 2900 mm"),
        ("spider", {"hub_radius": 3.0}, "spider.hub_radius is 3000 mm"),
        ("air_gap", {"stator_bore_radius": 3.8656}, "air_gap.cold is 15 mm"),
        ("air_gap", {"minimum_allowed": 15e-3}, "air_gap.minimum_allowed is 15 mm"),
    ],
)
def test_parts_that_do_not_fit_together_are_refused_by_key(part, changes, key):
    with pytest.raises(RotorError, match=re.escape(key)):
        replace(ROTOR, **{part: replace(getattr(ROTOR, part), **changes)})


def test_every_misfit_is_told_at_once():
    with pytest.raises(RotorError) as caught:
        replace(ROTOR, poles=replace(POLES, face_radius=3.3))
    assert [fault.split()[0] for fault in caught.value.faults] == ["poles.face_radius", "poles.mass_radius"]


def test_one_misfit_in_an_array_is_enough():
    with pytest.raises(RotorError, match="face_radius"):
        replace(ROTOR, poles=replace(POLES, face_radius=np.array([3.85, 3.39])))


def test_key_stiffness_needs_a_number_of_keys():
    soft = replace(ROTOR.fit, key_stiffness=2e10)
    assert replace(ROTOR, fit=soft).key_count == 12
    disc = DiscSpider(STEEL, 0.5, 0.2)
    with pytest.raises(RotorError, match=r"fit.key_stiffness is per key.*give fit.key_count"):
        replace(ROTOR, spider=disc, fit=soft)
    assert replace(ROTOR, spider=disc, fit=replace(soft, key_count=8)).key_count == 8


def test_a_rotor_is_frozen_and_a_change_is_a_new_one():
    with pytest.raises(FrozenInstanceError):
        ROTOR.rim = RIM
    tighter = ROTOR.with_interference(2e-3)
    assert (tighter.fit.interference, ROTOR.fit.interference) == (2e-3, 1.8e-3)
    assert tighter.rim is ROTOR.rim


def test_what_is_left_out_follows_from_the_rest():
    assert ROTOR.face_length == 1.5
    assert replace(ROTOR, poles=replace(POLES, face_length=1.45)).face_length == 1.45
    assert ROTOR.stator_bore_radius == pytest.approx(3.865)
    assert list(ROTOR.speeds.named) == ["rated", "overspeed"]


def test_settlement_leaves_what_is_asked_and_takes_from_the_drawing():
    left = ROTOR.settled_to(1.3e-3)
    assert left.fit.settlement == pytest.approx(0.5e-3)
    assert left.fit.interference == 1.8e-3
    cold = Condition()
    plain = float(float_speed(left.without_settlement().with_interference(1.3e-3), cold).speed)
    assert float(float_speed(left, cold).speed) == pytest.approx(plain, rel=1e-12)


# ------------------------------------------------------------------------------------------------- arrays


def test_the_shape_is_that_of_all_arrays_together():
    some = replace(ROTOR, rim=replace(RIM, length=np.full(3, 1.5)), poles=replace(POLES, mass=np.full((2, 1), 3e3)))
    assert array_shape(some) == (2, 3)
    assert array_shape(some, Condition(rim_temperature=np.full((4, 1, 1), 300.0))) == (4, 2, 3)
    assert array_shape(ROTOR) == ()


def test_mapping_touches_arrays_only_and_leaves_the_original():
    mass = np.array([3e3, 4e3])
    some = replace(ROTOR, poles=replace(POLES, mass=mass))
    doubled = map_arrays(some, lambda values: 2 * values)
    assert doubled.poles.mass.tolist() == [6e3, 8e3]
    assert doubled.poles.count == 40
    assert some.poles.mass is mass


def test_blocks_cover_every_element_once_in_order():
    count = 2 * BLOCK + 5
    interference = np.linspace(1e-3, 2e-3, count)
    some = ROTOR.with_interference(interference)
    parts = list(blocks(some, Condition()))
    assert [part.stop - part.start for part, _ in parts] == [BLOCK, BLOCK, BLOCK]
    seen = np.concatenate([rotor.fit.interference for _, (rotor, _) in parts])
    np.testing.assert_array_equal(seen, interference)


def test_blocks_give_what_one_rotor_at_a_time_gives():
    interference = np.linspace(1e-3, 2e-3, BLOCK // 2 + 1)[:, None]
    mass = np.array([3e3, 3.2e3])
    some = replace(ROTOR.with_interference(interference), poles=replace(POLES, mass=mass))
    speed = float_speed(some, Condition()).speed
    assert speed.shape == (BLOCK // 2 + 1, 2)
    for row, column in ((0, 0), (17, 1), (BLOCK // 2, 1)):
        one = replace(ROTOR.with_interference(interference[row, 0]), poles=replace(POLES, mass=mass[column]))
        assert speed[row, column] == pytest.approx(float(float_speed(one, Condition()).speed), rel=1e-13)


def test_the_built_in_case_names_its_inventions():
    case = example_case()
    assert case.title.startswith("Invented")
    assert "INVENTED DATA" in (case.path.parent / case.records[0].file).read_text(encoding="utf-8")[:200]


@pytest.mark.parametrize(("runaway", "highest", "name"), [(None, 210.0, "overspeed"), (300.0, 300.0, "runaway")])
def test_the_highest_speed_is_the_last_that_is_given(runaway, highest, name):
    speeds = Speeds(150 * RPM, 210 * RPM, None if runaway is None else runaway * RPM)
    assert (speeds.highest, speeds.highest_name) == (pytest.approx(highest * RPM), name)
    assert list(speeds.from_standstill) == ["standstill", *speeds.named]
    assert speeds.from_standstill["standstill"] == 0.0


@pytest.mark.derived
def test_the_net_section_is_the_steel_that_holes_leave_of_the_stack():
    # 97 sheets of 1 mm in 100 mm, and holes that take 15 of 100 mm of each: 0.97 x 0.85 = 0.8245 of the gross section
    rim = replace(RIM, stacking_factor=0.97, net_section_factor=np.array([0.85, 1.0]))
    assert rim.net_factor == pytest.approx([0.8245, 0.97])
