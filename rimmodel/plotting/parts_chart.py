"""The gap and its knee by planes or sensors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


FEW = 4
"""Parts up to which curves share a panel and can still be followed."""


SHAPES = ("o", "s", "D", "^", "v", "P", "X", "<", ">", "*")


@dataclass(frozen=True)
class Curve:
    """Gap of one plane or sensor.

    Parameters
    ----------
    speed : array (point,), rpm
    change : array (point,), mm
        Of its gap from the slowest speed.
    apart : array (point,), mm
        Its gap less the mean of all, from the slowest speed.
    left_out : bool
        Does not enter the mean.
    """

    name: str
    speed: ArrayLike
    change: ArrayLike
    apart: ArrayLike
    left_out: bool = False


def draw(curves: Sequence[Curve], knee: float) -> Figure:
    """Change of gap of a few planes and how each goes apart from the mean of all; of many sensors the second alone.

    Parameters
    ----------
    knee : float, rpm
        Lift-off in the mean; not finite where there is none.

    Returns
    -------
    matplotlib Figure
    """
    if len(curves) > FEW:
        return _stacked(curves, knee)
    figure, (whole, apart) = panels((1.6, 1.6), height=5.0)
    for number, curve in enumerate(curves):
        style: dict[str, Any] = {
            "marker": SHAPES[number % len(SHAPES)],
            "markersize": 4.0,
            "linestyle": DASHES[number % len(DASHES)],
            "linewidth": 1.1,
            "color": COLOURS[number % len(COLOURS)],
            "label": f"{plain(curve.name)}{', left out' if curve.left_out else ''}",
        }
        whole.plot(curve.speed, curve.change, **style)
        apart.plot(curve.speed, curve.apart, **style)
    apart.axhline(0.0, color=INK, linewidth=0.8)
    whole.set_ylabel("change of gap from\nthe slowest speed  [mm]")
    apart.set_ylabel("that less the mean\nof all  [mm]")
    _mark_knee([whole, apart], knee)
    legend(whole, loc="lower left")
    return figure


def _stacked(curves: Sequence[Curve], knee: float) -> Figure:
    """One part above the other."""
    figure, (panel,) = panels((1.0,), height=1.6 + 0.3 * len(curves))
    sizes = [np.nanstd(np.asarray(curve.apart, dtype=float)) for curve in curves if not curve.left_out]
    step = float(f"{max(4.0 * float(np.median(sizes)), 1e-3):.0e}") if sizes else 1.0
    for row, curve in enumerate(curves):
        drawn = np.clip(np.asarray(curve.apart, dtype=float) / step, -1.5, 1.5)
        grey = curve.left_out
        panel.axhline(-row, color=FAINT, linewidth=0.4, alpha=0.6)
        panel.plot(
            curve.speed, drawn - row, marker="x" if grey else "o", markersize=3.5, linewidth=0.9,
            linestyle=DASHES[1] if grey else "-", color=FAINT if grey else COLOURS[0],
        )  # fmt: skip
    names = [f"{plain(curve.name)}{chr(10) + 'left out' if curve.left_out else ''}" for curve in curves]
    panel.set_yticks([-row for row in range(len(curves))], names)
    panel.set_ylim(-len(curves) + 0.1, 0.9)
    panel.set_ylabel(f"gap less the mean of all, from the slowest speed\n(rows are {step:g} mm apart)")
    _mark_knee([panel], knee)
    return figure


def _mark_knee(axes: Sequence[Axes], knee: float) -> None:
    known = np.isfinite(knee)
    for panel in axes:
        if known:
            panel.axvline(knee, color=INK, linewidth=0.8)
        panel.set_xlim(0.0, None)
    axes[-1].set_xlabel(f"speed  [rpm];   line: lift-off in the mean, {knee:.1f} rpm" if known else "speed  [rpm]")
