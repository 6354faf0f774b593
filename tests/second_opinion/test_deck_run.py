"""The second opinion run: random machines against finite elements, the table, and every refusal of the command."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.second_opinion import compare as comparison
from rimmodel.second_opinion.decks import Decks
from rimmodel.second_opinion.keyed import Keyed
from rimmodel.second_opinion.printed import read_printed
from rimmodel.second_opinion.program import ProgramError, StoppedError, run_program
from rimmodel.second_opinion.states import States, lifted
from tests.behaviour.invented_rotors import ARMS, COLD, changed
from tests.benchmarks.second_opinion import compared

HERE = shutil.which("ccx") is not None
needs_program = pytest.mark.skipif(not HERE, reason="CalculiX (ccx) is not installed")

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")


@pytest.fixture
def case(tmp_path, monkeypatch):
    """A case without keys in the current folder."""
    monkeypatch.chdir(tmp_path)
    Path("unit.toml").write_text(NEW, encoding="utf-8")
    return "unit.toml"


def fake_program(folder: Path, script: str) -> None:
    """A program of the name in a folder that takes the place of the PATH."""
    folder.mkdir()
    path = folder / "ccx"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)


@needs_program
@pytest.mark.independent
@pytest.mark.parametrize("number", [0, 1, 6, 12, 14, 19])
def test_random_machines_are_within_one_percent(number):
    words, found = compared(number)
    assert len(found.rows) >= 12
    assert not found.findings
    for row in found.rows:
        assert row.difference is None or abs(row.difference) < 1.0, (words, row)


@needs_program
@pytest.mark.independent
def test_a_disc_on_keys_dents_under_them_as_in_the_deck():
    """Without its dents the pressure is 5 to 20 % too high; under an even pressure it is 1.6 % too low."""
    rows = compared(2)[1].rows
    pressure = next(row for row in rows if row.deck == "sector" and row.what.startswith("contact pressure"))
    assert abs(pressure.difference) < 0.5
    speeds = [row for row in rows if row.what == "float speed"]
    assert [row.deck for row in speeds] == ["axisymmetric", "sector"]
    assert all(abs(row.difference) < 0.5 for row in speeds)  # a dent moves no float speed


def uneven_rotor():
    """A deep rim on six keys that differ by a few per cent."""
    own = tuple(2.4e-3 * np.array([1.0, 1.03, 0.98, 1.04, 0.97, 0.98]))
    keys = {"key_count": 6, "key_width": 0.5, "key_interference": own, "settlement": 0.0, "friction_interference": 0.0}
    rotor = changed(fit=keys, rim={"outer_radius": 4.7}, poles={"mass_radius": 4.9, "face_radius": 5.2})
    arms = replace(ARMS, count=6, arm_area=0.13)
    return replace(rotor, spider=arms, fit=replace(rotor.fit, interference=float(np.mean(own))))


@needs_program
@pytest.mark.independent
def test_uneven_keys_one_by_one_on_the_whole_ring(tmp_path):
    decks = Decks(uneven_rotor(), COLD, "uneven")
    for file, text in decks.texts.items():
        (tmp_path / file).write_text(text)
    found = comparison.compare(decks, decks.run(tmp_path))
    forces = [row for row in found.rows if row.deck == "ring"]
    assert len(forces) == 12
    assert np.ptp([row.theirs for row in forces[:6]]) > 10e3  # they do differ
    assert all(row.explained and abs(row.difference) < 1.0 for row in forces), forces
    assert found.remarks == ()


def printed_state(deck: Keyed, time: float, force: float) -> str:
    """What the program prints of a state in which nothing has moved and every key presses alike on the slice."""
    moved = "".join(f" {node} 0.0 0.0 0.0\n" for node in deck._edge_nodes())
    rows = "".join(
        f" {deck.rim[1].brick(0, j)} {point} 0.0 5.0E+06 0.0 0.0 0.0 0.0 RIMAXES\n"
        for j in range(deck.angles.size - 1)
        for point in range(1, 28)
    )
    contact = "".join(
        f" statistics for slave set BORE{key}, master set SEAT{key} and time {time:.7E}\n\n"
        f"   area,  normal force (+ = tension) and shear force (size)\n\n 1.0E-04 {-force:.6E} 0.0\n\n"
        for key in deck.keys
    )
    return (
        f" displacements (vx,vy,vz) for set EDGES and time {time:.7E}\n\n{moved}\n"
        f" stresses (elem, integ.pnt.,sxx,syy,szz,sxy,sxz,syz) for set RIMBORE and time {time:.7E}\n\n{rows}\n{contact}"
    )


@pytest.mark.derived
class TestPrinted:
    """Two newton on a slice of 1 mm are 3.6 kN on a key of 1.8 m; half of a key is drawn in the sector."""

    ring = Decks(uneven_rotor(), COLD, "uneven").by_name["ring"]
    sector = Decks(uneven_rotor(), COLD, "uneven").by_name["sector"]

    def test_force_of_a_whole_key(self):
        assert self.ring.key_force(read_printed(printed_state(self.ring, 1.0, 2.0))) == pytest.approx(3.6e3)
        assert self.sector.key_force(read_printed(printed_state(self.sector, 1.0, 2.0))) == pytest.approx(7.2e3)

    def test_mean_pressure_is_that_of_all_keys_over_the_bore(self):
        """6 x 3.6 kN on 2 pi x 4 m x 1.8 m."""
        found = self.ring.states(read_printed(printed_state(self.ring, 1.0, 2.0)))
        assert found.name == ("standstill",)
        assert found.pressure == pytest.approx(6 * 3.6e3 / (2 * np.pi * 4.0 * 1.8))
        assert found.bore_hoop_stress == pytest.approx(5e6)

    def test_a_ring_without_its_second_state_is_compared_at_standstill_with_a_remark(self, tmp_path, monkeypatch):
        decks = Decks(uneven_rotor(), COLD, "uneven")
        monkeypatch.setitem(decks.by_name, "ring", self.ring)
        for name in ("axisymmetric", "sector"):
            decks.by_name.pop(name)
        results = decks._results({"ring": printed_state(self.ring, 1.0, 2.0)}, tmp_path)
        assert results.key_force.shape == (1, 6)
        assert "no state at rated speed" in results.remarks[0]

    def test_decks_that_came_to_their_end_are_compared_and_the_other_is_named(self, tmp_path, monkeypatch):
        """The sector runs into the limit, the whole ring has printed one state and no more of the contact of key 3."""
        decks = Decks(uneven_rotor(), COLD, "uneven")
        decks.by_name.pop("axisymmetric")
        monkeypatch.setitem(decks.by_name, "ring", self.ring)
        whole = printed_state(self.ring, 1.0, 2.0)
        stopped = StoppedError("ccx did not end within 25 s on sector.inp")
        found = decks._results({"sector": stopped, "ring": whole}, tmp_path)
        assert list(found.states) == ["ring"]
        assert found.missing == ("sector.inp is NOT COMPARED: ccx did not end within 25 s on sector.inp",)
        assert found.missing[0] in found.remarks
        cut = whole[: whole.index(" statistics for slave set BORE3")]
        with pytest.raises(ProgramError, match="did not end within 25 s on sector"):
            decks._results({"sector": stopped, "ring": cut}, tmp_path)
        decks.by_name.pop("sector")
        with pytest.raises(ProgramError, match=r"ring\.dat is cut off \(node or element 'BORE3'.*time limit"):
            decks._results({"ring": cut}, tmp_path)


@needs_program
class TestCommand:
    def test_writes_runs_and_prints_the_table(self, rim, case):
        code, out, err = rim("deck", case, "--condition", "cold", "--out", "decks", "--run")
        assert code == 0, err
        assert "float speed" in out
        assert "finite elements" in out
        table = json.loads(Path("decks/deck.json").read_text())
        assert table["condition"] == "cold"
        assert table["largest_difference_percent"] < 1.0
        assert table["not_explained"] == []
        by_pressure, by_clearance = table["float_speed_found_twice_rpm"]["axisymmetric"]
        assert by_pressure == pytest.approx(by_clearance, rel=2e-4)
        assert Path("decks/deck.txt").read_text() == out

        again = rim("deck", case, "--condition", "cold", "--read", "decks", "--json")
        assert again[0] == 0, again[2]
        assert json.loads(again[1]) == table

        code, out, err = rim("deck", case, "--condition", "hot", "--read", "decks")
        assert (code, out) == (2, "")
        assert "not the deck of this case in this condition" in err

        Path("decks/axisymmetric.dat").write_text(Path("decks/axisymmetric.dat").read_text()[:4000])
        code, out, err = rim("deck", case, "--condition", "cold", "--read", "decks")
        assert code == 2
        assert len(err.splitlines()) == 1
        assert "axisymmetric.dat" in err

    def test_a_deck_that_takes_too_long_is_named_under_the_table_of_the_others(self, rim, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)
        text = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
        Path("unit.toml").write_text(text, encoding="utf-8")
        shutil.copy(EXAMPLES / "quillmere_run.csv", tmp_path)
        slow = f'[ "$1" = axisymmetric ] || exec sleep 30\nexec {shutil.which("ccx")} "$1"'
        fake_program(tmp_path / "bin", slow)
        monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:{os.environ['PATH']}")
        code, out, err = rim("deck", "unit.toml", "--out", "decks", "--run", "--time-limit", "3")
        assert code == 2
        assert "float speed" in out
        assert "sector.inp is NOT COMPARED: ccx did not end within 3 s" in " ".join(out.split())
        last = err.splitlines()[-1]
        assert "did not end within 3 s on sector.inp" in last
        assert "raise --time-limit" in last
        assert any("sector.inp" in line for line in json.loads(Path("decks/deck.json").read_text())["remarks"])

    def test_a_run_that_takes_too_long_is_stopped(self, tmp_path, monkeypatch):
        fake_program(tmp_path / "bin", "exec sleep 30")
        monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:{os.environ['PATH']}")
        with pytest.raises(ProgramError, match=r"did not end within 0\.2 s on a\.inp.*a\.log.*--time-limit"):
            run_program(tmp_path, "a", 0.2)


class TestWithoutTheProgram:
    def test_decks_are_written_and_how_to_run_them_is_stated(self, rim, case, monkeypatch):
        monkeypatch.setenv("PATH", "/nowhere")
        code, out, err = rim("deck", case, "--out", "decks")
        assert (code, out) == (0, "")
        assert Path("decks/axisymmetric.inp").read_text().count("*END STEP") >= 6
        assert "'ccx axisymmetric'" in err
        assert "--read decks" in err

    def test_run_is_refused_in_one_line_before_anything_is_written(self, rim, case, monkeypatch):
        monkeypatch.setenv("PATH", "/nowhere")
        code, out, err = rim("deck", case, "--out", "decks", "--run")
        assert (code, out) == (2, "")
        assert len(err.splitlines()) == 1
        assert "ccx (CalculiX) is not on the PATH" in err
        assert not Path("decks").exists()

    def test_a_failure_shows_its_line_and_keeps_the_log(self, rim, case, tmp_path, monkeypatch):
        fake_program(tmp_path / "bin", "echo some words; echo '*ERROR: too few cards'; echo more; exit 201")
        monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:/bin")
        code, _, err = rim("deck", case, "--out", "decks", "--run")
        last = err.splitlines()[-1]
        assert code == 2
        assert "ccx ended with 201 on axisymmetric.inp: *ERROR: too few cards more" in last
        assert "decks/axisymmetric.log" in last
        assert "some words" in Path("decks/axisymmetric.log").read_text()

    def test_a_run_without_results_says_how_far_it_came(self, rim, case, tmp_path, monkeypatch):
        fake_program(tmp_path / "bin", ": > axisymmetric.dat")
        monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}:/bin")
        code, _, err = rim("deck", case, "--out", "decks", "--run")
        assert code == 2
        assert "holds 0 of " in err.splitlines()[-1]

    @pytest.mark.parametrize("taken", ["axisymmetric.inp", "axisymmetric.dat", "deck.txt"])
    def test_nothing_is_overwritten_unasked(self, rim, case, taken):
        Path("decks").mkdir()
        Path("decks", taken).write_text("mine")
        code, _, err = rim("deck", case, "--out", "decks")
        assert code == 2
        assert f"{taken} already exists" in err
        assert "--force" in err
        assert Path("decks", taken).read_text() == "mine"
        assert [path.name for path in Path("decks").iterdir()] == [taken]

    def test_results_of_an_earlier_deck_are_not_read(self, rim, case):
        rim("deck", case, "--out", "decks")
        results = Path("decks/axisymmetric.dat")
        results.write_text("")
        os.utime(results, (1, 1))
        code, _, err = rim("deck", case, "--read", "decks")
        assert code == 2
        assert "is older than" in err


class TestReading:
    @pytest.mark.derived
    def test_float_speed_is_where_pressure_falls_to_zero_in_speed_squared(self):
        """8 MPa at rest, 6 MPa at 10 rad/s: 0.02 MPa per (rad/s)^2, nothing left at 400, that is 20 rad/s."""
        nothing = np.zeros(2)
        states = States(("a", "b"), np.array([0.0, 10.0]), np.array([8e6, 6e6]), nothing - 1e-9, *3 * (nothing,))
        found = lifted(states)
        assert found.by_pressure == pytest.approx(20.0)
        assert found.by_clearance is None

    def test_what_no_known_cause_accounts_for_is_called_a_finding(self):
        row = comparison._row("sector", "float speed", "speed", (1.02, 1.0), 1.0, "", ())
        assert row.difference == pytest.approx(2.0)
        assert not row.explained
        assert "treat it as a finding" in row.reason
