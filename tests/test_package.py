"""What the package states of itself: its version once, its types, how it is cited; and how a shell completes it."""

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import rimmodel
from rimmodel.cli import main

ROOT = Path(__file__).parent.parent
PACKAGE = Path(rimmodel.__file__).parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def around(**more):
    """The environment of a child process that finds this copy of the package."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")]), **more}


def test_the_version_stands_once_and_all_else_follows(monkeypatch, capsys):
    assert "version" not in PROJECT["project"]
    stated = re.findall(r"^VERSION = \"(.+)\"$", (ROOT / PROJECT["tool"]["hatch"]["version"]["path"]).read_text(), re.M)
    assert stated == [rimmodel.__version__]
    monkeypatch.setattr(sys, "argv", ["rimmodel", "--version"])
    with pytest.raises(SystemExit) as end:
        main()
    assert not end.value.code
    assert capsys.readouterr().out == f"rimmodel {rimmodel.__version__}\n"


def test_the_changes_begin_with_this_version_and_with_the_numbers_that_changed():
    lines = (PACKAGE / "CHANGES.md").read_text(encoding="utf-8").splitlines()
    headings = [line for line in lines if line.startswith("#")]
    assert headings[:4] == ["# Changes", f"## {rimmodel.__version__}", "### Numbers that changed", "### New"]


def test_the_readme_and_the_citation_name_this_version():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert f"version {rimmodel.__version__}, " in readme[readme.index("## How to cite") :]
    text = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    citation = dict(re.findall(r'^([a-z-]+):(?: "?(.*?)"?)?$', text, re.M))
    assert {"cff-version", "message", "title", "authors"} <= citation.keys()  # what the format requires
    assert citation["version"] == rimmodel.__version__
    assert citation["license"] == PROJECT["project"]["license"]
    assert re.findall(r'- name: "(.*)"', text) == [author["name"] for author in PROJECT["project"]["authors"]]


def test_the_project_says_what_it_is_and_names_no_place_that_may_not_exist():
    about = PROJECT["project"]
    assert (PACKAGE / "py.typed").is_file()
    assert "Typing :: Typed" in about["classifiers"]
    assert about["license-files"] == ["LICENSE"]
    assert "urls" not in about


def completed(line):
    """What a shell is offered for the last word of a line."""
    words = line.split(" ")
    done = subprocess.run(
        [sys.executable, "-m", "rimmodel.cli"],
        env=around(_RIMMODEL_COMPLETE="complete_bash", COMP_WORDS=line, COMP_CWORD=str(len(words) - 1)),
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.split()


def test_a_shell_completes_commands_and_options():
    assert completed("rimmodel sw") == ["sweep"]
    assert set(completed("rimmodel ")) >= {"review", "check", "fit", "fleet"}
    assert completed("rimmodel sweep --poi") == ["--points"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_completion_script_of_a_shell_is_one_that_it_understands(shell, tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "rimmodel.cli", "--show-completion", shell],
        env=around(_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1"),
        capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "_RIMMODEL_COMPLETE" in done.stdout
    assert "rimmodel" in done.stdout
    if shutil.which(shell):
        script = tmp_path / "completion"
        script.write_text(done.stdout, encoding="utf-8")
        subprocess.run([shell, "-n", str(script)], check=True, timeout=60)


@pytest.mark.skipif(not shutil.which("bash"), reason="bash is not on this machine")
def test_bash_itself_completes_a_line(tmp_path):
    program = tmp_path / "rimmodel"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m rimmodel.cli "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    script = (
        f'eval "$({program} --show-completion bash)"\nCOMP_WORDS=(rimmodel re) COMP_CWORD=1\n'
        f'_rimmodel_completion {program}\nprintf "%s\\n" "${{COMPREPLY[@]}}"\n'
    )
    done = subprocess.run(
        ["bash", "-c", script], env=around(_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1"), capture_output=True,
        text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.stdout.split(), done.stderr) == (["review"], "")


@pytest.mark.skipif(not shutil.which("dash"), reason="dash, a shell without completion, is not on this machine")
def test_a_shell_that_is_not_known_is_refused_in_words():
    done = subprocess.run(
        ["dash", "-c", f'"{sys.executable}" -m rimmodel.cli --show-completion; exit $?'],
        env=around(), capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (2, "")
    assert "rimmodel: completion is there for bash, zsh, fish and PowerShell" in done.stderr
