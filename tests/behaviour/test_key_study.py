"""Studies of random shims: the same bits for any number of workers, and the landmarks of any single run."""

from dataclasses import replace
from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.polynomial import Polynomial
from scipy import linalg, stats
from scipy.optimize import nnls
from scipy.spatial import ConvexHull

import rimmodel as rm
from rimmodel.behaviour.keys.crossing import first_crossings
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow, follow_sets
from rimmodel.behaviour.keys.path import key_speeds, surrounded
from rimmodel.behaviour.keys.run import key_run
from rimmodel.behaviour.keys.tolerance import BLOCK, key_study, random_shims
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
FIT = replace(CASE.rotor.fit, key_width=0.3, key_interference=None, guide_stiffness=3e9, tangential_clearance=None)
ROTOR = replace(CASE.rotor, fit=FIT)
MARKS = ("first_lift_off", "centring_lost", "last_lift_off", "one_sided", "mean_float")
SETS = random_shims(np.full(14, 2.1e-3), 0.2e-3, 2 * BLOCK + 8, seed=4)


def backwards(function, tasks):
    """Map that works from the last task to the first and keeps their order."""
    return [function(task) for task in list(tasks)[::-1]][::-1]


@pytest.mark.parametrize("workers", [2, backwards])
def test_any_number_of_workers_gives_the_same_bits(workers):
    alone = key_study(ROTOR, COLD, SETS)
    shared = key_study(ROTOR, COLD, SETS, workers=workers)
    for name in (*MARKS, "first_key"):
        assert getattr(alone, name).tobytes() == getattr(shared, name).tobytes()


def test_each_row_is_the_run_of_its_shims():
    study = key_study(ROTOR, COLD, SETS[:5])
    for row, shims in enumerate(SETS[:5]):
        run = key_run(ROTOR, COLD, [0.0], key_interference=shims)
        assert study.first_lift_off[row] == pytest.approx(run.event_speeds.first_lift_off, rel=1e-9)
        assert study.last_lift_off[row] == pytest.approx(run.event_speeds.last_lift_off, rel=1e-9)
        assert study.mean_float[row] == pytest.approx(run.event_speeds.mean_float, rel=1e-9)
        assert study.first_key[row] == run.events[0].key
        assert np.isinf(study.centring_lost[row])


# a round rim that floats free as the pull overtakes a mode goes to either side by round-off; one out of round cannot
WAVES = tuple(ShapeHarmonic(n, 0.03e-3 / n, 0.4 * n) for n in (1, 2, 3, 4))


def rotor_on(count, guides, waves=WAVES):
    fit = replace(FIT, key_count=count, key_width=0.2, guide_stiffness=guides)
    return replace(CASE.rotor, fit=fit, rim=replace(CASE.rotor.rim, shape=waves))


def rests(at, seated):
    """Key forces as the deflections they make, clearances (m), and whether it is stable: one dense system, outright."""
    keys, modes = at.shape.shape
    unit = 1.0 / at.compliance.diagonal().max()
    whole = np.zeros((2 * keys + modes,) * 2)  # forces over the unit, clearances, modes
    whole[:keys] = np.hstack([unit * at.compliance, -np.eye(keys), at.shape])
    whole[keys : 2 * keys, : 2 * keys] = np.hstack([np.diag(~seated), np.diag(seated)])
    whole[2 * keys :, :keys], whole[2 * keys :, 2 * keys :] = -at.shape.T, np.diag(at.stiffness / unit)
    found = np.linalg.solve(whole, np.concatenate([at.interference, np.zeros(keys), at.force / unit]))
    held = at.shape[seated]
    spring = np.diag(at.stiffness) + held.T @ np.linalg.solve(at.compliance[np.ix_(seated, seated)], held)
    return found[:keys], found[keys : 2 * keys], np.linalg.eigvalsh(spring)[0] > 0.0


def assert_in_balance(loads, paths, row):
    """In every piece of a set keys push, clearances are open and the state is stable, from its start to its end."""
    own = paths.piece_set == row
    starts = np.append(paths.piece_start[own], loads.nodes[-1])
    size = np.abs(loads.interference).max()
    pieces = zip(starts[:-1], starts[1:], paths.piece_seated[own], strict=True)
    for start, stop, seated in pieces:
        if stop - start < 1e-9 * stop:
            continue
        for share in (1e-6, 0.3, 0.7):
            at = loads.at(start + share * (stop - start))
            pressed, clearance, stable = rests(at, seated)
            assert min(pressed.min(), clearance.min()) > -1e-8 * size
            assert stable
    changes = np.zeros(loads.interference.size, dtype=int)
    np.add.at(changes, paths.event_key[paths.event_set == row], 1)
    assert np.all(np.diff(paths.event_at[paths.event_set == row]) >= 0.0)
    last = paths.piece_seated[own][-1]
    after = paths.event_at[paths.event_set == row] > paths.piece_start[own][-1]
    np.add.at(changes, paths.event_key[paths.event_set == row][after], -1)
    assert np.array_equal(changes % 2 == 1, ~last)  # every change is an event


@pytest.mark.independent
@pytest.mark.parametrize("tolerance", [0.2e-3, 1.5e-3, 4e-3])
@pytest.mark.parametrize("guides", [0.0, 3e8, 3e9])
@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("count", [8, 14, 24])
def test_every_set_is_in_balance_between_its_events(count, condition, guides, tolerance):
    """From even keys to ones so uneven that many are loose at standstill, against dense solves; 324 sets in all."""
    sets, rotor = random_shims(np.full(count, 2.1e-3), tolerance, 6, seed=count), rotor_on(count, guides)
    keyed, study = keyed_rotor(rotor, condition, sets.mean(axis=0)), key_study(rotor, condition, sets)
    each = [keyed.with_keys(shims) for shims in sets]
    paths = follow_sets(keyed.loads, np.stack([one.loads.interference for one in each]))
    for row, one in enumerate(each):
        assert_in_balance(one.loads, paths, row)
        if row > 1:
            continue
        path = follow(one.loads)
        marks = key_speeds(one, path)
        for name in MARKS:
            found, expected = getattr(study, name)[row], getattr(marks, name)
            assert np.isinf(found) if expected is None else found == pytest.approx(expected, rel=1e-9), name
        assert study.first_key[row] == next((event.key + 1 for event in path.events if not event.seats), 0)


@pytest.mark.independent
@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32), mean=st.floats(0.0, 4e-3), tolerance=st.floats(1e-6, 6e-3),
    hot=st.booleans(), guides=st.sampled_from([0.0, 3e8, 3e10]), off=st.floats(-1e-4, 1e-4),
)  # fmt: skip
def test_any_shims_and_eccentricity_are_in_balance_between_events(seed, mean, tolerance, hot, guides, off):
    sets = random_shims(np.full(14, mean), tolerance, 3, seed)
    keyed = keyed_rotor(rotor_on(14, guides), HOT if hot else COLD, sets.mean(axis=0), mass_eccentricity=(off, 0.3e-4))
    each = [keyed.with_keys(shims).loads for shims in sets]
    paths = follow_sets(keyed.loads, np.stack([one.interference for one in each]))
    for row, one in enumerate(each):
        if np.any(paths.piece_set == row):
            assert_in_balance(one, paths, row)


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("count", [8, 14, 24])
def test_each_event_is_where_an_outside_solver_changes_its_keys(count, condition):
    """Guides hold every mode, so the forces are a non-negative least-squares problem at each speed; bisection on it."""
    sets, rotor = random_shims(np.full(count, 2.1e-3), 0.6e-3, 4, seed=count), rotor_on(count, 3e10, waves=())
    keyed = keyed_rotor(rotor, condition, sets.mean(axis=0))
    checked = 0
    for shims in sets:
        loads = keyed.with_keys(shims).loads
        paths = follow_sets(loads, loads.interference[None])

        def seated(x, loads=loads):
            at = loads.at(x)
            assert at.stiffness.min() > 0.0
            root = linalg.cholesky(at.compliance + (at.shape / at.stiffness) @ at.shape.T)
            force, _ = nnls(root, linalg.solve_triangular(root, at.interference, trans="T"))
            return force > 0.0

        for x, key in zip(paths.event_at, paths.event_key, strict=True):
            low, high = 0.999 * x, min(1.001 * x, loads.nodes[-1])
            if x == 0.0 or loads.at(high).stiffness.min() <= 0.0:
                break
            near = np.abs(paths.event_at[paths.event_key == key] - x) < 0.002 * x
            before, after = seated(low)[key], seated(high)[key]
            if near.sum() > 1 or before == after:
                continue
            for _ in range(40):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if seated(middle)[key] == before else (low, middle)
            assert high == pytest.approx(x, rel=1e-9)
            checked += 1
    assert checked >= 2 * count


@pytest.mark.independent
@pytest.mark.parametrize("guides", [0.0, 3e9])
def test_even_sets_among_others_lift_all_keys_at_once(guides):
    sets = np.concatenate([np.full((1, 14), 2.1e-3), SETS[:2], np.full((1, 14), 1.5e-3)])
    rotor = rotor_on(14, guides, waves=())
    study, keyed = key_study(rotor, COLD, sets), keyed_rotor(rotor, COLD, sets.mean(axis=0))
    for row in (0, 3):
        marks = key_speeds(one := keyed.with_keys(sets[row]), follow(one.loads))
        assert study.first_lift_off[row] == pytest.approx(marks.mean_float, rel=1e-9)
        assert study.first_key[row] == 1
        held = study.last_lift_off if guides else study.centring_lost
        assert held[row] == pytest.approx(marks.mean_float, rel=1e-9)
        assert np.isfinite(study.last_lift_off[row]) == bool(guides)  # without them it runs onto some key at once


@pytest.mark.parametrize(("condition", "guides"), [(COLD, 0.0), (HOT, 3e9)])
def test_a_set_gives_the_same_bits_in_any_company(condition, guides):
    keyed = keyed_rotor(rotor_on(14, guides), condition, SETS.mean(axis=0))
    interference = np.stack([keyed.with_keys(shims).loads.interference for shims in SETS[:40]])
    many = follow_sets(keyed.loads, interference)
    for chosen in ([7], [39, 3, 12], list(range(20))):
        few = follow_sets(keyed.loads, interference[chosen])
        for row, number in enumerate(chosen):
            events = few.event_at[few.event_set == row], many.event_at[many.event_set == number]
            assert events[0].tobytes() == events[1].tobytes()


@pytest.mark.independent
def test_first_crossings_are_the_first_roots_of_the_polynomials_that_the_curves_are_over_their_poles():
    draw = np.random.default_rng(6)
    table, rate = draw.normal(size=(400, 5, 6)), draw.uniform(-0.9, 3.0, (400, 4))
    table[:, :, 0] = np.abs(table[:, :, 0])
    table[::4, 2, 0] = 0.0
    reach = np.where(rate.min(axis=1) < 0.0, np.minimum(8.0, -0.999 / rate.min(axis=1)), 8.0)
    step, rows = first_crossings(table, rate, reach, np.full(400, 3.0))
    for own in range(400):
        poles = [Polynomial([1.0, one]) for one in rate[own]]
        below = prod(poles, start=Polynomial([1.0]))
        expected, first = float(reach[own]), None
        for row, (value, slope, *weights) in enumerate(table[own]):
            rest = [prod(poles[:j] + poles[j + 1 :], start=Polynomial([0.0, w])) for j, w in enumerate(weights)]
            curve = Polynomial([value, slope]) * below + sum(rest)
            if value == 0.0:  # it starts there: what counts is its next root, or that it falls at once
                curve = Polynomial(curve.coef[1:])
                if curve(0.0) < 0.0:
                    expected, first = 0.0, row
                    break
            roots = curve.roots()
            real = np.sort(roots[np.abs(roots.imag) < 1e-9].real)
            falls = [root for root in real if 0.0 < root < expected and curve.deriv()(root) < 0.0]
            if falls:
                expected, first = falls[0], row
        assert step[own] == pytest.approx(expected, rel=1e-9)
        assert np.flatnonzero(rows[own]).tolist() == ([] if first is None else [first])
    assert 0 < np.sum(step == 0.0) < 200 < np.sum(rows.any(axis=1)) < 400


@pytest.mark.derived
def test_a_curve_that_touches_zero_and_turns_back_is_no_event():
    # (s - 1)^2 (s + 1)/(1 + s) = (s - 1)^2 written with s and s/(1 + 0 s) cannot bend; 1 - 3 s + 4 s/(1 + s)... does:
    # f = 1/4 + s - 9/4 s/(1 + s) has f(1/2) = 0 = f'(1/2)
    touching = np.array([[[0.25, 1.0, -2.25], [9.0, -1.0, 0.0]]])
    step, rows = first_crossings(touching, np.ones((1, 1)), np.array([20.0]), np.array([9.0]))
    assert step[0] == pytest.approx(9.0, rel=1e-12)
    assert rows.tolist() == [[False, True]]


@pytest.mark.independent
def test_seated_keys_surround_the_rim_where_their_hull_holds_the_centre():
    draw = np.random.default_rng(8)
    angle, seated = np.linspace(0.3, 0.3 + 2 * np.pi, 14, endpoint=False), draw.random((300, 14)) < 0.3
    for mask, found in zip(seated, surrounded(angle, seated), strict=True):
        place = np.stack([np.cos(angle[mask]), np.sin(angle[mask])], axis=1)
        assert found == (mask.sum() > 2 and bool(np.all(ConvexHull(place).equations[:, 2] < -1e-9)))


@pytest.mark.derived
def test_every_set_has_its_first_key_below_and_its_last_above_the_mean():
    study = key_study(ROTOR, COLD, SETS[:200])
    assert np.all(study.first_lift_off < study.mean_float)
    assert np.all(study.last_lift_off > study.mean_float)


@pytest.mark.independent
def test_random_shims_are_normal_with_the_tolerance_at_two_deviations():
    drawn = random_shims(np.zeros(20), 0.2e-3, 2000, seed=9)
    assert stats.kstest(drawn.ravel() / 0.1e-3, "norm").pvalue > 1e-3
    assert drawn[:7].tobytes() == random_shims(np.zeros(20), 0.2e-3, 7, seed=9).tobytes()
    assert not np.array_equal(drawn, random_shims(np.zeros(20), 0.2e-3, 2000, seed=10))


def test_wrong_arguments_are_refused_in_words():
    with pytest.raises(ValueError, match="workers is 0"):
        key_study(ROTOR, COLD, SETS[:2], workers=0)
    with pytest.raises(ValueError, match=r"shape \(14,\)"):
        key_study(ROTOR, COLD, SETS[0])
    with pytest.raises(ValueError, match="tolerance is -1"):
        random_shims(np.zeros(3), -1.0, 2, 0)
