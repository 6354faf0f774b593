"""The scallop of a rim on single keys against the rim solved key by key, which finite elements confirm."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.scallop import MOST_EXACT, key_compliance, key_yield, support_panels
from rimmodel.behaviour.keys.run import key_run
from rimmodel.elastic import scalloped_compliance
from rimmodel.elastic.key_pressure import EDGES, KeyPressure, yield_under
from tests.behaviour.invented_rotors import ARMS, DISC, GIVEN, changed


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
    assert key_compliance(even) == 0


def test_many_rotors_share_the_share_of_their_mean(rotor):
    factor = 0.85 * (1 + 0.1 * np.linspace(-1, 1, MOST_EXACT + 1))
    many = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=factor))
    each = np.array(
        [key_compliance(replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=float(f)))) for f in factor]
    )
    from rimmodel.elastic import ring_edges

    # 10 % of hoop stiffness move it by less than a hundredth of the rim's own compliance
    assert np.all(np.abs(key_compliance(many) - each) < 0.01 * ring_edges(many.rim.ring).bore_displacement.pressure)


@pytest.mark.derived
@pytest.mark.parametrize("spider", [ARMS, GIVEN, DISC], ids=["arms", "given", "disc"])
def test_rotors_in_one_call_are_those_rotors_one_by_one(spider):
    stiffness = 10.0 ** np.array([9.0, 10.0, 11.0])
    fit = {"key_count": 12, "key_width": 0.4}
    many = replace(changed(fit=fit | {"key_stiffness": stiffness}), spider=spider)
    found = key_yield(many)
    each = [key_yield(replace(changed(fit=fit | {"key_stiffness": float(k)}), spider=spider)) for k in stiffness]
    for name in ("rim", "support"):
        np.testing.assert_allclose(getattr(found, name), [float(getattr(one, name)) for one in each], rtol=1e-9)
    edge = [float(one.pressure.share[-1]) for one in each]
    assert edge[0] < edge[1] < edge[2], "soft keys press more evenly"


@pytest.mark.derived
@pytest.mark.parametrize("spider", [ARMS, GIVEN, DISC], ids=["arms", "given", "disc"])
def test_rim_and_support_yield_less_than_under_an_even_pressure(spider):
    """What both yield together is the least of all pressures, so less than under any other."""
    rotor = replace(changed(fit={"key_count": 12, "key_width": 0.4, "key_stiffness": 1e10}), spider=spider)
    ring, mean = rotor.rim.harmonic_ring, 0.0
    even = KeyPressure(EDGES, 2 * np.diff(EDGES))
    of_even = scalloped_compliance(ring, 12, 0.4, mean) + yield_under(even, support_panels(rotor)[1])
    assert key_compliance(rotor) < of_even
