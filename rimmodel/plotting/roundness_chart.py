"""Measures of the shape of the rotor against speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import DIRECTIONS, INK, MARKERS, legend, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Measures of the rotor's shape against speed.

    Parameters
    ----------
    direction : str
        "up", "down" or "".
    speed : array (speed,), rpm
    eccentricity, ovality, circularity : array (speed,), mm
    """

    direction: str
    speed: ArrayLike
    eccentricity: ArrayLike
    ovality: ArrayLike
    circularity: ArrayLike


def draw(curves: Sequence[Curve], knee: float = float("nan")) -> Figure:
    """Eccentricity, ovality and circularity of the rotor against speed.

    Parameters
    ----------
    knee : float, rpm
        A float speed, marked where given.
    """
    figure, axes = panels((1.0, 1.0, 1.0), height=5.4)
    rows = (
        ("eccentricity", "eccentricity\n(first harmonic)  [mm]"),
        ("ovality", "ovality (second\nharmonic)  [mm]"),
        ("circularity", "circularity, ISO 12181\nleast squares  [mm]"),
    )
    for panel, (name, label) in zip(axes, rows, strict=True):
        for curve in curves:
            panel.plot(
                curve.speed,
                getattr(curve, name),
                MARKERS[curve.direction],
                color=INK,
                markerfacecolor="white" if curve.direction == "down" else INK,
                markersize=5,
                label=DIRECTIONS[curve.direction],
            )
        if np.isfinite(knee):
            panel.axvline(knee, color=INK, linewidth=0.8, label="float speed from the mean gap")
        panel.set_ylabel(label)
        panel.set_ylim(0.0, None)
    axes[-1].set_xlabel("speed  [rpm]")
    axes[-1].set_xlim(0.0, None)
    legend(axes[0], loc="upper left")
    return figure
