"""A look at the lines below a header before they are read: nothing may be swallowed, shifted or passed over unseen.

One pass counts line ends and separators in the bytes, which a clean file pays little for; only a file whose counts do
not tally, or that holds quotation marks or lines with # is gone through line by line.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rimmodel.evidence.recording.delimited import Layout, RecordingError, count, line_scan, shown, text_error

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars

_CHUNK = 1 << 21
_SPREADSHEET_FAULTS = r"^#(N/A|REF!|VALUE!|DIV/0!|NAME\?|NUM!|NULL!)"


def check_body(layout: Layout, numbers: Mapping[str, int]) -> tuple[str, ...]:
    """Refuse rows that cannot be parted into the columns of the header, and say what looks like a lost row.

    Parameters
    ----------
    layout : Layout
        Of the file.
    numbers : mapping of str to int
        Positions of the columns speed and gap.

    Returns
    -------
    tuple of str
        Remarks in plain sentences: lines with # that hold a full row, rows with too few cells.

    Raises
    ------
    RecordingError
        No row, a row with too many cells, a quotation mark that is not closed, zero bytes.
    """
    tallies, quoted = _tallies(layout)
    if tallies:
        return ()
    import polars as pl

    columns, mark = len(layout.header), layout.separator
    line = pl.col("line")
    comment = line.str.starts_with("#")
    unquoted = line.str.replace_all(r'"[^"]*"', "") if quoted else line
    open_quote = line.str.count_matches('"', literal=True) % 2 == 1 if quoted else pl.lit(False)
    cells = unquoted.str.count_matches(mark, literal=True) + 1
    kind = (
        pl.when(cells == columns).then(pl.when(comment).then(pl.lit("comment")).otherwise(pl.lit("row")))
        .when(line.is_null() | (line.str.strip_chars() == "")).then(pl.lit("blank"))
        .when(comment).then(pl.lit("comment"))
        .when(cells > columns).then(pl.lit("long"))
        .otherwise(pl.lit("short"))
    )  # fmt: skip
    kind = pl.when(open_quote & ~comment).then(pl.lit("quote")).otherwise(kind) if quoted else kind
    lines = line_scan(layout)
    numbered = lines.with_row_index("at")
    extent = (pl.len().alias("number"), pl.col("at").min().alias("first"))
    try:
        counted = numbered.group_by(kind.alias("kind")).agg(*extent).collect(engine="streaming").rows()
        if any(row[0] == "comment" for row in counted):
            rows = numbered.filter(comment).filter(_holds_row(layout, numbers)).select(*extent).collect().row(0)
            counted += [("commented", *rows)] if rows[0] else []
        found = {
            name: (number, layout.header_line + 1 + first, lines.slice(first, 1).collect().item() or "")
            for name, number, first in counted
        }
    except pl.exceptions.PolarsError as error:
        raise RecordingError(f"{layout.path} cannot be read line by line; save it again as 'CSV UTF-8'") from error
    for name in ("quote", "long"):
        if name in found:
            raise _refusal(layout, name, *found[name])
    return tuple(_remarks(layout, found))


def _tallies(layout: Layout) -> tuple[bool, bool]:
    """Find whether the bytes alone show as many cells in every line as in the header, and whether there are quotes.

    Raises RecordingError where there is no body or zero bytes stand in it.
    """
    ends = separators = rest = 0
    blank, last, hashed, quoted = 0, b"\n", False, False
    mark = ord(layout.separator)
    with layout.open() as file:
        for _ in range(layout.header_line):
            file.readline()
        line = layout.header_line + 1
        while chunk := file.read(_CHUNK) + file.readline():
            data = np.frombuffer(chunk, dtype=np.uint8)
            end = data == 10
            # blank lines hold no cells
            blank += int(np.count_nonzero(end[1:] & end[:-1])) + chunk.startswith(b"\n")
            blank += chunk.count(b"\n\r\n") if b"\r" in chunk else 0
            if b"\0" in chunk:
                line += ends + chunk[: chunk.index(0)].count(b"\n")
                raise RecordingError(
                    f"{layout.path}, line {line}: there is a zero byte in the text (was the logger interrupted while "
                    f"writing?); delete whatever is not text"
                )
            ends += int(np.count_nonzero(end))
            separators += int(np.count_nonzero(data == mark))
            rest += len(chunk)
            quoted = quoted or b'"' in chunk
            hashed = hashed or b"#" in chunk
            last = chunk[-1:]
    if not rest:
        raise RecordingError(
            f"{layout.path} holds a header only, in line {layout.header_line}; no usable row stands below it"
        )
    ends += last != b"\n"
    rows = ends - blank
    return not (quoted or hashed) and rows > 0 and separators == (len(layout.header) - 1) * rows, quoted


def _holds_row(layout: Layout, numbers: Mapping[str, int]) -> polars.Expr:
    """True for a line with # that holds a full row: as many cells as the header, with numbers for speed and gap."""
    import polars as pl

    line = pl.col("line")
    cells = line.str.strip_chars_start("# ").str.split(layout.separator)
    reads = []
    for position in numbers.values():
        cell = cells.list.get(position, null_on_oob=True).str.strip_chars(' "\r')
        if layout.decimal_comma:
            cell = cell.str.replace(",", ".", literal=True)
        reads.append(cell.cast(pl.Float64, strict=False).is_not_null())
    full = cells.list.len() == len(layout.header)
    return full & (pl.all_horizontal(reads) | line.str.contains(_SPREADSHEET_FAULTS))


def _refusal(layout: Layout, kind: str, number: int, line: int, text: str) -> RecordingError:
    where = f"{layout.path}, line {line}: "
    rows = "" if number == 1 else f" (and {count(number - 1, 'line')} more)"
    unreadable = text_error(layout, line)
    if unreadable:
        return unreadable
    if kind == "quote":
        return RecordingError(
            f"{where}a quotation mark is opened but not closed in {shown(text)}{rows}, which would hide the rows that "
            f"follow; close or delete it, and keep each remark on one line"
        )
    cells = text.count(layout.separator) + 1
    has = f"{where}{shown(text)} has {cells} fields{rows}, the header has {len(layout.header)}; "
    if text.rstrip().endswith(layout.separator) and cells == len(layout.header) + 1:
        return RecordingError(f"{has}the line ends with a separator: delete it, or end the header with it too")
    if layout.separator == ",":
        return RecordingError(f"{has}decimal commas need a semicolon or tab between the columns")
    return RecordingError(f"{has}delete the surplus fields, or put text that contains the separator in quotation marks")


def _remarks(layout: Layout, found: Mapping[str, tuple[int, int, str]]) -> list[str]:
    remarks = []
    if not found.keys() & {"row", "short"}:
        what = "blank or comments" if found.keys() - {"blank"} else "blank"
        hidden = ""
        if "commented" in found:
            number, line, text = found["commented"]
            hidden = (
                f"; {count(number, 'line')} would be read without the leading # (first in line {line}: "
                f"{shown(text)}): delete it, or put a name that begins with # in quotation marks"
            )
        raise RecordingError(f"{layout.path} has no usable row: all lines below the header are {what}{hidden}")
    if "commented" in found:
        number, line, text = found["commented"]
        what = "1 line begins" if number == 1 else f"{number} lines begin"
        remarks.append(
            f"Doubtful: {what} with # below the header and would be a row without it (first in "
            f"{layout.path}, line {line}: {shown(text)}); they are treated as comments and not used. Delete the # to "
            f"use them."
        )
    if "short" in found:
        number, line, text = found["short"]
        what = "1 row has" if number == 1 else f"{number} rows have"
        remarks.append(
            f"{what} fewer cells than the header (first in {layout.path}, line {line}: {shown(text)}); "
            "the missing cells count as empty."
        )
    return remarks
