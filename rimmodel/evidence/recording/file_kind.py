"""What a file is, by its first bytes, before any of it is taken for a recording."""

from __future__ import annotations

import zipfile
from typing import TYPE_CHECKING

from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.rotor.regular_file import not_a_file

if TYPE_CHECKING:
    from pathlib import Path

SHORTEST_TEXT = 16
"""Bytes below which zero bytes do not distinguish UTF-16 text from anything else."""

_SAMPLE = 1 << 16
_UNPACK = "unpack it and give the CSV or Parquet file inside"
_AGAIN = "open it in the program that made it and save it again as .xlsx, or the table as 'CSV UTF-8'"
_ZIP = b"PK\x03\x04"
_SAVE = "open it in the program that made it and save the table as 'CSV UTF-8'"
_CHART = "read the chart off it with: rimmodel digitise CHART"
_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"\x1f\x8b", "a gzip archive", _UNPACK),
    (b"BZh", "a bzip2 archive", _UNPACK),
    (b"\xfd7zXZ\x00", "an xz archive", _UNPACK),
    (b"\x28\xb5\x2f\xfd", "a Zstandard archive", _UNPACK),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    (b"Rar!", "a rar archive", _UNPACK),
    (b"PK\x05\x06", "an empty zip archive", _UNPACK),
    (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        "a spreadsheet or document of the older binary kind (xls), or has a password",
        "open it where it was made and save it as .xlsx without a password, or its table as 'CSV UTF-8'",
    ),
    (b"%PDF", "a PDF document", _SAVE),
    (b"{\\rtf", "a text document (RTF)", _SAVE),
    (b"\x89PNG", "a picture (PNG)", _CHART),
    (b"\xff\xd8\xff", "a picture (JPEG)", _CHART),
    (b"GIF8", "a picture (GIF)", _CHART),
    (b"\x89HDF", "an HDF5 file", _SAVE),
    (b"SQLite format 3\x00", "a database file", _SAVE),
    (b"ARROW1", "an Arrow file", "save its table as CSV or Parquet"),
    (b"ORC", "an ORC file", "save its table as CSV or Parquet"),
    (b"Obj\x01", "an Avro file", "save its table as CSV or Parquet"),
    (b"\xff\xfe\x00\x00", "UTF-32 text", "save it again as 'CSV UTF-8'"),
    (b"\x00\x00\xfe\xff", "UTF-32 text", "save it again as 'CSV UTF-8'"),
    (b"\xff\xfe", "UTF-16 text", "save it again as 'CSV UTF-8'"),
    (b"\xfe\xff", "UTF-16 text", "save it again as 'CSV UTF-8'"),
)
"""First bytes, what they show, and what to do."""

_TEXTS: tuple[tuple[bytes, str], ...] = (
    (b"<!doctype html", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML file"),
    (b"{", "JSON text"),
    (b"[{", "JSON text"),
    (b"[[", "JSON text, or a case file"),
)


def check_file(path: Path) -> None:
    """Refuse what cannot hold a table: no plain file, an empty file, or a file of another kind. Raises
    RecordingError.
    """
    reason = not_a_file(path, "one CSV, Parquet or .xlsx file")
    if reason:
        raise RecordingError(f"{path}: no such file" if reason.endswith("no such file") else f"{path} {reason}")
    try:
        with path.open("rb") as file:
            start = file.read(_SAMPLE)
    except OSError as error:
        raise RecordingError(f"{path} cannot be opened: {error.strerror}") from error
    if not start.strip():
        raise RecordingError(f"{path} is empty; it must hold a header and at least two rows")
    kind, remedy = ("", "") if is_workbook(path) else _kind(start)
    if kind:
        raise RecordingError(f"{path} is {kind}, not a recording; {remedy}")
    if start.startswith(b"PAR1"):
        if path.stat().st_size < 12:
            raise RecordingError(f"{path} is only the beginning of a Parquet file; copy it again")
    elif b"\0" in start and not start.startswith(_ZIP):
        _refuse_zeros(path, start)


def is_parquet(path: Path) -> bool:
    """Recognise a Parquet file by its first four bytes, whatever it is called.

    >>> from pathlib import Path
    >>> is_parquet(Path(__file__))
    False
    """
    with path.open("rb") as file:
        return file.read(4) == b"PAR1"


def is_workbook(path: Path) -> bool:
    """Tell a workbook (.xlsx) by what is packed in it, whatever it is called.

    >>> from pathlib import Path
    >>> is_workbook(Path(__file__))
    False
    """
    try:
        with path.open("rb") as file:
            if file.read(4) != _ZIP:
                return False
        with zipfile.ZipFile(path) as parts:
            return "xl/workbook.xml" in parts.namelist()
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError):
        return False


def _kind(start: bytes) -> tuple[str, str]:
    """What the first bytes show and what to do; two empty texts where they show nothing."""
    if start.startswith(_ZIP):
        if b"xl/" in start or b"[Content_Types].xml" in start:
            return "a spreadsheet that is damaged, or of another kind than xlsx", _AGAIN
        if b"opendocument.spreadsheet" in start:
            return "a spreadsheet of another kind than xlsx", _AGAIN
        return "a zipped file, perhaps a spreadsheet", "save its table as 'CSV UTF-8', or unpack it"
    for first, kind, remedy in _KINDS:
        if start.startswith(first):
            return kind, remedy
    text = start.removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    for first, kind in _TEXTS:
        if text.startswith(first):
            return kind, "give a CSV table with a header such as 'speed [rpm],gap [mm]'"
    return "", ""


def _refuse_zeros(path: Path, start: bytes) -> None:
    """Say why there are zero bytes in what should be text. Raises RecordingError."""
    if len(start) >= SHORTEST_TEXT and (
        min(start[::2].count(0), start[1::2].count(0))
        < 0.1 * len(start)
        < max(start[::2].count(0), start[1::2].count(0))
    ):
        raise RecordingError(f"{path} is UTF-16 text without a byte order mark; save it again as 'CSV UTF-8'")
    line = start[: start.index(0)].count(b"\n") + 1
    raise RecordingError(
        f"{path} is a binary file, or was truncated while being written: line {line} holds a zero byte; "
        "give CSV text or a Parquet file"
    )
