"""What else may bend, or spoil, a curve that should be two straight lines.

Stray points, the take-up of pole seats at low speed, and a knee that is spread instead of sharp. Each is
looked for with the same scan as the knee itself, and each needs stronger evidence than chance would give in
one record of a hundred, so that a clean record is judged as if nobody had looked. Where points
scatter more than the noise given, the scatter counts, or every error in the noise would be explained away by
these.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rimmodel.evidence.knee.broken_line import Points, candidate_knees, scan
from rimmodel.evidence.knee.inference import one_line_probability, path_length

STRAY_LEVEL = 0.01
"""Chance that a clean record loses a point as stray."""
OTHER_LEVEL = 0.01
"""Chance that a clean record is given a seat take-up, or a rounded knee."""
FEWEST = 8
"""Points without which none of these can be distinguished from noise."""


def stray_points(points: Points) -> NDArray[np.bool_] | None:
    """Return True for each point (n) that no broken line near the others explains.

    One at a time, the point is taken out whose absence helps most, the knee free to move each time; its
    deleted residual is held against Student's t (the normal for known noise) at `STRAY_LEVEL` over all points
    (Bonferroni). The knee is kept two distinct x away from both ends, or it would hide a stray end point.
    With more than one point in ten (and one) so found, it is the broken line that is wrong: then none is
    returned. What passes a bound of 4 to 5 sigma biases the noise by less than 1 %.
    """
    kept = np.ones(len(points.x), dtype=bool)
    most = 1 + len(kept) // 10
    for _ in range(most + 1):
        if kept.sum() < FEWEST or len(np.unique(points.x[kept])) < 6:
            return ~kept
        worst = _worst_point(points.keep(kept))
        if worst is None:
            return ~kept
        kept[np.flatnonzero(kept)[worst]] = False
    return None


def _worst_point(points: Points) -> int | None:
    from scipy.special import ndtr, stdtr

    inner = np.unique(points.x)[2:-2]
    found = scan(points, np.interp(np.linspace(0.0, 1.0, 60), np.linspace(0.0, 1.0, len(inner)), inner))
    score = np.where(points.speaking(found.score) > 0.0, found.score, 0.0)[:, None]
    directions = np.where(score == 0.0, 0.0, found.directions)
    misfit = found.line_misfit - score**2
    freedom = np.maximum(1.0 - (found.line**2).sum(axis=1) - directions**2, 1e-9)
    without = (misfit - (found.residual - directions * score) ** 2 / freedom).min(axis=0)
    gain = misfit.min() - without
    worst = int(gain.argmax())
    freedom_left = len(points.x) - 5
    spare = max(without[worst] / freedom_left, 1.0 if points.noise_known else 1e-300)
    excess = np.sqrt(max(gain[worst], 0.0) / spare)
    tail = float(ndtr(-excess) if points.noise_known else stdtr(freedom_left, -excess))
    return worst if 2.0 * tail * len(points.x) < STRAY_LEVEL else None


def seat_take_up(points: Points, latest: float) -> float | None:
    """Return the x at which an early take-up ends, or None where the record shows none.

    Pole seats close up while the poles begin to pull: the gap falls fast at first and then more slowly, a
    bend against that of the knee (common practice, no source). It is looked for at every distinct x up to
    ``latest``, with a knee anywhere beyond it or none, and must better the knee alone at `OTHER_LEVEL`.

    Parameters
    ----------
    latest : float, unit of x

    Returns
    -------
    float or None, unit of x
    """
    distinct, sign = np.unique(points.x), points.sign
    ends = distinct[1:-2][distinct[1:-2] <= latest]
    if sign == 0.0 or len(ends) == 0 or len(points.x) < FEWEST:
        return None
    early, late = scan(points, ends), scan(points, candidate_knees(points.x, 60))
    cosine = early.directions @ late.directions.T
    across = np.sqrt(np.maximum(1.0 - cosine**2, 1e-9))
    own, knee = early.score[:, None], late.score[None, :]
    knee_bend, early_bend = (knee - cosine * own) / across, (own - cosine * knee) / across
    together = np.where((early_bend * sign < 0.0) & (knee_bend * sign > 0.0), own**2 + knee_bend**2, 0.0)
    together = np.where(late.candidates > ends[:, None], together, 0.0).max(axis=1)
    explained = np.maximum(together, np.where(early.score * sign < 0.0, early.score**2, 0.0))
    best = int(explained.argmax())
    gain = max(late.misfit - (late.line_misfit - float(explained[best])), 0.0)
    score = np.sqrt(gain / (late.variance if points.noise_known else late.misfit or 1.0))
    length, freedom = path_length(early.directions), len(points.x) - 4
    chance = one_line_probability(float(score), length, freedom, points.noise_known)
    return float(ends[best]) if chance < OTHER_LEVEL else None
