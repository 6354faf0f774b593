"""A folder of cases: claims and requirements alike, the worst first, faulty files with their reason."""

import csv
import html
import io
import os
import re
import shutil
from pathlib import Path

import pytest

import rimmodel as rm
from rimmodel.rotor.case.case import EXAMPLES, read_case
from rimmodel.verdict.output import page
from rimmodel.verdict.output.files import OutputError
from rimmodel.verdict.output.fleet import (
    findings_csv,
    fleet,
    fleet_csv,
    fleet_html,
)
from rimmodel.verdict.output.fleet import (
    table as fleet_table,
)
from rimmodel.verdict.output.fleet import (
    text as fleet_text,
)
from rimmodel.verdict.output.fleet import (
    write as write_fleet,
)
from rimmodel.verdict.output.fleet_findings import badness

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")


def bare(text):
    """The case without its claims and requirements."""
    kept, own = [], True
    for line in text.splitlines(keepends=True):
        own = not line.startswith(("[claims", "[requirements")) and (own or line.startswith("["))
        kept += [line] if own else []
    return "".join(kept)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("fleet")
    for file in EXAMPLES.glob("quillmere*"):
        shutil.copy(file, place / file.name)
    (place / "north").mkdir()
    wide = NEW.replace('title = "My unit"', 'title = "<b>=wide</b>"')
    (place / "north" / "wide.toml").write_text(wide, encoding="utf-8")
    (place / "north" / "thin.toml").write_text(NEW.replace('"1.8 mm"', '"1.1 mm"'), encoding="utf-8")
    (place / "broken.toml").write_text("title = 3\n", encoding="utf-8")
    open_one = NEW.replace('interference_tolerance = "0.1 mm"', 'interference_tolerance = "0.6 mm"')
    (place / "north" / "open.toml").write_text(open_one, encoding="utf-8")
    (place / "north" / "bare.toml").write_text(bare(NEW), encoding="utf-8")
    missing = f'{NEW}\n[[records]]\nfile = "missing.csv"\ncondition = "cold"\n'
    (place / "no_record.toml").write_text(missing, encoding="utf-8")
    (place / "dangling.toml").symlink_to(place / "nowhere.toml")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return fleet(folder)


def test_units_stand_worst_first_and_faults_do_not_stop_the_rest(found):
    assert [row.file for row in found.rows] == [
        "quillmere.toml", "north/thin.toml", "north/open.toml", "north/bare.toml", "north/wide.toml",
    ]  # fmt: skip
    assert [row.verdict for row in found.rows] == ["does not hold", "does not hold", "not shown", "", "holds"]
    assert found.rows[0].records == 2
    # its claim is missed by more than what its history asks for
    assert found.rows[0].decisive == "claim: float speed, cold"
    history = "requirement over history 'stop_and_restart': float speed over running speed"
    assert history in [row.decisive for row in found.findings if row.verdict == "does not hold"]
    faults = {row.file: row.fault for row in found.faulty}
    assert "title: it is 3" in faults["broken.toml"]
    assert "missing.csv" in faults["no_record.toml"]
    assert "no such file" in faults["dangling.toml"]


def test_claims_and_requirements_stand_in_one_table_and_what_is_broken_or_open_before_what_holds(found):
    rank = {"does not hold": 0, "not shown": 1, "holds": 2}
    keys = [(rank[row.verdict], 0.0 if row.margin is None else row.margin) for row in found.findings]
    assert keys == sorted(keys)
    assert {verdict for verdict, _ in keys} == {0, 1, 2}
    assert [row.role for row in found.findings if row.verdict == "does not hold"].count("claim") >= 2
    for role in ("claim", "requirement"):  # none is put apart from the others
        places = [place for place, row in enumerate(found.findings) if row.role == role]
        assert places[-1] - places[0] >= len(places)
    for row in found.rows:
        own = rm.review(read_case(found.folder / row.file))
        assert row.broken + row.not_shown + row.held == len(own.findings) + len(own.histories.findings)
        assert row.held == sum(one.verdict == "holds" for one in (*own.findings, *own.histories.findings))


def test_the_counts_of_the_fleet_are_those_of_page_one_of_each_unit(found, tmp_path):
    """Both read as HTML: the columns of the fleet, and the cells of verdicts on the page that is signed."""
    units = fleet_html(found).partition("<h2>Units</h2>")[2].partition("</table>")[0]
    heads = re.findall(r"<th[^>]*>(.*?)</th>", units)
    shown = {}
    for row in re.findall(r"<tr>(<td.*?)</tr>", units, re.DOTALL):
        cells = [html.unescape(re.sub(r"<[^>]+>", "", cell)) for cell in re.findall(r"<td.*?</td>", row, re.DOTALL)]
        shown[cells[heads.index("file")]] = [cells[heads.index(one)] for one in ("do not hold", "not shown", "hold")]
    assert set(shown) == {row.file for row in found.rows}
    for file, counts in shown.items():
        review = rm.review(read_case(found.folder / file))
        page.write(review, tmp_path / Path(file).stem)
        whole = (tmp_path / Path(file).stem / "review.html").read_text(encoding="utf-8")
        first = whole.partition('<section class="page-one">')[2].partition("</section>")[0]
        verdicts = re.findall(r'<td class="verdict [a-z]*">(.*?)</td>', first)
        assert counts == [str(verdicts.count(one)) for one in ("does not hold", "not shown", "holds")], file


def test_an_open_margin_counts_as_none_left():
    rows = [("holds", 0.2), ("holds", None), ("not shown", 0.3), ("not shown", None), ("not shown", -0.1),
            ("does not hold", -0.01), ("", None), ("does not hold", -0.4)]  # fmt: skip
    assert sorted(rows, key=lambda row: badness(*row)) == [
        ("does not hold", -0.4), ("does not hold", -0.01), ("not shown", -0.1), ("not shown", None),
        ("not shown", 0.3), ("", None), ("holds", None), ("holds", 0.2),
    ]  # fmt: skip


def test_two_workers_give_the_same_table_and_progress_counts(folder, found):
    seen = []
    again = fleet(folder, workers=2, progress=lambda done, of: seen.append((done, of)))
    assert fleet_table(again) == fleet_table(found)
    assert seen == [(number, 8) for number in range(1, 9)]


def test_csv_and_page_hold_every_file_and_escape_what_cases_say(found):
    rows = list(csv.DictReader(io.StringIO(fleet_csv(found))))
    assert [row["file"] for row in rows] == [row.file for row in (*found.rows, *found.faulty)]
    assert float(rows[0]["margin [%]"]) == pytest.approx(100 * found.rows[0].margin, abs=0.01)
    page = fleet_html(found)
    assert "&lt;b&gt;=wide&lt;/b&gt;" in page
    assert "<b>" not in page
    assert "broken.toml" in fleet_text(found)
    every = list(csv.DictReader(io.StringIO(findings_csv(found))))
    assert [(row["file"], row["verdict"], row["limit"]) for row in every] == [
        (row.file, row.verdict, row.stated) for row in found.findings
    ]
    assert (
        len(fleet_table(found)["findings"])
        == len(every)
        == page.count("<td>claim</td>") + page.count("<td>requirement</td>")
    )


def test_files_are_written_whole_and_not_over_others(found, tmp_path):
    assert [path.name for path in write_fleet(found, tmp_path)] == [
        "fleet.csv",
        "fleet_findings.csv",
        "fleet.html",
        "fleet.json",
    ]
    with pytest.raises(OutputError):
        write_fleet(found, tmp_path)


def test_a_pipe_or_a_linked_folder_is_listed_and_never_opened(tmp_path):
    (tmp_path / "good.toml").write_text(NEW, encoding="utf-8")
    os.mkfifo(tmp_path / "pipe.toml")  # opening it would wait for ever
    (tmp_path / "linked.toml").symlink_to(tmp_path / "pipe.toml")
    (tmp_path / "folder.toml").mkdir()
    found = fleet(tmp_path)
    assert [row.file for row in found.rows] == ["good.toml"]
    assert {row.file: row.fault for row in found.faulty} == dict.fromkeys(
        ["linked.toml", "pipe.toml"], "is a pipe; name the case file, stored as a file"
    )


def test_the_table_of_a_fleet_never_replaces_a_recording_even_of_a_faulty_case(tmp_path):
    (tmp_path / "bad.toml").write_text('title = 3\n[[records]]\nfile = "fleet.csv"\n', encoding="utf-8")
    (tmp_path / "fleet.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"fleet\.csv is an input of this command"):
        write_fleet(fleet(tmp_path), tmp_path, overwrite=True)
    assert (tmp_path / "fleet.csv").read_text(encoding="utf-8") == "mine"


def test_the_page_of_a_fleet_runs_nothing(found):
    assert "default-src 'none'; style-src 'unsafe-inline'" in fleet_html(found)


def test_an_empty_or_missing_folder_is_said(tmp_path):
    with pytest.raises(ValueError, match="contains no case file"):
        fleet(tmp_path)
    with pytest.raises(ValueError, match="is not a folder"):
        fleet(tmp_path / "none")
