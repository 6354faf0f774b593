"""Figures of a tolerance study, in units of print."""

from __future__ import annotations

from pathlib import Path

from rimmodel.behaviour.quantities import plain_name, print_unit
from rimmodel.behaviour.study.case_study import ToleranceStudy
from rimmodel.behaviour.study.rotor_model import Asked
from rimmodel.plotting import convergence_chart, distribution_chart, tornado_chart
from rimmodel.plotting.style import to_svg
from rimmodel.units import PrintUnit
from rimmodel.verdict.output.files import write_files
from rimmodel.verdict.output.study import TORNADO_ROWS, tornado
from rimmodel.verdict.records import input_files


def study_figures(result: ToleranceStudy) -> dict[str, str]:
    """SVG by name: distribution and tornado of every output, convergence of the first."""
    figures = {}
    for asked in result.asked:
        found = result.study.distributions[asked.name]
        name = f"{asked.quantity}_{asked.condition}"
        if found.finite and found.maximum > found.minimum:
            figures[f"distribution_{name}"] = _distribution(result, asked)
            figures[f"tornado_{name}"] = _tornado(result, asked)
    settled, first = result.study.convergence, result.asked[0]
    label, unit = _axis(first)
    column = list(result.study.distributions).index(first.name)
    chart = convergence_chart.draw(
        settled.samples, unit.of(settled.mean[:, column]), unit.of(settled.standard_deviation[:, column]), label
    )
    figures["convergence"] = to_svg(chart)
    return figures


def _axis(asked: Asked) -> tuple[str, PrintUnit]:
    """Label of an axis and its unit."""
    unit = print_unit(asked.quantity)
    return f"{plain_name(asked.quantity)}, {asked.condition}  [{unit.name}]", unit


def _distribution(result: ToleranceStudy, asked: Asked) -> str:
    found, linear = result.study.distributions[asked.name], result.linear
    label, unit = _axis(asked)
    row = linear.outputs.index(asked.name)
    value, spread = float(unit.of(linear.value[row])), float(unit.of(linear.standard_uncertainty[row]))
    low, high = (unit.of(end) for end in found.interval())
    marks = {}
    for chance in result.study.chances:
        if chance.bound.output == asked.name:
            bound = chance.bound.at_least if chance.bound.at_least is not None else chance.bound.at_most
            marks[chance.bound.name] = float(unit.of(bound or 0.0))
    normal = (value, spread) if spread > 0 else None
    return to_svg(
        distribution_chart.draw(unit.of(found.edges), found.counts, (low, high), label, normal=normal, marks=marks)
    )


def _tornado(result: ToleranceStudy, asked: Asked) -> str:
    label, unit = _axis(asked)
    rows = tornado(result, asked.name)[:TORNADO_ROWS]
    centre = float(unit.of(result.linear.value[result.linear.outputs.index(asked.name)]))
    names, low, high = zip(*rows, strict=True)
    return to_svg(tornado_chart.draw(names, [unit.of(v) for v in low], [unit.of(v) for v in high], centre, label))


def write(result: ToleranceStudy, directory: Path, *, overwrite: bool = False) -> list[Path]:
    """Write the figures of a study under a directory, as SVG; see `write_files`."""
    figures = {directory / f"{_file_name(name)}.svg": svg for name, svg in study_figures(result).items()}
    return write_files(figures, overwrite=overwrite, inputs=input_files(result.case))


def _file_name(name: str) -> str:
    """A name that is a file name anywhere."""
    return "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in name)
