"""The page in which the marks of a chart are clicked: one file that holds the picture and needs no network."""

from __future__ import annotations

import base64
from io import BytesIO
from pathlib import Path

import numpy as np

from rimmodel.evidence.chart.picture import read_picture
from rimmodel.verdict.output.files import PAGE_POLICY

POLICY = f"{PAGE_POLICY}; script-src 'unsafe-inline'"
"""As every page, and in addition its own script."""

MOST_BYTES = 40_000_000
"""A larger page is slow to open in a browser."""


def page(path: Path) -> str:
    """The page with the picture of a chart in it.

    The picture goes in as it is read, turned upright, so that a pixel of the page is the pixel that is read later.

    Raises
    ------
    ChartError
        No picture, or too large for a page.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from PIL import Image

    from rimmodel.evidence.chart.picture import ChartError
    from rimmodel.verdict.output.letter import TEMPLATES

    kept = BytesIO()
    Image.fromarray(np.round(read_picture(path)).astype(np.uint8)).save(kept, "PNG")
    if kept.tell() > MOST_BYTES:
        raise ChartError(f"{path} is too large for a page ({kept.tell() // 1_000_000} MB as PNG); save it smaller")
    environment = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined)
    picture = "data:image/png;base64," + base64.b64encode(kept.getvalue()).decode("ascii")
    return environment.get_template("chart_marks.html").render(name=path.name, policy=POLICY, picture=picture)
