"""The knee fit against brute force, other libraries, exact levels and virtual runs whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import binom

from rimmodel.evidence.knee.alternatives import seat_take_up, stray_points
from rimmodel.evidence.knee.broken_line import Points, candidate_knees, full_scan, hinge, scan, sharp_optima
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.knee.inference import p_value_of
from rimmodel.evidence.knee.noise import known_noise, noise_models
from rimmodel.evidence.knee.posterior import SIZES, Whitened, knee_posterior
from tests.benchmarks.knee_calibration import Family, against_segmented, measure, virtual_runs
from tests.evidence.knee_runs import COUNT, plain_runs
from validation.stagnant_band import FLOW, HEIGHT

BAND_X, BAND_Y = np.array(FLOW), np.array(HEIGHT)


def broken(x, knee, level, before, after):
    return level + before * np.minimum(x - knee, 0.0) + after * np.maximum(x - knee, 0.0)


def air_gap(count=40, noise=0.02, knee=1.2, before=-1.0, after=-2.0, seed=3):
    """An invented run-up in mm against (n/rated)^2."""
    x = np.linspace(0.1, 1.45, count) ** 2
    return x, broken(x, knee, 18.0, before, after) + noise * np.random.default_rng(seed).standard_normal(count)


def misfit_by_projection(x, y, knees):
    """Residual sum of squares of y (..., n) at each knee by explicit projection, apart from the code under test."""
    result = []
    for knee in knees:
        columns = np.column_stack([np.ones_like(x), x, np.where(x > knee, x - knee, 0.0)])
        away = np.eye(len(x)) - columns @ np.linalg.pinv(columns)
        result.append(np.einsum("...i,ij,...j->...", y, away, y))
    return np.array(result)


class TestStagnantBand:
    @pytest.mark.independent
    def test_least_squares_equal_brute_force_over_the_knee(self):
        knees = np.linspace(-1.0, 1.0, 200_001)
        near = knees[np.abs(knees - 0.036) < 0.02]
        brute = misfit_by_projection(BAND_X, BAND_Y, near)
        coarse = misfit_by_projection(BAND_X, BAND_Y, knees[::500])
        knee = fit_knee(BAND_X, BAND_Y, robust=False, rounded=False, independent=True)
        assert brute.min() < coarse.min()
        assert knee.position == pytest.approx(near[brute.argmin()], abs=1e-5)
        # chi-squared is in units of the estimated noise
        assert knee.chi_squared * knee.sigma**2 == pytest.approx(brute.min(), rel=1e-8)

    @pytest.mark.recalled
    def test_agrees_with_a_published_bayesian_fit(self):
        # Posterior means and standard deviation of a flat-prior change-point example on these data, three digits at
        # best, from memory: knee 0.0283 (0.0314), level 0.5349, slopes -0.4200 and -1.0136. Least squares differ as the
        # profile is skew.
        knee = fit_knee(BAND_X, BAND_Y, rounded=False, independent=True)
        assert knee.verdict == "resolved"
        assert abs(knee.position - 0.0283) < 0.5 * 0.0314
        assert knee.slope_before == pytest.approx(-0.4200, rel=0.02)
        assert knee.slope_after == pytest.approx(-1.0136, rel=0.02)
        low, high = knee.interval
        assert low < 0.0283 < high
        assert high - low == pytest.approx(2.0 * 1.96 * 0.0314, rel=0.3)


class TestLeastSquares:
    @pytest.mark.independent
    @pytest.mark.parametrize("seed", range(6))
    def test_scan_equals_explicit_projection(self, seed):
        random = np.random.default_rng(seed)
        x, y = np.sort(random.uniform(0.0, 9.0, 25)), random.standard_normal(25)
        points = Points(x, y, np.ones(25), True, -1.0)
        found = scan(points, candidate_knees(x))
        assert found.line_misfit - found.score**2 == pytest.approx(
            misfit_by_projection(x, y, found.candidates), abs=1e-10
        )

    @pytest.mark.independent
    @pytest.mark.parametrize("seed", range(6))
    def test_closed_form_optima_are_the_best_of_a_fine_scan(self, seed):
        random = np.random.default_rng(seed)
        x, y = random.choice(np.linspace(0.0, 4.0, 12), 30), random.standard_normal(30)  # with repeated x
        inner = np.unique(x)[1:-1]
        points = Points(x, y, random.uniform(0.5, 2.0, 30), True, 0.0)
        knees, scores = sharp_optima(points)
        fine = scan(points, np.linspace(inner[0], inner[-1], 20_001))
        best, finest = np.abs(scores).max(), np.abs(fine.score).max()
        assert finest - 1e-12 <= best <= finest + np.abs(np.diff(fine.score)).max()
        assert scan(points, knees).score == pytest.approx(scores, abs=1e-10)

    @pytest.mark.independent
    @pytest.mark.parametrize("seed", range(4))
    def test_weighted_fit_equals_curve_fit_with_absolute_sigma(self, seed):
        x, y = air_gap(60, 0.0, seed=seed)
        sigma = np.random.default_rng(seed).uniform(0.01, 0.03, 60)
        y = y + sigma * np.random.default_rng(seed + 50).standard_normal(60)
        knee = fit_knee(x, y, sigma, robust=False, take_up=0.0, rounded=False)
        start = [knee.position + 0.01, 18.0, -1.0, -2.0]
        best, covariance = curve_fit(broken, x, y, start, sigma, absolute_sigma=True, xtol=1e-13, ftol=1e-13)
        residual = (y - broken(x, *best)) / sigma
        ours = [knee.position, knee.level, knee.slope_before, knee.slope_after]
        assert knee.chi_squared <= residual @ residual * (1.0 + 1e-9)  # curve_fit may stop at a kink: never below ours
        assert ours == pytest.approx(best, rel=2e-3)
        assert np.sqrt(np.diag(knee.covariance)) == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-2)
        assert knee.degrees_of_freedom == 56

    @pytest.mark.derived
    def test_rounded_hinge_joins_with_its_slopes(self):
        import sympy

        t, w = sympy.symbols("t w", positive=True)
        parabola = (t + w / 2) ** 2 / (2 * w)
        assert sympy.simplify(parabola.subs(t, w / 2) - w / 2) == 0
        assert parabola.subs(t, -w / 2) == 0
        assert sympy.diff(parabola, t).subs(t, w / 2).simplify() == 1
        values = np.array([-0.3, 0.1, 0.4])
        exact = [float(parabola.subs({t: value, w: 1})) for value in values]
        assert hinge(values, 1.0) == pytest.approx(exact)
        assert hinge(np.array([-2.0, 3.0]), 1.0) == pytest.approx([0.0, 3.0])

    def test_scale_origin_order_and_direction_do_not_matter(self):
        x, y = air_gap()
        plain = fit_knee(x, y)
        scaled = fit_knee(146.2 * x, 1e-3 * y + 7e-6 * 146.2 * x)
        mirrored = fit_knee(x[::-1], -y[::-1], bend="up")
        assert np.array(scaled.interval) / 146.2 == pytest.approx(plain.interval, rel=1e-6)
        assert scaled.position / 146.2 == pytest.approx(plain.position, rel=1e-9)
        assert scaled.p_value == pytest.approx(plain.p_value, rel=1e-6)
        assert mirrored.interval == pytest.approx(plain.interval, rel=1e-6)
        assert mirrored.slope_after == pytest.approx(-plain.slope_after)
        assert fit_knee(x, y, bend="either").position == pytest.approx(plain.position)

    def test_dwells_outweigh_by_their_number_only(self):
        x, y = air_gap(20, 0.02)
        plain = {"robust": False, "rounded": False, "take_up": 0.0}
        once = fit_knee(x, y, 0.01, **plain)
        thrice = fit_knee(np.repeat(x, 3), np.repeat(y, 3), 0.01 * np.sqrt(3.0), **plain)
        assert thrice.position == pytest.approx(once.position, rel=1e-9)
        assert thrice.covariance == pytest.approx(once.covariance, rel=1e-6)


class TestLevels:
    """The tests hold their level; counts are judged by the binomial, at odds of one in a thousand."""

    @pytest.mark.independent
    @pytest.mark.parametrize("noise_known", [True, False])
    def test_one_line_is_rejected_as_often_as_said(self, noise_known):
        runs, count, level = 4000, 24, 0.05
        x = np.sort(np.random.default_rng(3).uniform(0.0, 2.0, count))
        points = Points(x, np.zeros(count), np.ones(count), noise_known, -1.0)
        found = full_scan(points)
        noise = np.random.default_rng(4).standard_normal((runs, count))
        line = np.column_stack([np.ones(count), x])
        noise -= noise @ line @ np.linalg.pinv(line)
        p_values = []
        for residual in noise:
            one = replace(found, residual=residual, score=found.directions @ residual)
            p_values.append(p_value_of(one))
        rejected = int(np.sum(np.array(p_values) < level))
        assert rejected <= binom.ppf(0.999, runs, level)  # an upper bound on the probability ...
        assert rejected >= 0.7 * level * runs  # ... and a close one

    @pytest.mark.independent
    @pytest.mark.parametrize("count", [8, 20])
    def test_posterior_equals_direct_integration(self, count):
        # the same by brute force: bend and noise level integrated over fine grids, for white noise
        x, y = air_gap(count, 0.1, knee=1.0, seed=8)
        points = Points(x, y, np.ones(count), False, -1.0)
        models = noise_models(x, np.arange(float(count)))
        white = models.keep(np.flatnonzero(models.plain))
        knees = np.linspace(x[1], x[-2], 7)
        ours = Whitened(points, white).bent_likelihood(knees, np.zeros(1))[0, :, 0]
        line = np.linalg.qr(np.column_stack([np.ones(count), x]))[0]
        rest = y - line @ (line.T @ y)
        levels = np.exp(np.linspace(np.log(0.01), np.log(3.0), 400))
        bends = np.linspace(0.0, 60.0, 6001)  # in units of the noise, of the sign looked for
        prior = np.mean([np.exp(-0.5 * (bends / size) ** 2) / size for size in SIZES], axis=0)
        brute = []
        for knee in knees:
            hinge_column = np.maximum(x - knee, 0.0)
            hinge_column = hinge_column - line @ (line.T @ hinge_column)
            unit = hinge_column / np.linalg.norm(hinge_column)
            inside = [
                level ** -(count - 2)
                * np.trapezoid(
                    prior * np.exp(-0.5 * ((rest @ rest + 2.0 * level * bends * (unit @ rest)) / level**2 + bends**2)),
                    bends,
                )
                for level in levels
            ]
            brute.append(np.trapezoid(inside, np.log(levels)))
        expected = np.log(brute) - np.log(brute[3])
        assert ours - ours[3] == pytest.approx(expected, abs=0.02)  # Wallace's normal for Student's t is as close

    @pytest.mark.derived
    @pytest.mark.parametrize("noise_known", [True, False])
    def test_knees_drawn_from_the_prior_are_held_as_often_as_said(self, noise_known):
        # the chance that a true knee lies below the place named is the probability named, for any design
        runs, count, held = 300, 16, 0
        x = np.linspace(0.1, 1.4, count) ** 2
        random = np.random.default_rng(6)
        for _ in range(runs):
            place = random.uniform(x[0], x[-1])
            y = -x - 2.0 * np.maximum(x - place, 0.0) + 0.05 * random.standard_normal(count)
            points = Points(x, y, np.full(count, 20.0 if noise_known else 1.0), noise_known, -1.0)
            models = noise_models(x, np.arange(float(count)))
            models = known_noise(points.weight) if noise_known else models.keep(np.flatnonzero(models.plain))
            low, high = knee_posterior(points, models, [(0.0, 1.0)]).interval(0.9)
            held += low <= place <= high
        assert binom.ppf(0.0005, runs, 0.9) <= held

    @pytest.mark.derived
    def test_noise_that_hangs_together_is_white_once_its_root_is_taken(self):
        x, moment = np.linspace(0.0, 1.0, 8) ** 2, np.array([0.0, 1.0, 2.0, 3.5, 4.0, 5.0, 6.0, 7.0])
        models = noise_models(x, moment)
        place = int(np.flatnonzero((models.correlation == 0.6) & (models.increase == 1.0) & (models.drift == 0.0))[0])
        factor = np.linalg.inv(models.root[place])
        covariance = factor @ factor.T
        # Ornstein-Uhlenbeck by its definition: exp(-distance/time), the time from the correlation of one step of 1
        together = np.exp(np.log(0.6) * np.abs(moment[:, None] - moment))
        assert covariance == pytest.approx(0.98 * together + 0.02 * np.eye(8), abs=1e-9)
        assert models.log_size[place] == pytest.approx(0.5 * np.log(np.linalg.det(covariance)))

    @pytest.mark.derived
    def test_what_readings_scatter_by_is_the_least_that_noise_can_be(self):
        # eight points that happen to lie on two lines: what their readings scatter by says how far that is chance
        x = np.linspace(0.1, 1.4, 16) ** 2
        y = broken(x, 1.0, 18.0, -1.0, -2.0) + 1e-4 * np.cos(40.0 * x)
        alone, with_own = fit_knee(x, y), fit_knee(x, y, own_error=np.full(16, 0.02))
        assert np.ptp(with_own.interval) > 10.0 * np.ptp(alone.interval)


@pytest.mark.long
class TestCalibration:
    """Small, seeded; the whole table is printed by tests/benchmarks/knee_calibration.py."""

    @pytest.mark.derived
    def test_interval_covers(self):
        covered = int(plain_runs().covered.sum())
        assert binom.ppf(0.001, COUNT, 0.93) <= covered <= binom.ppf(0.999, COUNT, 0.97)

    def test_outliers_do_not_spoil_it(self):
        result = measure(virtual_runs(Family((15, 120), 0.01), 150))
        assert binom.ppf(0.001, 150, 0.93) <= result.covered.sum() <= binom.ppf(0.999, 150, 0.97)

    @pytest.mark.parametrize("take_up", [False, True])
    def test_no_knee_is_seldom_claimed(self, take_up):
        result = measure(virtual_runs(Family(knee=False, take_up=take_up), 150))
        assert result.resolved.sum() <= binom.ppf(0.99, 150, 0.05)

    def test_runs_depend_on_seed_and_index_alone(self):
        three, seven = list(virtual_runs(Family(), 3)), list(virtual_runs(Family(), 7))
        assert all(np.array_equal(one.y, other.y) for one, other in zip(three, seven, strict=False))
        assert not np.array_equal(three[0].y, next(iter(virtual_runs(Family(), 1, seed=2))).y)

    def test_comparison_is_skipped_in_words_without_r(self, monkeypatch):
        monkeypatch.setattr("shutil.which", lambda name: None)
        assert "skipped" in against_segmented(2)


class TestVerdicts:
    def test_resolved(self):
        knee = fit_knee(*air_gap())
        assert knee.verdict == "resolved"
        assert knee.interval[0] < 1.2 < knee.interval[1]
        assert knee.sigma == pytest.approx(0.02, rel=0.3)
        assert knee.p_value < 1e-6
        assert knee.width == 0.0
        assert knee.parameters == ("position", "level", "slope_before", "slope_after")

    def test_one_line_alone_is_not_resolvable_and_says_what_would_have_shown(self):
        knee = fit_knee(*air_gap(knee=9.0, seed=5), 0.02)
        assert knee.verdict == "not resolvable"
        assert knee.interval == (0.0, np.inf)
        assert any("expected slopes" in reason for reason in knee.reasons)
        assert any("would have been detected" in reason or "with noise of" in reason for reason in knee.reasons)

    def test_seated_throughout_is_above_the_range_with_slopes_expected(self):
        knee = fit_knee(*air_gap(knee=9.0), expected_slopes=(-1.0, -2.0))
        assert knee.verdict == "above tested range"
        assert 1.5 < knee.interval[0] < 1.45**2
        assert knee.interval[1] == np.inf
        assert np.isnan(knee.position)
        assert np.isnan(knee.slope_after)
        assert knee.slope_before == pytest.approx(-1.0, abs=0.02)
        assert knee.covariance[2, 2] > 0.0

    def test_floating_throughout_is_already_floating_with_slopes_expected(self):
        knee = fit_knee(*air_gap(knee=0.0), expected_slopes=(-1.0, -2.0))
        assert knee.verdict == "already floating"
        assert knee.interval[0] == 0.0
        assert 0.0 < knee.interval[1] < 0.5
        assert knee.slope_after == pytest.approx(-2.0, abs=0.02)
        assert np.isnan(knee.slope_before)

    def test_a_bound_far_inside_the_range_does_not_say_that_the_rim_stayed_seated(self):
        # slopes known to a tenth only: a knee at low speed, with hardly a point before it, fits as well as none
        x, y = air_gap(24, 0.02, knee=9.0, seed=0)
        knee = fit_knee(x, y, expected_slopes=(-1.0, -1.28), expected_slope_uncertainty=0.1)
        assert knee.interval[1] == np.inf
        assert 0.0 < knee.interval[0] < 0.5 * 1.45**2
        assert knee.verdict == "not resolvable"
        assert any("far inside the tested range" in reason for reason in knee.reasons)

    def test_slopes_that_fit_neither_do_not_decide(self):
        knee = fit_knee(*air_gap(knee=9.0, before=-1.5), expected_slopes=(-1.3, -1.7), expected_slope_uncertainty=0.3)
        assert knee.verdict == "not resolvable"
        assert knee.interval == (0.0, np.inf)

    def test_knee_beyond_all_but_one_point_has_no_upper_bound(self):
        x = np.linspace(0.0, 2.0, 21)
        y = broken(x, 1.9, 0.0, -1.0, -9.0) + 0.01 * np.random.default_rng(2).standard_normal(21)
        knee = fit_knee(x, y, 0.01, robust=False)
        assert knee.verdict == "not resolvable"
        assert knee.interval[0] > 1.8
        assert knee.interval[1] == np.inf
        assert any("no bound on that side" in reason for reason in knee.reasons)

    def test_what_would_do_does(self):
        # as many points as the reason asks for, bent as it says, must show the bend nine times in ten
        x, y = air_gap(30, 0.1, before=-1.0, after=-1.25, seed=5)
        knee = fit_knee(x, y, 0.1)
        reason = next(reason for reason in knee.reasons if "points distributed like these" in reason)
        needed = int(reason.split(" or with ")[1].split()[0])
        assert needed > 30
        bend = float(reason.split("change of slope of ")[1].split()[0])
        place = float(reason.split("x = ")[1].split()[0])
        shown = 0
        for seed in range(40):
            many = np.tile(x, int(np.ceil(needed / 30)))
            noise = 0.1 * np.random.default_rng(seed).standard_normal(len(many))
            shown += (
                fit_knee(many, -many - bend * np.maximum(many - place, 0.0) + noise, 0.1, rounded=False).p_value < 0.05
            )
        assert shown >= binom.ppf(0.001, 40, 0.9)

    def test_exact_data_without_noise(self):
        x = np.arange(12.0)
        knee = fit_knee(x, broken(x, 5.5, 3.0, -1.0, -2.5))
        assert (knee.position, knee.slope_after) == pytest.approx((5.5, -2.5))
        straight = fit_knee(x, 3.0 - 0.7 * x)
        assert straight.verdict == "not resolvable"
        assert straight.p_value == 1.0

    def test_a_bend_the_other_way_is_no_knee(self):
        x, y = air_gap(before=-2.0, after=-1.0)
        knee = fit_knee(x, y)
        assert knee.verdict == "not resolvable"
        assert any("opposite sense to the knee" in reason for reason in knee.reasons)
        assert fit_knee(x, y, bend="up").verdict == "resolved"


class TestAlternatives:
    def test_stray_points_are_left_out_and_named(self):
        x, y = air_gap(50)
        y[[7, 49]] += [0.2, -0.25]  # ten sigma, and the end point, which a knee before it could explain
        knee = fit_knee(x, y)
        assert list(np.flatnonzero(~knee.used)) == [7, 49]
        assert knee.sigma == pytest.approx(0.02, rel=0.3)
        assert any("2 stray points left out" in reason for reason in knee.reasons)
        assert fit_knee(x, y, robust=False).used.all()

    def test_clean_records_seldom_lose_a_point(self):
        lost = 0
        for seed in range(100):
            x, y = air_gap(30, 0.05, seed=seed)
            lost += bool(stray_points(Points(x, y, np.ones(30), False, -1.0)).any())
        assert lost <= binom.ppf(0.999, 100, 0.02)  # the knee is free to move: twice the level

    def test_take_up_is_left_out_and_not_mistaken_for_the_knee(self):
        x, y = air_gap(60)
        y = y + 0.25 * np.maximum(1.0 - x / 0.2, 0.0)  # seats close up until 0.2
        knee = fit_knee(x, y)
        assert knee.interval[0] < 1.2 < knee.interval[1]
        assert any("settling of the pole seats" in reason for reason in knee.reasons)
        assert 0.1 < x[knee.used].min() < 0.3
        assert knee.slope_before == pytest.approx(-1.0, abs=0.05)
        seated = fit_knee(x, -x + 0.25 * np.maximum(1.0 - x / 0.2, 0.0) + 0.02 * np.sin(1e4 * x))
        assert seated.verdict == "not resolvable"

    def test_take_up_is_seldom_seen_where_there_is_none(self):
        seen = 0
        for seed in range(150):
            x, y = air_gap(40, 0.05, seed=seed)
            seen += seat_take_up(Points(x, y, np.ones(40), False, -1.0), 0.16 * x.max()) is not None
        assert seen <= binom.ppf(0.999, 150, 0.01)

    def test_rounded_knee_gives_its_width(self):
        x = np.linspace(0.0, 2.0, 80)
        noise = 0.005 * np.random.default_rng(3).standard_normal(80)
        knee = fit_knee(x, -x - hinge(x - 1.1, 0.6) + noise)
        assert knee.width == pytest.approx(0.6, abs=0.15)
        assert knee.interval[0] < 1.1 < knee.interval[1]
        assert any("rounded" in reason for reason in knee.reasons)

    def test_sharp_knee_is_seldom_called_rounded(self):
        called = 0
        for seed in range(60):
            x, y = air_gap(40, 0.02, seed=seed)
            called += fit_knee(x, y).width > 0.0
        assert called <= binom.ppf(0.999, 60, 0.05)

    def test_noise_understated_is_said(self):
        x, y = air_gap(60, 0.03)
        assert any("times as much as the noise stated" in reason for reason in fit_knee(x, y, 0.01).reasons)
        assert not any("as the noise stated" in reason for reason in fit_knee(x, y, 0.03).reasons)

    def test_drift_is_said(self):
        x, y = air_gap(60, 0.005)
        reasons = fit_knee(x, y + 0.03 * np.sin(9.0 * x)).reasons
        assert any("neighbouring residuals" in reason for reason in reasons)

    def test_slopes_unlike_those_expected_are_said(self):
        reasons = fit_knee(*air_gap(), expected_slopes=(-1.0, -4.0)).reasons
        assert any("slope after the knee" in reason for reason in reasons)
        assert not any("slope before the knee" in reason for reason in reasons)


class TestBadInput:
    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"x": [0.0, 1.0, 2.0, 3.0], "y": [0.0, 1.0, 2.0, 3.0]}, "4 points to fit"),
            ({"x": np.arange(5001.0), "y": np.arange(5001.0)}, "5001 points to fit, more than 5000"),
            ({"x": [1.0] * 9, "y": list(range(9))}, "1 distinct x"),
            ({"x": [0.0, 1.0, 2.0] * 3, "y": list(range(9))}, "3 distinct x"),
            ({"y": [0.0, 1.0]}, "equal length"),
            ({"x": [[0.0, 1.0]], "y": [[0.0, 1.0]]}, "one-dimensional"),
            ({"y": [0.0] * 4 + [np.nan] + [0.0] * 4}, r"y\[4\] is nan"),
            ({"x": [0.0] * 4 + [np.inf] + [0.0] * 4}, r"x\[4\] is inf"),
            ({"sigma": 0.0}, "above zero"),
            ({"sigma": [-1.0] + [1.0] * 8}, r"sigma\[0\] is -1"),
            ({"sigma": [1.0, 2.0]}, "one per point"),
            ({"mask": [1] * 9}, "True or False"),
            ({"mask": [True] * 3 + [False] * 6}, "3 points to fit"),
            ({"confidence": 1.0}, "confidence is 1"),
            ({"bend": "sideways"}, "bend is 'sideways'"),
            ({"take_up": 1.5}, "take_up is 1.5"),
            ({"expected_slopes": (-2.0, -1.0)}, "whose change of slope contradicts"),
            ({"expected_slopes": (0.0, -1.0)}, "not zero"),
            ({"expected_slopes": (-1.0, -2.0), "expected_slope_uncertainty": 0.0}, "relative"),
        ],
    )
    def test_is_refused_in_words(self, change, words):
        given = {"x": np.arange(9.0), "y": -(np.arange(9.0) ** 2), **change}
        with pytest.raises(ValueError, match=words):
            fit_knee(**given)

    def test_masked_points_may_be_anything(self):
        x, y = air_gap()
        plain = fit_knee(x, y)
        mask = np.append(np.ones(len(x), dtype=bool), False)
        masked = fit_knee(np.append(x, np.nan), np.append(y, np.inf), mask=mask)
        assert masked.interval == plain.interval
        assert list(masked.used) == [*plain.used, False]

    @pytest.mark.parametrize("count", [5, 6, 7, 8])
    def test_fewest_points_are_fitted(self, count):
        x = np.arange(float(count))
        noise = 0.01 * np.random.default_rng(count).standard_normal(count)
        knee = fit_knee(x, broken(x, count / 2.0, 0.0, -1.0, -3.0) + noise, 0.01)
        assert knee.interval[0] <= count / 2.0 <= knee.interval[1]


def test_places_that_differ_by_rounding_are_one_place():
    # 235 rpm read as 235.00000000000006 is no second place between which a knee could lie
    rng = np.random.default_rng(5)
    x = np.repeat(np.linspace(1.0, 9.0, 9), 2)
    y = -x + 0.01 * rng.normal(size=x.size)
    nudged = x * (1 + 1e-15 * rng.integers(-2, 3, x.size))
    one, other = fit_knee(x, y), fit_knee(nudged, y)
    assert one.verdict == other.verdict
    assert one.p_value == pytest.approx(other.p_value, rel=1e-6)
