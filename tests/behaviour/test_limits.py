"""Checks against limits: every value by hand or another method, and what is said when an input is absent."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from rimmodel.behaviour import sweep
from rimmodel.behaviour.limits.check import About, at_least, at_most, worst
from rimmodel.behaviour.limits.machine import AS_ASSEMBLED, checks
from rimmodel.behaviour.limits.rim import rim_mean_hoop_stress
from rimmodel.rotor import GivenSpider, Rim
from rimmodel.rotor.allowances import DutyCycle, Limits, Torque
from tests.behaviour.invented_rotors import ARMS, COLD, GIVEN, HOT, HUBBED, RIM_STEEL, SPIDER_STEEL, changed

STRONG = replace(RIM_STEEL, ultimate_strength=640e6, endurance_limit=240e6)
CARRIER = replace(SPIDER_STEEL, yield_strength=345e6)
MACHINE = changed(
    rim={"material": STRONG, "stress_concentration_factor": 2.3},
    poles={"attachment_area": 0.05},
    spider=replace(ARMS, material=CARRIER, arm_second_moment=1.5e-4),
    fit={"key_width": 0.3, "friction_interference": 0.0},
)
TORQUE = Torque(9e6, 5e7, 0.12)


def row_of(name, at="", machine=MACHINE, conditions=None, limits=None, torque=TORQUE, duty=()):
    rows = checks(machine, {"cold": COLD} if conditions is None else conditions, limits, torque, duty)
    found = [row for row in rows if row.name.startswith(name) and at in ("", row.at)]
    assert len(found) == 1, [(row.name, row.at) for row in rows]
    return found[0]


@pytest.mark.recalled
def test_a_floating_isotropic_rim_carries_the_textbook_hoop_stress():
    # Timoshenko & Goodier (3rd ed.), Arts. 28 and 32: rotating ring, and Lame under tension outside
    machine = changed(MACHINE, rim={"hoop_stiffness_factor": 1.0, "stacking_factor": 1.0, "net_section_factor": 0.8})
    a, b, omega = 4.0, 4.5, machine.speeds.runaway
    q = 48 * 3900.0 * 4.75 * omega**2 / (2 * np.pi * b * 1.8)
    spin = 7850.0 * omega**2 * (3.3 * b**2 + 0.7 * a**2) / 4
    hoop = (spin + q * 2 * b**2 / (b**2 - a**2)) / 0.8
    found = row_of("rim bore hoop", "runaway", machine)
    assert found.value == pytest.approx(hoop, rel=1e-12)
    assert found.limit == pytest.approx(2 / 3 * 500e6)
    assert row_of("rim bore equivalent", "runaway", machine).value == pytest.approx(hoop, rel=1e-12)  # no pressure left
    assert row_of("rim local peak", "runaway", machine).value == pytest.approx(2.3 * hoop, rel=1e-12)


@pytest.mark.derived
def test_tresca_at_a_seated_bore_is_hoop_stress_plus_pressure():
    state = sweep(MACHINE, COLD, 0.0)
    share = 0.97 * 0.85
    assert state.contact_pressure > 1e6
    assert row_of("rim bore equivalent", "standstill").value == pytest.approx(
        float(state.rim_bore_hoop_stress + state.contact_pressure) / share
    )


@pytest.mark.independent
@pytest.mark.parametrize(("condition", "speed"), [(COLD, 0.0), (COLD, 10.0), (HOT, 12.0), (HOT, 20.0)])
def test_mean_hoop_stress_is_that_of_the_field_integrated_over_the_section(condition, speed):
    ring = MACHINE.rim.ring
    state = sweep(MACHINE, condition, speed)
    traction = 48 * 3900.0 * 4.75 * speed**2 / (2 * np.pi * 4.5 * 1.8) + float(state.magnetic_pull)

    def hoop(radius):
        return float(ring.state(radius, speed, float(state.contact_pressure), traction).hoop_stress)

    mean = quad(hoop, 4.0, 4.5, epsrel=1e-10)[0] / 0.5
    assert float(rim_mean_hoop_stress(MACHINE, condition, state)) == pytest.approx(mean, rel=1e-9)


@pytest.mark.derived
def test_burst_margin_is_the_root_of_strength_over_mean_stress():
    state = sweep(MACHINE, COLD, MACHINE.speeds.runaway)
    mean = float(rim_mean_hoop_stress(MACHINE, COLD, state)) / (0.97 * 0.85)
    found = row_of("burst speed")
    assert found.value == pytest.approx(np.sqrt(0.85 * 640e6 / mean))
    assert found.limit == 1.2
    assert not found.at_most
    assert "Robinson" in found.source


@pytest.mark.derived
def test_a_pole_is_held_against_its_own_centrifugal_force():
    omega = MACHINE.speeds.runaway
    found = row_of("pole attachment")
    assert found.value == pytest.approx(3900.0 * 4.75 * omega**2 / 0.05)
    assert f"{3900.0 * 4.75 * omega**2 / 1e3:.0f} kN" in found.note
    assert row_of("pole attachment", conditions={"hot": HOT}).value > found.value  # the field pulls too


@pytest.mark.independent
def test_arms_carry_their_share_of_the_rim_and_their_own_spin():
    omega = MACHINE.speeds.overspeed
    state = sweep(MACHINE, COLD, omega)
    inward = float(state.contact_pressure) * 2 * np.pi * 4.0 * 1.8 / 14 / 0.055
    own = quad(lambda r: 7800.0 * omega**2 * r, 1.3, 4.0)[0]
    tip = 190.0 * 4.0 * omega**2 / 0.055
    worst_size = max(abs(tip - inward), abs(tip + own - inward))
    assert row_of("arm stress", "overspeed").value == pytest.approx(worst_size)
    pressed = float(sweep(MACHINE, COLD, 0.0).contact_pressure) * 2 * np.pi * 4.0 * 1.8 / 14
    assert row_of("arm stress", "standstill").value == pytest.approx(pressed / 0.055)
    assert row_of("arm stress", "standstill").limit == pytest.approx(0.5 * 345e6)


@pytest.mark.recalled
def test_an_arm_buckles_at_its_euler_load():
    # Timoshenko & Gere, Theory of Elastic Stability, ch. 2: pi^2 E I / l^2, pinned at both ends
    pressed = float(sweep(MACHINE, COLD, 0.0).contact_pressure) * 2 * np.pi * 4.0 * 1.8 / 14
    euler = np.pi**2 * 203e9 * 1.5e-4 / 2.7**2
    assert row_of("buckling").value == pytest.approx(euler / pressed)
    held = row_of("buckling", limits=Limits(arm_effective_length=0.7))
    assert held.value == pytest.approx(euler / 0.49 / pressed)
    assert "stated in the case" in held.source
    loose = row_of("buckling", machine=MACHINE.with_interference(-1e-3))
    assert np.isinf(loose.value)
    assert loose.holds


@pytest.mark.derived
def test_keys_bear_and_friction_carries_what_the_contact_pressure_gives():
    pressure = float(sweep(MACHINE, COLD, 0.0).contact_pressure)
    bearing = pressure * 2 * np.pi * 4.0 / (14 * 0.3 * 0.97)
    assert row_of("key bearing").value == pytest.approx(bearing)
    assert row_of("key bearing").limit == pytest.approx(0.9 * 345e6)  # the lower yield
    rated = float(sweep(MACHINE, COLD, MACHINE.speeds.rated).contact_pressure)
    carried = row_of("torque carried by friction, against rated")
    assert carried.value == pytest.approx(0.12 * rated * 2 * np.pi * 4.0**2 * 1.8)
    assert (carried.limit, carried.kind) == (9e6, "torque")
    assert row_of("torque carried by friction, against fault").limit == 5e7


def test_friction_decides_only_where_no_keys_carry_the_torque():
    assert not row_of("torque carried by friction, against rated").binding
    assert row_of("torque carried by friction, against rated", torque=replace(TORQUE, carried_by="friction")).binding
    floating = row_of("torque carried by friction, against rated", machine=MACHINE.with_interference(0.0))
    assert floating.value == 0.0
    assert not floating.holds


@pytest.mark.derived
def test_a_hub_is_checked_by_the_size_of_its_stress():
    machine = changed(MACHINE, spider=replace(HUBBED, material=CARRIER, arm_second_moment=1.5e-4))
    state = sweep(machine, COLD, 0.0)
    assert state.spider_hoop_stress < 0
    assert row_of("spider hoop", "standstill", machine).value == pytest.approx(-float(state.spider_hoop_stress))


ABSENT = {
    "yield": (
        {"rim": {"material": replace(STRONG, yield_strength=None)}},
        ("rim bore hoop", "rated"),
        "yield_strength of the rim",
    ),
    "ultimate": (
        {"rim": {"material": replace(STRONG, ultimate_strength=None)}},
        ("burst speed", ""),
        "ultimate_strength",
    ),
    "factor": ({"rim": {"stress_concentration_factor": None}}, ("rim local peak", "rated"), "stress_concentration"),
    "endurance": (
        {"rim": {"material": replace(STRONG, endurance_limit=None)}},
        ("distance from the Goodman", ""),
        "endurance_limit",
    ),
    "area": ({"poles": {"attachment_area": None}}, ("pole attachment", ""), "poles.attachment_area"),
    "moment": ({"spider": {"arm_second_moment": None}}, ("buckling", ""), "spider.arm_second_moment"),
    "width": ({"fit": {"key_width": None}}, ("key bearing", ""), "fit.key_width"),
    "hub": ({}, ("spider hoop", "rated"), "spider.hub_bore_radius"),
    "spider yield": ({"spider": {"material": SPIDER_STEEL}}, ("arm stress", "rated"), "yield_strength of the spider"),
}


@pytest.mark.parametrize("case", ABSENT)
def test_a_check_that_lacks_an_input_says_which_and_decides_nothing(case):
    parts, (name, at), words = ABSENT[case]
    found = row_of(name, at, changed(MACHINE, **parts))
    assert words in found.missing
    assert np.isnan(found.margin)
    assert not found.holds


def test_torque_and_duty_that_are_not_given_are_named():
    assert row_of("torque carried by friction, against rated", torque=None).missing == "torque.rated"
    assert (
        row_of("torque carried by friction, against fault", torque=replace(TORQUE, fault=None)).missing
        == "torque.fault"
    )
    assert row_of("share of fatigue life").missing == "[[duty]]"
    assert "number not known" in row_of("distance from the Goodman").note


def test_a_given_spider_has_no_arms_to_check():
    rows = checks(changed(MACHINE, spider=GIVEN, fit={"key_count": 14}), {"cold": COLD})
    assert isinstance(GIVEN, GivenSpider)
    assert not [row for row in rows if "arm" in row.name or "spider" in row.name]


def test_a_replaced_limit_counts_and_says_where_it_comes_from():
    usual, strict = (
        row_of("rim bore hoop", "rated"),
        row_of("rim bore hoop", "rated", limits=Limits(rated_share_of_yield=0.1)),
    )
    assert (usual.source, strict.source) == ("from memory, confirm in your copy", "stated in the case")
    assert strict.limit == pytest.approx(usual.limit / 5)
    assert strict.key == "limits.rated_share_of_yield"
    assert usual.holds
    assert not strict.holds


def test_the_worst_condition_is_told_and_the_assembly_is_one_of_them():
    both = {"cold": COLD, "hot": HOT}
    apart = {name: row_of("arm stress", "standstill", conditions={name: state}).value for name, state in both.items()}
    found = row_of("arm stress", "standstill", conditions=both)
    assert (found.value, found.condition) == (apart["cold"], "cold")
    assert row_of("arm stress", "standstill", conditions={"hot": HOT}).condition == AS_ASSEMBLED


def test_arrays_give_what_single_machines_give():
    many = np.linspace(0.0, 5e-3, 7)
    both = {"cold": COLD, "hot": HOT}
    duty = (DutyCycle(0.0, 12.0, 2e4, "start"),)
    whole = checks(MACHINE.with_interference(many), both, None, TORQUE, duty)
    for place, one in enumerate(many):
        for row, alone in zip(whole, checks(MACHINE.with_interference(one), both, None, TORQUE, duty), strict=True):
            assert np.broadcast_to(row.margin, many.shape)[place] == pytest.approx(float(alone.margin), nan_ok=True), (
                row.name
            )


def test_the_least_margin_wins_and_no_answer_is_worse_than_any():
    def row(value, condition, make=at_most):
        return make("x", About("rated", condition, "s", "k"), value, 10.0)

    assert worst([row(5.0, "a"), row(7.0, "b")])[0].condition == "b"
    assert worst([row(15.0, "a", at_least), row(12.0, "b", at_least)])[0].condition == "b"
    assert worst([row(5.0, "a"), row(np.nan, "b")])[0].condition == "b"
    mixed = worst([row(np.array([1.0, 9.0]), "a"), row(np.array([2.0, 3.0]), "b")])[0]
    assert mixed.value.tolist() == [2.0, 9.0]
    assert float(row(12.0, "a").margin) == pytest.approx(-0.2)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Limits(rated_share_of_yield=1.2), "rated_share_of_yield is 1.2; it must be above 0 and at most 1"),
        (lambda: Limits(relaxation_share=1.0), "relaxation_share is 1; it must be 0 or above and below 1"),
        (lambda: Limits(burst_speed_ratio=0.9), "burst_speed_ratio is 0.9; it must be 1 or more"),
        (lambda: Torque(0.0), "rated is 0 N"),
        (lambda: Torque(1e6, carried_by="luck"), "carried_by is 'luck'"),
        (lambda: replace(STRONG, yield_strength=-1.0), "yield_strength is -1 Pa; it must be above zero"),
        (lambda: replace(STRONG, endurance_limit=0.0), "endurance_limit is 0 Pa; it must be above zero"),
        (lambda: Rim(STRONG, 4.0, 4.5, 1.8, stress_concentration_factor=0.5), "stress_concentration_factor is 0.5"),
        (lambda: DutyCycle(0.0, 10.0, 0.0), "count is 0; it must be above zero and at most 1e9"),
    ],
)
def test_bad_input_is_refused_in_words(make, words):
    with pytest.raises(ValueError, match=words.replace("[", r"\[").split(";")[0]):
        make()
