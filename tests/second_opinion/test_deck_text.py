"""Decks as text: what a hand can check of loads, materials, geometry and units, and that they stand alone."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.rotor import Condition, GivenSpider
from rimmodel.second_opinion.decks import Decks
from rimmodel.second_opinion.drawing import Drawing
from rimmodel.second_opinion.printed import read_printed
from tests.behaviour.invented_rotors import COLD, HUBBED, SPIDERS, changed

CASE = rm.example_case()
KEYED = changed(fit={"key_count": 14, "key_width": 0.25})


def texts(rotor, condition=COLD):
    return Decks(rotor, condition, "invented").texts


def cards(text: str, name: str) -> list[str]:
    """Lines of data below each card of a name."""
    return re.findall(rf"^\*{name}[^\n]*\n((?:[^*\n][^\n]*\n)+)", text, flags=re.MULTILINE)


def values(line: str) -> list[float]:
    return [float(cell) for cell in line.strip().strip(",").split(",")]


class TestFiles:
    def test_a_rotor_without_keys_has_one_deck_one_on_keys_two_and_one_on_uneven_keys_three(self):
        assert list(texts(changed())) == ["axisymmetric.inp"]
        assert list(texts(KEYED)) == ["axisymmetric.inp", "sector.inp"]
        assert list(texts(CASE.rotor)) == ["axisymmetric.inp", "sector.inp", "ring.inp"]

    @pytest.mark.parametrize("spider", SPIDERS)
    def test_text_is_plain_short_of_line_and_stands_alone(self, spider):
        for text in texts(changed(spider=SPIDERS[spider], fit={"key_count": 14, "key_width": 0.25})).values():
            lines = text.splitlines()
            assert text.isascii()
            assert max(map(len, lines)) <= 132  # what the program reads of a line
            assert "*INCLUDE" not in text
            assert not any(word in text for word in ("nan", "inf,", "None"))

    @pytest.mark.parametrize("name", ["axisymmetric.inp", "sector.inp", "ring.inp"])
    def test_head_states_units_slice_and_interference(self, name):
        head = " ".join(line[3:] for line in texts(CASE.rotor)[name].split("*NODE")[0].splitlines())
        assert "UNITS: metre, kilogram, second, newton, pascal, kelvin, rad/s" in head
        assert "slice times 1850" in head  # 1.85 m of 1 mm each
        assert "INTERFERENCE: 0.0021 m radial" in head

    def test_a_title_cannot_break_out_of_its_comment(self):
        text = Decks(changed(), COLD, "Quillmere\n*STEP\nGr\u00f6\u00dfe").texts["axisymmetric.inp"]
        assert text.startswith("** Quillmere *STEP Gr??e")


class TestLoads:
    @pytest.mark.derived
    def test_poles_pull_by_number_times_mass_times_radius_times_speed_squared_over_the_outside(self):
        """48 poles of 3700 kg at 4.32 m, 125 rpm = 13.0900 rad/s, on 2 pi x 4.06 m x 1.85 m."""
        by_hand = 48 * 3700 * 4.32 * (125 * 2 * math.pi / 60) ** 2 / (2 * math.pi * 4.06 * 1.85)
        text = texts(CASE.rotor)["axisymmetric.inp"]
        pressures = [values(line.split("P2,")[1])[0] for line in re.findall(r"^\d+, P2,.*$", text, re.MULTILINE)[::2]]
        rated = list(Decks(CASE.rotor, COLD, "invented").by_name["axisymmetric"].speeds).index("rated")
        assert pressures[0] == 0
        assert -pressures[rated] == pytest.approx(by_hand, rel=1e-12)

    @pytest.mark.derived
    def test_turning_is_the_square_of_the_speed_about_the_axis(self):
        rated = (125 * 2 * math.pi / 60) ** 2
        for name, axis in (("axisymmetric.inp", "0, 0, 0, 0, 1, 0"), ("sector.inp", "0, 0, 0, 0, 0, 1")):
            found = re.findall(r"^RIM, CENTRIF, ([^,]+), (.*)$", texts(CASE.rotor)[name], re.MULTILINE)
            assert {place for _, place in found} == {axis}
            assert min(abs(float(square) - rated) for square, _ in found) < 1e-9

    @pytest.mark.derived
    def test_field_pulls_with_b_squared_over_four_mu(self):
        """0.95 T: 0.9025/(4 x 4 pi 1e-7) = 179.54 kPa at the face, on 4.58 m x 1.80 m against 4.06 m x 1.85 m."""
        loads = Drawing(CASE.rotor, CASE.conditions["hot"], False).loads(0.0)
        assert loads.outside == pytest.approx(179_540 * 4.58 * 1.80 / (4.06 * 1.85), rel=1e-4)

    @pytest.mark.derived
    def test_tips_of_arms_pull_by_mass_times_radius_times_speed_squared(self):
        """14 tips of 180 kg at 3.62 m and 10 rad/s: 912,240 N on 14 keys of 0.26 m x 1.85 m."""
        assert Drawing(CASE.rotor, COLD, True).loads(10.0).tip == pytest.approx(912_240 / (14 * 0.26 * 1.85))

    @pytest.mark.derived
    def test_foot_of_a_given_spider_moves_as_its_report_says_and_as_it_warms(self):
        """0.2 mm at 10 rad/s are 0.8 mm at 20 rad/s; 30 K on a bore of 4 m with 12e-6: 1.44 mm."""
        rotor = changed(spider=GivenSpider(4e10, 0.2e-3, 10.0))
        warm = Condition(spider_temperature=293.15 + 30.0)
        assert Drawing(rotor, warm, False).loads(20.0).foot == pytest.approx(0.8e-3 + 1.44e-3)
        text = texts(rotor, warm)["axisymmetric.inp"]
        assert "FEET, 1, 1, 0.00144\n" in text

    @pytest.mark.derived
    def test_a_gradient_through_the_rim_keeps_its_mean_over_the_area(self):
        drawing = Drawing(changed(), Condition(313.15, rim_temperature_rise=12.0), False)
        radius = np.linspace(4.0, 4.5, 20_001)
        rise = drawing.rim_rises(radius)
        assert rise[-1] - rise[0] == pytest.approx(12.0)
        assert np.trapezoid(rise * radius, radius) / np.trapezoid(radius, radius) == pytest.approx(20.0, abs=1e-6)


class TestWhatIsDrawn:
    @pytest.mark.derived
    def test_steel_of_the_rim_is_that_of_the_case_times_the_stack(self):
        """206 GPa and 7850 kg/m3 at 0.97: 199.82 GPa, 7614.5 kg/m3; hoop at 0.85 of it: 169.847 GPa."""
        text = texts(CASE.rotor)["axisymmetric.inp"]
        rim = text.split("*MATERIAL, NAME=RIM1STEEL")[1]
        assert values(cards(rim, "ELASTIC")[0].splitlines()[0])[:3] == pytest.approx([199.82e9, 169.847e9, 199.82e9])
        assert values(cards(rim, "DENSITY")[0])[0] == pytest.approx(7614.5)

    @pytest.mark.derived
    @pytest.mark.parametrize("keyed", [False, True])
    def test_arms_keep_their_mass_and_their_stiffness(self, keyed):
        """14 arms of 0.058 m2 from 1.25 m to 3.62 m: 15,107 kg; in series they are E A/l each."""
        drawing = Drawing(CASE.rotor, COLD, keyed)
        rows = drawing.spider_rows(coarse=keyed)
        around = 14 * 0.26 / 3.62 if keyed else 2 * math.pi
        inner, outer = rows.radii[:-1], rows.radii[1:]
        mass = sum(
            s.density * 1.85 * around * (o**2 - i**2) / 2 for s, i, o in zip(rows.steel, inner, outer, strict=True)
        )
        soft = sum(
            np.log(o / i) / (s.radial_modulus * 1.85 * around) for s, i, o in zip(rows.steel, inner, outer, strict=True)
        )
        assert mass == pytest.approx(14 * 0.058 * 2.37 * 7850, rel=1e-9)
        assert 1 / soft == pytest.approx(14 * 206e9 * 0.058 / 2.37, rel=1e-9)

    @pytest.mark.derived
    def test_a_hub_goes_all_round_and_the_arms_stand_under_the_keys(self):
        """Hub of 1.5 m on a rim of 1.8 m: five sixths of the modulus."""
        rows = Drawing(replace(KEYED, spider=HUBBED), COLD, True).spider_rows(coarse=True)
        hub = [steel for steel, apart in zip(rows.steel, rows.under_keys, strict=True) if not apart]
        assert [steel.radial_modulus for steel in hub] == pytest.approx([203e9 * 1.5 / 1.8] * 4)
        assert sum(rows.under_keys) == 5

    @pytest.mark.derived
    def test_seat_is_drawn_larger_by_the_interference_that_is_left(self):
        """2.4 mm less 0.3 mm settled on a bore of 4 m."""
        text = texts(changed())["axisymmetric.inp"]
        nodes = {int(v[0]): v[1] for v in map(values, "".join(cards(text, "NODE, NSET")).splitlines())}
        ends = [int(values(line)[0]) for line in cards(text, "NSET, NSET=ENDS")[0].splitlines()]
        assert [nodes[end] for end in ends] == pytest.approx([4.0, 4.5, 4.0021], abs=1e-12)

    @pytest.mark.derived
    def test_each_key_of_the_ring_stands_out_by_its_own_interference(self):
        """Keys 1 and 4 of the built-in case: 2.05 and 2.20 mm, a seventh of a turn apart, on a bore of 3.62 m."""
        ring = Decks(CASE.rotor, COLD, "invented").by_name["ring"]
        _, spider = ring.spider
        nodes = {int(v[0]): math.hypot(v[1], v[2]) for v in map(values, spider.node_lines())}
        seat = spider.radius.size - 1
        for key, interference in ((1, 2.05e-3), (4, 2.20e-3)):
            under = ring.under(key)
            middle = 2 * under[len(under) // 2]
            assert spider.angle[middle] == pytest.approx((key - 1) * 2 * math.pi / 14)
            assert nodes[spider.node(seat, middle)] == pytest.approx(3.62 + interference, abs=1e-12)

    @pytest.mark.derived
    def test_mass_of_the_poles_on_the_ring_is_theirs_and_pulls_at_their_radius(self):
        drawing = Drawing(CASE.rotor, COLD, True)
        rows = drawing.rim_rows(5, with_poles=True)
        inner, outer = rows.radii[-2:]
        mass = rows.steel[-1].density * math.pi * (outer**2 - inner**2) * 1.85
        assert mass == pytest.approx(48 * 3700)
        own = rows.steel[-1].density * 2 * math.pi * (outer**3 - inner**3) / 3 * 1.85
        rest = drawing.loads(1.0, with_poles=True).outside * 2 * math.pi * outer * 1.85
        assert own + rest == pytest.approx(48 * 3700 * 4.32, rel=1e-12)

    @pytest.mark.derived
    def test_keys_with_shims_are_the_stiffness_of_the_contact(self):
        """5e9 N/m on 0.25 m x 1.8 m of a key; 14 of them on 2 pi x 4 m x 1.8 m all round."""
        rotor = changed(fit={"key_count": 14, "key_width": 0.25, "key_stiffness": 5e9})
        assert Drawing(rotor, COLD, True).contact_stiffness == pytest.approx(5e9 / 0.45)
        assert Drawing(rotor, COLD, False).contact_stiffness == pytest.approx(14 * 5e9 / (2 * math.pi * 4 * 1.8))

    def test_every_brick_of_a_whole_ring_has_its_nodes(self):
        ring = Decks(CASE.rotor, COLD, "invented").by_name["ring"]
        for part in (ring.spider[1], ring.rim[1]):
            there = {part.node(*place) for place in part.places}
            used = {int(v) for line in part.brick_lines() for v in values(line)[0 if line.count(",") < 6 else 1 :]}
            assert used == there


class TestRefused:
    def test_arrays(self):
        with pytest.raises(ValueError, match="a deck draws one rotor"):
            texts(changed(poles={"mass": np.array([3.0, 4.0])}))

    def test_a_list_of_another_length(self):
        rotor = changed(fit={"key_count": 14, "key_width": 0.25, "key_interference": (1e-3, 2e-3)})
        with pytest.raises(ValueError, match="key_interference has 2 values"):
            texts(rotor)


def test_what_nothing_touches_is_no_force():
    text = (
        " statistics for slave set RIMBORE, master set SEAT and time  0.1000000E+01\n\n"
        "   area,  normal force (+ = tension) and shear force (size)\n\n    0.0E+00           NaN           NaN\n"
    )
    assert read_printed(text)[0].contact_force == {"RIMBORE": 0.0}
