"""Verdicts, margins, drivers, shims and headline against signs and numbers that a hand can derive.

Cold and without field the interference left falls as speed squared from what there is at standstill, so a float speed
goes with the root of the interference: most expected values below are that root.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from rimmodel.behaviour import float_speed, sweep
from rimmodel.behaviour.quantities import evaluate, interval_text, quantity_text
from rimmodel.evidence.measured.machine import NOISE, Level, MeasuredMachine, by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.rotor import GivenSpider
from rimmodel.rotor.case.case import EXAMPLES, example_case, parse_case
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement
from rimmodel.units import MEGAPASCAL, MILLIMETRE, RPM
from rimmodel.verdict import review
from rimmodel.verdict.assess import _digest, headline
from rimmodel.verdict.drivers import drivers
from rimmodel.verdict.judge import _margin, judge, verdict_of_interval
from rimmodel.verdict.output.details import details
from rimmodel.verdict.shims import shim_advice
from rimmodel.verdict.tolerance_study import run_study
from tests.built_in import example_review

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
WARM = '[conditions.warm]\nrim_temperature = "30 degC"\nspider_temperature = "22 degC"\n'
CASE = parse_case((NEW + WARM).encode(), "unit.toml")
COLD = CASE.conditions["cold"]
DRAWN, TOLERANCE = 1.8e-3, 0.1e-3
DRAWN_SPEED = float(float_speed(CASE.rotor, COLD).speed)
RATED = float(CASE.rotor.speeds.rated)

# two-sided normal quantiles, from any table
Z95, Z99 = 1.959964, 2.575829


def points_at(speeds, gaps, error=0.01e-3, is_change=False):
    speed = np.asarray(speeds, dtype=float)
    nothing, one = np.full(speed.shape, np.nan), np.ones(speed.shape, dtype=int)
    return SpeedPoints(
        speed=speed, gap=np.asarray(gaps, dtype=float), standard_error=np.full(speed.shape, error), minimum=nothing,
        least_sensor_gap=nothing, count=one, outliers=0 * one, direction=np.full(speed.shape, "up"),
        plane=np.full(speed.shape, ""), steady=one > 0, time=nothing, rim_temperature=nothing,
        stator_temperature=nothing, is_change=is_change, notes=(),
    )  # fmt: skip


def measured(best, low, high, points=None, condition="cold"):
    """A measurement of an effective interference (m), float speeds by the root law; None is an open side or no best."""

    def speed(interference):
        return DRAWN_SPEED * math.sqrt(interference / DRAWN)

    machines = machines_at(best, low, high)
    return Measurement(
        label="run", source="run.csv", condition=condition,
        points=points or points_at([5.0], [14.9e-3]), knees={}, verdict="resolved" if best else "above tested range",
        float_speed=speed(best) if best else math.nan,
        float_speed_interval=(speed(low) if low else 0.0, speed(high) if high else math.inf),
        interference=best or math.nan,
        interference_interval=(low or -math.inf, high or math.inf),
        confidence=0.95, notes=(), reasons=(), machines=machines,
        float_speeds={name: by_test(machines, "float_speed", name) for name in CASE.conditions},
    )  # fmt: skip


def machines_at(best, low, high):
    """The rotor of the case with each of these interferences (m) left, as the neighbours of a measured machine."""
    known = [value for value in (low, high) if value is not None]
    closed = bool(best) and len(known) == 2
    rows = [[best, low, high]] if closed else [[value] for value in known]
    level = Level({"keys": 0.0}, 1e-4, ("keys",))
    causes = (NOISE,) if closed else ()

    def machine(left):
        rotor = CASE.rotor.settled_to(np.array(left))
        bounded = (low is not None, high is not None)
        return MeasuredMachine(
            CASE, 0.95, causes, {"keys": rotor}, {"keys": rotor}, CASE.conditions, level, bounded, closed
        )

    return tuple(machine(row) for row in rows)


# ------------------------------------------------------------------------------------------- the three values


@pytest.mark.derived
@pytest.mark.parametrize(
    ("interval", "at_least", "verdict"),
    [
        ((10.0, 12.0), True, "holds"),
        ((10.0, math.inf), True, "holds"),
        ((9.9, 12.0), True, "not shown"),
        ((0.0, math.inf), True, "not shown"),
        ((8.0, 10.0), True, "not shown"),
        ((8.0, 9.9), True, "does not hold"),
        ((0.0, 9.9), True, "does not hold"),
        ((math.nan, 12.0), True, "not shown"),
        ((11.0, math.nan), True, "not shown"),
        ((8.0, 10.0), False, "holds"),
        ((-math.inf, 10.0), False, "holds"),
        ((8.0, 10.1), False, "not shown"),
        ((10.0, 12.0), False, "not shown"),
        ((10.1, 12.0), False, "does not hold"),
        ((-math.inf, math.inf), False, "not shown"),
    ],
)
def test_an_interval_against_a_bound_of_ten(interval, at_least, verdict):
    assert verdict_of_interval(interval, 10.0, at_least) == verdict


@pytest.mark.derived
@pytest.mark.parametrize(
    ("best", "interval", "threshold", "at_least", "margin"),
    [
        (11.0, (10.5, 11.5), 10.0, True, 0.10),
        (9.0, (8.5, 9.5), 10.0, True, -0.10),
        (9.0, (8.5, 9.5), 10.0, False, 0.10),
        (None, (12.0, math.inf), 10.0, True, 0.20),
        (None, (0.0, 8.0), 10.0, True, -0.20),
        (-9.0, (-10.0, -8.0), -10.0, True, 0.10),  # a clearance of 9 is better than one of 10
        (None, (-math.inf, math.inf), 10.0, True, None),
        (1.0, (0.5, 1.5), 0.0, True, None),
    ],
)
def test_a_margin_is_positive_on_the_good_side(best, interval, threshold, at_least, margin):
    found = _margin(best, interval, threshold, at_least)
    assert found is None if margin is None else found == pytest.approx(margin)


DRAWING = replace(CASE, tolerances=CASE.tolerances[:1], correlations=())  # the interference's alone
CLAIM = Claim("float_speed", 1.3 * RATED, "cold", tolerance=0.05)  # met within 5 %: from 1.235 x rated, 185.25 rpm


@pytest.mark.derived
@pytest.mark.parametrize(
    ("interference", "half", "verdict"),
    [(1.8e-3, 0.1e-3, "holds"), (1.0e-3, 0.1e-3, "does not hold"), (1.3e-3, 0.15e-3, "not shown")],
)
def test_a_claim_is_judged_by_the_measured_interval(interference, half, verdict):
    found = judge(CASE, CLAIM, measured(interference, interference - half, interference + half))
    speed = DRAWN_SPEED * math.sqrt(interference / DRAWN)
    assert found.verdict == verdict
    assert found.threshold == pytest.approx(0.95 * 1.3 * RATED)
    assert found.measured == pytest.approx(speed, rel=1e-12)
    assert found.margin == pytest.approx(speed / (1.3 * RATED) - 1)
    assert found.acceptance_margin == pytest.approx(speed / (0.95 * 1.3 * RATED) - 1)
    assert "the machine fitted to 'run'" in found.reason
    assert "195.0 rpm as claimed with the tolerance of 5 % of the claim" in found.reason


def test_a_claim_without_a_tolerance_is_taken_at_its_word():
    plain = replace(CLAIM, tolerance=0.0)
    speed = DRAWN_SPEED * math.sqrt(1.8e-3 / DRAWN)
    near = replace(plain, value=1.001 * speed)
    found = judge(CASE, near, measured(1.8e-3, 1.7999e-3, 1.8001e-3))
    assert found.verdict == "does not hold"
    assert found.threshold == found.stated
    assert found.acceptance_margin is None
    assert Claim("float_speed", 1.0).tolerance == 0.0


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [(1.7e-3, None, "holds"), (1.0e-3, None, "not shown"), (None, 1.0e-3, "does not hold"), (None, None, "not shown")],
)
def test_a_bound_alone_may_decide(low, high, verdict):
    found = judge(CASE, CLAIM, measured(None, low, high))
    assert found.verdict == verdict
    assert found.measured is None
    assert "inf" not in found.reason
    assert "nan" not in found.reason


@pytest.mark.derived
def test_without_a_recording_the_tolerance_of_the_drawing_decides():
    found = judge(DRAWING, CLAIM, None)
    half = Z95 * TOLERANCE / 2  # a half-width is two standard uncertainties
    expected = [DRAWN_SPEED * math.sqrt((DRAWN + side * half) / DRAWN) for side in (-1, 1)]
    assert found.predicted_interval == pytest.approx(expected, rel=1e-7)
    assert found.interval is None
    assert found.verdict == "holds"
    assert "no recording" in found.reason


@pytest.mark.derived
def test_a_requirement_is_shown_with_its_own_confidence():
    speeds = {}
    for confidence, z in ((0.95, Z95), (0.99, Z99)):
        found = judge(DRAWING, Requirement("late", "float_speed", "cold", 1.1 * RATED, None, confidence), None)
        speeds[confidence] = found.predicted_interval[0]
        expected = DRAWN_SPEED * math.sqrt((DRAWN - z * TOLERANCE / 2) / DRAWN)
        assert found.predicted_interval[0] == pytest.approx(expected, rel=1e-7)
    between = (speeds[0.95] + speeds[0.99]) / 2
    bounds = {level: Requirement("late", "float_speed", "cold", between, None, level) for level in speeds}
    assert judge(DRAWING, bounds[0.95], None).verdict == "holds"
    assert judge(DRAWING, bounds[0.99], None).verdict == "not shown"


@pytest.mark.independent
@pytest.mark.parametrize("item", [*CASE.claims, *CASE.requirements], ids=lambda item: item.quantity)
def test_a_prediction_carries_every_tolerance_of_the_case(item):
    # linear propagation against 16,384 sampled rotors
    found = judge(CASE, item, None)
    output = f"{item.quantity}, {CASE.condition(item.condition)[0]}"
    sampled = run_study(CASE, 2**14, index_samples=0).study.distributions[output]
    low, high = found.predicted_interval
    assert high - low == pytest.approx(2 * Z95 * sampled.standard_deviation, rel=0.05)
    assert (low + high) / 2 == pytest.approx(sampled.mean, abs=0.05 * sampled.standard_deviation)


def test_tolerances_beside_the_interference_may_leave_a_claim_open():
    # 182 rpm and more with the interference alone, 176 rpm and more with all: the claim counts as met from 176.9 rpm
    case = example_case()
    (claim,) = (replace(claim, tolerance=0.05) for claim in case.claims if claim.quantity == "float_speed")
    assert judge(replace(case, tolerances=case.tolerances[:1], correlations=()), claim, None).verdict == "holds"
    assert judge(case, claim, None).verdict == "not shown"


def test_a_rim_that_never_floats_keeps_the_answer_of_its_interference():
    spider = GivenSpider(4e10, 10e-3, RATED)  # outgrows the rim
    case = replace(CASE, rotor=replace(CASE.rotor, spider=spider), tolerances=CASE.tolerances[:2], correlations=())
    assert judge(case, CLAIM, None).predicted_interval == (math.inf, math.inf)


@pytest.mark.derived
def test_another_condition_follows_from_the_effective_interference():
    loss = 3.0 * 12e-6 * (10.0 - 2.0)  # rim bore radius, expansion, rim warmer by 10 K and spider by 2 K
    found = judge(CASE, replace(CLAIM, condition="warm"), measured(1.5e-3, 1.4e-3, 1.6e-3))
    speeds = [DRAWN_SPEED * math.sqrt((value - loss) / DRAWN) for value in (1.5e-3, 1.4e-3, 1.6e-3)]
    assert [found.measured, *found.interval] == pytest.approx(speeds, rel=1e-9)
    assert found.measured_how == "the machine fitted to 'run'"


def test_stress_and_growth_are_ceilings_and_speed_and_gap_are_floors():
    stress = float(evaluate("rim_stress_at_overspeed", CASE.rotor, COLD))
    met = Claim("rim_stress_at_overspeed", stress, "cold", tolerance=0.05)
    assert judge(DRAWING, met, None).threshold == pytest.approx(1.05 * stress)
    assert judge(DRAWING, met, None).verdict == "holds"
    assert judge(DRAWING, replace(met, value=stress / 1.2), None).verdict == "does not hold"
    assert judge(DRAWING, replace(met, value=stress * 1.2), None).verdict == "holds"
    gap = float(evaluate("gap_at_overspeed", CASE.rotor, COLD))
    assert judge(DRAWING, Claim("gap_at_overspeed", gap / 0.96, "cold", tolerance=0.05), None).verdict == "holds"
    assert (
        judge(DRAWING, Claim("gap_at_overspeed", gap / 0.94, "cold", tolerance=0.05), None).verdict == "does not hold"
    )


def test_a_gap_record_says_nothing_of_strength():
    found = judge(CASE, Claim("first_yield_speed", 200 * RPM, "cold"), measured(1.0e-3, 0.9e-3, 1.1e-3))
    assert found.interval is None
    assert found.verdict == "holds"


def test_a_stress_that_the_model_does_not_know_is_not_shown():
    found = judge(CASE, Claim("spider_stress_at_rated", 100 * MEGAPASCAL, "cold"), None)  # the hub is not described
    assert found.verdict == "not shown"


@pytest.mark.derived
def test_the_gap_of_a_floating_rim_does_not_know_what_has_settled():
    # 30 % of the interference left: it floats at 0.55 of its drawn float speed, so at overspeed the rim is free
    found = judge(CASE, Claim("gap_at_overspeed", 13e-3, "cold"), measured(0.3 * DRAWN, 0.25 * DRAWN, 0.35 * DRAWN))
    free = float(sweep(CASE.rotor.settled_to(0.1 * DRAWN), COLD, float(CASE.rotor.speeds.overspeed)).air_gap)
    assert [found.measured, *found.interval] == pytest.approx([free] * 3, rel=1e-12)
    assert found.measured > found.predicted  # pressure gone, the rim stands smaller than while it was seated


# ------------------------------------------------------------------------------------------- drivers and shims


@pytest.mark.derived
def test_drivers_against_hand_derived_numbers():
    found = {row.input: row.float_speed_change for row in drivers(CASE.rotor, COLD)}
    assert found.keys() == {"rim hoop stiffness", "pole mass", "rim over spider temperature", "interference",
                            "spider growth"}  # fmt: skip
    assert found["interference"] == pytest.approx(math.sqrt(1.1) - 1)
    assert found["rim over spider temperature"] == pytest.approx(math.sqrt((DRAWN - 3.0 * 12e-6 * 10) / DRAWN) - 1)
    # arms of 0.05 m2 from 1.1 m to 3 m turning with the speed: a rod under its own pull, no tip mass
    own = 7850 / (2 * 206e9) * (3.0**2 * (3.0 - 1.1) - (3.0**3 - 1.1**3) / 3)
    net = DRAWN / DRAWN_SPEED**2
    assert found["spider growth"] == pytest.approx(math.sqrt(net / (net + own)) - 1)


@pytest.mark.derived
def test_the_direction_of_every_driver():
    found = {row.input: row.float_speed_change for row in drivers(CASE.rotor, CASE.conditions["hot"])}
    assert found["rim hoop stiffness"] > 0  # a stiffer rim grows less
    assert found["pole mass"] < 0
    assert found["rim over spider temperature"] < 0  # a warm rim leaves its keys
    assert found["interference"] > 0
    assert found["spider growth"] < 0  # the spider follows the rim; without that it floats earlier
    assert found["magnetic pull"] > 0  # the pull draws the rim off its keys


def test_drivers_stand_in_the_order_of_their_size():
    sizes = [abs(row.float_speed_change) for row in drivers(CASE.rotor, CASE.conditions["hot"])]
    assert sizes == sorted(sizes, reverse=True)


def test_where_there_is_no_float_speed_no_driver_has_a_share():
    loose = CASE.rotor.with_interference(-0.1e-3)
    assert {row.float_speed_change for row in drivers(loose, COLD)} == {None}


def test_soft_keys_change_no_driver_of_a_cold_rim():
    soft = replace(CASE.rotor, fit=replace(CASE.rotor.fit, key_stiffness=2e10))
    shares = [[row.float_speed_change for row in drivers(rotor, COLD)] for rotor in (CASE.rotor, soft)]
    assert shares[0] == pytest.approx(shares[1], rel=1e-9)


# ------------------------------------------------------------------------------------------- words


def the_headline(case, measurement=None):
    governing = {} if measurement is None else {0.95: measurement}
    findings = [judge(case, item, governing.get(0.95)) for item in (*case.claims, *case.requirements)]
    predictions = review(replace(case, records=())).predictions
    shown = () if measurement is None else (measurement,)
    window = shrink_window(case, measurement)
    return headline(case, findings, predictions, shown, (), shim_advice(window))


def test_the_headline_gives_the_verdict_on_the_claim_first():
    assert the_headline(CASE).startswith("The claimed float speed of 195.0 rpm (cold) holds.")
    assert "rest on the drawing alone" in the_headline(CASE)
    assert "All requirements hold" in the_headline(CASE)
    loose = the_headline(CASE, measured(1.0e-3, 0.9e-3, 1.1e-3))
    assert loose.startswith("The claimed float speed of 195.0 rpm (cold) does not hold.")
    assert "effective interference is 1.00 mm (0.90 to 1.10 mm) against 1.80 mm on the drawing" in loose
    assert "Requirements that do not hold: no_float_in_service." in loose
    assert "Shims, radial, relative to 1.00 mm" in loose
    astride = the_headline(CASE, measured(1.3e-3, 1.1e-3, 1.5e-3))
    assert astride.startswith("The claimed float speed of 195.0 rpm (cold) is not shown by this evidence.")


def test_open_bounds_come_out_in_words():
    for measurement in (measured(1.0e-3, None, 1.1e-3), measured(None, 0.5e-3, None), measured(None, None, None)):
        said = the_headline(CASE, measurement)
        assert "inf" not in said.replace("interference", "")
        assert "nan" not in said


def test_without_a_claim_the_headline_predicts():
    said = the_headline(replace(CASE, claims=()))
    assert said.startswith("No float speed is claimed; the prediction (cold): lifts off at")


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [
        ("float_speed", 100 * RPM, "100.0 rpm"),
        ("gap_at_rated", 12.344e-3, "12.34 mm"),
        ("rim_stress_at_rated", 180.06e6, "180.1 MPa"),
        ("float_speed", math.inf, "without bound"),
        ("float_speed", math.nan, "not determined"),
        ("float_speed", None, "not determined"),
        ("float_speed", -math.inf, "not determined"),
    ],
)
def test_values_are_written_with_their_unit(quantity, value, words):
    assert quantity_text(quantity, value) == words


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        ((100 * RPM, 110 * RPM), "100.0 to 110.0 rpm"),
        ((100 * RPM, math.inf), "above 100.0 rpm"),
        ((0.0, 110 * RPM), "below 110.0 rpm"),
        ((-math.inf, math.inf), "no bound"),
        (None, "no bound"),
    ],
)
def test_intervals_are_written_with_open_sides(interval, words):
    assert interval_text("float_speed", interval) == words


# ------------------------------------------------------------------------------------------- whole reviews


def write_run(path, interference, highest, noise=0.01e-3):
    """An invented chart of a rim with this effective interference, up to `highest` rpm."""
    speed = np.linspace(30.0, highest, 24)
    gap = sweep(CASE.rotor.settled_to(interference), COLD, speed * RPM).air_gap
    gap = gap + np.random.default_rng(5).normal(0.0, noise, speed.shape)
    rows = "".join(f"{n:.3f},{g / MILLIMETRE:.5f}\n" for n, g in zip(speed, gap, strict=True))
    path.write_text("speed [rpm],gap [mm]\n" + rows, encoding="utf-8")
    return CaseRecord(str(path), "cold", "run")


@pytest.mark.parametrize(
    ("interference", "highest", "verdict"),
    [
        (1.1e-3, 260.0, "does not hold"),  # floats at 169 rpm; the claim counts as met from 185 rpm
        (1.8e-3, 290.0, "holds"),
        (1.8e-3, 150.0, "not shown"),  # the run ends before the rim floats
    ],
)
def test_a_run_with_a_known_truth_gets_the_verdict_that_it_deserves(tmp_path, interference, highest, verdict):
    found = review(CASE, [write_run(tmp_path / "run.csv", interference, highest)])
    claim = found.findings[0]
    truth = DRAWN_SPEED * math.sqrt(interference / DRAWN)
    assert claim.verdict == verdict
    assert claim.interval[0] <= truth <= claim.interval[1]


def test_a_requirement_with_more_confidence_is_held_against_a_wider_interval(tmp_path):
    rows = [Requirement(f"{level}", "float_speed", "cold", 160 * RPM, None, level) for level in (0.95, 0.99)]
    case = replace(CASE, requirements=tuple(rows))
    _, usual, strict = review(case, [write_run(tmp_path / "run.csv", 1.1e-3, 260.0, 0.02e-3)]).findings
    assert strict.interval[0] < usual.interval[0]
    assert strict.interval[1] > usual.interval[1]
    assert "at 99 %" in strict.reason
    assert "at 95 %" in usual.reason


def test_the_curve_as_measured_runs_through_the_points_of_the_built_in_run():
    found = example_review()
    points, curve = found.measurements[-1].points, found.predictions["cold"].as_measured.curve
    apart = points.gap - np.interp(points.speed, curve.speed, curve.air_gap)
    # twelve sensors, each off by 0.1 mm or so: their mean by 0.03 mm, for all speeds alike
    assert abs(apart.mean()) < 0.06e-3
    assert apart.std() < 0.02e-3


def test_the_digest_follows_case_and_recording(tmp_path):
    path = tmp_path / "run.csv"
    path.write_text("speed [rpm],gap [mm]", encoding="utf-8")
    files = [(CaseRecord("run.csv", "cold", "run"), path)]
    of_a_sheet = [(CaseRecord("run.csv", "cold", "run", sheet="second"), path)]
    digests = [_digest(CASE, []), _digest(CASE, files), _digest(example_case(), files), _digest(CASE, of_a_sheet)]
    path.write_text("speed [rpm],gap [mm]\n", encoding="utf-8")
    digests.append(_digest(CASE, files))
    assert len(set(digests)) == 5
    assert {len(digest) for digest in digests} == {64}


def test_a_limit_that_does_not_hold_stands_in_the_headline():
    strict = parse_case(
        (NEW + WARM).replace("# arm_share_of_yield = 0.5", "arm_share_of_yield = 0.1").encode(), "unit.toml"
    )
    said = review(strict).headline
    assert "2 of " in said
    assert "checks against limits exceed their limits (as drawn): arm stress" in said
    assert "All requirements hold, but not all limits are met." in said
    assert "exceed" not in review(CASE).headline


def test_speeds_in_a_wrong_unit_are_refused(tmp_path):
    path = tmp_path / "run.csv"
    rows = "\n".join(f"{speed}, {15.0 - 1e-5 * speed**2}" for speed in range(20, 200, 20))
    path.write_text(f"speed [rad/s], gap [mm]\n{rows}\n")  # they are rpm
    with pytest.raises(RecordingError, match=r"speeds reach 1718\.87 rpm, .* check the unit of the speed column"):
        review(CASE, [CaseRecord(path, "cold", "run")])


@pytest.mark.derived
def test_the_load_rejection_goes_by_the_rotor_that_was_measured():
    reviewed = example_review()
    found = details(reviewed)
    speed = reviewed.measurements[-1].float_speeds["cold"].best
    assert found.rejection["conditions"]["cold"]["float_speed_rpm"] == pytest.approx(float(speed) / RPM)
    assert found.basis == "as measured in 'after correction'"
    assert details(review(replace(reviewed.case, records=()))).basis == "as drawn"
