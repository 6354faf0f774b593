"""The commands beyond review and sweep: what they print as JSON, and how they refuse what they cannot use."""

import json
from xml.etree import ElementTree

from rimmodel.rotor.case.case import EXAMPLES

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")


def strict(text):
    def refuse(constant):
        raise AssertionError(f"{constant} is no JSON")

    return json.loads(text, parse_constant=refuse)


def test_fit_gives_the_agreed_keys_for_each_record(rim):
    code, out, _ = rim("fit", "--json")
    assert code == 0
    table = strict(out)
    agreed = {"float_speed_rpm", "float_speed_interval_rpm", "interference_mm", "interference_interval_mm",
              "hoop_stiffness_factor", "verdict", "confidence", "reasons", "directions",
              "float_speed_by_condition"}  # fmt: skip
    assert agreed <= table.keys()
    assert [row["label"] for row in table["records"]] == ["proving run", "after correction"]
    assert set(table["records"][0]["directions"]) == {"up", "down"}
    assert table["verdict"] == "resolved"
    low, high = table["float_speed_interval_rpm"]
    assert low < table["float_speed_rpm"] < high
    assert table["comparisons"][0]["verdict"] == "as expected"
    assert {"cold", "hot"} == set(table["float_speed_by_condition"])
    assert set(table["planes"]) == {"upper", "lower"}
    assert all(plane["verdict"] == "resolved" for plane in table["planes"].values())


def test_fit_of_one_straight_line_does_not_invent_a_knee(rim, tmp_path):
    case, record = tmp_path / "unit.toml", tmp_path / "run.csv"
    case.write_text(NEW, encoding="utf-8")
    rows = "\n".join(f"{speed},{15 - 1e-5 * speed**2 + 0.004 * (-1) ** speed:.4f}" for speed in range(30, 150, 7))
    record.write_text(f"speed [rpm],gap [mm]\n{rows}\n", encoding="utf-8")
    code, out, _ = rim("fit", case, record, "--condition", "cold", "--json")
    assert code == 0
    table = strict(out)
    assert table["verdict"] != "resolved"
    assert table["reasons"]
    assert table["directions"] == {}


def test_fit_refuses_what_it_cannot_fit(rim, tmp_path):
    case = tmp_path / "unit.toml"
    case.write_text(NEW, encoding="utf-8")
    code, out, err = rim("fit", case)
    assert (code, out) == (2, "")
    assert "names no recording" in err
    record = tmp_path / "run.csv"
    record.write_text("speed [rpm],gap [mm]\n100,15\n200,14.6\n", encoding="utf-8")
    code, out, err = rim("fit", case, record, "--condition", "cold")
    assert (code, out) == (2, "")
    assert "speed points" in err
    assert err.count("rimmodel:") == 1
    code, _, err = rim("fit", case, tmp_path / "none.csv")
    assert code == 2
    assert "none.csv" in err


def test_keys_gives_the_agreed_keys(rim, tmp_path):
    code, out, _ = rim("keys", "--json")
    assert code == 0
    table = strict(out)
    count, keys = len(table["speed_rpm"]), 14
    assert [len(row) for row in table["key_force_kN"]] == [keys] * count
    assert [len(row) for row in table["centre_mm"]] == [2] * count
    assert len(table["ovality_mm"]) == count
    assert {"speed_rpm", "key", "kind"} <= table["events"][0].keys()
    assert {event["kind"] for event in table["events"]} <= {"lift-off", "re-seating"}
    assert min(event["key"] for event in table["events"]) >= 1
    assert {"first_lift_off_rpm", "centring_lost_rpm", "last_lift_off_rpm"} <= table["landmarks"].keys()
    case = tmp_path / "unit.toml"
    case.write_text(NEW, encoding="utf-8")
    code, out, err = rim("keys", case)
    assert (code, out) == (2, "")
    assert "fit.key_width" in err


def test_figures_of_the_keys_are_not_overwritten_unasked(rim, tmp_path):
    assert rim("keys", "--out", tmp_path / "k")[0] == 0
    before = (tmp_path / "k" / "key_map.svg").read_bytes()
    code, _, err = rim("keys", "--condition", "hot", "--out", tmp_path / "k")
    assert code == 2
    assert "--force" in err
    assert (tmp_path / "k" / "key_map.svg").read_bytes() == before


def test_window_and_plan_speak_of_the_built_in_case(rim):
    code, out, _ = rim("window", "--json")
    assert code == 0
    window = strict(out)
    assert window["low_with_confidence_mm"] < window["recommended_mm"] < window["high_with_confidence_mm"]
    code, out, _ = rim("plan", "--json")
    assert code == 0
    plan = strict(out)
    assert max(plan["speed_rpm"]) <= plan["highest_speed_rpm"] * (1 + 1e-12)
    assert min(plan["stop_gap_mm"]) > plan["minimum_allowed_mm"]
    assert "An overspeed test can kill" in rim("plan")[1]


def test_plan_says_what_it_lacks(rim, tmp_path):
    case = tmp_path / "unit.toml"
    case.write_text(NEW.replace('minimum_allowed = "8 mm"', '# minimum_allowed = "8 mm"'), encoding="utf-8")
    code, out, err = rim("plan", case)
    assert (code, out) == (2, "")
    assert "air_gap.minimum_allowed" in err


def test_study_is_the_same_for_the_same_seed(rim, tmp_path):
    code, out, _ = rim("study", "--samples", "8192", "--json")
    assert code == 0
    assert strict(out)["samples"] == 8192
    assert rim("study", "--samples", "8192", "--json")[1] == out
    place = tmp_path / "study.json"
    assert rim("study", "--samples", "8192", "--out", place)[0] == 0
    code, _, err = rim("study", "--samples", "8192", "--out", place)
    assert code == 2
    assert "--force" in err
    code, _, err = rim("study", "--workers", "0")
    assert code == 2
    assert "workers is 0" in err


def test_a_study_writes_its_figures_into_a_folder(rim, tmp_path):
    place = tmp_path / "made" / "study"
    code, _, err = rim("study", "--samples", "8192", "--out", place)
    assert code == 0
    assert strict((place / "study.json").read_text(encoding="utf-8"))["samples"] == 8192
    drawn = {path.name: path.read_text(encoding="utf-8") for path in (place / "figures").iterdir()}
    assert all(ElementTree.fromstring(text).tag.endswith("svg") for text in drawn.values())
    assert "<!-- float speed, cold  [rpm] -->" in drawn["distribution_float_speed_cold.svg"]
    assert "<!-- fit.interference -->" in drawn["tornado_float_speed_cold.svg"]
    assert "convergence.svg" in drawn
    assert f"in {place / 'figures'}" in err
    code, _, err = rim("study", "--samples", "8192", "--out", place)
    assert code == 2
    assert "study.json already exists" in err
    assert rim("study", "--samples", "8192", "--out", place, "--force")[0] == 0


def test_a_fleet_lists_the_faulty_and_goes_on(rim, tmp_path):
    (tmp_path / "good.toml").write_text(NEW, encoding="utf-8")
    (tmp_path / "bad.toml").write_text(NEW.replace("outer_radius", "outer_radios"), encoding="utf-8")
    code, out, err = rim("fleet", tmp_path)
    assert code == 2
    assert "good.toml" in out
    assert err == "rimmodel: 1 of 2 case files could not be reviewed: bad.toml\n"
    assert "did you mean 'outer_radius'" in out
    code, out, err = rim("fleet", tmp_path / "nowhere")
    assert (code, out) == (2, "")
    assert "nowhere" in err
