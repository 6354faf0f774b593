"""A chart read off: curve, colours, axes in other units, and everything that is refused."""

import numpy as np
import pytest

from rimmodel.evidence.chart.description import Description
from rimmodel.evidence.chart.picture import ChartError, read_picture
from rimmodel.evidence.chart.read_off import read_chart
from rimmodel.units import in_mm, in_rpm
from tests.evidence.chart_pictures import BOX, SPEED, draw, gap_of, plain

PIXEL = (BOX[3] - BOX[2]) / 346.0
"""mm, of the charts drawn here."""


def read(path, table):
    return read_chart(path, Description.of(table, "axes.toml"))


def off(found):
    return (in_mm(found.gap) - gap_of(in_rpm(found.speed))) / PIXEL


@pytest.mark.independent
def test_a_drawn_curve_is_read_to_a_fraction_of_a_pixel_with_its_error(tmp_path):
    table = plain(tmp_path / "chart.png")
    found = read(tmp_path / "chart.png", table)
    assert len(found.speed) == 40
    assert np.sqrt(np.mean(off(found) ** 2)) < 0.2
    assert np.abs(off(found)).max() < 1.0
    stated = in_mm(found.gap_error) / PIXEL
    assert 0.04 < np.median(stated) < 0.3


@pytest.mark.parametrize("quality", [40, 80])
def test_noise_of_a_strongly_packed_picture_is_borne(tmp_path, quality):
    from PIL import Image

    table = plain(tmp_path / "chart.png")
    Image.open(tmp_path / "chart.png").convert("RGB").save(tmp_path / "chart.jpg", quality=quality)
    for colour in ("#d62728", "red"):
        found = read(tmp_path / "chart.jpg", {**table, "curve": {"colour": colour}})
        assert np.sqrt(np.mean(off(found) ** 2)) < 0.35


def test_a_dashed_curve_the_darkest_line_and_markers_are_followed(tmp_path):
    for name, style in (
        ("dashed", {"color": "#2ca02c", "ls": "--"}),
        ("darkest", {"color": "black"}),
        ("markers", {"color": "#9467bd", "marker": "o", "ms": 4, "markevery": 25}),
    ):
        path = tmp_path / f"{name}.png"
        pixel = draw(path, [(SPEED, gap_of(SPEED), style)], BOX)
        table = {
            "speed": {"unit": "rpm"},
            "gap": {"unit": "mm"},
            "crossings": [[*pixel(x, y), x, y] for x in BOX[:2] for y in BOX[2:]],
            "curve": {"colour": "darkest" if name == "darkest" else style["color"]},
        }
        found = read(path, table)
        assert len(found.speed) >= 35
        assert np.median(np.abs(off(found))) < 0.35, name


def test_per_cent_of_rated_speed_and_nominal_gap_are_what_they_are_of(tmp_path):
    table = plain(tmp_path / "chart.png")
    percent = {
        **table,
        "speed": {"unit": "%", "of": "150 rpm"},
        "gap": {"unit": "per cent", "of": "16 mm"},
        "crossings": [[u, v, x / 1.5, y / 0.16] for u, v, x, y in table["crossings"]],
    }
    plainly, found = read(tmp_path / "chart.png", table), read(tmp_path / "chart.png", percent)
    np.testing.assert_allclose(found.speed, plainly.speed, rtol=1e-7)
    np.testing.assert_allclose(found.gap, plainly.gap, rtol=1e-7)
    np.testing.assert_allclose(found.axis_gap, plainly.axis_gap, rtol=1e-3, atol=1e-9)


def test_growth_upwards_is_a_fall_of_the_gap(tmp_path):
    path = tmp_path / "growth.png"
    growth = gap_of(0.0) - gap_of(SPEED)
    pixel = draw(path, [(SPEED, growth, {"color": "#d62728"})], (0.0, 240.0, 0.0, 1.8))
    corners = [[*pixel(x, y), x, y * 39.37007874] for x in (0.0, 240.0) for y in (0.0, 1.8)]
    found = read(path, {"speed": {"unit": "rpm"}, "growth": {"unit": "mil"}, "crossings": corners,
                        "curve": {"colour": "#d62728"}, "mark_error": 0.1})  # fmt: skip
    assert found.quantity == "gap_change"
    np.testing.assert_allclose(in_mm(found.gap), gap_of(in_rpm(found.speed)) - gap_of(0.0), atol=0.006)
    assert any("growth" in note for note in found.notes)


def test_chosen_speeds_and_limits_are_kept_to(tmp_path):
    table = plain(tmp_path / "chart.png")
    found = read(tmp_path / "chart.png", {**table, "curve": {"colour": "#d62728", "speeds": [200, 50, 100, 150, 20]}})
    np.testing.assert_allclose(in_rpm(found.speed), [20.0, 50.0, 100.0, 150.0, 200.0])
    found = read(tmp_path / "chart.png", {**table, "curve": {"colour": "#d62728", "from": 60, "to": 180, "points": 12}})
    assert len(found.speed) == 12
    assert 60.0 <= in_rpm(found.speed.min()) < 63.0
    assert 177.0 < in_rpm(found.speed.max()) <= 180.0


GOOD = {"speed": {"unit": "rpm", "marks": [[80, 400, 0], [600, 400, 240]]},
        "gap": {"unit": "mm", "marks": [[80, 400, 13.5], [80, 50, 15.5]]}}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"speed": None, "gap": None}, "no axis points"),
        ({"gap": None}, "no axis points"),
        ({"growth": {"unit": "mm"}}, "one of"),
        ({"speed": {"marks": []}}, "no unit"),
        ({"speed": {"unit": "furlong", "marks": []}}, "furlong"),
        ({"gap": {"unit": "", "marks": []}}, "no unit"),
        ({"gap": {"unit": "bar", "marks": []}}, "bar"),
        ({"speed": {"unit": "%", "marks": []}}, "rated speed"),
        ({"gap": {"unit": "%", "marks": []}}, "nominal gap"),
        ({"gap": {"unit": "%", "of": "16", "marks": []}}, "has no unit"),
        ({"gap": {"unit": "%", "of": "-16 mm", "marks": []}}, "above zero"),
        ({"gap": {"unit": "mm", "of": "16 mm", "marks": []}}, "per cent"),
        ({"speed": {"unit": "rpm", "marks": [[1, 2]]}}, "3 numbers"),
        ({"speed": {"unit": "rpm", "marks": [[1, 2, "3"]]}}, "3 numbers"),
        ({"speed": {"unit": "rpm", "marks": {"a": 1}}}, "must be a list"),
        ({"speed": {"unit": "rpm", "mark": []}}, "'mark' is not known"),
        ({"crossings": [[1, 2, 3]]}, "4 numbers"),
        ({"mark_error": "large"}, "mark_error"),
        ({"mark_error": 0}, "mark_error"),
        ({"curve": "red"}, "must be a table"),
        ({"curve": {"color": "red"}}, "'color' is not known"),
        ({"curve": {"colour": 3}}, "colour is 3"),
        ({"curve": {"points": 5}}, "points is 5"),
        ({"curve": {"points": True}}, "points is True"),
        ({"curve": {"from": 200, "to": 100}}, "below to"),
        ({"curve": {"from": "fast"}}, "from is 'fast'"),
        ({"curve": {"speeds": 3}}, "speeds is 3"),
        ({"curve": {"direction": "left"}}, "direction"),
        ({"curves": {}}, "'curves' is not known"),
    ],
)
def test_a_description_with_a_slip_is_refused_in_one_sentence(change, words):
    table = {key: value for key, value in {**GOOD, **change}.items() if value is not None}
    with pytest.raises(ChartError) as refused:
        Description.of(table, "axes.toml")
    assert words in str(refused.value)
    assert str(refused.value).startswith("axes.toml")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"curve": {"colour": "#00ff00"}}, "not found between the marks"),
        ({"curve": {"colour": "#fefefe"}}, "too near that of the paper"),
        ({"curve": {"colour": "reddish"}}, "is not known"),
        ({"curve": {"colour": "#d62728", "speeds": [20, 50, 300, 100, 110]}}, "300 rpm"),
        ({"curve": {"colour": "#d62728", "from": 230}}, "can be followed"),
    ],
)
def test_a_curve_that_is_not_there_is_refused(tmp_path, change, words):
    table = plain(tmp_path / "chart.png")
    with pytest.raises(ChartError, match=words) as refused:
        read(tmp_path / "chart.png", {**table, **change})
    assert "chart.png" in str(refused.value)


def test_a_curve_that_leaves_the_marked_axes_is_refused(tmp_path):
    table = plain(tmp_path / "chart.png")
    pixel = draw(tmp_path / "chart.png", [(SPEED, gap_of(SPEED), {"color": "#d62728"})], BOX)
    inner = [[*pixel(x, y), x, y] for x in (0.0, 205.0) for y in BOX[2:]]
    with pytest.raises(ChartError, match="leaves the marked part of the speed axis"):
        read(tmp_path / "chart.png", {**table, "crossings": inner})
    with pytest.raises(ChartError, match="outside of the picture"):
        read(tmp_path / "chart.png", {**table, "crossings": [[5000.0, 10.0, 0.0, 15.0], *inner]})


def test_what_is_no_picture_is_refused(tmp_path):
    from PIL import Image

    (tmp_path / "text.png").write_text("speed [rpm],gap [mm]\n", encoding="utf-8")
    (tmp_path / "page.pdf").write_bytes(b"%PDF-1.7\n")
    Image.new("RGB", (30, 300), "white").save(tmp_path / "small.png")
    plain(tmp_path / "chart.png")
    whole = (tmp_path / "chart.png").read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[: len(whole) // 3])
    for name, words in (
        ("none.png", "no such file"), ("text.png", "not a picture"), ("page.pdf", "PDF"), ("small.png", "30 x 300"),
        ("cut.png", "damaged"), (".", "directory"),
    ):  # fmt: skip
        with pytest.raises(ChartError, match=words):
            read_picture(tmp_path / name)


def test_a_description_file_that_is_none_is_refused(tmp_path):
    (tmp_path / "bad.toml").write_text("[speed\n", encoding="utf-8")
    (tmp_path / "latin.toml").write_bytes(b"# \xe9\n")
    for name, words in (("none.toml", "no such file"), ("bad.toml", "not TOML"), ("latin.toml", "UTF-8")):
        with pytest.raises(ChartError, match=words):
            Description.read(tmp_path / name)
