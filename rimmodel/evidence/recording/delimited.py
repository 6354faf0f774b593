"""How a delimited text file is laid out: its header, separator and decimal mark, and where a row stands.

Logger exports differ in separator and decimal mark, and a wrong guess turns 15,2 mm into two columns without a
word. The layout is therefore read from the file's own bytes first, and only then is the file scanned.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import polars

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
MISSING = ("", "nan", "na", "n/a", "#n/a", "null", "none", "-", "--", "---", "inf", "+inf", "-inf")
"""What a logger or spreadsheet writes for no reading, in small letters."""

_CHUNK = 1 << 22
_LONGEST_HEADER = 1 << 15
_DECIMAL = re.compile(r'[ "]*[+-]?\d*([.,])\d+(?:[eE][+-]?\d+)?[ "]*')


class RecordingError(ValueError):
    """A recording that cannot be read as one; the text names the file, the place, the value and the rule."""


@dataclass(frozen=True)
class Layout:
    """Where the table of a text file starts and how its fields are parted.

    Attributes
    ----------
    line_length : float, B
        Mean of the first lines.
    content : bytes, optional
        UTF-8 text that stands for the file, line by line, where the file itself is in another encoding or ends in
        lines that are no rows.
    """

    path: Path
    header: tuple[str, ...]
    header_line: int
    separator: str
    decimal_comma: bool
    line_length: float
    content: bytes | None = field(default=None, repr=False)

    def open(self) -> BinaryIO:
        """The bytes to read: of the file, or those that were made of it."""
        return self.path.open("rb") if self.content is None else io.BytesIO(self.content)

    def to_scan(self) -> Path | io.BytesIO:
        """What polars scans: an absolute path, so that it takes the file that was named and no other, or bytes."""
        return self.path.absolute() if self.content is None else io.BytesIO(self.content)

    @property
    def rows_expected(self) -> int:
        """Number of rows that a file of this size holds, from the length of its first lines."""
        size = self.path.stat().st_size if self.content is None else len(self.content)
        return max(1, int(size / self.line_length))


def shown(text: str, longest: int = 60) -> str:
    """Text in quotes for a message, cut where it is long.

    >>> shown("14,9 mm")
    "'14,9 mm'"
    """
    text = text.strip("\r\n")
    if len(text) <= longest:
        return repr(text)
    return f"{text[:longest] + '...'!r} ({len(text):,} characters)"


def count(number: int, noun: str) -> str:
    """Number and noun.

    >>> count(1, "row"), count(2, "row")
    ('1 row', '2 rows')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def read_layout(path: Path) -> Layout:
    """Find the header line, the separator and the decimal mark of a text file.

    Parameters
    ----------
    path : Path
        An existing text file; blank lines and lines that start with # before the header are passed over.

    Returns
    -------
    Layout
        The header fields in order with quotes and blanks taken off, and how to read what follows.

    Raises
    ------
    RecordingError
        No header, text that is not UTF-8, no separator, a header field twice.

    """
    with path.open("rb") as file:
        sample = file.read(1 << 16)
    _refuse_returns(path, sample)
    lines = sample.removeprefix(BYTE_ORDER_MARK).splitlines(keepends=True)
    number = next((i for i, line in enumerate(lines) if line.strip() and not _is_comment(line)), None)
    if number is None:
        raise RecordingError(f"{path}: no header found in its first lines; they are blank or comments")
    text = _decode(path, lines[number], number + 1)
    if len(text) > _LONGEST_HEADER:
        raise RecordingError(
            f"{path}, line {number + 1}: {shown(text)} is too long for a header, at most {_LONGEST_HEADER:,}; "
            "write one row per line, and 'speed [rpm],gap [mm]' or the like above them"
        )
    separator = next((mark for mark in "\t;," if mark in text), None)
    if separator is None:
        raise RecordingError(
            f"{path}, line {number + 1}: header {shown(text.strip())} has no comma, semicolon or tab between its "
            "columns; write for example 'speed [rpm], gap [mm]'"
        )
    if text.count('"') % 2:
        raise RecordingError(f"{path}, line {number + 1}: a quotation mark in the header is not closed; close it")
    header = tuple(field.strip() for field in next(csv.reader([text.strip("\r\n")], delimiter=separator)))
    _refuse_twins(path, header, number + 1)
    body = [line for line in lines[number + 1 :] if line.strip()]
    length = max(2.0, sum(map(len, body)) / len(body)) if body else 2.0
    comma = separator != "," and _decimal_mark(path, number + 1, separator, header) == ","
    return Layout(path, header, number + 1, separator, comma, length)


def scan(layout: Layout, types: dict[int, type[polars.DataType]]) -> polars.LazyFrame:
    """Scan the table under the header lazily; columns are named "0", "1", ... by position.

    Parameters
    ----------
    layout : Layout
        Of the file.
    types : dict of int to polars type
        Type by column position; every other column is read as text.

    Returns
    -------
    polars.LazyFrame
        All rows below the header; comment lines left out, short rows filled with nulls.

    """
    import polars as pl

    # without globbing: the file that was named and no other, whatever marks its name holds
    return pl.scan_csv(
        layout.to_scan(),
        glob=False,
        has_header=False,
        missing_columns="insert",
        skip_lines=layout.header_line,
        separator=layout.separator,
        decimal_comma=layout.decimal_comma,
        comment_prefix="#",
        schema={str(i): types.get(i, pl.String) for i in range(len(layout.header))},
    )


def line_scan(layout: Layout) -> polars.LazyFrame:
    """Lines below the header as they stand, comments and blank ones too, in one column "line"."""
    import polars as pl

    return pl.scan_csv(
        layout.to_scan(),
        glob=False,
        has_header=False,
        skip_lines=layout.header_line,
        separator="\x1f",
        quote_char=None,
        encoding="utf8-lossy",
        truncate_ragged_lines=True,
        schema={"line": pl.String},
    )


def line_of_row(layout: Layout, row: int) -> int:
    """Line number in the file of a row counted from 0, as an editor shows it.

    Raises RecordingError when the file has no such row any more.
    """
    with layout.open() as file:
        if not any(b"\n#" in chunk for chunk in iter(lambda: file.read(_CHUNK), b"")):
            return layout.header_line + 1 + row
    for number, line in _body(layout):
        if not _is_comment(line):
            row -= 1
        if row < 0:
            return number
    raise RecordingError(f"{layout.path}: changed while it was read")


def explain(layout: Layout) -> RecordingError:
    """Say at which line a file stops being a table, after the scanner has refused it."""
    for number, line in _body(layout):
        try:
            _decode(layout.path, line, number)
        except RecordingError as error:
            return error
    return RecordingError(
        f"{layout.path} cannot be read as a table; check that every line has {len(layout.header)} cells separated by "
        f"{layout.separator!r}, or save it again as 'CSV UTF-8'"
    )


def text_error(layout: Layout, wanted: int) -> RecordingError | None:
    """The fault of a line that is not UTF-8 text, or None."""
    for number, line in _body(layout):
        if number == wanted:
            try:
                _decode(layout.path, line, number)
            except RecordingError as error:
                return error
            break
    return None


def _body(layout: Layout) -> Iterator[tuple[int, bytes]]:
    """Lines below the header with their numbers from 1."""
    with layout.open() as file:
        for number, line in enumerate(file, start=1):
            if number > layout.header_line:
                yield number, line


def _is_comment(line: bytes) -> bool:
    return line.startswith(b"#")


def _decode(path: Path, line: bytes, number: int) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise RecordingError(
            f"{path}, line {number}: byte 0x{line[error.start]:02X} is not UTF-8 text "
            "(an older Latin-1 export?); save the file again as 'CSV UTF-8'"
        ) from error


def _refuse_twins(path: Path, header: Sequence[str], line: int) -> None:
    for name in header:
        if not "".join(name.split()).isprintable():
            raise RecordingError(
                f"{path}, line {line}: header {shown(name)} contains a control character; type it again"
            )
    twins = sorted({name for name in header if name and header.count(name) > 1})
    if twins:
        raise RecordingError(f"{path}, line {line}: column {twins[0]!r} appears twice; keep only one")


def _refuse_returns(path: Path, sample: bytes) -> None:
    """Refuse lines that end with a carriage return alone, which would make one line of the whole file."""
    if b"\r" in sample and b"\n" not in sample:
        raise RecordingError(
            f"{path}: its lines end with a carriage return alone (an older export?); save it with line feeds"
        )


def _decimal_mark(path: Path, header_line: int, separator: str, header: Sequence[str]) -> str:
    """Return the mark inside the first number with one in a column with a unit; a point when there is none.

    Whole numbers may come first and "2,5" a thousand lines later, so the file is looked through until one is found;
    dates such as 05.01.2024 and remarks stand in columns without a unit and have no effect.
    """
    places = [i for i, name in enumerate(header) if name.endswith("]")]
    with path.open("rb") as file:
        for _ in range(header_line):
            file.readline()
        for line in file:
            if (b"," in line or b"." in line) and not _is_comment(line):
                cells = line.decode("utf-8", "replace").rstrip("\r\n").split(separator)
                for place in places:
                    match = _DECIMAL.fullmatch(cells[place]) if place < len(cells) else None
                    if match:
                        return match[1]
    return "."
