"""Rotor, bore and centre told apart from virtual readings of every pole, with intervals that cover as they say."""

from functools import cache

import numpy as np
import pytest
from scipy.stats import ncx2

from rimmodel.evidence.reduction.amplitude import amplitude_interval
from rimmodel.evidence.reduction.bore_split import PlaneReadings, SensorErrors, sight, split_plane
from rimmodel.evidence.reduction.two_way import two_way

POLES, NOISE, ONE = 48, 0.05e-3, 0.06e-3
TURN = 2.0 * np.pi * np.arange(POLES) / POLES
RUNS = 500


def wave(harmonics, angle):
    return sum(((a * np.exp(1j * n * angle)).real for n, a in harmonics.items()), 0.0 * angle)


def readings(rng, sensors, bore, faces, mean=12e-3, one=ONE, noise=NOISE):
    """One speed point of an invented machine: the table of poles and sensors, split as a recording is."""
    angle = np.atleast_1d(sensors)
    gap = mean + wave(bore, angle)[:, None] + one * rng.normal(size=(angle.size, 1)) - faces[None, :]
    parts = two_way(gap + noise * rng.normal(size=gap.shape))
    return PlaneReadings(
        np.array([10.0]), np.array(["up"]), np.array([parts.mean]), parts.row[None], angle, -parts.column[None], TURN,
        np.array([parts.spread]),
    )  # fmt: skip


@cache
def virtual(bore_oval, count=8):
    """Truth and answer of many invented machines: offset, ovals, eccentricity of random places, scattered poles."""
    rng = np.random.default_rng(11)
    rows = []
    for _ in range(RUNS):
        turned = np.exp(1j * rng.uniform(0.0, 2.0 * np.pi, 4))
        bore = {1: 0.3e-3 * turned[0], 2: bore_oval * turned[1]}
        faces = wave({1: 0.25e-3 * turned[2], 2: 0.2e-3 * turned[3]}, TURN) + 0.05e-3 * rng.normal(size=POLES)
        faces = faces - faces.mean()
        found = split_plane(
            readings(rng, np.arange(count) * 2.0 * np.pi / count, bore, faces), SensorErrors(ONE, 0.0, 0.0, 0.0)
        )
        fine = np.linspace(0.0, 2.0 * np.pi, 3000)
        truth = {
            "offset": 0.3e-3,
            "bore_oval": bore_oval,
            "once_per_turn": abs(2.0 * np.mean(faces * np.exp(-1j * TURN))),
            "rotor_oval": abs(2.0 * np.mean(faces * np.exp(-2j * TURN))),
            "least": 12e-3 + wave(bore, fine).min() - faces.max(),
        }
        rows.append((truth, found))
    return rows


def share(rows, name):
    inside = []
    for truth, found in rows:
        part = found if name == "least" else getattr(found, name)
        inside.append(part.low[0] <= truth[name] <= part.high[0])
    return np.mean(inside)


@pytest.mark.independent
@pytest.mark.parametrize("name", ["offset", "bore_oval", "once_per_turn", "rotor_oval", "least"])
@pytest.mark.parametrize("bore_oval", [0.4e-3, 0.1e-3])
def test_intervals_cover_the_truth_of_virtual_machines(name, bore_oval):
    """Of 500 machines 95 +- 2 % (two standard errors of counting) would be right; asked for are 93 to 97 %."""
    assert 0.93 <= share(virtual(bore_oval), name) <= 0.97


@pytest.mark.independent
def test_the_best_least_gap_is_neither_wide_nor_narrow_on_average():
    """The least of a noisy curve is about 0.02 mm too low here; left is a fifth of its spread of 0.06 mm at most."""
    off = [found.least[0] - truth["least"] for truth, found in virtual(0.1e-3)]
    assert abs(np.mean(off)) < 0.012e-3


@pytest.mark.independent
def test_no_waves_at_all_are_not_excluded():
    """An oval that is not there: its interval holds zero in 95 of 100 runs."""
    assert 0.93 <= share(virtual(0.0), "bore_oval") <= 0.985
    assert np.mean([found.bore_oval.low[0] == 0.0 for _, found in virtual(0.0)]) > 0.95


@pytest.mark.independent
@pytest.mark.parametrize("ratio", [0.5, 2.0, 2.72, 6.0, 24.0, 26.0])
def test_the_amplitude_interval_turns_scipys_distribution_round(ratio):
    low, high = (float(end) for end in amplitude_interval(ratio, 1.0, 0.95))
    if ratio > 25.0:
        assert (low, high) == pytest.approx((ratio - 1.96, ratio + 1.96), abs=0.01)
        return
    assert ncx2.cdf(ratio**2, 2, high**2) == pytest.approx(0.025, abs=1e-6) or high == 0.0
    assert low == 0.0 or ncx2.cdf(ratio**2, 2, low**2) == pytest.approx(0.975, abs=1e-6)


@pytest.mark.derived
@pytest.mark.parametrize("count", [3, 4, 5, 6, 7, 8, 12])
def test_a_wave_that_so_many_sensors_cannot_see_reads_as_n_less(count):
    found = sight(np.arange(count) * 2.0 * np.pi / count)
    assert found.highest == min((count - 1) // 2, 8)
    for n in range(found.highest + 1, 9):
        folded = min(n % count, count - n % count)
        assert found.reads_as[n] == (None if 2 * folded == count else folded)


def test_what_is_not_seen_is_not_zero():
    rng = np.random.default_rng(1)
    faces = np.zeros(POLES)
    four = split_plane(readings(rng, np.arange(4) * np.pi / 2, {2: 0.4e-3}, faces), SensorErrors(ONE, 0.0, 0.5e-3, 0.0))
    assert np.isnan([four.bore_oval.size, four.bore_oval.low, four.bore_oval.high]).all()
    assert four.offset.high[0] > 0.0
    two = split_plane(readings(rng, np.array([0.0, np.pi]), {1: 0.3e-3}, faces), SensorErrors(ONE, 0.0, 0.5e-3, 0.4e-3))
    assert np.isnan(two.offset.size).all()
    unknown = split_plane(_without_angles(rng), SensorErrors(ONE, 0.0, 0.5e-3, 0.4e-3))
    assert np.isnan(unknown.offset.size).all()
    assert unknown.sensors == 0


def _without_angles(rng):
    one = readings(rng, np.arange(4) * np.pi / 2, {2: 0.4e-3}, np.zeros(POLES))
    return PlaneReadings(
        one.speed, one.direction, one.mean, one.bore, np.full(4, np.nan), one.faces, one.pole_angle, one.residual
    )


@pytest.mark.derived
@pytest.mark.parametrize(("count", "hidden"), [(4, 2), (6, 4), (6, 3), (5, 5), (2, 1), (3, 3)])
def test_a_hidden_wave_widens_the_interval_and_stays_inside_it(count, hidden):
    """Noise-free sensors, the hidden wave at every phase: the bound covers it always."""
    rng = np.random.default_rng(2)
    angle = np.arange(count) * 2.0 * np.pi / count
    for phase in np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False):
        bore = {1: 0.2e-3 * np.exp(0.7j), hidden: 0.3e-3 * np.exp(1j * phase)} if hidden > 1 else {1: 0.3e-3}
        errors = SensorErrors(0.0, 0.0, 0.3e-3 if hidden > 1 else 0.0, 0.5e-3)
        found = split_plane(readings(rng, angle + phase / 7.0, bore, np.zeros(POLES), one=0.0, noise=0.0), errors)
        fine = np.linspace(0.0, 2.0 * np.pi, 4000)
        truth = 12e-3 + wave(bore, fine).min()
        assert found.low[0] - 1e-9 <= truth <= found.high[0] + 1e-9
        assert found.least[0] <= found.high[0]


@pytest.mark.derived
def test_circularity_is_what_the_poles_leave_beside_their_eccentricity():
    """An oval of 0.3 mm on a rotor 0.5 mm off centre: 0.3 mm, as 48 poles meet its crests."""
    rng = np.random.default_rng(5)
    faces = wave({1: 0.5e-3 * np.exp(0.3j), 2: 0.3e-3}, TURN)
    found = split_plane(
        readings(rng, np.arange(8) * np.pi / 4, {}, faces, noise=1e-9), SensorErrors(0.0, 0.0, 0.0, 0.0)
    )
    assert found.circularity == pytest.approx([0.3e-3], abs=1e-8)


def test_sensors_close_together_see_less():
    crowded = sight(np.deg2rad([0.0, 5.0, 10.0, 15.0, 20.0, 25.0]))
    assert crowded.highest == 0
    assert sight(np.deg2rad([0.0, 50.0, 130.0, 170.0, 250.0, 300.0, 330.0])).highest >= 2


def test_the_change_of_the_turning_part_is_from_the_slowest_point():
    rng = np.random.default_rng(5)
    slow = readings(rng, np.arange(8) * np.pi / 4, {}, wave({1: 0.2e-3}, TURN), noise=1e-9)
    fast = readings(rng, np.arange(8) * np.pi / 4, {}, wave({1: 0.2e-3 + 0.1e-3j}, TURN), noise=1e-9)
    both = PlaneReadings(
        np.array([20.0, 10.0]), np.array(["up", "up"]),
        *(np.concatenate([getattr(fast, name), getattr(slow, name)]) for name in ("mean", "bore")),
        slow.sensor_angle, np.concatenate([fast.faces, slow.faces]), TURN,
        np.concatenate([fast.residual, slow.residual]),
    )  # fmt: skip
    found = split_plane(both, SensorErrors(0.0, 0.0, 0.0, 0.0))
    assert found.once_change.size == pytest.approx([0.1e-3, 0.0], abs=1e-9)
