"""Alternatives side by side: differences against drawn machines, and what cancels because it is the same part."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, rotor_model
from rimmodel.planning.alternatives import inputs_that_differ, side_by_side
from rimmodel.rotor.case.case import read_case
from rimmodel.verdict.output.alternatives import table as alternatives_table
from rimmodel.verdict.output.alternatives import text as alternatives_text

EXAMPLE = Path(rm.__file__).parent / "rotor" / "examples" / "quillmere.toml"


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """The example, and the same with 0.2 mm more interference at every key."""
    path = tmp_path_factory.mktemp("cases") / "thicker.toml"
    text = EXAMPLE.read_text(encoding="utf-8").replace('interference = "2.1 mm" ', 'interference = "2.3 mm" ')
    start = text.index("key_interference = [")
    text = text[:start] + text[text.index("]", start) + 1 :]
    path.write_text(text.partition("[[records]]")[0] + "[tolerances]" + text.partition("[tolerances]")[2], "utf-8")
    return [read_case(EXAMPLE), read_case(path)], ["quillmere.toml", "thicker.toml"]


@pytest.mark.independent
@pytest.mark.parametrize("quantity", ["float_speed", "gap_at_overspeed"])
def test_a_difference_has_the_spread_of_drawn_pairs_of_machines(pair, quantity):
    """4,000 pairs: the interference of each is drawn by itself, all that is the same part is drawn once for both."""
    cases, _ = pair
    asked = Asked(quantity, "cold")
    row = next(row for row in side_by_side(cases) if row.asked == asked)
    random = np.random.default_rng(4)
    inputs = [case_inputs(case) for case in cases]
    cube = random.uniform(size=(inputs[0].dimensions, 4000))
    other = cube.copy()
    other[inputs[0].names.index("fit.interference")] = random.uniform(size=4000)
    first, second = (
        rotor_model(case, [asked])(one.values(points))[asked.name]
        for case, one, points in zip(cases, inputs, (cube, other), strict=True)
    )
    difference, interval = row.differences[0]
    assert difference == pytest.approx(float(np.median(second - first)), abs=0.15 * (interval[1] - interval[0]))
    assert interval == pytest.approx(
        np.quantile(second - first, [0.025, 0.975]), abs=0.06 * (interval[1] - interval[0])
    )
    assert interval[1] - interval[0] < row.intervals[0][1] - row.intervals[0][0]  # most of it is the same part


@pytest.mark.derived
def test_what_nobody_keeps_the_same_adds_in_quadrature(pair):
    """Interference alone uncertain: each case moves by itself, u^2 = u1^2 + u2^2, where no kink is near."""
    cases = [
        replace(
            case, tolerances=tuple(row for row in case.tolerances if row.name == "fit.interference"), correlations=()
        )
        for case in pair[0]
    ]
    rows = [row for row in side_by_side(cases) if row.asked.quantity == "float_speed"]
    assert rows
    for row in rows:
        half = [(high - low) / 2 for low, high in row.intervals]
        low, high = row.differences[0][1]
        assert (high - low) / 2 == pytest.approx(np.hypot(*half), rel=0.02)


def test_only_what_differs_is_listed(pair):
    assert set(inputs_that_differ(pair[0])) - {"records"} == {"fit.interference", "fit.key_interference"}


def test_the_text_prints_the_numbers_of_the_table(pair):
    table, text = alternatives_table(*pair), alternatives_text(*pair)
    json.dumps(table, allow_nan=False)
    for row in table["quantities"]:
        if row["quantity"] != "float_speed":
            continue
        for value in row["values"]:
            assert f"{value:.1f} rpm" in text
        ends = " to ".join(f"{end:+.1f}" for end in row["difference_intervals"][0])
        assert f"B - A: {row['differences'][0]:+.1f} ({ends})" in text
    for row in table["verdicts"]:
        for letter, found in zip("AB", row["verdicts"], strict=True):
            assert f"{letter} {found['verdict']} by the drawing (" in " ".join(text.split())
    assert "fit.interference: A 2.1 mm; B 2.3 mm" in text


def test_the_command_refuses_in_one_line(rim, tmp_path):
    code, _, words = rim("compare", EXAMPLE)
    assert (code, words.count("\n")) == (2, 1)
    assert "at least two" in words
    other = tmp_path / "other.toml"
    other.write_text(EXAMPLE.read_text(encoding="utf-8").replace("conditions.cold", "conditions.cool"), "utf-8")
    code, _, words = rim("compare", EXAMPLE, tmp_path / "absent.toml")
    assert code == 2
    assert "absent.toml" in words
