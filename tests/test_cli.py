"""The command line as its user meets it: exit codes, where results and messages go, and every bad input in words."""

import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from rimmodel.cli.program import THREADS
from rimmodel.rotor.case.case import EXAMPLES

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
WITH_RECORD = NEW + '\n[[records]]\nfile = "run.csv"\ncondition = "cold"\nlabel = "first run"\n'


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def message(self):
        """The one message of a command that was refused: no result, no traceback, exit code 2."""
        assert self.code == 2, (self.code, self.out, self.err)
        assert self.out == ""
        assert "Traceback" not in self.err
        assert self.err.count("rimmodel: ") == 1
        return self.err


@pytest.fixture
def run(rim, monkeypatch, tmp_path):
    """Run the program in an empty directory as the shell would, exit code and both streams kept."""
    monkeypatch.chdir(tmp_path)
    return lambda *words: Ended(*rim(*words))


def run_csv(knee=200.0, highest=300.0, header="speed [rpm],gap [mm]"):
    """A chart of 20 points, 15 mm at rest, that bends at the knee (rpm); invented, without noise to speak of."""
    speed = np.linspace(20.0, highest, 20)
    gap = 15.0 - 2e-5 * speed**2 - 1.5e-5 * np.maximum(speed**2 - knee**2, 0.0)
    return header + "\n" + "".join(f"{n:.3f},{g:.4f}\n" for n, g in zip(speed, gap, strict=True))


# --------------------------------------------------------------------------------------------- what works


def test_review_of_the_built_in_case_prints_and_writes_nothing(run, tmp_path):
    done = run("review")
    assert done.code == 0
    assert "The claimed float speed of" in done.out
    assert "does not hold" in done.out
    assert done.err == ""
    assert list(tmp_path.iterdir()) == []


def test_review_writes_page_json_csv_and_figures_and_names_them_on_stderr(run, tmp_path):
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    done = run("review", "unit.toml", "--out", "out", "--json")
    assert done.code == 0
    assert json.loads(done.out) == json.loads((tmp_path / "out" / "review.json").read_text(encoding="utf-8"))
    written = {str(path.relative_to(tmp_path)) for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert {"out/review.html", "out/review.json", "out/sweep.csv", "out/figures/speed_chart.svg"} <= written
    assert all(f"wrote {path}" in done.err for path in written)


def test_existing_results_are_left_alone_without_force_and_a_second_run_works_with_it(run, tmp_path):
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    (tmp_path / "out").mkdir()
    mine = tmp_path / "out" / "sweep.csv"
    mine.write_text("mine", encoding="utf-8")
    refused = run("review", "unit.toml", "--out", "out").message
    assert "sweep.csv" in refused
    assert "--force" in refused
    assert mine.read_text(encoding="utf-8") == "mine"
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["sweep.csv"]
    assert run("review", "unit.toml", "--out", "out", "--force").code == 0
    assert mine.read_text(encoding="utf-8").startswith("condition,speed_rpm")


def test_a_new_case_is_complete_and_is_not_overwritten(run, tmp_path):
    assert run("new", "unit.toml").code == 0
    assert (tmp_path / "unit.toml").read_text(encoding="utf-8") == f"#:schema ./rimmodel.schema.json\n{NEW}"
    assert "the case is complete" in run("check", "unit.toml").out
    reviewed = run("review", "unit.toml")
    assert reviewed.code == 0
    assert "drawing alone" in reviewed.err
    (tmp_path / "unit.toml").write_text("mine", encoding="utf-8")
    assert "unit.toml already exists" in run("new", "unit.toml").message
    assert (tmp_path / "unit.toml").read_text(encoding="utf-8") == "mine"
    assert run("new", "unit.toml", "--force").code == 0


def test_the_schema_is_printed_as_json(run):
    done = run("check", "--schema")
    assert done.code == 0
    jsonschema.Draft202012Validator.check_schema(json.loads(done.out))


def test_check_tells_what_a_recording_holds(run):
    done = run("check")
    assert done.code == 0
    assert re.search(r"record proving run \(quillmere_run\.csv\):\n  \d+ of \d+ rows read; speed 20 to", done.out)


def test_sweep_json_has_the_agreed_keys_and_lengths(run):
    done = run("sweep", "--condition", "hot", "--from", 50, "--to", 250, "--points", 5, "--json")
    table = json.loads(done.out, parse_constant=lambda text: pytest.fail(f"{text} is no JSON"))
    assert table.pop("condition") == "hot"
    lift_off = table.pop("float_speed_rpm")
    # where a sweep finds the contact pressure to end
    ends = ("--from", 0.99999 * lift_off, "--to", 1.00001 * lift_off, "--points", 2)
    last, gone = json.loads(run("sweep", "--condition", "hot", *ends, "--json").out)["contact_pressure_MPa"]
    assert last > 0.0 == gone
    assert table.pop("float_note").startswith(f"lifts off at {lift_off:.1f} rpm")
    assert list(table) == [
        "speed_rpm",
        "contact_pressure_MPa",
        "residual_interference_mm",
        "rim_bore_hoop_stress_MPa",
        "rim_outer_hoop_stress_MPa",
        "spider_hoop_stress_MPa",
        "rim_outer_growth_mm",
        "air_gap_mm",
    ]
    assert table["speed_rpm"] == pytest.approx([50, 100, 150, 200, 250])
    assert all(len(values) == 5 for values in table.values())
    assert table["spider_hoop_stress_MPa"] == [None] * 5  # arms on a hub that is not described


def test_sweep_csv_holds_what_sweep_json_holds(run, tmp_path):
    table = json.loads(run("sweep", "--points", 4, "--json").out)
    done = run("sweep", "--points", 4, "--csv", "sweep.csv")
    assert (done.code, done.out) == (0, "")
    lines = (tmp_path / "sweep.csv").read_text(encoding="utf-8").splitlines()
    names = lines[0].split(",")
    assert len(lines) == 5
    for line, *values in zip(lines[1:], *(table[name] for name in names), strict=True):
        for cell, value in zip(line.split(","), values, strict=True):
            assert (cell == "") if value is None else float(cell) == pytest.approx(value, rel=1e-8, abs=1e-12)
    assert min(table["residual_interference_mm"]) < 0  # a minus sign is no formula: no apostrophe before it


def test_by_default_a_sweep_has_101_points_from_standstill_to_the_highest_speed_in_the_first_condition(run):
    table = json.loads(run("sweep", "--json").out)
    assert table["condition"] == "cold"
    assert (table["speed_rpm"][0], len(table["speed_rpm"])) == (0.0, 101)
    assert table["speed_rpm"][-1] == pytest.approx(250.0)  # 2 x 125 rpm


def test_a_recording_of_ones_own_replaces_those_of_the_case(run, tmp_path):
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    (tmp_path / "run.csv").write_text(run_csv(knee=200.0), encoding="utf-8")
    done = run("review", "unit.toml", "--record", "run.csv", "--condition", "cold")
    assert done.code == 0
    assert "lifts off at 200" in done.out
    assert "In 'run' (cold)" in done.out


@pytest.mark.parametrize("mark", [";", "\t"])
def test_a_decimal_comma_changes_nothing(run, tmp_path, mark):
    (tmp_path / "unit.toml").write_text(WITH_RECORD, encoding="utf-8")
    (tmp_path / "run.csv").write_text(run_csv(), encoding="utf-8")
    plain = run("check", "unit.toml")
    text = "\ufeff" + run_csv().replace(",", mark).replace(".", ",")
    (tmp_path / "run.csv").write_text(text, encoding="utf-8")
    assert run("check", "unit.toml") == plain
    # by the formula of run_csv: 15 - 2e-5 x 300^2 - 1.5e-5 (300^2 - 200^2) = 12.45, and 15 - 2e-5 x 20^2 = 14.992
    assert "speed 20 to 300 rpm, gap 12.45 to 14.99 mm" in plain.out


@pytest.mark.parametrize(
    ("at_least", "code"),
    [
        ("1.1 x rated", 0),  # floats hot at 1.33 x rated
        ("1.9 x rated", 1),  # does not hold
        ("1.33 x rated", 1),  # astride: not shown
    ],
)
def test_strict_ends_with_one_when_a_requirement_is_not_shown_to_hold(run, tmp_path, at_least, code):
    text = NEW.replace('at_least = "1.1 x rated"', f'at_least = "{at_least}"')
    (tmp_path / "unit.toml").write_text(text, encoding="utf-8")
    assert run("review", "unit.toml").code == 0
    strict = run("review", "unit.toml", "--strict")
    assert strict.code == code
    assert "The claimed float speed" in strict.out


# --------------------------------------------------------------------------------- what is refused, in words


@pytest.mark.parametrize("command", ["review", "sweep", "check"])
@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda path: None, "no such file"),
        (lambda path: path.mkdir(), "directory"),
        (lambda path: path.write_bytes(b""), "is empty"),
        (lambda path: path.write_bytes(bytes(range(256))), "binary"),
        (lambda path: path.write_text("[rim", encoding="utf-8"), "not valid TOML"),
        (lambda path: path.write_text(NEW.replace('"3 m"', '"-3 m"'), encoding="utf-8"), "rim.inner_radius is '-3 m'"),
        (lambda path: path.write_text(NEW.replace("stacking", "stakcing"), encoding="utf-8"), "'stacking_factor'?"),
    ],
)
def test_a_bad_case_file_is_refused(run, tmp_path, command, make, words):
    make(tmp_path / "unit.toml")
    message = run(command, "unit.toml").message
    assert message.startswith("rimmodel: unit.toml: ")
    assert words in message


def test_check_lists_six_different_faults_at_once(run, tmp_path):
    text = NEW
    for old, new in (
        ("count = 40", "count = 0"),
        ('outer_radius = "3.4 m"', 'outer_radius = "2.9 m"'),
        ("minimum_allowed", "minimum_alowed"),
        ('interference_tolerance = "0.1 mm"', 'interference_tolerance = "0.1"'),
        ('rated = "150 rpm"', 'rated = "-150 rpm"'),
        ('condition = "hot"', 'condition = "hott"'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    (tmp_path / "unit.toml").write_text(text, encoding="utf-8")
    lines = run("check", "unit.toml").message.splitlines()
    assert lines[0] == "rimmodel: unit.toml: 6 faults"
    assert len(lines) == 7


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, ["run.csv: no such file"]),
        ("", ["run.csv is empty"]),
        (b"\x00\x01\x02", ["run.csv is a binary file"]),
        (run_csv().replace(",", "!"), ["run.csv, line 1", "'speed [rpm]!gap [mm]'", "no comma, semicolon or tab"]),
        (run_csv(header="speed [rpm];gap [mm]"), ["run.csv"]),
        (run_csv(header="speed [rpm],gapp [mm]"), ["run.csv: column gap is missing", "'gapp [mm]' meant?"]),
        (run_csv(header="speed,gap [mm]"), ["run.csv: column 'speed' has no unit", "'speed [rpm]'"]),
        (run_csv(header="speed [rpm],gap [kg]"), ["run.csv: column 'gap [kg]'", "does not measure"]),
        (run_csv(header="speed [Hz],gap [mm]"), ["run.csv: column 'speed [Hz]'", "'rpm' or 'rad/s'"]),
        (run_csv() + "300.0,wide\n", ["run.csv, line 22, column 'gap [mm]'", "'wide' is not a number"]),
        (run_csv().replace("20.000,", "-20.000,", 1), ["run.csv, line 2: speed is negative (-20 rpm)"]),
        ("speed [rpm],gap [mm]\n" + "100,15\n" * 9, ["run.csv", "at one speed, 100 rpm"]),
        ("speed [rpm],gap [mm]\n100,15\n200,14.6\n", ["run.csv: only 2 speed points", "at least 5"]),
        ("speed [rpm],gap [mm]\n10,nan\n20,nan\n", ["run.csv has no usable row", "not a finite number in 2 rows"]),
        ("speed [rpm],gap [mm]\ninf,15\n20,inf\n", ["run.csv has no usable row"]),
        (run_csv(header="speed [rpm],gap [cm]"), ["run.csv, line 2: gap is larger than 22.5 mm (149.92 mm)"]),
    ],
)
def test_a_bad_recording_is_refused(run, tmp_path, content, words):
    if content is not None:
        (tmp_path / "run.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
    (tmp_path / "unit.toml").write_text(WITH_RECORD, encoding="utf-8")
    for message in (
        run("review", "unit.toml", "--out", "out").message,
        run("check", "unit.toml").message,
    ):
        assert all(some in message for some in words), message
    assert not (tmp_path / "out").exists()


def test_a_directory_is_no_recording(run):
    assert "is a directory" in run("review", "--record", ".").message


def test_check_lists_the_faults_of_all_recordings(run, tmp_path):
    more = WITH_RECORD + '\n[[records]]\nfile = "second.csv"\ncondition = "cold"\n'
    (tmp_path / "unit.toml").write_text(more, encoding="utf-8")
    message = run("check", "unit.toml").message
    assert "2 faults" in message
    assert "run.csv: no such file" in message
    assert "second.csv: no such file" in message


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["review", "--condition", "hot"], "give the recording too"),
        (["review", "--record", "a.csv", "--condition", "hot", "--condition", "cold"], "1 --record and 2 --condition"),
        (["review", "--record", "a.csv", "--condition", "colt"], "did you mean 'cold'"),
        (["review", "--out", ""], "--out is given without a name"),
        (["sweep", "--condition", "colt"], "did you mean 'cold'"),
        (["sweep", "--csv", ""], "--csv is given without a name"),
        (["sweep", "--from", "-5"], "--from is -5 rpm"),
        (["sweep", "--to", "nan"], "--to is nan rpm"),
        (["sweep", "--to", "inf"], "--to is inf rpm"),
        (["sweep", "--to", "1e200"], "--to is 1e+200 rpm"),
        (["sweep", "--from", "100", "--to", "50"], "below --from 100 rpm"),
        (["sweep", "--points", "0"], "--points is 0"),
        (["sweep", "--points", "10000000"], "--points is 10000000"),
        (["check", ""], "directory"),
        (["new", "."], "directory"),
    ],
)
def test_a_bad_option_is_refused(run, tmp_path, arguments, words):
    (tmp_path / "a.csv").write_text(run_csv(), encoding="utf-8")
    assert words in run(*arguments).message
    assert [path.name for path in tmp_path.iterdir()] == ["a.csv"]


@pytest.mark.parametrize("arguments", [["review", "--frobnicate"], ["frobnicate"], ["sweep", "--points", "many"]])
def test_an_unknown_command_or_option_ends_with_two(run, arguments):
    done = run(*arguments)
    assert (done.code, done.out) == (2, "")
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    "arguments", [["review", "unit.toml", "--out"], ["sweep", "--csv"], ["new"]], ids=lambda arguments: arguments[0]
)
@pytest.mark.parametrize("force", [[], ["--force"]])
def test_a_place_below_a_plain_file_cannot_be_written(run, tmp_path, arguments, force):
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    (tmp_path / "plain").write_text("mine", encoding="utf-8")
    message = run(*arguments, "plain/below", *force).message
    assert "cannot write plain/below" in message
    assert (tmp_path / "plain").read_text(encoding="utf-8") == "mine"
    assert {path.name for path in tmp_path.iterdir()} == {"plain", "unit.toml"}


def test_a_directory_or_a_device_is_never_replaced(run, tmp_path):
    (tmp_path / "folder").mkdir()
    for place in ("folder", "/dev/null"):
        assert "is a directory or a device" in run("sweep", "--csv", place, "--force").message
    assert Path("/dev/null").is_char_device()
    assert (tmp_path / "folder").is_dir()


# --------------------------------------------------------------------------------------- the program itself


def fresh(*command):
    return subprocess.run([sys.executable, *command], capture_output=True, text=True, check=False, timeout=60)


def test_importing_loads_nothing_heavy():
    code = "import sys, rimmodel; print(*{'matplotlib', 'polars', 'sympy', 'pint', 'pandas'} & set(sys.modules))"
    done = fresh("-c", code)
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, "", "")


def test_help_loads_nothing_heavy_and_ends_with_zero():
    code = (
        "import sys\nfrom rimmodel.cli import main\nsys.argv = ['rimmodel', '--help']\ntry:\n    main()\n"
        "finally:\n"
        "    heavy = {'matplotlib', 'polars', 'sympy', 'pint', 'scipy.optimize', 'scipy.stats', 'pydantic'}\n"
        "    print('loaded:', *heavy & set(sys.modules))\n"
    )
    done = fresh("-c", code)
    assert done.returncode == 0
    assert done.stdout.rstrip().endswith("loaded:")
    assert all(command in done.stdout for command in ("review", "sweep", "check", "new"))


def test_as_a_module_a_bad_case_ends_with_two_and_one_message():
    done = fresh("-m", "rimmodel.cli", "check", "none.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "rimmodel: none.toml: 1 fault\n  there is no such file\n"


def test_results_that_cannot_be_printed_are_an_error_and_no_traceback():
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "rimmodel.cli", "sweep", "--points", "3"],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False, timeout=60,
        )  # fmt: skip
    assert done.returncode != 0
    assert "No space left" in done.stderr
    assert "Traceback" not in done.stderr


THREADS_OF_A_COMMAND = """
import json, sys
import rimmodel, scipy.linalg, threadpoolctl
from rimmodel.cli.program import main
sys.argv = ["rimmodel", "check"]
main()
print(json.dumps([one["num_threads"] for one in threadpoolctl.threadpool_info()]), file=sys.stderr)
"""


@pytest.mark.parametrize("stated", [None, "2"])
def test_a_command_keeps_linear_algebra_to_one_thread_unless_the_user_states_how_many(stated):
    environment = {key: value for key, value in os.environ.items() if key not in THREADS}
    environment |= {"OMP_NUM_THREADS": stated} if stated else {}
    command = [sys.executable, "-c", THREADS_OF_A_COMMAND]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=True, timeout=120)
    found = json.loads(done.stderr.splitlines()[-1])
    assert found
    # a machine of one processor has one thread whatever is stated
    assert set(found) == {min(int(stated or 1), os.cpu_count() or 1)}
