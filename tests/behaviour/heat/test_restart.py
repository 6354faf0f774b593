"""When a machine may be started again, what happens in a history, and which thermometers decide."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.heat.events import afloat, crossings, time_below
from rimmodel.behaviour.heat.restart import LOCKED, MAY, OPEN, Restart, finer_times, least_between
from rimmodel.behaviour.heat.run import run_history
from rimmodel.behaviour.heat.thermometers import decided_share, deciding_pair, thermometer_places
from rimmodel.rotor.history import History, Segment

CASE = rm.example_case()
HISTORY = CASE.histories[0]
RATED = float(CASE.rotor.speeds.rated)
HOURS = np.arange(6.0) * 3600


def restarts(*rows):
    lowest = np.array(rows)
    return Restart(0.0, HOURS, lowest, lowest, 10.0, 1.1)


@pytest.mark.derived
def test_windows_end_at_times_that_were_looked_at():
    found = restarts([13.0, 12.0, 10.0, 9.0, 10.0, 12.0], [14.0, 13.0, 12.0, 11.0, 11.5, 13.0])
    # 11 rad/s is met after one hour and no more after two; after four it is not yet met, after five it is
    assert found.windows() == (3600.0, 5 * 3600.0)
    assert found.verdicts(10.0, 1.1) == [MAY, MAY, OPEN, OPEN, OPEN, MAY]
    assert found.verdicts(12.5) == [MAY, OPEN, LOCKED, LOCKED, LOCKED, OPEN]


@pytest.mark.derived
def test_the_least_between_two_times_is_that_of_a_parabola():
    time = np.arange(9.0)
    for lowest_at in (2.0, 2.3, 2.5, 5.8):
        assert least_between((time - lowest_at) ** 2) == pytest.approx(0.0, abs=1e-12)
    assert least_between(time) == 0.0  # at an end there is nothing between
    assert least_between(time[::-1]) == 0.0
    assert least_between(np.array([np.inf, 1.0, np.inf])) == 1.0


def test_windows_without_an_end_say_so():
    assert restarts([13.0] * 6).windows() == (np.inf, 0.0)
    never = restarts([9.0] * 6).windows()
    assert np.isnan(never).all()
    late = restarts([13.0, 12.0, 9.0, 9.0, 9.0, 9.0]).windows()
    assert late[0] > 0
    assert np.isnan(late[1])


@pytest.mark.derived
def test_time_below_zero_is_that_of_straight_lines():
    left = np.array([[1.0, -1.0, -1.0, 3.0], [1.0, 2.0, 3.0, 4.0], [-1.0, -1.0, -1.0, -1.0]])
    time = np.array([0.0, 10.0, 30.0, 70.0])
    assert time_below(left, time).tolist() == [5.0 + 20.0 + 10.0, 0.0, 70.0]
    assert crossings(left[0]).tolist() == [0, 2]


@pytest.fixture(scope="module")
def run():
    return run_history(CASE, HISTORY, 120)


def test_lift_off_and_seating_are_where_the_rejection_passes_the_float_speed(run):
    kinds = [event.kind for event in run.events]
    assert kinds.count("floats") == kinds.count("seats") == 1
    floats, seats = (next(event for event in run.events if event.kind == kind) for kind in ("floats", "seats"))
    course = run.course
    for event in (floats, seats):
        exact = np.interp(event.time, course.heat.time, course.float_speed[0])
        assert event.value == pytest.approx(exact, rel=2e-3)  # straight between two times of the rejection
        assert event.low <= event.value <= event.high
    assert seats.time - floats.time == pytest.approx(afloat(course)[0], rel=1e-9)


@pytest.mark.independent
def test_the_time_afloat_is_that_of_the_load_rejection_of_a_warm_machine():
    from rimmodel.behaviour.contact.load_rejection import floating_time

    warm = History(
        "warm",
        (
            Segment("start", 60.0, RATED),
            Segment("load", 3e7, RATED, 1.0, True),
            Segment("rejection", 120.0, None, excited=True),
        ),
    )
    found = run_history(CASE, warm, 40)
    exact = floating_time(CASE.rotor, CASE.conditions["hot"], CASE.load_rejection)
    assert afloat(found.course)[0] == pytest.approx(exact.duration, rel=0.02)
    lift = next(event for event in found.events if event.kind == "floats")
    assert lift.time - (60.0 + 3e7) == pytest.approx(exact.lifts_at, rel=0.02)


def test_after_a_stop_the_float_speed_falls_before_it_rises(run):
    standing = run.restart.standing[0]
    lowest = int(np.argmin(standing))
    assert 0 < lowest < len(standing) - 1
    assert np.all(np.diff(standing[: lowest + 1]) < 0)
    assert standing[-1] > standing[0]
    # a restart heats the spider at once, so what counts is never above the machine as it stands
    assert np.all(run.restart.lowest <= run.restart.standing + 1e-9)
    steady = float(rm.float_speed(CASE.rotor, CASE.conditions["hot"]).speed)  # where every restart ends
    assert np.all(run.restart.lowest >= 0.9 * np.minimum(run.restart.standing, steady))


@pytest.mark.independent
def test_a_restart_is_what_the_history_with_that_rest_shows(run):
    # the history of the case rests for two hours, and then starts and loads as the study of restarts does
    place = int(np.flatnonzero(np.isclose(run.restart.time, 7200.0))[0])
    after = run.course.heat.segment >= 5
    shown = run.course.float_speed[:, after].min(axis=1)
    assert run.restart.lowest[:, place] == pytest.approx(shown, rel=3e-3)


def test_a_history_without_a_stop_has_no_restart():
    assert run_history(CASE, replace(HISTORY, segments=HISTORY.segments[:3]), 40).restart is None


def test_the_interval_holds_the_corners(run):
    more = run_history(CASE, HISTORY, 700)
    few, many = (found.course.float_speed.min(axis=1) for found in (run, more))
    # the worst corner is looked for, so more draws hardly widen the interval
    assert few.min() <= many.min() * 1.01


def test_the_deciding_pair_is_found_where_it_is_known(run):
    network, state = run.model.network, run.course.heat.state[:, -30]
    at = thermometer_places(network)
    outside, hub = (state @ network.basis[at[name]] for name in ("rim outside", "spider at the hub"))
    found = deciding_pair(5.0 * outside - 3.0 * hub, state, network)
    assert set(found.places) == {"rim outside", "spider at the hub"}
    assert deciding_pair(np.ones(len(state)), state, network) is None


@pytest.mark.derived
def test_readings_decide_where_what_they_leave_lies_on_one_side(run):
    network, state = run.model.network, run.course.heat.state[:, -30]
    at = thermometer_places(network)
    outside, hub = (state @ network.basis[at[name]] for name in ("rim outside", "spider at the hub"))
    quantity = 5.0 * outside - 3.0 * hub
    pair = deciding_pair(quantity, state, network)
    # two readings of 1 K each leave (25 + 9)^(1/2) at most; shrunk toward the mean they leave no more than the spread
    assert pair.after <= min(np.sqrt(34.0), pair.before) * (1 + 1e-9)
    far = np.ptp(quantity) + 10 * pair.after
    for asked, share in ((quantity.min() - far, 1.0), (quantity.max() + far, 1.0)):
        assert decided_share(pair, quantity[np.newaxis], asked, state, network) == share
    # two fits, one on each side of what is asked in every draw: no reading of the heat decides between them
    fits = np.stack([quantity - far, quantity + far])
    assert decided_share(pair, fits, float(quantity.mean()), state, network) == 0.0


@pytest.mark.derived
def test_warming_up_the_spider_may_lead_and_seat_the_rim_harder():
    # thin arms take the heat of the air before the rim does: interference in service passes that at rest in the cold
    thermal = replace(CASE.thermal, spider_heat_transfer=(90.0, 90.0), rim_bore_heat_transfer=(20.0, 20.0))
    case = replace(CASE, thermal=thermal)
    found = run_history(case, replace(HISTORY, segments=HISTORY.segments[:2]), 40)
    first = found.course.float_speed[0]
    assert first.max() > 1.05 * first[0]


@pytest.mark.derived
def test_a_restart_is_followed_until_the_rim_has_passed_the_spider():
    # steady, the rim is 8 K over the spider: a machine that starts cold has more than that float speed only at first
    found = run_history(CASE, HISTORY, 40).restart
    steady = float(rm.float_speed(CASE.rotor, CASE.conditions["hot"]).speed)
    assert np.all(found.lowest <= steady * (1 + 1e-9))
    assert found.standing[0, -1] > 1.05 * steady


def test_the_field_counts_from_the_first_moment_on_load():
    strong, weak = (
        run_history(
            replace(CASE, conditions={**CASE.conditions, "hot": replace(CASE.conditions["hot"], flux_density=flux)}),
            HISTORY, 40,
        ).restart
        for flux in (1.0, 0.0)
    )  # fmt: skip
    # two hours after the stop it is the first moment of the load that is lowest
    at = np.flatnonzero(np.isclose(weak.time, 7200.0))[0]
    assert strong.lowest[0, at] < weak.lowest[0, at] * 0.995


def test_the_answer_is_looked_for_more_closely_where_it_lies():
    time, margin = np.array([0.0, 8.0, 16.0, 24.0, 32.0]), np.array([1.0, 1.0, -1.0, 1.0, 2.0])
    new = finer_times(time, margin)
    assert new.min() > 8.0
    assert new.max() < 24.0
    assert len(new) == 14
    # a ratio that is kept at the stop and after a week, and missed in between
    first = run_history(CASE, HISTORY, 60).restart.lowest.min(axis=0) / RATED
    ratio = float((first.min() + min(first[0], first[-1])) / 2)
    again = run_history(CASE, replace(HISTORY, float_speed_ratio=ratio), 60).restart
    until, safe = again.windows()
    margin = again.lowest.min(axis=0) - ratio * RATED
    assert np.isfinite([until, safe]).all()
    assert margin[np.flatnonzero(again.time == safe)[0]] >= 0
    assert margin[np.flatnonzero(again.time == safe)[0] - 1] < 0
