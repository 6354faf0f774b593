"""Dents of a disc under keys on its outside, against Michell's four constants solved in four hundred digits."""

import mpmath
import numpy as np
import pytest

from rimmodel.elastic import dented_compliance

NU = 0.3


def inward(n, bore, digits=400):
    """Inward displacement of the unit outside of a disc of unit modulus under the pressure cos(n theta).

    Airy function sum of c r^e cos(n theta) over e = n, -n, n + 2, 2 - n (Timoshenko & Goodier, Theory of Elasticity,
    general solution in polar coordinates, from memory); a solid disc keeps the first and the third.
    """
    with mpmath.workdps(digits):
        n, nu, a = mpmath.mpf(n), mpmath.mpf(NU), mpmath.mpf(bore)
        powers = [n, n + 2] if bore == 0 else [n, -n, n + 2, 2 - n]
        edges = [mpmath.mpf(1)] if bore == 0 else [mpmath.mpf(1), a]
        rows = [[(e - n**2) * r ** (e - 2) for e in powers] for r in edges]
        rows += [[(e - 1) * r ** (e - 2) for e in powers] for r in edges]  # shear, but for a factor n
        held = mpmath.lu_solve(mpmath.matrix(rows), mpmath.matrix([-1] + [0] * (len(powers) - 1)))
        strain = [c * ((e - n**2) - nu * e * (e - 1)) / (e - 1) for c, e in zip(held, powers, strict=True)]
        return float(-mpmath.fsum(strain))


@pytest.mark.derived
@pytest.mark.parametrize("bore", [0.0, 0.3, 0.7, 0.93])
@pytest.mark.parametrize(("count", "share"), [(6, 0.5), (12, 0.2), (15, 0.06)])
def test_dents_are_the_sum_over_the_harmonics_of_the_disc(bore, count, share):
    width = share * 2 * np.pi / count
    # past n = 400 the disc is a half plane, 2/n - 0.7/n^2 to 1e-7 of the sum
    near = np.arange(1, 400 // count + 1) * count
    far = np.arange(400 // count + 1, 400_000) * float(count)
    each = np.concatenate([[inward(int(n), bore) for n in near], 2 / far - (1 - NU) / far**2])
    n = np.concatenate([near, far])
    expected = 2 * np.sum(each * np.sinc(n * width / (2 * np.pi)) ** 2)
    assert dented_compliance(bore, 1.0, 1.0, NU, count, width) == pytest.approx(expected, rel=1e-6)


def test_rows_of_discs_are_those_discs_one_by_one():
    bore, count, width = np.array([0.0, 0.5, 0.9]), np.array([8, 12, 6]), np.array([0.1, 0.2, 0.05])
    found = dented_compliance(bore, 2.0, 2e11, NU, count, width)
    alone = [float(dented_compliance(*row, 2e11, NU, *keys)) for row, keys in
             zip([(b, 2.0) for b in bore], zip(count, width, strict=True), strict=True)]  # fmt: skip
    assert found == pytest.approx(alone, rel=1e-9)


@pytest.mark.parametrize(
    ("count", "width", "words"),
    [(1, 0.1, "key_count"), (8.5, 0.1, "key_count"), (8, 1e-9, "key_width"), (8, 0.9, "do not overlap")],
)
def test_keys_that_cannot_be_are_refused(count, width, words):
    with pytest.raises(ValueError, match=words):
        dented_compliance(0.1, 1.0, 1.0, NU, count, width)
