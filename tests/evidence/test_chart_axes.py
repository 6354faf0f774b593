"""The axes of a chart: any plane seen from anywhere, with errors that are as large as they say."""

import numpy as np
import pytest

from rimmodel.evidence.chart.axes import Mark, chart_axes
from rimmodel.evidence.chart.picture import ChartError

CORNERS = [(x, y) for x in (0.0, 25.0) for y in (0.012, 0.016)]


TURN = 0.052


def seen(x, y, turn=TURN, tilt=(0.00005, -0.00003)):
    """Pixels of a page of 25 rad/s by 4 mm that is turned and seen at an angle; written out, not by matrices."""
    across, down = 100.0 + 22.0 * x, 420.0 - 90_000.0 * (y - 0.012)
    column = np.cos(turn) * across - np.sin(turn) * down
    row = np.sin(turn) * across + np.cos(turn) * down
    below = 1.0 + tilt[0] * column + tilt[1] * row
    return column / below, row / below


def marks_on_axes(count, rng=None, error=0.0):
    def clicked(x, y):
        place = np.array(seen(x, y))
        return place if rng is None else place + error * rng.normal(size=2)

    found = [Mark(*clicked(x, 0.012), x, None) for x in np.linspace(0.0, 25.0, count)]
    return found + [Mark(*clicked(0.0, y), None, y) for y in np.linspace(0.012, 0.016, count)]


@pytest.mark.derived
def test_a_turned_page_seen_at_an_angle_is_read_exactly_from_its_corners():
    axes = chart_axes([Mark(*seen(x, y), x, y) for x, y in CORNERS] + [Mark(*seen(12.0, 0.0145), 12.0, 0.0145)], 0.05)
    tried = np.array([[3.0, 0.0125], [20.0, 0.0158], [24.0, 0.0121]])
    found = axes.values(np.array([seen(*one) for one in tried]))
    # what is known of perspective beforehand pulls by a few parts in a million
    np.testing.assert_allclose(found, tried, rtol=2e-5)
    np.testing.assert_allclose(axes.pixels(tried), [seen(*one) for one in tried], atol=0.01)


@pytest.mark.derived
def test_marks_on_the_axes_alone_show_turn_and_perspective():
    axes = chart_axes(marks_on_axes(6), 0.05)
    tried = np.array([[20.0, 0.0155]])
    np.testing.assert_allclose(axes.values(np.array([seen(20.0, 0.0155)])), tried, rtol=2e-3)


@pytest.mark.independent
@pytest.mark.parametrize("kind", ["corners", "axes"])
def test_errors_are_as_large_as_they_say(kind):
    rng, tried, off = np.random.default_rng(4), np.array([[14.0, 0.0141], [22.0, 0.0127]]), []
    place = np.array([seen(*one) for one in tried])
    for _ in range(150):
        if kind == "corners":
            marks = [Mark(*(np.array(seen(x, y)) + 0.8 * rng.normal(size=2)), x, y) for x, y in CORNERS]
        else:
            marks = marks_on_axes(5, rng, 0.8)
        axes = chart_axes(marks, 0.8)
        errors = axes.errors(place)
        off.append((axes.values(place) - tried) / np.sqrt(np.sum(errors**2, axis=2)))
    # 150 draws know a standard deviation to 6 %
    np.testing.assert_allclose(np.std(off, axis=0), 1.0, atol=0.2)
    assert np.abs(np.mean(off, axis=0)).max() < 0.35


def test_two_marks_on_each_axis_leave_perspective_open():
    few, many = (chart_axes(marks_on_axes(count)) for count in (2, 6))
    place = np.array([seen(22.0, 0.0155)])
    uncertain = [np.sqrt(np.sum(axes.errors(place) ** 2, axis=2))[0, 0] for axes in (few, many)]
    assert uncertain[0] > 3.0 * uncertain[1]
    assert abs(few.values(place)[0, 0] - 22.0) < 2.0 * uncertain[0]


def test_errors_hang_on_the_marks_alone_so_that_two_curves_share_them():
    marks = marks_on_axes(4, np.random.default_rng(1), 0.5)
    one, other = chart_axes(marks), chart_axes(list(marks))
    np.testing.assert_array_equal(one.root, other.root)
    assert 4 <= one.root.shape[1] <= 8


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ([], ("speed axis", "0 different values")),
        ([Mark(10, 10, 1.0, None), Mark(90, 10, 1.0, 0.01), Mark(10, 90, None, 0.02)], ("1 different values",)),
        ([Mark(10 * n, 20 * n, 1.0 * n, 0.001 * n) for n in (1, 2, 3)], ("3 marks", "one straight line")),
        (
            [Mark(10, 90, 0.0, 0.01), Mark(90, 90, 10.0, 0.01), Mark(10, 10, 0.0, 0.02), Mark(90, 10, 10.0, 0.03, "b")],
            ("do not fix both axes", "does not agree"),
        ),
        (
            [
                *(Mark(*seen(x, 0.012), x if x != 20.0 else 2.0, None, f"{x:g}") for x in (0.0, 5.0, 10.0, 20.0, 25.0)),
                *(Mark(*seen(0.0, y), None, y, f"{y:g}") for y in (0.012, 0.013, 0.014, 0.016)),
            ],
            ("does not agree with the others", "logarithmic"),
        ),
    ],
)
def test_marks_that_fix_no_axes_are_refused(marks, words):
    with pytest.raises(ChartError) as refused:
        chart_axes(marks)
    assert any(word in str(refused.value) for word in words)


def test_a_logarithmic_axis_is_refused():
    marks = [Mark(100.0 * n, 400.0, 10.0**n, None, f"1e{n}") for n in range(5)]
    with pytest.raises(ChartError, match="logarithmic"):
        chart_axes(marks + [Mark(0.0, 100.0 * n, None, 0.01 * (4 - n)) for n in range(5)])
