"""Invented charts that the tests read; no number in them comes from a machine."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def gap_of(speed_rpm: Floats | float) -> Floats:
    """Invented: 15.2 mm, falling with speed squared, a knee at 140 rpm; in mm."""
    x = np.asarray(speed_rpm) ** 2
    return 15.2 - 1.2e-5 * x - 1.8e-5 * np.maximum(x - 140.0**2, 0.0)


def draw(path: Path, curves: list[tuple[Floats, Floats, dict[str, object]]], box: tuple[float, float, float, float]):
    """Draw curves over a grid; return the function from values to pixels, 0 in the middle of the first."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.0, 4.5), dpi=100)
    canvas, axes = FigureCanvasAgg(figure), figure.add_subplot()
    for x, y, style in curves:
        axes.plot(x, y, **{"lw": 1.6, **style})
    axes.set(xlim=box[:2], ylim=box[2:], xlabel="speed", ylabel="gap")
    axes.grid(True, color="0.8", lw=0.7)
    figure.savefig(path, dpi=100)
    rows = canvas.get_width_height()[1]

    def pixel(x: float, y: float) -> list[float]:
        across, up = axes.transData.transform((x, y))
        return [float(across) - 0.5, rows - float(up) - 0.5]

    return pixel


BOX = (0.0, 240.0, 13.5, 15.5)
SPEED = np.linspace(10.0, 225.0, 400)


def plain(path: Path) -> dict[str, object]:
    """A chart of two curves as drawn by a computer, and its description with exact marks at four crossings."""
    other = gap_of(SPEED * 1.15) + 0.15
    pixel = draw(path, [(SPEED, gap_of(SPEED), {"color": "#d62728"}), (SPEED, other, {"color": "#1f77b4"})], BOX)
    crossings = [[*pixel(x, y), x, y] for x in BOX[:2] for y in BOX[2:]]
    return {
        "speed": {"unit": "rpm"},
        "gap": {"unit": "mm"},
        "crossings": crossings,
        "curve": {"colour": "#d62728"},
        "mark_error": 0.1,
    }
