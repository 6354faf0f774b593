"""Mean hoop stress and burst speed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from rimmodel.elastic import Ring
from rimmodel.elastic.burst import burst_speed_ratio, mean_hoop_stress


@pytest.mark.independent
@given(
    bore=st.floats(0.5, 3.0), depth=st.floats(0.05, 2.0), factor=st.floats(0.5, 1.4),
    speed=st.floats(0.0, 60.0), pressure=st.floats(0.0, 2e7), traction=st.floats(0.0, 2e7),
)  # fmt: skip
def test_the_mean_is_that_of_the_field(bore, depth, factor, speed, pressure, traction):
    ring = Ring(bore, bore + depth, 206e9, 0.3, 7850.0, factor)
    area = quad(lambda r: float(ring.state(r, speed, pressure, traction).hoop_stress), bore, bore + depth)[0]
    assert float(mean_hoop_stress(ring, speed, pressure, traction)) == pytest.approx(area / depth, rel=1e-7, abs=1.0)


@pytest.mark.derived
def test_at_the_burst_speed_the_mean_is_the_share_of_the_strength():
    ring = Ring(1.0, 1.6, 206e9, 0.3, 7850.0)
    ratio = burst_speed_ratio(mean_hoop_stress(ring, 80.0), 700e6, 0.9)
    assert float(mean_hoop_stress(ring, 80.0 * ratio)) == pytest.approx(630e6)


@pytest.mark.parametrize(
    ("values", "words"),
    [((0.0, 7e8), "mean_stress is 0 Pa"), ((1e8, -1.0), "ultimate_strength is -1 Pa"), ((1e8, 7e8, 0.0), "share is 0")],
)
def test_what_is_not_positive_is_refused(values, words):
    with pytest.raises(ValueError, match=words):
        burst_speed_ratio(*values)


def test_arrays_broadcast():
    ring = Ring(np.array([[1.0], [1.2]]), 2.0, 206e9, 0.3, 7850.0)
    assert mean_hoop_stress(ring, np.array([10.0, 20.0, 30.0])).shape == (2, 3)
