"""Results that replace others when the run is killed, when two run at once, and when the place holds an input."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from rimmodel.verdict.output import swap
from rimmodel.verdict.output.files import OutputError, write_files
from rimmodel.verdict.output.swap import SWAP_NAME

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links and locks of this kind are POSIX")

NAMES = ("a.txt", "b.txt", "sub/c.txt")
FOREIGN = ("notes.txt", "sub/notes.txt", "other/notes.txt")

KILLED = """
import json, os, sys, traceback
from pathlib import Path
from rimmodel.verdict.output.files import write_files

step = dies_at = 0

def dying(real, after):
    def call(self, *more, **how):
        global step
        step += 1
        if step == dies_at and not after:
            os._exit(9)
        done = real(self, *more, **how)
        if step == dies_at:
            os._exit(9)
        return done
    return call

# one process for every run, all of the same parent: the library is loaded once
for line in sys.stdin:
    place, dies_at, when, names = json.loads(line)
    child = os.fork()
    if child == 0:
        try:
            for name in ("replace", "unlink", "rmdir"):
                setattr(Path, name, dying(getattr(Path, name), when == "after"))
            write_files({Path(place, name): "new " + name for name in names}, overwrite=True)
            os._exit(0)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


@pytest.fixture(scope="module")
def ended():
    """How a run that dies at a step ends: 9 there, 0 when it has fewer steps."""
    with subprocess.Popen(
        [sys.executable, "-c", KILLED], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as runs:

        def run(place, dies_at, when, names):
            runs.stdin.write(json.dumps([str(place), dies_at, when, list(names)]) + "\n")
            runs.stdin.flush()
            return int(runs.stdout.readline())

        yield run
        runs.stdin.close()


def fill(place, names=NAMES):
    for name in (*names, *FOREIGN):
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_text(f"old {name}", encoding="utf-8")


def which(place, names=NAMES):
    """Of every file of the set its first word: old, new, or none where it is missing."""
    return [
        (place / name).read_text(encoding="utf-8").split()[0] if (place / name).exists() else "none" for name in names
    ]


def leftovers(place):
    return [path for path in place.rglob("*") if path.name == SWAP_NAME or path.suffix == ".part"]


@pytest.mark.parametrize("names", [NAMES, NAMES[:1]], ids=["a set", "one file"])
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_run_killed_at_any_step_leaves_the_old_set_or_the_new(tmp_path, ended, names, when):
    """Killed at every renaming and removal in turn: never old beside new, and whole after the next run."""
    seen = set()
    for step in range(1, 60):
        place = tmp_path / f"{when}{step}"
        fill(place, names)
        code = ended(place, step, when, names)
        if code == 0:
            break
        assert code == 9
        there = set(which(place, names))
        assert not {"old", "new"} <= there, step
        (place / "x.txt").unlink(missing_ok=True)
        write_files(
            {place / "x.txt": "another", place / "sub" / "y.txt": "another"}
        )  # the next run, whatever it writes
        if len(names) == 1:
            write_files({place / names[0]: "new again"}, overwrite=True)
        whole = which(place, names)
        assert whole in (["old"] * len(names), ["new"] * len(names)), step
        assert not leftovers(place), step
        assert all((place / name).read_text(encoding="utf-8") == f"old {name}" for name in FOREIGN)
        seen.add(whole[0])
    else:
        pytest.fail("the run never came to its end")
    assert step > (9 if len(names) > 1 else 1)
    if len(names) > 1:
        assert seen == {"old", "new"}
    assert which(place, names) == ["new"] * len(names)


def test_recovery_never_replaces_a_file_that_came_since(tmp_path, ended):
    fill(tmp_path)
    # the second renaming withdraws the first file: the run dies right after it
    assert ended(tmp_path, 2, "after", NAMES) == 9
    assert which(tmp_path) == ["none", "old", "old"]
    (tmp_path / "a.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"killed left .*old/0, .*a\.txt, where there is now another file"):
        write_files({tmp_path / "x.txt": "x"})
    assert (tmp_path / "a.txt").read_text(encoding="utf-8") == "mine"
    (tmp_path / "a.txt").unlink()
    write_files({tmp_path / "x.txt": "x"})
    assert which(tmp_path) == ["old", "old", "old"]


MANY = """
import sys
from pathlib import Path
from rimmodel.verdict.output.files import write_files
place, mark = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
sys.stdin.readline()
for turn in range(40):
    write_files({place / f"{n}.txt": mark for n in range(6)} | {place / "sub" / "s.txt": mark}, overwrite=True)
"""


def test_two_runs_at_once_leave_one_whole_set(tmp_path):
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", MANY, str(tmp_path), mark], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        for mark in ("one", "two")
    ]
    for run in runs:
        assert run.stdout.readline() == "ready\n"
    for run in runs:
        run.stdin.write("go\n")
        run.stdin.flush()
    for run in runs:
        run.communicate(timeout=60)
        assert run.returncode == 0
    assert len({path.read_text(encoding="utf-8") for path in tmp_path.rglob("*.txt")}) == 1
    assert len(list(tmp_path.rglob("*.txt"))) == 7
    assert not leftovers(tmp_path)


def test_a_folder_in_use_is_refused_in_words(tmp_path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")
    monkeypatch.setattr(swap, "PATIENCE", 0.05)
    handle = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(handle, fcntl.LOCK_EX)
    try:
        with pytest.raises(OutputError, match="another run is writing there"):
            write_files({tmp_path / "a.txt": "new", tmp_path / "b.txt": "new"})
    finally:
        os.close(handle)
    assert list(tmp_path.iterdir()) == []


def test_without_locks_a_fresh_hidden_folder_is_another_run_and_an_old_one_is_left_behind(tmp_path, monkeypatch):
    monkeypatch.setattr(swap, "_locked", lambda root: None)
    (tmp_path / SWAP_NAME).mkdir()
    with pytest.raises(OutputError, match="another run is writing there"):
        write_files({tmp_path / "a.txt": "new"})
    os.utime(tmp_path / SWAP_NAME, (1.0, 1.0))
    write_files({tmp_path / "a.txt": "new"})
    assert [path.name for path in tmp_path.iterdir()] == ["a.txt"]


@pytest.mark.parametrize("how", ["same", "dots", "hard link", "symbolic link", "linked folder"])
def test_an_input_is_never_replaced_under_whatever_name(tmp_path, how):
    source = tmp_path / "run.csv"
    source.write_text("mine", encoding="utf-8")
    target = tmp_path / "out.csv"
    if how == "same":
        target = source
    elif how == "dots":
        target = tmp_path / "sub" / ".." / "run.csv"
        (tmp_path / "sub").mkdir()
    elif how == "hard link":
        os.link(source, target)
    elif how == "symbolic link":
        target.symlink_to(source)
    else:
        (tmp_path / "folder").symlink_to(tmp_path)
        target = tmp_path / "folder" / "run.csv"
    with pytest.raises(OutputError, match=r"is an input of this command \(.*run\.csv\).*not even with overwrite=True"):
        write_files({tmp_path / "x.txt": "x", target: "new"}, overwrite=True, inputs=[source])
    assert source.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "x.txt").exists()


def test_folders_made_for_results_that_fail_go_again(tmp_path):
    (tmp_path / "plain").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError):
        write_files({tmp_path / "deep" / "er" / "a.txt": "new", tmp_path / "plain" / "b.txt": "new"})
    assert [path.name for path in tmp_path.iterdir()] == ["plain"]


def test_half_written_files_of_a_killed_run_are_cleared_and_others_stay(tmp_path):
    for name in (".a.txt.123.part", ".a.txt.xyz_9.part", ".b.txt.1.part", "a.txt.part"):
        (tmp_path / name).write_text("half", encoding="utf-8")
    write_files({tmp_path / "a.txt": "new"})
    assert sorted(path.name for path in tmp_path.iterdir()) == [".b.txt.1.part", "a.txt", "a.txt.part"]
    assert Path(tmp_path / "a.txt").read_text(encoding="utf-8") == "new"
