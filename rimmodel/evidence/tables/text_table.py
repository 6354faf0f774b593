"""A table in a text file of any usual make: its encoding, separator, header, rows of units, and lines around it.

What stands above the header or below the last row is passed over and reported, with its lines; what stands between
rows is not: it is refused where it is met.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rimmodel.evidence.recording.delimited import BYTE_ORDER_MARK, MISSING, Layout, RecordingError, count, shown
from rimmodel.evidence.recording.file_kind import SHORTEST_TEXT
from rimmodel.evidence.tables.clock import looks_like_time
from rimmodel.evidence.tables.heads import Head, read_head
from rimmodel.evidence.tables.unit_words import is_date_form, plain_letters, unit_named

if TYPE_CHECKING:
    from pathlib import Path

SEPARATORS = "\t;|,"
NAMES = {"\t": "tab", ";": "semicolon", "|": "bar", ",": "comma"}
_SAMPLE = 1 << 18
_MOST_ABOVE, _MOST_BELOW, _MOST_UNITS = 300, 60, 4
_NUMBER = re.compile(r"[+-]?[\d.,' \u2019\u00a0\u202f\u2009]*\d[\d.,' \u2019\u00a0\u202f\u2009]*(?:[eE][+-]?\d+)?")
_LABELS = {
    "unit": "unit", "units": "unit", "einheit": "unit", "unité": "unit",
    "plane": "plane", "ebene": "plane", "level": "plane",
    "angle": "angle", "position": "angle", "winkel": "angle", "azimuth": "angle",
    "sensor": "sensor", "probe": "sensor",
}  # fmt: skip


@dataclass(frozen=True)
class TextTable:
    """Where a table stands in a text file, and what its heads say.

    Parameters
    ----------
    layout : Layout
        Its `header_line` is the last line above the first row.
    heads : tuple of Head
        By position.
    words : tuple of str
        How the file was taken apart, in plain sentences.
    first_lines : tuple of str
        The header and the first rows as written.
    line : int
        Of the header, from 1.
    """

    layout: Layout
    heads: tuple[Head, ...]
    words: tuple[str, ...]
    first_lines: tuple[str, ...]
    line: int


def text_of(path: Path) -> tuple[bytes | None, str]:
    """UTF-8 text of a file in another encoding, and the name of that encoding; None where the file is UTF-8.

    Raises RecordingError for bytes that are text in none of the usual encodings.
    """
    name = _utf_16(path)
    if name:
        try:
            return path.read_bytes().decode(name).removeprefix("\ufeff").encode(), "UTF-16"
        except UnicodeDecodeError as error:
            raise RecordingError(f"{path} is UTF-16 text that breaks off; save it again as 'CSV UTF-8'") from error
    with path.open("rb") as file:
        tail = b""
        while chunk := file.read(1 << 22):
            if not tail and chunk.isascii():
                continue
            try:
                (tail + chunk).decode("utf-8")
                tail = b""
            except UnicodeDecodeError as error:
                if error.end >= len(tail + chunk) - 3 and error.reason == "unexpected end of data":
                    tail = (tail + chunk)[error.start :]
                    continue
                return _windows(path)
    return (_windows(path)) if tail else (None, "UTF-8")


def is_utf_16(path: Path) -> bool:
    """Whether a file is UTF-16 text, by its mark or by the zero bytes of plain letters."""
    return bool(_utf_16(path))


def _utf_16(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(_SAMPLE)
    if start.startswith((b"\xff\xfe\0\0", b"\0\0\xfe\xff")):
        return ""  # UTF-32
    if start.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    if b"\0" in start and len(start) >= SHORTEST_TEXT:
        even, odd = start[::2].count(0), start[1::2].count(0)
        if min(even, odd) < 0.05 * len(start) < max(even, odd) and max(even, odd) > 0.3 * len(start):
            return "utf-16-be" if even > odd else "utf-16-le"
    return ""


def _windows(path: Path) -> tuple[bytes, str]:
    content = path.read_bytes()
    if b"\0" in content:
        raise RecordingError(f"{path} is no text: it holds zero bytes and bytes that are not UTF-8")
    for name, words in (("cp1252", "Windows-1252 (Latin-1)"), ("latin-1", "Latin-1")):
        try:
            return content.decode(name).encode(), words
        except UnicodeDecodeError:
            continue
    raise RecordingError(f"{path} is no text in UTF-8, UTF-16 or Latin-1; save it again as 'CSV UTF-8'")


def find_table(
    path: Path, content: bytes | None, *, serves: Callable[[Sequence[Head]], bool], stated_line: int | None = None
) -> TextTable | None:
    """Find the table of a text file; None where no line heads one.

    Parameters
    ----------
    path : Path
        Of the file.
    content : bytes, optional
        UTF-8 text in place of that of the file.
    serves : callable
        Whether heads are those of a recording.
    stated_line : int, optional
        Line of the header, from 1.

    Raises
    ------
    RecordingError
        A row below the header that holds neither numbers nor units.
    """
    with path.open("rb") as file:
        sample = file.read(_SAMPLE) if content is None else content[:_SAMPLE]
    text = sample.removeprefix(BYTE_ORDER_MARK).decode("utf-8", "replace").replace("\r\n", "\n")
    if "\r" in text and "\n" not in text:
        return None
    lines = text.split("\n")
    found = _header(lines, serves, stated_line)
    if found is None:
        return None
    at, separator, cells = found
    heads, body_at, rows_of_units = _with_rows_of_units(path, lines, at, separator, cells)
    body = [line for line in lines[body_at:-1] if line.strip()][:200] or ["x"]
    length = max(2.0, sum(len(line.encode()) + 1 for line in body) / len(body))
    comma = separator != "," and _comma_first(body, separator, heads)
    header = tuple(head.text for head in heads)
    layout = Layout(path, header, body_at, separator, comma, length, content)
    layout, footer = _without_footer(layout, heads)
    words = [f"Columns are separated by a {NAMES[separator]}."]
    words += _above(lines, at)
    words += [rows_of_units] if rows_of_units else []
    words += [footer] if footer else []
    rows = [line for line in lines[body_at:] if line.strip()][:3]
    return TextTable(layout, heads, tuple(words), (lines[at], *lines[at + 1 : body_at], *rows), at + 1)


def cells_of(line: str, separator: str) -> list[str]:
    """Fields of a line without quotes and blanks around them."""
    try:
        return [cell.strip() for cell in next(csv.reader([line.strip("\r\n")], delimiter=separator))]
    except (StopIteration, csv.Error):
        return []


def is_number(cell: str) -> bool:
    """Whether a cell holds digits and marks of numbers alone."""
    return bool(_NUMBER.fullmatch(cell.strip()))


def _header(
    lines: list[str], serves: Callable[[Sequence[Head]], bool], stated: int | None
) -> tuple[int, str, list[str]] | None:
    """Line, separator and fields of the first line whose fields head a recording."""
    places = range(min(len(lines), _MOST_ABOVE)) if stated is None else [stated - 1]
    for at in places:
        if at >= len(lines) or not lines[at].strip() or (stated is None and lines[at].startswith("#")):
            continue
        below = next((line for line in lines[at + 1 :] if line.strip() and not line.startswith("#")), "")
        tried = []
        for separator in SEPARATORS:
            if separator in lines[at] and len(lines[at]) < 1 << 15:
                cells = cells_of(lines[at], separator)
                follow = abs(len(cells_of(below, separator)) - len(cells))
                if serves([read_head(cell) for cell in cells]):
                    tried.append((follow, -len(cells), separator, cells))
        if tried:
            _, _, separator, cells = min(tried)
            return at, separator, cells
    return None


def _with_rows_of_units(
    path: Path, lines: list[str], at: int, separator: str, cells: list[str]
) -> tuple[tuple[Head, ...], int, str]:
    """Heads with what rows of units, planes and angles below the header add; the line of the first row; in words."""
    heads = [read_head(cell) for cell in cells]
    below = at + 1
    said: list[str] = []
    for line in lines[at + 1 :]:
        row = cells_of(line, separator)
        if not line.strip() or line.startswith("#"):
            below += 1
            continue
        if len(said) == _MOST_UNITS or any(is_number(cell) or looks_like_time(cell) for cell in row[1:]):
            label = _LABELS.get(plain_letters(row[0]).strip(" :[]()")) if row else None
            if label not in ("angle", "plane", "sensor"):
                break
        label = _label(row)
        if label is None or len(row) != len(cells):
            break
        heads = [_added(head, label, cell, path, below + 1) for head, cell in zip(heads, row, strict=True)]
        said.append(f"{label}s in line {below + 1}")
        below += 1
    while below > at + 1 and (not lines[below - 1].strip() or lines[below - 1].startswith("#")):
        below -= 1  # blank lines and comments before the first row are read as such
    return tuple(heads), below, f"Below the header: {', '.join(said)}." if said else ""


def _label(row: list[str]) -> str | None:
    """What a row below the header holds: units, planes, angles, names of sensors; None where it is none of them."""
    label = _LABELS.get(plain_letters(row[0]).strip(" :[]()")) if row else None
    if label:
        return label
    known = [bool(unit_named(cell)) or is_date_form(cell) for cell in row]
    filler = [not cell.strip("[](){}<>- ") for cell in row]
    words = sum(known)
    return (
        "unit"
        if words >= 2 and all(a or b or len(c) < 12 for a, b, c in zip(known, filler, row, strict=True))
        else None
    )


def _added(head: Head, label: str, cell: str, path: Path, line: int) -> Head:
    """A head with the cell of a row of units, planes, angles or sensors below it."""
    cell = cell.strip()
    if not cell or plain_letters(cell) in _LABELS:
        return head
    if label == "unit":
        unit = cell.strip("[](){}<> ")
        own = unit_named(head.unit)
        if own and unit_named(unit) and unit_named(unit) != own:
            raise RecordingError(
                f"{path}, line {line}: column {shown(head.text)} is headed with the unit {head.unit!r}, and the row of "
                f"units says {unit!r}; correct the header or the row"
            )
        if not unit.strip("-"):
            return head
        found = read_head(head.text, unit)
        return replace(found, unit=found.unit or unit)
    if head.meaning not in ("gap", "gap_change"):
        return head
    if label == "angle":
        number = cell.rstrip("° ").removesuffix("deg").replace(",", ".").strip()
        if not is_number(number):
            raise RecordingError(f"{path}, line {line}: {shown(cell)} in the row of angles is no angle in degrees")
        return replace(head, angle=float(number), sensor=head.sensor or head.text)
    return (
        replace(head, sensor=head.sensor or head.text, plane=cell) if label == "plane" else replace(head, sensor=cell)
    )


def _comma_first(body: list[str], separator: str, heads: Sequence[Head]) -> bool:
    """Whether the first number with a mark in a column of numbers has a comma; what follows is checked later."""
    used = [place for place, head in enumerate(heads) if head.meaning in ("speed", "gap", "gap_change")]
    for line in body:
        cells = cells_of(line, separator)
        for place in used:
            match = re.fullmatch(r"[+-]?[\d' ]*([.,])\d+(?:[eE][+-]?\d+)?", cells[place] if place < len(cells) else "")
            if match:
                return match[1] == ","
    return False


def _above(lines: list[str], at: int) -> list[str]:
    """What stands above the header, in words."""
    skipped = [(number, line) for number, line in enumerate(lines[:at], 1) if line.strip() and not line.startswith("#")]
    if not skipped:
        return []
    first, text = skipped[0]
    return [
        f"The header is in line {at + 1}; {count(len(skipped), 'line')} above it not used (line {first}: "
        f"{shown(text)})."
    ]


def _without_footer(layout: Layout, heads: Sequence[Head]) -> tuple[Layout, str]:
    """The layout of a file without the lines below its last row, and what those are."""
    with layout.open() as file:
        size = file.seek(0, 2)
        start = file.seek(max(0, size - (1 << 16)))
        tail = file.read()
    lines = tail.split(b"\n")
    if start:
        lines = lines[1:]
    keys = [place for place, head in enumerate(heads) if head.meaning in ("speed", "time", "date")]
    cut, skipped = 0, []
    for line in reversed(lines):
        text = line.decode("utf-8", "replace").strip("\r")
        if text.strip() and not text.startswith("#"):
            if _is_row(cells_of(text, layout.separator), len(heads), keys):
                break
            skipped.append(text)
        cut += len(line) + 1
    else:
        return layout, ""
    if not skipped or len(skipped) > _MOST_BELOW or b"\0" in tail:
        return layout, ""
    with layout.open() as file:
        content = file.read(size - cut + 1)
    words = f"{count(len(skipped), 'line')} below the last row not used (first: {shown(skipped[-1])})."
    return replace(layout, content=content), words


def _is_row(cells: list[str], width: int, keys: Sequence[int]) -> bool:
    """Whether fields can be a row: as many as the header has, with numbers or nothing where speed and time stand."""
    if len(cells) == width:
        read = [cells[place] for place in keys]
        odd = [c for c in read if not (is_number(c) or looks_like_time(c) or c.lower() in MISSING)]
        # a word stands for "mean" or "end"; anything else is a row with a fault, which is refused where it is read
        return not odd or not all(re.match(r"[^\W\d_]", cell) for cell in odd)
    # a row that was cut off while it was written is still a row, and is reported as a short one
    return bool(cells) and all(is_number(cell) or looks_like_time(cell) or not cell for cell in cells)
