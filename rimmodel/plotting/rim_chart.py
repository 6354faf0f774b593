"""The shape of the rim on its keys, drawn far too large."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting import shape_chart
from rimmodel.plotting.key_marks import MOST_AROUND, every_so_many
from rimmodel.plotting.shape_chart import Curve
from rimmodel.plotting.style import INK, legend

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(outlines: Sequence[Curve], radius: float, key_angle: ArrayLike) -> Figure:
    """Outlines of the rim outside (deviations exaggerated as stated) with the keys marked at their angles.

    Parameters
    ----------
    radius : float, m
        Of the outside.
    key_angle : array (key,), rad
    """
    figure = shape_chart.draw(outlines, radius)
    panel = figure.axes[0]
    angles = np.asarray(key_angle, dtype=float)
    panel.plot(angles, np.full_like(angles, 0.72 * radius), "|", color=INK, markersize=6, label="keys")
    for number, angle in every_so_many(list(enumerate(angles, 1)), MOST_AROUND):
        panel.annotate(str(number), (angle, 0.63 * radius), ha="center", va="center", fontsize=8.5, color=INK)
    legend(panel, loc="upper left", bbox_to_anchor=(1.04, 1.0))
    return figure
