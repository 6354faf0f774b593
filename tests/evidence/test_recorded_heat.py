"""Recorded temperatures as part of the model: what they do to the gap, and that a warming rim is no knee."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy.special import logsumexp

from rimmodel.behaviour import float_speed, sweep
from rimmodel.evidence.backfit.fit import back_fit
from rimmodel.evidence.backfit.fitter import PRIOR_SD, Freedom
from rimmodel.evidence.backfit.gap_model import GAINS, PARAMETERS, gap_model
from rimmodel.evidence.backfit.recorded_heat import FURTHEST, heat_departures
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.measured.borne_out import unfit
from rimmodel.evidence.measured.measure import measure_points, with_case
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.recording.temperature_table import read_temperatures, with_temperatures
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.rotor import GivenSpider
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import RPM
from tests.evidence.virtual_machines import CASE, COLD, ROTOR, points_of, unknowns, warm_run

GIVEN = replace(
    ROTOR,
    spider=GivenSpider(1.2e10, 0.5e-3, 15.0, ROTOR.rim.material),
    fit=replace(ROTOR.fit, interference=1.6e-3, key_interference=None, key_count=None, key_width=None),
)
SPEED = np.linspace(20.0, 190.0, 12) * RPM


@pytest.mark.independent
def test_a_gap_at_recorded_temperatures_is_that_of_a_rotor_in_such_a_condition():
    warm = {"rim": np.linspace(0.0, 12.0, 12), "spider": np.linspace(0.0, 5.0, 12), "stator": np.linspace(8.0, 1.0, 12)}
    warm["pole"] = 1.5 * warm["rim"]
    model = gap_model(GIVEN, COLD, SPEED, np.full(12, ""), np.zeros(12), warm)
    state = replace(COLD, pole_temperature=293.15 + warm["pole"],
                    **{f"{name}_temperature": 293.15 + warm[name] for name in ("rim", "spider", "stator")})  # fmt: skip
    there = sweep(GIVEN, state, SPEED)
    assert (there.contact_pressure > 0).any()
    assert (there.contact_pressure == 0).any()
    assert model.gaps(unknowns(1.6e-3))[0] == pytest.approx(there.air_gap, abs=1e-9)


@pytest.mark.derived
def test_a_gain_moves_the_gap_as_so_much_more_temperature():
    warm = {"rim": np.linspace(0.0, 12.0, 12), "spider": np.linspace(0.0, 5.0, 12)}
    row = unknowns(1.6e-3)
    row[0, -3:-1] = 0.2, -0.1
    more = {"rim": 1.2 * warm["rim"], "spider": 0.9 * warm["spider"]}
    models = [gap_model(GIVEN, COLD, SPEED, np.full(12, ""), np.zeros(12), one) for one in (warm, more)]
    assert models[0].gaps(row) == pytest.approx(models[1].gaps(unknowns(1.6e-3)), abs=1e-12)


def test_which_temperatures_count():
    kelvin = 293.15 + np.linspace(0.0, 10.0, 12)
    plain = points_of(SPEED, np.full(12, 16e-3))
    assert heat_departures(plain, COLD) == {}
    assert heat_departures(replace(plain, rim_temperature=kelvin), COLD) == {}  # rim over spider is not known
    both = replace(plain, rim_temperature=kelvin, spider_temperature=kelvin - 2.0)
    assert set(heat_departures(both, COLD)) == {"rim", "spider"}
    assert heat_departures(both, COLD)["spider"][-1] == pytest.approx(8.0)
    assert set(heat_departures(replace(plain, stator_temperature=kelvin), COLD)) == {"stator"}
    assert heat_departures(replace(plain, stator_temperature=np.full(12, 293.4)), COLD) == {}
    hot = replace(both, rim_temperature=kelvin + FURTHEST + 1.0)
    assert heat_departures(hot, COLD) == {}
    gap_in_log = np.where(np.arange(12) == 3, np.nan, kelvin)
    assert heat_departures(replace(both, rim_temperature=gap_in_log), COLD) == {}


def test_a_rim_that_warms_and_never_floats_shows_no_knee():
    random = np.random.default_rng(20)
    resolved = 0
    for _ in range(8):
        gains = random.normal(0.0, 0.15, 3)
        found = warm_run(unknowns(3.6e-3), random, gains=gains)
        resolved += found.verdict == "resolved"
        assert found.float_speed_interval[1] > 26.0
    assert resolved == 0


def test_a_knee_under_warming_is_found_where_it_is():
    random = np.random.default_rng(21)
    held = found_there = 0
    for _ in range(8):
        truth = unknowns(1.5e-3, 0.08 * random.standard_normal(), 0.3 * random.standard_normal())
        found = warm_run(truth, random, gains=random.normal(0.0, 0.15, 3), count=40, noise=0.015e-3)
        true = float(np.sqrt(found.fits[""].model.knee(truth, None, COLD)[0]))
        held += found.float_speed_interval[0] <= true <= found.float_speed_interval[1]
        found_there += found.verdict == "resolved"
        assert not any("without the recorded temperatures" in sentence for sentence in found.disqualified)
    assert held >= 7
    assert found_there >= 2


def _false_run(seed, kelvin, *, back=False):
    """Gaps of a rotor at 20 degC throughout, and a thermometer of its rim that rises by so much in the run."""
    speed, direction = np.linspace(20.0, 250.0, 30) * RPM, np.full(30, "up")
    if back:
        speed = np.concatenate([speed[::2], speed[::-2]])
        direction = np.repeat(["up", "down"], 15)
    gap = sweep(ROTOR, COLD, speed).air_gap + 1e-5 * np.random.default_rng(seed).normal(size=30)
    false = replace(
        points_of(speed, gap), direction=direction, time=60.0 * np.arange(30.0), spider_temperature=np.full(30, 293.15),
        rim_temperature=293.15 + np.linspace(0.0, kelvin, 30),
    )  # fmt: skip
    return measure_points(ROTOR, COLD, false)


@pytest.mark.derived
def test_a_thermometer_that_rises_while_nothing_warms_does_not_decide():
    """With the false 12 K the rim would lift off too late; the last two look like a level that drifts besides."""
    true, seen = float(float_speed(ROTOR, COLD).speed), 0
    for seed in (1, 2, 4, 5, 0, 15):
        found = _false_run(seed, 12.0)
        seen += any("a thermometer or its column may be wrong" in sentence for sentence in found.disqualified)
        low, high = found.float_speed_interval
        assert found.verdict != "resolved" or low <= true <= high
    assert seen >= 4


@pytest.mark.parametrize(
    ("best", "interval", "words"),
    [
        (19.0, (18.0, 20.0), "without them the rim lifts off at 181.4 rpm (171.9 to 191.0 rpm)"),
        (np.inf, (18.0, np.inf), "may be wrong. Check the thermometers"),
        (np.nan, (0.0, 20.0), "may be wrong. Check the thermometers"),
    ],
)
def test_a_lift_off_without_temperatures_is_stated_only_where_it_is_bounded(best, interval, words):
    found = warm_run(unknowns(1.5e-3), np.random.default_rng(22), count=12, noise=0.015e-3)
    knee, fit = found.knees[""], found.fits[""]
    likelier = replace(fit.posterior, log_evidence=fit.posterior.log_evidence + 5.0)
    bare = replace(fit, posterior=likelier, float_speed={"": best}, float_speed_interval={"": interval})
    (sentence,) = unfit(knee, fit, lambda: (knee, bare))
    assert words in sentence
    assert "148 times as probable" in sentence  # e to the fifth
    assert not any(bad in sentence for bad in ("inf", "nan"))


@pytest.mark.derived
def test_what_the_gaps_make_of_recorded_temperatures_is_stated_as_a_share():
    found = warm_run(unknowns(1.5e-3), np.random.default_rng(22), count=40, noise=0.015e-3)
    fit, knee = found.fits[""], found.knees[""]
    assert unfit(knee, fit, None) == ()
    estimate = fit.estimate.copy()
    estimate[fit.parameters.index("rim_gain")] = -0.6  # four standard uncertainties of 15 %: once in 16,000
    (sentence,) = unfit(knee, replace(fit, estimate=estimate), None)
    assert "as if the rim had departed from the condition by 40 % of what was recorded" in sentence
    assert "where 42 % to 158 % would be let pass" in sentence  # 3.89 standard uncertainties, once in 10,000


@pytest.mark.independent
def test_temperatures_are_judged_by_the_probability_of_the_gaps():
    """Against averages of the likelihood over drawn unknowns, level apart, with noise that is known."""
    kelvin, speed, sigma = np.linspace(0.0, 8.0, 14), np.linspace(40.0, 250.0, 14) * RPM, 3e-5
    warm = {"rim": kelvin, "spider": 0.3 * kelvin}
    heated = gap_model(ROTOR, COLD, speed, np.full(14, "up"), 300.0 * np.arange(14.0), warm)
    plain = replace(heated, heat=None)
    gap = plain.gaps(unknowns(1.9e-3))[0] + sigma * np.random.default_rng(4).standard_normal(14)
    points = replace(points_of(speed, gap), rim_temperature=293.15 + kelvin, spider_temperature=293.15 + 0.3 * kelvin)
    bare = replace(points, rim_temperature=np.full(14, np.nan), spider_temperature=np.full(14, np.nan))
    sharp = fit_knee(speed**2, gap, sigma=sigma, rounded=False)
    found = [back_fit(ROTOR, COLD, some, sharp).posterior.log_evidence for some in (bare, points)]

    random, count = np.random.default_rng(5), 400_000
    drawn = np.zeros((count, len(PARAMETERS)))
    drawn[:, 0] = np.sqrt(random.uniform((0.02 * speed[-1]) ** 2, speed[-1] ** 2, count))
    for name, spread in {**PRIOR_SD, **dict.fromkeys(GAINS[:2], Freedom().heat_gain)}.items():
        drawn[:, PARAMETERS.index(name)] = spread * random.standard_normal(count)
    expected = []
    for model in (plain, heated):
        rest = np.concatenate([gap - model.gaps(part, COLD) for part in np.split(drawn, 40)])
        rest -= rest.mean(axis=1, keepdims=True)
        expected.append(logsumexp(-0.5 * np.sum((rest / sigma) ** 2, axis=1)))
    assert found[0] - found[1] == pytest.approx(expected[0] - expected[1], abs=0.2)
    assert found[0] - found[1] > 2.0  # what rises in the run is not in the gaps


def test_a_run_with_its_temperatures_is_not_turned_away_for_them():
    found = warm_run(unknowns(1.5e-3), np.random.default_rng(22), count=40, noise=0.015e-3)
    judged = with_case(found, CASE, CaseRecord("run.csv", condition="cold"))
    assert judged.disqualified == ()
    assert any("recorded temperatures are part of the fit" in reason for reason in judged.reasons)
    alone = replace(found, points=replace(found.points, spider_temperature=np.full(40, np.nan)))
    turned = with_case(alone, CASE, CaseRecord("run.csv", condition="cold"))
    assert any("rim over spider" in reason for reason in turned.disqualified)


# --------------------------------------------------------------------------------------- a table against time

LOG = {"time [s]": [0.0, 1000.0, 3000.0], "rim temperature [degC]": [20.0, 30.0, None],
       "spider_temperature [degC]": [20.0, 22.0, 26.0]}  # fmt: skip


def _recording():
    speed = np.repeat(np.linspace(20.0, 180.0, 9), 4)
    return read_recording(
        pl.DataFrame({"time [s]": 80.0 * np.arange(36), "speed [rpm]": speed, "gap [mm]": 16.0 - 1e-5 * speed**2})
    )


@pytest.mark.derived
def test_a_table_of_temperatures_is_brought_to_the_moments_of_the_run():
    points = speed_points(with_temperatures(_recording(), read_temperatures(pl.DataFrame(LOG))))
    expected = 293.15 + np.interp(points.time, LOG["time [s]"], LOG["spider_temperature [degC]"]) - 20.0
    assert points.spider_temperature == pytest.approx(expected, abs=0.4)
    assert points.rim_temperature[-1] == pytest.approx(303.15)  # the last reading stands where none follows
    assert any("Rim temperature, spider temperature from" in note for note in points.notes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"time [s]": [0.0, 1000.0, 900.0]}, "row 3: time is 900 s after 1000 s; it must rise"),
        ({"time [s]": [0.0, None, 900.0]}, "row 2: time is missing"),
        ({"time [s]": [0.0, 500.0, 900.0]}, "holds temperatures from 0 to 900 s.*bring both to one clock"),
        ({"rim temperature [degC]": [20.0, 3000.0, 30.0]}, "row 2: rim_temperature is 3000 degC; it must be from"),
        ({"rim temperature [degC]": ["20", "warm", "30"]}, "'warm' is not a number"),
        ({"time [s]": None}, "column time is missing"),
        ({"rim temperature [degC]": None, "spider_temperature [degC]": None}, "has no temperature column"),
        ({"rim temperature [degC]": None, "rim temperature": [20.0, 21.0, 22.0]}, "has no unit"),
    ],
)
def test_a_table_that_cannot_be_is_refused(changes, words):
    table = {name: values for name, values in {**LOG, **changes}.items() if values is not None}
    with pytest.raises(RecordingError, match=words):
        with_temperatures(_recording(), read_temperatures(pl.DataFrame(table)))


def test_a_run_without_time_or_with_its_own_temperatures_takes_no_table():
    table = read_temperatures(pl.DataFrame(LOG))
    timeless = read_recording(pl.DataFrame({"speed [rpm]": [20.0, 90.0, 180.0], "gap [mm]": [16.0, 15.9, 15.7]}))
    with pytest.raises(RecordingError, match="has no time column"):
        with_temperatures(timeless, table)
    with pytest.raises(RecordingError, match="rim_temperature stands in"):
        with_temperatures(with_temperatures(_recording(), table), table)
