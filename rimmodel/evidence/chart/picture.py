"""The picture of a chart as an array of colours, whatever file it comes in."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.rotor.regular_file import not_a_file

LEAST_SIDE, MOST_MILLIONS = 60, 60
"""Pixels: a chart below cannot be read, a scan of a whole page at 600 dots per inch has half as many as the last."""


class ChartError(ValueError):
    """A picture, its axes or its curve cannot be used; the text names the file, the value and the remedy."""


def read_picture(path: Path) -> Floats:
    """Return the colours of a picture, turned as its camera says, transparent parts as white paper.

    Parameters
    ----------
    path : Path
        PNG, JPEG, TIFF, BMP, GIF or WebP.

    Returns
    -------
    array (row, column, 3), -
        Red, green and blue from 0 to 255; row 0 is at the top.

    Raises
    ------
    ChartError
        No such file, no picture, damaged, too small or too large.
    """
    from PIL import Image, ImageOps

    reason = not_a_file(path, "a picture of one chart")
    if reason:
        raise ChartError(f"{path}: no such file" if reason.endswith("no such file") else f"{path} {reason}")
    with path.open("rb") as file:
        start = file.read(8)
    if start.startswith(b"%PDF"):
        raise ChartError(f"{path} is a PDF document, not a picture; save the page with the chart as PNG")
    try:
        with Image.open(path, formats=("PNG", "JPEG", "TIFF", "BMP", "GIF", "WEBP")) as opened:
            _refuse_size(path, opened.size)
            upright = ImageOps.exif_transpose(opened).convert("RGBA")
    except ChartError:
        raise
    except Exception as error:  # the readers of a damaged picture fail in many manners, none of them ours
        raise ChartError(
            f"{path} is not a picture that can be read (PNG, JPEG, TIFF, BMP, GIF or WebP), or it is damaged; save the "
            "chart as PNG"
        ) from error
    values = np.asarray(upright, dtype=np.float64)
    cover = values[..., 3:] / 255.0
    return np.asarray(values[..., :3] * cover + 255.0 * (1.0 - cover))


def _refuse_size(path: Path, size: tuple[int, int]) -> None:
    width, height = size
    if min(size) < LEAST_SIDE:
        raise ChartError(f"{path} is {width} x {height} pixels; a chart needs at least {LEAST_SIDE} in each direction")
    if width * height > MOST_MILLIONS * 1_000_000:
        raise ChartError(
            f"{path} is {width} x {height} pixels, more than {MOST_MILLIONS} million; cut the chart out, or "
            "save it smaller"
        )
