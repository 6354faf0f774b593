"""Recording files with one fault each, and what the message about it must say. All are invented."""

from __future__ import annotations

import bz2
import gzip
import io
import json
import lzma
import zipfile

import polars as pl

from tests.bad_inputs import BadRecording

HEADER = "speed [rpm],gap [mm]\n"
ROWS = "20,15.02\n40,14.97\n60,14.9\n80,14.8\n100,14.67\n"
TABLE = HEADER + ROWS
COLUMNS = {"speed [rpm]": [20.0, 40.0, 60.0], "gap [mm]": [15.02, 14.97, 14.9]}


def parquet(**columns: object) -> bytes:
    """A Parquet file of the usual columns and more."""
    target = io.BytesIO()
    pl.DataFrame(COLUMNS | columns).write_parquet(target)
    return target.getvalue()


def archive(**files: bytes) -> bytes:
    """A zip archive."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as file:
        for name, content in files.items():
            file.writestr(name.replace("__", "/").replace("_dot_", "."), content)
    return target.getvalue()


def _empty_parquet() -> bytes:
    target = io.BytesIO()
    pl.DataFrame(COLUMNS).head(0).write_parquet(target)
    return target.getvalue()


def _damaged_pages() -> bytes:
    content = bytearray(parquet())
    for place in range(4, 60):
        content[place] ^= 0xFF
    return bytes(content)


def _lists() -> bytes:
    target = io.BytesIO()
    pl.DataFrame({"speed [rpm]": [20.0, 40.0], "gap [mm]": [[15.0, 15.1], [14.9]]}).write_parquet(target)
    return target.getvalue()


def _records() -> bytes:
    target = io.BytesIO()
    pl.DataFrame({"speed [rpm]": [20.0, 40.0], "gap [mm]": [{"a": 15.0}, {"a": 14.9}]}).write_parquet(target)
    return target.getvalue()


def _of(gap: pl.Series) -> bytes:
    target = io.BytesIO()
    pl.DataFrame({"speed [rpm]": pl.Series([20.0, 40.0, 60.0]), "gap [mm]": gap}).write_parquet(target)
    return target.getvalue()


def _text(name: str, text: str, *words: str, file_name: str = "run.csv") -> BadRecording:
    return BadRecording(name, file_name, text.encode(), words)


def _bytes(name: str, content: bytes, *words: str, file_name: str = "run.csv") -> BadRecording:
    return BadRecording(name, file_name, content, words)


_KINDS = (
    _bytes("empty file", b"", "run.csv is empty", "a header and at least two rows"),
    _bytes("blank lines only", b" \n\n\t\n", "run.csv is empty"),
    _text("byte order mark and comments only", "\ufeff# only\n# comments\n", "no header found", "comments"),
    _bytes("gzip under the name of text", gzip.compress(TABLE.encode()), "gzip archive", "unpack it"),
    _bytes("bzip2", bz2.compress(TABLE.encode()), "bzip2 archive", "unpack it"),
    _bytes("xz", lzma.compress(TABLE.encode()), "an xz archive", "unpack it"),
    _bytes("Zstandard", b"\x28\xb5\x2f\xfd" + b"\x04\x00" * 40, "Zstandard archive", "unpack it"),
    _bytes("7z", b"7z\xbc\xaf\x27\x1c" + b"\x00\x04" * 40, "7z archive", "unpack it"),
    _bytes("rar", b"Rar!\x1a\x07\x01\x00" + b"\x04" * 40, "rar archive", "unpack it"),
    _bytes("zip with a table in it", archive(run_dot_csv=TABLE.encode()), "a zipped file", "'CSV UTF-8'", "unpack"),
    _bytes("empty zip", archive(), "an empty zip archive"),
    _bytes(
        "spreadsheet xlsx",
        archive(xl__workbook_dot_xml=b"<x/>"),
        "cannot be read as a workbook",
        "xlsx",
        "'CSV UTF-8'",
        file_name="run.xlsx",
    ),
    _bytes(
        "spreadsheet xls",
        bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600),
        "spreadsheet",
        "xls",
        "'CSV UTF-8'",
        file_name="run.xls",
    ),
    _bytes("PDF", b"%PDF-1.7\n%\xe2\xe3", "a PDF document"),
    _bytes("RTF", rb"{\rtf1\ansi speed}", "a text document (RTF)"),
    _bytes("PNG", b"\x89PNG\r\n\x1a\n" + bytes(20), "a picture (PNG)", "rimmodel digitise CHART"),
    _bytes("JPEG", b"\xff\xd8\xff\xe0" + bytes(20), "a picture (JPEG)"),
    _bytes("HDF5", b"\x89HDF\r\n\x1a\n" + bytes(20), "an HDF5 file"),
    _bytes("database", b"SQLite format 3\x00" + bytes(84), "a database file"),
    _bytes("Arrow", b"ARROW1\x00\x00" + bytes(50), "an Arrow file", "CSV or Parquet"),
    _text("web page", "<!DOCTYPE html>\n<html><table></table></html>", "a web page", "speed [rpm],gap [mm]"),
    _text("XML", "<?xml version='1.0'?><rows/>", "an XML file"),
    _text("JSON", json.dumps({"speed [rpm]": [1, 2], "gap [mm]": [3, 4]}), "JSON text"),
    _text("JSON rows", '[{"speed [rpm]": 1, "gap [mm]": 15}]', "JSON text"),
    _bytes("binary", bytes(range(256)) * 20, "binary file", "line 1 holds a zero byte"),
    _bytes("zeros at the end, power lost", TABLE.encode() + bytes(500), "truncated", "line 7 holds a zero byte"),
    _bytes(
        "zeros far down",
        (HEADER + "20,15.02\n" * 9000).encode() + bytes(9),
        "line 9002",
        "zero byte",
        "interrupted while writing",
    ),
    _bytes("UTF-32", TABLE.encode("utf-32"), "UTF-32 text", "'CSV UTF-8'"),
    _bytes("carriage returns alone", TABLE.replace("\n", "\r").encode(), "carriage return alone", "line feeds"),
)

_HEADERS = (
    _text("header only", HEADER, "holds a header only", "line 1", "no usable row"),
    _text("header without a line end", HEADER.strip(), "holds a header only"),
    _text("header and blank lines", HEADER + "\n\n\n", "no usable row", "below the header are blank"),
    _text("header and comments", HEADER + "# a\n# b\n", "no usable row", "blank or comments"),
    _text("no header", ROWS, "column speed is missing", "the header is missing"),
    _text("header in a comment", "# " + TABLE, "column speed is missing", "hidden in a comment line"),
    _text("header twice", HEADER + TABLE, "line 2", "'speed [rpm]' is not a number"),
    _text("no unit of speed", TABLE.replace(" [rpm]", ""), "'speed' has no unit", "'speed [rpm]'"),
    _text("no unit of gap", TABLE.replace(" [mm]", ""), "'gap' has no unit", "'gap [mm]'"),
    _text("empty unit", TABLE.replace("[mm]", "[]"), "'gap []' has no unit"),
    _text("speed missing", TABLE.replace("speed", "voltage"), "column speed is missing", "'voltage [rpm]'"),
    _text("gap missing", TABLE.replace("gap [mm]", "remark"), "column gap is missing", "'gap [mm]'"),
    _text("misspelt gap", TABLE.replace("gap", "gab"), "column gap is missing", "'gab [mm]' meant"),
    _text("the same header twice", "speed [rpm],gap [mm],gap [mm]\n1,2,3\n", "line 1", "'gap [mm]' appears twice"),
    _text("two speeds", "speed [rpm],Speed [rad/s],gap [mm]\n1,2,3\n", "'Speed [rad/s]' are both speed"),
    _text("two gaps in two units", "speed [rpm],gap [mm],gap [um]\n1,2,3\n", "'gap [um]' are both gap", "keep one"),
    _text("blanks between columns", TABLE.replace(",", " "), "line 1", "no comma, semicolon or tab"),
    _text("one column", "speed [rpm]\n20\n40\n", "line 1", "no comma, semicolon or tab"),
    _text(
        "a case file",
        'title = "x"\n[rim]\ninner_radius = "3 m"\n',
        "line 1",
        "no comma, semicolon or tab",
        file_name="unit.toml",
    ),
    _text("endless header", "x" * 200_000 + "\n" + ROWS, "line 1", "too long for a header"),
    _text("quotation mark in the header", '"speed [rpm],gap [mm]\n' + ROWS, "line 1", "quotation mark", "not closed"),
    _text("gap in a unit of speed", TABLE.replace("[mm]", "[rpm]"), "'gap [rpm]'", "does not measure"),
    _text("gap in a unit of mass", TABLE.replace("[mm]", "[kg]"), "'gap [kg]'", "does not measure"),
    _text("speed in a unit of length", TABLE.replace("[rpm]", "[mm]"), "'speed [mm]'", "does not measure"),
    _text("speed along the rim", TABLE.replace("[rpm]", "[m/s]"), "'speed [m/s]'", "does not measure a speed"),
    _text("time in degrees", "speed [rpm],gap [mm],time [deg]\n20,15,1\n", "'time [deg]'", "does not measure a time"),
    _text(
        "temperature in seconds",
        "speed [rpm],gap [mm],rim_temperature [s]\n20,15,1\n",
        "'rim_temperature [s]'",
        "does not measure a temperature",
    ),
    _text("angle in millimetres", "speed [rpm],gap [mm],angle [mm]\n20,15,1\n", "does not measure an angle"),
    _text("unknown unit", TABLE.replace("[mm]", "[mmm]"), "'gap [mmm]'", "unknown"),
    _text("turns or grid", TABLE.replace("[rpm]", "[Hz]"), "'speed [Hz]'", "'rad/s'", "rps"),
    _text("per second of what", TABLE.replace("[rpm]", "[1/s]"), "'speed [1/s]'", "'rad/s'"),
    _text(
        "powers to be worked out", TABLE.replace("[mm]", "[9**9**9*mm]"), "'gap [9**9**9*mm]'", "not written as a unit"
    ),
    _text("a power without end", TABLE.replace("[mm]", "[mm^99999999]"), "not written as a unit"),
    _text(
        "a product without end",
        TABLE.replace("[mm]", "[" + "mm*" * 3000 + "mm]"),
        "(9,008 characters)",
        "not written as a unit",
    ),
    _text("code as a unit", TABLE.replace("[mm]", "[__import__('os')]"), "not written as a unit"),
)

_CELLS = (
    _text("a cell too many", TABLE + "130,14,9\n", "line 7", "'130,14,9' has 3 fields", "the header has 2"),
    _text(
        "decimal commas between commas",
        "speed [rpm],gap [mm]\n20,15,02\n40,14,97\n",
        "line 2",
        "3 fields",
        "decimal commas need a semicolon or tab",
    ),
    _text(
        "separator at the end of rows",
        HEADER + ROWS.replace("\n", ",\n"),
        "line 2",
        "3 fields",
        "4 lines more",
        "ends with a separator",
    ),
    _text("a semicolon too many", "speed [rpm];gap [mm]\n20;15\n40;14;9\n", "line 3", "3 fields", "quotation marks"),
    _text("a cell too many far down", HEADER + "20,15.02\n" * 40_000 + "30,14,9\n", "line 40002", "3 fields"),
    _text("a row in semicolons", HEADER + "20;15\n40;14.9\n", "line 2", "'20;15' is not a number"),
    _text("a quotation mark in a number", HEADER + '20,15\n40,"14.9\n60,14.8\n', "line 3", "not closed"),
    _text(
        "quotation marks around rows",
        'speed [rpm],gap [mm],note\n20,15,a\n40,14.9,"b\n60,14.8,c\n80,14.7,d"\n',
        "line 3",
        "hide the rows",
        "1 line more",
    ),
    _text(
        "an inch mark in a remark",
        'speed [rpm],gap [mm],note\n20,15,5" rim\n40,14.9,b\n',
        "line 2",
        "quotation mark is opened but not closed",
    ),
    _text("a word for a gap", TABLE.replace("14.9\n", "closed\n"), "line 4", "'gap [mm]'", "'closed' is not a number"),
    _text("a word for a speed", TABLE.replace("60,", "sixty,"), "line 4", "'speed [rpm]'", "'sixty' is not a number"),
    _text("true for a gap", TABLE.replace("14.9\n", "true\n"), "line 4", "'true' is not a number"),
    _text("a unit in a cell", TABLE.replace("14.9\n", "14.9 mm\n"), "line 4", "'14.9 mm'", "unit in the header"),
    _text("a dash for a minus", "speed [rpm],gap_change [mm]\n20,0\n40,\u22120.4\n", "line 3", "a dash", "minus sign"),
    _text("two points in a number", TABLE.replace("14.9\n", "14.9.1\n"), "line 4", "'14.9.1' is not a number"),
    _text("a hexadecimal number", TABLE.replace("60,", "0x3c,"), "line 4", "'0x3c' is not a number"),
    _text("a question mark behind a number", TABLE.replace("14.9\n", "14.9?\n"), "line 4", "'14.9?' is not a number"),
    _text("a sum", TABLE.replace("14.9\n", "14+0.9\n"), "line 4", "'14+0.9' is not a number"),
    _text("spreadsheet fault", TABLE.replace("14.9\n", "#VALUE!\n"), "line 4", "'#VALUE!' is not a number"),
    _text(
        "commas between thousands in quotation marks",
        'speed [rpm],gap [um]\n20,"15,020"\n40,"14,970"\n',
        "line 2",
        "15020 or as 15.020",
    ),
    _text(
        "point or thousands in micrometres",
        "speed [rpm],gap [um]\n20,15.020\n40,14.970\n60,14.742\n",
        "line 2",
        "'15.020' can be read as 15020 or as 15.020",
    ),
    _text(
        "comma or thousands in micrometres",
        "speed [rpm];gap [um]\n20;15,020\n40;14,970\n",
        "line 2",
        "'15,020' can be read as 15020 or as 15.020",
    ),
    _text(
        "speed turned to thousandths",
        "speed [rpm],gap [mm]\n800,15.1\n900,15.0\n1.000,14.9\n1.100,14.8\n",
        "line 4",
        "'1.000' can be read as 1000 or as 1.000",
    ),
    _text(
        "time turned to thousandths",
        "speed [rpm],gap [mm],time [s]\n20,15.1,500\n40,15.02,900\n60,14.93,1.200\n",
        "line 4",
        "'1.200' can be read as 1200 or as 1.200",
    ),
    _text(
        "a point among commas", "speed [rpm];gap [mm]\n20,5;15,02\n40,5;14.97\n", "line 3", "'14.97'", "decimal commas"
    ),
    _text(
        "thousands among commas",
        "speed [rpm];gap [mm]\n20,5;15.020\n40,5;14.970\n",
        "line 2",
        "15020 or as 15.020",
        "decimal commas",
    ),
    _text(
        "a comma among points",
        "speed [rpm];gap [mm]\n20.5;15.02\n40.5;14,9\n",
        "line 3",
        "'14,9'",
        "decimal mark is '.'",
    ),
    _text(
        "a comma among points in thousands",
        "speed [rpm];gap [mm]\n20;15.02\n40;14,970\n",
        "line 3",
        "14970 or as 14.970",
    ),
    _text(
        "a line without end",
        TABLE + "120," + "x" * 3_000_000 + "\n",
        "line 7",
        "(3,000,000 characters)",
        "is not a number",
    ),
    _text("a row without end", TABLE + "1," * 200_000 + "\n", "line 7", "200001 fields", "the header has 2"),
    _text(
        "400 digits and a letter", TABLE + "120," + "9" * 400 + "x\n", "line 7", "(401 characters)", "is not a number"
    ),
    _text("400 digits in every gap", HEADER + ("20," + "9" * 400 + "\n") * 3, "no usable row", "not a finite number"),
    _text("every gap empty", "speed [rpm],gap [mm]\n20,\n40,\n", "no usable row", "gap is missing"),
    _text("every row short", HEADER + "20\n40\n", "no usable row", "gap is missing or not a finite number in 2 rows"),
    _text("every row commented", HEADER + "#20,15\n#40,14.9\n", "no usable row", "comments"),
)

_PARQUET = (
    _bytes("Parquet cut off at once", b"PAR1", "beginning of a Parquet file", file_name="run.parquet"),
    _bytes("Parquet of zeros", b"PAR1" + bytes(200), "Parquet file is damaged", file_name="run.parquet"),
    _bytes("Parquet cut in half", parquet()[:300], "Parquet file is damaged", file_name="run.parquet"),
    _bytes("Parquet with damaged pages", _damaged_pages(), "Parquet file is damaged", file_name="run.parquet"),
    _bytes("Parquet without rows", _empty_parquet(), "no usable row", "no row", file_name="run.parquet"),
    _bytes("Parquet of lists", _lists(), "'gap [mm]' holds lists or records", file_name="run.parquet"),
    _bytes("Parquet of records", _records(), "'gap [mm]' holds lists or records", file_name="run.parquet"),
    _bytes(
        "Parquet with a list of sensors",
        parquet(sensor=[["a"], ["b"], ["c"]]),
        "'sensor' holds lists or records",
        file_name="run.parquet",
    ),
    _bytes(
        "Parquet of true and false",
        _of(pl.Series([True, False, True])),
        "true and false, not numbers",
        file_name="run.parquet",
    ),
    _bytes("Parquet of bytes", _of(pl.Series([b"a", b"b", b"c"])), "bytes, not numbers", file_name="run.parquet"),
    _bytes(
        "Parquet of dates",
        _of(pl.Series(["2024-01-05"] * 3).str.to_date()),
        "dates or clock times",
        file_name="run.parquet",
    ),
    _bytes(
        "Parquet of categories",
        _of(pl.Series(["15", "14", "13"], dtype=pl.Categorical)),
        "categories of text",
        file_name="run.parquet",
    ),
    _bytes(
        "Parquet of words",
        _of(pl.Series(["15", "14", "closed"])),
        "row 3",
        "'closed' is not a number",
        file_name="run.parquet",
    ),
    _bytes(
        "Parquet of nothing",
        _of(pl.Series([None, None, None])),
        "no usable row",
        "gap is missing",
        file_name="run.parquet",
    ),
    _bytes(
        "Parquet with a time without unit", parquet(time=[1.0, 2.0, 3.0]), "'time' has no unit", file_name="run.parquet"
    ),
)

_DOUBTS = (
    _text(
        "speeds past a thousand with commas",
        "speed [rpm];gap [mm]\n250;15\n500;14\n750;13\n1,000;12\n1,250;11\n",
        "line 5",
        "'1,000'",
        "1000 or as 1.000",
    ),
    _text(
        "speeds past a thousand with points",
        "speed [rpm];gap [mm]\n300;15\n700;13\n1.000;12\n1.250;11\n",
        "line 4",
        "'1.000'",
        "1000 or as 1.000",
    ),
    _text(
        "decimals in a column without a name",
        "speed [rpm],gap [mm],\n20,15,02\n40,14,97\n",
        "line 2",
        "'02'",
        "column 3",
        "no name",
        "decimals",
    ),
    _text(
        "speed split by its decimal comma",
        "gap [mm],speed [rpm],,remark\n15,20,5,a\n14,40,5,b\n",
        "line 2",
        "'5'",
        "column 3",
        "no name",
    ),
    _text(
        "control character in a header", "speed [rpm],gap [mm],no\x1b[31mte\n20,15,1\n", "line 1", "control character"
    ),
    _text("header turned round", "speed [rpm],gap [mm],no\u202ete\n20,15,1\n", "line 1", "control character"),
    _text(
        "control character in a plane",
        "speed [rpm],gap [mm],plane\n20,15,up\x07per\n40,14,lower\n",
        "column plane",
        "'up\\x07per'",
        "control character",
    ),
    _text(
        "sensor turned round",
        "speed [rpm],gap [mm],sensor\n20,15,G\u202e1\n40,14,G2\n",
        "column sensor",
        "control character",
    ),
    _text(
        "sensor name without end",
        f"speed [rpm],gap [mm],sensor\n20,15,{'G' * 2_000_000}\n40,14,G2\n",
        "column sensor",
        "2,000,000 characters",
        "too long for a name",
    ),
    _text(
        "readings for sensor names",
        "speed [rpm],gap [mm],sensor\n" + "".join(f"{i % 90},15,{7 * i}\n" for i in range(5000)),
        "column sensor",
        "5000 different names",
    ),
    _text(
        "excitation without end",
        f"speed [rpm],gap [mm],excitation\n20,15,{'on' * 500}\n40,14,off\n",
        "column excitation",
        "1,000 characters",
    ),
    _text("error of a spreadsheet", "speed [rpm],gap [mm]\n20,15\n40,#DIV/0!\n", "line 3", "'#DIV/0!'", "spreadsheet"),
    _text("exponent with a D", "speed [rpm],gap [mm]\n2D1,15\n4D1,14\n", "line 2", "'2D1'", "exponent"),
    _text(
        "sensor names that begin with a comment mark",
        "sensor,speed [rpm],gap [mm]\n#1,20,15\n#2,40,14.9\n",
        "no usable row",
        "2 lines",
        "line 2",
        "'#1,20,15'",
        "quotation marks",
    ),
)

CASES: tuple[BadRecording, ...] = (*_KINDS, *_HEADERS, *_CELLS, *_PARQUET, *_DOUBTS)
