"""Figures of window, plan, limits and load rejection: what is drawn, and the same bytes each time."""

import numpy as np
import pytest

from rimmodel.plotting import limits_chart, plan_chart, rejection_chart, window_chart
from rimmodel.plotting.limits_chart import WIDEST_USE
from rimmodel.plotting.style import to_svg
from tests.plotting.drawn import axes_of, line_called, panels_in, texts_of

NASTY = '<b>$x$ & _1_ "q" =2+3'
SPEED = np.linspace(0.0, 180.0, 10)
TIME = np.linspace(0.0, 20.0, 201)
TURNING = 125 + 60 * np.minimum(TIME / 8, 1) - 3 * np.maximum(TIME - 8, 0)


def window(name="float speed"):
    rows = [
        window_chart.Span(name, 1.6, np.inf, 0.1),
        window_chart.Span("arms", -np.inf, 2.6, 0.1),
        window_chart.Span("nowhere", np.inf, -np.inf, 0.1),
        window_chart.Span("tight", 2.0, 2.1, 0.2),
    ]
    return window_chart.draw(rows, (1.7, 2.5), 1.2, 2.0, 3.0)


def plan(name="rated"):
    gap = 16 - 5e-5 * SPEED**2
    planned = plan_chart.Curve(SPEED, gap, gap - 0.2, gap + 0.2, np.full(10, 9.3), gap - 0.2)
    return plan_chart.draw(planned, 9.0, (120.0, 150.0, 175.0), {name: 125.0, "runaway": 250.0})


def limits(name="arms"):
    return limits_chart.draw([name, "rim", "friction", "fault"], [0.7, 1.3, 0.4, 9.0], [True, True, False, False])


def rejection(name="hot"):
    states = [
        rejection_chart.Span(name, 160.0, 4.0, 16.0),
        rejection_chart.Span("cold", 400.0, np.nan, np.nan),
        rejection_chart.Span("warm", 180.0, np.nan, np.nan),
    ]
    return rejection_chart.draw(TIME, TURNING, states, {"rated": 125.0, "runaway": 250.0})


CHARTS = {"window": window, "plan": plan, "limits": limits, "rejection": rejection}


@pytest.mark.parametrize("name", CHARTS)
def test_the_same_bytes_each_time_and_names_as_they_are(name):
    assert to_svg(CHARTS[name]()) == to_svg(CHARTS[name]())
    odd = CHARTS[name](NASTY)
    assert any(NASTY in text for text in texts_of(odd))
    assert panels_in(to_svg(odd)) == 1
    assert "<b>" not in to_svg(odd)


AXES = {
    "window": [("interference, radial, as assembled  [mm]", "")],
    "plan": [("speed  [rpm]", "mean air gap  [mm]")],
    "limits": [("share of the limit used  [-]\n(hatched: exceeds; hollow: for information)", "")],
    "rejection": [("time after the loss of load  [s]", "speed  [rpm]")],
}


@pytest.mark.parametrize("name", CHARTS)
def test_the_axes_name_quantity_and_unit(name):
    assert axes_of(CHARTS[name]()) == AXES[name]


def texts(figure):
    return [item.get_text() for panel in figure.axes for item in panel.texts]


def test_the_window_draws_each_allowed_range_and_what_is_left_of_it():
    (panel,) = window().axes
    ranges = [
        (round(bar.get_x(), 9), round(bar.get_x() + bar.get_width(), 9), bool(bar.get_hatch()))
        for bar in panel.patches
        if bar.get_height() == pytest.approx(0.62)
    ]
    # from the edge to the end of the axis, uncertainty hatched; the last is as wide as its uncertainty: nothing left
    assert ranges == [(1.6, 3.0, True), (1.7, 3.0, False), (0.0, 2.6, True), (0.0, 2.5, False), (2.0, 2.1, True)]
    assert set(line_called(panel, "present")[0]) == {1.2}
    assert set(line_called(panel, "recommended")[0]) == {2.0}


def test_the_plan_draws_the_arrays_it_is_given():
    (panel,) = plan().axes
    gap = 16 - 5e-5 * SPEED**2
    for label, values in (("expected mean gap", gap), ("stop line", np.full(10, 9.3)), ("hold line", gap - 0.2)):
        speed, drawn = line_called(panel, label)
        np.testing.assert_array_equal(speed, SPEED)
        np.testing.assert_array_equal(drawn, values)
    edges = panel.collections[0].get_paths()[0].vertices
    for low, high in ((gap[3] - 0.2, gap[3] + 0.2), (gap[9] - 0.2, gap[9] + 0.2)):
        place = SPEED[3] if low == gap[3] - 0.2 else SPEED[9]
        at_speed = edges[edges[:, 0] == place, 1]
        assert (at_speed.min(), at_speed.max()) == pytest.approx((low, high))


def test_the_rejection_draws_the_speed_and_the_part_of_it_afloat():
    (panel,) = rejection().axes
    time, speed = line_called(panel, "speed")
    np.testing.assert_array_equal(time, TIME)
    np.testing.assert_array_equal(speed, TURNING)
    assert set(line_called(panel, "hot: floats")[1]) == {160.0}
    (afloat,) = (line for line in panel.get_lines() if line.get_linewidth() > 4)
    chosen = (TIME >= 4.0) & (TIME <= 16.0)
    np.testing.assert_array_equal(afloat.get_xdata(), TIME[chosen])
    np.testing.assert_array_equal(afloat.get_ydata(), TURNING[chosen])


def test_the_window_names_every_edge_and_what_is_kept_nowhere():
    figure = window()
    assert {"1.60", "2.60", "2.00", "2.10", "not met anywhere"} <= set(texts(figure))
    (panel,) = figure.axes
    assert [label.get_text() for label in panel.get_yticklabels()] == ["float speed", "arms", "nowhere", "tight"]
    assert panel.get_xlim() == (0.0, 3.0)
    assert "[mm]" in panel.get_xlabel()
    names = [item.get_text() for item in figure.legends[0].get_texts()]
    assert names == ["window with uncertainty deducted (hatched)", "present 1.20 mm", "recommended 2.00 mm"]
    shut = window_chart.draw([window_chart.Span("arms", -np.inf, 1.0, 0.1)], None, 1.2, None, 3.0)
    assert [item.get_text() for item in shut.legends[0].get_texts()] == ["present 1.20 mm"]


def test_the_plan_draws_stop_line_minimum_and_lift_off():
    figure = plan()
    (panel,) = figure.axes
    labels = [item.get_text() for item in panel.get_legend().get_texts()]
    assert "stop line: below it go no faster" in labels
    assert "hold line: find out why" in labels
    assert "lift-off expected 150 rpm" in labels
    assert "least mean gap allowed: 9 mm" in texts(figure)
    assert not any("runaway" in text for text in texts(figure))  # beyond the run
    assert panel.get_ylim()[0] < 9.0


def test_the_limits_tell_broken_ones_by_hatch_and_told_only_ones_hollow():
    (panel,) = limits().axes
    bars = panel.patches
    assert [bar.get_width() for bar in bars[:3]] == [0.7, 1.3, 0.4]
    assert [bool(bar.get_hatch()) for bar in bars] == [False, True, False, True]
    assert [bar.get_facecolor()[:3] == (1.0, 1.0, 1.0) for bar in bars] == [False, False, True, True]
    assert bars[3].get_width() == WIDEST_USE
    assert "9.00" in texts(limits())


def test_the_rejection_tells_how_long_it_floats():
    (panel,) = rejection().axes
    labels = [item.get_text() for item in panel.get_legend().get_texts()]
    assert labels == [
        "speed",
        "hot: floats at 160 rpm, afloat 12.0 s",
        "cold: no float speed near",
        "warm: floats at 180 rpm, seated",
    ]
    endless = rejection_chart.draw(TIME, TURNING, [rejection_chart.Span("hot", 160.0, 4.0, np.inf)], {})
    assert "hot: floats at 160 rpm, afloat 16.0 s and on" in [
        t.get_text() for t in endless.axes[0].get_legend().get_texts()
    ]
