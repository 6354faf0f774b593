"""The shim sheet as it is read: text, JSON, CSV and page state the same numbers; files are written all or none."""

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.planning.shim_sheet.sheet import shim_sheet
from rimmodel.plotting.style import to_svg
from rimmodel.rotor.case.case import EXAMPLES, read_case
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.output.shim_sheet import (
    SHIM_CAUTIONS,
    STEPS,
    shim_figure,
    shim_page,
    shim_rows,
    shim_sheet_csv,
)
from rimmodel.verdict.output.shim_sheet import (
    table as shim_sheet_table,
)
from rimmodel.verdict.output.shim_sheet import (
    text as shim_sheet_text,
)

CASE = replace(rm.example_case(), records=())
SHEET = shim_sheet(CASE)
TABLE, TEXT = shim_sheet_table(CASE, SHEET), shim_sheet_text(CASE, SHEET)
FIGURE = to_svg(shim_figure(CASE, SHEET))
PAGE = shim_page(CASE, SHEET, FIGURE)


def seen(page):
    return " ".join(re.sub(r"(?s)<style.*?</style>|<svg.*?</svg>|<[^>]+>", " ", page).split())


def unfolded(text):
    """Rows of the sheet by key, as cells: lines that a cell takes beside its first are put to it."""
    lines = text.splitlines()
    start = next(place for place, line in enumerate(lines) if line.startswith("key "))
    places = [match.start() for match in re.finditer(r"\S+(?: \S+)*", lines[start])]
    rows = {}
    for line in lines[start + 1 :]:
        if line.startswith("lengths in mm"):
            return rows
        cells = [line[one:end].strip() for one, end in zip(places, [*places[1:], None], strict=True)]
        if cells[0]:
            rows[int(cells[0])] = last = cells
        else:
            last[:] = [f"{before} {more}".strip() for before, more in zip(last, cells, strict=True)]
    return rows


def test_every_row_of_the_sheet_stands_in_text_and_page():
    text, page = unfolded(TEXT), seen(PAGE)
    assert len(TABLE["keys"]) == len(text) == 14
    for row, entry in zip(shim_rows(SHEET), TABLE["keys"], strict=True):
        assert text[int(row[0])] == list(row)
        assert " ".join(row[:3]) in page
        assert f"{entry['after_mm']:.3f}" == row[7]
        assert row[8] == " to ".join(f"{end:.3f}" for end in entry["limits_after_mm"])


def test_the_table_holds_together():
    for entry in TABLE["keys"]:
        made = sum(piece["thickness_mm"] * piece["count"] for piece in entry["pieces"])
        assert made == pytest.approx(entry["pack_mm"])
        assert entry["change_mm"] == pytest.approx(made - (entry["take_out_mm"] or 0.0))
        assert entry["after_mm"] == pytest.approx(entry["now_mm"] + entry["change_mm"])
    used = [row["used"] for row in TABLE["stock"]]
    assert used == SHEET.pieces.sum(axis=0).tolist()
    assert all(row["used"] <= row["pieces"] for row in TABLE["stock"])
    assert TABLE["proof"]["gap"] == pytest.approx(abs(TABLE["proof"]["reached"] - TABLE["proof"]["bound"]))
    assert len(TABLE["poles"]) == 48
    json.dumps(TABLE, allow_nan=False)


def test_what_is_promised_is_rounded_to_the_safe_side():
    assert TABLE["largest_deviation_mm"]["promised"] >= 1e3 * SHEET.promise.deviation
    for name, row in TABLE["first_lift_off_rpm"].items():
        exact = SHEET.promise.first_lift_off[name] * 30 / np.pi
        assert exact - 1.0 < row["promised"] <= exact + 1e-9
        assert f"not below {row['promised']:.0f} rpm" in TEXT
        assert f"not below {row['promised']:.0f} rpm" in seen(PAGE)
    assert f"at most {TABLE['largest_deviation_mm']['promised']:.2f} mm" in TEXT


def test_the_csv_has_a_row_for_each_key_and_a_column_for_each_thickness():
    rows = list(csv.DictReader(io.StringIO(shim_sheet_csv(SHEET))))
    assert [int(row["key"]) for row in rows] == list(range(1, 15))
    for row, entry in zip(rows, TABLE["keys"], strict=True):
        assert float(row["after_mm"]) == pytest.approx(entry["after_mm"], abs=1e-4)
        count = sum(int(value) for name, value in row.items() if name.startswith("pieces_"))
        assert count == sum(piece["count"] for piece in entry["pieces"])


def test_the_pack_and_its_limit_stand_beside_each_other_in_text_csv_and_page():
    text, page = " ".join(TEXT.split()), seen(PAGE)
    rows = list(csv.DictReader(io.StringIO(shim_sheet_csv(SHEET))))
    for row, entry in zip(rows, TABLE["keys"], strict=True):
        assert float(row["pack_limit_mm"]) == pytest.approx(entry["pack_limit_mm"], abs=1e-4)
        if entry["pieces"]:
            words = f"{entry['pack_mm']:.3f} ± {entry['pack_limit_mm']:.3f} {entry['change_mm']:+.3f}"
            assert words in text
            assert words in page


def test_edges_of_the_window_are_rounded_inwards_and_the_aim_is_explained():
    window = replace(SHEET.window, low_sure=1.9312e-3, high_sure=2.5558e-3)
    sheet = replace(SHEET, window=window)
    text = " ".join(shim_sheet_text(CASE, sheet).split())
    assert "in the window, 1.94 mm to 2.55 mm: for the mean only" in text
    assert "which is the window, 1.94 mm to 2.55 mm, less" in text
    assert f"less {1e3 * sheet.aim.margin:.3f} mm at each edge" in text
    assert "when ageing takes 10 % of it (limits.relaxation_share)" in text
    assert "'rimmodel window' recommends 2.10 mm" in text
    assert TABLE["mean_interference_mm"]["aimed_why"] in " ".join(TEXT.split())


def test_keys_that_may_pass_above_the_window_are_named_beside_the_promise():
    top = SHEET.planned.keys + SHEET.after_limit
    high = float(np.sort(top)[-3:-1].mean())  # between the second and the third of the tightest
    sheet = replace(SHEET, window=replace(SHEET.window, high_sure=high))
    wanted = [int(key) + 1 for key in np.flatnonzero(top > high)]
    assert 0 < len(wanted) < 14
    assert shim_sheet_table(CASE, sheet)["keys_that_may_exceed_the_window"] == wanted
    words = f"key{'s' * (len(wanted) > 1)} {', '.join(map(str, wanted))} may be above"
    assert words in " ".join(shim_sheet_text(CASE, sheet).split())
    assert words in seen(shim_page(CASE, sheet, FIGURE))
    assert "may be above" not in TEXT


def test_the_first_sheet_of_the_page_says_what_it_rests_on():
    page = seen(shim_page(replace(CASE, digest="0123abcd"), SHEET, FIGURE))
    table = page.index("limits before")
    assert page.index("0123abcd") < table
    assert page.index("interference before") < table
    assert page.count("interference before:") == 1


def test_cautions_and_steps_stand_everywhere():
    text, page = " ".join(TEXT.split()), seen(PAGE)
    for line in (*STEPS, *SHIM_CAUTIONS, *CAUTIONS):
        assert line in text
        assert line in page.replace("&#39;", "'")
        assert line in (*TABLE["acceptance"], *TABLE["cautions"])


def test_the_page_loads_nothing_and_has_places_for_readings_and_names():
    assert "default-src 'none'" in PAGE.replace("&#39;", "'")
    assert not re.search(r"(src|href)\s*=\s*\"http", PAGE)
    assert PAGE.count('<td class="own"></td>') == 28
    assert PAGE.count("by, date") == 4


def test_a_name_from_the_case_is_text_on_the_page():
    assert "<b>" not in shim_page(replace(CASE, title="<b>unit</b>"), SHEET, FIGURE)


def test_the_figure_is_whole_and_draws_keys_and_poles():
    ET.fromstring(FIGURE)
    keys, rim = shim_figure(CASE, SHEET).axes
    labels = [line.get_label() for line in rim.get_lines()]
    assert {"now", "with these shims", "promised"} <= set(labels)
    after = next(line for line in rim.get_lines() if line.get_label() == "with these shims")
    assert np.asarray(after.get_ydata())[:48] == pytest.approx(1e3 * SHEET.planned.deviation)
    assert keys.get_ylabel() == "interference  [mm]"


def alone(folder):
    """The built-in case without its recordings."""
    text = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
    first, last = text.index("[[records]]"), text.index("[tolerances]")
    (folder / "unit.toml").write_text(text[:first] + text[last:], encoding="utf-8")
    return folder / "unit.toml"


def test_the_command_writes_five_files_and_no_file_twice(rim, tmp_path):
    unit, out = alone(tmp_path), tmp_path / "out"
    code, text, _ = rim("shims", unit, "--out", out)
    assert code == 0
    names = ["shims.csv", "shims.html", "shims.json", "shims.svg", "shims.txt"]
    assert sorted(path.name for path in out.iterdir()) == names
    assert (out / "shims.txt").read_text(encoding="utf-8") == text
    table = json.loads((out / "shims.json").read_text(encoding="utf-8"))
    assert table["keys"] == TABLE["keys"]
    code, _, message = rim("shims", unit, "--out", out)
    assert code == 2
    assert "already exists" in message


def test_the_case_and_its_stock_are_read(tmp_path):
    shims = read_case(alone(tmp_path)).shims
    assert [row.pieces for row in shims.stock] == [20, 20, 14]
    assert shims.reading_tolerance == pytest.approx(0.04e-3)
    assert len(shims.present_packs) == 14
