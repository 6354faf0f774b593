"""Writing results: all of them or none, never over an existing file unless asked to, and never over an input."""

from __future__ import annotations

import csv
import io
import os
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from rimmodel.verdict.output.swap import DESERTED, alone_in, exchange, recover, write_whole

PAGE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
"""What a page may load and run: nothing but its own styles and inlined pictures, whatever a text in it pretends."""


OVERWRITE, RESUME = "overwrite=True", "resume=True"
"""How to have results replaced, or a study gone on with, in Python."""

OPTIONS = {OVERWRITE: "--force", RESUME: "--resume"}
"""The same on the command line."""


class OutputError(ValueError):
    """A result that cannot be written; the text says where and what to do, in Python."""

    @property
    def at_command_line(self) -> str:
        """The same for somebody who typed a command."""
        words = str(self)
        for python, option in OPTIONS.items():
            words = words.replace(python, option)
        return words


def write_files(
    files: Mapping[Path, str | bytes], *, overwrite: bool = False, inputs: Iterable[str | Path] = ()
) -> list[Path]:
    """Write texts to paths, creating folders: all of them or none, even where the run is killed (see `swap`).

    Parameters
    ----------
    overwrite : bool
        Replace what exists.
    inputs : paths
        What the results were made from: never replaced, by whatever name or link.

    Raises
    ------
    OutputError
        A path exists and `overwrite` is not set, is no file or an input, or the place cannot be written; all is then
        as before.
    """
    if not files:
        return []
    refuse_inputs(files, inputs)
    for path in files:
        if os.path.lexists(path) and not path.is_file() and not _dangles(path):
            raise OutputError(f"{path} is a directory or a device; name a file to write to")
    root = Path(os.path.commonpath([path.absolute().parent for path in files]))
    try:
        with _made(root), alone_in(root) as alone:
            recover(root, alone)
            _clear_parts(files, alone)
            existing = [str(path) for path in files if os.path.lexists(path)]
            if existing and not overwrite:
                raise OutputError(
                    f"{existing[0]} already exists; choose another place, or overwrite it with {OVERWRITE}"
                )
            with _made(*(path.parent for path in files)):
                if len(files) == 1:
                    _replace(*next(iter(files.items())))
                else:
                    exchange(root, {str(path.absolute().relative_to(root)): text for path, text in files.items()})
    except OSError as error:
        first = next(iter(files))
        if isinstance(error, FileExistsError | NotADirectoryError):
            raise OutputError(
                f"cannot write {first}: {error.filename} is not a directory; choose another place"
            ) from error
        places = {str(path.absolute()): path for path in files}
        failed = places.get(str(error.filename), first)
        where = "" if error.filename is None or failed is not first else f" ({error.filename})"
        raise OutputError(f"cannot write {failed}: {error.strerror}{where}; choose another place") from error
    return list(files)


def refuse_taken(directory: Path, names: Sequence[str], *, overwrite: bool, inputs: Iterable[str | Path] = ()) -> None:
    """Refuse a place to write to before any work is done: the writing itself looks once more.

    Raises
    ------
    OutputError
        It is no directory, nothing can be written there, a result stands there and `overwrite` is not set, or a result
        would take the place of an input.
    """
    _refuse_place(directory, directory / names[0])
    refuse_inputs([directory / name for name in names], inputs)
    taken = next((directory / name for name in names if os.path.lexists(directory / name)), None)
    if taken is not None and not overwrite:
        raise OutputError(f"{taken} already exists; choose another place, or overwrite it with {OVERWRITE}")


def _refuse_place(directory: Path, first: Path) -> None:
    """Refuse a folder that is none or cannot be made, by trying to write into what there is of its path."""
    try:
        near = next(path for path in (directory.absolute(), *directory.absolute().parents) if os.path.lexists(path))
        if not near.is_dir():
            raise OutputError(f"cannot write {first}: {near} is not a directory; choose another place")
        probe = _part(near / "rimmodel")
        try:
            write_whole(probe, "")
        finally:
            probe.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"cannot write {first}: {error.strerror}; choose another place") from error


def refuse_inputs(outputs: Iterable[Path], inputs: Iterable[str | Path]) -> None:
    """Refuse to write over what the results are made from, also under another name: a link is the same file.

    Raises
    ------
    OutputError
        An output is an input; the text names both.
    """
    read = {_identity(Path(path)): path for path in inputs}
    for path in outputs:
        same = read.get(_identity(path))
        if same is not None:
            raise OutputError(
                f"{path} is an input of this command ({same}); it is never overwritten, not even with {OVERWRITE}: "
                "choose another place"
            )


def _identity(path: Path) -> object:
    """The same for every name of a file, whatever links lead to it."""
    try:
        found = path.stat()
    except OSError:
        return path.absolute() if path.is_symlink() else path.resolve()
    return found.st_dev, found.st_ino


def _dangles(path: Path) -> bool:
    return path.is_symlink() and not path.exists()


@contextmanager
def _made(*folders: Path) -> Iterator[None]:
    """Create folders; those that were not there go again when what follows fails, unless they hold something."""
    absent = {parent for folder in folders for parent in (folder, *folder.parents) if not parent.exists()}
    try:
        for folder in folders:
            folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for folder in sorted(absent, key=lambda path: len(path.parts), reverse=True):
            try:
                folder.rmdir()
            except OSError:
                continue
        raise


def _part(path: Path) -> Path:
    return path.with_name(f".{path.name}.{os.getpid()}.part")


def _replace(path: Path, text: str | bytes) -> None:
    """Write one file beside its place and rename it into it."""
    part = _part(path)
    try:
        write_whole(part, text)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _clear_parts(files: Iterable[Path], alone: bool) -> None:
    """Remove what runs that were killed left half written beside these files."""
    for path in files:
        mark = f".{path.name}."
        if not path.parent.is_dir():
            continue
        for part in path.parent.glob(".*.part"):
            middle = part.name.removeprefix(mark).removesuffix(".part")
            ours = part.name.startswith(mark) and middle and "." not in middle and part.is_file()
            if ours and (alone or time.time() - part.lstat().st_mtime > DESERTED):
                part.unlink(missing_ok=True)


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
