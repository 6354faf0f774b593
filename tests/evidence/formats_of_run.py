"""Every usual way of storing the invented run, each with what is to become of it."""

from __future__ import annotations

import datetime
from typing import Any

import numpy as np
import polars as pl

from tests.evidence.one_run import (
    ANGLES,
    PLANES,
    POLES,
    RATED,
    SENSORS,
    START,
    TIMES,
    Format,
    frame,
    heads,
    long,
    number,
    parquet,
    seconds,
    sheet_rows,
    stamp,
    wide,
    workbook,
)

MOMENTS = [START + datetime.timedelta(seconds=t) for t in TIMES]
DAYS = [(moment - datetime.datetime(1899, 12, 30)).total_seconds() / 86400.0 for moment in MOMENTS]
MILS = 1.0 / 0.0254

VOLTS = "".join(
    f'columns."AI {i + 1}" = {{ sensor = "{name}", plane = "{PLANES[i]}", angle = "{ANGLES[i]:.0f} deg", unit = "V", '
    'gain = "2.5 mm/V", offset = "5 mm" }\n'
    for i, name in enumerate(SENSORS)
)
CURRENTS = "".join(
    f'columns."AI {i + 1}" = {{ sensor = "{name}", unit = "mA", table = [["4 mA", "5 mm"], ["20 mA", "25 mm"]] }}\n'
    for i, name in enumerate(SENSORS)
)
MAP = 'columns."n_rot" = { meaning = "speed", unit = "rpm" }\n' + "".join(
    f'columns."CH{i + 1}" = {{ sensor = "{name}", plane = "{PLANES[i]}", angle = "{ANGLES[i]:.0f} deg", '
    'unit = "mm" }\n'
    for i, name in enumerate(SENSORS)
)
META = "Unit;Invented 1\nOperator;nobody\nSampled every;30 s\n\n"


def _swiss(value: float) -> str:
    return number(value * 1000.0, 1, ".", "'")


def _text(name: str, text: str, *, encoding: str = "utf-8", **more: Any) -> Format:
    return Format(name, lambda: text.encode(encoding), **more)


def formats() -> tuple[Format, ...]:
    """Every way of storing the run that is tried."""
    return (
        *_separators(),
        *_encodings(),
        *_heads(),
        *_units(),
        *_numbers(),
        *_times(),
        *_around(),
        *_binaries(),
        *_mapped(),
        *_refused(),
    )


def _separators() -> list[Format]:
    mark = {"mark": ","}
    return [
        _text("long, as the house has it", long("time [s],speed [rpm],gap [mm],sensor,plane", seconds())),
        _text(
            "long with angles",
            long("time [s],speed [rpm],gap [mm],sensor,plane,angle [deg]", seconds(), angle=True),
            angles=True,
        ),
        _text("long with other heads", long("Time (s);Speed (RPM);Air gap (mm);Probe;Plane", seconds(), separator=";")),
        _text("wide, comma", wide(heads(), seconds())),
        _text("wide, semicolon", wide(heads(), seconds(), separator=";")),
        _text("wide, tab", wide(heads(), seconds(), separator="\t"), file_name="run.txt"),
        _text("wide, bar", wide(heads(), seconds(), separator="|"), file_name="run.dat"),
        _text("wide, decimal comma and semicolon", wide(heads(), seconds(mark=","), separator=";", **mark)),
        _text("wide, decimal comma and tab", wide(heads(), seconds(mark=","), separator="\t", **mark)),
        _text("wide, decimal comma and bar", wide(heads(), seconds(mark=","), separator="|", **mark)),
        _text(
            "wide, decimal comma in quotes",
            wide(heads(), seconds(mark=","), quote=True, **mark),
            says=("decimal comma",),
        ),
        _text("wide, everything in quotes", wide(heads(), seconds(), quote=True)),
        _text("wide, blanks after commas", wide(heads(), seconds(), separator=", ")),
        _text("wide, carriage returns", wide(heads(), seconds(), end="\r\n")),
        _text(
            "wide, separator at the end of lines",
            wide([*heads(), ""], seconds()).replace("\n", ",\n").replace(",,\n", ",\n", 1),
        ),
        _text("wide, no time", wide(heads(""), None), time=False),
        _text(
            "wide, in capitals",
            wide([head.upper() for head in heads("TIME [S]", "SPEED [RPM]", "GAP {number} [MM]")], seconds()),
        ),
        _text("wide, speed last", _turned_round()),
    ]


def _turned_round() -> str:
    rows = [line.split(",") for line in wide(heads(), seconds()).splitlines()]
    return "\n".join(",".join(reversed(row)) for row in rows) + "\n"


def _encodings() -> list[Format]:
    text, degree = wide(heads(), seconds()), wide([*heads(gap="{} {angle}\u00b0 [mm]")], seconds())
    return [
        _text("byte order mark", "\ufeff" + text),
        _text("UTF-16, little end first", "\ufeff" + text, encoding="utf-16-le", says=("UTF-16",)),
        _text("UTF-16, large end first", "\ufeff" + text, encoding="utf-16-be", says=("UTF-16",)),
        _text("UTF-16 without a mark", text, encoding="utf-16-le", says=("UTF-16",)),
        _text("Latin-1", degree, encoding="latin-1", says=("Latin-1",), angles=True),
        _text("Windows-1252", text + "# \u2013 end\n", encoding="cp1252", says=("1252",)),
        _text(
            "UTF-16 with tabs and decimal commas",
            "\ufeff" + wide(heads(), seconds(mark=","), separator="\t", mark=","),
            encoding="utf-16-le",
        ),
    ]


def _heads() -> list[Format]:
    say = {
        "round brackets": heads("Time (s)", "Speed (rpm)", "Gap {number} (mm)"),
        "curly brackets": heads("time {s}", "speed {rpm}", "{} {{mm}}"),
        "underscores": heads("time_s", "speed_rpm", "gap_{number}_mm"),
        "bars before units": heads("t / s", "n / min-1", "G{number} / mm"),
        "commas before units": heads('"Time, s"', '"Rotor speed, rpm"', '"Gap {number}, mm"'),
        "planes and angles": heads("time [s]", "speed [rpm]", "Air gap {plane} {angle}\u00b0 [mm]"),
        "planes and angles joined": heads("time_s", "speed_rpm", "gap_{plane}_{angle}deg_mm"),
        "small camels": heads("Time [s]", "RotorSpeed [rpm]", "AirGap{number} [mm]"),
        "German": heads("Zeit [s]", "Drehzahl [min-1]", "Luftspalt {number} [mm]"),
        "French": heads("Temps [s]", "Vitesse [tr/min]", "Entrefer {number} [mm]"),
        "Spanish": heads("Tiempo [s]", "Velocidad [rpm]", "Entrehierro {number} [mm]"),
        "AG numbers": heads("Time [s]", "RPM", "AG{number:02d} [mm]"),
        "sensors by S": heads("time [s]", "speed [rpm]", "S{number} [mm]"),
        "channels": heads("time [s]", "speed [rpm]", "Channel {number} [mm]"),
        "means named": heads("time [s]", "mean speed [rpm]", "Gap {number} mean [mm]"),
        "turns per minute in words": heads("time [s]", "speed [1/min]", "{} [mm]"),
        "superscript": heads("time [s]", "n [min\u207b\u00b9]", "{} [mm]"),
    }
    angled = ("planes and angles", "planes and angles joined")
    return [_text(f"heads: {name}", wide(row, seconds()), angles=name in angled) for name, row in say.items()]


def _units() -> list[Format]:
    plain = heads("time", "speed", "{}")
    row = ",".join(["s", "rpm", *["mm"] * 6])
    planes = "\n".join([",".join(["plane", "", *PLANES]), ",".join(["angle", "", *(f"{a:.0f}" for a in ANGLES)])])
    in_mil = lambda value: number(value * MILS, 6)  # noqa: E731
    return [
        _text("row of units", wide(plain, seconds(), under=row), says=("units in line 2",)),
        _text("row of units in brackets", wide(plain, seconds(), under=",".join(f"[{u}]" for u in row.split(",")))),
        _text("rows of units, planes and angles", wide(plain, seconds(), under=f"{row}\n{planes}"), angles=True),
        _text("micrometres", wide(heads(gap="{} [um]"), seconds(), gap=lambda v: number(v * 1000.0, 0))),
        _text(
            "micrometres with the sign", wide(heads(gap="{} [\u00b5m]"), seconds(), gap=lambda v: number(v * 1000.0, 0))
        ),
        _text("centimetres", wide(heads(gap="{} [cm]"), seconds(), gap=lambda v: number(v / 10.0, 3))),
        _text("metres", wide(heads(gap="{} [m]"), seconds(), gap=lambda v: number(v / 1000.0, 5))),
        _text("tenths of a millimetre", wide(heads(gap="{} [0.1 mm]"), seconds(), gap=lambda v: number(v * 10.0, 1))),
        _text(
            "hundredths of a millimetre",
            wide(heads(gap="{} [1/100 mm]"), seconds(), gap=lambda v: number(v * 100.0, 0)),
        ),
        _text("mils", wide(heads(gap="{} [mil]"), seconds(), gap=in_mil), digits=1e-7),
        _text("inches", wide(heads(gap="{} (in)"), seconds(), gap=lambda v: number(v / 25.4, 8)), digits=1e-6),
        _text(
            "radians per second",
            wide(heads(speed="speed [rad/s]"), seconds(), speed=lambda v: number(v * np.pi / 30.0, 12)),
        ),
        _text("turns per second", wide(heads(speed="speed [rps]"), seconds(), speed=lambda v: number(v / 60.0, 12))),
        _text(
            "hertz of the rotor",
            wide(heads(speed="speed [Hz]"), seconds(), speed=lambda v: number(v / 60.0, 12)),
            says=("turns per second",),
        ),
        _text(
            "hertz of the grid",
            wide(heads(speed="speed [Hz]"), seconds(), speed=lambda v: number(v * POLES / 120.0, 12)),
            says=("frequency of the grid",),
        ),
        _text(
            "per cent of rated",
            wide(heads(speed="speed [%]"), seconds(), speed=lambda v: number(v / RATED * 100.0, 6)),
            says=("of rated speed",),
        ),
        _text(
            "per cent of rated in words",
            wide(heads(speed="Speed (% of rated)"), seconds(), speed=lambda v: number(v / RATED * 100.0, 6)),
        ),
        _text("per unit", wide(heads(speed="n [p.u.]"), seconds(), speed=lambda v: number(v / RATED, 8))),
        _text("milliseconds", wide(heads("t [ms]"), seconds(0, 1000.0))),
        _text("minutes", wide(heads("time (min)"), seconds(2, 1.0 / 60.0))),
        _text("hours", wide(heads("time [h]"), seconds(12, 1.0 / 3600.0))),
    ]


def _numbers() -> list[Format]:
    um = heads(gap="{} [um]")
    return [
        _text(
            "points between thousands",
            wide(um, seconds(mark=","), separator=";", mark=",", gap=lambda v: number(v * 1000.0, 1, ",", ".")),
            says=("between thousands",),
        ),
        _text(
            "commas between thousands",
            wide(um, seconds(), quote=True, gap=lambda v: number(v * 1000.0, 1, ".", ",")),
            says=("between thousands",),
        ),
        _text(
            "apostrophes between thousands", wide(um, seconds(), separator=";", gap=_swiss), says=("between thousands",)
        ),
        _text(
            "blanks between thousands",
            wide(um, seconds(mark=","), separator=";", mark=",", gap=lambda v: number(v * 1000.0, 1, ",", " ")),
        ),
        _text(
            "hard blanks between thousands",
            wide(um, seconds(), separator=";", gap=lambda v: number(v * 1000.0, 0, ".", "\u00a0")),
        ),
        _text("powers of ten", wide(heads(), seconds(), gap=lambda v: f"{v:.6E}", speed=lambda v: f"{v:.3e}")),
        _text(
            "powers of ten with decimal commas",
            wide(heads(), seconds(mark=","), separator=";", mark=",", gap=lambda v: f"{v:.6E}".replace(".", ",")),
        ),
        _text(
            "three decimals in millimetres",
            wide(heads(), seconds(3), gap=lambda v: number(v, 3), speed=lambda v: number(v, 3)),
        ),
        _text(
            "three decimals after commas",
            wide(
                heads(),
                seconds(3, mark=","),
                separator=";",
                gap=lambda v: number(v, 3, ","),
                speed=lambda v: number(v, 3, ","),
            ),
        ),
    ]


def _times() -> list[Format]:
    day = [moment.strftime("%d.%m.%Y") for moment in MOMENTS]
    clock = [moment.strftime("%H:%M:%S") for moment in MOMENTS]
    two = wide(["date", *heads("clock")], [f"{d},{c}" for d, c in zip(day, clock, strict=True)])
    return [
        _text("ISO with T", wide(heads("time"), stamp("%Y-%m-%dT%H:%M:%S"))),
        _text("ISO with a blank", wide(heads("Timestamp"), stamp("%Y-%m-%d %H:%M:%S.%f"))),
        _text("ISO with Z", wide(heads("Time (UTC)"), stamp("%Y-%m-%dT%H:%M:%SZ"))),
        _text("ISO with a zone", wide(heads("time"), stamp("%Y-%m-%dT%H:%M:%S+01:00"))),
        _text("European with points", wide(heads("Datum/Zeit"), stamp("%d.%m.%Y %H:%M:%S"), separator=";")),
        _text("European with bars", wide(heads("Date"), stamp("%d/%m/%Y %H:%M:%S")), says=("day first",)),
        _text(
            "European with decimal commas", wide(heads("Zeit"), stamp("%d.%m.%Y %H:%M:%S,0"), separator=";", mark=",")
        ),
        _text("American", wide(heads("Date/Time"), stamp("%m/%d/%Y %I:%M:%S %p")), says=("month first",)),
        _text("months by name", wide(heads("time"), stamp("%d-%b-%Y %H:%M:%S"))),
        _text("clock over midnight", wide(heads("time [hh:mm:ss]"), clock), says=("midnight is passed once",)),
        _text("clock with fractions", wide(heads("Clock"), stamp("%H:%M:%S.%f"))),
        _text("date and clock apart", two),
        _text("days of a spreadsheet", wide(heads("Date/Time"), [f"{d:.10f}" for d in DAYS]), says=("spreadsheets",)),
        _text(
            "seconds since 1970",
            wide(heads("Unix time"), [f"{1_790_000_000 + t:.0f}" for t in TIMES]),
            says=("since 1970",),
        ),
        _text("without separators", wide(heads("time"), stamp("%Y%m%dT%H%M%S"))),
        _text(
            "form of dates in the head",
            wide(heads("Date [dd/mm/yyyy hh:mm:ss]"), _early("%d/%m/%Y %H:%M:%S")),
            says=("as stated",),
        ),
    ]


def _early(form: str) -> list[str]:
    """Times on the 11th of December, which can be read as the 12th of November."""
    return [(datetime.datetime(2026, 12, 11, 8) + datetime.timedelta(seconds=t)).strftime(form) for t in TIMES]


def _around() -> list[Format]:
    table = wide(heads(), seconds(), separator=";")
    holes = table.replace("\n0.0;25.0;", "\n0.0;25.0;", 1) + "900.0;;#N/A;#N/A;#N/A;#N/A;#N/A;#N/A\n"
    return [
        _text("lines above the header", META + table, says=("above it not used", "line 1")),
        _text("separator named in the first line", "sep=;\n" + table),
        _text("comments above", "# invented run\n# 30 s\n" + table),
        _text(
            "lines below", table + "\nMean;;15.1;15.1;15.1;15.1;15.1;15.1\nEnd of recording\n", says=("2 lines below",)
        ),
        _text("#N/A for no reading", holes, says=("6 rows left out", "speed is missing")),
        _text(
            "other columns beside", _beside(), says=("Columns not used: Active power [MW], Vibration X [um], Remark",)
        ),
        _text("blank lines between", table.replace("\n30.0;", "\n\n30.0;", 1), says=("blank",)),
    ]


def _beside() -> str:
    lines = wide(heads(), seconds()).splitlines()
    return (
        "\n".join(
            [lines[0] + ",Active power [MW],Vibration X [um],Remark", *(f"{line},0.0,35,ok" for line in lines[1:])]
        )
        + "\n"
    )


def _binaries() -> list[Format]:
    head = heads()
    return [
        Format("Parquet, wide", lambda: parquet(frame()), file_name="run.parquet"),
        Format("Parquet with dates", lambda: parquet(frame(MOMENTS, "time")), file_name="run.parquet"),
        Format(
            "Parquet with zoned dates",
            lambda: parquet(frame(pl.Series(MOMENTS).dt.replace_time_zone("UTC"), "timestamp")),
            file_name="run.parquet",
        ),
        Format(
            "Parquet with lengths of time",
            lambda: parquet(frame(pl.Series([datetime.timedelta(seconds=t) for t in TIMES]), "time")),
            file_name="run.parquet",
        ),
        Format(
            "Parquet, whole micrometres",
            lambda: parquet(frame(gap="{}_um", scale=1000.0, kind=pl.Int32)),
            file_name="run.parquet",
        ),
        Format(
            "Parquet, single precision", lambda: parquet(frame(kind=pl.Float32)), file_name="run.parquet", digits=1e-5
        ),
        Format("frame of polars", lambda: frame(MOMENTS, "time")),
        Format("workbook, wide", lambda: workbook(sheet_rows(TIMES, head)), file_name="run.xlsx"),
        Format("workbook with dates", lambda: workbook(sheet_rows(MOMENTS, heads("Date/Time"))), file_name="run.xlsx"),
        Format(
            "workbook with clock times",
            lambda: workbook(sheet_rows([m.time() for m in MOMENTS], heads("Time"))),
            file_name="run.xlsx",
        ),
        Format(
            "workbook with lines above and units below",
            lambda: workbook(
                [
                    ["Invented run"],
                    [],
                    heads("time", "speed", "{}"),
                    ["s", "rpm", *["mm"] * 6],
                    *sheet_rows(TIMES, head)[1:],
                ]
            ),
            file_name="run.xlsx",
        ),
    ]


def _mapped() -> list[Format]:
    channels = heads("time [s]", "n_rot", "CH{number}")
    inputs = heads(gap="AI {number}")
    return [
        _text("columns stated", wide(channels, seconds()), columns=MAP, angles=True),
        _text(
            "columns stated by a pattern",
            wide(heads(gap="X{number}"), seconds()),
            columns='columns."X*" = { sensor = "G*", unit = "mm" }\n',
        ),
        _text(
            "volts",
            wide(inputs, seconds(), gap=lambda v: number((v - 5.0) / 2.5, 6)),
            columns=VOLTS,
            angles=True,
            says=("2.5 mm/V",),
        ),
        _text(
            "milliamperes", wide(inputs, seconds(), gap=lambda v: number(4.0 + (v - 5.0) * 0.8, 6)), columns=CURRENTS
        ),
        _text(
            "a slip of the gain put right",
            wide(heads(), seconds(), gap=lambda v: number(v / 1.02, 12)),
            columns="".join(f'columns."{n} [mm]" = {{ sensor = "{n}", gain = "1.02" }}\n' for n in SENSORS),
            digits=1e-9,
        ),
        _text(
            "dates that can be read twice, stated",
            wide(heads("Date"), _early("%d/%m/%Y %H:%M:%S")),
            columns='cells.date_order = "day first"\n',
            says=("as stated",),
        ),
        _text(
            "micrometres that can be read twice, stated",
            wide(
                heads(gap="{} [um]"),
                seconds(0),
                gap=lambda v: number(v * 1000.0, 3, "."),
                separator=";",
                speed=lambda v: number(v, 0),
            )
            .replace("0.000;", "0;")
            .replace("0.000\n", "0\n"),
            columns='cells.decimal_mark = "."\n',
        ),
        _text(
            "header in a stated line",
            "speed [rpm];G1 [mm];of an older run\n" + wide(heads(), seconds(), separator=";"),
            columns="cells.header_line = 2\n",
        ),
        _text(
            "grid frequency stated",
            wide(heads(speed="f"), seconds(), speed=lambda v: number(v * POLES / 120.0, 12)),
            columns='columns."f" = { meaning = "speed", unit = "Hz of the grid" }\n',
        ),
    ]


def _refused() -> list[Format]:
    um = heads(gap="{} [um]")
    twice = wide(
        um, seconds(0), gap=lambda v: number(v * 1000.0, 0, ".", "."), separator=";", speed=lambda v: number(v, 0)
    )
    return [
        _text(
            "dates that can be read twice",
            wide(heads("Date"), _early("%d/%m/%Y %H:%M:%S")),
            remedy=("day 11 of month 12", "day 12 of month 11", "date_order"),
        ),
        _text("micrometres that can be read twice", twice, remedy=("can be read as", "decimal_mark")),
        _text(
            "no unit of the gaps",
            wide(heads(gap="{}"), seconds()),
            remedy=("has no unit", "in mm", "in mil", "columns."),
        ),
        _text(
            "no unit of the speed", wide(heads(speed="speed"), seconds()), remedy=("has no unit", "in rpm", "in rps")
        ),
        _text("no unit of the time", wide(heads("time"), seconds()), remedy=("has no unit", "min", "columns.")),
        _text(
            "names that say nothing", wide(heads(speed="n_rot", gap="CH_{}"), seconds()), remedy=("speed", "columns.")
        ),
        _text("volts without calibration", wide(heads(gap="{} [V]"), seconds()), remedy=("a signal in V", "gain")),
        _text(
            "hertz of a machine that is not known",
            wide(heads(speed="speed [Hz]"), seconds(), speed=lambda v: number(v / 60.0, 12)),
            remedy=("turns per second", "rps"),
            machine=False,
        ),
        _text(
            "per cent of a rated speed that is not known",
            wide(heads(speed="speed [%]"), seconds()),
            remedy=("rated_speed",),
            machine=False,
        ),
        _text(
            "hours or minutes of the clock",
            wide(heads("time"), stamp("%H:%M")),
            remedy=("hours and minutes", "minutes and seconds"),
        ),
        _text(
            "two marks of decimals", wide(heads(), seconds(), separator=";").replace("15.", "15,"), remedy=("decimal",)
        ),
        _text(
            "the same sensor twice",
            wide(["time [s]", "speed [rpm]", *["G1 [mm]"] * 6], seconds()),
            remedy=("appears twice",),
        ),
        _text(
            "units that disagree",
            wide(heads(), seconds(), under=",".join(["s", "rpm", *["mil"] * 6])),
            remedy=("'mm'", "'mil'"),
        ),
        _text("decimal commas between commas", wide(heads(), seconds(mark=","), mark=","), remedy=("fields",)),
        _text("blanks between columns", wide(heads(), seconds(), separator=" "), remedy=("comma, semicolon",)),
        _text(
            "per second of what",
            wide(heads(speed="n [1/s]"), seconds(), speed=lambda v: number(v / 60.0, 12)),
            remedy=("radians per second", "rps"),
        ),
        _text("smallest gaps only", wide(heads(gap="{} min [mm]"), seconds()), remedy=("gap",)),
        _text("gaps of seals", wide(heads(gap="seal gap {number} [mm]"), seconds()), remedy=("gap",)),
    ]
