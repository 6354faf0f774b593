"""The word that was probably meant."""

import difflib
from typing import Any


def near(word: str, words: Any) -> str:
    """A suggestion when one of the words is close to the given word."""
    found = difflib.get_close_matches(word, list(words), n=1, cutoff=0.6)
    return f"; did you mean {found[0]!r}?" if found else ""
