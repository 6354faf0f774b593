"""Interference of each key and outline of the rim at the poles, before and with the shims of a sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """What is drawn of keys and poles, before and after.

    Parameters
    ----------
    key_angle : array (key,), deg
    before, after, limit : array (key,), mm
        Interference, and the half-width of the reading after.
    pole_angle : array (pole,), deg
    outline_before, outline_after : array (pole,), mm
    """

    key_angle: ArrayLike
    before: ArrayLike
    after: ArrayLike
    limit: ArrayLike
    pole_angle: ArrayLike
    outline_before: ArrayLike
    outline_after: ArrayLike


def draw(course: Curve, edges: tuple[float, float], promised: float) -> Figure:
    """Interference of each key with the limits of its reading, and the deviation of the rim at each pole.

    Parameters
    ----------
    edges : pair of float, mm
        Of the mean interference; infinite where there is none.
    promised : float, mm
        Largest deviation.
    """
    figure, (keys, rim) = panels((1.2, 1.0), height=5.2)
    keys.plot(course.key_angle, course.before, "o", markerfacecolor="white", color=INK, label="now")
    keys.errorbar(
        course.key_angle, course.after, yerr=course.limit, fmt="s", color=COLOURS[0], capsize=3, linewidth=1.0,
        label="with these shims, limits of its reading",
    )  # fmt: skip
    for edge, word in zip(edges, ("lowest", "highest"), strict=True):
        if np.isfinite(edge):
            keys.axhline(edge, color=FAINT, linewidth=1.0, linestyle=DASHES[1])
            keys.annotate(
                f"{word}\nmean", (1.005, edge), xycoords=("axes fraction", "data"), ha="left", va="center",
                fontsize=7.5, color=INK,
            )  # fmt: skip
    angles = np.asarray(course.key_angle, dtype=float)
    step = -(-angles.size // 24)
    for number, angle in list(enumerate(angles, 1))[::step]:
        keys.annotate(
            str(number),
            (angle, 1.0),
            xycoords=("data", "axes fraction"),
            ha="center",
            va="bottom",
            fontsize=7.5,
            color=INK,
        )
    keys.set_ylabel("interference  [mm]")
    low, high = keys.get_ylim()
    keys.set_ylim(low - 0.2 * (high - low), high)  # room for the legend
    legend(keys, loc="lower left", ncols=2)
    turn = np.append(np.asarray(course.pole_angle, dtype=float), 360.0)
    for values, dash, colour, name in (
        (course.outline_before, DASHES[2], INK, "now"),
        (course.outline_after, DASHES[0], COLOURS[0], "with these shims"),
    ):
        own = np.asarray(values, dtype=float)
        rim.plot(turn, np.append(own, own[0]), color=colour, linestyle=dash, linewidth=1.3, label=name)
    for side in (-1.0, 1.0):
        rim.axhline(
            side * promised, color=FAINT, linewidth=1.0, linestyle=DASHES[1], label="promised" if side > 0 else None
        )
    rim.set_ylabel("radius at the poles off its mean  [mm]")
    rim.set_xlabel("angle in the turning frame  [deg], key numbers above")
    rim.set_xlim(-8.0, 368.0)
    rim.set_xticks(range(0, 361, 45))
    low, high = rim.get_ylim()
    rim.set_ylim(low, high + 0.2 * (high - low))
    legend(rim, loc="upper left", ncols=3)
    return figure
