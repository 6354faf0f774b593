"""The charts of the least gap: plain axes with units, lines that differ without colour, gaps in the data left open."""

import numpy as np

from rimmodel.plotting import gap_around_chart, least_gap_chart
from rimmodel.plotting.style import to_svg

SPEED = np.linspace(0.0, 250.0, 6)
LEAST = 14.0 - 4e-5 * SPEED**2


def test_the_gap_around_the_stator_stands_on_plain_axes():
    angle = np.linspace(0.0, 360.0, 361)
    curves = [
        gap_around_chart.Curve(name, angle, level + np.cos(np.deg2rad(angle)))
        for name, level in (("rated", 13.0), ("$x$", 11.0))
    ]
    figure = gap_around_chart.draw(curves)
    (panel,) = figure.axes
    assert panel.name == "rectilinear"
    assert "[deg" in panel.get_xlabel()
    assert "[mm]" in panel.get_ylabel()
    lines = [line for line in panel.get_lines() if len(line.get_xdata()) == 361]
    assert len({str(line.get_linestyle()) + str(line._dash_pattern) for line in lines}) == 2  # told apart in grey
    dots = [line for line in panel.get_lines() if len(line.get_xdata()) == 1]
    assert [float(dot.get_xdata()[0]) for dot in dots] == [180.0, 180.0]
    assert to_svg(figure).startswith("<?xml")


def test_the_gap_against_speed_shows_band_planes_and_marks():
    band = least_gap_chart.Band("cold", SPEED, LEAST + 1.0, np.append(LEAST[:-1], np.nan), LEAST - 0.3, LEAST + 0.3)
    planes = [
        least_gap_chart.Points(f"run, plane {name}", "up", SPEED[1:3], LEAST[1:3], LEAST[1:3] - 0.2, LEAST[1:3] + 0.1)
        for name in ("upper", "lower")
    ]
    figure = least_gap_chart.draw(
        band, planes, [least_gap_chart.Mark("touched, 12.00 mm", 187.5, 12.0)], {"rated": 125.0}
    )
    (panel,) = figure.axes
    assert panel.name == "rectilinear"
    assert "[rpm]" in panel.get_xlabel()
    fills = {str(line.get_markerfacecolor()) for line in panel.get_lines() if line.get_marker() == "^"}
    assert len(fills) == 2  # planes differ by the fill of their markers
    entries = [text.get_text() for text in panel.get_legend().get_texts()]
    assert {"run, plane upper, speed rising", "run, plane lower, speed rising"} <= set(entries)
    words = [text.get_text() for text in panel.texts]
    assert any("touched" in word for word in words)
    assert to_svg(figure).startswith("<?xml")


def test_without_any_gap_there_is_an_empty_chart():
    none = np.full(SPEED.shape, np.nan)
    assert to_svg(
        least_gap_chart.draw(least_gap_chart.Band("hot", SPEED, none, none, none, none), [], [], {})
    ).startswith("<?xml")
