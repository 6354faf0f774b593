"""Teeth between pole slots against sums over thin slices, and a rim with slots the same rim written otherwise."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.shape import rim_mass, tooth_mass
from rimmodel.elastic import Teeth, wedging

CASE = rm.example_case()
ROTOR, COLD = CASE.rotor, CASE.conditions["cold"]
ROOT, OUTSIDE, MODULUS, DENSITY, SHARE = 3.97, 4.06, 200e9, 7600.0, 0.6


def slotted(**keys):
    return replace(ROTOR, rim=replace(ROTOR.rim, slot_depth=0.09, **keys))


@pytest.mark.derived
def test_teeth_against_a_sum_over_slices():
    """Mass and strain of each slice by the midpoint rule; traction is force over the circumference of the root."""
    r, step = np.linspace(ROOT, OUTSIDE, 20001, retstep=True)
    middle = (r[1:] + r[:-1]) / 2
    own = SHARE * 2 * np.pi * middle * step * DENSITY * middle  # centrifugal force of each slice at 1 rad/s
    teeth = Teeth(ROOT, OUTSIDE, MODULUS, DENSITY, SHARE)
    assert teeth.traction_per_speed_squared == pytest.approx(own.sum() / (2 * np.pi * ROOT), rel=1e-8)
    section = SHARE * 2 * np.pi * middle * MODULUS
    hung = 2 * np.pi * ROOT  # force of 1 Pa on the root
    assert teeth.stretch_per_traction == pytest.approx((hung / section * step).sum(), rel=1e-8)
    outward = own[::-1].cumsum()[::-1] - own / 2
    assert teeth.stretch_per_speed_squared == pytest.approx((outward / section * step).sum(), rel=1e-7)


@pytest.mark.derived
def test_wedging_is_the_sideways_force_under_the_slots():
    """48 poles of force P on flanks at 30 deg: each flank P/2 outward, (P/2) cot 30 sideways, 0.6 of it in the ring."""
    force, count = 1.0, 48
    needed = count * force / (2 * np.pi)
    sideways = 0.6 * force / 2 * np.cos(np.pi / 6) / np.sin(np.pi / 6)
    assert wedging(np.pi / 6, count, 0.6) == pytest.approx(1 + sideways / needed, rel=1e-12)
    assert wedging(np.pi / 2, count) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.derived
def test_slots_are_a_thinner_ring_with_heavier_poles():
    """The same rotor without slots: rim to the slot bottom, teeth lumped into the poles."""
    rotor = slotted(slot_share=0.4)
    rim, poles = rotor.rim, rotor.poles
    c, b, count = 3.97, 4.06, poles.count
    teeth = 0.6 * 0.97 * 7850 * np.pi * (b**2 - c**2) * rim.length
    centre = 2 / 3 * (b**3 - c**3) / (b**2 - c**2)
    moment = poles.mass * poles.mass_radius + teeth / count * centre
    thin = replace(ROTOR.rim, outer_radius=c)
    other = replace(ROTOR, rim=thin, poles=replace(poles, mass=moment / poles.mass_radius))
    ours, theirs = coefficients(rotor, COLD), coefficients(other, COLD)
    assert ours.net_growth == pytest.approx(theirs.net_growth, rel=1e-12)
    assert ours.compliance == pytest.approx(theirs.compliance, rel=1e-9)
    assert rm.float_speed(rotor, COLD).speed == pytest.approx(rm.float_speed(other, COLD).speed, rel=1e-9)
    assert tooth_mass(rim) == pytest.approx(teeth, rel=1e-12)
    assert rim_mass(rim) == pytest.approx(rim_mass(thin) + teeth, rel=1e-12)
    # the poles sit a little further out than on that ring: the teeth stretch
    stretch = ours.floating.per_speed_squared - theirs.floating.per_speed_squared
    assert 0 < stretch < 0.02 * ours.floating.per_speed_squared


@pytest.mark.derived
def test_slots_cost_float_speed_and_gap():
    """Own plane finite elements put the loss of float speed at some 8 % for slots of 90 mm in a rim of 440 mm."""
    plain, with_slots = rm.float_speed(ROTOR, COLD).speed, rm.float_speed(slotted(), COLD).speed
    assert 0.88 < with_slots / plain < 0.94
    speed = ROTOR.speeds.overspeed
    assert rm.sweep(slotted(), COLD, speed).air_gap < rm.sweep(ROTOR, COLD, speed).air_gap
    assert rm.sweep(slotted(), COLD, speed).rim_bore_hoop_stress > rm.sweep(ROTOR, COLD, speed).rim_bore_hoop_stress


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"slot_depth": 0.45}, "slot_depth is 0.45 m; it must be less than the depth of the rim"),
        ({"slot_depth": -0.1}, "slot_depth is -0.1 m; it must be zero or above"),
        ({"slot_share": 1.0}, "slot_share is 1; it must be 0 or above and below 1"),
        ({"slot_flank_angle": 0.1}, "slot_flank_angle is 0.1 rad; it must be from 10 deg to 90 deg"),
    ],
)
def test_slots_that_cannot_be(keys, words):
    with pytest.raises(ValueError, match=words):
        replace(ROTOR.rim, **keys)
