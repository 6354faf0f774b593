"""What a look at a run recommends: plain English, never above the agreed speed, nor where anything is in doubt."""

import numpy as np
import pytest

from rimmodel.planning.next_speed import NextSpeed
from rimmodel.units import RPM
from rimmodel.verdict.interim import SoFar
from rimmodel.verdict.output.interim import table, text

NAN = float("nan")


def look(*, gains=False, shown="nothing", fastest=150.0, last=None, go_on_to=210.0, reasons=(), repeated=(False,) * 3):
    """A look at a run up to `fastest` rpm with three speeds that may be next, made up."""
    speed = np.array([36.0, 100.0, 160.0]) * RPM
    after = NextSpeed(
        speed,
        np.array([0.02, 0.03, 0.3 if gains else 0.04]),
        np.full(3, 40.0 if gains else 46.0) * RPM,
        46.8 * RPM,
        np.array(repeated),
        (fastest if last is None else last) * RPM,
    )
    return SoFar(
        "run", "run.csv", "cold", 6, fastest * RPM, shown, (0.0, float("inf")), 0.95, after, go_on_to * RPM,
        tuple(reasons), (),
    )  # fmt: skip


def words(found):
    return " ".join(text([found]).split("The interval holds")[0].split())


@pytest.mark.parametrize("gains", [True, False])
def test_no_unit_of_information_is_printed_and_it_stays_in_the_json(gains):
    found = look(gains=gains)
    assert "bit" not in words(found).replace("holds", "")
    assert table(found)["next"]["information_bits"][0] == 0.02
    assert ("160 rpm would tell most" in words(found)) == gains


def test_a_run_that_no_single_step_settles_goes_on_to_the_end_of_its_plan_and_down():
    said = words(look())
    assert "No single next step that the plan allows, from 36 rpm to 160 rpm," in said
    assert "46.8 rpm now" in said
    assert "Continue by the plan, within its hold and stop lines, up to 210 rpm and not above" in said
    assert "run-down with the same holds" in said
    assert "46.8" not in words(look(reasons=("few readings",)))


@pytest.mark.parametrize(
    "found",
    [
        look(go_on_to=NAN),
        look(fastest=210.0),
        look(fastest=215.0),
        look(last=40.0),
        look(shown="lift-off"),
        look(shown="floating"),
    ],
)
def test_no_higher_speed_is_asked_for_in_doubt_at_the_end_on_the_run_down_or_after_lift_off(found):
    said = words(found)
    assert "Continue" not in said
    assert "run-down with the same holds" in said
    assert ("Clear the remarks" in said) == np.isnan(found.go_on_to)
