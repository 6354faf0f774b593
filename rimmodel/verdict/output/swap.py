"""A set of files put in the place of another: all of the new, or all of the old, however the run ends.

Several renames are not one. So the set is staged in a hidden folder beside its place, with a list of what goes where;
then the old files are withdrawn into that folder, one renaming of the list decides for the new set, and the new files
are placed. Old and new files never stand side by side: a run that is killed leaves part of one set at worst, and the
next run into the same place puts the old set back (before the decision) or completes the new one (after it). Files
that do not belong to the set are not touched.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

SWAP_NAME = ".rimmodel-swap"
"""Hidden folder in which a set waits; there is none unless a run is writing or was killed while writing."""

PATIENCE = 10.0
"""Seconds to wait for another run that writes into the same folder: writing takes a fraction of one."""

DESERTED = 60.0
"""Seconds after which a hidden folder counts as left behind where the file system knows no locks."""


class BusyError(OSError):
    """Another run is writing into the folder."""


class LeftoverError(OSError):
    """What a killed run left cannot be put in its place without losing a file that has come there since."""


@dataclass(frozen=True)
class Swap:
    """The hidden folder of a set that goes into `root`, and the files of the set, relative to `root`."""

    root: Path
    names: tuple[str, ...]

    @property
    def folder(self) -> Path:
        """The hidden folder."""
        return self.root / SWAP_NAME

    @property
    def undecided(self) -> Path:
        """The list of the set, until the old files are withdrawn."""
        return self.folder / "undecided.json"

    @property
    def decided(self) -> Path:
        """The same list from then on."""
        return self.folder / "decided.json"

    def new(self, number: int) -> Path:
        """Where a new file waits to be placed."""
        return self.folder / "new" / str(number)

    def old(self, number: int) -> Path:
        """Where the file that it replaces waits for the end."""
        return self.folder / "old" / str(number)

    def place(self, number: int) -> Path:
        """Where the file belongs."""
        return self.root / self.names[number]


@contextlib.contextmanager
def alone_in(root: Path) -> Iterator[bool]:
    """Keep other runs from writing into a folder; yields whether the file system can promise that.

    Raises
    ------
    BusyError
        Another run has been writing there for longer than `PATIENCE`.
    """
    handle = _locked(root)
    try:
        yield handle is not None
    finally:
        if handle is not None:
            os.close(handle)  # and the lock with it; a killed run gives it up as well


def _locked(root: Path) -> int | None:
    try:
        import fcntl
    except ModuleNotFoundError:
        return None
    handle = os.open(root, os.O_RDONLY)
    latest = time.monotonic() + PATIENCE
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except BlockingIOError:
            if time.monotonic() > latest:
                os.close(handle)
                raise BusyError(None, "another run is writing there", str(root)) from None
            time.sleep(0.02)
        except OSError:  # no locks on this file system
            os.close(handle)
            return None


def exchange(root: Path, texts: Mapping[str, str | bytes]) -> None:
    """Put texts under names, relative to a folder, in the place of what is there: all of them or none.

    Raises
    ------
    OSError
        A file cannot be staged, withdrawn or placed; all is then as before.
    """
    swap = Swap(root, tuple(texts))
    try:
        _stage(swap, list(texts.values()))
        for number in range(len(swap.names)):
            if os.path.lexists(swap.place(number)):
                swap.place(number).replace(swap.old(number))
        swap.undecided.replace(swap.decided)
        for number in range(len(swap.names)):
            swap.new(number).replace(swap.place(number))
    except BaseException:
        _undo(swap)
        raise
    _discard(swap)


def recover(root: Path, alone: bool) -> None:
    """Finish what a killed run left in a folder: its new set where it had decided for it, else the old set.

    Raises
    ------
    BusyError
        It may be a run that is still writing.
    LeftoverError
        A file has come since to where one of the set belongs.
    """
    folder = root / SWAP_NAME
    if not folder.exists():
        return
    if not alone and time.time() - folder.stat().st_mtime < DESERTED:
        raise BusyError(None, "another run is writing there", str(root))
    swap = Swap(root, ())
    for file in (swap.decided, swap.undecided):
        if file.exists():
            swap = Swap(root, tuple(json.loads(file.read_text(encoding="utf-8"))))
            break
    forward = swap.decided.exists()
    for number in range(len(swap.names)):
        waiting = swap.new(number) if forward else swap.old(number)
        if os.path.lexists(waiting):
            if os.path.lexists(swap.place(number)):
                raise LeftoverError(
                    None,
                    f"a run that was killed left {waiting}, which belongs at {swap.place(number)}, where there is now "
                    f"another file; move one of the two",
                )
            waiting.replace(swap.place(number))
    _discard(swap)


def _stage(swap: Swap, texts: Sequence[str | bytes]) -> None:
    """Write the new files and the list, whole and on the disk, into the hidden folder."""
    for part in ("new", "old"):
        (swap.folder / part).mkdir(parents=True, exist_ok=True)
    for number, text in enumerate(texts):
        try:
            write_whole(swap.new(number), text)
        except OSError as error:
            raise OSError(error.errno, error.strerror, str(swap.place(number))) from error
    unlisted = swap.folder / "list.part"
    write_whole(unlisted, json.dumps(swap.names))
    unlisted.replace(swap.undecided)


def _undo(swap: Swap) -> None:
    """Put the old set back in a run that failed; what cannot be put back stays hidden for the next run."""
    try:
        if swap.decided.exists():
            for number in range(len(swap.names)):
                if not os.path.lexists(swap.new(number)):
                    swap.place(number).rename(swap.new(number))
            swap.decided.rename(swap.undecided)
        for number in range(len(swap.names)):
            if os.path.lexists(swap.old(number)):
                swap.old(number).rename(swap.place(number))
    except OSError:
        return
    _discard(swap)


def _discard(swap: Swap) -> None:
    """Remove the hidden folder: withdrawn files first, the list last, so that a killed run is understood."""
    for part in ("old", "new"):
        folder = swap.folder / part
        if part == "old" and not (swap.decided.exists() or swap.undecided.exists()) and _holds(folder):
            raise LeftoverError(
                None, "contains files without a list of where they belong; move them elsewhere", str(folder)
            )
        for file in folder.iterdir() if folder.exists() else ():
            file.unlink()
    for file in (swap.folder / "list.part", swap.undecided, swap.decided):
        file.unlink(missing_ok=True)
    for folder in (swap.folder / "old", swap.folder / "new", swap.folder):
        if folder.exists():
            folder.rmdir()


def _holds(folder: Path) -> bool:
    return folder.exists() and any(folder.iterdir())


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file, text in UTF-8, readable by all as the others, and see it on the disk before it is renamed."""
    with path.open("wb") as stream:
        stream.write(content.encode("utf-8") if isinstance(content, str) else content)
        stream.flush()
        os.fsync(stream.fileno())
    path.chmod(0o644)
