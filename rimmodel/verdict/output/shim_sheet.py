"""The shim sheet as text, JSON, CSV, figure, and a page to be printed, filled in and signed."""

from __future__ import annotations

import itertools
import math
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.planning.shim_sheet.sheet import ShimSheet
from rimmodel.units import in_mm, in_print, in_rpm, mm, number, rpm
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.output import basis
from rimmodel.verdict.output.files import PAGE_POLICY, csv_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rimmodel.rotor.case.case import Case

WIDTH = 100
NARROWEST = 12
TEMPLATES = Path(__file__).parent / "templates"
ROUND = "round"
FILES = ("shims.txt", "shims.json", "shims.csv", "shims.svg", "shims.html")
COLUMNS = ("key", "now", "limits before", "take out", "put in", "pack", "change", "after", "limits after")
SIGNED = (
    "Keys read before by, date",
    "Packs made and checked by, date",
    "Keys read after by, date",
    "Accepted by, date",
)
GOAL_WORDS = {
    ROUND: "least deviation of the pressed rim that is to be expected",
    "lift-off": "highest first lift-off inside the window, the rim no less round or central than now if that can be",
}

STEPS = (
    "Read every key again before any shim is cut. A reading outside its limits before means that this sheet does not "
    "describe the rim: read again, and make a new sheet.",
    "Measure every pack before it is fitted: its pieces together must have the thickness that the column 'pack' "
    "states, within the limit beside it.",
    "Read every key after fitting, with the same gauge and at an even temperature. A reading outside its limits after "
    "means a pack in the wrong place, dirt, or a piece of another thickness.",
    "What is promised holds for shims that have not bedded in: read the keys and run again after the first overspeed.",
)

SHIM_CAUTIONS = (
    "The sheet does not release any work on the rotor. It is to be checked and released by the engineers who are "
    "licensed and responsible for the machine, with the maker's instructions and limits.",
    "A wrong shim can let a rim lift off in service or overload spider and keys. If any limit of this sheet is missed, "
    "the machine does not run on it.",
)


def shim_rows(sheet: ShimSheet) -> list[tuple[str, ...]]:
    """The rows of the sheet as texts, lengths in mm, in the order of `COLUMNS`."""
    thickness = [in_mm(row.thickness) for row in sheet.shims.stock]
    rows: list[tuple[str, ...]] = []
    for key, now in enumerate(sheet.present.keys):
        put = [f"{count} x {size:.3f}" for count, size in zip(sheet.pieces[key], thickness, strict=True) if count]
        after, before_limit, after_limit = sheet.planned.keys[key], sheet.before_limit[key], sheet.after_limit[key]
        rows.append(
            (
                str(key + 1), _three(now), f"{_three(now - before_limit)} to {_three(now + before_limit)}",
                _three(sheet.taken[key]) if sheet.out[key] else "-", " + ".join(put) or "-", _pack(sheet, key),
                f"{in_mm(float(sheet.change[key])):+.3f}", _three(after),
                f"{_three(after - after_limit)} to {_three(after + after_limit)}",
            )
        )  # fmt: skip
    return rows


def _pack(sheet: ShimSheet, key: int) -> str:
    """Thickness of the new pieces together, and its limit."""
    pack = float(sheet.pieces[key] @ np.array([row.thickness for row in sheet.shims.stock]))
    return f"{_three(pack)} ± {_three(sheet.pack_limit[key])}" if pack else "-"


def _three(length: float) -> str:
    return f"{in_mm(float(length)):.3f}"


def result_rows(sheet: ShimSheet) -> list[tuple[str, ...]]:
    """What is there now, with these shims, and what is promised."""
    confidence = f"{100 * sheet.promise.confidence:g} %"
    low, high = sheet.edges
    tightest = sheet.planned.keys + sheet.after_limit
    single = f"up to {mm(_up(float(tightest.max())))} within its limits after"
    if sheet.above:
        single += f"; {sheet.above_words} may be above {high}: NOT covered by the window"
    rows: list[tuple[str, ...]] = [
        ("", "now", "with these shims", f"promised, all together at {confidence}"),
        (
            "mean interference", mm(sheet.present.mean, ".3f"), mm(sheet.planned.mean, ".3f"),
            f"in the window, {low} to {high}: for the mean only",
        ),
        (
            "tightest key", mm(float(sheet.present.keys.max()), ".3f"), mm(float(sheet.planned.keys.max()), ".3f"),
            single,
        ),
        (
            "largest radius at a pole off the mean", mm(sheet.present.largest, ".3f"), mm(sheet.planned.largest, ".3f"),
            f"at most {mm(_up(sheet.promise.deviation))}",
        ),
        (
            "offset of the rim's centre at the poles", mm(sheet.present.offset, ".3f"), mm(sheet.planned.offset, ".3f"),
            "part of the radius above",
        ),
    ]  # fmt: skip
    for name, least in sheet.promise.first_lift_off.items():
        now, then = sheet.present.first_lift_off[name], sheet.planned.first_lift_off[name]
        words = "no promise" if math.isnan(least) else f"not below {rpm(_down(least), '.0f')}"
        rows.append((f"first key lifts off, {name}", _speed(now), _speed(then), words))
    return rows


def _speed(speed: float) -> str:
    return rpm(speed) if math.isfinite(speed) else "not determined" if math.isnan(speed) else "not reached"


def _up(length: float) -> float:
    """The next hundredth of a millimetre."""
    return math.ceil(length / 1e-5 - 1e-9) * 1e-5


def _down(speed: float) -> float:
    """The rpm below."""
    return math.floor(in_rpm(speed) + 1e-9) * math.pi / 30.0


def proof_line(sheet: ShimSheet) -> str:
    """What is reached, what no choice betters, and the gap between both."""
    if sheet.goal == ROUND:
        reached, bound, gap = (
            f"{in_mm(value):.4f} mm" for value in (sheet.reached, sheet.bound, sheet.reached - sheet.bound)
        )
        what = "root mean square of the radius at the poles off its mean, errors of readings and pieces included"
    else:
        reached, bound, gap = (rpm(value, ".2f") for value in (sheet.reached, sheet.bound, sheet.bound - sheet.reached))
        what = f"first lift-off, {sheet.condition}"
    if sheet.proven:
        within = "" if sheet.goal == ROUND else ", the rim kept as round"
        return f"{what}: {reached}; proven to be the best that whole pieces of this stock reach{within} (gap 0)."
    which = "no choice of pieces" if sheet.goal == ROUND else "no choice of pieces that keeps the rim as round"
    return f"{what}: {reached}; proven that {which} betters {bound} (gap {gap})."


def aim_line(sheet: ShimSheet) -> str:
    """Between which means the pieces were chosen, and why there."""
    aim, window = sheet.aim, sheet.window
    low, high = mm(_fine(aim.low, up=True), ".3f"), mm(_fine(aim.high, up=False), ".3f")
    upper = f"to {high}" if math.isfinite(aim.high) else "upwards"
    line = (
        f"mean aimed at: {low} {upper}, which is the window, {' to '.join(sheet.edges)}, less "
        f"{mm(aim.margin, '.3f')} at each edge for the errors of readings and pieces"
    )
    if not aim.why:
        line += (
            f"; its lower end is raised so that the mean stays in the window when ageing takes "
            f"{100.0 * window.relaxation_share:.3g} % of it (limits.relaxation_share)"
        )
    elif aim.low > aim.least:
        line += "; its lower end is raised towards the mean that 'rimmodel window' recommends, as far as the stock goes"
    if window.recommended is not None and not aim.low <= window.recommended <= aim.high:
        line += (
            f". 'rimmodel window' recommends {mm(window.recommended)}: it deducts no errors of readings and pieces, "
            "takes the middle of the window where ageing asks for more, and keeps what is there where that is enough"
        )
    return line


def _fine(length: float, *, up: bool) -> float:
    """The next thousandth of a millimetre; an infinite length stays."""
    if not math.isfinite(length):
        return length
    return (math.ceil(length / 1e-6 - 1e-6) if up else math.floor(length / 1e-6 + 1e-6)) * 1e-6


def stock_line(sheet: ShimSheet) -> str:
    """Pieces used of each thickness."""
    used = sheet.pieces.sum(axis=0)
    parts = [
        f"{count} of {row.pieces} x {mm(row.thickness, '.3f')}"
        for count, row in zip(used, sheet.shims.stock, strict=True)
    ]
    return f"pieces used: {', '.join(parts)}"


def along_line(case: Case) -> str:
    """That what differs along the rim is left out, where anything does in any condition; else empty."""
    return basis.along_note(case, *case.conditions.values())


def basis_lines(case: Case, sheet: ShimSheet) -> list[str]:
    """On what the sheet rests."""
    errors = sheet.start.errors
    level = f"{mm(2 * errors.level, '.3f')} common to all" if errors.level else "level as known from the run"
    return [
        f"interference before: {sheet.start.basis}",
        *filter(None, [along_line(case)]),
        aim_line(sheet),
        f"errors (half-widths, two standard uncertainties): one reading {mm(2 * errors.reading, '.3f')}, {level}, one "
        f"piece {mm(2 * errors.piece, '.3f')}; readings wrong independently, {errors.correlation:g} correlated between "
        "neighbours, or by one oval, pieces of one thickness independently or all alike: whichever is worst",
        "radii: outside of the rim at the poles, at standstill, 20 degC, without field, about the axis, offset of the "
        "centre and shape as built included",
    ]


def text(case: Case, sheet: ShimSheet) -> str:
    """The sheet for a terminal."""
    lines = [case.title, f"shim sheet: {GOAL_WORDS[sheet.goal]}", *_wrapped(basis_lines(case, sheet)), ""]
    lines += _aligned([COLUMNS, *shim_rows(sheet)])
    lines += ["lengths in mm; keys from 1 in the direction of rotation", stock_line(sheet), ""]
    lines += _aligned(result_rows(sheet))
    lines += [f"mean of the readings after: {mm(sheet.planned.mean, '.3f')} within {mm(sheet.mean_limit, '.3f')}"]
    lines += ["", *_wrapped([proof_line(sheet)]), "", "acceptance:"]
    lines += _wrapped([f"{place}. {step}" for place, step in enumerate(STEPS, 1)])
    lines += ["", "cautions:", *_wrapped([f"- {line}" for line in (*sheet.cautions, *SHIM_CAUTIONS, *CAUTIONS)])]
    return "\n".join(lines)


def _wrapped(lines: list[str]) -> list[str]:
    return [
        part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent="  ", break_on_hyphens=False)
    ]


def _folded(cell: str, width: int) -> list[str]:
    """A cell in lines; number and thickness of a piece stay together."""
    parts = textwrap.wrap(cell.replace(" x ", "\N{NO-BREAK SPACE}x\N{NO-BREAK SPACE}"), width) or [""]
    return [part.replace("\N{NO-BREAK SPACE}", " ") for part in parts]


def _aligned(rows: list[tuple[str, ...]]) -> list[str]:
    """Rows in columns; the widest column is wrapped until a row fits the terminal."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    room = WIDTH - 2 * (len(widths) - 1)
    widest = widths.index(max(widths))
    widths[widest] = min(widths[widest], max(room - sum(widths) + widths[widest], NARROWEST))
    lines: list[str] = []
    for row in rows:
        cells = [_folded(cell, width) for cell, width in zip(row, widths, strict=True)]
        parts = itertools.zip_longest(*cells, fillvalue="")
        lines += ["  ".join(map(str.ljust, part, widths)).rstrip() for part in parts]
    return lines


def table(case: Case, sheet: ShimSheet) -> dict[str, Any]:
    """The sheet for JSON: lengths in mm, speeds in rpm, keys counted from 1; null where there is no number."""
    is_round = sheet.goal == ROUND
    reached, bound = (sheet.reached, sheet.bound) if is_round else (in_rpm(sheet.reached), in_rpm(sheet.bound))
    scale, unit = (in_mm(1.0), "mm") if is_round else (1.0, "rpm")
    return {
        "title": case.title,
        "goal": sheet.goal,
        "condition": sheet.condition,
        "basis": sheet.start.basis,
        "along_the_rim_note": along_line(case) or None,
        "keys": [_key_row(sheet, key) for key in range(sheet.present.keys.size)],
        "stock": [
            {"thickness_mm": number(in_mm(row.thickness)), "pieces": int(row.pieces), "used": int(used)}
            for row, used in zip(sheet.shims.stock, sheet.pieces.sum(axis=0), strict=True)
        ],
        "proof": {
            "unit": unit, "reached": reached * scale, "bound": bound * scale, "gap": abs(reached - bound) * scale,
            "proven": sheet.proven, "statement": proof_line(sheet),
        },
        "mean_interference_mm": {
            "now": in_mm(sheet.present.mean), "after": in_mm(sheet.planned.mean), "limit": in_mm(sheet.mean_limit),
            "window": [number(in_mm(sheet.window.low_sure)), number(in_mm(sheet.window.high_sure))],
            "aimed_between": [number(in_mm(sheet.aim.low)), number(in_mm(sheet.aim.high))],
            "aimed_why": aim_line(sheet), "covers_ageing": sheet.ageing,
        },
        "keys_that_may_exceed_the_window": list(sheet.above),
        "largest_deviation_mm": {
            "now": in_mm(sheet.present.largest), "after": in_mm(sheet.planned.largest),
            "promised": in_mm(_up(sheet.promise.deviation)),
        },
        "centre_offset_mm": {"now": in_mm(sheet.present.offset), "after": in_mm(sheet.planned.offset)},
        "first_lift_off_rpm": {
            name: {
                "now": number(sheet.present.first_lift_off[name], "speed"),
                "after": number(sheet.planned.first_lift_off[name], "speed"),
                "first_key": sheet.planned.first_key[name] or None,
                "promised": None if math.isnan(least) else in_rpm(_down(least)),
            }
            for name, least in sheet.promise.first_lift_off.items()
        },
        "confidence": sheet.promise.confidence,
        "poles": [
            {"angle_deg": float(angle), "now_mm": float(now), "after_mm": float(after)}
            for angle, now, after in zip(
                in_print(sheet.pole_angle, "angle"), in_mm(sheet.present.deviation), in_mm(sheet.planned.deviation),
                strict=True,
            )
        ],
        "acceptance": list(STEPS),
        "cautions": [*sheet.cautions, *SHIM_CAUTIONS, *CAUTIONS],
    }  # fmt: skip


def _key_row(sheet: ShimSheet, key: int) -> dict[str, Any]:
    now, after = sheet.present.keys[key], sheet.planned.keys[key]
    before, limit = sheet.before_limit[key], sheet.after_limit[key]
    thickness = [row.thickness for row in sheet.shims.stock]
    return {
        "key": key + 1,
        "now_mm": in_mm(float(now)),
        "limits_before_mm": [in_mm(float(now - before)), in_mm(float(now + before))],
        "take_out_mm": in_mm(float(sheet.taken[key])) if sheet.out[key] else None,
        "pieces": [
            {"thickness_mm": in_mm(size), "count": int(count)}
            for size, count in zip(thickness, sheet.pieces[key], strict=True)
            if count
        ],
        "pack_mm": in_mm(float(sheet.pieces[key] @ np.array(thickness))),
        "pack_limit_mm": in_mm(float(sheet.pack_limit[key])),
        "change_mm": in_mm(float(sheet.change[key])),
        "after_mm": in_mm(float(after)),
        "limits_after_mm": [in_mm(float(after - limit)), in_mm(float(after + limit))],
    }


def shim_sheet_csv(sheet: ShimSheet) -> str:
    """A row for each key, a column for the pieces of each thickness."""
    sizes = [f"pieces_{in_mm(row.thickness):.3f}_mm" for row in sheet.shims.stock]
    header = [
        "key", "now_mm", "least_before_mm", "most_before_mm", "take_out_mm", *sizes, "pack_mm", "pack_limit_mm",
        "change_mm", "after_mm", "least_after_mm", "most_after_mm",
    ]  # fmt: skip
    rows = []
    for key in range(sheet.present.keys.size):
        row = _key_row(sheet, key)
        lengths = [row["now_mm"], *row["limits_before_mm"], row["take_out_mm"] or 0.0]
        ends = [row["pack_mm"], row["pack_limit_mm"], row["change_mm"], row["after_mm"], *row["limits_after_mm"]]
        rows.append(
            [key + 1, *(round(x, 4) for x in lengths), *map(int, sheet.pieces[key]), *(round(x, 4) for x in ends)]
        )
    return csv_text(header, rows)


def shim_figure(case: Case, sheet: ShimSheet) -> Figure:
    """Keys and outline before and with the shims."""
    from rimmodel.plotting import shim_chart

    count = sheet.present.keys.size
    first = float(case.rotor.fit.first_key_angle)
    angle = np.mod(in_print(first + 2.0 * np.pi * np.arange(count) / count, "angle"), 360.0)
    course = shim_chart.Curve(
        angle, in_mm(sheet.present.keys), in_mm(sheet.planned.keys), in_mm(sheet.after_limit),
        in_print(sheet.pole_angle, "angle"), in_mm(sheet.present.deviation), in_mm(sheet.planned.deviation),
    )  # fmt: skip
    edges = in_mm(sheet.window.low_sure), in_mm(sheet.window.high_sure)
    return shim_chart.draw(course, edges, in_mm(_up(sheet.promise.deviation)))


def shim_page(case: Case, sheet: ShimSheet, figure: str) -> str:
    """The sheet as one page of HTML that loads nothing, with places for readings and signatures.

    Parameters
    ----------
    figure : str
        As SVG.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    drawing = figure[figure.index("<svg") :]
    return environment.get_template("shim_sheet.html").render(
        policy=PAGE_POLICY, title=case.title, file="" if case.path is None else case.path.name,
        goal=GOAL_WORDS[sheet.goal], basis=basis_lines(case, sheet),
        rows=shim_rows(sheet),
        results=result_rows(sheet), proof=proof_line(sheet), stock=stock_line(sheet), steps=STEPS, digest=case.digest,
        mean=f"{mm(sheet.planned.mean, '.3f')} ± {mm(sheet.mean_limit, '.3f')}", signed=SIGNED,
        cautions=[*sheet.cautions, *SHIM_CAUTIONS, *CAUTIONS], figure=Markup(drawing),
    )  # fmt: skip


def files(case: Case, sheet: ShimSheet, table: dict[str, Any], text: str) -> dict[str, str]:
    """Text, JSON, CSV, figure and page by the name of the file.

    Parameters
    ----------
    table, text : as of `table` and `text` of this module
    """
    import json

    from rimmodel.plotting.style import to_svg

    figure = to_svg(shim_figure(case, sheet))
    written = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    contents = (text + "\n", written, shim_sheet_csv(sheet), figure, shim_page(case, sheet, figure))
    return dict(zip(FILES, contents, strict=True))
