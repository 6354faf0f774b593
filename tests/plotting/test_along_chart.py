"""The charts of a rim along its length: plain axes with units, lines that differ without colour."""

import numpy as np

from rimmodel.plotting import left_along_chart, lift_along_chart
from rimmodel.plotting.style import to_svg
from tests.plotting.drawn import axes_of, line_called, texts_of

HEIGHT = np.linspace(0.05, 1.75, 18)


def test_what_is_left_stands_against_height_with_a_dash_for_each_speed():
    curves = [
        (name, level - 0.1 + 0.2 * HEIGHT, level + 0.2 * HEIGHT) for name, level in (("standstill", 1.9), ("$x$", -0.4))
    ]
    figure = left_along_chart.draw(HEIGHT, curves)
    (panel,) = figure.axes
    assert panel.name == "rectilinear"
    ((across, up),) = axes_of(figure)
    assert "[m]" in across
    assert "[mm]" in up
    lines = [line for line in panel.get_lines() if len(line.get_xdata()) == HEIGHT.size]
    assert len({str(line._dash_pattern) for line in lines}) == 2
    assert any("no contact" in text for text in texts_of(figure))
    assert to_svg(figure).startswith("<?xml")


def test_lift_off_shows_band_mean_and_named_speeds_and_leaves_out_what_never_lifts():
    high = np.append(np.full(HEIGHT.size - 1, 190.0), np.inf)
    figure = lift_along_chart.draw(HEIGHT, np.full(HEIGHT.size, 170.0), high, 182.0, {"rated": 125.0})
    (panel,) = figure.axes
    _, latest = line_called(panel, "lifts off, latest")
    assert np.isnan(latest[-1])
    assert np.nanmax(latest) == 190.0
    _, mean = line_called(panel, "float speed of the mean")
    assert set(mean) == {182.0}
    assert "rated" in texts_of(figure)
    assert to_svg(figure).startswith("<?xml")


def test_a_rim_that_never_floats_leaves_an_empty_chart():
    none = np.full(HEIGHT.size, np.nan)
    assert to_svg(lift_along_chart.draw(HEIGHT, none, none, float("nan"), {})).startswith("<?xml")
