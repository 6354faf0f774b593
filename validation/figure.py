"""All differences of the dossier in one figure: how far ours lies from theirs, and how far it may lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.plotting.style import COLOURS, FAINT, INK, legend, panels
from validation.check import Group, Outcome

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEAST = 1e-16
"""Where differences of nothing at all are drawn."""
MARKS = ("o", "s", "^", "D")


def differences_figure(groups: Mapping[Group, Sequence[Outcome]]) -> Figure:
    """Draw one point per number on a log axis, a tick where it would miss; each group sorted by its difference."""
    count = sum(len(outcomes) for outcomes in groups.values())
    figure, (axes,) = panels((1.0,), width=7.2, height=2.2 + 0.018 * count)
    start = 0
    for place, (group, outcomes) in enumerate(groups.items()):
        _draw(axes, outcomes, start, COLOURS[place], MARKS[place])
        title = f"{str(group).capitalize()}: {len(outcomes)} numbers"
        axes.annotate(title, (0.0, start + 1), xycoords=("axes fraction", "data"), xytext=(3, 0),
                      textcoords="offset points", fontsize=8.5, color=INK, va="bottom")  # fmt: skip
        start += len(outcomes) + 12
    axes.set_xscale("log")
    axes.set_xlim(0.5 * LEAST, 1.0)
    axes.set_ylim(-4, start)
    axes.invert_yaxis()
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(visible=False, axis="y")
    axes.set_xlabel(f"relative difference between ours and theirs [-]   (below {LEAST:g}: drawn there)")
    axes.plot([], [], "|", color=FAINT, label="largest difference that is allowed")
    axes.plot([], [], "o", color=FAINT, markersize=3.5, label="difference, by group")
    legend(axes, loc="upper center", bbox_to_anchor=(0.5, 1.08), ncols=2)
    return figure


def _draw(axes: Axes, outcomes: Sequence[Outcome], start: int, colour: str, mark: str) -> None:
    rows = sorted(outcomes, key=lambda outcome: abs(outcome.difference))
    height = start + 10 + np.arange(len(rows))
    difference = [max(abs(row.difference), LEAST) for row in rows]
    axes.plot([row.check.allowed for row in rows], height, "|", color=FAINT, markersize=5)
    axes.plot(difference, height, mark, color=colour, markersize=3)
    missed = np.array([not row.holds for row in rows])
    axes.plot(np.array(difference)[missed], height[missed], "x", color=INK, markersize=7)
