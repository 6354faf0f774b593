"""Names of sensors, planes and directions that differ only in capital letters or blanks are one name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rimmodel.evidence.recording.delimited import RecordingError, shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars

    from rimmodel.evidence.recording.survey import Survey


LONGEST_NAME = 100
"""Characters."""

MOST_NAMES = {"sensor": 1000, "plane": 100, "direction": 100}
"""More different names than this are readings of something else, and would fill the memory with empty cells."""


def check_names(source: str, words: Mapping[str, set[str]]) -> None:
    """Refuse what cannot be the names of sensors, planes, directions or excitations.

    Parameters
    ----------
    source : str
        Name of the recording, for messages.
    words : dict of str to set of str
        Names found, by column.

    Raises
    ------
    RecordingError
        A name too long or with a control character in it, or far too many different names.

    >>> check_names("run.csv", {"sensor": {"G1", "G2"}})
    """
    for column, found in words.items():
        if len(found) > MOST_NAMES.get(column, len(found)):
            raise RecordingError(
                f"{source}: column {column} contains {len(found)} different names; one machine has few {column}s: "
                f"does the column hold readings?"
            )
        for word in sorted(found):
            if len(word) > LONGEST_NAME:
                raise RecordingError(f"{source}: column {column} holds {shown(word, 20)}, too long for a name")
            if not "".join(word.split()).isprintable():
                raise RecordingError(
                    f"{source}: column {column} holds {word!r}, a name with a control character; type the name again"
                )


def same_labels(frame: polars.LazyFrame, found: Survey) -> tuple[polars.LazyFrame, tuple[str, ...]]:
    """Bring the spellings of a name together, in a frame and in what a survey has found.

    Parameters
    ----------
    frame : polars.LazyFrame
        Rows in SI units.
    found : Survey
        Its words, sample and usable rows are brought together too.

    Returns
    -------
    tuple of (polars.LazyFrame, tuple of str)
        The frame, and a remark for each column in which spellings were brought together.
    """
    import polars as pl

    changes, remarks = [], []
    for column, words in found.words.items():
        renamed = _renamed(column, words)
        if not renamed:
            continue
        found.words[column] = {renamed.get(word, word) or "" for word in words} - {""}
        value = pl.col(column).cast(pl.String).replace(renamed).cast(pl.Categorical)
        changes.append(value.alias(column))
        groups: dict[str, list[str]] = {}
        for word in sorted(words):
            kept = renamed.get(word, word)
            if kept:
                groups.setdefault(kept, []).append(word)
        for kept, spellings in groups.items():
            if len(spellings) > 1:
                listed = ", ".join(map(repr, spellings))
                remarks.append(f"Column {column}: {listed} are treated as one name, {kept!r}.")
    if changes:
        frame = frame.with_columns(changes)
        found.sample = [rows.with_columns(changes) for rows in found.sample]
        found.usable_rows = [rows.with_columns(changes) for rows in found.usable_rows]
    return frame, tuple(remarks)


def _renamed(column: str, words: set[str]) -> dict[str, str | None]:
    """New spelling by old spelling, for the words that change.

    >>> sorted(_renamed("plane", {"UPPER", "upper", " lower", "G1"}).items())
    [(' lower', 'lower'), ('UPPER', 'upper')]
    """
    kept: dict[str, str] = {}
    for word in sorted(words):  # small letters sort last and are kept
        kept[" ".join(word.casefold().split())] = " ".join(word.split())
    if column == "direction":
        kept = {folded: folded for folded in kept}
    new = {word: kept[" ".join(word.casefold().split())] or None for word in words}
    return {word: name for word, name in new.items() if name != word}
