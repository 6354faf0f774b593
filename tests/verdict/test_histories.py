"""Requirements over whole histories: judged beside those of a condition in headline, text, page, JSON and exit code."""

import json
import sys
from dataclasses import replace

import pytest

import rimmodel as rm
from rimmodel.cli import main
from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.verdict.assess import assess
from rimmodel.verdict.output.details import details
from rimmodel.verdict.output.page import page
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.output.text import text as review_text

CASE = rm.example_case()
[HISTORY] = CASE.histories


def asking(ratio, gap=None, **changes):
    """A review of the drawing alone: requirements that hold, and a history that asks for what is given."""
    history = replace(HISTORY, float_speed_ratio=ratio, minimum_gap=gap)
    kept = tuple(row for row in CASE.requirements if row.name != "no_float_in_service")
    return assess(replace(CASE, records=(), requirements=kept, histories=(history,), **changes), [])


@pytest.mark.parametrize(("ratio", "verdict"), [(0.5, "holds"), (1.0, "not shown"), (2.0, "does not hold")])
def test_a_history_decides_with_the_requirements_and_is_named_on_top(ratio, verdict):
    found = asking(ratio)
    assert all(row.verdict == "holds" for row in found.findings if row.role == "requirement")
    [over] = found.histories.findings
    assert over.verdict == verdict
    assert found.requirements_hold == (verdict == "holds")
    sentence = (
        f"Required over history 'stop_and_restart', float speed over running speed at least {ratio:.3f}: {verdict}"
    )
    assert sentence in found.headline
    assert ("All requirements hold" in found.headline) == (verdict == "holds")
    assert ("not all those over histories" in found.headline) == (verdict != "holds")
    said = " ".join(review_text(found).split())
    assert f"stop_and_restart: float speed over running speed at least {ratio:.3f}: {verdict.upper()}" in said
    [row] = review_table(found)["requirements_over_histories"]
    assert (row["history"], row["key"], row["verdict"]) == ("stop_and_restart", "float_speed_ratio", verdict)
    assert (row["interval"][0] >= ratio) == (verdict == "holds")
    assert (row["interval"][1] < ratio) == (verdict == "does not hold")


def test_the_requirements_of_the_case_stay_those_of_the_case():
    table = review_table(asking(1.0, 9e-3))
    assert [row["name"] for row in table["requirements"]] == ["gap_at_runaway", "stress_at_runaway"]
    assert [row["key"] for row in table["requirements_over_histories"]] == ["float_speed_ratio", "minimum_gap"]


def test_a_history_that_asks_for_nothing_is_not_judged():
    found = asking(None)
    assert found.histories.findings == ()
    assert found.requirements_hold
    assert "history" not in found.headline
    assert len(details(found).duty) == 1  # it is followed all the same, where it is shown


def test_the_page_shows_one_row_for_each_and_the_annex_goes_by_the_same_run():
    found = asking(1.0, 9e-3)
    behind = details(found)
    assert behind.duty[0] is found.histories.followed["stop_and_restart"]
    names = ("gap_chart", "speed_chart", "drivers", "limits", "window", "plan", "load_rejection", "duty_1", "restart_1")
    shown = page(found, dict.fromkeys((*names, "key_map", "key_forces"), "<svg></svg>"), behind)
    annex = shown[shown.index(": Warming up, stopping and starting again</h2>") :]
    table = annex[: annex.index("</table>")]
    assert table.count("history: stop_and_restart") == 2
    assert "mean air gap" in table
    assert "float speed over running speed" in table
    one = shown[: shown.index('id="contents"')]
    verdicts = one[one.index("<h2>Claims and requirements</h2>") : one.index("</table>")]
    for row in found.histories.findings:
        line = verdicts[verdicts.index(f"{row.margin.name}, history stop_and_restart<br>") :]
        assert f">{row.verdict}</td>" in line[: line.index("</tr>")]
        assert f'<br><span class="small">{row.basis}</span>' in line[: line.index("</tr>")]
    assert found.headline.split(" (least")[0].replace("'", "&#39;") in shown[: shown.index('id="contents"')]


def test_a_history_that_cannot_be_followed_is_not_shown_with_the_reason():
    thermal = replace(CASE.thermal, air=CASE.conditions["hot"].rim_temperature + 5.0)
    found = asking(0.5, 1e-3, thermal=thermal)
    assert [row.verdict for row in found.histories.findings] == ["not shown", "not shown"]
    assert not found.requirements_hold
    rows = review_table(found)["requirements_over_histories"]
    json.dumps(rows, allow_nan=False)
    assert all(row["least"] is None and row["reason"] for row in rows)
    said = review_text(found)
    assert "nan" not in said.lower().replace("finance", "")
    assert rows[0]["reason"].split(";")[0][:40] in " ".join(said.split())


@pytest.mark.parametrize(("ratio", "code"), [("0.5", 0), ("2.0", 1)])
def test_strict_counts_a_history(ratio, code, tmp_path, monkeypatch, capsys):
    text = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
    start, end = text.index("[[records]]"), text.index("[tolerances]")
    text = text[:start] + text[end:]
    asked = text[text.index("[requirements.no_float_in_service]") : text.index("[requirements.gap_at_runaway]")]
    text = text.replace(asked, "").replace("float_speed_ratio = 1.0", f"float_speed_ratio = {ratio}")
    case = tmp_path / "unit.toml"
    case.write_text(text, encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["rimmodel", "review", "--strict", str(case)])
    ended = 0
    try:
        main()
    except SystemExit as stopped:
        ended = stopped.code or 0
    assert ended == code, capsys.readouterr()
