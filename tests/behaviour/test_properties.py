"""What must hold for any rotor: monotony, independence of scale, laws of the fit, inverses, a second derivation."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimmodel import first_yield, float_speed, gap_closes, interference_for_float_speed, speed_at_gap, sweep
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.rotor import (
    AirGap,
    ArmSpider,
    Condition,
    DiscSpider,
    GivenSpider,
    Material,
    Poles,
    Rim,
    Rotor,
    ShrinkFit,
    Speeds,
)
from rimmodel.rotor.quantity import varied
from tests.behaviour.second_derivation import Machine
from tests.invented_steels import ANY_STEEL, ranges


def between(low, high):
    return st.floats(low, high, allow_subnormal=False)


steels = st.builds(Material, **ranges(ANY_STEEL, between))


@st.composite
def rotors(draw, growing_spider=False):
    """Rims of 0.5 to 6 m with any spider that grows less than they do; `growing_spider` allows any growth."""
    bore, length = draw(between(0.5, 6.0)), draw(between(0.3, 3.0))
    outside = bore * draw(between(1.03, 1.4))
    face = outside * draw(between(1.05, 1.2))
    rim = Rim(
        draw(steels), bore, outside, length, draw(between(0.9, 1.0)), draw(between(0.6, 1.0)), draw(between(0.7, 1.0))
    )
    share = draw(between(0.0, 1.0))
    poles = Poles(
        draw(st.integers(4, 90)), draw(between(10.0, 4000.0)), outside + share * 0.9 * (face - outside), face,
        length * draw(between(0.7, 1.1)), draw(st.one_of(st.just(np.inf), between(1e9, 1e11))),
    )  # fmt: skip
    kind = draw(st.sampled_from(["disc", "arms", "hubbed", "given"]))
    steel = draw(steels)
    if kind == "disc":
        hole = draw(st.one_of(st.just(0.0), between(0.05, 0.8)))
        spider = DiscSpider(steel, bore * hole, length * draw(between(0.05, 1.0)))
    elif kind == "given":
        most = 2e-4 if growing_spider else 1e-6
        spider = GivenSpider(draw(between(1e9, 1e12)), bore * draw(between(0.0, most)), draw(between(10.0, 50.0)))
    else:
        hub = bore * draw(between(0.2, 0.6))
        about = (hub * draw(between(0.1, 0.7)), length * draw(between(0.3, 1.0))) if kind == "hubbed" else (None, None)
        spider = ArmSpider(
            steel, draw(st.integers(4, 30)), 0.01 * bore * draw(between(0.5, 2.0)), hub, draw(between(0.0, 20.0)),
            *about,
        )  # fmt: skip
    fit = ShrinkFit(
        bore * draw(between(1e-4, 8e-4)), 0.0, bore * draw(between(0.0, 2e-5)), bore * draw(between(0.0, 5e-5)),
        draw(st.one_of(st.just(np.inf), between(1e9, 1e11))), draw(st.integers(4, 60)),
    )  # fmt: skip
    core = draw(st.one_of(st.just((None, None)), st.tuples(between(0.1, 0.6), between(5e10, 2e11))))
    gap = AirGap(face * draw(between(2e-3, 6e-3)), None, None, draw(between(8e-6, 16e-6)), *core)
    rated = draw(between(30.0, 100.0)) / outside
    return Rotor(rim, poles, spider, fit, gap, Speeds(rated, 1.5 * rated, 2.0 * rated))


temperatures = between(283.15, 353.15)
conditions = st.builds(
    Condition, temperatures, temperatures, st.one_of(st.none(), temperatures), temperatures,
    st.one_of(st.just(0.0), between(0.3, 1.1)), st.sampled_from(["constant current", "constant voltage"]),
)  # fmt: skip
DIRECTIONS = st.sampled_from([None, "up", "down"])


def falls(values, scale):
    """Whether no value is above the one before it by more than rounding."""
    return np.all(np.diff(values) <= 1e-12 * scale)


@given(rotors(), conditions, DIRECTIONS)
def test_pressure_falls_and_gap_shrinks_with_speed(rotor, condition, direction):
    assert coefficients(rotor, condition).net_growth > 0
    states = sweep(rotor, condition, np.linspace(0.0, 2.0 * rotor.speeds.runaway, 60), direction)
    there = np.isfinite(states.air_gap)
    assert there[: np.count_nonzero(there)].all()  # once the pull has closed the gap it stays closed
    if there.any():
        assert falls(states.contact_pressure[there], states.contact_pressure[0])
        assert falls(states.residual_interference[there], rotor.rim.inner_radius)
        assert np.all(np.diff(states.air_gap[there]) < 0)
        assert np.all(np.diff(states.rim_outer_growth[there]) > 0)
        assert np.all(states.contact_pressure[there] >= 0)
        assert np.all((states.contact_pressure > 0)[there] == (states.residual_interference > 0)[there])
        assert falls(-states.magnetic_pull[there], 1e6)


@given(rotors(), st.floats(0.0, 2.0))
def test_cold_pressure_follows_its_law(rotor, share):
    lost = float_speed(rotor, Condition()).speed
    first, then = sweep(rotor, Condition(), np.array([0.0, share]) * lost).contact_pressure
    assert then / first == pytest.approx(max(1 - share**2, 0.0), abs=1e-11)


@given(rotors(), conditions, DIRECTIONS)
def test_nothing_is_left_at_the_float_speed(rotor, condition, direction):
    lost = float(float_speed(rotor, condition, direction).speed)
    if np.isfinite(lost) and lost > 0:
        at = sweep(rotor, condition, np.array([0.0, lost * (1 - 1e-13)]), direction)
        # heat may leave little at standstill; the pressure of the cold fit is the measure then
        whole = rotor.fit.interference / coefficients(rotor, condition).compliance
        assert at.contact_pressure[1] < 1e-9 * whole


@given(rotors(), conditions, between(1e-2, 1e2), between(1e-2, 1e2))
def test_stiffness_of_spider_and_keys_does_not_move_the_float_speed(rotor, condition, softer, keys):
    # without a field; the pull sees the gap, and the cold gap is stated with the rim on its spider
    condition = replace(condition, flux_density=0.0)
    response = coefficients(rotor, condition).spider
    area = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length
    steel = rotor.spider.material or rotor.rim.material
    other = replace(
        rotor,
        spider=GivenSpider(
            area / float(response.compliance) * softer, float(response.growth_per_speed_squared), 1.0, steel
        ),
        fit=replace(rotor.fit, key_stiffness=1e10 * keys),
    )
    first, second = (float(float_speed(r, condition).speed) for r in (rotor, other))
    assert second == pytest.approx(first, rel=1e-12)


@given(rotors(), conditions, between(0.2, 5.0), between(0.2, 5.0), between(0.2, 5.0))
def test_scale(rotor, condition, s, t, m):
    """All lengths times s, all times times t and all masses times m, with all that is made of them.

    Moduli, strengths and stresses are m/(s t^2), densities m/s^3, stiffnesses m/t^2; the flux density goes with the
    square root of a stress, as the magnetic constant stays. Temperatures and ratios stay.
    """
    stress = m / (s * t**2)

    def steel(material):
        return material and varied(
            material,
            young_modulus=material.young_modulus * stress,
            density=material.density * m / s**3,
            yield_strength=material.yield_strength * stress,
        )

    def scaled(part, lengths=(), **more):
        values = {name: getattr(part, name) for name in lengths}
        return varied(part, **{name: value and value * s for name, value in values.items()}, **more)

    spider = rotor.spider
    if isinstance(spider, DiscSpider):
        spider = scaled(spider, ("bore_radius", "thickness"), material=steel(spider.material))
    elif isinstance(spider, ArmSpider):
        spider = scaled(
            spider, ("hub_radius", "hub_bore_radius", "hub_length"), material=steel(spider.material),
            arm_area=spider.arm_area * s**2, tip_mass=spider.tip_mass * m,
        )  # fmt: skip
    else:
        spider = scaled(
            spider, ("growth",), radial_stiffness=spider.radial_stiffness * m / t**2,
            growth_speed=spider.growth_speed / t,
        )  # fmt: skip
    core = rotor.air_gap.stator_core_modulus
    other = varied(  # machines of any size: the checks of plausible sizes do not apply
        rotor,
        rim=scaled(rotor.rim, ("inner_radius", "outer_radius", "length"), material=steel(rotor.rim.material)),
        poles=scaled(
            rotor.poles, ("mass_radius", "face_radius", "face_length"), mass=rotor.poles.mass * m,
            radial_stiffness=rotor.poles.radial_stiffness * m / t**2,
        ),
        spider=spider,
        fit=scaled(
            rotor.fit, ("interference", "friction_interference", "settlement"),
            key_stiffness=rotor.fit.key_stiffness * m / t**2,
        ),
        air_gap=scaled(rotor.air_gap, ("cold", "stator_core_depth"), stator_core_modulus=core and core * stress),
        speeds=varied(
            rotor.speeds, rated=rotor.speeds.rated / t, overspeed=rotor.speeds.overspeed / t,
            runaway=rotor.speeds.runaway / t,
        ),
    )  # fmt: skip
    excited = varied(condition, flux_density=condition.flux_density * np.sqrt(stress))
    speeds = np.linspace(0.0, rotor.speeds.runaway, 5)
    first, second = sweep(rotor, condition, speeds), sweep(other, excited, speeds / t)
    for name, unit, size in (
        ("air_gap", s, rotor.air_gap.cold),
        ("residual_interference", s, rotor.fit.interference),
        ("rim_outer_growth", s, rotor.fit.interference),
        ("contact_pressure", stress, 1e6),
        ("rim_bore_hoop_stress", stress, 1e7),
        ("spider_hoop_stress", stress, 1e7),
        ("magnetic_pull", stress, 1e5),
    ):
        np.testing.assert_allclose(
            getattr(second, name) / unit, getattr(first, name), rtol=1e-9, atol=1e-9 * size, err_msg=name
        )
    for landmark in (float_speed, gap_closes, first_yield):
        one, two = landmark(rotor, condition).speed, landmark(other, excited).speed
        np.testing.assert_allclose(two * t, one, rtol=1e-8, err_msg=landmark.__name__)


@given(rotors(), conditions, between(0.3, 1.8))
def test_interference_for_float_speed_is_its_inverse(rotor, condition, share):
    speed = share * rotor.speeds.rated
    needed = float(interference_for_float_speed(rotor, condition, speed))
    if np.isfinite(needed):
        back = float(float_speed(rotor.with_interference(needed), condition).speed)
        # none only where the seated rim snaps before; the gap at that speed then has no stable seated state below
        assert np.isnan(back) or back == pytest.approx(speed, rel=1e-9)


@given(rotors(), conditions, between(0.05, 1.0))
def test_speed_at_gap_is_the_inverse_of_the_sweep(rotor, condition, share):
    still = float(sweep(rotor, condition, 0.0).air_gap)
    speed = float(speed_at_gap(rotor, condition, share * still).speed) if still > 0 else 0.0
    if speed > 0:
        # a sweep goes no further than three times the highest speed that is named
        named = varied(rotor, speeds=varied(rotor.speeds, runaway=max(rotor.speeds.runaway, speed)))
        before, after = (float(sweep(named, condition, speed * f).air_gap) for f in (1 - 1e-9, 1 + 1e-9))
        assert before >= share * still * (1 - 1e-6)
        assert np.isnan(after) or after <= share * still * (1 + 1e-6)


@given(rotors(), conditions)
def test_more_load_means_less_float_speed(rotor, condition):
    base = float(float_speed(rotor, condition).speed)
    heavier = replace(rotor, poles=replace(rotor.poles, mass=1.2 * rotor.poles.mass))
    tighter = rotor.with_interference(1.2 * rotor.fit.interference)
    softer = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=0.9 * rotor.rim.hoop_stiffness_factor))
    hotter = replace(condition, rim_temperature=condition.rim_temperature + 5.0)
    unexcited = replace(condition, flux_density=0.0)
    if np.isfinite(base) and base > 0:
        assert float_speed(heavier, condition).speed < base
        assert not float_speed(softer, condition).speed >= base
        assert not float_speed(tighter, condition).speed <= base
        assert not float_speed(rotor, hotter).speed >= base
        assert float_speed(rotor, unexcited).speed >= base
        assert not float_speed(rotor, condition, "up").speed < float_speed(rotor, condition, "down").speed


@given(rotors())
def test_reciprocity(rotor):
    # Betti: a u(a) of a unit traction outside = b u(b) of a unit pressure on the bore
    edges = coefficients(rotor, Condition()).edges
    a, b = rotor.rim.inner_radius, rotor.rim.outer_radius
    assert a * edges.bore_displacement.traction == pytest.approx(b * edges.outer_displacement.pressure, rel=1e-12)


@pytest.mark.independent
@given(rotors(growing_spider=True), conditions, DIRECTIONS, between(0.0, 2.0))
def test_any_state_against_the_second_derivation(rotor, condition, direction, share):
    speed = share * rotor.speeds.runaway
    ours, theirs = sweep(rotor, condition, speed, direction), Machine(rotor, condition, direction).state(speed**2)
    if theirs is None:
        assert np.isnan(ours.air_gap)
        return
    size = rotor.rim.outer_radius
    assert ours.air_gap == pytest.approx(theirs.gap, abs=1e-12 * size)
    assert ours.residual_interference == pytest.approx(theirs.interference, abs=1e-12 * size)
    assert ours.contact_pressure == pytest.approx(theirs.pressure, abs=1e-3)
    assert ours.rim_bore_hoop_stress == pytest.approx(theirs.rim.stresses(rotor.rim.inner_radius)[1], abs=1.0)
