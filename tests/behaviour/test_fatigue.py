"""Life of the rim: the Goodman line and the line of cycles, by hand and on paper in logarithms."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimmodel.behaviour import sweep
from rimmodel.behaviour.limits.fatigue import cycles_to_failure, fatigue_checks, goodman_ratio
from rimmodel.rotor.allowances import DutyCycle, Limits
from tests.behaviour.invented_rotors import COLD, RIM_STEEL, ROTOR, changed

STRONG = replace(RIM_STEEL, ultimate_strength=640e6, endurance_limit=240e6)
MACHINE = changed(rim={"material": STRONG, "stress_concentration_factor": 2.3})


@pytest.mark.recalled
@pytest.mark.parametrize(
    ("low", "high", "ratio"),
    [
        (-100e6, 100e6, 2.4),  # fully reversed: S_e / amplitude
        (150e6, 150e6, 640 / 150),  # steady: S_u / mean
        (0.0, 200e6, 1 / (100 / 240 + 100 / 640)),  # both, Shigley, Goodman criterion
        (-300e6, -100e6, 2.4),  # a mean in compression neither helps nor harms
    ],
)
def test_distance_from_the_goodman_line(low, high, ratio):
    assert goodman_ratio(low, high, 240e6, 640e6) == pytest.approx(ratio)


@pytest.mark.independent
@given(
    amplitude=st.floats(100e6, 570e6),
    mean=st.floats(-100e6, 300e6),
    endurance=st.floats(150e6, 300e6),
)
def test_cycles_to_failure_lie_on_the_straight_line_in_logarithms(amplitude, mean, endurance):
    ultimate = 640e6
    if max(mean, 0.0) + amplitude >= ultimate:
        expected = 0.0
    else:
        reversed_ = amplitude / (1 - max(mean, 0.0) / ultimate)
        axis, cycles = np.log10([endurance, 0.9 * ultimate]), [6.0, 3.0]
        slope = (cycles[1] - cycles[0]) / (axis[1] - axis[0])
        expected = np.inf if reversed_ <= endurance else 10 ** (6.0 + slope * (np.log10(reversed_) - axis[0]))
    found = float(cycles_to_failure(mean - amplitude, mean + amplitude, endurance, ultimate))
    if np.isinf(expected) != np.isinf(found):  # where rounding decides on which side of the endurance limit it lies
        assert reversed_ == pytest.approx(endurance, rel=1e-12)
        assert min(expected, found) == pytest.approx(1e6, rel=1e-6)
    else:
        assert found == pytest.approx(expected, rel=1e-6)


def test_shrink_takes_from_the_range_of_a_start_and_stop_and_adds_to_its_mean():
    cycle = (DutyCycle(0.0, 12.0, 2e4, "start"),)

    def ratio(interference, ultimate):
        machine = changed(MACHINE, rim={"material": replace(STRONG, ultimate_strength=ultimate)})
        rows = fatigue_checks(machine.with_interference(interference), COLD, "cold", Limits(), cycle)
        return float(next(iter(rows)).value)

    assert ratio(3e-3, 1e10) > ratio(0.0, 1e10)  # where the mean does not count
    assert ratio(3e-3, 640e6) < ratio(0.0, 640e6)


@pytest.mark.derived
def test_shares_of_life_add_up_over_the_duty():
    # far above the endurance limit, so that cycles are counted
    machine = changed(MACHINE, rim={"stress_concentration_factor": 3.0})
    speeds = [(0.0, 20.0), (5.0, 21.0)]
    damage = 0.0
    for (low, high), count in zip(speeds, (300.0, 2000.0), strict=True):
        ends = [3.0 * float(sweep(machine, COLD, at).rim_bore_hoop_stress) / (0.97 * 0.85) for at in (low, high)]
        damage += count / float(cycles_to_failure(*ends, 240e6, 640e6))
    duty = tuple(DutyCycle(*ends, count, "c") for ends, count in zip(speeds, (300.0, 2000.0), strict=True))
    rows = {row.name: row for row in fatigue_checks(machine, COLD, "cold", Limits(), duty)}
    assert 0 < damage < np.inf
    assert float(rows["share of fatigue life used"].value) == pytest.approx(damage)


def test_rare_cycles_are_told_but_decide_by_their_share_alone():
    duty = (DutyCycle(0.0, 12.0, 2e4, "often"), DutyCycle(0.0, 17.0, 50.0, "rare"))
    rows = {row.at: row for row in fatigue_checks(MACHINE, COLD, "cold", Limits(), duty)}
    assert (rows["often"].binding, rows["rare"].binding, rows["life"].binding) == (True, False, True)
    assert rows["rare"].status == "for information: so few cycles count in the share of fatigue life instead"


def test_an_endurance_limit_near_the_ultimate_strength_is_refused():
    with pytest.raises(ValueError, match=r"endurance_limit is 600 MPa; it must be below 0.9"):
        cycles_to_failure(0.0, 1e8, 600e6, 640e6)


def test_the_machine_of_these_tests_is_the_invented_one():
    assert MACHINE.poles == ROTOR.poles
