"""Seated and floating states against a second derivation, finite elements, closed forms, energy and hand counts."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.sparse import block_diag, csc_matrix
from scipy.sparse.linalg import spsolve
from skfem import Basis, BilinearForm, ElementLineP2, LinearForm, MeshLine

from rimmodel import float_speed, sweep
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from tests.behaviour.invented_rotors import (
    COLD,
    DISC,
    FIXED_FLUX,
    HOT,
    OUTGROWING,
    RIM_STEEL,
    ROTOR,
    SPIDERS,
    bare_fit,
    changed,
    fully_varied,
    single,
)
from tests.behaviour.second_derivation import Machine, ring

EVERYTHING = {
    "poles": {"radial_stiffness": 5e9},
    "fit": {"key_count": 28, "key_stiffness": 2.5e10},
    "air_gap": {"stator_thermal_expansion": 11e-6, "stator_core_depth": 0.45, "stator_core_modulus": 110e9},
}
CONDITIONS = {"cold": COLD, "hot": HOT, "fixed flux": FIXED_FLUX}


def state(rotor, condition, speed, direction=None):
    return contact(coefficients(rotor, condition, direction), np.asarray(speed, dtype=float) ** 2)


@pytest.mark.independent
@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize(("direction", "more"), [(None, {}), ("up", EVERYTHING), ("down", EVERYTHING)])
def test_states_against_the_second_derivation(name, condition, direction, more):
    rotor, condition = changed(spider=SPIDERS[name], **more), CONDITIONS[condition]
    machine, states = Machine(rotor, condition, direction), set()
    for speed in (0.0, 7.0, 14.0, 21.0, 28.0):
        ours, theirs = state(rotor, condition, speed, direction), machine.state(speed**2)
        assert ours.air_gap == pytest.approx(theirs.gap, rel=1e-11)
        assert ours.pull == pytest.approx(theirs.pull, rel=1e-11)
        assert ours.residual_interference == pytest.approx(theirs.interference, rel=1e-10, abs=1e-15)
        assert ours.contact_pressure == pytest.approx(theirs.pressure, rel=1e-10)
        states.add(bool(ours.contact_pressure > 0))
    assert states == {True, False}


# finite elements ------------------------------------------------------------------------------------------------------


def bars(inner, outer, modulus, poisson, density, factor, thickness, count=60):
    """Plane-stress ring of `thickness` along its radius by scikit-fem: stiffness, spin load and nodes, per radian."""
    basis = Basis(MeshLine(np.linspace(inner, outer, count + 1)), ElementLineP2(), intorder=8)
    plane = modulus / (1 - poisson**2 * factor) * thickness

    def energy(u, v, w):
        r = w.x[0]
        radial, hoop, radial_v, hoop_v = u.grad[0], u / r, v.grad[0], v / r
        coupled = poisson * factor * (radial * hoop_v + hoop * radial_v)
        return plane * r * (radial * radial_v + coupled + factor * hoop * hoop_v)

    def spin(v, w):
        return density * thickness * w.x[0] ** 2 * v

    return BilinearForm(energy).assemble(basis), LinearForm(spin).assemble(basis), basis.doflocs[0]


def by_finite_elements(rotor, condition, speed):
    """Interference, pressure, gap and pull with rim, disc and key springs in one stiffness matrix.

    The spring between disc and rim acts while it is pressed. The pull follows the gap step by step.
    """
    rim, disc, poles, fit = rotor.rim, rotor.spider, rotor.poles, rotor.fit
    a, b, length = rim.inner_radius, rim.outer_radius, rim.length
    one, load_one, r_one = bars(
        a, b, rim.stacking_factor * 206e9, 0.3, rim.stacking_factor * 7850.0, rim.hoop_stiffness_factor, length
    )
    steel = disc.material
    two, load_two, r_two = bars(
        disc.bore_radius, a, steel.young_modulus, steel.poisson_ratio, steel.density, 1.0, disc.thickness
    )
    size, spring = len(r_one), fit.key_count * fit.key_stiffness / (2 * np.pi)
    bore, outside, tip = np.argmin(r_one), np.argmax(r_one), size + np.argmax(r_two)
    apart = block_diag([one, two], format="csc")
    row, column = [bore, tip, bore, tip], [bore, tip, tip, bore]
    joined = apart + spring * csc_matrix(([1, 1, -1, -1], (row, column)), shape=apart.shape)
    spin = np.concatenate([load_one, load_two])
    heat = a * (12e-6 * (condition.rim_temperature - 293.15) - 11e-6 * (condition.spider_temperature - 293.15))

    def solve(x, pull, tight):
        """Displacements and the overlap left by which the spring is pressed."""
        load = spin * x
        load[outside] += poles.count * poles.mass * poles.mass_radius * x / (2 * np.pi) + pull * b * length
        pressed = load.copy()
        pressed[[bore, tip]] += spring * tight * np.array([1, -1])
        moved = spsolve(joined, pressed)
        left = tight + moved[tip] - moved[bore]
        if left > 0:
            return moved[outside], left, spring * left / (a * length)
        moved = spsolve(apart, load)
        return moved[outside], tight + moved[tip] - moved[bore], 0.0

    assembled = solve(0.0, 0.0, fit.interference)[0]
    face, cold = poles.face_radius, rotor.air_gap.cold
    warm = 12e-6 * (face + cold) * (condition.stator_temperature - 293.15)
    warm -= 12e-6 * (b * (condition.rim_temperature - 293.15) + (face - b) * (condition.pole_temperature - 293.15))
    gap, pull = cold, 0.0
    for _ in range(60):
        outer, left, pressure = solve(speed**2, pull, fit.interference - fit.settlement - heat)
        gap = cold + assembled - outer + warm
        flux = condition.flux_density * cold / gap
        pull = flux**2 / (16e-7 * np.pi) * face * poles.face_length / (b * length)
    return left, pressure, gap, pull


@pytest.mark.independent
def test_states_against_finite_elements_of_rim_keys_and_disc():
    rotor = changed(spider=DISC, fit={"key_count": 28, "key_stiffness": 2.5e10})
    for speed, seated in ((0.0, True), (10.0, True), (14.0, True), (22.0, False)):
        left, pressure, gap, pull = by_finite_elements(rotor, HOT, speed)
        ours = state(rotor, HOT, speed)
        assert ours.contact_pressure == pytest.approx(pressure, rel=1e-6, abs=1e-6)
        assert ours.air_gap == pytest.approx(gap, rel=1e-9)
        assert ours.pull == pytest.approx(pull, rel=1e-8)
        assert (pressure > 0) == seated
        if not seated:
            assert ours.residual_interference == pytest.approx(left, rel=1e-6)


@pytest.mark.independent
def test_float_speed_against_finite_elements():
    rotor = changed(spider=DISC, fit={"key_count": 28, "key_stiffness": 2.5e10})
    theirs = brentq(lambda speed: by_finite_elements(rotor, HOT, speed)[0], 10.0, 25.0, xtol=1e-9)
    assert float_speed(rotor, HOT).speed == pytest.approx(theirs, rel=1e-7)


# closed forms, balance, energy ----------------------------------------------------------------------------------------


@pytest.mark.recalled
@pytest.mark.parametrize("bore", [0.0, 0.9])
def test_two_rings_of_one_steel_against_the_books(bore):
    # Lame and Timoshenko & Goodier Art. 32 from memory; for one steel Poisson's ratio leaves the pressure
    c, a, b, delta = bore, 2.0, 2.6, 1.1e-3
    modulus, nu, rho = 206e9, 0.3, 7850.0
    rotor = bare_fit(RIM_STEEL, c, a, b, delta)
    pressure = modulus * delta / a / ((b**2 + a**2) / (b**2 - a**2) + (a**2 + c**2) / (a**2 - c**2))
    outer = rho * a / (4 * modulus) * ((1 - nu) * a**2 + (3 + nu) * b**2)
    inner = rho * a / (4 * modulus) * ((1 - nu) * a**2 + (3 + nu) * c**2)
    lost = np.sqrt(delta / (outer - inner))  # = sqrt(4 E delta / (rho a (3 + nu)(b^2 - c^2)))
    assert lost == pytest.approx(np.sqrt(4 * modulus * delta / (rho * a * (3 + nu) * (b**2 - c**2))), rel=1e-14)
    assert state(rotor, COLD, 0.0).contact_pressure == pytest.approx(pressure, rel=1e-10)
    assert float_speed(rotor, COLD).speed == pytest.approx(lost, rel=1e-10)


@pytest.mark.recalled
@pytest.mark.parametrize("name", SPIDERS)
def test_pressure_falls_with_speed_squared_to_nothing_at_the_float_speed(name):
    # p/p0 = 1 - (n/n_f)^2 (Hearn, Mechanics of Materials 2, ch. 4, from memory)
    rotor = changed(spider=SPIDERS[name])
    lost = float_speed(rotor, COLD).speed
    share = np.linspace(0.0, 1.5, 31)
    pressure = state(rotor, COLD, share * lost).contact_pressure
    np.testing.assert_allclose(pressure / pressure[0], np.maximum(1 - share**2, 0.0), atol=1e-12)


@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("direction", [None, "up", "down"])
def test_nothing_is_left_at_the_float_speed(name, condition, direction):
    rotor, condition = changed(spider=SPIDERS[name], **EVERYTHING), CONDITIONS[condition]
    lost = float_speed(rotor, condition, direction).speed
    at = state(rotor, condition, [0.0, lost], direction)
    assert at.contact_pressure[1] < 1e-9 * at.contact_pressure[0]
    assert abs(at.residual_interference[1]) < 1e-9 * at.residual_interference[0]


@pytest.mark.derived
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("share", [0.0, 0.6, 0.98, 1.02, 1.6])
def test_balance_of_a_rim_section(condition, share):
    # half a rim: integral of hoop stress = a p + b (poles + pull) + rho w^2 (b^3 - a^3)/3
    condition = CONDITIONS[condition]
    speed = float(share * float_speed(ROTOR, condition).speed)
    at, rim, poles = state(ROTOR, condition, speed), ROTOR.rim, ROTOR.poles
    a, b = rim.inner_radius, rim.outer_radius
    of_poles = 48 * poles.mass * poles.mass_radius * speed**2 / (2 * np.pi * b * rim.length)
    nodes, weights = np.polynomial.legendre.leggauss(24)
    r = (a + b) / 2 + nodes * (b - a) / 2
    hoop = rim.ring.state(r, speed, at.contact_pressure, of_poles + at.pull).hoop_stress
    spin = 0.97 * 7850.0 * speed**2 * (b**3 - a**3) / 3
    loads = a * at.contact_pressure + b * (of_poles + at.pull) + spin
    assert np.sum(weights * hoop) * (b - a) / 2 == pytest.approx(loads, rel=1e-12, abs=1e-6)
    swept = sweep(ROTOR, condition, speed)
    edges = rim.ring.state([a, b], speed, at.contact_pressure, of_poles + at.pull).hoop_stress
    assert [swept.rim_bore_hoop_stress, swept.rim_outer_hoop_stress] == pytest.approx(edges, rel=1e-12)
    assert (at.contact_pressure > 0) == (share < 1)


@pytest.mark.derived
def test_work_of_shrinking_is_the_strain_energy():
    # the shrink pressure does the work of half pressure x interference on the bore; both rings store it
    rotor = changed(spider=DISC, fit={"settlement": 0.0})
    pressure = float(state(rotor, COLD, 0.0).contact_pressure)
    rim, disc = rotor.rim, DISC.material
    rings = (
        (4.0, 4.5, 1.8, ring(4.0, 4.5, 0.97 * 206e9, 0.3, 0.0, 0.85, pressure=pressure)),
        (1.1, 4.0, 0.3, ring(1.1, 4.0, disc.young_modulus, 0.28, 0.0, traction=-pressure * rim.length / 0.3)),
    )
    energy = 0.0
    nodes, weights = np.polynomial.legendre.leggauss(60)
    for inner, outer, thickness, field in rings:
        r = (inner + outer) / 2 + nodes * (outer - inner) / 2
        density = sum(s * e for s, e in zip(field.stresses(r), field.strains(r), strict=True)) / 2
        energy += np.sum(weights * density * 2 * np.pi * r) * thickness * (outer - inner) / 2
    assert 0.5 * pressure * rotor.fit.interference * 2 * np.pi * 4.0 * 1.8 == pytest.approx(energy, rel=1e-11)


@pytest.mark.derived
def test_reciprocity_of_bore_pressure_and_outside_traction():
    # Betti: a u(a) of a unit traction outside = b u(b) of a unit pressure on the bore
    model = coefficients(ROTOR, COLD)
    held_back = (model.floating.at_rest - model.seated.at_rest) / model.at_rest * model.compliance
    assert 4.0 * model.bore_per_traction == pytest.approx(4.5 * held_back, rel=1e-12)


# loose and outgrown ---------------------------------------------------------------------------------------------------


@pytest.mark.independent
def test_a_loose_rim_that_speed_seats():
    rotor = changed(spider=OUTGROWING, fit={"interference": -0.4e-3, "settlement": 0.0})
    model, machine = coefficients(rotor, COLD), Machine(rotor, COLD)
    assert model.net_growth < 0
    seats = brentq(lambda speed: machine.overlap(0.0, 0.0, speed**2), 0.0, 40.0, xtol=1e-12)
    before, after = (state(rotor, COLD, seats * factor) for factor in (1 - 1e-6, 1 + 1e-6))
    assert before.contact_pressure == 0 < after.contact_pressure
    assert state(rotor, COLD, 0.0).residual_interference == pytest.approx(-0.4e-3, rel=1e-12)


def test_assembly_without_interference_does_not_stretch_the_rim():
    loose = changed(fit={"interference": -0.5e-3, "settlement": 0.0})
    at = state(loose, COLD, 0.0)
    assert at.air_gap == pytest.approx(17e-3, rel=1e-14)
    assert at.contact_pressure == 0
    assert at.residual_interference == pytest.approx(-0.5e-3, rel=1e-14)


# arrays ---------------------------------------------------------------------------------------------------------------


def test_broadcasting():
    rotor, condition = fully_varied(5)
    speeds = np.linspace(0.0, 26.0, 4)[:, np.newaxis]
    table = state(rotor, condition, speeds)
    assert table.air_gap.shape == table.contact_pressure.shape == table.pull.shape == (4, 5)
    row, alone = state(rotor, condition, 26.0), state(single(rotor, 3), single(condition, 3), 26.0)
    assert row.air_gap.shape == (5,)
    assert np.shape(alone.air_gap) == ()
    for field in ("air_gap", "pull", "residual_interference", "contact_pressure"):
        np.testing.assert_allclose(getattr(table, field)[3], getattr(row, field), rtol=1e-14)
        np.testing.assert_allclose(getattr(row, field)[3], getattr(alone, field), rtol=1e-12, atol=1e-17)
    assert (table.contact_pressure > 0).any()
    assert (table.contact_pressure == 0).any()
