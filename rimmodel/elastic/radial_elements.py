"""Finite elements along a radius: how a thickness profile is cut, and what its elements do.

Polynomials of high degree, integrals by Gauss points, one banded solve for all unit loads.
Displacement, and not stress, is continuous. Theory asks for an error that falls with ``size^(2 degree)`` for the
displacement at element ends and with ``size^degree`` for the stress.

Source: Strang & Fix, An Analysis of the Finite Element Method (1973), ch. 1 and 3; Szabo & Babuska, Finite Element
Analysis (1991), p-version (both from memory). The weak form is virtual work with the strains ``u'`` and ``u/r``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from rimmodel.arrays import Floats


@dataclass(frozen=True)
class Profile:
    """Elements from bore to outside.

    Attributes
    ----------
    start, end : array (element,), m
        Radii.
    start_thickness, end_thickness : array (element,), m
    zone : int array (element,)
        Between which two successive radii that differ each lies, from 0.
    """

    start: Floats
    end: Floats
    start_thickness: Floats
    end_thickness: Floats
    zone: NDArray[np.intp]

    def thickness(self, part: Floats) -> Floats:
        """Thickness at several places along every element.

        Parameters
        ----------
        part : array (part,), -
            Share of the length from start to end.

        Returns
        -------
        array (element, part), m
        """
        rise = self.end_thickness - self.start_thickness
        thickness: Floats = self.start_thickness[:, np.newaxis] + rise[:, np.newaxis] * part
        return thickness

    def halved(self, which: NDArray[np.bool_]) -> Profile:
        """The same profile with the elements `which` cut in two."""
        middle = (self.start + self.end) / 2
        thickness = (self.start_thickness + self.end_thickness) / 2
        order = np.argsort(np.concatenate([self.start, middle[which]]), kind="stable")
        pairs = (
            (self.start, middle),
            (np.where(which, middle, self.end), self.end),
            (self.start_thickness, thickness),
            (np.where(which, thickness, self.end_thickness), self.end_thickness),
            (self.zone, self.zone),
        )
        return Profile(*(np.concatenate([first, second[which]])[order] for first, second in pairs))

    def graded(self, ratio: float) -> Profile:
        """Cut until neither radius nor thickness changes by more than `ratio` along one element.

        The element at the centre of a solid disc has no 1/r in its solution and needs only the second.

        Parameters
        ----------
        ratio : float, -
        """
        profile = self
        while True:
            thin, thick = np.sort([profile.start_thickness, profile.end_thickness], axis=0)
            long = (profile.start > 0) & (profile.end > ratio * profile.start)
            coarse = long | (thick > ratio * thin)
            if not np.any(coarse):
                return profile
            profile = profile.halved(coarse)

    def subdivided(self, count: int) -> Profile:
        """Every element cut into `count` of equal length."""
        part = np.arange(count) / count
        edges = self.start[:, np.newaxis] + (self.end - self.start)[:, np.newaxis] * part
        thickness = self.thickness(part)
        return Profile(
            edges.ravel(),
            np.column_stack([edges[:, 1:], self.end]).ravel(),
            thickness.ravel(),
            np.column_stack([thickness[:, 1:], self.end_thickness]).ravel(),
            np.repeat(self.zone, count),
        )


def polynomials(x: Floats, degree: int) -> tuple[Floats, Floats]:
    """Two straight lines with integrated Legendre polynomials between them, the functions of an element.

    The first equals 1 at the start, the last equals 1 at the end, the rest vanish at both. The slopes of the two lines
    cancel exactly, which keeps a thin ring, nearly all of whose displacement is even, free of rounding.

    Parameters
    ----------
    x : array, -
        Place in the element, -1 to 1.
    degree : int
        1 or more.

    Returns
    -------
    tuple of array (..., degree + 1), -
        Values and slopes.

    In the middle the lines are 1/2 and the bubble (P_2 - P_0)/3 is -1/2:

    >>> values, slopes = polynomials(np.array(0.0), 2)
    >>> values.tolist(), slopes.tolist()
    ([0.5, -0.5, 0.5], [-0.5, 0.0, 0.5])
    """
    powers = legendre.legvander(x, degree).reshape(*x.shape, degree + 1)
    order = np.arange(2, degree + 1)
    bubbles = (powers[..., 2:] - powers[..., :-2]) / (2 * order - 1)
    values = np.concatenate([(1 - x[..., np.newaxis]) / 2, bubbles, (1 + x[..., np.newaxis]) / 2], axis=-1)
    half = np.full((*x.shape, 1), 0.5)
    slopes = np.concatenate([-half, powers[..., 1:-1], half], axis=-1)
    return values, slopes


def solve(stiffness: Floats, load: Floats, fixed_start: bool) -> Floats:
    """Solve for the displacements from element stiffness and load vectors, by one banded solve.

    The last polynomial of an element and the first of the next have one coefficient in common, the displacement there.

    Parameters
    ----------
    stiffness : array (element, polynomial, polynomial), N/m
        Symmetric.
    load : array (element, polynomial, load), unit of force per load
    fixed_start : bool
        Holds the very first coefficient, at the centre of a solid disc, at zero.

    Returns
    -------
    array (element, polynomial, load), unit of displacement per load

    Two springs of 1 N/m in a row, held at the start, pulled by 1 N at the end:

    >>> spring = np.array([[1.0, -1.0], [-1.0, 1.0]])
    >>> solve(np.array([spring, spring]), np.array([[[0.0], [0.0]], [[0.0], [1.0]]]), True)[..., 0].round(9).tolist()
    [[0.0, 1.0], [1.0, 2.0]]
    """
    from scipy.linalg import solveh_banded

    count, points, _ = stiffness.shape
    degree = points - 1
    band = np.zeros((points, count * degree + 1))
    vector = np.zeros((count * degree + 1, load.shape[2]))
    for column in range(points):
        here = slice(column, column + (count - 1) * degree + 1, degree)
        vector[here] += load[:, column]
        for row in range(column + 1):
            band[degree + row - column, here] += stiffness[:, row, column]
    first = int(fixed_start)
    moved = np.zeros_like(vector)
    moved[first:] = solveh_banded(band[:, first:], vector[first:])
    coefficients: Floats = moved[np.arange(count)[:, np.newaxis] * degree + np.arange(points)]
    return coefficients
