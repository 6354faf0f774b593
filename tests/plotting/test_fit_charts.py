"""Figures of a fit: axes with units, bars of the size given, points left out crossed, planes and sensors apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.text import Text

from rimmodel.plotting import likelihood_chart, parts_chart, points_chart, residual_chart, spread_chart
from rimmodel.plotting.knee_chart import FittedGap
from rimmodel.plotting.parts_chart import FEW
from rimmodel.plotting.points_chart import BARS
from rimmodel.plotting.speed_curves import Curve, Span
from rimmodel.plotting.style import to_svg
from tests.plotting.drawn import axes_of, line_called, panels_in, texts_of

SPEED = np.linspace(20.0, 200.0, 10)
GAP = 16.0 - 3e-5 * SPEED**2
ERROR = np.full(10, 0.02)
USED = np.arange(10) != 4


def some_points(**changes: object) -> list[points_chart.Points]:
    given = {"gap": GAP, "error": ERROR, "residual": 0.01 * np.cos(SPEED), "time": SPEED / 50.0, "used": USED}
    return [points_chart.Points(direction, SPEED, **{**given, **changes}) for direction in ("up", "down")]  # type: ignore[arg-type]


def bars_of(panel) -> list[np.ndarray]:
    """Lower and upper end of every bar, by direction."""
    return [
        np.array([[y for _, y in segment] for segment in collection.get_segments()])
        for container in panel.containers
        for collection in container[2]
    ]


@pytest.mark.parametrize("knee", [152.0, 157.0, 162.0])
def test_no_words_of_a_likelihood_lie_on_its_curve_wherever_the_knee_is(knee: float) -> None:
    speed = np.linspace(150.0, 164.0, 41)
    figure = likelihood_chart.draw(speed, ((speed - knee) / 1.9) ** 2, 3.84, (knee - 3.7, knee + 3.7), 0.95)
    figure.draw_without_rendering()
    (panel,) = figure.axes
    words = [text for text in figure.findobj(Text) if "95 % interval" in text.get_text()]
    assert len(words) == 1
    assert not words[0].get_window_extent().overlaps(panel.get_window_extent())
    assert figure.bbox.contains(*words[0].get_window_extent().max)


def test_bars_reach_two_standard_errors_and_points_left_out_are_crossed() -> None:
    fitted = FittedGap(SPEED, GAP, 0.03 + 0 * SPEED, 150.0, 140.0, np.inf)
    drawing = Curve("drawing", SPEED, GAP - 0.1, GAP, np.nan)
    figure = points_chart.draw(some_points(), fitted, drawing, "mean air gap")
    assert axes_of(figure) == [("speed  [rpm]", "mean air gap  [mm]")]
    (panel,) = figure.axes
    for ends in bars_of(panel):
        assert np.allclose(ends[:, 1] - ends[:, 0], 2 * BARS * 0.02)
        assert len(ends) == USED.sum()
    x, y = line_called(panel, "speed rising, left out")
    assert (x.tolist(), y.tolist()) == ([SPEED[4]], [GAP[4]])
    assert np.allclose(line_called(panel, "prediction")[1], GAP - 0.1)
    assert panels_in(to_svg(figure)) == 1


@pytest.mark.parametrize("against", ["speed", "time"])
def test_residuals_stand_against_speed_or_time_in_hours(against: str) -> None:
    figure = residual_chart.draw(some_points(error=np.full(10, np.nan)), 0.015, against)  # type: ignore[arg-type]
    (panel,) = figure.axes
    assert panel.get_xlabel() == {"speed": "speed  [rpm]", "time": "time  [h]"}[against]
    x, _ = panel.containers[0][0].get_data()
    assert np.allclose(x, SPEED if against == "speed" else SPEED / 50.0)
    assert panels_in(to_svg(figure)) == 1


def parts(count: int) -> list[parts_chart.Curve]:
    return [
        parts_chart.Curve(f"<S{number}> $x$", SPEED, GAP - GAP[0], 0.01 * number * SPEED / 200.0, left_out=number == 1)
        for number in range(count)
    ]


def test_few_planes_share_a_panel_and_differ_without_colour() -> None:
    figure = parts_chart.draw(parts(2), 150.0)
    assert [label for _, label in axes_of(figure)] == [
        "change of gap from\nthe slowest speed  [mm]",
        "that less the mean\nof all  [mm]",
    ]
    lines = figure.axes[0].get_lines()[:2]
    assert lines[0].get_marker() != lines[1].get_marker()
    assert any("<S0> $x$" in text for text in texts_of(figure))


def test_many_sensors_stand_one_above_the_other_with_the_distance_stated() -> None:
    figure = parts_chart.draw(parts(FEW + 4), np.nan)
    (panel,) = figure.axes
    assert "mm apart" in panel.get_ylabel()
    assert panel.get_xlabel() == "speed  [rpm]"
    assert len(panel.get_yticklabels()) == FEW + 4
    assert any("left out" in text for text in texts_of(figure))


def test_an_open_interval_ends_in_an_arrow() -> None:
    rows = [Span("plane upper", 2.0, -1.0, 5.0), Span("S1", -3.0, -np.inf, 4.0)]
    figure = spread_chart.draw(rows, 157.0, 0.95)
    (panel,) = figure.axes
    markers = [line.get_marker() for line in panel.get_lines()]
    assert markers.count("<") == 1
    assert ">" not in markers
    assert "[rpm]" in panel.get_xlabel()
    assert "157.0 rpm" in panel.get_xlabel()
    assert panels_in(to_svg(figure)) == 1
