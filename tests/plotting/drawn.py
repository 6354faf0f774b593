"""What a figure shows: its texts as a reader sees them, its lines, and whether its SVG is whole."""

import re
import xml.etree.ElementTree as ET
from io import StringIO

import matplotlib as mpl
import numpy as np

SVG = "{http://www.w3.org/2000/svg}"


def texts_of(figure):
    """Every text of a figure as the SVG shows it, parts of one text joined."""
    stream = StringIO()
    with mpl.rc_context({"svg.fonttype": "none"}):
        figure.savefig(stream, format="svg")
    root = ET.fromstring(stream.getvalue())
    return ["".join(element.itertext()) for element in root.iter(f"{SVG}text")]


def line_called(panel, label):
    """Data (x, y) of the one line whose label starts so."""
    (found,) = (line for line in panel.get_lines() if line.get_label().startswith(label))
    return np.asarray(found.get_xdata(), dtype=float), np.asarray(found.get_ydata(), dtype=float)


def axes_of(figure):
    """Labels (x, y) of every panel."""
    return [(panel.get_xlabel(), panel.get_ylabel()) for panel in figure.axes]


def panels_in(svg):
    """Number of panels of a whole SVG: it is XML, has a size, and every path of it consists of finite numbers."""
    root = ET.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert min(map(float, root.attrib["viewBox"].split()[2:])) > 0
    paths = [path.attrib.get("d", "") for path in root.iter(f"{SVG}path")]
    assert any(paths)
    assert not any(re.search(r"nan|inf", path) for path in paths)
    return sum(bool(re.fullmatch(r"axes_\d+", group.attrib.get("id", ""))) for group in root.iter(f"{SVG}g"))
