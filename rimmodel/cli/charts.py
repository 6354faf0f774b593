"""Command that reads a printed chart: digitise."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, Force, app, print_json, refuse_empty

if TYPE_CHECKING:
    from rimmodel.evidence.chart.description import Description

_MARK = "Mark as 'COLUMN,ROW = VALUE UNIT', such as '112,530 = 20 rpm' or '112,530 = 10 %'; repeat it."


@app.command()
def digitise(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="Picture of the chart (PNG, JPEG, TIFF, ...).")],
    axes: Annotated[
        str | None, typer.Argument(metavar="[AXES]", help="TOML file with the marks of both axes and the curve.")
    ] = None,
    speed: Annotated[list[str] | None, typer.Option("--speed", metavar="MARK", help=_MARK)] = None,
    gap: Annotated[list[str] | None, typer.Option("--gap", metavar="MARK", help="The same on the gap axis.")] = None,
    growth: Annotated[
        list[str] | None, typer.Option("--growth", metavar="MARK", help="The same on an axis of radial rim growth.")
    ] = None,
    rated: Annotated[
        str | None, typer.Option("--rated", metavar="SPEED", help="Rated speed, for a speed axis in per cent.")
    ] = None,
    nominal_gap: Annotated[
        str | None, typer.Option("--nominal-gap", metavar="GAP", help="Nominal gap, for an axis in per cent of it.")
    ] = None,
    colour: Annotated[
        str | None, typer.Option("--colour", metavar="COLOUR", help="Of the curve: '#d62728', 'red' or 'darkest'.")
    ] = None,
    page: Annotated[
        str | None, typer.Option("--page", metavar="FILE", help="Write a page (HTML) in which to click the marks.")
    ] = None,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="CSV file to write.")] = None,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Read a printed chart of gap or rim growth against speed: a recording for fit and review."""
    refuse_empty("--out", out)
    refuse_empty("--page", page)
    marks = {"speed": speed or [], "gap": gap or [], "growth": growth or []}
    options = any(marks.values()) or any(value is not None for value in (rated, nominal_gap, colour))
    if page is not None:
        if axes is not None or options or out or as_json:
            raise ValueError("--page writes the page in which marks are clicked and nothing else; leave the rest out")
        _write_page(Path(chart), Path(page), force)
        return
    if axes is not None and options:
        raise ValueError(
            f"marks and colour stand in {axes}; leave --speed, --gap and the like out, or leave {axes} out"
        )
    if axes is None and not any(marks.values()):
        raise ValueError(
            f"{chart}: no marks of its axes. 'rimmodel digitise {chart} --page FILE' writes a page in which to click "
            "them; or give them as AXES, or by --speed and --gap or --growth"
        )
    from rimmodel.evidence.chart.description import Description

    given = (
        Description.read(Path(axes))
        if axes is not None
        else Description.of(_described(marks, rated, nominal_gap, colour), "command line")
    )
    _read(Path(chart), given, [Path(axes)] if axes else [], out, as_json, force)


def _write_page(chart: Path, page: Path, force: bool) -> None:
    from rimmodel.verdict.output import chart_page as output
    from rimmodel.verdict.output.files import write_files

    write_files({page: output.page(chart)}, overwrite=force, inputs=[chart])
    echo(f"wrote {page}; open it in a browser, click the marks, and save its text as AXES", err=True)


def _read(chart: Path, given: Description, inputs: list[Path], out: str | None, as_json: bool, force: bool) -> None:
    """Read the chart, write or print its table, and say how sure it is."""
    from rimmodel.evidence.chart.read_off import read_chart
    from rimmodel.verdict.output import chart as output
    from rimmodel.verdict.output.files import write_files

    found = read_chart(chart, given)
    if out:
        write_files({Path(out): output.csv(found)}, overwrite=force, inputs=[chart, *inputs])
    if as_json:
        print_json(output.table(found))
    elif not out:
        echo(output.csv(found).rstrip("\n"))
    echo(output.text(found), err=True)
    if out:
        echo(f"wrote {out}", err=True)


def _described(
    marks: dict[str, list[str]], rated: str | None, nominal_gap: str | None, colour: str | None
) -> dict[str, Any]:
    """The same table as in a file, from options."""
    table: dict[str, Any] = {}
    for name, words in marks.items():
        if not words:
            continue
        rows, units = [], []
        for text in words:
            row, unit = _mark(text, name)
            rows.append(row)
            units.append(unit)
        if len(set(units)) > 1:
            raise ValueError(f"--{name}: marks are in {' and in '.join(sorted(set(units)))}; use one unit for an axis")
        table[name] = {"unit": units[0], "marks": rows}
        base = rated if name == "speed" else nominal_gap
        if base is not None:
            table[name]["of"] = base
    if colour is not None:
        table["curve"] = {"colour": colour}
    return table


def _mark(text: str, name: str) -> tuple[list[float], str]:
    import re

    number = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)"
    match = re.fullmatch(rf"\s*({number})\s*,\s*({number})\s*=\s*({number})\s*(.*?)\s*", text)
    if match is None:
        raise ValueError(
            f"--{name} {text!r} is not a mark; write 'COLUMN,ROW = VALUE UNIT', such as '112,530 = 20 rpm', the pixels "
            "from the left and from the top"
        )
    return [float(match[1]), float(match[2]), float(match[3])], match[4]
