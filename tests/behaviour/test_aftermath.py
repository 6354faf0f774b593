"""What is left after an overspeed: growth of the free ring, and the float speed by the law of the shrink fit."""

from dataclasses import replace

import numpy as np
import pytest

from rimmodel import first_yield, float_speed
from rimmodel.behaviour.contact.aftermath import after_overspeed
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.elastic import fully_plastic_speed, permanent_growth
from tests.behaviour.invented_rotors import COLD, HOT, RIM_STEEL, changed

SOFT = changed(
    rim={"material": replace(RIM_STEEL, yield_strength=260e6)},
    fit={"settlement": 0.0, "friction_interference": 0.0},
)
TRACTION = 48 * 3900.0 * 4.75 / (2 * np.pi * 4.5 * 1.8)
STRENGTH = 260e6 * 0.97 * 0.85


def between(share, condition=COLD):
    """A speed between first yield and collapse."""
    low = float(first_yield(SOFT, condition).speed)
    return low + share * (float(fully_plastic_speed(SOFT.rim.ring, STRENGTH, TRACTION)) - low)


@pytest.mark.derived
@pytest.mark.parametrize("share", [0.2, 0.6, 0.95])
def test_the_bore_growth_is_lost_to_the_interference_and_the_float_speed_follows(share):
    speed = between(share)
    found = after_overspeed(SOFT, COLD, speed)
    growth = permanent_growth(SOFT.rim.ring, STRENGTH, speed, TRACTION)
    assert found.bore_growth == pytest.approx(float(growth.bore), rel=1e-9)
    assert found.outer_growth == pytest.approx(float(growth.outer), rel=1e-9)
    assert found.interference == pytest.approx(2.4e-3 - float(growth.bore))
    # a cold rim without pull floats at w^2 = delta/(c_r - c_s)
    squared = found.interference / float(coefficients(SOFT, COLD).net_growth)
    assert float(found.float_speed.speed) == pytest.approx(np.sqrt(squared))
    assert "larger for good" in found.note


def test_below_yield_nothing_is_lost():
    found = after_overspeed(SOFT, HOT, 0.98 * float(first_yield(SOFT, HOT).speed), COLD)
    assert (found.bore_growth, found.interference) == (0.0, 2.4e-3)
    assert float(found.float_speed.speed) == float(float_speed(SOFT, COLD).speed)
    assert "no yield" in found.note


def test_the_pull_of_the_field_adds_to_the_growth():
    speed = between(0.5)
    assert after_overspeed(SOFT, HOT, speed).bore_growth > after_overspeed(SOFT, COLD, speed).bore_growth


def test_what_it_cannot_answer_is_refused():
    with pytest.raises(ValueError, match="it must not exceed the fully plastic speed"):
        after_overspeed(SOFT, COLD, between(1.05))
    tight = SOFT.with_interference(0.03)
    with pytest.raises(ValueError, match="yields there while it is still seated"):
        after_overspeed(tight, COLD, 1.2 * float(first_yield(tight, COLD).speed) + 5.0)
    with pytest.raises(ValueError, match="no yield_strength"):
        after_overspeed(changed(SOFT, rim={"material": replace(RIM_STEEL, yield_strength=None)}), COLD, 20.0)
    with pytest.raises(ValueError, match="speed is nan rad/s"):
        after_overspeed(SOFT, COLD, float("nan"))
