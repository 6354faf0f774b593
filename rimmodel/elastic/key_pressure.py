"""Pressure under a key over its width: even, or such that two bodies which yield stay in touch.

Two elastic bodies that meet over the width of a key move towards each other by the same everywhere in it, and press
more at its edges. Of all pressures of one force, this has the least energy of rim, spider and shims; so the mean yield
under it is the least as well, and an error of the pressure enters it squared alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats

PANELS = 8
EDGES: Floats = 0.5 * np.sin(0.5 * np.pi * np.sin(np.linspace(0.0, 0.5 * np.pi, PANELS + 1)))
"""Edges of panels from the middle of a key to its edge, in widths: finest there, where the pressure of a flat punch
has no end. Of what a punch sinks less than an even pressure they leave 0.3 %."""


@dataclass(frozen=True)
class KeyPressure:
    """A pressure that is even over each panel of a key, and the same on both sides of its middle.

    Parameters
    ----------
    edges : array (K + 1,), -
        Of the panels of one half of the key from its middle on, in widths of the key: 0 to 1/2.
    share : array (..., K), -
        Of the force of the key on each panel and its mirror image together.
    """

    edges: Floats
    share: Floats

    def transform(self, angle: Floats) -> Floats:
        """Mean of cos(n x) over the pressure, -.

        Parameters
        ----------
        angle : array (..., n), rad
            That which the key takes, times n.

        >>> bool(abs(EVEN.transform(np.array([2.0]))[0] - np.sin(1.0)) < 1e-15)
        True
        """
        share = self.share[..., None, :] if self.share.ndim > 1 else self.share
        return np.asarray((panel_transforms(self.edges, angle) * share).sum(axis=-1))

    @property
    def steps(self) -> Floats:
        """Density (..., K), -, of force per width inside each edge less that outside it, the middle left out."""
        density = self.share / np.diff(self.edges)
        return np.asarray(density - np.concatenate([density[..., 1:], np.zeros_like(density[..., :1])], axis=-1))

    @property
    def unevenness(self) -> Floats:
        """Mean of the square of the pressure over the square of its mean, less 1, -: what springs under it yield more.

        >>> float(EVEN.unevenness)
        0.0
        """
        return np.asarray((self.share**2 * spring_panels(self.edges)).sum(axis=-1) - 1.0)


EVEN = KeyPressure(np.array([0.0, 0.5]), np.array([1.0]))


def panel_transforms(edges: Floats, angle: Floats) -> Floats:
    """Mean of cos(n x) over each panel and its mirror image. Derived here.

    Parameters
    ----------
    edges : array (K + 1,), -
    angle : array (...), rad
        That which the key takes, times n.

    Returns
    -------
    array (..., K), -

    >>> panel_transforms(np.array([0.0, 0.5]), np.array([0.0]))
    array([[1.]])
    """
    middle, width = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    at = np.asarray(angle)[..., None]
    return np.asarray(np.cos(middle * at) * np.sinc(width * at / (2.0 * np.pi)))


def spring_panels(edges: Floats) -> Floats:
    """Yield of each panel and its mirror image on even springs, in that of the whole key under the same force.

    By definition of springs that do not feel each other.

    Parameters
    ----------
    edges : array (K + 1,), -

    Returns
    -------
    array (K,), -

    >>> spring_panels(np.array([0.0, 0.5]))
    array([1.])
    """
    return np.asarray(0.5 / np.diff(edges))


def yield_under(pressure: KeyPressure, panels: Floats) -> Floats:
    """Mean yield under a pressure, weighted with it; by definition.

    Parameters
    ----------
    panels : array (..., K, K), m/Pa
        Yield of panels per force on panels.

    Returns
    -------
    array (...), m/Pa

    >>> float(yield_under(KeyPressure(np.array([0.0, 0.2, 0.5]), np.array([0.5, 0.5])), np.diag([1.0, 3.0])))
    1.0
    """
    share = pressure.share
    return np.asarray((share[..., None, :] @ panels @ share[..., :, None])[..., 0, 0])


def conforming(panels: Floats, edges: Floats = EDGES) -> KeyPressure:
    """Return the pressure under which all panels of a key that stay in touch yield alike, and the rest lift off.

    That of the least energy, ``share Y share`` of sum 1 without a pull anywhere. A contact that recedes from its first
    extent does so at once and at any force alike (Dundurs), so that the key stays a straight line in its force.
    Derived here.

    Parameters
    ----------
    panels : array (..., K, K), m/Pa
        Yield of panels per force on panels, of all that yields under the key, but for what moves it as a whole.
    edges : array (K + 1,), -

    Returns
    -------
    KeyPressure
        Shares (..., K).

    Raises
    ------
    ArithmeticError
        Panels whose contact does not settle.

    >>> conforming(np.diag([1.0, 3.0]), np.array([0.0, 0.25, 0.5])).share
    array([0.75, 0.25])
    """
    scale = np.abs(panels).max(axis=(-1, -2))[..., None, None]
    # the key as a whole moves as it will: this keeps the matrix definite and no share feels it
    yields = panels / np.where(scale > 0.0, scale, 1.0) + 1.0
    count = edges.size - 1
    touching = np.ones(panels.shape[:-1], dtype=bool)
    for _ in range(4 * count):
        both = touching[..., :, None] & touching[..., None, :]
        system = np.where(both, yields, np.eye(count))
        share = np.linalg.solve(system, touching[..., None].astype(float))[..., 0]
        pulled = share < 0.0
        closed = ~touching & ((yields @ share[..., None])[..., 0] < 1.0 - 1e-9)
        change = np.where(pulled.any(axis=-1, keepdims=True), pulled, closed)
        if not change.any():
            break
        touching ^= change
    else:
        raise ArithmeticError("the contact under a key does not settle: its panels yield as no elastic body does")
    share = np.maximum(share, 0.0)
    return KeyPressure(edges, share / share.sum(axis=-1, keepdims=True))
