"""The rotor over a range of speeds: growth, stress and gap against hand calculation and a second derivation."""

from dataclasses import replace

import numpy as np
import pytest

from rimmodel import float_speed, sweep
from rimmodel.behaviour import Sweep
from rimmodel.rotor import Condition
from rimmodel.units import RPM
from tests.behaviour.invented_rotors import (
    COLD,
    DISC,
    FIXED_FLUX,
    GIVEN,
    HOT,
    HUBBED,
    RIM_STEEL,
    ROTOR,
    SPIDERS,
    bare_fit,
    changed,
    fully_varied,
    single,
)
from tests.behaviour.second_derivation import Machine, ring


def fields(result: Sweep) -> dict[str, np.ndarray]:
    return vars(result)


@pytest.mark.independent
@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", [COLD, HOT, FIXED_FLUX], ids=["cold", "hot", "fixed flux"])
def test_growth_and_stress_against_the_second_derivation(name, condition):
    rotor = changed(spider=SPIDERS[name], poles={"radial_stiffness": 5e9})
    machine = Machine(rotor, condition)
    still = machine.state(0.0)
    for speed in (0.0, 11.0, 19.0, 27.0):
        ours, theirs = sweep(rotor, condition, speed), machine.state(speed**2)
        assert ours.rim_bore_hoop_stress == pytest.approx(theirs.rim.stresses(4.0)[1], rel=1e-11)
        assert ours.rim_outer_hoop_stress == pytest.approx(theirs.rim.stresses(4.5)[1], rel=1e-11)
        bore, outside = (theirs.rim.displacement(r) - still.rim.displacement(r) for r in (4.0, 4.5))
        assert ours.rim_bore_growth == pytest.approx(bore, rel=1e-10, abs=1e-17)
        assert ours.rim_outer_growth == pytest.approx(outside, rel=1e-10, abs=1e-17)
        assert ours.magnetic_pull == pytest.approx(theirs.pull, rel=1e-11)
        assert ours.speed == speed


@pytest.mark.derived
def test_growth_starts_at_zero_in_every_condition():
    for condition in (COLD, HOT, FIXED_FLUX):
        still = sweep(ROTOR, condition, 0.0)
        assert still.rim_bore_growth == 0
        assert still.rim_outer_growth == 0


@pytest.mark.derived
def test_without_field_the_gap_loses_what_rim_and_poles_grow():
    rotor, speed = changed(poles={"radial_stiffness": 5e9}), np.linspace(0.0, 25.0, 9)
    ours = sweep(rotor, COLD, speed)
    stretch = 3900.0 * 4.75 * speed**2 / 5e9
    np.testing.assert_allclose(ours.air_gap[0] - ours.air_gap, ours.rim_outer_growth + stretch, rtol=1e-11, atol=1e-17)


@pytest.mark.derived
def test_thin_rim_by_hand():
    # floating thin ring of 10 m radius, 10 mm deep, E = 200 GPa, 8000 kg/m3, at 10 rad/s, poles as heavy as the rim:
    # hoop 2 x rho w^2 R^2 = 160 MPa, growth R sigma/E = 8 mm
    steel = replace(RIM_STEEL, young_modulus=200e9, density=8000.0)
    bare = bare_fit(steel, 0.0, 9.995, 10.005, -0.01)
    mass = 8000.0 * 2 * np.pi * 10.0 * 0.01 * 1.0 / 20
    rotor = changed(bare, poles={"count": 20, "mass": mass, "mass_radius": 10.0})
    ours = sweep(rotor, COLD, 10.0)
    assert ours.rim_bore_hoop_stress == pytest.approx(160e6, rel=2e-3)
    assert ours.rim_outer_growth == pytest.approx(8e-3, rel=2e-3)
    assert ours.contact_pressure == 0


@pytest.mark.derived
def test_slopes_before_and_after_lift_off():
    # S2 = -c_out; S1/S2 = 1 - C_out/(C_r + C_s) (c_r - c_s)/c_out, from rings solved for displacements
    rotor = changed(spider=DISC)
    lost = float(float_speed(rotor, COLD).speed)
    x = np.array([0.2, 0.6, 1.2, 1.6]) * lost**2
    gap = sweep(rotor, COLD, np.sqrt(x)).air_gap
    seated, floating = (gap[1] - gap[0]) / (x[1] - x[0]), (gap[3] - gap[2]) / (x[3] - x[2])
    poles = 48 * 3900.0 * 4.75 / (2 * np.pi * 4.5 * 1.8)
    rim = {"modulus": 0.97 * 206e9, "poisson": 0.3, "factor": 0.85}
    spun = ring(4.0, 4.5, **rim, density=0.97 * 7850.0, traction=poles, x=1.0)
    pressed = ring(4.0, 4.5, **rim, density=0.0, pressure=1.0)
    top = Machine(rotor, COLD).spider_top
    net, compliance = spun.displacement(4.0) - top(0.0, 1.0), pressed.displacement(4.0) - top(1.0, 0.0)
    assert floating == pytest.approx(-spun.displacement(4.5), rel=1e-9)
    held = pressed.displacement(4.5) / compliance * net / spun.displacement(4.5)
    assert seated / floating == pytest.approx(1 - held, rel=1e-9)


@pytest.mark.independent
@pytest.mark.parametrize("spider", [DISC, HUBBED], ids=["disc", "arms on a hub"])
def test_spider_stress_is_that_of_its_bore_under_spin_and_contact(spider):
    rotor = changed(spider=spider)
    steel = spider.material
    for speed in (0.0, 12.0, 25.0):
        ours = sweep(rotor, COLD, speed)
        pressure = float(ours.contact_pressure)
        if spider is DISC:
            traction, inner, outer = -pressure * 1.8 / 0.3, 1.1, 4.0
        else:
            tip = spider.tip_mass * 4.0 * speed**2 - 2 * np.pi * 4.0 * 1.8 * pressure / spider.count
            force = steel.density * spider.arm_area * speed**2 * (4.0**2 - 1.3**2) / 2 + tip
            traction, inner, outer = spider.count * force / (2 * np.pi * 1.3 * 1.5), 0.7, 1.3
        field = ring(
            inner, outer, steel.young_modulus, steel.poisson_ratio, steel.density, traction=traction, x=speed**2
        )
        assert ours.spider_hoop_stress == pytest.approx(field.stresses(inner)[1], rel=1e-11)


def test_spider_stress_is_not_known_without_its_parts():
    assert np.isnan(sweep(ROTOR, COLD, 10.0).spider_hoop_stress)  # arms on a hub of unknown size
    assert np.isnan(sweep(changed(spider=GIVEN), COLD, 10.0).spider_hoop_stress)


def test_signs():
    # tight and still: pressed, rim in tension, spider in compression; fast: loose, larger, closer to the stator
    still, fast = sweep(changed(spider=DISC), COLD, 0.0), sweep(changed(spider=DISC), COLD, 30.0)
    assert still.contact_pressure > 0
    assert still.rim_bore_hoop_stress > still.rim_outer_hoop_stress > 0 > still.spider_hoop_stress
    assert fast.residual_interference < 0 == fast.contact_pressure
    assert fast.rim_outer_growth > 0
    assert fast.spider_hoop_stress > 0
    assert fast.air_gap < still.air_gap


def test_friction_is_felt_by_the_fit_and_not_by_a_free_rim():
    seated, free = 10.0, 30.0
    up, down = (sweep(ROTOR, COLD, [seated, free], way) for way in ("up", "down"))
    assert up.residual_interference[0] - down.residual_interference[0] == pytest.approx(0.04e-3, rel=1e-9)
    assert up.contact_pressure[0] > down.contact_pressure[0]
    assert up.air_gap[0] < down.air_gap[0]
    assert up.air_gap[1] == pytest.approx(down.air_gap[1], rel=1e-14)


def test_nothing_is_told_once_the_pull_has_closed_the_gap():
    gone = fields(sweep(ROTOR, HOT, [0.0, 70.0]))
    for name, values in gone.items():
        assert np.isfinite(values[0]) or name == "spider_hoop_stress"
        assert np.isnan(values[1]) or name == "speed"


@pytest.mark.parametrize(
    ("speed", "words"), [(-1.0, "speed is -1 rad/s"), ([0.0, np.nan], "nan"), ([5.0, np.inf, 1.0], "inf")]
)
def test_speeds_that_are_refused(speed, words):
    with pytest.raises(ValueError, match=words) as refused:
        sweep(ROTOR, COLD, speed)
    assert "must be zero or above, and finite" in str(refused.value)


def test_broadcasting():
    rotor, condition = fully_varied(4)
    speeds = np.linspace(0.0, 26.0, 3)
    table = sweep(rotor, condition, speeds[:, np.newaxis])
    alone = sweep(single(rotor, 2), single(condition, 2), float(speeds[1]))
    line = sweep(single(rotor, 2), single(condition, 2), speeds)
    for name, values in fields(table).items():
        assert values.shape == (3, 4)
        assert fields(line)[name].shape == (3,)
        assert fields(alone)[name].shape == ()
        np.testing.assert_allclose(values[1, 2], fields(alone)[name], rtol=1e-12)
        np.testing.assert_allclose(values[:, 2], fields(line)[name], rtol=1e-11, atol=1e-17)


def test_speeds_and_rotors_of_one_length_go_in_pairs():
    rotor, condition = fully_varied(4)
    paired = sweep(rotor, condition, np.array([0.0, 8.0, 16.0, 24.0]))
    assert paired.air_gap.shape == (4,)
    assert paired.air_gap[3] == pytest.approx(sweep(single(rotor, 3), single(condition, 3), 24.0).air_gap, rel=1e-12)


def test_cold_rated_gap_of_a_rim_by_hand():
    # rigid spider (very stiff, no growth), tight: the bore cannot move, so the outside grows by what a held ring does
    held = changed(spider=replace(GIVEN, radial_stiffness=1e22, growth=0.0), fit={"interference": 20e-3})
    speed = 115 * RPM
    poles = 48 * 3900.0 * 4.75 / (2 * np.pi * 4.5 * 1.8) * speed**2
    rim = {"modulus": 0.97 * 206e9, "poisson": 0.3, "density": 0.97 * 7850.0, "factor": 0.85}
    free = ring(4.0, 4.5, **rim, traction=poles, x=speed**2)
    per_pressure = ring(4.0, 4.5, **rim, pressure=1.0)
    back = free.displacement(4.0) / per_pressure.displacement(4.0)
    outside = free.displacement(4.5) - back * per_pressure.displacement(4.5)
    assert sweep(held, Condition(), speed).rim_outer_growth == pytest.approx(outside, rel=1e-6)
    assert sweep(held, Condition(), speed).rim_bore_growth == pytest.approx(0.0, abs=1e-9)
