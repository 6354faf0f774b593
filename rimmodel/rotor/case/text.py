"""What no case file may hold, whatever its keys: characters that do not show, numbers and nesting beyond all use."""

from __future__ import annotations

import math
import unicodedata
from typing import Any

DEEPEST = 6
"""Tables and lists within each other that a case file needs at most."""

LARGEST_NUMBER = 1e15
"""Bare numbers of a case are counts and factors; what is larger measures nothing."""

LONGEST_TEXT = 2000
MOST_SHOWN = 60

_HIDDEN = {"Cc": "a control character", "Cf": "an invisible character", "Cs": "half a character"}


def shown(value: object) -> str:
    """A value of the file for a message, cut short where it is long."""
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) > LARGEST_NUMBER:
        digits = len(str(abs(value)))
        return f"a whole number of {digits} digits"
    try:
        text = repr(value)
    except RecursionError:
        return "a list nested too deeply"
    return text if len(text) <= MOST_SHOWN else f"{text[: MOST_SHOWN - 4]} ..."


def hidden_character(text: str) -> str | None:
    r"""The first control, bidirectional or zero-width character of a text in words, or None.

    Such characters let a text read otherwise than it is stored.

    >>> hidden_character("unit\u202e1")
    'U+202E (right-to-left override), an invisible character'
    >>> hidden_character("Łódź 1")
    """
    for letter in text:
        kind = _HIDDEN.get(unicodedata.category(letter))
        if kind:
            name = unicodedata.name(letter, "").lower()
            return f"U+{ord(letter):04X}{f' ({name})' if name else ''}, {kind}"
    return None


def text_faults(raw: dict[str, Any]) -> list[str]:
    """Faults of characters, sizes and nesting anywhere in a case as it was read, each with its key."""
    faults: list[str] = []
    waiting: list[tuple[str, Any, int]] = [("", raw, 0)]
    while waiting:
        key, value, depth = waiting.pop()
        if depth > DEEPEST:
            return [
                f"{key.partition('.')[0].partition('[')[0]}: nested more than {DEEPEST} levels deep; no key needs that"
            ]
        if isinstance(value, dict):
            for name, item in value.items():
                if hidden := hidden_character(name):
                    faults.append(f"{key or 'the file'}: the key or name {shown(name)} contains {hidden}; remove it")
                waiting.append((f"{key}.{name}" if key else name, item, depth + 1))
        elif isinstance(value, list):
            waiting += [(f"{key}[{number}]", item, depth + 1) for number, item in enumerate(value, 1)]
        elif isinstance(value, str) and (hidden := hidden_character(value)):
            faults.append(f"{key} is {shown(value)}; it contains {hidden}; remove it")
        elif isinstance(value, str) and len(value) > LONGEST_TEXT:
            faults.append(f"{key} is a text of {len(value)} characters; it must have at most {LONGEST_TEXT}")
        elif isinstance(value, int | float) and LARGEST_NUMBER < abs(value) < math.inf:
            faults.append(f"{key} is {shown(value)}; it must be at most {LARGEST_NUMBER:g} in size")
    return faults[::-1]
