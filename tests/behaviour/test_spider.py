"""Growth and compliance of the spider against closed forms, integration along the arms, reciprocity and hand
calculation.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from rimmodel import float_speed, sweep
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.rotor import ArmSpider, Condition, DiscSpider, GivenSpider, Material
from tests.behaviour.invented_rotors import ARMS, DISC, GIVEN, HUBBED, ROTOR, SOLID, SPIDER_STEEL, SPIDERS, changed
from tests.behaviour.second_derivation import Machine, ring

E, NU, RHO = SPIDER_STEEL.young_modulus, SPIDER_STEEL.poisson_ratio, SPIDER_STEEL.density
A, LENGTH = 4.0, 1.8
"""Rim bore and length of the invented rotor."""


@pytest.mark.recalled
def test_annular_disc_against_the_books():
    # Timoshenko & Goodier (3rd ed.) Arts. 28 and 32, from memory: Lame, and the rotating disc with a hole, plane stress
    c = DISC.bore_radius
    ours = spider_response(changed(spider=DISC))
    growth = RHO * A / (4 * E) * ((1 - NU) * A**2 + (3 + NU) * c**2)
    compliance = A / E * ((A**2 + c**2) / (A**2 - c**2) - NU) * LENGTH / DISC.thickness
    assert ours.growth_per_speed_squared == pytest.approx(growth, rel=1e-12)
    assert ours.compliance == pytest.approx(compliance, rel=1e-12)
    assert ours.hoop_per_speed_squared == pytest.approx(RHO / 4 * ((3 + NU) * A**2 + (1 - NU) * c**2), rel=1e-12)
    assert ours.hoop_per_pressure == pytest.approx(-2 * A**2 / (A**2 - c**2) * LENGTH / DISC.thickness, rel=1e-12)


@pytest.mark.recalled
def test_solid_disc_against_the_books():
    # the same, without a hole: both stresses at the centre are equal
    ours = spider_response(changed(spider=SOLID))
    assert ours.growth_per_speed_squared == pytest.approx(RHO * (1 - NU) * A**3 / (4 * E), rel=1e-12)
    assert ours.compliance == pytest.approx((1 - NU) * A / E, rel=1e-12)
    assert ours.hoop_per_speed_squared == pytest.approx((3 + NU) / 8 * RHO * A**2, rel=1e-12)
    assert ours.hoop_per_pressure == pytest.approx(-1.0, rel=1e-12)


@pytest.mark.derived
def test_arms_by_hand():
    # E A / l = 200e9 x 0.05 / 3 = 3.3333e9 N/m; bore circumference x length = 2 pi 4 x 1.8 = 45.2389 m2 on ten arms;
    # rod from 1 to 4 m: 8000/(4e11) x (16 x 3 - 63/3) = 5.4e-7; tip 100 kg x 4 m / 3.3333e9 = 1.2e-7
    steel = Material(200e9, 0.3, 8000.0)
    ours = spider_response(changed(spider=ArmSpider(steel, 10, 0.05, 1.0, 100.0)))
    assert ours.compliance == pytest.approx(45.2389342 / 10 / 3.33333333e9, rel=1e-8)
    assert ours.growth_per_speed_squared == pytest.approx(6.6e-7, rel=1e-12)
    assert np.isnan(ours.hoop_per_pressure)
    assert np.isnan(ours.hoop_per_speed_squared)


@pytest.mark.independent
@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("keys", [{}, {"key_count": 28, "key_stiffness": 2e10}])
def test_every_spider_against_the_second_derivation(name, keys):
    rotor = changed(spider=SPIDERS[name], fit=keys)
    ours, theirs = spider_response(rotor), Machine(rotor, Condition())
    assert ours.growth_per_speed_squared == pytest.approx(theirs.spider_top(0.0, 1.0), rel=1e-12)
    assert ours.compliance == pytest.approx(-theirs.spider_top(1.0, 0.0), rel=1e-12)


@pytest.mark.derived
def test_growth_of_arms_by_reciprocity():
    # Betti: radial force 1 at every tip moves the arm by u(r); the spin forces on that u are the growth of the tip
    hub = HUBBED.hub_radius
    pulled = ring(
        HUBBED.hub_bore_radius, hub, E, NU, RHO, traction=HUBBED.count / (2 * np.pi * hub * HUBBED.hub_length)
    )
    at_hub = pulled.displacement(hub)
    arm = quad(lambda r: RHO * HUBBED.arm_area * r * (at_hub + (r - hub) / (E * HUBBED.arm_area)), hub, A)[0]
    tip = HUBBED.tip_mass * A * (at_hub + (A - hub) / (E * HUBBED.arm_area))
    solid = quad(
        lambda r: RHO * r * pulled.displacement(r) * 2 * np.pi * r * HUBBED.hub_length, HUBBED.hub_bore_radius, hub
    )[0]
    ours = spider_response(changed(spider=HUBBED)).growth_per_speed_squared
    assert ours == pytest.approx(arm + tip + solid / HUBBED.count, rel=1e-10)


@pytest.mark.derived
@pytest.mark.parametrize("spider", [DISC, SOLID], ids=["annular", "solid"])
def test_growth_of_discs_by_reciprocity(spider):
    pulled = ring(spider.bore_radius, A, E, NU, RHO, traction=1.0)
    work = quad(lambda r: RHO * r * pulled.displacement(r) * r, spider.bore_radius, A)[0]
    ours = spider_response(changed(spider=spider)).growth_per_speed_squared
    assert ours == pytest.approx(work / A, rel=1e-10)


@pytest.mark.derived
def test_an_elastic_hub_adds_its_own_growth_and_give():
    rigid, elastic = (spider_response(changed(spider=spider)) for spider in (ARMS, HUBBED))
    endless = spider_response(changed(spider=replace(HUBBED, hub_length=1e12)))
    # however long, the hub grows by its own spin, and then gives no more under the arms
    own = RHO * 1.3 / (4 * E) * ((1 - NU) * 1.3**2 + (3 + NU) * 0.7**2)
    assert endless.growth_per_speed_squared == pytest.approx(rigid.growth_per_speed_squared + own, rel=1e-10)
    assert endless.compliance == pytest.approx(rigid.compliance, rel=1e-10)
    assert elastic.compliance > rigid.compliance
    assert elastic.growth_per_speed_squared > endless.growth_per_speed_squared


@pytest.mark.independent
def test_hub_stress_under_spin_and_contact():
    speed, pressure = 12.0, 3e6
    ours = spider_response(changed(spider=HUBBED))
    tip = HUBBED.tip_mass * A * speed**2 - 2 * np.pi * A * LENGTH * pressure / HUBBED.count
    force = tip + quad(lambda r: RHO * HUBBED.arm_area * r * speed**2, 1.3, A)[0]
    traction = HUBBED.count * force / (2 * np.pi * 1.3 * HUBBED.hub_length)
    hub = ring(0.7, 1.3, E, NU, RHO, traction=traction, x=speed**2)
    total = ours.hoop_per_speed_squared * speed**2 + ours.hoop_per_pressure * pressure
    assert total == pytest.approx(hub.stresses(0.7)[1], rel=1e-12)


@pytest.mark.derived
def test_keys_are_springs_in_series():
    # 2 pi 4 x 1.8 = 45.2389 m2 over 20 keys of 1e10 N/m: 2.2619467e-10 m/Pa
    bare, keyed = (
        spider_response(changed(spider=DISC, fit={"key_count": 20, "key_stiffness": k})) for k in (np.inf, 1e10)
    )
    assert bare.compliance == spider_response(changed(spider=DISC)).compliance
    assert keyed.compliance - bare.compliance == pytest.approx(2.2619467e-10, rel=1e-7)
    assert keyed.growth_per_speed_squared == bare.growth_per_speed_squared
    # arms bring their own number of keys
    own = spider_response(changed(spider=ARMS, fit={"key_stiffness": 1e10}))
    assert (
        own.compliance == spider_response(changed(spider=ARMS, fit={"key_stiffness": 1e10, "key_count": 14})).compliance
    )


@pytest.mark.derived
def test_a_thicker_disc_gives_less_and_grows_the_same():
    thin, thick = (spider_response(changed(spider=replace(DISC, thickness=t))) for t in (0.3, 0.6))
    assert thin.compliance == pytest.approx(2 * thick.compliance, rel=1e-14)
    assert thin.hoop_per_pressure == pytest.approx(2 * thick.hoop_per_pressure, rel=1e-14)
    assert thin.growth_per_speed_squared == thick.growth_per_speed_squared


def equivalent(spider, growth_speed=20.0):
    response = spider_response(changed(spider=spider))
    stiffness = 2 * np.pi * A * LENGTH / response.compliance
    return GivenSpider(stiffness, response.growth_per_speed_squared * growth_speed**2, growth_speed, spider.material)


@pytest.mark.parametrize("name", ["disc", "solid disc", "arms on a hub"])
def test_a_spider_given_by_its_two_numbers_behaves_like_the_one_they_belong_to(name):
    rotor, given = changed(spider=SPIDERS[name]), changed(spider=equivalent(SPIDERS[name]))
    speed, hot = np.linspace(0.0, 30.0, 7), Condition(330.0, 322.0, 340.0, 335.0, 0.9)
    whole, reported = sweep(rotor, hot, speed), sweep(given, hot, speed)
    for field in ("air_gap", "contact_pressure", "residual_interference", "rim_bore_hoop_stress"):
        np.testing.assert_allclose(getattr(whole, field), getattr(reported, field), rtol=1e-10, atol=1e-15)
    assert float_speed(rotor, hot).speed == pytest.approx(float_speed(given, hot).speed, rel=1e-12)
    assert np.all(np.isfinite(whole.spider_hoop_stress))
    assert np.all(np.isnan(reported.spider_hoop_stress))


@pytest.mark.derived
def test_given_spider_by_hand():
    # stiffness 4.5e10 N/m on 45.2389342 m2; growth 0.13 mm at 150 rpm = 15.7079633 rad/s
    ours = spider_response(changed(spider=GIVEN))
    assert ours.compliance == pytest.approx(45.2389342 / 4.5e10, rel=1e-8)
    assert ours.growth_per_speed_squared == pytest.approx(0.13e-3 / 246.74011, rel=1e-8)
    assert ours.thermal_expansion == ROTOR.rim.material.thermal_expansion  # the rim's, as no material is given
    own = spider_response(changed(spider=replace(GIVEN, material=SPIDER_STEEL)))
    assert own.thermal_expansion == SPIDER_STEEL.thermal_expansion


def test_broadcasting():
    areas, hubs = np.array([0.05, 0.055, 0.06]), np.array([1.4, 1.5])
    many = spider_response(changed(spider=replace(HUBBED, arm_area=areas[:, np.newaxis], hub_length=hubs)))
    assert many.compliance.shape == many.growth_per_speed_squared.shape == many.hoop_per_speed_squared.shape == (3, 2)
    row = spider_response(changed(spider=replace(HUBBED, arm_area=areas, hub_length=1.5)))
    one = spider_response(changed(spider=replace(HUBBED, arm_area=0.06, hub_length=1.5)))
    for field in vars(one):
        wide, long, alone = (np.broadcast_to(getattr(r, field), s) for r, s in ((many, (3, 2)), (row, 3), (one, ())))
        np.testing.assert_allclose([wide[2, 1], long[2]], alone, rtol=1e-14)


@pytest.mark.derived
@pytest.mark.parametrize("bore", [1.1, 0.0])
def test_a_profile_of_one_thickness_is_the_plain_disc(bore):
    plain = spider_response(changed(spider=replace(DISC, bore_radius=bore)))
    rows = tuple((float(r), 0.3) for r in np.linspace(bore, 4.0, 9))
    profiled = spider_response(changed(spider=DiscSpider(SPIDER_STEEL, profile=rows)))
    for field in vars(plain):
        assert getattr(profiled, field) == pytest.approx(getattr(plain, field), rel=1e-6)


@pytest.mark.derived
def test_a_profile_answers_to_the_thickness_under_the_rim():
    # Betti again, for a disc that tapers: the spin forces on the move by unit pressure are the growth
    rows = ((1.1, 0.5), (4.0, 0.2))
    ours = spider_response(changed(spider=DiscSpider(SPIDER_STEEL, profile=rows)))
    thicker = spider_response(changed(spider=DiscSpider(SPIDER_STEEL, profile=((1.1, 1.0), (4.0, 0.4)))))
    assert ours.compliance == pytest.approx(2 * thicker.compliance, rel=1e-9)
    assert ours.growth_per_speed_squared == pytest.approx(thicker.growth_per_speed_squared, rel=1e-9)
    radius, thickness = np.array([1.1, 4.0]), np.array([0.5, 0.2])
    slope = thickness[1] * 4.0  # traction 1 outside, per radian

    def rhs(r, y):
        h = np.interp(r, radius, thickness)
        hoop = E * y[0] / r + NU * y[1] / (r * h)
        return [(y[1] / (r * h) - NU * hoop) / E, h * hoop]

    def outside(u):
        return solve_ivp(rhs, (1.1, 4.0), [u, 0.0], rtol=1e-11, atol=1e-22, dense_output=True)

    trial = outside(1e-11)
    move = outside(1e-11 * slope / trial.y[1, -1])
    assert move.y[0, -1] * LENGTH / 0.2 == pytest.approx(ours.compliance, rel=1e-6)
    work = quad(lambda r: RHO * np.interp(r, radius, thickness) * r**2 * move.sol(r)[0], 1.1, 4.0, epsrel=1e-10)[0]
    assert ours.growth_per_speed_squared == pytest.approx(work / slope, rel=1e-6)
