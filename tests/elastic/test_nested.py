"""Nested rings: Lame's compound cylinder, one thick ring cut into three, and joints that open."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rimmodel.elastic import Disc, Ring
from rimmodel.elastic.nested import nested_rings

STEEL = (206e9, 0.3, 7850.0)


def ring(inner, outer, **more):
    return Ring(inner, outer, *STEEL, **more)


@pytest.mark.recalled
def test_two_rings_are_lames_compound_cylinder():
    # Timoshenko & Goodier (3rd ed.), Art. 28, from memory: p = E d (b^2-a^2)(c^2-b^2) / (2 b^3 (c^2-a^2))
    a, b, c, d = 0.4, 0.9, 1.3, 0.6e-3
    expected = 206e9 * d * (b**2 - a**2) * (c**2 - b**2) / (2 * b**3 * (c**2 - a**2))
    found = nested_rings([ring(a, b), ring(b, c)], [d])
    assert found.contact_pressure[0] == pytest.approx(expected, rel=1e-12)
    assert found.clearance[0] == 0.0


@pytest.mark.independent
def test_a_thick_ring_cut_into_three_carries_at_the_cuts_what_the_whole_one_does():
    whole = ring(0.3, 2.0)
    pressed = -30e6
    parts = [ring(0.3, 0.8), ring(0.8, 1.4), ring(1.4, 2.0)]
    found = nested_rings(parts, [0.0, 0.0], outer_traction=pressed)
    state = whole.state([0.8, 1.4], outer_traction=pressed)
    np.testing.assert_allclose(found.contact_pressure, -state.radial_stress, rtol=1e-10)
    inside = found.state(1, 1.1)
    np.testing.assert_allclose(inside.hoop_stress, whole.state(1.1, outer_traction=pressed).hoop_stress, rtol=1e-10)
    assert found.state(2, 2.0).radial_displacement == pytest.approx(
        float(whole.state(2.0, outer_traction=pressed).radial_displacement), rel=1e-10
    )


@pytest.mark.independent
def test_the_sides_of_a_shut_joint_meet_and_those_of_an_open_one_do_not():
    members = [Disc([0.0, 0.25], [0.5, 0.5], *STEEL), ring(0.25, 0.7), Disc([0.7, 1.2, 1.2, 2.0], [0.4, 0.4, 0.2, 0.25],
               *STEEL), ring(2.0, 2.4)]  # fmt: skip
    overlaps = [0.2e-3, 0.5e-3, 1.2e-3]
    found = nested_rings(members, overlaps, speed=np.array([0.0, 30.0, 60.0, 90.0]), lengths=[0.5, 0.4, 1.0, 0.6])
    radii = [0.25, 0.7, 2.0]
    for joint, radius in enumerate(radii):
        outward = found.state(joint, radius).radial_displacement
        around = found.state(joint + 1, radius).radial_displacement
        np.testing.assert_allclose(around - outward - overlaps[joint], found.clearance[joint], atol=1e-12)
    assert (found.contact_pressure[:, 0] > 0).all()
    assert found.contact_pressure[2, -1] == 0.0
    assert found.clearance[2, -1] > 0


@pytest.mark.derived
def test_forces_pass_a_joint_of_unequal_lengths():
    found = nested_rings([ring(0.5, 1.0), ring(1.0, 1.5)], [1e-3], lengths=[0.3, 0.9])
    assert found.outer_traction[0] * 0.3 == pytest.approx(-found.inner_pressure[1] * 0.9)
    assert found.contact_pressure[0] == pytest.approx(-found.outer_traction[0])  # on the shorter one


@pytest.mark.derived
def test_warmth_of_one_member_is_an_interference():
    members = [ring(0.5, 1.0, thermal_expansion=12e-6), ring(1.0, 1.5, thermal_expansion=12e-6)]
    warm = nested_rings(members, [0.0], temperatures=[50.0, 0.0])
    assert warm.contact_pressure[0] == pytest.approx(float(nested_rings(members, [6e-4]).contact_pressure[0]))
    assert nested_rings(members, [0.0], temperatures=[0.0, 50.0]).clearance[0] == pytest.approx(6e-4)


@settings(max_examples=80)
@given(
    st.lists(st.floats(-1e-3, 2e-3), min_size=3, max_size=3), st.floats(0.0, 150.0), st.floats(-4e7, 4e7),
)  # fmt: skip
def test_a_joint_presses_or_is_open_and_never_both(overlaps, speed, traction):
    members = [ring(0.0, 0.3), ring(0.3, 0.8), ring(0.8, 1.5), ring(1.5, 1.9)]
    found = nested_rings(members, overlaps, speed, outer_traction=traction)
    assert (found.contact_pressure >= 0).all()
    assert (found.clearance >= 0).all()
    assert (found.contact_pressure * found.clearance == 0).all()
    for joint, radius in enumerate((0.3, 0.8, 1.5)):
        apart = found.state(joint + 1, radius).radial_displacement - found.state(joint, radius).radial_displacement
        assert float(apart - overlaps[joint] - found.clearance[joint]) == pytest.approx(0.0, abs=1e-11)


PAIR = [ring(0.5, 1.0), ring(1.0, 1.5)]


@pytest.mark.parametrize(
    ("members", "overlaps", "more", "words"),
    [
        (PAIR[:1], [], {}, "members are 1; nested rings are 2 to 9"),
        (PAIR, [1e-3, 1e-3], {}, "interferences are 2; 2 members have 1 joints"),
        (PAIR, [1e-3], {"temperatures": [1.0]}, "temperatures are 1; there must be one for each of the 2 members"),
        (PAIR, [1e-3], {"lengths": [1.0, 0.0]}, "each must be positive"),
        (PAIR, [np.nan], {}, "interference 1 is not a finite number"),
        ([PAIR[0], ring(1.1, 1.5)], [1e-3], {}, "joint 1: the inner member ends at 1 m, the outer one starts at 1.1 m"),
        ([Disc([0.0, 1.0], [0.2, 0.2], *STEEL), PAIR[1]], [1e-3], {}, "lengths is missing"),
    ],
)
def test_what_does_not_nest_is_refused(members, overlaps, more, words):
    with pytest.raises(ValueError, match=words):
        nested_rings(members, overlaps, **more)
