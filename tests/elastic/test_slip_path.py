"""Slip of a stack: bilinear up, stiff down, growth that stays, and the loop of a slider by energy."""

import numpy as np
import pytest

from rimmodel.elastic.slip import slip_path, slip_stress

MODULUS, LIMIT, SHARE = 175e9, 60e6, 0.4


@pytest.mark.derived
def test_the_way_up_is_bilinear():
    stress = np.linspace(0.0, 150e6, 301)
    found = slip_path(stress, MODULUS, LIMIT, SHARE)
    held = np.minimum(stress, LIMIT) / MODULUS + np.maximum(stress - LIMIT, 0.0) / (SHARE * MODULUS)
    assert found.strain == pytest.approx(held, rel=1e-12, abs=1e-18)
    assert not found.slips[stress <= LIMIT].any()
    assert found.slips[stress > LIMIT * 1.001].all()


@pytest.mark.derived
def test_the_way_down_is_stiff_and_leaves_a_growth():
    top = 100e6  # less than twice the limit: nothing slips back
    found = slip_path([top, 70e6, 0.0, 70e6, top], MODULUS, LIMIT, SHARE)
    left = (top - LIMIT) / MODULUS * (1 / SHARE - 1)
    assert found.strain[2] == pytest.approx(left, rel=1e-12)
    assert np.diff(found.strain[:3]) == pytest.approx(np.array([-30e6, -70e6]) / MODULUS, rel=1e-12)
    # the second overspeed to the same stress slips no further: it shakes down
    assert found.strain[4] == pytest.approx(found.strain[0], rel=1e-12)
    assert not found.slips[1:].any()


@pytest.mark.derived
def test_the_work_of_a_full_loop_is_that_of_the_slider():
    top = 200e6  # beyond twice the limit both ways
    path = np.concatenate([np.linspace(0, top, 4001), np.linspace(top, -top, 8001), np.linspace(-top, top, 8001)])
    found = slip_path(path, MODULUS, LIMIT, SHARE)
    loop = slice(4001, None)
    work = np.trapezoid(np.append(path[4000], path[loop]), np.append(found.strain[4000], found.strain[loop]))
    slider = (1 - SHARE) * LIMIT
    # twice through the whole travel less what the springs give elastically: 4 x force of the slider x its travel
    travel = (2 * top - 2 * LIMIT) / (SHARE * MODULUS)
    assert work == pytest.approx(2 * slider * travel, rel=1e-3)


def test_order_and_arrays():
    many = slip_path(np.array([[50e6], [100e6]]), MODULUS, np.array([40e6, 80e6, 120e6]), SHARE)
    assert many.strain.shape == (2, 3)
    assert np.all(np.diff(many.slipped[1]) <= 0)
    assert slip_path([100e6], MODULUS, LIMIT, 1.0).slipped == pytest.approx(0.0, abs=1e-18)


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="overlap is 0 m; it must be above zero"):
        slip_stress(1e6, 0.2, 0.0, 4e-3)
    with pytest.raises(ValueError, match=r"slipping_share is 1\.2"):
        slip_path([1e6], MODULUS, LIMIT, 1.2)
