"""Settings for every test."""

import os
import sys

import pytest
from hypothesis import settings

from rimmodel.cli import main
from tests.once import once

# the same examples in every run: a red run is then about the change, not about luck
settings.register_profile("steady", deadline=None, max_examples=60, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

# commands of the tests draw their figures alone: tests that run side by side have no processor to spare
os.environ.setdefault("RIMMODEL_PROCESSES", "1")


@pytest.fixture(scope="session", autouse=True)
def shared_by_the_processes_of_a_run(request, tmp_path_factory):
    """Name the folder in which one process finds what another has made."""
    if hasattr(request.config, "workerinput"):  # of a run in several processes; the environment is handed on further
        once.folder = tmp_path_factory.getbasetemp().parent / "once"


def pytest_collection_modifyitems(items):
    """Put what takes long first, so that no process waits at the end for another."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


@pytest.fixture
def rim(monkeypatch, capsys):
    """Run the program in this process: exit code, stdout, stderr."""

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["rimmodel", *map(str, words)])
        code = 0
        try:
            main()
        except SystemExit as stopped:
            code = stopped.code or 0
        said = capsys.readouterr()
        return code, said.out, said.err

    return run
