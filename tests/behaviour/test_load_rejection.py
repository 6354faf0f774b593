"""Load rejection: the equation of turning masses integrated by another method, and where the rim floats in it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from rimmodel import float_speed
from rimmodel.behaviour.contact.load_rejection import floating_time, rejection_speed
from rimmodel.rotor.allowances import LoadRejection
from tests.behaviour.invented_rotors import COLD, HOT, ROTOR, changed

REJECTION = LoadRejection(6e6, 1.2e7, 8.0, 1.1e6)
SLIPLESS = changed(fit={"friction_interference": 0.0})


@pytest.mark.independent
def test_speed_against_time_is_that_of_a_numerical_integration():
    def torque(time):
        return 1.2e7 * (1 - time / 8.0) if time < 8.0 else -1.1e6

    times = np.linspace(0.0, 40.0, 81)
    ways = [solve_ivp(lambda t, w: [torque(t) / 6e6], span, [start], rtol=1e-10, atol=1e-10, dense_output=True)
            for span, start in (((0.0, 8.0), 12.0), ((8.0, 40.0), 20.0))]  # fmt: skip
    expected = np.where(times <= 8.0, ways[0].sol(np.minimum(times, 8.0))[0], ways[1].sol(np.maximum(times, 8.0))[0])
    np.testing.assert_allclose(rejection_speed(12.0, REJECTION, times), expected, atol=1e-7)


@pytest.mark.derived
def test_work_of_the_torque_is_kinetic_energy():
    times = np.linspace(0.0, 8.0, 20001)
    speed = rejection_speed(12.0, REJECTION, times)
    work = np.trapezoid(1.2e7 * (1 - times / 8.0) * speed, times)
    assert 0.5 * 6e6 * (speed[-1] ** 2 - 12.0**2) == pytest.approx(work, rel=1e-7)


@pytest.mark.parametrize("condition", [COLD, HOT], ids=["cold", "hot"])
def test_the_rim_floats_while_the_speed_is_above_its_float_speed(condition):
    lift_off = float(float_speed(SLIPLESS, condition).speed)
    found = floating_time(SLIPLESS, condition, REJECTION)
    assert ROTOR.speeds.rated < lift_off < found.peak_speed
    for time in (found.lifts_at, found.seats_at):
        assert float(rejection_speed(SLIPLESS.speeds.rated, REJECTION, time)) == pytest.approx(lift_off, rel=1e-9)
    times = np.linspace(0.0, 200.0, 400_001)
    above = rejection_speed(SLIPLESS.speeds.rated, REJECTION, times) > lift_off
    assert found.duration == pytest.approx(above.sum() * (times[1] - times[0]), abs=2e-3)


def test_friction_lifts_it_later_and_seats_it_later():
    rough = floating_time(changed(fit={"friction_interference": 0.1e-3}), COLD, REJECTION)
    smooth = floating_time(SLIPLESS, COLD, REJECTION)
    assert rough.lifts_at > smooth.lifts_at
    assert rough.seats_at > smooth.seats_at


def test_a_tight_rim_stays_seated_and_a_loose_one_floats_from_the_start():
    tight = floating_time(SLIPLESS.with_interference(9e-3), COLD, REJECTION)
    assert tight.duration == 0.0
    assert "mm still tight at the peak" in tight.note
    loose = floating_time(SLIPLESS.with_interference(0.5e-3), COLD, REJECTION)
    assert loose.lifts_at == 0.0
    assert "floats already when the load is lost" in loose.note


def test_without_a_braking_torque_it_is_not_known_when_it_seats():
    found = floating_time(SLIPLESS, COLD, replace(REJECTION, braking_torque=0.0))
    assert np.isinf(found.duration)
    assert "no braking torque is given" in found.note


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match="time is -1 s; it must be zero or above"):
        rejection_speed(12.0, REJECTION, [0.0, -1.0])
    with pytest.raises(ValueError, match=r"inertia is 0 kg\*m\^2; it must be above zero"):
        LoadRejection(0.0, 1e6, 5.0)
