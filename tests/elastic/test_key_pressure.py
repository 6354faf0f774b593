"""Pressure that conforms under a key, against punches on a half plane, Michell's disc and a quadratic programme."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import nnls

from rimmodel.elastic import HarmonicRing, dented_compliance, scalloped_compliance
from rimmodel.elastic.key_compliance import dented_panels, scalloped_panels
from rimmodel.elastic.key_pressure import EDGES, EVEN, KeyPressure, conforming
from rimmodel.elastic.key_sums import limit_panels
from tests.elastic.test_dents import NU, inward

BETWEEN = (1.5 - 2 * np.log(2)) * 2 / np.pi
"""Mean deflection of a half plane under an even pressure less that under a rigid flat punch, over force and modulus.

u = -2/(pi E) int p ln|x - s| ds: a punch p = P/(pi sqrt(c^2 - x^2)) sinks 2 P/(pi E) ln(2/c), an even pressure on the
mean 2 P/(pi E) (3/2 - ln 2c) (Johnson, Contact Mechanics, 1985, section 2.8 and 2.5, from memory; the means derived).
"""


@pytest.mark.published
@pytest.mark.parametrize("half", [0.001, 0.5, 1.5, 2.5])
def test_equal_punches_round_a_circle_have_the_logarithmic_capacity_of_an_arc(half):
    """Least of sum over n of (transform of p)^2/n is -ln cap, and an arc of 2 half has cap = sin(half/2) (Ransford)."""
    panels = limit_panels([1.0, 0.0, 0.0, 0.0], np.float64(2 * half), EDGES)
    found, even = (float(share @ panels @ share) for share in (conforming(panels).share, 2 * np.diff(EDGES)))
    exact = -np.log(np.sin(half / 2))
    assert exact < found < exact + 0.004 * (even - exact)


@pytest.mark.published
def test_a_narrow_key_on_a_solid_disc_presses_as_a_flat_punch():
    width, count = 0.004, 2
    panels = dented_panels(0.0, 1.0, 1.0, NU, count, width, EDGES)
    pressure = conforming(panels)
    inside = np.arcsin(2 * EDGES[1:]) * 2 / np.pi  # of p = P/(pi sqrt(c^2 - x^2)), to an edge of a panel
    assert np.cumsum(pressure.share) == pytest.approx(inside, abs=0.005)
    even, punched = (float(dented_compliance(0.0, 1.0, 1.0, NU, count, width, p)) for p in (EVEN, pressure))
    assert even - punched == pytest.approx(BETWEEN * 2 * np.pi / count, rel=0.005)


@pytest.mark.derived
@pytest.mark.parametrize(("bore", "count", "share"), [(0.0, 6, 0.5), (0.7, 12, 0.3)])
def test_a_disc_under_wide_keys_yields_as_much_as_under_eighty_strips(bore, count, share):
    """Michell's harmonics with their half-plane end; every strip one unknown, and strips of the finite sum soften."""
    width = share * 2 * np.pi / count
    near, far = np.arange(1, 300 // count + 1) * count, np.arange(300 // count + 1, 6000 // count) * float(count)
    each = np.concatenate([[inward(int(n), bore) for n in near], 2 / far - (1 - NU) / far**2])
    n, middle = np.concatenate([near, far]), ((np.arange(40) + 0.5) / 40) * width / 2
    wave = np.cos(n * middle[:, None]) * np.sinc(n * width / 80 / (2 * np.pi))
    matrix = 2 * (wave * each) @ wave.T
    apart = np.linalg.solve(matrix + 1.0, np.ones(40))
    strips = float(apart @ matrix @ apart) / apart.sum() ** 2
    found = float(
        dented_compliance(
            bore, 1.0, 1.0, NU, count, width, conforming(dented_panels(bore, 1.0, 1.0, NU, count, width, EDGES))
        )
    )
    even = float(dented_compliance(bore, 1.0, 1.0, NU, count, width))
    assert found < strips < even
    assert strips - found < 0.06 * (even - found)  # strips of 1/80 of the key end short of the edge: 5 %


@pytest.mark.independent
@pytest.mark.parametrize("ratio", [1.02, 1.05, 1.13])
def test_a_rim_that_bends_off_the_middle_of_a_wide_key_leaves_it(ratio):
    """Non-negative least squares of L p = L^-T 1, whose minimum is that of p Y p - 2 sum p."""
    ring = HarmonicRing(1.0, ratio, 1.0, 0.3)
    panels = scalloped_panels(ring, 6, 0.6, EDGES)
    lifted = panels + np.abs(panels).max()
    root = np.linalg.cholesky(lifted).T
    force, _ = nnls(root, np.linalg.solve(root.T, np.ones(len(panels))))
    share = conforming(panels).share
    assert share == pytest.approx(force / force.sum(), abs=1e-8)
    assert np.all(share >= 0)
    assert (share.min() == 0) == (ratio < 1.1)  # the thin ones touch in the middle and at the edge


@pytest.mark.derived
def test_springs_under_a_key_even_out_its_pressure():
    ring = HarmonicRing(1.0, 1.13, 1.0, 0.3)
    rigid, even = scalloped_panels(ring, 8, 0.2, EDGES), 2 * np.diff(EDGES)
    springs = np.diag(0.5 / np.diff(EDGES))
    share = [conforming(rigid + soft * springs).share for soft in (0.0, 1.0, 1e6)]
    assert np.all(np.abs(share[2] - even) < 1e-4)
    assert share[0][-1] > share[1][-1] > share[2][-1]


@pytest.mark.derived
def test_shape_makes_no_difference_to_keys_that_touch():
    panels = dented_panels(0.3, 1.0, 1.0, NU, 8, 2 * np.pi / 8, EDGES)
    assert conforming(panels).share == pytest.approx(2 * np.diff(EDGES), abs=1e-6)


@pytest.mark.derived
def test_panels_of_an_even_pressure_are_one_panel():
    ring, split = HarmonicRing(1.0, 1.13, 1.0, 0.3, 0.6), KeyPressure(EDGES, 2 * np.diff(EDGES))
    whole = scalloped_compliance(ring, 8, 0.2, 9.0)
    assert scalloped_compliance(ring, 8, 0.2, 9.0, split) == pytest.approx(float(whole), rel=1e-9)


def test_rows_conform_one_by_one():
    ring = HarmonicRing(1.0, np.array([1.02, 1.13, 1.3]), 1.0, 0.3)
    panels = scalloped_panels(ring, np.array([6, 8, 12]), np.array([0.6, 0.2, 0.1]), EDGES)
    assert conforming(panels).share == pytest.approx(np.array([conforming(one).share for one in panels]), rel=1e-12)
