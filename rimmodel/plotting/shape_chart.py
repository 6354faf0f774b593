"""The shape of the rotor at named speeds, drawn far too large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, INK, legend, plain, square

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Deviation of the pole-face radius from its mean by angle.

    Parameters
    ----------
    name : str
        Such as a speed.
    angle : array (angle,), rad
    deviation : array (angle,), mm
        + outward.
    """

    name: str
    angle: ArrayLike
    deviation: ArrayLike


def draw(curves: Sequence[Curve], radius: float) -> Figure:
    """Outlines of the rotor about the axis of rotation, deviations exaggerated by a factor that the figure states.

    Parameters
    ----------
    curves : sequence of Curve
        One per speed; angles in the turning frame, in the direction of rotation.
    radius : float, m
        Mean radius of the pole faces.

    Returns
    -------
    matplotlib Figure
    """
    largest = max(float(np.nanmax(np.abs(np.asarray(curve.deviation, dtype=float)))) for curve in curves)
    # the largest deviation takes a quarter of the drawn radius; the factor is rounded to one digit
    factor = 0.25 * 1e3 * radius / max(largest, 1e-9)
    factor = float(f"{factor:.0e}")
    figure, panel = square(polar=True)
    for number, curve in enumerate(curves):
        angle, deviation = np.asarray(curve.angle, dtype=float), np.asarray(curve.deviation, dtype=float)
        order = np.argsort(angle)
        closed = np.append(order, order[0])
        panel.plot(
            np.append(angle[order], angle[order[0]] + 2 * np.pi),
            radius + factor * deviation[closed] / 1e3,
            color=COLOURS[number % len(COLOURS)],
            linestyle=DASHES[number % len(DASHES)],
            linewidth=1.6,
            label=plain(curve.name),
        )
    turn = np.linspace(0.0, 2 * np.pi, 361)
    panel.plot(turn, np.full_like(turn, radius), color=INK, linewidth=0.7, label="mean radius")
    panel.set_ylim(0.0, 1.35 * radius)
    panel.set_yticks([])
    panel.set_xlabel(f"deviations drawn {factor:,.0f} times as large;\nangle in the turning frame, with rotation")
    legend(panel, loc="upper left", bbox_to_anchor=(1.04, 1.0))
    return figure
