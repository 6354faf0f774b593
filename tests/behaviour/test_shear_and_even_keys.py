"""A rim that is soft in shear, as far as it shows at its keys; and keys that nothing tells apart."""

import re
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.scallop import key_yield
from rimmodel.behaviour.contact.shape import bending_stiffness
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.run import key_run
from rimmodel.rotor.case.case import CaseError, parse_case
from rimmodel.units import RPM
from rimmodel.verdict.output.keys import table as keys_table
from rimmodel.verdict.output.keys import text as keys_text
from tests.rotor.test_case import NEW

CASE = rm.example_case()
ROTOR, COLD = CASE.rotor, CASE.conditions["cold"]
STEEL = ROTOR.rim.material
EVEN_SHEAR = ROTOR.rim.stacking_factor * STEEL.young_modulus / (2 * (1 + STEEL.poisson_ratio))
WAVES = np.array([2.0, 4.0, 6.0, 8.0, 12.0])


def sheared(share):
    return replace(ROTOR, rim=replace(ROTOR.rim, hoop_stiffness_factor=0.85, shear_modulus=share * EVEN_SHEAR))


@pytest.mark.independent
def test_a_fifth_of_the_shear_modulus_softens_the_waves_as_finite_elements_say():
    # plane finite elements of the same rim, rounded to a percent
    even = replace(ROTOR, rim=replace(ROTOR.rim, hoop_stiffness_factor=0.85))
    softer = bending_stiffness(even, WAVES) / bending_stiffness(sheared(0.2), WAVES) - 1
    assert softer == pytest.approx([0.05, 0.18, 0.38, 0.63, 1.15], abs=0.006)
    assert bending_stiffness(sheared(1.0), WAVES) == pytest.approx(bending_stiffness(even, WAVES), rel=1e-10)


@pytest.mark.derived
def test_the_shear_modulus_reaches_scallop_and_keys_and_leaves_the_float_speed():
    """The softening at the keys is the sum over waves of N, 2N, ... keys; the even compliance is not in it."""
    ring = sheared(0.2).rim.harmonic_ring
    count, patch = ROTOR.key_count, ROTOR.fit.key_width / ROTOR.rim.inner_radius
    waves = count * np.arange(1.0, 4001.0)
    found = key_yield(sheared(0.2))
    total = 2 * np.sum(ring.compliance(waves) * found.pressure.transform(waves * patch) ** 2)
    assert found.rim == pytest.approx(total, rel=1e-4)
    assert rm.float_speed(sheared(0.2), COLD).speed == pytest.approx(rm.float_speed(sheared(1.0), COLD).speed, rel=1e-9)
    soft, even = (keyed_rotor(sheared(share), COLD) for share in (0.2, 1.0))
    n = np.arange(soft.harmonic.size + 1.0, 60001.0)  # the lower ones are modes of their own
    area, even_ring = np.pi * ROTOR.rim.inner_radius * ROTOR.rim.length, sheared(1.0).rim.harmonic_ring
    each = [  # under the pressure of each
        np.sum(one.compliance(n) * key_yield(sheared(share)).pressure.transform(n * patch) ** 2) / area
        + float(key_yield(sheared(share)).support) * count / (2 * area)
        for one, share in ((ring, 0.2), (even_ring, 1.0))
    ]
    more = np.full(count, each[0] - each[1])
    assert np.diag(soft.loads.compliance - even.loads.compliance) == pytest.approx(more, rel=1e-4)


def test_the_shear_modulus_is_text_with_a_unit_and_below_that_of_solid_steel():
    case = parse_case(NEW.replace("# shear_modulus", "shear_modulus", 1).encode(), "unit.toml")
    assert case.rotor.rim.shear_modulus == 16e9
    faults = (('"160 GPa"', "rim.shear_modulus is 1.6e+11 Pa; it must be at most"), ("16", "has no unit"))
    for value, words in faults:
        text = NEW.replace('# shear_modulus = "16 GPa"', f"shear_modulus = {value}")
        with pytest.raises(CaseError, match=re.escape(words)):
            parse_case(text.encode(), "unit.toml")


@pytest.mark.independent
def test_even_keys_without_guides_say_that_key_numbers_are_chance():
    """Turning the numbering by three keys gives other key numbers at the same speeds with the same eccentricity."""
    fit = replace(ROTOR.fit, key_interference=None, guide_stiffness=0.0, tangential_clearance=0.4e-3)
    rotor = replace(ROTOR, fit=fit)
    run = key_run(rotor, COLD)
    assert run.event_speeds.centring_lost is not None
    note = next(note for note in run.notes if note.startswith("all keys are alike"))
    assert f"above {min(run.event_speeds.centring_lost, run.event_speeds.one_sided or np.inf) / RPM:.1f} rpm" in note
    assert "is arbitrary; the speeds up to that and the eccentricity are not" in note
    assert note in " ".join(keys_text(run).split())
    assert note in keys_table(run)["notes"]
    turned = key_run(replace(rotor, fit=replace(fit, first_key_angle=3 * 2 * np.pi / 14)), COLD)
    assert turned.event_speeds.centring_lost == pytest.approx(run.event_speeds.centring_lost, rel=1e-9)
    assert turned.eccentricity == pytest.approx(run.eccentricity, abs=1e-8)


@pytest.mark.parametrize("unlike", ["shims", "guides", "eccentricity"])
def test_keys_that_something_tells_apart_are_not_called_chance(unlike):
    fit = replace(ROTOR.fit, key_interference=None, guide_stiffness=0.0, tangential_clearance=None)
    setup = {}
    if unlike == "guides":
        fit = replace(fit, guide_stiffness=3e10)
    if unlike == "shims":
        setup["key_interference"] = 2.1e-3 + 0.1e-3 * np.cos(np.arange(14.0) ** 2)
    if unlike == "eccentricity":
        setup["mass_eccentricity"] = (1e-4, 0.0)
    run = key_run(replace(ROTOR, fit=fit), COLD, **setup)
    assert not any("arbitrary; the speeds" in note for note in run.notes)
