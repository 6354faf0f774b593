"""Which parts of a picture are the curve that is asked for: by its colour, or as the darkest line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.chart.picture import ChartError

DARKEST = "darkest"
"""Name of the curve that is darker than anything else in the marked area."""

DIFFERENT = 40.0
"""Least distance of a curve's colour from that of the paper (0 to 442)."""

LEAST_INK = 0.3
"""Share of full colour from which a pixel belongs to a coloured line: half covered, and washed out by JPEG."""

LEAST_DARK = 0.6
"""The same for the darkest line: light grid lines stay below it."""

ASIDE = 0.25
"""Most that a pixel's colour may lie beside the line from paper to the curve's colour, over its distance from paper."""

FEWEST = 40
"""Pixels below which there is no curve."""


@dataclass(frozen=True)
class Ink:
    """Pixels of one colour.

    Attributes
    ----------
    column, row : array (pixel,), -
    amount : array (pixel,), -
        Share of the pixel that the line covers.
    """

    column: Floats
    row: Floats
    amount: Floats


def colour_of(text: str) -> Floats | None:
    """Return the colour of a name, or of a text such as "#d62728"; None for the darkest line.

    Returns
    -------
    array (3,) or None, -
        Red, green and blue from 0 to 255.

    Raises
    ------
    ChartError
        No such colour.

    >>> colour_of("#ff8000").tolist()
    [255.0, 128.0, 0.0]
    """
    from PIL import ImageColor

    if text.strip().lower() == DARKEST:
        return None
    try:
        return np.asarray(ImageColor.getrgb(text.strip())[:3], dtype=np.float64)
    except ValueError:
        raise ChartError(
            f"colour {text!r} is not known; write it as '#d62728', by a plain name such as 'red', or as {DARKEST!r}"
        ) from None


def ink_of(colours: Floats, inside: Floats, colour: Floats | None) -> Ink:
    """Return the pixels of a curve's colour.

    A pixel that a line covers in part has a colour between that of the paper and that of the line; what lies beside
    that connection is another line. The colour given is corrected once to what the picture has of it.

    Parameters
    ----------
    colours : array (row, column, 3), -
        Of the picture, 0 to 255.
    inside : bool array (row, column)
        Where the curve may be.
    colour : array (3,) or None, -
        None: the darkest line.

    Raises
    ------
    ChartError
        The colour is that of the paper, or is not in the picture.
    """
    rows, columns = np.nonzero(inside)
    pixels = colours[rows, columns]
    paper = np.median(pixels, axis=0)
    off = paper - pixels
    away = np.linalg.norm(off, axis=1)
    asked = (
        pixels[np.argsort(pixels.sum(axis=1))[: max(len(pixels) // 2000, 1)]].mean(axis=0) if colour is None else colour
    )
    least = LEAST_DARK if colour is None else LEAST_INK
    if np.linalg.norm(paper - asked) < DIFFERENT:
        raise ChartError(
            f"the colour of the curve, {_written(asked)}, is too near that of the paper, {_written(paper)}; name the "
            "colour of the curve itself"
        )
    ours = np.zeros(len(pixels), dtype=bool)
    for _ in range(2):
        towards = paper - asked
        amount = off @ towards / (towards @ towards)
        aside = np.linalg.norm(off - amount[:, None] * towards, axis=1)
        ours = (amount > least) & (aside < ASIDE * away)
        if colour is None or ours.sum() < FEWEST:
            break
        ours &= aside < np.linalg.norm(off - off.mean(axis=1, keepdims=True), axis=1)  # nearer to it than to grey
        full = ours & (amount > np.quantile(amount[ours], 0.7)) if ours.any() else ours
        asked = pixels[full].mean(axis=0) if full.any() else asked
    if ours.sum() < FEWEST:
        what = "no dark line" if colour is None else f"colour {_written(asked)} is not"
        raise ChartError(
            f"{what} found between the marks ({int(ours.sum())} pixels of it); colours that are there: "
            f"{', '.join(_common(pixels[away > DIFFERENT])) or 'that of the paper alone'}"
        )
    # the soft edge of the line counts for its middle: everything of the same kind beside what is surely the line
    near = np.zeros(inside.shape, dtype=bool)
    near[rows[ours], columns[ours]] = True
    near = _grown(near)[rows, columns] & (amount > 0.05) & (aside < ASIDE * np.maximum(away, DIFFERENT))
    return Ink(columns[near].astype(float), rows[near].astype(float), np.clip(amount[near], 0.0, 1.0))


def _grown(mask: Floats) -> Floats:
    """The mask and the eight neighbours of each of its pixels."""
    from scipy.ndimage import binary_dilation

    return np.asarray(binary_dilation(mask, structure=np.ones((3, 3), dtype=bool)))


def _written(colour: Floats) -> str:
    return "#" + "".join(f"{int(np.clip(np.round(value), 0, 255)):02x}" for value in colour)


def _common(pixels: Floats) -> list[str]:
    """The three commonest colours among pixels (pixel, 3), in steps of 32."""
    if not len(pixels):
        return []
    steps, counts = np.unique((pixels // 32).astype(int), axis=0, return_counts=True)
    return [_written(steps[place] * 32.0 + 16.0) for place in np.argsort(-counts)[:3]]
