"""Heating of a rim for its keys: what to reach, limits that are kept, work, verdicts, refusals, and what is printed."""

import csv
import io
import json
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.sweep import sweep
from rimmodel.behaviour.heat import heated_rim as network
from rimmodel.elastic.wall_heating import lumped_rise
from rimmodel.planning.heating import CANNOT, NOT_SHOWN, REACHED, heating_plan
from rimmodel.planning.heating_course import Bounds, heat_up
from rimmodel.planning.heating_needs import allowances
from rimmodel.planning.key_order import across
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.rotor import DiscSpider, GivenSpider
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.verdict.output.heating import table as heating_table
from rimmodel.verdict.output.heating import text as heating_text
from rimmodel.verdict.output.heating_figures import files as heating_files
from rimmodel.verdict.output.heating_figures import heating_drawings, keys_csv, schedule_csv
from rimmodel.verdict.output.window import table as window_table
from rimmodel.verdict.output.window import text as window_text
from tests.plotting.drawn import axes_of
from tests.words import unwanted

CASE = rm.example_case()
TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
PER_KELVIN = 3.62 * 12e-6


def heated(**changes):
    return replace(CASE, heating=replace(CASE.heating, **changes))


def known(**changes):
    """The case with every range at one value: few combinations that differ, and quick."""
    middle = {name: (pair[0], pair[0]) for name, pair in CASE.heating.spans.items()}
    return heated(**{**middle, **changes})


@pytest.fixture(scope="module")
def plan():
    return heating_plan(CASE)


@pytest.fixture(scope="module")
def weak():
    return heating_plan(heated(heater_power=25e3))


@pytest.mark.derived
def test_the_growth_to_reach_is_that_of_a_hand_calculation(plan):
    parts = {row.name: row.amount for row in plan.parts}
    assert parts["interference of the tightest key"] == pytest.approx(2.20e-3)
    assert parts["insertion clearance"] == 0.6e-3
    shared = np.hypot(1.95996 * 0.05e-3, 1.95996 * 1.0 * PER_KELVIN)
    assert parts["tolerance of the interference and error of the temperatures"] == pytest.approx(shared, rel=1e-5)
    assert parts["colder end of the rim"] == pytest.approx(PER_KELVIN * 3.0)
    assert parts["shape of the bore"] == pytest.approx(PER_KELVIN * 6.0 / 6)
    assert sum(parts.values()) == pytest.approx(plan.growth, rel=1e-12)
    # what is read on site, for a spider at 30 degC: 20 + growth/(a alpha) + 10
    assert plan.rim_temperature(303.15) == pytest.approx(293.15 + plan.growth / PER_KELVIN + 10.0, rel=1e-9)
    assert plan.growth / plan.per_kelvin == pytest.approx(round(2 * plan.growth / plan.per_kelvin) / 2, abs=1e-9)


@pytest.mark.derived
def test_single_keys_are_allowed_for_all_together():
    fit = replace(CASE.rotor.fit, key_interference_tolerance=0.08e-3)
    rows = {row.name: row.amount for row in allowances(replace(CASE.rotor, fit=fit), CASE.heating, 14, 0.6e-3)}
    random = np.random.default_rng(7).normal(0.0, 0.04e-3, (200_000, 14)).max(axis=1)
    assert rows["tolerance of single keys"] == pytest.approx(np.quantile(random, 0.975), rel=0.01)


def test_every_limit_is_kept_in_every_possible_machine(plan):
    course, model, heating = plan.course, plan.model, CASE.heating
    assert course.power.min() >= 0.0
    assert course.power.max() <= float(heating.heater_power) * (1 + 1e-12)
    rise = np.diff(model.mean(course.state), axis=1)
    assert rise.max() <= float(heating.rate_limit) * course.time[1] * (1 + 1e-9)
    assert model.spread(course.state).max() <= float(heating.depth_spread) + 1e-6
    assert plan.hottest <= float(heating.surface_limit)
    assert plan.mean <= float(CASE.limits.shrinking_rim_temperature) + 0.2
    grown = model.growth(course.state)
    assert grown.max() <= plan.growth + 1e-8
    held = np.array([grown[draw, course.at_growth[draw] : course.off[draw] + 1].min() for draw in range(model.draws)])
    assert held.min() >= plan.growth - 2e-9
    assert ((course.off - course.at_growth) * course.time[1]).min() >= plan.hold


def test_every_key_goes_in_with_its_clearance_in_every_possible_machine(plan):
    assert plan.verdict == REACHED
    work = plan.work
    grown = plan.model.growth(plan.model.cooled(plan.course.at_off, work.end))
    left = (grown - work.interference - work.allowed_for).min(axis=0)
    assert [row.least for row in plan.keys] == pytest.approx(left.tolist())
    assert left.min() >= 0.6e-3 - 2e-7
    # half a kelvin less would leave a key short
    assert left.min() < 0.6e-3 + 0.5 * PER_KELVIN
    assert sorted(row.key for row in plan.keys) == list(range(1, 15))
    assert plan.keys[0].interference == max(CASE.rotor.fit.key_interference)
    assert plan.keys[-1].end == 7 * 8 * 60.0


def test_what_the_work_may_take_is_where_the_first_key_is_short(plan):
    work, may = plan.work, plan.cooling.work_may_take
    for row, factor in ((1, 0.999), (1, 1.001)):
        ends = work.end * float(may[row]) / float(work.end.max()) * factor
        grown = plan.model.growth(plan.model.cooled(plan.course.at_off, ends))
        assert (grown - work.needed).min() >= 0 if factor < 1 else (grown - work.needed).min() < 0
    assert may[1] >= work.end.max() * (1 - 1e-6)


def test_corners_hold_what_is_possible_between_them(plan, monkeypatch):
    """Sixty machines anywhere in the ranges: heated to the same growth, none has less clearance at any key."""
    random = np.random.default_rng(3)
    rows = {name: low + (high - low) * random.uniform(size=60) for name, (low, high) in CASE.heating.spans.items()}
    low, high = CASE.thermal.contact_conductance
    monkeypatch.setattr(
        network, "possible_values", lambda *_: rows | {network.SEATED: low + (high - low) * random.uniform(size=60)}
    )
    model = network.heated_rim(CASE.rotor, CASE.thermal, CASE.heating)
    heating = CASE.heating
    bounds = Bounds(
        plan.growth, float(heating.heater_power), float(heating.rate_limit), 10.0, 400.0, 373.15, plan.hold, 72 * 3600.0
    )
    course = heat_up(model, float(heating.air), bounds)
    assert course.reached.all()
    least = (model.growth(model.cooled(course.at_off, plan.work.end)) - plan.work.needed).min()
    most = (plan.model.growth(plan.model.cooled(plan.course.at_off, plan.work.end)) - plan.work.needed).min()
    assert least >= most
    assert course.power.max() <= plan.course.power.max() * (1 + 1e-9)
    assert course.time[course.at_growth].max() <= plan.course.time[plan.course.at_growth].max() + 600.0


@pytest.mark.derived
def test_a_rim_that_conducts_without_limit_is_a_lumped_body():
    nothing = (1e-9, 1e-9)
    case = known(
        heated_at="even",
        bore_heat_transfer=nothing,
        contact_conductance=nothing,
        covered_heat_transfer=(4.0, 4.0),
        open_heat_transfer=(4.0, 4.0),
    )
    thermal = replace(CASE.thermal, thermal_conductivity=1e6)
    model = network.heated_rim(CASE.rotor, thermal, case.heating)
    power = 40e3
    course = heat_up(model, 293.15, Bounds(1.0, power, 1.0, 1e3, 1e4, 1e4, 600.0, 30 * 3600.0))
    area = 2 * np.pi * 4.06 * 1.85 + 2 * np.pi * (4.06**2 - 3.62**2)
    capacity = 0.97 * 7850 * 470 * np.pi * (4.06**2 - 3.62**2) * 1.85
    loss = 4.0 * (14.0 - 20.0) * area  # the air is at 14 degC
    expected = lumped_rise(power * 0.75 + loss, 4.0 * area, capacity, course.time)
    assert model.mean(course.state[0]) - 293.15 == pytest.approx(expected, rel=2e-3, abs=1e-6)


def test_a_power_that_does_not_suffice_is_refused_with_the_power_that_does(weak):
    assert weak.verdict == CANNOT
    assert weak.reason == "the heaters have 25 kW"
    assert weak.cooling is None
    assert np.isnan(weak.keys[-1].least)
    enough = float(re.match(r"(\d+) kW of heaters", weak.remedies[0])[1]) * 1e3
    assert 25e3 < enough < 320e3
    assert heating_plan(heated(heater_power=enough)).verdict == REACHED
    assert heating_plan(heated(heater_power=enough - 6e3)).verdict != REACHED


def test_a_limit_of_temperature_that_would_be_passed_is_refused():
    found = heating_plan(heated(surface_limit=273.15 + 70.0))
    assert found.verdict == CANNOT
    assert "may not be hotter than 100 degC mean (limits.shrinking_rim_temperature) or 70 degC" in found.reason
    assert found.hottest <= 273.15 + 70.0 + 1e-6
    assert any("less" in text and "interference" in text for text in found.remedies)
    assert any("spider that is kept" in text for text in found.remedies)
    # a spider that warms takes back a part: with a hotter hall not even the middle is reached
    warm = heating_plan(heated(air=273.15 + 22.0))
    assert warm.verdict in (CANNOT, NOT_SHOWN)
    assert warm.remedies
    # nothing is promised of keys where one possible machine falls short
    assert np.isnan([row.least for row in warm.keys]).all()
    assert list(heating_drawings(warm)) == ["heating"]


def test_what_the_remedy_takes_off_is_enough():
    found = heating_plan(heated(air=273.15 + 22.0))
    less = next(float(re.search(r"that is ([\d.]+) mm less", text)[1]) for text in found.remedies if "mm less" in text)
    # half a kelvin of rounding, and the loss until the last key is in falls with the growth
    eased = heated(air=273.15 + 22.0, interference=2.1e-3 - less * 1e-3 - 0.5 * PER_KELVIN)
    assert heating_plan(eased).verdict == REACHED


def test_work_that_takes_longer_asks_for_more_until_it_cannot_be(plan):
    slow = heating_plan(known(time_per_key=1800.0))
    quick = heating_plan(known())
    assert slow.growth > quick.growth
    never = heating_plan(known(time_per_key=4 * 3600.0, keys_at_once=1))
    assert never.verdict == CANNOT
    assert never.reason == "the rim cools faster than all keys go in"


def test_wider_ranges_never_ask_for_less(plan):
    narrow = heating_plan(known(heater_share=(0.8, 0.8)))
    assert narrow.growth <= plan.growth
    assert narrow.power_needed <= plan.power_needed


def test_a_spread_that_stands_for_too_much_stress_shows_nothing():
    found = heating_plan(known(depth_spread=300.0))
    assert found.verdict == NOT_SHOWN
    # 2/3 x 206 GPa x 12e-6 x 300 K = 494 MPa, above 2/3 of 550 MPa
    assert "300 K, stands for 494 MPa, above the 367 MPa allowed" in found.reason


def test_a_case_in_doubt_shows_nothing():
    # the value on the diameter, as what is to be keyed and as what is drawn
    for case in (known(interference=4.2e-3), replace(known(), rotor=CASE.rotor.with_interference(4.2e-3))):
        found = heating_plan(case)
        assert found.verdict == NOT_SHOWN
        assert found.reason.startswith("the case is in doubt: interference over the radius of the rim bore is 1.160")
        assert found.remedies == ()


@pytest.mark.derived
def test_keys_hold_where_the_growth_is_their_interference(plan):
    seats = plan.cooling
    for row, level in ((seats.first_seats, 2.20e-3), (seats.last_seats, 2.00e-3)):
        time, rim, spider = row[0]
        assert PER_KELVIN * (rim - spider) == pytest.approx(level, rel=1e-3)
        assert time > plan.work.end.max()
    assert (seats.last_seats[:, 0] > seats.first_seats[:, 0]).all()
    assert (seats.cooled > seats.last_seats[:, 0]).all()


@pytest.mark.derived
def test_the_growth_to_measure_cold_is_that_of_a_ring_under_its_pressure():
    """Lame, at the outside of a ring of even stiffness under pressure in its bore: 2 a^2 b p/(E (b^2 - a^2))."""
    rim = replace(CASE.rotor.rim, hoop_stiffness_factor=1.0)
    case = replace(known(), rotor=replace(CASE.rotor, rim=rim))
    expected, low, high = heating_plan(case).outside_growth
    a, b, modulus = 3.62, 4.06, 0.97 * 206e9
    pressure = float(sweep(case.rotor, case.conditions["cold"], 0.0).contact_pressure)
    assert expected == pytest.approx(2 * a**2 * b * pressure / (modulus * (b**2 - a**2)), rel=1e-9)
    assert low == pytest.approx(expected * (1 - 1.96 * 0.05 / 2.1), rel=1e-3)
    assert high == pytest.approx(expected * (1 + 1.96 * 0.05 / 2.1), rel=1e-3)


@pytest.mark.parametrize("kind", ["disc", "given", "poles", "poles of their own"])
def test_other_machines(kind):
    case, rotor, thermal = known(), CASE.rotor, CASE.thermal
    if kind == "disc":
        rotor = replace(rotor, spider=DiscSpider(rotor.rim.material, 0.6, 0.25))
    if kind == "given":
        rotor = replace(rotor, spider=GivenSpider(4e10, 1e-4, 15.0))
    if kind.startswith("poles"):
        case = known(poles="fitted")
    if kind == "poles of their own":
        thermal = replace(thermal, pole_conductance=(100.0, 200.0))
    found = heating_plan(replace(case, rotor=rotor, thermal=thermal))
    bare = heating_plan(known())
    assert np.isfinite(found.growth)
    if kind.startswith("poles"):
        assert found.course.time[found.course.off[0]] > bare.course.time[bare.course.off[0]]
        assert found.power_needed > bare.power_needed
    json.dumps(heating_table(found), allow_nan=False)


@pytest.mark.parametrize("count", [2, 3, 7, 14, 36])
def test_keys_go_in_by_opposite_pairs(count):
    order = across(count, 1)
    assert sorted(order) == list(range(count))
    assert order[0] == 1
    for first, second in zip(order[::2], order[1::2], strict=False):
        assert min((second - first) % count, (first - second) % count) >= (count // 2 if count % 2 == 0 else count // 3)


def test_another_interference_moves_all_keys():
    found = heating_plan(known(interference=1.6e-3))
    assert found.work.interference.mean() == pytest.approx(1.6e-3)
    assert np.ptp(found.work.interference) == pytest.approx(0.2e-3)


# --------------------------------------------------------------------------------------------------- what is printed


def numbers_of(table):
    if isinstance(table, dict):
        return [leaf for part in table.values() for leaf in numbers_of(part)]
    if isinstance(table, list):
        return [leaf for part in table for leaf in numbers_of(part)]
    return [float(table)] if isinstance(table, int | float) else []


def test_every_number_of_the_tables_in_the_text_is_in_the_json(plan):
    text, table = heating_text(plan), heating_table(plan)
    leaves, words = np.array(numbers_of(table)), json.dumps(table)
    body = text.partition("rim bore over spider to reach")[2].partition("before:")[0]
    for word in re.findall(r"(?<![\w./^])-?\d+\.\d+", body):
        digits = len(word.partition(".")[2])
        assert word in words or np.abs(leaves - float(word)).min() <= 0.51 * 10.0**-digits, word


@pytest.mark.parametrize("which", ["plan", "weak"])
def test_words_and_json(which, request):
    found = request.getfixturevalue(which)
    text, table = heating_text(found), heating_table(found)
    assert json.loads(json.dumps(table, allow_nan=False))["verdict"] == found.verdict
    assert f": {found.verdict}. " in " ".join(text.split())
    assert not unwanted(" ".join(text.split()))
    assert not re.search(r"\b(nan|inf)\b", text)
    assert max(map(len, text.splitlines())) <= 120
    for caution in ("Permit to work, fire watch", "local codes", "licensed engineers"):
        assert caution in " ".join(text.split())
    if which == "weak":
        assert "what would do it:" in text
        assert "nothing is stated of the time after it" in text


def test_the_tables_for_the_site(plan):
    rows = list(csv.DictReader(io.StringIO(schedule_csv(plan))))
    times = [float(row["time [h]"]) for row in rows]
    assert times == sorted(times)
    assert rows[0]["phase"] == "heat"
    assert rows[-1]["phase"] == "off"
    assert float(rows[-1]["growth over spider [mm]"]) == pytest.approx(plan.growth * 1e3, abs=1e-3)
    for row in rows:
        low, middle, high = (float(row[f"{kind}rim [degC]"]) for kind in ("least ", "", "most "))
        assert low <= middle <= high
    keys = list(csv.DictReader(io.StringIO(keys_csv(plan))))
    assert [int(row["key"]) for row in keys] == [row.key for row in plan.keys]
    assert all(float(row["least clearance [mm]"]) >= float(row["clearance wanted [mm]"]) for row in keys)
    assert {row["measured top [mm]"] for row in keys} == {""}


def test_figures(plan, weak):
    drawn = {name: draw() for name, draw in heating_drawings(plan).items()}
    assert list(drawn) == ["heating", "fitting"]
    labels = [label for figure in drawn.values() for _, label in axes_of(figure)]
    assert labels == [
        "mean temperature  [degC]", "rim over spider  [K]", "heaters  [kW]", "clearance  [mm]",
        "mean temperature  [degC]",
    ]  # fmt: skip
    assert list(heating_drawings(weak)) == ["heating"]  # nothing is promised of keys


def test_the_command(rim, tmp_path):
    code, printed, _ = rim("heating", "--out", tmp_path / "out")
    assert code == 0
    assert "Rim over spider" in printed
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {"heating.txt", "heating.json", "heating.svg", "fitting.svg", "schedule.csv", "keys.csv"}
    code, _, message = rim("heating", "--out", tmp_path / "out")
    assert code == 2
    assert "already exists" in message


# ----------------------------------------------------------------------------------- what a plan does not promise


@pytest.fixture(scope="module", params=["power", "hall", "in doubt", "stress"])
def unreached(request, weak):
    if request.param == "power":
        return weak
    changes = {
        "hall": {"air": 273.15 + 42.0},
        "in doubt": {"interference": 4.2e-3},
        "stress": {"depth_spread": 300.0},
    }
    return heating_plan(known(**changes[request.param]))


def test_no_key_goes_in_by_a_plan_that_is_not_reached(unreached):
    text, table = heating_text(unreached), heating_table(unreached)
    assert unreached.verdict != REACHED
    assert unreached.cooling is None
    assert np.isnan([value for row in unreached.keys for value in (row.expected, row.least)]).all()
    assert "keys in order" not in text
    assert f"keys: none goes in by this plan ({unreached.verdict})" in text
    assert "not a schedule to heat by" in text
    assert "Do not heat by this sheet" in text
    for stage in ("while keys go in:", "cooling down:", "cold:", "first run:"):
        assert f"\n{stage}\n" not in text
    assert table["keys"] == []
    assert unreached.verdict in table["keys_withheld"]
    assert table["clearance_left_at_last_key_mm"] is None
    assert table["time_to_fit_min"] is None
    assert set(heating_files(unreached)) == {"heating.txt", "heating.json", "heating.svg", "schedule.csv"}


def test_a_plan_that_is_reached_withholds_nothing(plan):
    table = heating_table(plan)
    assert table["keys_withheld"] is None
    assert len(table["keys"]) == 14
    assert "Do not heat by this sheet" not in heating_text(plan)


def test_a_sheet_of_keys_of_an_earlier_plan_does_not_stay(rim, tmp_path):
    out = tmp_path / "out"
    assert rim("heating", "--out", out)[0] == 0
    poor = tmp_path / "poor.toml"
    poor.write_text(TEXT.replace('heater_power = "320 kW"', 'heater_power = "25 kW"', 1), encoding="utf-8")
    for name in ("quillmere_run.csv", "quillmere_run_after.parquet"):
        if (EXAMPLES / name).exists():
            (tmp_path / name).write_bytes((EXAMPLES / name).read_bytes())
    code, printed, message = rim("heating", poor, "--out", out, "--force")
    assert code == 0, message
    assert "cannot be reached" in printed
    assert {path.name for path in out.iterdir()} == {"heating.txt", "heating.json", "heating.svg", "schedule.csv"}
    assert "removed" in message
    assert "keys.csv" in message


@pytest.mark.derived
def test_no_rim_temperature_is_listed_above_what_is_allowed(plan):
    # a spider at T needs a rim 73 K hotter: 100 degC mean is met at 27 degC
    assert plan.hottest_spider == pytest.approx(373.15 - plan.growth / PER_KELVIN, abs=1e-9)
    listed = {row["spider_degC"]: row["rim_degC"] for row in heating_table(plan)["rim_to_reach"]}
    assert listed[25.0] == pytest.approx(98.0, abs=0.05)
    assert [listed[at] for at in (30.0, 35.0, 40.0)] == [None] * 3
    text = " ".join(heating_text(plan).split())
    assert "98.0 - - -" in text
    assert "no heating with a spider above 27.0 degC" in text
    assert "103.0" not in text


def test_the_hottest_place_ends_the_list_too():
    """Half of both spreads of 6 K and 1.96 K of reading lie on top of the mean, and what T(r) adds at power off."""
    found = heating_plan(heated(surface_limit=273.15 + 109.0, heater_power=400e3))
    above = (found.course.at_off @ found.model.stations.T).max(axis=1) - found.model.mean(found.course.at_off)
    most = 273.15 + 109.0 - 6.0 - 1.95996 - above[found.kept].max()
    assert found.allowed_mean == pytest.approx(min(most, 373.15), abs=1e-4)
    assert found.rim_temperature(found.hottest_spider) == pytest.approx(found.allowed_mean, abs=1e-9)


def test_the_hold_is_that_of_the_schedule(plan):
    course = plan.course
    assert (course.off - course.at_growth)[0] * course.time[1] == pytest.approx(plan.hold)
    assert plan.hold % 600.0 == 0.0
    assert f"to reach, and to hold for {plan.hold / 3600:.2f} h" in heating_text(plan)
    given = heating_plan(known(hold=25 * 60.0))  # never shorter than what the case asks for
    assert given.hold == 30 * 60.0


def test_the_stop_line_names_the_margin_of_the_schedule(plan):
    text = " ".join(heating_text(plan).split())
    assert "no faster than 10 K/h, which the schedule uses in full" in text
    assert "up to 7.1 K through the depth" in text
    slow = " ".join(heating_text(heating_plan(known(rate_limit=14 / 3600, heater_power=250e3))).split())
    assert "no faster than 14 K/h; the schedule rises by up to" in slow


@pytest.mark.parametrize("power", [20e3, 90e3])
def test_quicker_work_is_no_remedy_where_even_no_work_would_not_do(power):
    found = heating_plan(heated(heater_power=power))
    assert found.verdict != REACHED
    assert not any("min for each key" in text for text in found.remedies)
    assert any("of heaters" in text for text in found.remedies)


def test_quicker_work_is_a_remedy_where_it_helps():
    found = heating_plan(heated(interference=2.15e-3))
    assert any("min for each key" in text for text in found.remedies)
    assert heating_plan(heated(interference=2.15e-3, time_per_key=60.0)).verdict == REACHED


def test_a_cooler_spider_is_that_of_a_cooler_hall():
    found = heating_plan(heated(air=273.15 + 42.0))
    cooler = next(re.search(r"about (\d+) K cooler (.*)", text) for text in found.remedies if "K cooler" in text)
    assert "until the last key is in: a hall that is cooler by a little more than that (heating.air)" in cooler[0]
    # the rim stays as hot as it may be, so the spider falls by less than the hall: by nine tenths about
    most = float(found.heating.air) - float(cooler[1])
    assert heating_plan(heated(air=most + 2.0)).verdict != REACHED
    assert heating_plan(heated(air=most - 0.2 * float(cooler[1]))).verdict == REACHED
    text = " ".join(heating_text(heating_plan(known())).split())
    assert "Once all keys are in, keep the spider from cooling below the hall" in text


def test_no_line_runs_through_the_legend_of_the_clearance(plan):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = heating_drawings(plan)["fitting"]()
    FigureCanvasAgg(figure).draw()
    play = figure.axes[0]
    box = play.get_legend().get_window_extent()
    for line in play.lines:
        shown = line.get_transform().transform(np.column_stack([line.get_xdata(), line.get_ydata()]))
        steps = np.linspace(0.0, 1.0, 400)[:, np.newaxis]
        points = np.vstack([a + steps * (b - a) for a, b in pairwise(shown)] or [shown])
        if line.get_linestyle() == "None":
            points = shown
        assert not box.count_contains(points), line.get_label()


def test_the_words_are_those_of_a_shop(plan):
    text = " ".join(heating_text(plan).split())
    assert "middle of all ranges" not in text
    assert "in your copy" not in text
    assert "expected (least to most of all combinations)" in text
    assert "expected: each at its middle" in text


@pytest.mark.parametrize("stated", [True, False])
def test_the_window_says_what_its_temperature_leaves_out(stated):
    case = CASE if stated else replace(CASE, heating=None)
    window = shrink_window(case)
    text, table = " ".join(window_text(case, window).split()), window_table(case, window)
    edge = next(row for row in table["edges"] if row["name"] == "rim temperature while shrinking")
    left_out = "without uneven temperature, errors of reading and cooling while keys go in"
    assert left_out in text
    assert left_out in edge["note"]
    assert left_out in table["heating"]["counts"]
    assert (
        "'rimmodel heating' counts those too, asks for a hotter rim and may refuse an interference below that edge"
        in text
    ) is stated
    assert ("state [heating] in the case" in text) is not stated
    closed = replace(case, rotor=replace(case.rotor, fit=replace(case.rotor.fit, interference_tolerance=5e-3)))
    window = shrink_window(closed)
    assert window.heating is None
    assert left_out in " ".join(window_text(closed, window).split())


# --------------------------------------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('heater_power = "320 kW"', 'heater_power = "320 K"', "heating.heater_power"),
        ('heater_power = "320 kW"', "", "heating.heater_power: missing (of all heaters together, as connected)"),
        ('heater_power = "320 kW"', 'heater_power = "3 W"', "from 500 W to 5e+06 W"),
        ("heater_share = [0.75, 0.9]", "heater_share = [0.9, 0.75]", "it must be a pair, the lowest and the highest"),
        ("heater_share = [0.75, 0.9]", "heater_share = [0.75, 90]", "above 0 and at most 1"),
        ("heater_share = [0.75, 0.9]", "heater_share = 0.8", "it must be a list"),
        ('heated_at = "both"', 'heated_at = "bores"', "heating.heated_at is 'bores'"),
        ('poles = "removed"', 'poles = "off"', "heating.poles is 'off'"),
        ('poles = "removed"', "", "heating.poles: missing"),
        ('air = "14 degC"', 'air = "14"', "has no unit"),
        ('surface_limit = "120 degC"', "", "heating.surface_limit: missing"),
        ('surface_limit = "120 degC"', 'surface_limit = "20 degC"', "heating.surface_limit"),
        ('["3 W/m^2/K", "8 W/m^2/K"]\nbore', '["0.5 W/m^2/K", "1 W/m^2/K"]\nbore', "an open rim loses more, not less"),
        ('time_per_key = "8 min"', 'time_per_key = "-8 min"', "above zero"),
        ('time_per_key = "8 min"', 'time_per_key = "8 h"', "heating.time_per_key"),
        ("keys_at_once = 2", "keys_at_once = 0", "heating.keys_at_once is 0"),
        ("keys_at_once = 2", "keys_at_once = 1.5", "a bare whole number"),
        ('height_spread = "6 K"', 'height_spread = "-6 K"', "above zero"),
        ('height_spread = "6 K"', 'rate_limit = "10 K"', "heating.rate_limit"),
        ('height_spread = "6 K"', 'rate_limit = "900 K/h"', "5 to 15 K/h is custom"),
        ('height_spread = "6 K"', 'interference = "1.9 m"', "heating.interference"),
        ('height_spread = "6 K"', 'heigth_spread = "6 K"', "unknown key; did you mean 'height_spread'?"),
    ],
)
def test_a_slip_in_the_table_is_one_line(old, new, words):
    at = TEXT.index("[heating]")
    assert old in TEXT[at:]
    text = TEXT[:at] + TEXT[at:].replace(old, new, 1)
    with pytest.raises(CaseError) as caught:
        parse_case(text.encode(), "unit.toml")
    lines = str(caught.value).splitlines()
    assert len(lines) == 2, lines
    assert words in lines[1]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"heating": None}, "the case has no [heating]"),
        ({"thermal": None}, "the case has no [thermal]"),
        ("assembly_clearance", "the case has no fit.assembly_clearance"),
        ("key_count", "the case has no fit.key_count"),
    ],
)
def test_what_is_not_given_is_asked_for(change, words):
    if isinstance(change, dict):
        case = replace(CASE, **change)
    else:
        none = {change: None} | ({"key_interference": None} if change == "key_count" else {})
        rotor = replace(CASE.rotor, fit=replace(CASE.rotor.fit, **none))
        if change == "key_count":
            rotor = replace(rotor, spider=DiscSpider(rotor.rim.material, 0.6, 0.25))
        case = replace(CASE, rotor=rotor)
    with pytest.raises(ValueError, match=re.escape(words)):
        heating_plan(case)


def test_a_rim_that_does_not_grow_is_refused():
    steel = replace(CASE.rotor.rim.material, thermal_expansion=0.0)
    case = replace(CASE, rotor=replace(CASE.rotor, rim=replace(CASE.rotor.rim, material=steel)))
    with pytest.raises(ValueError, match="thermal_expansion of the rim is zero"):
        heating_plan(case)
