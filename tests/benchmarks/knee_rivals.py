"""Usual methods for the knee of a bent line beside ours, on the same runs: ``python -m tests.benchmarks.knee_rivals``.

Runs are those of `noise_calibration`, two straight lines and what spoils them. The rivals, each coded here from its
definition:

- score and gradient: intervals that hold every knee whose score (gradient) statistic lies within the 95 % point of
  chi-squared with one degree of freedom (Muggeo, Australian & New Zealand Journal of Statistics 59 (2017) 311, from
  memory; without its smoothing of the score);
- HAC: least squares, with the covariance of Newey and West (Econometrica 55 (1987) 703, from memory) for the knee;
- block bootstrap: residuals drawn in blocks that overlap, each as long as the cube root of the number of points
  (Kunsch, Annals of Statistics 17 (1989) 1217, from memory), percentiles of the knee refitted;
- AR line: a bent line with first-order correlated errors, profile of the likelihood over knee and correlation.

A rival claims a knee where a bend is significant at 5 % by its own likelihood (the search for it allowed for where
errors are taken to be independent) and its interval lies within the speeds; elsewhere its interval is the whole line.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, norm

from rimmodel.evidence.knee.broken_line import Points, candidate_knees, scan
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.knee.inference import p_value_of
from tests.benchmarks.noise_calibration import FAMILIES, POSSIBLE_DRIFT, Family, invented, lines

Floats = NDArray[np.float64]
Interval = tuple[float, float]
NOTHING = (-np.inf, np.inf)
LEVEL = float(chi2.ppf(0.95, 1))
DRAWS = 200


def grid(x: Floats) -> Floats:
    """Knees tried: they show between the second and the last but one speed."""
    distinct = np.unique(x)
    return np.linspace(float(distinct[1]), float(distinct[-2]), 240)


def least_squares(x: Floats, y: Floats, knee: float) -> tuple[Floats, Floats, Floats]:
    """Design (n, 3) of a bent line, its coefficients (level, slope, change of slope), residuals (n,)."""
    design = np.stack([np.ones_like(x), x, np.maximum(x - knee, 0.0)], axis=1)
    coefficients = np.linalg.lstsq(design, y, rcond=None)[0]
    return design, coefficients, y - design @ coefficients


def best(x: Floats, y: Floats) -> float:
    """Knee of least squares with a steeper fall beyond it."""
    knees = grid(x)
    found = scan(Points(x, y, np.ones(len(x)), False, -1.0), knees)
    return float(knees[found.best])


def hull(knees: Floats, held: NDArray[np.bool_]) -> Interval:
    """First and last knee held; an end of the speeds is no bound."""
    inside = np.flatnonzero(held)
    if not len(inside):
        return NOTHING
    low = -np.inf if inside[0] == 0 else float(knees[inside[0]])
    return low, np.inf if inside[-1] == len(knees) - 1 else float(knees[inside[-1]])


def by_score(x: Floats, y: Floats, *, gradient: bool = False) -> Interval:
    """Knees whose score statistic, or gradient statistic, is not significant."""
    knees, centre = grid(x), best(x, y)
    held = np.zeros(len(knees), dtype=bool)
    for place, knee in enumerate(knees):
        design, coefficients, rest = least_squares(x, y, float(knee))
        step = -coefficients[2] * (x > knee)
        across = step - design @ np.linalg.lstsq(design, step, rcond=None)[0]
        variance = float(rest @ rest) / (len(x) - 4)
        score = float(across @ rest) / variance
        information = float(across @ across) / variance
        size = score * (centre - knee) if gradient else score**2 / max(information, 1e-300)
        held[place] = size <= LEVEL
    # far from the best knee the misfit hides the score: what hangs together about the best counts
    refused = np.flatnonzero(~held)
    at = int(np.searchsorted(knees, centre))
    apart = (np.arange(len(knees)) > refused[refused < at].max(initial=-1)) & (
        np.arange(len(knees)) < refused[refused > at].min(initial=len(knees))
    )
    return hull(knees, held & apart)


def by_gradient(x: Floats, y: Floats) -> Interval:
    """Knees whose gradient statistic is not significant."""
    return by_score(x, y, gradient=True)


def by_hac(x: Floats, y: Floats) -> Interval:
    """Best knee and 1.96 standard errors that allow for correlation between neighbours in time."""
    knee = best(x, y)
    design, coefficients, rest = least_squares(x, y, knee)
    slope = np.column_stack([design, -coefficients[2] * (x > knee)])
    moments = slope * rest[:, None]
    meat = moments.T @ moments
    longest = int(np.floor(4.0 * (len(x) / 100.0) ** (2.0 / 9.0)))
    for lag in range(1, longest + 1):
        shifted = moments[lag:].T @ moments[:-lag]
        meat += (1.0 - lag / (longest + 1.0)) * (shifted + shifted.T)
    bread = np.linalg.pinv(slope.T @ slope)
    spread = float(np.sqrt(max((bread @ meat @ bread)[3, 3], 0.0) * len(x) / (len(x) - 4)))
    reach = float(norm.ppf(0.975)) * spread
    return knee - reach, knee + reach


def by_blocks(x: Floats, y: Floats) -> Interval:
    """Percentiles of the knee of lines with residuals drawn anew in blocks."""
    random = np.random.default_rng(len(x))
    _, _, rest = least_squares(x, y, best(x, y))
    fitted, length = y - rest, max(2, round(len(x) ** (1.0 / 3.0)))
    starts = random.integers(0, len(x) - length + 1, (DRAWS, -(-len(x) // length)))
    places = (starts[:, :, None] + np.arange(length)).reshape(DRAWS, -1)[:, : len(x)]
    knees = grid(x)
    found = scan(Points(x, y, np.ones(len(x)), False, -1.0), knees)
    drawn = fitted + (rest - rest.mean())[places]
    refitted = knees[(-found.directions @ drawn.T).argmax(axis=0)]
    low, high = np.quantile(refitted, [0.025, 0.975])
    return float(low), float(high)


def by_ar_line(x: Floats, y: Floats) -> Interval:
    """Knees within 1.92 of the highest logarithm of the likelihood over knee and correlation."""
    knees, apart = grid(x), np.abs(np.subtract.outer(np.arange(len(x)), np.arange(len(x))))
    top, line = np.full(len(knees), -np.inf), -np.inf
    for correlation in np.linspace(0.0, 0.95, 20):
        factor = np.linalg.cholesky(correlation**apart if correlation else np.eye(len(x)))
        seen = np.linalg.solve(factor, np.column_stack([y, np.ones_like(x), x, np.maximum(x[:, None] - knees, 0.0)]))
        size = -float(np.log(np.diag(factor)).sum())
        straight = np.linalg.qr(seen[:, 1:3])[0]
        rest = seen[:, 0] - straight @ (straight.T @ seen[:, 0])
        hinges = seen[:, 3:] - straight @ (straight.T @ seen[:, 3:])
        bend = hinges.T @ rest / np.sqrt((hinges**2).sum(axis=0))
        left = rest @ rest - np.where(bend < 0.0, bend, 0.0) ** 2
        top = np.maximum(top, size - 0.5 * len(x) * np.log(left))
        line = max(line, size - 0.5 * len(x) * float(np.log(rest @ rest)))
    if 2.0 * (top.max() - line) < chi2.ppf(0.95, 2):
        return NOTHING
    return hull(knees, top > top.max() - 0.5 * LEVEL)


def where_bent(method: Callable[[Floats, Floats], Interval]) -> Callable[[Floats, Floats], Interval]:
    """The method where a bend is significant among independent errors, and no bound elsewhere or at an end."""

    def asked(x: Floats, y: Floats) -> Interval:
        points = Points(x, y, np.ones(len(x)), False, -1.0)
        if p_value_of(scan(points, candidate_knees(x))) >= 0.05:
            return NOTHING
        low, high = method(x, y)
        first, last = np.unique(x)[[1, -2]]
        return (low if low > first else -np.inf), (high if high < last else np.inf)

    return asked


METHODS: dict[str, Callable[[Floats, Floats], Interval]] = {
    "ours": lambda x, y: fit_knee(x, y, drift=POSSIBLE_DRIFT, time=np.arange(len(x))).interval,
    "score": where_bent(by_score),
    "gradient": where_bent(by_gradient),
    "HAC": where_bent(by_hac),
    "blocks": where_bent(by_blocks),
    "AR line": by_ar_line,
}


def intervals(family: Family, runs: int, seed: int) -> tuple[Floats, dict[str, Floats]]:
    """True knees (run,), and the interval (run, 2) of every method."""
    truth, found = np.empty(runs), {name: np.empty((runs, 2)) for name in METHODS}
    for number in range(runs):
        x, gap, truth[number] = lines(family, invented(family, number, seed))
        for name, method in METHODS.items():
            found[name][number] = method(x, gap)
    return truth, found


def cells(truth: Floats, interval: Floats) -> tuple[float, float, float]:
    """Share of runs held, share closed, share held of those closed (nan without any)."""
    low, high = np.maximum(interval[:, 0], 0.0), interval[:, 1]
    held, closed = (low <= truth) & (truth <= high), (low > 0.0) & np.isfinite(high)
    return float(held.mean()), float(closed.mean()), float(held[closed].mean()) if closed.any() else float("nan")


def rows(families: Sequence[Family], runs: int, seed: int) -> None:
    """Print a line a family: held over all runs, closed, held of closed, by method, in percent."""
    print(f"{'held / closed / held if closed, %':<46}" + "".join(f"{name:>16}" for name in METHODS))
    for family in families:
        truth, found = intervals(family, runs, seed)
        parts = [cells(truth, found[name]) for name in METHODS]
        texts = [f"{100 * a:.0f}/{100 * b:.0f}/" + ("-" if np.isnan(c) else f"{100 * c:.0f}") for a, b, c in parts]
        print(f"{family.name:<46}" + "".join(f"{text:>16}" for text in texts), flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=4102)
    parser.add_argument("--only", default="", help="families whose name holds this")
    asked = parser.parse_args()
    rows([family for family in FAMILIES if asked.only in family.name], asked.runs, asked.seed)


if __name__ == "__main__":
    main()
