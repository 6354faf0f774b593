"""Which interference numbers stand for, what they leave out, and what could not be checked, said beside them."""

import json
import re
from html import unescape

import pytest

from rimmodel.rotor.case.case import EXAMPLES, read_case
from rimmodel.verdict import review
from rimmodel.verdict.output.basis import ALONG, MEAN_ALONG, along_note

UNIT = EXAMPLES / "quillmere.toml"
AXIAL = '\n[axial]\ninterference_taper = "0.4 mm"\n'
OF_KEYS = """
[requirements.first_key]
quantity = "first_key_speed"
condition = "hot"
at_least = "1.15 x rated"
"""


@pytest.fixture(scope="module")
def tapered(tmp_path_factory):
    path = tmp_path_factory.mktemp("basis") / "tapered.toml"
    text = UNIT.read_text(encoding="utf-8").replace('file = "', f'file = "{EXAMPLES}/')
    path.write_text(text + AXIAL + OF_KEYS, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def uneven(tmp_path_factory):
    """The built-in case with a taper along the rim, and nothing that it lacks."""
    path = tmp_path_factory.mktemp("basis") / "uneven.toml"
    path.write_text(UNIT.read_text(encoding="utf-8").replace('file = "', f'file = "{EXAMPLES}/') + AXIAL, "utf-8")
    return path


def test_keys_name_the_interference_and_what_they_leave_out(tapered, rim):
    code, out, err = rim("keys", tapered)
    assert code == 0, err
    text = " ".join(out.split())
    assert "interference: 2.10 mm, as the case states it (fit.interference)" in text
    assert "'rimmodel fit'" in text
    assert "[axial]" in text
    table = json.loads(rim("keys", tapered, "--json")[1])
    assert table["interference_mm"] == pytest.approx(2.1)
    assert table["interference_basis"] == "stated in the case"
    assert any("[axial]" in note for note in table["notes"])
    plain = " ".join(rim("keys", UNIT)[1].split())
    assert "[axial]" not in plain


@pytest.mark.parametrize(("command", "sentence"), [("shims", ALONG), ("duty", MEAN_ALONG), ("fit", MEAN_ALONG)])
def test_what_knows_the_mean_along_the_rim_alone_says_so_by_one_sentence(uneven, rim, command, sentence):
    code, out, err = rim(command, uneven)
    assert code == 0, err
    assert sentence[1:] in " ".join(out.split())
    assert json.loads(rim(command, uneven, "--json")[1])["along_the_rim_note"] == sentence


def test_nothing_is_said_of_the_length_of_a_rim_that_is_even_along_it(uneven):
    even, tapered = read_case(UNIT), read_case(uneven)
    assert along_note(even) == along_note(even, *even.conditions.values()) == ""
    assert (along_note(tapered), along_note(tapered, *tapered.conditions.values())) == (MEAN_ALONG, ALONG)


def test_the_shim_sheet_to_sign_and_the_file_of_a_fit_say_so_too(uneven, rim, tmp_path):
    for command in ("fit", "shims"):
        code, _, err = rim(command, uneven, "--out", tmp_path / command)
        assert code == 0, err
    assert json.loads((tmp_path / "fit" / "fit.json").read_text(encoding="utf-8"))["along_the_rim_note"] == MEAN_ALONG
    assert ALONG in unescape((tmp_path / "shims" / "shims.html").read_text(encoding="utf-8"))


def test_a_study_names_the_interference(rim):
    code, out, err = rim("study", UNIT, "--samples", "64")
    assert code == 0, err
    assert "interference: 2.10 mm, as the case states it (fit.interference)" in " ".join(out.split())
    table = json.loads(rim("study", UNIT, "--samples", "64", "--json")[1])
    assert (table["interference_mm"], table["interference_basis"]) == (pytest.approx(2.1), "stated in the case")


def test_a_study_is_of_the_machine_as_drawn_and_names_what_a_measured_run_says_otherwise(rim, tmp_path):
    code, out, err = rim("study", UNIT, "--samples", "64", "--out", tmp_path / "study.json")
    assert code == 0, err
    text = " ".join(out.split())
    assert "of the machine as drawn: rotors sampled from the tolerances of the case" in text
    table = json.loads((tmp_path / "study.json").read_text(encoding="utf-8"))
    assert table["of"] == "the machine as drawn"
    rows = {row["name"]: row for row in table["chances"]}
    for finding in review(read_case(UNIT)).findings:
        row = rows[finding.name if finding.role == "requirement" else f"claim: {finding.quantity}"]
        assert (row["by_run"], row["run"]) == (finding.verdict, finding.measured_how)
        assert re.search(rf"{row['name']} (all|[0-9.]+ %) [0-9. to]+ % {finding.verdict}", text)
    assert rows["no_float_in_service"]["probability"] == 1.0
    assert "by them no_float_in_service is not shown (the machine fitted to 'after correction'); claim: float" in text
    assert table["by_run_note"] in text


def test_a_study_of_a_case_without_recordings_names_no_run(rim, tmp_path):
    text = UNIT.read_text(encoding="utf-8")
    bare = tmp_path / "bare.toml"
    bare.write_text(text[: text.index("[[records]]")] + text[text.index("[tolerances]") :], encoding="utf-8")
    code, out, err = rim("study", bare, "--samples", "64")
    assert (code, err) == (0, "")
    assert "measured run" not in out
    lost = tmp_path / "lost.toml"
    lost.write_text(text, encoding="utf-8")  # its recordings are not there
    code, out, err = rim("study", lost, "--samples", "64")
    assert (code, err) == (0, "")
    assert "what the recordings of the case show is not set beside the shares" in out
    assert "quillmere_run.csv" in out
    assert "by the measured run" not in out


def test_friction_that_holds_the_whole_fit_is_refused(rim):
    code, _, err = rim("keys", UNIT, "--friction", "2.1")
    assert code == 2
    assert "--friction is 2.1 mm" in err
    code, out, _ = rim("keys", UNIT, "--friction", "0.1")
    assert code == 0
    assert "0 mm, 0.05 mm, 0.1 mm" in " ".join(out.split())


def test_what_lacks_an_input_is_not_checked_and_no_shim_is_blamed(tapered, rim):
    code, out, err = rim("window", tapered)
    assert code == 0, err
    text = " ".join(out.split())
    assert "No shim corrects" not in text
    assert "Not checked: first_key (hot); missing input: fit.key_interference_tolerance" in text
    table = json.loads(rim("window", tapered, "--json")[1])
    (edge,) = [row for row in table["edges"] if row["name"] == "first_key"]
    assert not edge["kept_nowhere"]
    assert edge["missing_input"] == "fit.key_interference_tolerance"
    assert not table["exists"]
    assert read_case(tapered).rotor.fit.key_interference is not None


def test_a_shim_sheet_fits_the_terminal(rim):
    code, out, err = rim("shims", UNIT)
    assert code == 0, err
    assert max(map(len, out.splitlines())) <= 100
