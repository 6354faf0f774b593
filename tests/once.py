"""What several tests look at and none changes is made once in a run, by whichever process asks for it first."""

import pickle
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

LONGEST = 600.0
"""Seconds after which what another process was making is made here instead."""


class Once:
    """What was made, by name. Processes of one run share a folder (`conftest.py` names it); one process needs none."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self.made: dict[str, Any] = {}

    def __call__(self, name: str, make: Callable[[], Any]) -> Any:
        """Return what `make` returns: made here, or by the process that asked first."""
        if name not in self.made:
            place = self.folder and self.folder / re.sub(r"\W", "_", name)
            self.made[name] = make() if place is None else _shared(place, make)
        return self.made[name]


once = Once()


def _shared(place: Path, make: Callable[[], Any]) -> Any:
    place.parent.mkdir(exist_ok=True)
    stored, claim = place.with_suffix(".pickle"), place.with_suffix(".claim")
    try:
        claim.touch(exist_ok=False)
    except FileExistsError:
        return _awaited(stored, claim, make)
    try:
        found = make()
        part = place.with_suffix(".part")
        part.write_bytes(pickle.dumps(found))
        part.replace(stored)
    except BaseException:
        claim.unlink()  # nobody shall wait for what does not come
        raise
    return found


def _awaited(stored: Path, claim: Path, make: Callable[[], Any]) -> Any:
    end = time.monotonic() + LONGEST
    while not stored.exists():
        if not claim.exists() or time.monotonic() > end:
            return make()
        time.sleep(0.05)
    return pickle.loads(stored.read_bytes())
