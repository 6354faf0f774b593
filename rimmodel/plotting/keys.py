"""The rotor key by key: forces against speed, a map of keys, the shape of the rim."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.evidence import OutlineCurve, shape_chart
from rimmodel.plotting.style import COLOURS, DASHES, INK, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

RimOutline = OutlineCurve
MOST_NAMED, MOST_AROUND = 20, 24
"""Keys that are named on an axis, and around a rim, before the names run into each other."""

EVENT_MARKS = {"lift-off": "o", "re-seating": "s"}


@dataclass(frozen=True)
class ForceCurve:
    """Force of one key against speed.

    Parameters
    ----------
    speed : array (speed,), rpm
    force : array (speed,), kN
    """

    name: str
    speed: ArrayLike
    force: ArrayLike


@dataclass(frozen=True)
class KeyMark:
    """A key that lifts off or re-seats at a speed.

    Parameters
    ----------
    speed : float, rpm
    key : int
        From 1.
    """

    speed: float
    key: int
    kind: str


def force_chart(curves: Sequence[ForceCurve], marks: Sequence[KeyMark], speeds: dict[str, float]) -> Figure:
    """Force of every key against speed, with a mark where it lifts off or re-seats.

    Parameters
    ----------
    curves : sequence of ForceCurve
        In the order of the keys.
    speeds : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.4)
    for number, curve in enumerate(curves):
        panel.plot(
            curve.speed,
            curve.force,
            color=COLOURS[number % len(COLOURS)],
            linestyle=DASHES[(number // len(COLOURS)) % len(DASHES)],
            linewidth=1.3,
            label=f"key {plain(curve.name)}",
        )
    _draw_marks(panel, [(mark, 0.0) for mark in marks])
    mark_speeds([panel], speeds)
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("force on the key  [kN]")
    panel.set_xlim(0.0, None)
    panel.set_ylim(0.0, None)
    legend(panel, loc="upper right", ncols=2 if len(curves) > 8 else 1)
    return figure


def key_map(
    speed: ArrayLike, angle: ArrayLike, force: ArrayLike, marks: Sequence[KeyMark], speeds: dict[str, float]
) -> Figure:
    """Map of key forces over speed and key: dark: high force, white: lifted off.

    Parameters
    ----------
    speed : array (speed,), rpm
    angle : array (key,), deg
    force : array (speed, key), kN
    speeds : dict of str to float, rpm
        Named speeds.
    """
    figure, (panel,) = panels((1.0,), height=4.2)
    x, values = np.asarray(speed, dtype=float), np.ma.masked_invalid(np.asarray(force, dtype=float))
    keys = np.arange(1, values.shape[1] + 1)
    mesh = panel.pcolormesh(x, keys, values.T, cmap="Greys", vmin=0.0, shading="nearest", rasterized=False)
    figure.colorbar(mesh, ax=panel, label="force on the key  [kN]")
    _draw_marks(panel, [(mark, float(mark.key)) for mark in marks])
    mark_speeds([panel], speeds)
    named = _every_so_many(list(zip(keys, np.asarray(angle, dtype=float), strict=True)), MOST_NAMED)
    panel.set_yticks([key for key, _ in named], [f"{key} ({at:.0f}°)" for key, at in named])
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("key (angle in the turning frame)")
    panel.grid(visible=False)
    return figure


def rim_chart(outlines: Sequence[RimOutline], radius: float, key_angle: ArrayLike) -> Figure:
    """Outlines of the rim outside (deviations exaggerated as stated) with the keys marked at their angles.

    Parameters
    ----------
    radius : float, m
        Of the outside.
    key_angle : array (key,), rad
    """
    figure = shape_chart(outlines, radius)
    panel = figure.axes[0]
    angles = np.asarray(key_angle, dtype=float)
    panel.plot(angles, np.full_like(angles, 0.72 * radius), "|", color=INK, markersize=6, label="keys")
    for number, angle in _every_so_many(list(enumerate(angles, 1)), MOST_AROUND):
        panel.annotate(str(number), (angle, 0.63 * radius), ha="center", va="center", fontsize=8.5, color=INK)
    legend(panel, loc="upper left", bbox_to_anchor=(1.04, 1.0))
    return figure


def _every_so_many(rows: list[tuple[int, float]], most: int) -> list[tuple[int, float]]:
    """The first row and every second, third, ... one after it, so that there are no more than `most`."""
    return rows[:: -(-len(rows) // most)]


def _draw_marks(panel: Axes, places: Sequence[tuple[KeyMark, float]]) -> None:
    for kind, marker in EVENT_MARKS.items():
        some = [(mark.speed, y) for mark, y in places if mark.kind == kind]
        if some:
            x, y = zip(*some, strict=True)
            panel.plot(
                x, y, marker, color=COLOURS[1], markeredgecolor=INK, markersize=6, linestyle="none", label=kind,
                clip_on=False, zorder=5,
            )  # fmt: skip
