"""Every outside number of validation/, each under the marker of where it comes from; and the runner that tells them."""

import doctest
import json
import re
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from rimmodel.elastic import Ring
from tests.once import once
from validation import __main__ as runner
from validation import check as check_module
from validation import collect
from validation.check import Check, Group, Provenance
from validation.collect import SLOW_ENDING, LibraryMissingError, checks_of, group_names
from validation.compound import interface_pressures, states
from validation.figure import LEAST, differences_figure
from validation.front_page import BEGIN, END, group_table, replaced
from validation.report import VIRTUAL_RUNS, Results, as_markdown, print_table
from validation.shooting import Layer, shoot

MARKERS = {
    Provenance.SEEN_IN_PRINT: pytest.mark.published,
    Provenance.FROM_MEMORY: pytest.mark.recalled,
    Provenance.COMMON_PRACTICE: pytest.mark.recalled,
    Provenance.DERIVED: pytest.mark.derived,
    Provenance.INDEPENDENT_METHOD: pytest.mark.independent,
}
SLOW = [name for name in group_names() if name.endswith((SLOW_ENDING, "_calculix"))]
"""Files that compute while they list their checks: each runs in one test, not while tests are collected."""
QUICK = {name: checks_of(name) for name in group_names() if name not in SLOW}


@pytest.mark.parametrize(
    ("name", "check"),
    [
        pytest.param(name, check, id=check.id, marks=MARKERS[check.provenance])
        for name, checks in QUICK.items()
        for check in checks
    ],
)
def test_number(name, check):
    outcome = next(row for row in dossier(name).outcomes if row.check.id == check.id)
    assert outcome.holds, (
        f"{check.what}: {check.printed} {check.unit} in {check.source}, ours {outcome.ours:.9g}, "
        f"{outcome.difference:+.2e} where {check.allowed:.1e} is allowed ({check.reason}) {outcome.error}"
    )


def dossier(name):
    """What running one file gives; once in a run."""
    return once(f"checks of {name}", lambda: _dossier(name))


def _dossier(name):
    found = Results({name: [check.run() for check in QUICK[name]]}) if name in QUICK else runner.run([name])
    rows = {heading: [_stored(outcome) for outcome in outcomes] for heading, outcomes in found.files.items()}
    return replace(found, files=rows)


def _stored(outcome):
    """The same with the number that was computed in place of the computation, which another process cannot read."""
    return replace(outcome, check=replace(outcome.check, ours=partial(float, outcome.ours)))


@pytest.mark.long
@pytest.mark.independent
@pytest.mark.parametrize("name", SLOW)
def test_a_file_that_computes_while_it_lists(name):
    results = dossier(name)
    if results.left_out:
        pytest.skip(results.left_out[0])
    assert results.outcomes
    for row in results.outcomes:
        says_where_it_comes_from(row.check)
    assert results.hold, results.summary()


def says_where_it_comes_from(check):
    assert check.what
    assert len(check.source) > 3
    assert len(check.reason) > 3
    assert check.allowed > 0


def test_every_check_has_its_own_name_and_says_where_it_comes_from():
    every = [check for checks in QUICK.values() for check in checks]
    names = [check.id for check in every]
    assert len(set(names)) == len(names) >= 60
    for check in every:
        says_where_it_comes_from(check)


def a_check(printed="65.3", ours=lambda: 65.33, **fields):
    return Check("X-1", "stress", "a book | p. 3 [sic]", printed, "MPa", ours, Provenance.SEEN_IN_PRINT, **fields)


@pytest.mark.parametrize(
    ("printed", "half_unit"),
    [
        ("65.312", 0.0005),
        ("212", 0.5),
        ("5.26e-5", 0.005e-5),
        ("-126.9543", 0.00005),
        ("0.045", 0.0005),
        ("25.0", 0.05),
    ],
)
def test_printed_digits_set_the_tolerance(printed, half_unit):
    check = a_check(printed)
    assert check.allowed * abs(check.number) == pytest.approx(half_unit, rel=1e-12)
    for sign in (-1, 1):
        assert a_check(printed, lambda sign=sign: check.number + sign * 0.99 * half_unit).run().holds
        assert not a_check(printed, lambda sign=sign: check.number + sign * 1.01 * half_unit).run().holds


def test_the_worked_example_of_the_tolerance():
    assert doctest.testmod(check_module).failed == 0
    assert doctest.testmod(check_module).attempted > 0


def test_a_failing_computation_is_a_miss_with_its_reason():
    def broken():
        raise ZeroDivisionError("no depth")

    outcome = a_check(ours=broken).run()
    assert not outcome.holds
    assert outcome.error == "ZeroDivisionError: no depth"
    assert not a_check(ours=lambda: np.nan).run().holds


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"printed": 65.3}, "no printed digits"),
        ({"printed": 65.3, "tolerance": 1e-3}, "go together"),
        ({"reason": "because"}, "go together"),
        ({"printed": "0", "tolerance": 1e-3, "reason": "because"}, "scale"),
    ],
)
def test_incomplete_checks_are_refused(fields, message):
    with pytest.raises(ValueError, match=message):
        a_check(**fields)


def test_a_zero_is_judged_on_the_scale_that_is_given():
    check = a_check("0", lambda: 0.2, scale=100.0, tolerance=1e-2, reason="because")
    assert check.run().difference == 0.002
    assert check.run().holds


@dataclass(frozen=True)
class Row:
    what: str = "amplitude"
    source: str = "finite elements"
    ours: float = 1.0
    other: float = 1.1
    relative_difference: float = 0.01
    tolerance: float = 0.02
    reason: str = "the mesh"
    provenance: str = "independent"


class Module:
    def checks(self):
        return [Row(), Row(relative_difference=0.03), Row(ours=1.1, relative_difference=0.0)]


def test_plain_rows_are_judged_as_they_judge_themselves(monkeypatch):
    monkeypatch.setattr(collect.importlib, "import_module", lambda name: Module())
    outcomes = [check.run() for check in checks_of("rings_finite_elements")]
    assert [outcome.holds for outcome in outcomes] == [True, False, True]
    assert [abs(outcome.difference) for outcome in outcomes] == pytest.approx([0.01, 0.03, 0.0])
    assert [outcome.check.id for outcome in outcomes] == ["rings-1", "rings-2", "rings-3"]


@pytest.mark.parametrize(("library", "error"), [("skfem", LibraryMissingError), ("rimmodel.no", ModuleNotFoundError)])
def test_only_a_foreign_library_may_be_missing(monkeypatch, library, error):
    def missing(name):
        raise ModuleNotFoundError(f"No module named {library!r}", name=library)

    monkeypatch.setattr(collect.importlib, "import_module", missing)
    with pytest.raises(error):
        checks_of("rings_finite_elements")


def test_each_number_stands_in_the_group_of_what_it_is_held_against():
    groups = {name: {check.group for check in checks} for name, checks in QUICK.items()}
    assert groups["shigley"] == {Group.BOOKS}
    assert groups["stagnant_band"] == {Group.OPEN_DATA}
    assert groups["general_libraries"] == {Group.LIBRARIES}
    assert groups["nafems_r0031_2"] == {Group.BOOKS, Group.LIBRARIES}  # targets, and the same by integration
    assert {row.check.group for row in dossier("keys_finite_elements").outcomes} == {Group.FINITE_ELEMENTS}
    counts = Results({name: dossier(name).outcomes for name in QUICK}).groups
    assert len(counts[Group.BOOKS]) >= 60


def test_the_table_on_the_front_page_is_the_one_that_is_computed():
    page = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    standing = page.partition(BEGIN)[2].partition(END)[0].strip().splitlines()
    results = Results({name: dossier(name).outcomes for name in group_names()})
    left_out = {name for name in SLOW if dossier(name).left_out}
    without = {str(Group.FINITE_ELEMENTS if name.endswith(SLOW_ENDING) else Group.LIBRARIES) for name in left_out}
    computed = group_table(results.groups).strip().splitlines()
    assert len(standing) == len(computed)
    for line, ours in zip(standing, computed, strict=True):
        if any(group in ours for group in without):
            continue  # a table written where every program is installed counts more numbers
        size = re.compile(r"\d(?:\.\d)?e-\d\d|round-off")
        assert size.sub("#", line) == size.sub("#", ours)
        for one, other in zip(size.findall(line), size.findall(ours), strict=True):
            if one != other:  # the last digit may round over
                step = max(10.0 ** int(size.partition("e")[2]) * 10.0 ** -len(size.partition("e")[0].partition(".")[2])
                           for size in (one, other))  # fmt: skip
                assert abs(float(one) - float(other)) <= 1.001 * step


def test_the_table_goes_between_its_marks(tmp_path, one_file, capsys):
    page = tmp_path / "page.md"
    page.write_text(f"before\n{BEGIN}\nold\n{END}\nafter\n", encoding="utf-8")
    one_file(a_check())
    assert runner.main(["--readme", str(page)]) == 0
    lines = page.read_text(encoding="utf-8").splitlines()
    assert [lines[0], lines[1], *lines[-2:]] == ["before", BEGIN, END, "after"]
    assert "old" not in lines
    assert lines[2].startswith("| held against")
    page.write_text("no marks", encoding="utf-8")
    assert runner.main(["--readme", str(page)]) == 2
    assert "cannot put the table" in capsys.readouterr().err
    assert page.read_text(encoding="utf-8") == "no marks"
    with pytest.raises(ValueError, match="between which the table goes"):
        replaced(f"{END} {BEGIN}", "")


def test_the_figure_shows_every_number_and_marks_a_miss():
    rows = [a_check().run(), a_check(ours=lambda: 65.3).run(), a_check(ours=lambda: 70.0).run()]
    other = replace(a_check(ours=lambda: 66.0), group=Group.OPEN_DATA).run()
    (axes,) = differences_figure({Group.BOOKS: rows, Group.OPEN_DATA: [other]}).axes
    drawn = [line.get_xdata() for line in axes.lines if line.get_marker() in ("o", "s") and len(line.get_xdata())]
    assert drawn[0] == pytest.approx([LEAST, 0.03 / 65.3, 4.7 / 65.3])
    assert drawn[1] == pytest.approx([0.7 / 65.3])
    missed = [line.get_xdata() for line in axes.lines if line.get_marker() == "x"]
    assert [len(some) for some in missed] == [1, 1]
    assert axes.get_xscale() == "log"


@pytest.fixture
def one_file(monkeypatch):
    """Let the runner see one file with the given checks."""

    def show(*checks):
        monkeypatch.setattr(runner, "group_names", lambda wanted=(): ["one"])
        monkeypatch.setattr(runner, "checks_of", lambda name: checks)
        monkeypatch.setattr(runner, "title", lambda name: "One book")

    return show


def test_exit_code_and_files(one_file, tmp_path, capsys):
    one_file(a_check(note="a misprint"))
    assert runner.main(["--out", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    assert "1 checks (1 seen in print): all hold" in printed
    assert "a book | p. 3 [sic]" in printed
    record = json.loads((tmp_path / "validation.json").read_text())
    (row,) = record["checks"]
    assert row["printed"] == "65.3"
    assert row["ours"] == 65.33
    assert row["relative_difference"] == pytest.approx(0.03 / 65.3)
    assert row["provenance"] == "seen in print"
    assert row["note"] == "a misprint"
    table = (tmp_path / "validation.md").read_text()
    assert r"a book \| p. 3 [sic]" in table
    assert "| textbooks, handbooks and standards | 1 | 1 seen in print | 5e-04 | 5e-04 | stress (X-1)" in table
    assert (tmp_path / "validation.svg").read_text().rstrip().endswith("</svg>")
    names = ["validation.json", "validation.md", "validation.svg"]
    assert sorted(path.name for path in tmp_path.iterdir()) == names


def test_without_out_nothing_is_written(one_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    one_file(a_check())
    assert runner.main([]) == 0
    assert not list(tmp_path.iterdir())


def test_a_miss_or_a_broken_file_is_exit_code_one(one_file, monkeypatch, capsys):
    one_file(a_check(ours=lambda: 65.36))
    assert runner.main([]) == 1
    assert "MISSED: X-1" in capsys.readouterr().out

    def broken(name):
        raise RuntimeError("singular matrix")

    monkeypatch.setattr(runner, "checks_of", broken)
    assert runner.main([]) == 1
    assert "singular matrix" in capsys.readouterr().out


def test_a_missing_library_is_told_and_is_no_miss(one_file, monkeypatch, capsys):
    one_file()

    def missing(name):
        raise LibraryMissingError("one: left out, because skfem is not installed")

    monkeypatch.setattr(runner, "checks_of", missing)
    assert runner.main([]) == 0
    assert "left out, because skfem" in capsys.readouterr().out


def test_existing_tables_need_force(one_file, tmp_path, capsys):
    one_file(a_check())
    (tmp_path / "validation.json").write_text("kept")
    assert runner.main(["--out", str(tmp_path)]) == 2
    assert "give --force" in capsys.readouterr().err
    assert (tmp_path / "validation.json").read_text() == "kept"
    assert runner.main(["--out", str(tmp_path), "--force"]) == 0
    assert "65.33" in (tmp_path / "validation.json").read_text()


def test_an_unwritable_place_is_refused_in_words(one_file, tmp_path, capsys):
    one_file(a_check())
    (tmp_path / "file").write_text("")
    assert runner.main(["--out", str(tmp_path / "file" / "below")]) == 2
    message = capsys.readouterr().err
    assert "cannot write to" in message
    assert "Traceback" not in message


def test_an_unknown_file_is_refused_with_the_known_ones(capsys):
    assert runner.main(["nothing-like-it"]) == 2
    assert "timoshenko_goodier" in capsys.readouterr().err


def test_stack_of_slices_is_the_whole_ring():
    radii = np.linspace(1.0, 2.0, 6)
    slices = Ring(radii[:-1], radii[1:], 206e9, 0.3, 7850.0, 0.8, 12e-6)
    whole = Ring(1.0, 2.0, 206e9, 0.3, 7850.0, 0.8, 12e-6)
    rise = (20 + 30 * (radii[:-1] - 1), 20 + 30 * (radii[1:] - 1))
    pressures = interface_pressures(slices, 0.0, 40.0, 5e6, 7e6, rise)
    cut = states(slices, radii[1:], pressures, 40.0, rise)
    direct = whole.state(radii[1:], 40.0, 5e6, 7e6, (20.0, 50.0))
    np.testing.assert_allclose(cut.hoop_stress, direct.hoop_stress, rtol=1e-11)
    np.testing.assert_allclose(cut.radial_displacement, direct.radial_displacement, rtol=1e-11)
    np.testing.assert_allclose(-pressures[1:], direct.radial_stress, rtol=1e-10)


@pytest.mark.derived
def test_the_integration_reproduces_the_closed_form_of_a_tube():
    # Lame: (b^2 + a^2)/(b^2 - a^2) = 5/3 at the bore, 2/3 outside
    hoop = shoot([Layer(1.0, 2.0, 200e9, 200e9, 0.3)], inner_pressure=3e6).hoop_stress
    np.testing.assert_allclose(hoop, [[5e6, 2e6]], rtol=1e-10)


def test_table_of_a_broken_row(capsys):
    from rich.console import Console

    outcome = a_check(ours=lambda: 1 / 0).run()
    results = Results({"One book": [outcome]})
    differences_figure(results.groups)
    print_table(results, Console(width=150))
    assert "ZeroDivisionError" in capsys.readouterr().out
    assert "ZeroDivisionError" in as_markdown(results)


def test_the_dossier_holds_the_tables_of_virtual_runs() -> None:
    page = as_markdown(Results({}))
    tables = sorted(VIRTUAL_RUNS.glob("*_table.txt"))
    assert {"knee_rivals_table.txt", "noise_calibration_table.txt"} <= {path.name for path in tables}
    for path in tables:
        text = path.read_text(encoding="utf-8")
        assert text in page
        assert text.startswith("python -m tests.benchmarks.")
