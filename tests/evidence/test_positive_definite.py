"""Inverses of many small positive definite matrices against the general routines of numpy."""

from __future__ import annotations

import numpy as np
import pytest

from rimmodel.evidence.backfit.positive_definite import inverse_and_size


@pytest.mark.independent
@pytest.mark.parametrize("rows", [1, 2, 3, 5])
def test_inverse_and_size_are_those_of_elimination(rows: int) -> None:
    random = np.random.default_rng(rows)
    tall = random.normal(size=(4, 7, rows + 3, rows)) * 10.0 ** random.uniform(-2.0, 2.0, (4, 7, 1, rows))
    matrix = np.swapaxes(tall, 2, 3) @ tall
    inverse, size = inverse_and_size(matrix)
    assert inverse == pytest.approx(np.linalg.inv(matrix), rel=1e-9)
    assert size == pytest.approx(0.5 * np.linalg.slogdet(matrix)[1], rel=1e-12)


@pytest.mark.independent
def test_a_matrix_that_rounding_made_indefinite_is_inverted_too() -> None:
    lost = np.array([[1.0, 1.0], [1.0, 1.0 - 1e-12]])
    inverse, size = inverse_and_size(np.array([lost, np.eye(2)]))
    assert inverse[0] == pytest.approx(np.linalg.inv(lost))
    assert size[0] == pytest.approx(0.5 * np.linalg.slogdet(lost)[1])
    assert inverse[1] == pytest.approx(np.eye(2))
