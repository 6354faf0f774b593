"""When a machine may be started again, what happens in a history, and which thermometers decide."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.heat.events import afloat, crossings, time_below
from rimmodel.behaviour.heat.restart import LOCKED, MAY, OPEN, Restart
from rimmodel.behaviour.heat.run import run_history
from rimmodel.behaviour.heat.thermometers import deciding_pair, thermometer_places
from rimmodel.rotor.history import History, Segment

CASE = rm.example_case()
HISTORY = CASE.histories[0]
RATED = float(CASE.rotor.speeds.rated)
HOURS = np.arange(6.0) * 3600


def restarts(*rows):
    lowest = np.array(rows)
    return Restart(0.0, HOURS, lowest, lowest, 10.0, 1.1)


@pytest.mark.derived
def test_windows_lie_where_straight_lines_cross():
    found = restarts([13.0, 12.0, 10.0, 9.0, 10.0, 12.0], [14.0, 13.0, 12.0, 11.0, 11.5, 13.0])
    # 11 rad/s is met on the way from 12 to 10 after half an hour, and again half way from 10 to 12
    assert found.windows() == pytest.approx((1.5 * 3600, 4.5 * 3600))
    assert found.verdicts(10.0, 1.1) == [MAY, MAY, OPEN, OPEN, OPEN, MAY]
    assert found.verdicts(12.5) == [MAY, OPEN, LOCKED, LOCKED, LOCKED, OPEN]


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
    assert np.all(run.restart.lowest >= 0.9 * run.restart.standing)


@pytest.mark.independent
def test_a_restart_is_what_the_history_with_that_rest_shows(run):
    # the history of the case rests for two hours, and then starts and loads as the study of restarts does
    place = int(np.flatnonzero(np.isclose(run.restart.time, 7200.0))[0])
    after = run.course.heat.segment >= 5
    within = run.course.heat.time <= run.course.heat.time[np.flatnonzero(after)[0]] + 300.0 + 6 * 3600.0
    shown = run.course.float_speed[:, after & within].min(axis=1)
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
def test_warming_up_the_spider_may_lead_and_seat_the_rim_harder():
    # thin arms take the heat of the air before the rim does: interference in service passes that at rest in the cold
    thermal = replace(CASE.thermal, spider_heat_transfer=(90.0, 90.0), rim_bore_heat_transfer=(20.0, 20.0))
    case = replace(CASE, thermal=thermal)
    found = run_history(case, replace(HISTORY, segments=HISTORY.segments[:2]), 40)
    first = found.course.float_speed[0]
    assert first.max() > 1.05 * first[0]
