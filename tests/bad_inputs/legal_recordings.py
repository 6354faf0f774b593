"""Recordings that are legal though unusual, with speeds and gaps in SI units worked out by hand. All are invented.

By definition 1 in = 25.4 mm, 1 mil = 0.0254 mm, 1 ft = 304.8 mm, and 30 rpm = pi rad/s.
"""

from __future__ import annotations

import io
from math import pi

import polars as pl

from tests.bad_inputs import LegalRecording

SPEED = (pi, 2 * pi, 4 * pi)
"""30, 60 and 120 rpm in rad/s."""

GAP = (0.01502, 0.0149, 0.01451)
TABLE = "speed [rpm],gap [mm]\n30,15.02\n60,14.9\n120,14.51\n"
GERMAN = "speed [rpm];gap [mm]\n30;15,02\n60;14,9\n120;14,51\n"


def _legal(
    name: str,
    text: str | bytes,
    speed: tuple[float, ...] = SPEED,
    gap: tuple[float, ...] = GAP,
    *notes: str,
    file_name: str = "run.csv",
) -> LegalRecording:
    return LegalRecording(name, file_name, text if isinstance(text, bytes) else text.encode(), speed, gap, notes)


def _parquet(columns: dict[str, object]) -> bytes:
    target = io.BytesIO()
    pl.DataFrame(columns).write_parquet(target)
    return target.getvalue()


LEGAL: tuple[LegalRecording, ...] = (
    # units of length
    _legal("inches", "speed [rpm],gap [in]\n30,0.6\n60,0.595\n120,0.58\n", SPEED, (0.01524, 0.015113, 0.014732)),
    _legal("inches in words", "speed [rpm],gap [inch]\n30,0.6\n60,0.5\n", SPEED[:2], (0.01524, 0.0127)),
    _legal("feet", "speed [rpm],gap [ft]\n30,0.05\n60,0.04\n", SPEED[:2], (0.01524, 0.012192)),
    _legal("mils", "speed [rpm],gap [mil]\n30,600\n60,590.5\n", SPEED[:2], (0.01524, 0.0149987)),
    _legal("thou", "speed [rpm],gap [thou]\n30,600\n60,590\n", SPEED[:2], (0.01524, 0.014986)),
    _legal("micrometres", "speed [rpm],gap [um]\n30,15020\n60,14900\n120,14510\n"),
    _legal("micrometres with the micro sign", "speed [rpm],gap [\u00b5m]\n30,15020\n60,14900\n120,14510\n"),
    _legal("micrometres with the Greek letter", "speed [rpm],gap [\u03bcm]\n30,15020\n60,14900\n120,14510\n"),
    _legal(
        "micrometres with three decimals",
        "speed [rpm],gap [um]\n30,15020.000\n60,14900.125\n",
        SPEED[:2],
        (0.01502, 0.014900125),
    ),
    _legal("centimetres", "speed [rpm],gap [cm]\n30,1.502\n60,1.49\n120,1.451\n"),
    _legal("metres", "speed [rpm],gap [m]\n30,0.01502\n60,0.0149\n120,0.01451\n"),
    _legal(
        "micrometres that begin at no change",
        "speed [rpm],gap_change [um]\n30,0.000\n60,-1.250\n120,-14.742\n",
        SPEED,
        (0.0, -1.25e-6, -14.742e-6),
    ),
    # units of speed
    _legal("radians per second", "speed [rad/s],gap [mm]\n3,15.02\n6,14.9\n12,14.51\n", (3.0, 6.0, 12.0)),
    _legal("turns per second", "speed [rps],gap [mm]\n0.5,15.02\n1,14.9\n2,14.51\n"),
    _legal("revolutions per second", "speed [rev/s],gap [mm]\n0.5,15.02\n1,14.9\n2,14.51\n"),
    _legal("degrees per second", "speed [deg/s],gap [mm]\n180,15.02\n360,14.9\n720,14.51\n"),
    _legal("per minute", TABLE.replace("[rpm]", "[1/min]")),
    _legal("per minute as a power", TABLE.replace("[rpm]", "[min^-1]")),
    _legal("per minute as printed", TABLE.replace("[rpm]", "[min-1]")),
    _legal("three decimals in rpm and mm", "speed [rpm],gap [mm]\n30.000,15.020\n60.000,14.900\n120.000,14.510\n"),
    # decimal commas and separators
    _legal("decimal comma with semicolons", GERMAN),
    _legal("decimal comma with tabs", GERMAN.replace(";", "\t")),
    _legal("decimal comma with three digits", "speed [rpm];gap [mm]\n30;15,020\n60;14,900\n120;14,510\n"),
    _legal(
        "decimal comma after whole numbers",
        "speed [rpm];gap [mm]\n30;15\n60;15\n120;14,51\n",
        SPEED,
        (0.015, 0.015, 0.01451),
    ),
    _legal(
        "decimal comma beside dates with points",
        "date;speed [rpm];gap [mm]\n05.01.2024;30;15,02\n05.01.2024;60;14,9\n05.01.2024;120;14,51\n",
    ),
    _legal(
        "a version with a point before decimal commas",
        "version;speed [rpm];gap [mm]\n1.2;30;15,02\n1.2;60;14,9\n1.2;120;14,51\n",
    ),
    _legal("semicolons with decimal points", TABLE.replace(",", ";")),
    _legal("tabs", TABLE.replace(",", "\t"), file_name="run.txt"),
    _legal("blanks after the commas", TABLE.replace(",", ", ")),
    _legal("blanks around everything", TABLE.replace(",", "  ,  ").replace("\n", "  \n")),
    # how the text is stored
    _legal("byte order mark", "\ufeff" + TABLE),
    _legal("carriage returns", TABLE.replace("\n", "\r\n")),
    _legal("no line end at the end", TABLE.rstrip("\n")),
    _legal("blank line below the header", TABLE.replace("[mm]\n", "[mm]\n\n")),
    _legal(
        "blank lines with carriage returns below the header",
        TABLE.replace("[mm]\n", "[mm]\n\n\n").replace("\n", "\r\n"),
    ),
    _legal("blank lines above the header", "\n\n" + TABLE),
    _legal(
        "comments above, between and below",
        "# logger 3\n\n# run 2, cold\n" + TABLE.replace("60,", "# hold\n60,") + "# end\n",
    ),
    _legal(
        "a row with # is said",
        TABLE.replace("120,", "#80,14.7\n120,"),
        SPEED,
        GAP,
        "Doubtful: 1 line begins with #",
        "line 4",
        "'#80,14.7'",
    ),
    _legal(
        "rows with # are counted",
        TABLE + "#130,14.4\n# 140 , 14.3\n#150,14.2\n",
        SPEED,
        GAP,
        "3 lines begin with #",
        "line 5",
    ),
    _legal("a spreadsheet fault for a speed is said", TABLE + "#N/A,14.3\n", SPEED, GAP, "'#N/A,14.3'"),
    _legal(
        "a short row is said", TABLE + "130\n", SPEED, GAP, "1 row has fewer cells", "line 5: '130'", "gap is missing"
    ),
    _legal("a short row first", TABLE.replace("[mm]\n", "[mm]\n20\n"), SPEED, GAP, "1 row has fewer cells", "line 2"),
    _legal(
        "a number of 400 digits is left out",
        TABLE + "130," + "9" * 400 + "\n",
        SPEED,
        GAP,
        "1 row left out because gap is missing or not a finite number",
    ),
    _legal("a gap with 400 decimals", TABLE.replace("14.9\n", "14.9" + "0" * 400 + "\n")),
    # headers and fields
    _legal("quoted fields", '"speed [rpm]","gap [mm]"\n"30","15.02"\n"60","14.9"\n"120","14.51"\n'),
    _legal(
        "quoted remarks with commas", 'speed [rpm],note,gap [mm]\n30,"a, b",15.02\n60,"""c"", d",14.9\n120,,14.51\n'
    ),
    _legal(
        "capital letters and blanks in the header", TABLE.replace("speed [rpm],gap [mm]", " SPEED [ rpm ] , Gap[mm] ")
    ),
    _legal("columns the other way round", "gap [mm],speed [rpm]\n15.02,30\n14.9,60\n14.51,120\n"),
    _legal(
        "separator at the end of header and rows", TABLE.replace("\n", ",\n"), SPEED, GAP, "column 3, without a name"
    ),
    _legal(
        "two columns without a name",
        ",," + TABLE.replace("\n", "\n,,").removesuffix(",,"),
        SPEED,
        GAP,
        "column 2, without a name",
    ),
    _legal("scientific notation", "speed [rpm],gap [m]\n3e1,1.502e-2\n6.0E+01,1.49E-02\n1.2e2,1.451e-2\n"),
    _legal("signs and bare points", "speed [rpm],gap [mm]\n+30,+15.02\n60.,14.9\n120,.01451e3\n"),
    _legal(
        "shuffled rows",
        "speed [rpm],gap [mm]\n120,14.51\n30,15.02\n60,14.9\n",
        (4 * pi, pi, 2 * pi),
        (0.01451, 0.01502, 0.0149),
    ),
    _legal(
        "degrees Fahrenheit", "speed [rpm],gap [mm],rim_temperature [degF]\n30,15.02,68\n60,14.9,68\n120,14.51,77\n"
    ),
    _legal("words for no reading", TABLE + "130,n/a\n140,---\n".replace("---", "--"), SPEED, GAP, "2 rows left out"),
    _legal(
        "spellings of a plane",
        "speed [rpm],gap [mm],plane\n30,15.02,upper\n60,14.9,UPPER\n120,14.51,Upper \n",
        SPEED,
        GAP,
        "1 plane: upper",
        "'UPPER', 'Upper ', 'upper' are treated as one name",
    ),
    _legal(
        "spellings of a direction",
        "speed [rpm],gap [mm],direction\n30,15.02,Up\n60,14.9,UP\n120,14.51, up\n",
        SPEED,
        GAP,
        "Column direction",
        "'up'",
    ),
    # what loggers and spreadsheets write instead
    _legal("UTF-16 with a mark", TABLE.encode("utf-16"), SPEED, GAP, "UTF-16"),
    _legal("UTF-16, the large byte first", b"\xfe\xff" + TABLE.encode("utf-16-be"), SPEED, GAP, "UTF-16"),
    _legal("UTF-16 without a mark", TABLE.encode("utf-16-le"), SPEED, GAP, "UTF-16"),
    _legal(
        "Latin-1 in the header",
        "speed [rpm],gap [mm],dur\u00e9e\n30,15.02,1\n60,14.9,1\n120,14.51,1\n".encode("latin-1"),
        SPEED,
        GAP,
        "Latin-1",
    ),
    _legal(
        "Latin-1 degree sign in a unit",
        "speed [rpm],gap [mm],rim_temperature [\u00b0C]\n30,15.02,20\n60,14.9,20\n120,14.51,21\n".encode("latin-1"),
        SPEED,
        GAP,
        "Latin-1",
    ),
    _legal(
        "Latin-1 in a row",
        "speed [rpm],gap [mm],sensor\n30,15.02,a\n60,14.9,caf\u00e9\n120,14.51,a\n".encode("latin-1"),
        SPEED,
        GAP,
        "caf\u00e9",
    ),
    _legal(
        "units in a line of their own", TABLE.replace("speed [rpm],gap [mm]", "speed,gap\nrpm,mm"), SPEED, GAP, "line 2"
    ),
    _legal("unit in round brackets", TABLE.replace("[rpm]", "(rpm)")),
    _legal("bracket not closed", TABLE.replace("[mm]", "[mm")),
    _legal("brackets in brackets", TABLE.replace("[mm]", "[((mm))]")),
    _legal("bars between columns", TABLE.replace(",", "|"), SPEED, GAP, "separated by a bar"),
    _legal("a unit in capital letters", TABLE.replace("[rpm]", "[RPM]")),
    _legal("tenths of a millimetre", "speed [rpm],gap [0.1 mm]\n30,150.2\n60,149\n120,145.1\n"),
    _legal(
        "dates for times",
        "speed [rpm],gap [mm],time [s]\n30,15.02,2024-01-05 10:00:00\n60,14.9,2024-01-05 10:01:00\n"
        "120,14.51,2024-01-05 10:02:00\n",
        SPEED,
        GAP,
        "Time 0 to 120 s",
    ),
    _legal(
        "clock times over midnight",
        "speed [rpm],gap [mm],time [s]\n30,15.02,23:59:30\n60,14.9,00:00:00\n120,14.51,00:01:00\n",
        SPEED,
        GAP,
        "midnight is passed once",
        "Time 0 to 90 s",
    ),
    _legal(
        "blanks between thousands", "speed [rpm],gap [um]\n30,15 020\n60,14 900\n120,14 510\n", SPEED, GAP, "thousands"
    ),
    _legal("apostrophes between thousands", "speed [rpm],gap [um]\n30,15'020\n60,14'900\n120,14'510\n"),
    _legal(
        "points between thousands",
        "speed [rpm];gap [um]\n30;15.020,5\n60;14.900,0\n120;14.510,25\n",
        SPEED,
        (0.0150205, 0.0149, 0.01451025),
        "'.' between thousands",
    ),
    _legal(
        "Parquet of text with decimal commas",
        _parquet({"speed [rpm]": [30, 60, 120], "gap [mm]": ["15,020", "14,9", "14,510"]}),
        SPEED,
        GAP,
        "decimal comma",
        file_name="run.parquet",
    ),
    # names of files
    _legal("brackets in the name", TABLE, file_name="run[1].csv"),
    _legal("a star in the name", TABLE, file_name="run*.csv"),
    _legal("a question mark in the name", TABLE, file_name="run?.csv"),
    _legal("a folder that looks like a column", TABLE, file_name="gap=3/run.csv"),
    _legal(
        "Parquet", _parquet({"speed [rpm]": [30, 60, 120], "gap [mm]": [15.02, 14.9, 14.51]}), file_name="run.parquet"
    ),
    _legal(
        "Parquet in a folder that looks like a column",
        _parquet({"speed [rpm]": [30, 60, 120], "gap [mm]": [15.02, 14.9, 14.51]}),
        SPEED,
        GAP,
        "3 of 3 rows read",
        file_name="sensor=7/run[2].parquet",
    ),
    _legal(
        "Parquet under the name of text",
        _parquet({"speed [rpm]": ["30", " 60", "120"], "gap [mm]": [15.02, 14.9, 14.51]}),
    ),
)
