"""Which paths are files to read: asked before a path is opened, since opening a pipe waits for a writer."""

from __future__ import annotations

import stat
from pathlib import Path

_OTHERS = (
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def not_a_file(path: Path, wanted: str) -> str:
    """Say why a path is no file that can be read, without opening it.

    Parameters
    ----------
    path : Path
        Links are followed.
    wanted : str
        What to name instead, such as "the case file".

    Returns
    -------
    str
        What the path is and what to do; empty for a plain file.

    >>> not_a_file(Path(__file__), "the case file")
    ''
    >>> not_a_file(Path(__file__).parent, "the case file")
    'is a directory; name the case file in it'
    """
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        if path.is_symlink():
            return "there is no such file: the link is broken"
        return "there is no such file"
    except (OSError, ValueError) as error:
        return f"cannot be read: {getattr(error, 'strerror', None) or error}"
    if stat.S_ISREG(mode):
        return ""
    if stat.S_ISDIR(mode):
        return f"is a directory; name {wanted} in it"
    kind = next((name for is_kind, name in _OTHERS if is_kind(mode)), "not a plain file")
    return f"is {kind}; name {wanted}, stored as a file"
