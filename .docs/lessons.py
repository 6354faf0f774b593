"""The lessons as pages: text and formulas as they stand, code, and below it what it printed and drew."""

from __future__ import annotations

import base64
import re
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

LONGEST = 300
"""Seconds that one cell may take."""

WITHOUT_OUTPUT = (
    "```{note}\nThis copy was built without running the lessons: what their cells print and draw is left out.\n```"
)


def write_lessons(notebooks: Path, place: Path, *, run: bool, workers: int = 2) -> list[str]:
    """Write each notebook of a folder as a page, with an index; return the names of the pages."""
    import nbformat

    place.mkdir(parents=True)
    paths = sorted(notebooks.glob("*.ipynb"))
    read = [nbformat.read(path, as_version=4) for path in paths]
    if run:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(lambda notebook: _execute(notebook, notebooks), read))
    for path, notebook in zip(paths, read, strict=True):
        (place / f"{path.stem}.md").write_text(_page(notebook, path, place, run), encoding="utf-8")
    names = [path.stem for path in paths]
    (place / "index.md").write_text(_index(names), encoding="utf-8")
    return names


def _index(names: list[str]) -> str:
    lines = "\n".join(names)
    return (
        "# Lessons\n\nEach lesson asks a machine's question, derives the answer, draws it, sets exercises and ends in "
        "asserted numbers. The pages show the notebooks of the folder `notebooks`, in which exercises are "
        "answered and marked.\n\n"
        f"```{{toctree}}\n:maxdepth: 1\n\n{lines}\n```\n"
    )


def _execute(notebook: Any, folder: Path) -> None:
    """Run a notebook in an interpreter like this one."""
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient

    class ThisPython(AsyncKernelManager):
        @property
        def kernel_spec(self) -> KernelSpec:
            launch = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}", "--log-level=ERROR"]
            return KernelSpec(argv=launch, display_name="pages", language="python")

    client = NotebookClient(
        notebook, timeout=LONGEST, kernel_manager_class=ThisPython, resources={"metadata": {"path": str(folder)}}
    )
    client.widget_registry.clear()
    client.execute()


def _page(notebook: Any, path: Path, place: Path, run: bool) -> str:
    parts: list[str] = []
    for number, cell in enumerate(notebook.cells):
        if cell.cell_type == "markdown":
            parts.append(cell.source)
        elif cell.cell_type == "code" and cell.source.strip():
            code = f"```python\n{cell.source}\n```"
            hidden = cell.metadata.get("jupyter", {}).get("source_hidden")
            parts.append(f"<details>\n<summary>Code</summary>\n\n{code}\n\n</details>" if hidden else code)
            parts += _outputs(cell, f"{path.stem}_{number:02d}", place)
        if number == 0 and not run:
            parts.append(WITHOUT_OUTPUT)
    return "\n\n".join(parts) + "\n"


def _outputs(cell: Any, stem: str, place: Path) -> list[str]:
    """What a cell printed and drew, in order."""
    parts = []
    for number, output in enumerate(cell.get("outputs", [])):
        if output.output_type == "stream":
            parts.append(_text(output.text))
            continue
        data = output.get("data", {})
        if "image/png" in data:
            name = f"{stem}_{number}.png"
            (place / name).write_bytes(base64.b64decode(data["image/png"]))
            parts.append(f"![what the code above draws]({name})")
        elif "text/latex" in data:
            formula = re.sub(r"^\$+(?:\\displaystyle)?|\$+$", "", data["text/latex"].strip()).strip()
            parts.append(f"$$\n{formula}\n$$")
        elif "text/plain" in data:
            parts.append(_text(data["text/plain"]))
    return parts


def _text(text: str) -> str:
    fence = "`" * max(3, 1 + max((len(found) for found in re.findall(r"`+", text)), default=0))
    return f"{fence}text\n{text.rstrip()}\n{fence}"
