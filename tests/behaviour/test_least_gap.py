"""The least gap over bore and turn: against brute grids, a root finder, the keys one by one, and closed forms."""

from dataclasses import replace
from time import perf_counter

import numpy as np
import pytest
from scipy.optimize import root

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.shape import free_shape
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.keys.run import key_run
from rimmodel.behaviour.least_gap.least import gap_map, least_gap, rigid_least, settled_least
from rimmodel.behaviour.least_gap.shapes import Shapes, bore_shape, magnification, shapes
from rimmodel.behaviour.quantities import evaluate, quantity_values
from rimmodel.rotor import Assembly
from rimmodel.rotor.assembly import BoreHarmonic, Restraint
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
ROUND = (BoreHarmonic(2, 0.0),)
KNOWN = Assembly(ROUND, (), 0.0, 0.0, 0.0, 0.0, 0.0)
"""A bore known to be round and a rotor known to be central, plumb and without orbit."""


def built(*waves, assembly=KNOWN, **fit):
    shape = tuple(ShapeHarmonic(*wave) for wave in waves) or (ShapeHarmonic(2, 0.0),)
    rotor = CASE.rotor
    fit = {"key_interference": None} | fit
    return replace(rotor, rim=replace(rotor.rim, shape=shape), assembly=assembly, fit=replace(rotor.fit, **fit))


def states(rotor, condition, speed):
    x = np.asarray(speed, dtype=float) ** 2
    model = coefficients(rotor, condition)
    return model, contact(model, x), x


def random_shapes(seed, count=8):
    rng = np.random.default_rng(seed)
    waves = 0.1e-3 * (rng.normal(size=(2, count + 1)) + 1j * rng.normal(size=(2, count + 1)))
    waves[:, 0] = 0.0
    return Shapes(np.float64(16e-3), waves[0], waves[1], np.float64(0.05e-3))


def local_gap(found, stator, turn, shift=0j):
    """Written out wave by wave, for the brute grids."""
    gap = float(found.mean_gap) + 0.0 * stator * turn
    for n, (bore, face) in enumerate(zip(found.bore, found.faces, strict=True)):
        gap = gap + (bore * np.exp(1j * n * stator)).real - (face * np.exp(1j * n * (stator - turn))).real
    return gap - (shift * np.exp(-1j * stator)).real


def brute_least(found):
    """Every place of the bore at every turn, half a degree apart; then a finer grid about the lowest."""
    stator, turn, half = np.pi, np.pi, np.pi
    for count in (720, 200, 200, 200):
        stators, turns = (at + half * np.linspace(-1.0, 1.0, count) for at in (stator, turn))
        values = np.array([local_gap(found, stators, at) for at in turns])
        row, column = np.unravel_index(np.argmin(values), values.shape)
        stator, turn, half = stators[column], turns[row], 4.0 * half / count
    return values.min()


@pytest.mark.independent
@pytest.mark.parametrize("seed", range(5))
def test_random_shapes_against_a_grid_over_bore_and_turn(seed):
    found = random_shapes(seed)
    best = rigid_least(found)
    brute = brute_least(found) - 0.05e-3
    assert best.gap == pytest.approx(brute, abs=1e-10)
    at_best = local_gap(found, best.stator_angle, best.stator_angle - best.rotor_angle) - 0.05e-3
    assert at_best == pytest.approx(best.gap, abs=1e-15)


@pytest.mark.independent
def test_a_rotor_that_follows_its_pull_against_a_root_finder():
    """Field, springy shaft, random shapes: force by 800 points and scipy's root finder at each of many turns."""
    found = replace(random_shapes(2), anywhere=np.float64(0.0))
    rotor = built(assembly=replace(KNOWN, shaft_stiffness=2e9, carter_factor=1.2))
    angle = np.linspace(0.0, 2.0 * np.pi, 800, endpoint=False)
    ray = np.exp(1j * angle)
    cylinder = 2.0 * np.pi * 4.58 * 1.80
    traction = 0.95**2 / (4.0 * 4e-7 * np.pi)  # at 16 mm, which is the cold gap

    def force(shift, turn):
        width = local_gap(found, angle, turn, shift) + 0.2 * 16e-3
        return cylinder * traction * ((19.2e-3 / width) ** 2 * ray).mean()

    def least_at(turn):
        def off(xy):
            shift = complex(*xy) * 1e-3
            left = force(shift, turn) / 2e9 - shift
            return [left.real * 1e3, left.imag * 1e3]

        shift = complex(*root(off, [0.0, 0.0], tol=1e-12).x) * 1e-3
        return local_gap(found, angle, turn, shift).min()

    best, closed = settled_least(rotor, HOT, found)
    turns = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    near = turns[np.argmin([least_at(turn) for turn in turns])]
    brute = min(least_at(turn) for turn in near + np.linspace(-0.14, 0.14, 41))
    assert best.gap == pytest.approx(brute, abs=2e-7)
    assert best.gap < rigid_least(found).gap
    assert np.all(closed.margin > 0.0)


@pytest.mark.derived
def test_a_known_circle_loses_its_offset_exactly_and_what_the_shaft_yields():
    off = built(assembly=replace(KNOWN, centre_offset=0.4e-3, centre_offset_angle=1.0, orbit=0.1e-3))
    assert evaluate("least_gap_at_standstill", off, COLD) == pytest.approx(16e-3 - 0.5e-3, abs=1e-13)
    soft = replace(off, assembly=replace(off.assembly, shaft_stiffness=4e9, saturation_factor=1.2))
    gap = float(np.asarray(contact(coefficients(soft, HOT), np.float64(0.0)).air_gap))
    flux = 0.95 * 16e-3 / gap
    wide = gap + 0.2 * 16e-3
    stiff = np.pi * 4.58 * 1.80 * flux**2 / (2.0 * 4e-7 * np.pi * wide)

    def missing(d):
        e = 0.5e-3 + d
        return stiff * e / (1.0 - (e / wide) ** 2) ** 1.5 - 4e9 * d

    from scipy.optimize import brentq

    d = brentq(missing, 0.0, 1e-3, xtol=1e-16)
    assert evaluate("least_gap_at_standstill", soft, HOT) == pytest.approx(gap - 0.5e-3 - d, abs=1e-10)


def test_a_shaft_that_does_not_hold_leaves_no_least_gap():
    weak = built(assembly=replace(KNOWN, centre_offset=0.4e-3, shaft_stiffness=1e8))
    assert np.isnan(evaluate("least_gap_at_rated", weak, HOT))
    assert np.isfinite(evaluate("least_gap_at_rated", weak, COLD))


@pytest.mark.derived
def test_the_floating_rim_is_magnified_as_the_free_shape_is():
    rotor = built((2, 0.5e-3, 0.3))
    speed = 2.0 * CASE.rotor.speeds.rated
    model, state, x = states(rotor, HOT, speed)
    assert state.residual_interference < 0
    free = free_shape(rotor, HOT, [speed]).magnification[0, 0]
    assert magnification(rotor, HOT, model, state, x, 2) == pytest.approx(free, rel=1e-12)


@pytest.mark.independent
@pytest.mark.parametrize("flux", [0.0, 0.9])
def test_the_seated_rim_keeps_its_shape_as_many_even_keys_hold_it(flux):
    """Key by key, 28 even keys: the outside follows the smeared formula within a tenth of its change."""
    rotor = built((2, 0.6e-3, 0.4), key_count=28, tangential_clearance=None, key_stiffness=2e10)
    condition = replace(COLD, flux_density=flux)
    speed = 0.9 * CASE.rotor.speeds.rated
    model, state, x = states(rotor, condition, speed)
    assert state.residual_interference > 0
    run = key_run(rotor, condition, [speed], key_interference=np.full(28, 2.1e-3))
    smeared = 0.6e-3 * magnification(rotor, condition, model, state, x, 2)
    change = run.ovality[0] - 0.6e-3
    assert smeared - 0.6e-3 == pytest.approx(change, rel=0.1)
    assert smeared == pytest.approx(run.ovality[0], rel=0.02)


@pytest.mark.derived
def test_waves_shorter_than_two_key_pitches_slip_between_the_keys():
    rotor = built()
    model, state, x = states(rotor, HOT, CASE.rotor.speeds.rated)
    bare = built(key_count=4)
    assert magnification(bare, HOT, model, state, x, 3) == pytest.approx(
        free_shape(rotor, HOT, [CASE.rotor.speeds.rated], 3).magnification[0, 1], rel=1e-9
    )
    assert magnification(rotor, HOT, model, state, x, 3) != pytest.approx(
        float(magnification(bare, HOT, model, state, x, 3)), rel=1e-3
    )


@pytest.mark.derived
def test_frame_that_holds_the_core_back_makes_waves_of_its_growth():
    rotor = built(assembly=replace(KNOWN, stator_restraint=(Restraint(6, 0.25, 0.1),)))
    free = 12e-6 * (4.58 + 0.016) * 45.0
    waves = bore_shape(rotor, HOT)
    assert waves[6] == pytest.approx(-0.25 * free * np.exp(-0.6j), rel=1e-12)
    assert not bore_shape(rotor, COLD).any()


@pytest.mark.derived
def test_what_nobody_measured_is_taken_off_at_the_full_assembly_tolerance():
    bare = built(assembly=Assembly(orbit=0.0))
    bare = replace(bare, rim=replace(bare.rim, shape=()))
    twenty = 16e-3 - 4 * 0.05 * 16e-3  # bore, faces, centre, and half of each lean
    assert evaluate("least_gap_at_standstill", bare, COLD) == pytest.approx(twenty, abs=1e-12)
    tight = replace(bare, assembly=Assembly(orbit=0.0, concentricity_share=0.02, stator_circularity_share=0.03))
    assert evaluate("least_gap_at_standstill", tight, COLD) == pytest.approx(twenty + 0.05 * 16e-3, abs=1e-12)
    fast = 2.0 * CASE.rotor.speeds.rated
    model, state, x = states(bare, HOT, fast)
    gain = magnification(bare, HOT, model, state, x, 2)
    assert gain > 1.0
    taken = shapes(bare, HOT, model, state, x).anywhere
    assert taken == pytest.approx(0.8e-3 * (3 + gain) + 0.3e-3)  # with the play of the guides, as the rim floats


def test_a_floating_rim_without_guides_has_no_least_gap():
    loose = built(tangential_clearance=None)
    assert np.isnan(evaluate("least_gap_at_runaway", loose, HOT))
    assert np.isfinite(evaluate("least_gap_at_rated", loose, HOT))
    held = built(tangential_clearance=None, guide_stiffness=1e11)
    assert np.isfinite(evaluate("least_gap_at_runaway", held, HOT))


def test_many_rotors_at_once_are_each_alone():
    rotor = built(
        (1, 0.2e-3, 0.5), (2, 0.3e-3, 0.0), assembly=replace(KNOWN, centre_offset=0.2e-3, shaft_stiffness=3e9)
    )
    several = np.array([0.5e-3, 2.1e-3, 2.3e-3])
    for condition in (COLD, HOT):
        names = [f"least_gap_at_{at}" for at in ("standstill", "rated", "runaway")]
        rows = quantity_values(rotor.with_interference(several), condition, names)
        for place, value in enumerate(several):
            alone = quantity_values(rotor.with_interference(float(value)), condition, names)
            for name in names:
                np.testing.assert_allclose(rows[name][place], alone[name], rtol=1e-12)


@pytest.mark.derived
def test_the_map_reads_as_sensors_do_and_holds_the_least_gap():
    found = random_shapes(4)
    sensors, poles = np.linspace(0, 2 * np.pi, 720, endpoint=False), np.linspace(0, 2 * np.pi, 720, endpoint=False)
    table = gap_map(found, sensors, poles)
    assert table.shape == (720, 720)
    assert 0.0 <= table.min() - 0.05e-3 - rigid_least(found).gap < 1e-6  # what half a degree misses of these waves
    assert table[100, 200] == pytest.approx(local_gap(found, sensors[100], sensors[100] - poles[200]), abs=1e-15)


def test_the_whole_map_takes_less_than_a_second():
    rotor = built(
        (1, 0.2e-3, 0.5), (2, 0.3e-3, 0.0), assembly=replace(KNOWN, centre_offset=0.2e-3, shaft_stiffness=3e9)
    )
    started = perf_counter()
    speed = np.linspace(0.0, 20.0, 200)
    model, state, x = states(rotor, HOT, speed)
    found = shapes(rotor, HOT, model, state, x)
    table = gap_map(found, np.arange(16) * np.pi / 8, np.arange(48) * np.pi / 24)
    least = least_gap(rotor, HOT, model, state, x)
    took = perf_counter() - started
    assert table.shape == (200, 16, 48)
    assert np.all(least.gap <= table.min(axis=(1, 2)) + 1e-12)
    assert took < 1.0


UNEVEN = tuple(1e-3 * shim for shim in (2.05, 2.15, 2.1, 2.2, 2.0, 2.1, 2.15, 2.05, 2.12, 2.08, 2.1, 2.05, 2.15, 2.1))


@pytest.mark.independent
def test_a_rim_on_uneven_shims_loses_what_its_keys_press_out_of_round():
    """Against a least gap read on a grid from the run key by key, with the bore's own wave added there."""
    bore = replace(KNOWN, stator_shape=(BoreHarmonic(3, 0.2e-3, 0.4),))
    rotor = built(key_interference=UNEVEN, assembly=bore)
    for at in ("standstill", "rated", "overspeed"):
        speed = float(rotor.speeds.from_standstill[at])
        run = key_run(rotor, COLD, [speed])
        angle = np.linspace(0.0, 2.0 * np.pi, 20000)
        n = np.arange(run.outer_harmonics.shape[1])
        waves = run.outer_harmonics[0].copy()
        waves[0] = 0.0
        crest = max((waves * np.exp(1j * n * turn)).real.sum() for turn in angle[::10])
        extra = run.eccentricity[0] - np.hypot(*run.centre[0])
        by_hand = run.mean_gap[0] - crest - extra - 0.2e-3
        assert evaluate(f"least_gap_at_{at}", rotor, COLD) == pytest.approx(by_hand, abs=3e-7)
        even = replace(rotor, fit=replace(rotor.fit, key_interference=None))
        if at != "overspeed":  # there the smeared rim floats already and leans on its guides
            assert by_hand < evaluate(f"least_gap_at_{at}", even, COLD)


def test_many_rotors_on_uneven_shims_are_never_better_than_the_three_that_were_followed():
    rotor = built(key_interference=UNEVEN)
    several = np.array([2.1e-3, 1.9e-3, 2.3e-3])
    rows = quantity_values(rotor.with_interference(several), COLD, ["least_gap_at_rated"])["least_gap_at_rated"]
    alone = [evaluate("least_gap_at_rated", rotor.with_interference(float(one)), COLD) for one in several]
    assert np.all(rows <= np.array(alone) + 1e-12)
    assert np.max(np.array(alone) - rows) < 0.05e-3
