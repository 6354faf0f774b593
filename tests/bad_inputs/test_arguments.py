"""Every bad command line ends with one message, exit code 2 and all files as they were."""

import os
import shlex
import signal
import subprocess
import sys
import time
from concurrent.futures.process import BrokenProcessPool

import pytest

from rimmodel.cli import main
from rimmodel.cli.program import TRACE
from tests.bad_inputs.arguments import BAD_COMMANDS, good

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pipes, links and signals of this kind are POSIX")

RIMMODEL = [sys.executable, "-m", "rimmodel.cli"]


def ended(monkeypatch, capsys, line):
    """Exit code and both streams of a command that runs in this process."""
    monkeypatch.setattr(sys, "argv", ["rimmodel", *shlex.split(line)])
    code = 0
    try:
        main()
    except SystemExit as end:
        code = end.code or 0
    streams = capsys.readouterr()
    return code, streams.out, streams.err


def contents(folder):
    return {
        path.relative_to(folder): path.read_bytes() if path.is_file() else None for path in sorted(folder.rglob("*"))
    }


@pytest.mark.parametrize("bad", BAD_COMMANDS, ids=lambda bad: bad.line[:60])
def test_a_bad_command_line_is_refused_in_one_message_and_nothing_is_lost(monkeypatch, capsys, tmp_path, bad):
    bad.setup(tmp_path)
    monkeypatch.chdir(tmp_path)
    before, start = contents(tmp_path), time.process_time()
    code, out, err = ended(monkeypatch, capsys, bad.line)
    assert (code, out) == (2, "")
    assert err.count("rimmodel: ") == 1
    assert all(word in err for word in bad.words), err
    assert not any(word in err for word in ("Traceback", "internal error", "Input should be"))
    assert contents(tmp_path) == before
    assert time.process_time() - start < 5.0


def test_there_are_enough_of_them_and_each_is_another():
    assert len({(bad.line, bad.setup) for bad in BAD_COMMANDS}) == len(BAD_COMMANDS) >= 90


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (MemoryError(), 2, "not enough memory"),
        (RecursionError("maximum recursion depth exceeded"), 2, "nested too deeply"),
        (BrokenProcessPool("a child went"), 2, "a worker process ended before its work was done"),
        (KeyboardInterrupt(), 130, ""),
        (BrokenPipeError(), 141, ""),
        (KeyError("float_sped"), 3, "internal error: KeyError: 'float_sped'; please report this"),
        (ZeroDivisionError("division by zero"), 3, "internal error: ZeroDivisionError: division by zero"),
        (TypeError("two\nlines"), 3, "internal error: TypeError: two lines"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_nobody_foresaw_ends_in_one_line(monkeypatch, capsys, error, code, words):
    def broken(path):
        raise error

    monkeypatch.setattr("rimmodel.cli.predicting.case_at", broken)
    monkeypatch.delenv(TRACE, raising=False)
    found = ended(monkeypatch, capsys, "sweep")
    assert found[:2] == (code, "")
    assert words in found[2]
    assert found[2].count("\n") == (1 if words else 0)


def test_an_error_of_a_library_is_not_laid_at_the_users_door(monkeypatch, capsys):
    import numpy as np

    def broken(path):
        return np.ones(2).reshape(3) if path is None else np.linalg.cholesky([[-1.0]])

    monkeypatch.setattr("rimmodel.cli.predicting.case_at", broken)
    monkeypatch.setenv(TRACE, "1")
    code, _, err = ended(monkeypatch, capsys, "sweep x")
    assert code == 3
    assert "internal error: LinAlgError" in err
    assert "Traceback" in err  # asked for by the variable


def test_version_is_one_line_and_loads_nothing_heavy():
    code = (
        "import sys\nfrom rimmodel.cli import main\nsys.argv = ['rimmodel', '--version']\ntry:\n    main()\n"
        "finally:\n    print(*{'matplotlib', 'polars', 'sympy', 'pint', 'pydantic'} & set(sys.modules))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    name, version = done.stdout.split()
    assert name == "rimmodel"
    assert version[0].isdigit()


def test_a_closed_pipe_ends_quietly():
    with subprocess.Popen(
        [*RIMMODEL, "sweep", "--points", "20000"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as run:
        run.stdout.readline()
        run.stdout.close()
        complaints = run.stderr.read()
        assert run.wait(timeout=60) == 141
    assert complaints == ""


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_narrow_terminal_of_few_letters_prints_in_plain_ones(tmp_path, encoding):
    good(tmp_path)
    text = (tmp_path / "unit.toml").read_text(encoding="utf-8").replace("My unit", "Größe ² ⁴ × – “q” 水")
    (tmp_path / "unit.toml").write_text(text, encoding="utf-8")
    around = {**os.environ, "COLUMNS": "20", "PYTHONIOENCODING": encoding}
    for line in (["check", "unit.toml"], ["check", "no²where.toml"], ["--help"]):
        done = subprocess.run(
            [*RIMMODEL, *line], capture_output=True, check=False, timeout=60, env=around, cwd=tmp_path
        )
        assert done.returncode == (2 if "no²where.toml" in line else 0), done.stderr
        said = (done.stdout + done.stderr).decode(encoding)
        assert "Traceback" not in said
        if encoding == "ascii" and line[-1] == "unit.toml":
            assert said.startswith('Grosse ^2 ^4 x - "q" ?: the case is complete')


def gone(group, latest):
    """No process of the group is left; one that has ended stands in it until the system has taken note."""
    while time.monotonic() < latest:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False


@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_ends_with_130_keeps_what_is_done_and_leaves_no_process(tmp_path, workers):
    line = ["study", "--samples", str(2**24), "--workers", workers, "--out", "study.json"]
    with subprocess.Popen(
        [*RIMMODEL, *line], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
        start_new_session=True,
    ) as run:  # fmt: skip
        group, latest = run.pid, time.monotonic() + 60
        while not (tmp_path / "study.json.partial").exists() and time.monotonic() < latest:
            time.sleep(0.05)
        os.killpg(group, signal.SIGINT)
        _, complaints = run.communicate(timeout=60)
    assert run.returncode == 130
    assert "Traceback" not in complaints
    assert gone(group, latest=time.monotonic() + 30)
