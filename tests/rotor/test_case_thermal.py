"""The tables [thermal] and [histories.NAME] of a case: what is read, and what is refused in which words."""

import pytest

from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.units import RPM

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
START = '{ kind = "start", duration = "5 min" },'
BRAKE = '{ kind = "brake", duration = "8 min" },'
LOAD = 'kind = "load", duration = "12 h"'
BORE = '["20 W/m^2/K", "45 W/m^2/K"]'
POLES = 'pole_conductance = ["40 W/K", "90 W/K"]'
REST = '{ kind = "rest", duration = "2 h", air = "30 degC" },'


def changed(old, new):
    assert TEXT.count(old) >= 1, old
    return TEXT.replace(old, new, 1)


def faults(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text.encode(), "unit.toml")
    return "\n".join(caught.value.faults)


def test_ranges_and_segments_are_read():
    case = parse_case(TEXT.encode(), "unit.toml")
    assert case.thermal.rim_bore_heat_transfer == (20.0, 45.0)
    assert case.thermal.air == pytest.approx(311.15)
    assert case.thermal.air_rise == (4.0, 10.0)  # a difference: kelvin, not a temperature
    assert case.thermal.still_heat_transfer == (3.0, 10.0)
    [history] = case.histories
    assert [segment.kind for segment in history.segments] == [
        "start", "load", "rejection", "brake", "rest", "start", "load"
    ]  # fmt: skip
    assert history.segments[0].speed == pytest.approx(125 * RPM)
    assert history.segments[2].speed is None
    assert history.segments[4].air == pytest.approx(303.15)
    assert history.duration == pytest.approx(5 * 60 + 12 * 3600 + 180 + 480 + 7200 + 300 + 9 * 3600)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('duration = "2 h", air', 'duration = "0 s", air', "segments[5].duration is '0 s'"),
        ('duration = "2 h", air', 'duration = "-2 h", air', "it must be above zero"),
        ('duration = "2 h", air', 'air', "segments[5].duration: missing"),
        ('kind = "rest"', 'kind = "sleep"', "segments[5].kind is 'sleep'; it must be"),
        ('kind = "rest"', 'knd = "rest", kind = "rest"', "segments[5].knd: unknown key; did you mean 'kind'?"),
        (START, "", "segments[1]: the machine stands still; put a start before the load"),
        (BRAKE, '{ kind = "coast", duration = "8 min" },', "speed at the end of a coast"),
        (BRAKE, '{ kind = "brake", duration = "8 min", speed = "9 rpm" },', "still turns at 9 rpm"),
        (START, '{ kind = "start", duration = "5 min", load = 0.5 },', "only a segment of kind 'load' carries load"),
        (START, '{ kind = "start", duration = "5 min", speed = "fast" },', "segments[1].speed"),
        (LOAD, LOAD + ', speed = "150 rpm"', "segment before ends at 125 rpm"),
        (LOAD, LOAD + ', excited = false', "has its field"),
        ('start = "cold"\n', 'start = "cool"\n', "there is no [conditions.cool]; did you mean 'cold'?"),
        ('steady_state = "hot"', 'steady_state = "hott"', "there is no [conditions.hott]; did you mean 'hot'?"),
        ('air = "38 degC"', 'air = "58 degC"', "thermal.air: with its least rise it is 62 degC at the rim"),
        ('air = "38 degC"', 'air = "138 degC"', "air of a machine hall or behind a cooler has 0 to 50 degC"),
        ('"2 h", air = "30 degC"', '"2 h", air = "72 degC"', "air is 72 degC, hotter than every part"),
        ('rim_bore_heat_transfer = ["20 W/m^2/K", "45 W/m^2/K"]\n', "", "thermal.rim_bore_heat_transfer: missing"),
        (BORE, '["45 W/m^2/K", "20 W/m^2/K"]', "the lowest and the highest value that is possible"),
        (BORE, '["45 W/m^2/K"]', "it must be a pair"),
        (BORE, '"45 W/m^2/K"', "it must be a list in square brackets"),
        (BORE, '["20 W/m^2/K", "45 W/K"]', "unit 'W/K' does not measure a heat transfer"),
        (BORE, '["20 W/m^2/K", "45000 W/m^2/K"]', "15 to 150 W/m^2/K in a running machine"),
        ('arm_perimeter = "5.8 m"\n', "", "thermal.arm_perimeter: missing"),
        ('pole_surface = "2.3 m^2"', POLES, "it must be given with pole_conductance"),
        ('pole_surface', POLES + '\npole_surface', "has no pole_temperature"),
        ('[load_rejection]', '[load_rejecton]', "load_rejecton: unknown key"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_line(old, new, words):
    found = faults(changed(old, new))
    assert words in found
    assert max(map(len, found.splitlines())) < 400


@pytest.mark.parametrize(
    "name",
    [
        "rim_bore_heat_transfer", "rim_outer_heat_transfer", "spider_heat_transfer", "contact_conductance",
        "stator_time_constant",
    ],
)  # fmt: skip
def test_a_range_that_is_missing_is_named(name):
    line = next(line for line in TEXT.splitlines() if line.startswith(f"{name} ="))  # that of [thermal]
    found = faults(changed(line, ""))
    assert f"thermal.{name}: missing" in found
    assert len(found.splitlines()) == 1


def test_histories_need_what_heats_and_what_turns():
    without = TEXT[: TEXT.index("[thermal]")] + TEXT[TEXT.index("[histories.") :]
    assert "[thermal]: missing table; [histories.NAME] needs it" in faults(without)
    text = TEXT[: TEXT.index("[load_rejection]")] + TEXT[TEXT.index("[plan]") :]
    assert "a rejection needs the table [load_rejection]" in faults(text)
    assert "a brake needs the turning masses" in faults(text)


def test_readings_go_forward_in_time_and_end_with_the_history():
    def read(*times):
        rows = ", ".join(f'{{ time = "{time} h", place = "rim", temperature = "50 degC" }}' for time in times)
        return TEXT.replace('start = "cold"\n', f'start = "cold"\nreadings = [{rows}]\n', 1)

    assert len(parse_case(read(1, 2).encode(), "x").histories[0].readings) == 2
    assert "before the reading ahead of it; put readings in order of time" in faults(read(2, 1))
    assert "the history ends at 84" in faults(read(2, 40))


def test_a_rest_needs_no_turning_masses_and_no_history_needs_thermal():
    text = TEXT[: TEXT.index("[histories.")] + TEXT[TEXT.index("[claims.float_speed]") :]
    assert parse_case(text.encode(), "x").histories == ()
    assert REST in TEXT
