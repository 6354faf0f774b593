"""The scallop of a rim on single keys against the rim solved key by key, which finite elements confirm."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.scallop import MOST_EXACT, scallop_compliance
from rimmodel.behaviour.keys.run import key_run


@pytest.fixture(scope="module")
def rotor():
    rotor = rm.example_case().rotor
    return replace(rotor, fit=replace(rotor.fit, key_interference=None))


@pytest.mark.independent
def test_even_shims_press_as_the_keys_do_one_by_one(rotor):
    cold = rm.example_case().conditions["cold"]
    speed = np.array([0.0, 0.5, 0.9]) * rotor.speeds.rated
    run = key_run(rotor, cold, speed)
    area = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length
    smeared = rm.sweep(rotor, cold, speed)
    np.testing.assert_allclose(run.key_force.sum(axis=1) / area, smeared.contact_pressure, rtol=1e-6)
    np.testing.assert_allclose(run.mean_gap, smeared.air_gap, rtol=0, atol=1e-9)
    even = rm.sweep(replace(rotor, fit=replace(rotor.fit, key_width=None)), cold, speed)
    assert np.all(smeared.contact_pressure < even.contact_pressure)


def test_float_speed_does_not_feel_it(rotor):
    cold = rm.example_case().conditions["cold"]
    even = replace(rotor, fit=replace(rotor.fit, key_width=None))
    assert rm.float_speed(rotor, cold).speed == pytest.approx(rm.float_speed(even, cold).speed, rel=1e-12)
    assert scallop_compliance(even) == 0


def test_many_rotors_share_the_share_of_their_mean(rotor):
    factor = 0.85 * (1 + 0.1 * np.linspace(-1, 1, MOST_EXACT + 1))
    many = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=factor))
    each = np.array(
        [scallop_compliance(replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=float(f)))) for f in factor]
    )
    from rimmodel.elastic import ring_edges

    # 10 % of hoop stiffness move it by less than a hundredth of the rim's own compliance
    assert np.all(np.abs(scallop_compliance(many) - each) < 0.01 * ring_edges(many.rim.ring).bore_displacement.pressure)
