"""Text for terminals that cannot show all of it: the nearest plain letters, and no control characters."""

from __future__ import annotations

import codecs
import sys
import unicodedata
from typing import TextIO

PLAIN = {
    "²": "^2", "³": "^3", "⁴": "^4", "×": "x", "·": "*", "–": "-", "—": "-", "−": "-", "°": "deg ", "±": "+/-",
    "“": '"', "”": '"', "„": '"', "‘": "'", "’": "'", "µ": "u", "μ": "u", "…": "...", "≥": ">=", "≤": "<=",
    "→": "->", "ß": "ss", "ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "ł": "l", "─": "-", "━": "-", "│": "|", "•": "*",
}  # fmt: skip
"""What stands for a character where it cannot be shown."""


def plain_where_needed(stream: TextIO) -> None:
    """Let a stream print what its encoding does not hold in plain letters, where it would fail else."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="rimmodel-plain")


def echo(text: str, err: bool = False) -> None:
    """Print a text on stdout, or on stderr."""
    print(text, file=sys.stderr if err else sys.stdout)


def holds(stream: TextIO, text: str) -> bool:
    """Whether the encoding of a stream holds every character of a text."""
    try:
        text.encode(getattr(stream, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def shown(text: str) -> str:
    r"""A message with control characters and marks of writing direction as escapes; line ends stay.

    >>> print(shown("no file \x1b[2Jrun.csv"))
    no file \x1b[2Jrun.csv
    """
    return "".join(
        letter if letter == "\n" or unicodedata.category(letter) not in ("Cc", "Cf") else ascii(letter)[1:-1]
        for letter in text
    )


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = "".join(_nearest(letter) for letter in error.object[error.start : error.end])
    return text, error.end


def _nearest(letter: str) -> str:
    plain = PLAIN.get(letter) or unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
    return plain or "?"


codecs.register_error("rimmodel-plain", _plain)
