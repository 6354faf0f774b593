"""Words that no reader of this program should meet, each with what to write in its place; and where sentences stand.

A native engineer reads each of these twice: archaic ("nil", "astride"), vague ("some", "told"), or a word that has
another meaning in the trade ("give", "warmth"). `unwanted` finds them in a text.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

INSTEAD = {
    r"ways?(?<!two-way)": "direction, method, run-up or run-down",
    r"(?<!re)told": "distinguished, determined, stated or shown",
    r"said": "stated",
    r"nil": "zero",
    r"astride": "includes the limit",
    r"warmth": "temperature rise",
    r"feign(s|ed|ing)?": "apparent",
    r"for want of": "as ... is missing",
    r"landmarks?": "characteristic speed, or result",
    r"some": "several, a few, about, or the number",
    r"seen only together": "cannot be separated by these data",
    r"does not decide about": "is inconclusive against",
    r"decides? nothing": "is not used for any verdict",
    r"hangs? together": "are correlated",
    r"to and fro": "back and forth",
    r"(a|its|their|the|of|no|little|much|own) give": "compliance, deflection",
    r"gives? (under|a little)": "deflects under",
    r"(the|an?|this|that|another|other|every|each) ([a-z-]+ )?ones?"
    r"(?=[.,;:)]| (of|in|at|by|before|after|which|that|is)\b|$)": "the noun itself",
    r"[Rr]otors to draw": "number of samples",
    r"told only": "for information",
    r"as the shims should have given": "consistent with the expected shim change",
}  # fmt: skip
"""Pattern of what is unwanted, and what to write instead."""

_UNWANTED = {re.compile(rf"\b(?:{pattern})(?!\w)", re.IGNORECASE): instead for pattern, instead in INSTEAD.items()}

ALLOWED = ("landmarks",)
"""Keys of JSON that are agreed and stay."""


def unwanted(text: str) -> list[str]:
    """Every unwanted word of a text with a few words around it and what to write instead."""
    return [
        f"...{text[max(found.start() - 30, 0) : found.end() + 30]!r}...: write {instead}"
        for pattern, instead in _UNWANTED.items()
        for found in pattern.finditer(text)
    ]


def sentences(file: Path) -> Iterator[tuple[int, str]]:
    """Line and text of every docstring and string literal of a Python file; joined strings as a reader sees them."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    parts = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            words = (part.value if isinstance(part, ast.Constant) else "0" for part in node.values)
            yield node.lineno, "".join(map(str, words))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in parts:
            yield node.lineno, "" if node.value in ALLOWED else node.value
