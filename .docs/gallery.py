"""Every figure that the commands draw for the built-in machine, as a page."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

COMMANDS = {
    "review": "Review: prediction, recordings and claims",
    "keys": "Key by key",
    "window": "Shrink window",
    "plan": "Proving run",
}
"""Commands that draw, and the heading of what they draw."""


QUICK = ("keys",)
"""Commands of which a quick build shows the figures."""


def write_gallery(page: Path, figures: Path, *, quick: bool) -> int:
    """Draw the figures into a folder beside the page, and write the page; return how many there are."""
    figures.mkdir(parents=True)
    lines = ["# Gallery", "", "The built-in machine and its recordings are invented.", ""]
    count = 0
    for command, heading in COMMANDS.items():
        if quick and command not in QUICK:
            continue
        made = figures / f".{command}"
        subprocess.run(
            [sys.executable, "-m", "rimmodel.cli", command, "--out", str(made)],
            check=True, capture_output=True, env={**os.environ, "SOURCE_DATE_EPOCH": "0"},
        )  # fmt: skip
        lines += [f"## {heading}", "", f"`rimmodel {command} --out out`", ""]
        for svg in sorted(made.rglob("*.svg")):
            name = f"{command}_{svg.name}"
            shutil.copyfile(svg, figures / name)
            lines += [f"### {svg.stem.replace('_', ' ').capitalize()}", "", f"![{svg.stem}]({figures.name}/{name})", ""]
            count += 1
        shutil.rmtree(made)
    page.write_text("\n".join(lines), encoding="utf-8")
    return count
