"""Figures of a study: what they show of the arrays they are given, and that they are the same bytes again."""

import numpy as np
import pytest

from rimmodel.plotting import convergence_chart, distribution_chart, tornado_chart
from rimmodel.plotting.style import to_svg
from tests.plotting.drawn import axes_of, panels_in, texts_of


def test_a_tornado_spans_from_low_to_high_with_the_first_on_top():
    figure = tornado_chart.draw(["mass $x$", "_heat"], [9.0, 10.5], [12.0, 9.5], 10.0, "gap [mm]")
    (panel,) = figure.axes
    spans = sorted((bar.get_x(), bar.get_x() + bar.get_width()) for bar in panel.patches)
    assert np.allclose(sorted(np.ravel(spans)), sorted([9.0, 10.0, 10.0, 12.0, 10.0, 10.5, 9.5, 10.0]))
    assert panel.yaxis_inverted()
    assert to_svg(figure) == to_svg(
        tornado_chart.draw(["mass $x$", "_heat"], [9.0, 10.5], [12.0, 9.5], 10.0, "gap [mm]")
    )


@pytest.mark.independent
def test_a_distribution_has_unit_area_and_the_height_of_its_density():
    values = np.random.default_rng(1).normal(5.0, 2.0, 200_000)
    counts, edges = np.histogram(values, bins=3000)
    figure = distribution_chart.draw(
        edges, counts, (1.08, 8.92), "gap [mm]", normal=(5.0, 2.0), marks={"allowed $": 1.0}
    )
    (panel,) = figure.axes
    heights, borders, _ = panel.patches[0].get_data()
    assert np.sum(heights * np.diff(borders)) == pytest.approx(1.0, abs=1e-3)
    assert heights.max() == pytest.approx(1 / (2 * np.sqrt(2 * np.pi)), rel=0.04)
    assert axes_of(figure) == [("gap [mm]", "share per unit of the axis")]
    assert any("allowed $" in text for text in texts_of(figure))
    assert panels_in(to_svg(figure)) == 1


def test_a_distribution_without_values_is_refused_and_a_single_value_drawn():
    with pytest.raises(ValueError, match="no finite value"):
        distribution_chart.draw(np.arange(4.0), np.zeros(3), (0.0, 1.0), "x")
    to_svg(distribution_chart.draw(np.array([1.0, 1.0 + 1e-12]), np.array([5]), (1.0, 1.0), "x"))


def test_convergence_bands_close_in_on_the_last_estimate():
    samples = np.array([8192, 16384, 32768])
    figure = convergence_chart.draw(samples, [10.1, 10.02, 10.0], [2.1, 2.0, 2.0], "speed [rpm]")
    upper, lower = figure.axes
    assert upper.lines[0].get_ydata().tolist() == [10.1, 10.02, 10.0]
    band = upper.collections[0].get_paths()[0].vertices
    at_first = band[band[:, 0] == 8192, 1]
    assert np.ptp(at_first) == pytest.approx(2 * 1.96 * 2.1 / np.sqrt(8192))
    assert lower.lines[0].get_ydata().tolist() == [2.1, 2.0, 2.0]
    assert lower.get_xscale() == "log"
    assert axes_of(figure) == [("", "mean\nspeed [rpm]"), ("samples  [-]", "standard deviation\nspeed [rpm]")]
    assert panels_in(to_svg(figure)) == 2
