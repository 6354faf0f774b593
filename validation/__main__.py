"""``python -m validation [NAME ...] [--out DIR] [--force] [--readme FILE]``: print every check, write what is asked.

Exit 0 when every check holds, 1 when one misses, 2 when nothing can be written or no file has such a name.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from validation.check import Outcome
from validation.collect import LibraryMissingError, checks_of, group_names, title
from validation.front_page import write_table
from validation.report import FILES, Results, print_table, write

NARROWEST = 150
"""Columns of text when the screen is narrower or there is none, as in a pipe."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the checks; see the head of this file."""
    parser = argparse.ArgumentParser(prog="python -m validation", description="Hold our numbers against others.")
    parser.add_argument("names", nargs="*", metavar="NAME", help="only files whose name contains this")
    parser.add_argument("--out", type=Path, metavar="DIR", help=f"also write {', '.join(FILES)} there")
    parser.add_argument("--force", action="store_true", help="replace them if they are there")
    parser.add_argument("--readme", type=Path, metavar="FILE", help="put the table of groups into this page")
    options = parser.parse_args(arguments)
    names = group_names(options.names)
    if not names:
        known = ", ".join(group_names())
        return _refuse(f"no file of checks has {' or '.join(options.names)} in its name; there are {known}")
    standing = [options.out / name for name in FILES if options.out and (options.out / name).exists()]
    if standing and not options.force:
        return _refuse(f"{standing[0]} exists; give --force to replace it, or another directory")
    results = run(names)
    width = max(shutil.get_terminal_size((NARROWEST, 24)).columns, NARROWEST)
    print_table(results, Console(width=width))
    if options.out:
        try:
            write(results, options.out)
        except OSError as error:
            return _refuse(f"cannot write to {options.out}: {error.strerror}; give a directory that can be written")
    if options.readme:
        try:
            write_table(options.readme, results.groups)
        except (OSError, ValueError) as error:
            return _refuse(f"cannot put the table into {options.readme}: {error}")
    return 0 if results.hold else 1


def run(names: Sequence[str]) -> Results:
    """Run the checks of several files; one that breaks down is reported, and does not hide the others."""
    files: dict[str, list[Outcome]] = {}
    left_out, broken = [], []
    for name in names:
        try:
            outcomes = [check.run() for check in checks_of(name)]
            files[f"{name}: {title(name)}"] = outcomes
        except LibraryMissingError as reason:
            left_out.append(str(reason))
        except Exception as error:
            broken.append(f"{name} ({type(error).__name__}: {error})")
    return Results(files, left_out, broken)


def _refuse(message: str) -> int:
    print(f"validation: {message}", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main())
