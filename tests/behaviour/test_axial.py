"""A rim slice by slice along its length: closed forms, a boundary-value solver, and every set of held slices."""

from dataclasses import replace
from itertools import product
from time import perf_counter

import numpy as np
import pytest
from scipy.integrate import solve_bvp

import rimmodel as rm
from rimmodel.arrays import floats
from rimmodel.behaviour.axial.lift_off import (
    first_lift_off,
    first_lift_off_of,
    last_lift_off_of,
    slice_lift_offs,
)
from rimmodel.behaviour.axial.planes import narrowest
from rimmodel.behaviour.axial.pressed import pressed_slices
from rimmodel.behaviour.axial.slices import Stack, slice_states, sliced_rotor, stacks
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.elastic import Ring
from rimmodel.elastic.stack_coupling import SHEAR_SHARE, spin_curl, stack_coupling
from rimmodel.rotor import Axial

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
LENGTH = float(CASE.rotor.rim.length)
LOOSE, STIFF = Stack(0.0, 0.0, False), Stack(79e9, 206e9, False)
SPEEDS = np.linspace(0.0, 26.0, 27)
RING = Ring(3.6, 4.0, 200e9, 0.0, 7850.0)
"""Steel without a Poisson ratio: what the beam of the closed forms is made of."""


def built(condition=COLD, warmer=0.0, **axial):
    rotor = replace(CASE.rotor, axial=Axial(**axial))
    return rotor, replace(condition, rim_temperature_taper=warmer)


# ------------------------------------------------------------------------------------------ nothing differs


@pytest.mark.derived
@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("end", range(4))
def test_an_even_rim_is_the_mean_model_in_every_slice(condition, end):
    rotor = replace(CASE.rotor, axial=Axial(interference_taper=0.0, slices=20))
    whole = sliced_rotor(rotor, condition, stacks(rotor)[end])
    mean, found = rm.sweep(rotor, condition, SPEEDS), slice_states(whole, SPEEDS**2)
    for name in ("air_gap", "contact_pressure", "residual_interference"):
        expected = getattr(mean, name)[:, None]
        assert np.max(np.abs(getattr(found, name) - expected)) <= 1e-12 * np.nanmax(np.abs(expected))
    lift_off = float(rm.float_speed(rotor, condition).speed)
    assert float(first_lift_off_of(whole)) == pytest.approx(lift_off, rel=1e-12)
    assert float(last_lift_off_of(whole)) == pytest.approx(lift_off, rel=1e-12)
    assert slice_lift_offs(rotor, whole) == pytest.approx(lift_off, rel=1e-9)


def test_what_differs_is_what_the_case_states():
    def differs(**stated):
        rotor, condition = built(**stated)
        return rotor.differs_along(condition)

    assert not differs()
    assert not differs(interference_taper=0.0, pole_length=LENGTH)
    for axial in ({"interference_taper": 1e-5}, {"pole_length": 0.9 * LENGTH}, {"warmer": 0.1}):
        assert differs(**axial)


# --------------------------------------------------------------------------------- slices that nothing ties


@pytest.mark.derived
def test_slices_without_a_stack_are_each_by_themselves():
    """Each slice is a rim of its own: its shims, its temperature, and the poles that press on it."""
    rotor, condition = built(warmer=4.0, interference_taper=0.3e-3, pole_length=0.75 * LENGTH, slices=8)
    whole = sliced_rotor(rotor, condition, LOOSE)
    model, heights = coefficients(rotor, COLD), (np.arange(8) - 3.5) / 8
    growth = float(model.edges.bore_displacement.traction * model.pole_traction)
    for k, height in enumerate(heights):
        tight = float(model.at_rest) + 0.3e-3 * height - 12e-6 * 3.62 * 4.0 * height
        poles = 0.0 if k in (0, 7) else 8 / 6
        per_speed = float(model.net_growth) + growth * (poles - 1.0)
        assert slice_lift_offs(rotor, whole)[k] == pytest.approx(np.sqrt(tight / per_speed), rel=1e-8)
        pressure = slice_states(whole, floats(100.0)).contact_pressure[k]
        assert pressure == pytest.approx((tight - 100.0 * per_speed) / float(model.compliance), rel=1e-10)


@pytest.mark.derived
def test_two_slices_by_hand():
    """A stack of two slices makes a cone whatever it is; a straight spider shares their load by its two supports.

    Slices at a quarter above and below the middle: the bars move by C_s (mean +- 4 x 1/4 x 1/4 (p2 - p1)/2).
    """
    rotor, condition = built(interference_taper=0.4e-3, slices=2, spider_yields="ends")
    model = coefficients(rotor, COLD)
    spider = float(model.spider.compliance)
    rest = float(model.compliance) - spider
    found = slice_states(sliced_rotor(rotor, condition, Stack(79e9, 206e9, True)), floats(0.0)).contact_pressure
    half_difference = 0.1e-3 / (rest + spider / 4)
    mean = float(model.at_rest) / float(model.compliance)
    assert found == pytest.approx([mean - half_difference, mean + half_difference], rel=1e-10)


# ------------------------------------------------------------------------------------------------- the stack


@pytest.mark.derived
def test_a_rigid_stack_leaves_the_straight_line_of_least_squares():
    coupling = stack_coupling(RING, 1.8, 12, 1e22, 1e22)
    smoothing = np.linalg.inv(np.eye(12) + 1e-11 * coupling)
    free = np.random.default_rng(3).normal(size=12)
    place = np.arange(12)
    assert smoothing @ free == pytest.approx(np.polyval(np.polyfit(place, free, 1), place), abs=1e-4)


@pytest.mark.derived
def test_three_slices_by_hand():
    """Only the bow e = w1 - 2 w2 + w3 is resisted, each slice 0.6 m thick. Faces tilt by -+ psi: the energy
    s (e/2 - psi)^2 + 2 b psi^2 is least at psi = s e/(2 s + 4 b), where it is m e^2/4 with 1/m = 1/s + 1/(2 b)."""
    shear, axial, thick, depth = 3e9, 20e9, 0.6, 0.4
    shearing = SHEAR_SHARE * shear * depth / thick * (3.8 / 3.6)
    bending = axial * depth**3 / 12 / thick**3 * (3.8 / 3.6)
    bow = np.array([1.0, -2.0, 1.0])
    expected = np.outer(bow, bow) / (1.0 / shearing + 1.0 / (2.0 * bending)) / 2.0 / thick
    assert stack_coupling(RING, 1.8, 3, shear, axial) == pytest.approx(expected, rel=1e-12)


def test_shift_and_cone_are_free_and_the_stiffer_stack_resists_more():
    soft, hard = (stack_coupling(RING, 1.8, 20, share * 79e9, share * 200e9) for share in (0.1, 1.0))
    place = np.arange(20.0)
    for free in (np.ones(20), place):
        assert np.abs(hard @ free).max() <= 1e-9 * np.abs(hard).max() * 20
    assert np.linalg.eigvalsh(soft).min() >= -1e-9 * np.abs(soft).max()
    assert np.linalg.eigvalsh(hard - soft).min() >= -1e-9 * np.abs(hard).max()


@pytest.mark.derived
def test_short_poles_on_a_stack_that_shears_follow_the_cosh():
    """A section that does not bend: lambda^2 w'' = w - U; with poles on a middle part w is U0 + A cosh(z/lambda) there
    and U1 + B cosh((L/2 - |z|)/lambda) beside it, w and w' continuous. Cells of slices against its mean over them."""
    length, half, ring = 1.8, 0.45, 2.0e-10
    shear = 4e9
    wave = np.sqrt(SHEAR_SHARE * shear * 0.4 * (3.8 / 3.6) * ring)
    inside, outside = 1.2, 0.3
    out_share = np.sinh(half / wave) / np.sinh((0.5 * length - half) / wave)
    top = (outside - inside) / (np.cosh(half / wave) + out_share * np.cosh((0.5 * length - half) / wave))

    def integral(z):
        """Of w from 0 to z."""
        z = np.abs(z)
        within = np.minimum(z, half)
        found = inside * within + top * wave * np.sinh(within / wave)
        beyond = np.maximum(z - half, 0.0)
        rim = 0.5 * length - half
        tail = wave * (np.sinh(rim / wave) - np.sinh((rim - beyond) / wave))
        return found + outside * beyond - top * out_share * tail

    errors = []
    for count in (16, 32, 64):
        edges = np.linspace(0.0, 0.5 * length, count // 2 + 1)
        exact = np.diff(integral(edges)) / np.diff(edges)
        free = np.where(np.arange(count // 2) < count // 4, inside, outside)
        coupling = stack_coupling(RING, length, count, shear, 1e25)
        found = np.linalg.solve(np.eye(count) + ring * coupling, np.r_[free[::-1], free])
        errors.append(np.abs(found[count // 2 :] - exact).max())
    assert errors[0] < 0.02
    assert errors[1] < 0.3 * errors[0]  # second order in the thickness of a slice
    assert errors[2] < 0.3 * errors[1]


@pytest.mark.independent
def test_shear_and_bending_against_a_boundary_value_solver():
    """w, phi, M, Q of the beam on the hoop of the ring under a smooth load, by collocation."""
    length, ring, shear, axial = 1.8, 2.0e-10, 5e9, 30e9
    around = 3.8 / 3.6
    shearing, bending = SHEAR_SHARE * shear * 0.4 * around, axial * 0.4**3 / 12 * around

    def load(z):
        return np.cos(2.3 * np.pi * z / length) + 0.4 * (z / length) ** 3

    def slopes(z, y):
        return np.vstack([y[1] + y[3] / shearing, y[2] / bending, -y[3], (y[0] - load(z)) / ring])

    solved = solve_bvp(
        slopes, lambda low, high: np.array([low[2], low[3], high[2], high[3]]),
        np.linspace(-0.5 * length, 0.5 * length, 200), np.zeros((4, 200)), tol=1e-6, max_nodes=20000,
    )  # fmt: skip
    assert solved.success
    errors = []
    for count in (24, 48, 96):
        place = ((np.arange(count) + 0.5) / count - 0.5) * length
        coupling = stack_coupling(RING, length, count, shear, axial)
        found = np.linalg.solve(np.eye(count) + ring * coupling, load(place))
        errors.append(np.abs(found - solved.sol(place)[0]).max())
    assert errors[-1] < 5e-4
    assert errors[2] < 0.35 * errors[1] < 0.35 * errors[0]


@pytest.mark.derived
def test_the_curl_of_an_isotropic_ring():
    """Free bend nu/E times the slope of hoop and radial stress, -(1 + nu) rho R w^2 for the mean radius.

    Exactly: the sum of both is a constant less (1 + nu)/2 rho w^2 r^2, whose moment about the middle is that slope.
    Its couple, taken to the outermost face on each side, is D phi' for a stack that does not shear.
    """
    ring = Ring(3.6, 4.0, 200e9, 0.3, 7850.0)
    curl = spin_curl(ring, 1.8, 6, 1e22, 100e9)
    bend = -0.3 * 1.3 * 7850.0 * 3.8 / 200e9
    plate = 100e9 * 0.4**3 / 12 / (1 - 0.09 * 0.5) * (3.8 / 3.6)
    thick = 0.3
    # moment D phi' at faces 2 to 4 of 5, none at the ends: couples, second differences of the moment over the slices
    moment = np.array([0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0]) * plate * bend
    expected = np.diff(moment, 2) / thick**2
    assert curl == pytest.approx(expected, rel=1e-6, abs=1e-9 * np.abs(expected).max())
    assert curl.sum() == pytest.approx(0.0, abs=1e-9 * np.abs(curl).max())


# ------------------------------------------------------------------------------------- which slices press


@pytest.mark.independent
def test_the_held_slices_against_every_set_of_them():
    rng = np.random.default_rng(11)
    for _ in range(40):
        half = rng.normal(size=(6, 6))
        matrix, wanted = half @ half.T + 0.1 * np.eye(6), rng.normal(size=6)
        answers = []
        for chosen in product((False, True), repeat=6):
            held = np.array(chosen)
            pressure = np.zeros(6)
            pressure[held] = np.linalg.solve(matrix[np.ix_(held, held)], wanted[held])
            if (pressure >= 0.0).all() and (matrix @ pressure - wanted >= -1e-9).all():
                answers.append(pressure)
        found, clearance = pressed_slices(matrix, wanted)
        assert found == pytest.approx(answers[0], abs=1e-8)
        assert clearance == pytest.approx(matrix @ answers[0] - wanted, abs=1e-8)


def test_many_states_at_once_are_those_one_by_one():
    rotor, condition = built(interference_taper=0.5e-3, pole_length=1.6, pole_rise=0.05, slices=16)
    whole = sliced_rotor(rotor, condition, Stack(5e9, 30e9, True))
    x = np.linspace(0.0, 700.0, 60)
    wanted = whole.left(x, np.zeros_like(x))
    together = pressed_slices(whole.yielding, wanted)
    partly = 0
    for k in range(x.size):
        alone = pressed_slices(whole.yielding, wanted[k])
        partly += 0 < np.count_nonzero(alone[0]) < 16
        for one, other in zip(alone, together, strict=True):
            assert other[k] == pytest.approx(one, rel=1e-9, abs=1e-9 * np.abs(one).max() + 1e-18)
    assert partly > 3


# ------------------------------------------------------------------------------------------- tapers in closed form


@pytest.mark.derived
@pytest.mark.parametrize("slices", [2, 7, 48])
@pytest.mark.parametrize("end", [LOOSE, Stack(8e9, 60e9, False)])
def test_tapered_shims_lift_off_at_their_ends_whatever_the_stack_is(slices, end):
    rotor, condition = built(interference_taper=0.3e-3, slices=slices)
    rotor = replace(rotor, rim=replace(rotor.rim, material=replace(rotor.rim.material, poisson_ratio=0.0)))
    whole, model = sliced_rotor(rotor, condition, end), coefficients(rotor, condition)
    for found, side in ((first_lift_off_of(whole), -1.0), (last_lift_off_of(whole), 1.0)):
        expected = np.sqrt((float(model.at_rest) + side * 0.15e-3) / float(model.net_growth))
        assert float(found) == pytest.approx(expected, rel=1e-10)


@pytest.mark.derived
def test_a_straight_spider_lets_go_earlier():
    """Pressure linear in height: its end carries tau/2 over what a cone yields to, C - C_s + C_s/3."""
    rotor, condition = built(interference_taper=0.3e-3, slices=80)
    whole, model = sliced_rotor(rotor, condition, Stack(0.0, 0.0, True)), coefficients(rotor, condition)
    cone = float(model.compliance - model.spider.compliance * 2 / 3)
    left = 0.15e-3 * float(model.compliance) / cone
    expected = np.sqrt((float(model.at_rest) - left) / float(model.net_growth))
    assert float(first_lift_off_of(whole)) == pytest.approx(expected, rel=1e-4)
    assert expected < float(first_lift_off_of(sliced_rotor(rotor, condition, LOOSE)))


@pytest.mark.derived
def test_a_warmer_end_does_what_its_growth_takes_from_the_shims():
    warm, shims = built(warmer=5.0, interference_taper=0.0), built(interference_taper=-12e-6 * 3.62 * 5.0)
    for which in (first_lift_off_of, last_lift_off_of):
        speeds = [float(which(sliced_rotor(*one, STIFF))) for one in (warm, shims)]
        assert speeds[0] == pytest.approx(speeds[1], rel=1e-12)


def test_shorter_poles_free_the_middle_first_and_a_stiff_stack_less():
    rotor, condition = built(pole_length=0.8 * LENGTH, slices=20)
    mean = float(rm.float_speed(rotor, condition).speed)
    spreads = []
    for end in (LOOSE, Stack(1e9, 10e9, False), STIFF):
        each = slice_lift_offs(rotor, sliced_rotor(rotor, condition, end))
        assert each[9] < mean < each[0]
        spreads.append(np.ptp(each))
    assert spreads[0] > spreads[1] > spreads[2]


@pytest.mark.parametrize("condition", [COLD, HOT])
def test_each_slice_presses_just_below_its_lift_off_and_not_above(condition):
    rotor, state = built(condition, 3.0, interference_taper=-0.2e-3, pole_length=1.6, pole_rise=0.1, slices=12)
    for end in (Stack(3e9, 20e9, True), STIFF):
        whole = sliced_rotor(rotor, state, end)
        each = slice_lift_offs(rotor, whole)
        own = np.arange(12)
        below, above = (slice_states(whole, (each * share) ** 2).contact_pressure for share in (1 - 1e-6, 1 + 1e-6))
        assert (below[own, own] > 0.0).all()
        assert (above[own, own] == 0.0).all()
        assert float(first_lift_off_of(whole)) <= each.min() * (1 + 1e-9)
        assert float(last_lift_off_of(whole)) >= each.max() * (1 - 1e-9)


# --------------------------------------------------------------------------------------------------- the gap


@pytest.mark.derived
@pytest.mark.parametrize("condition", [COLD, HOT])
def test_the_mean_over_the_slices_is_the_mean_model_while_all_press_and_when_none_does(condition):
    rotor, state = built(condition, 3.0, interference_taper=0.2e-3, pole_length=1.7)
    x = np.array([0.0, 60.0, 1200.0])
    mean = contact(coefficients(rotor, state), x)
    for end in stacks(rotor):
        found = slice_states(sliced_rotor(rotor, state, end), x)
        assert found.air_gap.mean(axis=-1) == pytest.approx(mean.air_gap, rel=1e-9)
        assert found.contact_pressure.mean(axis=-1) == pytest.approx(mean.contact_pressure, rel=1e-9)


@pytest.mark.derived
def test_a_floating_cone_comes_nearest_at_its_warmer_end():
    """With even shims and poles a floating rim grows by alpha r dT/2 at its end: 47/48 of it in the last slice, under
    poles as warm as the rim."""
    rotor, condition = built(COLD, 6.0, interference_taper=0.0, shear_modulus=(0.0, 0.0))
    rotor = rotor.with_interference(-3e-3)
    expected = 12e-6 * float(rotor.poles.face_radius) * 3.0 * 47 / 48
    for speed in (0.0, 15.0):
        assert float(narrowest(rotor, condition, floats(speed**2))) == pytest.approx(expected, rel=1e-9)
    even = replace(condition, rim_temperature_taper=0.0)
    asked = ["least_gap_at_rated"]
    loss = quantity_values(rotor, even, asked)[asked[0]] - quantity_values(rotor, condition, asked)[asked[0]]
    assert float(loss) == pytest.approx(expected, rel=1e-9)


def test_arrays_of_rotors_are_rotors_one_by_one():
    taper = np.array([-0.2e-3, 0.0, 0.3e-3])
    rotor, condition = built(HOT, 2.0, interference_taper=taper, slices=12)
    even = replace(rotor, fit=replace(rotor.fit, key_interference=None, interference=np.array([2e-3, 2.1e-3, 1.8e-3])))
    asked = ["first_lift_off", "least_gap_at_overspeed"]
    together = quantity_values(even, condition, asked)
    for k in range(3):
        alone = replace(
            even,
            axial=replace(even.axial, interference_taper=float(taper[k])),
            fit=replace(even.fit, interference=float(even.fit.interference[k])),
        )
        single = quantity_values(alone, condition, asked)
        for name in asked:
            assert together[name][k] == pytest.approx(float(single[name]), rel=1e-9)


def test_first_lift_off_is_that_of_the_mean_at_the_latest():
    rotor, condition = built(HOT, 3.0, interference_taper=0.2e-3, pole_length=1.7)
    mean = float(rm.float_speed(rotor, condition).speed)
    assert float(first_lift_off(rotor, condition)) < mean
    assert float(first_lift_off(CASE.rotor, HOT)) == float(rm.float_speed(CASE.rotor, HOT).speed)


def test_a_rim_that_is_loose_at_one_end_floats_there_at_standstill():
    rotor, condition = built(interference_taper=5e-3)
    assert float(first_lift_off(rotor, condition)) == 0.0
    assert float(last_lift_off_of(sliced_rotor(rotor, condition, LOOSE))) > 0.0


def test_a_gap_that_the_pull_closes_has_no_lift_off():
    strong = replace(HOT, flux_density=10.0)
    rotor, condition = built(strong, 3.0, interference_taper=0.2e-3)
    assert np.isnan(float(first_lift_off(rotor, condition)))
    assert np.isnan(slice_lift_offs(rotor, sliced_rotor(rotor, condition, LOOSE))).all()
    assert np.isnan(slice_states(sliced_rotor(rotor, condition, LOOSE), floats(100.0)).air_gap).all()


def test_two_hundred_speeds_take_less_than_half_a_second():
    rotor, condition = built(interference_taper=0.3e-3, pole_length=1.6, slices=24)
    whole = sliced_rotor(rotor, condition, Stack(5e9, 30e9, True))
    slice_states(whole, SPEEDS**2)
    started = perf_counter()
    slice_states(whole, np.linspace(0.0, 26.0, 200) ** 2)
    assert perf_counter() - started < 0.5
