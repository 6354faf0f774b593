"""Every notebook runs from its first cell to its last, ends in asserted numbers, and is kept without output."""

import sys
from pathlib import Path

import nbformat
import pytest
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient

FOLDER = Path(__file__).parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
LESSONS = [path for path in NOTEBOOKS if path.name[:2].isdigit()]
LONGEST = 120
"""Seconds that one cell may take before it is given up; a lesson takes about ten as a whole."""

each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)


class ThisPython(AsyncKernelManager):
    """Starts kernels of the interpreter that runs the tests, whatever kernels are installed beside it."""

    @property
    def kernel_spec(self):
        command = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
        return KernelSpec(argv=command, display_name="tests", language="python")


def code_cells(path):
    return [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]


def test_there_are_lessons():
    assert LESSONS, f"no lesson in {FOLDER}"


@each_notebook
def test_runs(path):
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook, timeout=LONGEST, kernel_manager_class=ThisPython, resources={"metadata": {"path": str(FOLDER)}}
    )
    client.execute()
    assert all(cell.execution_count for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip())


@each_notebook
def test_is_stored_without_output(path):
    nbformat.validate(nbformat.read(path, as_version=4))
    for cell in code_cells(path):
        assert not cell.outputs, f"{path.name} holds output; clear it"
        assert cell.execution_count is None, f"{path.name} holds execution counts; clear them"


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_ends_in_asserted_numbers(path):
    assert "assert" in code_cells(path)[-1].source
