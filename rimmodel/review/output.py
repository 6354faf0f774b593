"""Writing results: all of them or none, each whole, and never over an existing one unless told to."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path


class OutputError(ValueError):
    """A result that cannot be written; the text says where and what to do."""


def write_files(files: Mapping[Path, str], *, overwrite: bool = False) -> list[Path]:
    """Write texts to paths, creating folders; each goes to a temporary file first and is then renamed.

    Raises
    ------
    OutputError
        A path exists and `overwrite` is not set, is no file, or the place cannot be written; all is then as before.
    """
    other = [str(path) for path in files if path.exists() and not path.is_file()]
    if other:
        raise OutputError(f"{other[0]} is a directory or a device; name a file to write to")
    existing = [str(path) for path in files if path.exists()]
    if existing and not overwrite:
        raise OutputError(f"{existing[0]} exists already; choose another place, or overwrite it with --force")
    waiting: list[tuple[str, Path]] = []
    path = Path()
    try:
        for path, text in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
            waiting.append((name, path))
            with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
                stream.write(text)
            Path(name).chmod(0o644)
        _move_all(waiting)
    except OSError as error:
        if isinstance(error, FileExistsError | NotADirectoryError):
            raise OutputError(f"cannot write {path}: {error.filename} is no directory; choose another place") from error
        where = "" if error.filename is None else f" ({error.filename})"
        raise OutputError(f"cannot write {path}: {error.strerror}{where}; choose another place") from error
    finally:
        for name, _ in waiting:
            Path(name).unlink(missing_ok=True)
    return list(files)


def _move_all(waiting: Sequence[tuple[str, Path]]) -> None:
    """Rename every file into its place; when one fails, the results that were there before come back."""
    moved: list[tuple[Path, bytes | None]] = []
    try:
        for name, path in waiting:
            before = path.read_bytes() if path.exists() else None
            Path(name).replace(path)
            moved.append((path, before))
    except OSError:
        for path, before in moved:
            path.unlink()
            if before is not None:
                path.write_bytes(before)
        raise


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A CSV text; a text cell that starts like a formula gets an apostrophe, so that a spreadsheet shows it as text.

    Numbers are given as numbers, not as text: a minus sign is no formula.

    >>> print(csv_text(["name", "gap_mm"], [["=2+3", 15.5]]).strip())
    name,gap_mm
    '=2+3,15.5
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([f"'{item}" if isinstance(item, str) and item[:1] in _FORMULA else item for item in row])
    return stream.getvalue()


_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
