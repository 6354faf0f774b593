"""Heat along one line, by linear finite elements: a wall, the depth of a ring, an arm or a disc as a fin.

What differs between them is a weight along the line: the section through which heat flows, or the surface per length
that meets the air. Around a ring the section is ``2 pi r L``, linear in r, and the elements take it exactly; other
weights are taken as linear between the nodes. Heat capacity is gathered at the nodes (row sums), so that no
temperature leaves the range of its neighbours and of the air, and the sum over the nodes is the heat content. The
error of temperatures falls with the square of the element size.

Source: Carslaw & Jaeger, Conduction of Heat in Solids (2nd ed.), ch. 3, 4 and 7 for what the elements approximate;
Strang & Fix, An Analysis of the Finite Element Method (1973), ch. 7 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require


def node_shares(place: ArrayLike, weight: ArrayLike) -> Floats:
    """Integral of a weight along the line, gathered at its nodes: ``int w N_i dx``.

    Parameters
    ----------
    place : array (node,), m
        Rising.
    weight : array (node,), unit of weight
        Linear between the nodes.

    Returns
    -------
    array (node,), unit of weight times m
        Their sum is the integral; the sum with nodal values is that of the weight times the broken line through them.

    Raises
    ------
    ValueError
        Places that do not rise.

    Around a full ring of 1 to 2 m the weight 2 pi r makes the area 3 pi:

    >>> r = np.linspace(1.0, 2.0, 5)
    >>> print(f"{node_shares(r, 2 * np.pi * r).sum() / np.pi:.12f}")
    3.000000000000
    """
    at, w = _checked(place, weight)
    size = np.diff(at)
    shares = np.zeros_like(at)
    shares[:-1] += size * (2 * w[:-1] + w[1:]) / 6
    shares[1:] += size * (w[:-1] + 2 * w[1:]) / 6
    return shares


def conduction_matrix(place: ArrayLike, weight: ArrayLike) -> Floats:
    """Conduction between the nodes of a line: ``int w N_i' N_j' dx``.

    Parameters
    ----------
    place : array (node,), m
        Rising.
    weight : array (node,), unit of weight
        Conductivity times section; linear between the nodes.

    Returns
    -------
    array (node, node), unit of weight per m
        Symmetric; every row sums to zero.

    Raises
    ------
    ValueError
        Places that do not rise.

    A wall of 0.5 m and 45 W/K m: 90 W/K from one side to the other.

    >>> conduction_matrix([0.0, 0.5], [45.0, 45.0]).tolist()
    [[90.0, -90.0], [-90.0, 90.0]]
    """
    at, w = _checked(place, weight)
    through = (w[:-1] + w[1:]) / 2 / np.diff(at)
    matrix = np.diag(np.append(through, 0.0) + np.append(0.0, through))
    between = np.arange(len(through))
    matrix[between, between + 1] = matrix[between + 1, between] = -through
    return matrix


def _checked(place: ArrayLike, weight: ArrayLike) -> tuple[Floats, Floats]:
    at, w = floats(place), floats(weight)
    if at.ndim != 1 or at.shape != w.shape or at.size < 2:
        raise ValueError(f"place and weight have shapes {at.shape} and {w.shape}; they must be two lists of one length")
    require(np.diff(at) > 0, "place", at[1:], "m", "in rising order along the line")
    require(w >= 0, "weight", w, "", "zero or positive")
    return at, w


def orthonormal_polynomials(place: ArrayLike, capacity: ArrayLike, degree: int) -> Floats:
    """Polynomials along a line, orthonormal in its heat capacity: ``B^T C B = 1``, the constant among them.

    A fine line whose temperatures are a sum of a few of them has as many unknowns, keeps its heat exactly, since an
    even temperature is one of the sums, and is as exact as a coarse line of many elements is not: the error falls
    faster than any power of the degree (Galerkin's method; Szabo & Babuska, Finite Element Analysis, p-version, from
    memory).

    Parameters
    ----------
    place : array (node,), m
        Rising.
    capacity : array (node,), SI
        Heat capacity of each node in J/K, above zero.
    degree : int
        Below the number of nodes.

    Returns
    -------
    array (node, degree + 1), SI
        In (J/K)^-1/2; the first column is even.

    Two nodes of 1 J/K each carry (1, 1) and (-1, 1) over the root of 2:

    >>> (orthonormal_polynomials([0.0, 1.0], [1.0, 1.0], 1) * np.sqrt(2)).round(9).tolist()
    [[1.0, -1.0], [1.0, 1.0]]
    """
    at, root = floats(place), np.sqrt(floats(capacity))
    require(floats(capacity) > 0, "capacity", capacity, "J/K", "above zero")
    require(degree < len(at), "degree", degree, "", f"below the number of nodes, {len(at)}")
    along = (2 * at - at[0] - at[-1]) / (at[-1] - at[0]) if degree else np.zeros_like(at)
    columns, upper = np.linalg.qr(legendre.legvander(along, degree) * root[:, np.newaxis])
    basis: Floats = columns * np.sign(np.diag(upper)) / root[:, np.newaxis]
    return basis


def joined(matrix: Floats, first: int, second: int, conductance: ArrayLike) -> Floats:
    """The matrix with a conductance between two of its nodes, by Fourier's law.

    Parameters
    ----------
    matrix : array (..., node, node), W/K
    first, second : int
        Numbers of the nodes, from 0.
    conductance : float or array (...), W/K

    Returns
    -------
    array (..., node, node), W/K

    >>> joined(np.zeros((2, 2)), 0, 1, 5.0).tolist()
    [[5.0, -5.0], [-5.0, 5.0]]
    """
    through = floats(conductance)
    whole: Floats = np.array(np.broadcast_to(matrix, np.broadcast_shapes(matrix.shape, (*through.shape, 1, 1))))
    for row, column, sign in ((first, first, 1), (second, second, 1), (first, second, -1), (second, first, -1)):
        whole[..., row, column] += sign * through
    return whole
