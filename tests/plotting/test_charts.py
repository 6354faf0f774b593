"""The figures: what stands at the axes and in the legend, names that come out as text, and the same bytes each time."""

import subprocess
import sys
import warnings
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from rimmodel.plotting import driver_chart, knee_chart, speed_chart
from rimmodel.plotting.knee_chart import FittedGap
from rimmodel.plotting.speed_curves import Curve, Points, Span
from rimmodel.plotting.style import COLOURS, DASHES, MARKERS, plain, to_svg
from tests.plotting.drawn import axes_of, line_called, panels_in, texts_of

SPEED = np.linspace(0.0, 250.0, 26)
GAP = 16.0 - 3e-5 * SPEED**2
LEFT = 2.0 * (1 - (SPEED / 180.0) ** 2)
NASTY = '<b>$x$ & _1_ "q" =2+3'


def curve(name="cold", float_speed=180.0):
    return Curve(name, SPEED, GAP, LEFT, float_speed)


def a_speed_chart(name="cold", label="run"):
    points = [Points(label, way, SPEED[2:20], GAP[2:20]) for way in ("up", "down")]
    return speed_chart.draw(
        [curve(name), curve("hot", np.inf)],
        points,
        marks={"rated": 125.0, "runaway": 250.0},
        spans=[Span(label, 150.0, 145.0, 155.0)],
        least_gap=15.0,
    )


def a_knee_chart(label="run", **changes):
    fitted = {"speed": SPEED, "gap": GAP, "half_width": 0.02 + 0 * SPEED, "knee": 150.0, "low": 145.0, "high": 155.0}
    points = [Points(label, way, SPEED[2:20], GAP[2:20] + 0.03) for way in ("up", "down")]
    return knee_chart.draw(points, FittedGap(**{**fitted, **changes}), 125.0)


def legend_of(panel):
    return [text.get_text() for text in panel.get_legend().get_texts()]


def test_the_axes_of_the_speed_chart_name_quantity_and_unit():
    figure = a_speed_chart()
    gap, left = figure.axes
    assert axes_of(figure) == [
        ("", "mean air gap  [mm]"),
        ("speed  [rpm]", "interference left, radial  [mm]"),
    ]
    assert gap.get_xlim() == left.get_xlim()


def test_the_speed_chart_draws_the_arrays_it_is_given():
    figure = a_speed_chart()
    gap, left = figure.axes
    for panel, values in ((gap, GAP), (left, LEFT)):
        curves = [line for line in panel.get_lines() if len(line.get_xdata()) == len(SPEED)]
        assert len(curves) == 2  # cold and hot, which are alike here
        for line in curves:
            np.testing.assert_array_equal(line.get_xdata(), SPEED)
            np.testing.assert_array_equal(line.get_ydata(), values)
    for direction in ("rising", "falling"):
        speed, measured = line_called(gap, f"run, speed {direction}")
        np.testing.assert_array_equal(speed, SPEED[2:20])
        np.testing.assert_array_equal(measured, GAP[2:20])
    assert panels_in(to_svg(figure)) == 2


def test_the_legend_names_every_condition_and_every_way():
    gap, left = a_speed_chart().axes
    entries = "\n".join(legend_of(gap))
    for words in ("cold", "hot", "run, speed rising", "run, speed falling"):
        assert words in entries
    assert "run: 150" in [text.get_text() for text in left.texts]


def test_named_speeds_and_float_speed_stand_in_the_chart():
    texts = "\n".join(texts_of(a_speed_chart()))
    for words in ("rated", "125", "runaway", "250", "180", "15 mm"):
        assert words in texts


def test_lines_differ_by_dash_and_points_by_marker_for_grey_print():
    gap, _ = a_speed_chart().axes
    curves = [line for line in gap.get_lines() if line.get_label().startswith(("cold", "hot"))]
    assert len({str(line._dash_pattern) for line in curves}) == 2
    assert len({line.get_color() for line in curves}) == 2
    points = [line for line in gap.get_lines() if line.get_label().startswith("run")]
    assert {line.get_marker() for line in points} == {MARKERS["up"], MARKERS["down"]}
    assert len({str(dash) for dash in DASHES}) == len(DASHES) == len(set(COLOURS))


def test_the_knee_chart_is_drawn_over_speed_squared():
    panel, residuals = a_knee_chart().axes
    assert "²" in residuals.get_xlabel()
    assert "[mm]" in panel.get_ylabel()
    assert "[mm]" in residuals.get_ylabel()
    entries = "\n".join(legend_of(panel))
    for words in ("run, speed rising", "run, speed falling", "seated", "floating", "band"):
        assert words in entries
    place, measured = line_called(panel, "run, speed rising")
    np.testing.assert_allclose(place, (SPEED[2:20] / 125.0) ** 2)
    np.testing.assert_array_equal(measured, GAP[2:20] + 0.03)
    for part, chosen in (("fit, seated", SPEED <= 150), ("fit, floating", SPEED >= 150)):
        place, fitted = line_called(panel, part)
        np.testing.assert_allclose(place, (SPEED[chosen] / 125.0) ** 2)
        np.testing.assert_array_equal(fitted, GAP[chosen])
    assert "150.0 rpm" in "".join(texts_of(a_knee_chart()))


def test_residuals_are_points_less_fit():
    _, residuals = a_knee_chart().axes
    for line in residuals.get_lines()[:2]:
        np.testing.assert_allclose(line.get_ydata(), 0.03, atol=1e-12)


def test_without_a_knee_the_chart_says_so():
    panel = a_knee_chart(knee=float("nan"), low=0.0, high=float("inf")).axes[0]
    entries = "\n".join(legend_of(panel))
    assert "no knee" in entries
    assert "floating" not in entries


def test_drivers_are_drawn_to_their_side_and_named():
    figure = driver_chart.draw(["pole mass +5 %", "interference +10 %"], [-2.5, 4.9])
    (panel,) = figure.axes
    assert [bar.get_width() for bar in panel.patches] == [-2.5, 4.9]
    assert [text.get_text() for text in panel.get_yticklabels()] == ["pole mass +5 %", "interference +10 %"]
    assert "[%]" in panel.get_xlabel()
    assert {"-2.5 %", "+4.9 %"} <= set(texts_of(figure))


@pytest.mark.parametrize("draw", [a_speed_chart, a_knee_chart])
def test_names_come_out_as_text(draw):
    figure = draw(label=NASTY)
    assert any(NASTY in text for text in texts_of(figure))
    svg = to_svg(figure)
    ET.fromstring(svg)
    assert "<b>" not in svg


def test_a_condition_with_a_dollar_sign_or_an_underscore_keeps_its_name():
    figure = a_speed_chart(name="_a $\\alpha$ b")
    assert sum("alpha" in entry for entry in legend_of(figure.axes[0])) == 1
    assert any("_a $\\alpha$ b" in text for text in texts_of(figure))


def test_odd_names_neither_fail_nor_break_the_svg():
    names = ["a\x07b", "a\nb", "a\tb", "$", "$$", "\\$x\\$"]
    figure = speed_chart.draw([curve(name) for name in names])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        ET.fromstring(to_svg(figure))
    assert len(legend_of(figure.axes[0])) == len(names)


def test_plain_text_without_signs_stays_as_it_is():
    assert plain("proving run, 2nd") == "proving run, 2nd"


def test_the_same_figure_gives_the_same_bytes():
    first = to_svg(a_knee_chart())
    assert first == to_svg(a_knee_chart())
    assert "<dc:date>" not in first


def test_a_closed_gap_leaves_holes_and_no_error():
    gap = np.where(SPEED > 150, np.nan, GAP)
    figure = speed_chart.draw([Curve("hot", SPEED, gap, gap, float("nan"))])
    speed, drawn = line_called(figure.axes[0], "hot")
    assert np.array_equal(np.isnan(drawn), speed > 150)
    assert np.isnan(drawn).any()
    assert panels_in(to_svg(figure)) == 2  # without a path that holds no number


def test_figures_are_made_without_pyplot():
    code = (
        "import sys\n"
        "from rimmodel.plotting import driver_chart\n"
        "from rimmodel.plotting.style import to_svg\n"
        "assert 'matplotlib' not in sys.modules\n"
        "to_svg(driver_chart.draw(['a'], [1.0]))\n"
        "print('matplotlib.pyplot' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert done.stdout.strip() == "False"
