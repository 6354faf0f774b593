"""A tolerance study as plain tables for JSON, and as text: units of print in the names, null where there is none."""

from __future__ import annotations

import json
import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour.quantities import bare_text, in_print, plain_name, print_unit, quantity_text
from rimmodel.behaviour.study.rotor_model import Asked
from rimmodel.units import number
from rimmodel.verdict.output import basis

if TYPE_CHECKING:
    from rimmodel.behaviour.study.case_study import ToleranceStudy

WIDTH = 100

TORNADO_ROWS = 8
"""Inputs named in text and figure; the rest moves less."""


AS_DRAWN = "the machine as drawn"
"""What a study is of, whatever was measured since."""


def study_json(result: ToleranceStudy) -> str:
    """The table of a study as JSON text."""
    return json.dumps(table(result), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def table(result: ToleranceStudy) -> dict[str, Any]:
    """The whole study for JSON."""
    study = result.study
    return {
        "title": result.case.title,
        "of": AS_DRAWN,
        "complete": study.complete,
        "samples": study.samples,
        "planned_samples": study.planned,
        "method": study.method,
        "seed": study.seed,
        **basis.table(result.case),
        "along_the_rim_note": basis.along_note(result.case) or None,
        "notes": list(result.notes),
        "inputs": [_input_row(row) for row in result.inputs.marginals]
        + [{"name": name, "distribution": "table of samples"} for name in result.inputs.drawn],
        "correlations": [
            {"between": list(pair.between), "coefficient": pair.coefficient} for pair in result.inputs.correlations
        ],
        "outputs": [_output_row(result, asked) for asked in result.asked],
        "chances": chance_rows(result),
        "by_run_note": _by_run_note(result) or None,
        "convergence": _convergence(result),
    }


def _input_row(row: Any) -> dict[str, Any]:
    return {
        "name": row.name,
        "distribution": row.distribution,
        "centre_si": row.centre,
        "standard_uncertainty_si": row.standard_uncertainty,
        "half_width_si": number(row.half_width),
    }


def _output_row(result: ToleranceStudy, asked: Asked) -> dict[str, Any]:
    found, linear = result.study.distributions[asked.name], result.linear
    row = linear.outputs.index(asked.name)

    def printed(value: float) -> float | None:
        return in_print(asked.quantity, float(value))

    return {
        "quantity": asked.quantity,
        "condition": asked.condition,
        "unit": print_unit(asked.quantity).name,
        "mean": printed(found.mean),
        "standard_deviation": printed(found.standard_deviation),
        "standard_error_of_mean": printed(found.standard_error),
        "median": printed(found.quantile(0.5)),
        "interval_95": [printed(end) for end in found.interval()],
        "shortest_interval_95": [printed(end) for end in found.shortest_interval()],
        "minimum": printed(found.minimum),
        "maximum": printed(found.maximum),
        "samples_never": found.never,
        "samples_without_state": found.none,
        "linear": {
            "value": printed(linear.value[row]),
            "standard_uncertainty": printed(linear.standard_uncertainty[row]),
            "interval_95": [printed(end) for end in linear.interval(asked.name)],
            "warning": result.warnings.get(asked.name),
        },
        "sobol_indices": _index_rows(result, asked.name),
        "tornado": [
            {"input": name, "low": printed(low), "high": printed(high)}
            for name, low, high in tornado(result, asked.name)
        ],
    }


def _index_rows(result: ToleranceStudy, output: str) -> list[dict[str, Any]]:
    found = result.indices
    if found is None:
        return []
    row = found.outputs.index(output)
    return [
        {
            "input": name,
            "first": number(found.first[row, column]),
            "total": number(found.total[row, column]),
            "first_standard_error": number(found.first_error[row, column]),
            "total_standard_error": number(found.total_error[row, column]),
        }
        for column, name in enumerate(found.groups)
    ]


def tornado(result: ToleranceStudy, output: str) -> list[tuple[str, float, float]]:
    """Inputs by their effect: name, and the output with that input a standard uncertainty lower and higher.

    The keys of a fit stand as one row, in quadrature.

    Returns
    -------
    list of (str, float, float), SI
    """
    linear = result.linear
    row = linear.outputs.index(output)
    value = float(linear.value[row])
    moves: dict[str, list[tuple[float, float]]] = {}
    for column, name in enumerate(linear.inputs):
        moves.setdefault(name.partition("[")[0], []).append(
            (float(linear.below[row, column]) - value, float(linear.above[row, column]) - value)
        )
    rows = []
    for name, pairs in moves.items():
        low, high = (np.sqrt(sum(move**2 for move in side)) for side in zip(*pairs, strict=True))
        signs = np.sign(pairs[0])
        rows.append((name, value + float(signs[0] * low), value + float(signs[1] * high)))
    return sorted(rows, key=lambda one: -abs(one[2] - one[1]))


def chance_rows(result: ToleranceStudy) -> list[dict[str, Any]]:
    """The chance of each requirement and claim, in units of print, and what a measured run shows of it."""
    shown = _by_bound(result)
    by_name = {asked.name: asked for asked in result.asked}
    rows = []
    for chance, found in zip(result.study.chances, shown, strict=True):
        bound, asked = chance.bound, by_name[chance.bound.output]
        rows.append(
            {
                "name": bound.name,
                "quantity": asked.quantity,
                "condition": asked.condition,
                "unit": print_unit(asked.quantity).name,
                "at_least": in_print(asked.quantity, bound.at_least),
                "at_most": in_print(asked.quantity, bound.at_most),
                "samples_met": chance.met,
                "samples": chance.samples,
                "probability": chance.probability,
                "interval_95": list(chance.interval),
                "by_run": found[0] if found else None,
                "run": found[1] if found else None,
            }
        )
    return rows


def _by_bound(result: ToleranceStudy) -> list[tuple[str, str] | None]:
    """Verdict on each requirement and claim, and by which run, in the order of the chances; None without a run."""
    rows = sorted(result.by_run, key=lambda row: row.role == "claim")  # requirements first, each in its order
    shown = [None if row.interval is None else (row.verdict, row.measured_how) for row in rows]
    return shown or [None] * len(result.study.chances)


def _by_run_note(result: ToleranceStudy) -> str:
    """That measured runs decide, and what does not hold by them; empty where no run shows anything."""
    named = [
        (chance.bound.name, *found)
        for chance, found in zip(result.study.chances, _by_bound(result), strict=True)
        if found is not None
    ]
    if not named:
        return ""
    against = "; ".join(
        f"{name} {'is ' if verdict == 'not shown' else ''}{verdict} ({how})"
        for name, verdict, how in named
        if verdict != "holds"
    )
    return (
        f"These shares are of {AS_DRAWN}, before anything was measured of it. Runs of it were measured and decide: by "
        f"them {against or 'all holds of which they show anything'}. See 'rimmodel review'."
    )


def _convergence(result: ToleranceStudy) -> dict[str, Any]:
    settled = result.study.convergence

    def printed(asked: Asked, values: Any) -> list[float | None]:
        return [in_print(asked.quantity, float(value)) for value in values]

    return {
        "samples": settled.samples.tolist(),
        "outputs": [
            {
                "quantity": asked.quantity,
                "condition": asked.condition,
                "mean": printed(asked, settled.mean[:, column]),
                "standard_deviation": printed(asked, settled.standard_deviation[:, column]),
            }
            for column, asked in enumerate(result.asked)
        ],
        "probabilities": {
            chance.bound.name: settled.probability[:, column].tolist()
            for column, chance in enumerate(result.study.chances)
        },
    }


def text(result: ToleranceStudy) -> str:
    """The study for the terminal."""
    study = result.study
    names = [_title(asked) for asked in result.asked] + [chance.bound.name for chance in study.chances]
    wide = max(len(name) for name in names) + 2
    lines = [result.case.title, f"{study.samples} samples ({study.method}, seed {study.seed})"]
    lines += [f"of {AS_DRAWN}: rotors sampled from the tolerances of the case; recordings are not used"]
    for note in filter(None, (basis.text(result.case), basis.along_note(result.case))):
        lines += [*textwrap.wrap(note, WIDTH, break_on_hyphens=False), ""]
    lines += [f"{'':{wide}}{'mean':>12}{'std. dev.':>12}{'95 % of all':>20}{'linear':>12}"]
    lines += [_text_row(result, asked, wide) for asked in result.asked]
    if result.warnings:
        lines.append(f"{'':{wide}}{'* see below':>58}")
    lines += _chance_lines(result, wide)
    lines += _drivers(result)
    marked = [f"* {name}: {why}" for name, why in result.warnings.items()]
    return "\n".join(lines + ([""] if marked or result.notes else []) + marked + list(result.notes))


def _chance_lines(result: ToleranceStudy, wide: int) -> list[str]:
    """The share of samples that keep each requirement and claim, beside what a measured run shows of it."""
    if not result.study.chances:
        return []
    note = _by_run_note(result)
    head = f"{'share of samples that hold, as drawn':{wide}}{'':12}{'sampling interval':>22}"
    lines = ["", f"{head}   by the measured run" if note else head]
    for chance, found in zip(result.study.chances, _by_bound(result), strict=True):
        low, high = (f"{100 * end:.3f}" for end in chance.interval)
        share = _share_words(chance.met, chance.samples)
        verdict = "" if not note else found[0] if found else "not measured"
        lines.append(f"{chance.bound.name:{wide}}{share:>12}{f'{low} to {high} %':>22}   {verdict}".rstrip())
    return [*lines, *(textwrap.wrap(note, WIDTH, break_on_hyphens=False) if note else [])]


def _share_words(met: int, samples: int) -> str:
    """A share of samples in percent; in words where a percentage would claim more than so many samples show.

    >>> [_share_words(met, 100_000) for met in (0, 1, 50_000, 99_999, 100_000)]
    ['none', 'below 0.01 %', '50.00 %', 'over 99.99 %', 'all']
    """
    if met in (0, samples):
        return "all" if met else "none"
    share = f"{100 * met / samples:.2f}"
    return {"0.00": "below 0.01 %", "100.00": "over 99.99 %"}.get(share, f"{share} %")


def _title(asked: Asked) -> str:
    return f"{plain_name(asked.quantity)}, {asked.condition}"


def _text_row(result: ToleranceStudy, asked: Asked, wide: int) -> str:
    quantity, found = asked.quantity, result.study.distributions[asked.name]
    low, high = (bare_text(quantity, end) for end in found.interval())
    spread = float(result.linear.standard_uncertainty[result.linear.outputs.index(asked.name)])
    shown = (quantity_text(quantity, found.mean), _fine(quantity, found.standard_deviation), _fine(quantity, spread))
    mark = " *" if asked.name in result.warnings else ""
    return f"{_title(asked):{wide}}{shown[0]:>12}{shown[1]:>12}{f'{low} to {high}':>20}{shown[2]:>12}{mark}"


def _fine(quantity: str, spread: float) -> str:
    """A spread, with a digit more than the value itself."""
    unit = print_unit(quantity)
    return unit.text(spread, f".{(unit.decimals or 0) + 1}f") if np.isfinite(spread) else "undefined"


def _drivers(result: ToleranceStudy) -> list[str]:
    found, first = result.indices, result.asked[0]
    if found is None:
        return []
    row = found.outputs.index(first.name)
    order = np.argsort(-np.nan_to_num(found.total[row]))[:TORNADO_ROWS]
    wide = max(len(name) for name in (*found.groups, _title(first) + "what drives ")) + 2
    lines = ["", f"{'what drives ' + _title(first):{wide}}{'first':>10}{'total':>10}"]
    for column in order:
        shares = (found.first[row, column], found.total[row, column])
        lines.append(f"{found.groups[column]:{wide}}" + "".join(f"{100 * share:8.1f} %" for share in shares))
    return lines
