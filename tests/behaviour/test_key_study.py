"""Studies of random shims: the same bits for any number of workers, and the landmarks of any single run."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.spatial import ConvexHull

import rimmodel as rm
from rimmodel.behaviour.keys.crossing import first_crossing
from rimmodel.behaviour.keys.crossings_of_many import first_crossings
from rimmodel.behaviour.keys.events import follow
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow_sets
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


def assert_same_paths(keyed, sets):
    """Events, losses and pieces of each set in lockstep and on its own."""
    together = follow_sets(keyed.loads, np.stack([keyed.with_keys(shims).loads.interference for shims in sets]))
    for row, shims in enumerate(sets):
        alone = follow(keyed.with_keys(shims).loads)
        events, lost, pieces = (own == row for own in (together.event_set, together.lost_set, together.piece_set))
        assert together.event_key[events].tolist() == [event.key for event in alone.events]
        assert together.event_seats[events].tolist() == [event.seats for event in alone.events]
        assert together.lost_mode[lost].tolist() == [mode for _, mode in alone.lost]
        assert together.piece_seated[pieces].tolist() == [piece.seated.tolist() for piece in alone.pieces]
        for found, expected in (
            (together.event_at[events], [event.speed_squared for event in alone.events]),
            (together.lost_at[lost], [x for x, _ in alone.lost]),
            (together.piece_start[pieces], [piece.start for piece in alone.pieces]),
        ):
            assert np.allclose(found, expected, rtol=1e-9, atol=0.0)


@pytest.mark.independent
@pytest.mark.parametrize("tolerance", [0.2e-3, 1.5e-3, 4e-3])
@pytest.mark.parametrize("guides", [0.0, 3e8, 3e9])
@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("count", [8, 14, 24])
def test_lockstep_finds_every_event_and_landmark_of_each_set_followed_alone(count, condition, guides, tolerance):
    """From even keys to ones so uneven that many are loose at standstill; 324 sets in all."""
    sets, rotor = random_shims(np.full(count, 2.1e-3), tolerance, 6, seed=count), rotor_on(count, guides)
    keyed, study = keyed_rotor(rotor, condition, sets.mean(axis=0)), key_study(rotor, condition, sets)
    assert_same_paths(keyed, sets)
    for row, shims in enumerate(sets):
        one = keyed.with_keys(shims)
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
def test_lockstep_finds_every_event_of_any_shims_and_eccentricity(seed, mean, tolerance, hot, guides, off):
    sets = random_shims(np.full(14, mean), tolerance, 3, seed)
    keyed = keyed_rotor(rotor_on(14, guides), HOT if hot else COLD, sets.mean(axis=0), mass_eccentricity=(off, 0.3e-4))
    assert_same_paths(keyed, sets)


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
def test_first_crossings_of_many_sets_are_those_of_each():
    draw = np.random.default_rng(6)
    table, rate = draw.normal(size=(400, 5, 6)), draw.uniform(-0.9, 3.0, (400, 4))
    table[:, :, 0] = np.abs(table[:, :, 0])
    table[::4, 2, 0] = 0.0
    reach = np.where(rate.min(axis=1) < 0.0, np.minimum(8.0, -0.999 / rate.min(axis=1)), 8.0)
    step, rows = first_crossings(table, rate, reach, np.full(400, 3.0))
    for own in range(400):
        expected, fallen = first_crossing(table[own], rate[own], float(reach[own]), 3.0)
        assert step[own] == pytest.approx(expected, rel=1e-12)
        assert rows[own].tolist() == fallen.tolist()
    assert 0 < np.sum(step == 0.0) < 200 < np.sum(rows.any(axis=1)) < 400


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
