"""The sentences that go with a knee: why it is not resolved, what would resolve it, what makes it doubtful."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from rimmodel.evidence.knee.broken_line import Scan
from rimmodel.evidence.knee.fitted_line import FittedLine, fit_straight
from rimmodel.evidence.knee.inference import Answer, detectable_score, p_value_of, path_length
from rimmodel.evidence.knee.points import EARLY, FEWEST_BY_SCATTER, Words
from rimmodel.evidence.knee.posterior import KneePosterior

CLEAR = 0.95
"""Probability from which a property of the noise is put in words."""

ENOUGH = 3
"""Distinct speeds on one side of the knee from which they check the slope that they give: two fit any."""

STRONG, FEW_TOGETHER = 0.7, 20
"""Correlation from one point to the next that fewer points than these hardly show: what n points show is too low by
about (1 + 3 correlation)/n (Marriott and Pope, Biometrika 41, 1954, p. 390, and Kendall, p. 403, from memory)."""

ALIKE = 0.7
"""Probability of so strong a correlation from which so few points are called alike: passed by 5 % of runs without."""

LIKELIER = 0.5
"""Probability of independent noise from which the reasons state what such noise would have let through."""

DISTRUST = 0.01
"""Chance at which a check of the residuals speaks up on sound data."""


WOULD_DECIDE = "what would decide is "
"""Before what would decide, in a reason that names it; the reason ends with it."""

ALLOWS = ": the interval allows for it"
"""What a reason about the noise ends with; it holds only where there is an interval."""

FAR_INSIDE = "far inside the tested range"
"""In the reason for a bound that rests on expected slopes alone."""

FEW_REMEDY = "state the error of each reading (column gap_error, the standard uncertainty), or read {} points or more"

SCATTER_UNKNOWN = (
    "{} single readings without a stated error bound no lift-off: their scatter about the lines is no measure of it, "
    f"as errors that follow a smooth curve look like a knee; {FEW_REMEDY}"
)


def remedy(reasons: Iterable[str]) -> str:
    """What would decide, in the words of the first reason that names it; empty where none does.

    >>> remedy(["a knee is not shown", f"a bend is there: {WOULD_DECIDE}the run repeated"])
    'the run repeated'
    """
    few = FEW_REMEDY.format(FEWEST_BY_SCATTER)
    for reason in reasons:
        if reason.endswith(few):
            return few
        if WOULD_DECIDE in reason:
            return reason.partition(WOULD_DECIDE)[2]
    return ""


def why(
    found: Scan,
    line: FittedLine,
    answer: Answer,
    data_alone: Answer,
    posterior: KneePosterior,
    slopes: tuple[float, float] | None,
    slope_uncertainty: float,
    words: Words,
) -> list[str]:
    """Return plain sentences: what the data lack, or what to distrust, and what the residuals say.

    Parameters
    ----------
    slopes : pair of float, unit of y per unit of x, or None
    slope_uncertainty : float, -
    """
    if answer.verdict == "resolved":
        sentences = _rounded(found, line, posterior, words)
        sentences += _doubts(found, line, answer, slopes, slope_uncertainty, words)
    else:
        sentences = _hanging(posterior, data_alone) or _lacking(found, line, data_alone, posterior, slopes, words)
        sentences += _from_slopes(found, answer, slopes, slope_uncertainty, words)
    return sentences + _of_noise(posterior) + _residuals(found, line)


def _hanging(posterior: KneePosterior, data_alone: Answer) -> list[str]:
    """Return why a bend that independent noise would resolve is not: drift, or correlated noise, may be it."""
    models, confidence = posterior.models, 1.0 - data_alone.level
    count, strong = models.root.shape[-1], models.correlation >= STRONG
    if count < FEW_TOGETHER and posterior.all_weight[strong].sum() > ALIKE:
        return [
            f"neighbouring points are so alike that these {count} bound no knee: noise that is correlated over several "
            f"points could be all there is to see; {WOULD_DECIDE}{FEW_TOGETHER} points or more, longer holds at "
            "each speed, or the run repeated"
        ]
    if count < FEW_TOGETHER and _bounded(posterior.among(~strong), confidence):
        return [
            f"a bend is there, but {count} points are too few to exclude noise that is correlated over several of "
            f"them, which would look the same: {WOULD_DECIDE}{FEW_TOGETHER} points or more, longer holds at "
            "each speed, or the run repeated"
        ]
    if models.independent.all() or not _bounded(posterior.among(models.independent), confidence):
        return []
    weight = posterior.all_weight
    jumps = ~np.isnan(models.slip)
    if weight[jumps].sum() > 0.5 * weight[~models.independent].sum():
        return [
            "a bend is there, but a level that jumps once, as when segments slip, would look the same: "
            f"{WOULD_DECIDE}the run repeated, or more points between the speeds where it bends"
        ]
    return [
        "a bend is there, but noise that is correlated in time, or a drift, would look the same: knee and drift "
        f"cannot be distinguished; {WOULD_DECIDE}a point at low speed repeated after the run, a run-down after "
        "the run-up, or the temperature of rim and stator beside every gap"
    ]


def _bounded(found: KneePosterior | None, confidence: float) -> bool:
    return found is not None and bool(np.isfinite(found.interval(confidence)).all())


def _of_noise(posterior: KneePosterior) -> list[str]:
    """Return what the run says of its own noise, where it says so clearly."""
    models, weight = posterior.models, posterior.all_weight
    sentences = []
    together, drifts = models.correlation > 0.0, models.drift > 0.0
    if weight[together | drifts].sum() > CLEAR:
        what = (
            "a drift of the level"
            if weight[drifts].sum() > weight[together].sum()
            else "noise that is correlated in time"
        )
        sentences.append(f"neighbouring residuals are correlated, as by {what}{ALLOWS}")
    if weight[models.increase > 1.0].sum() > CLEAR:
        times = float(weight @ models.increase)
        sentences.append(f"the scatter grows with speed, about {times:.1f} times{ALLOWS}")
    return sentences


def _lacking(
    found: Scan,
    line: FittedLine,
    data_alone: Answer,
    posterior: KneePosterior,
    slopes: tuple[float, float] | None,
    words: Words,
) -> list[str]:
    """Return why no knee is bounded, and what independent noise would have let through, or what would decide."""
    low, high = data_alone.interval
    if data_alone.p_value < data_alone.level:
        if math.isfinite(low) or math.isfinite(high):
            where = "below" if math.isfinite(high) else "beyond"
            return [f"there is a knee, but too few speeds lie clearly {where} it: no bound on that side"]
        return ["there is a knee, but its position is not bounded on either side"]
    missing = (
        f"a knee is not shown: one straight line would look bent by as much with probability {data_alone.p_value:.2g}"
    )
    known = found.points.noise_known or bool((posterior.models.least > 0.0).any())
    if len(found.points.x) < FEWEST_BY_SCATTER and not known:
        return [missing]  # nothing is known of the noise
    if float(posterior.all_weight[posterior.models.independent].sum()) > LIKELIER:
        return [missing, *_what_would_do(found, line, data_alone, slopes, words)]
    return [
        missing,
        f"a drift, a jump of the level or noise that is correlated in time may hide one: {WOULD_DECIDE}a run-down "
        "after the run-up, points at low speed repeated at its end, or the temperature of rim and stator beside every "
        "gap",
    ]


def _what_would_do(
    found: Scan, line: FittedLine, data_alone: Answer, slopes: tuple[float, float] | None, words: Words
) -> list[str]:
    """Return which bend would have shown nine times in ten, or what noise or how many points this one needs.

    All of it holds for independent noise about a steady level alone, and says so.
    """
    steady = "" if found.points.noise_known else ", if noise is independent from point to point and nothing drifts"
    if steady and (np.diff(found.points.x) >= 0.0).all():
        steady += "; a point at low speed repeated after the run would show whether it does"
    # strength is per unit of bend at noise 1; a point of weight 1 has this share of the mean sigma
    per_bend = found.strength * float(np.sqrt(np.mean(found.points.weight**-2.0)))
    needed = detectable_score(path_length(found.directions), data_alone.level)
    easiest = int(per_bend.argmax())
    if slopes is not None:
        kind, bend, place = "expected", abs(slopes[1] - slopes[0]), easiest
    elif found.largest > 0.0 and data_alone.p_value < 0.5:
        kind, bend, place = "fitted", abs(line.slope_after - line.slope_before), found.best
    else:
        smallest, place = needed * line.sigma / per_bend[easiest], found.candidates[easiest]
        bend_words = f"{words.slope(float(smallest))} or more at {words.place(float(place))}"
        return [f"a change of slope of {bend_words} would have been detected, nine times in ten{steady}"]
    shown = found.candidates[per_bend * bend >= needed * line.sigma]
    if kind == "expected" and len(shown):
        return [
            f"the expected change of slope would have been detected, nine times in ten, from "
            f"{words.place(float(shown[0]))} to "
            f"{words.place(float(shown[-1]))}{steady}"
        ]
    sigma = bend * float(per_bend[place]) / needed
    points = math.ceil(len(found.points.x) * (line.sigma / sigma) ** 2)
    where = f"the {kind} change of slope of {words.slope(bend)} at {words.place(float(found.candidates[place]))}"
    return [
        f"{where} would be detected nine times in ten with noise of {words.size(sigma)} instead of "
        f"{words.size(line.sigma)}, or with {points} points distributed like these{steady}"
    ]


def _from_slopes(
    found: Scan, answer: Answer, slopes: tuple[float, float] | None, uncertainty: float, words: Words
) -> list[str]:
    if slopes is None:
        if answer.p_value < answer.level:
            return []
        return ["one straight line cannot distinguish seated from floating: give the expected slopes"]
    low, high = answer.interval
    given = (
        f"with slopes {words.slope(slopes[0])} and {words.slope(slopes[1])} expected, "
        f"each with a standard uncertainty of {100 * uncertainty:.0f} %,"
    )
    if answer.verdict == "above tested range":
        return [f"{given} the line is the part before the knee, which lies above {words.place(low)}"]
    if answer.verdict == "already floating":
        return [f"{given} the line is the part after the knee, which lies below {words.place(high)}"]
    if math.isfinite(low) and math.isfinite(high):
        return [
            f"{given} the knee lies from {words.place(low)} to {words.place(high)}, but the data alone do not show it"
        ]
    if math.isfinite(low) or math.isfinite(high):
        bound = f"above {words.place(low)}" if math.isfinite(low) else f"below {words.place(high)}"
        return [f"{given} the knee lies {bound}, {FAR_INSIDE}, but the data alone do not show it"]
    slope = words.slope(fit_straight(found.points, before=True).slope_before)
    return [f"{given} the slope of {slope} as measured does not decide whether it is that before or after the knee"]


def _rounded(found: Scan, line: FittedLine, posterior: KneePosterior, words: Words) -> list[str]:
    """Return over which range the knee is rounded, where a sharp knee is as good as excluded."""
    if not found.width or posterior.width_weight[0] > 1.0 - CLEAR:
        return []
    low, high = line.position - 0.5 * found.width, line.position + 0.5 * found.width
    return [
        f"the knee is rounded, roughly from {words.place(low)} to {words.place(high)}, as when keys lift off one by "
        "one: the interval is for the middle of that range"
    ]


def _doubts(
    found: Scan,
    line: FittedLine,
    answer: Answer,
    slopes: tuple[float, float] | None,
    uncertainty: float,
    words: Words,
) -> list[str]:
    x, (_, high) = found.points.x, answer.interval
    sentences = []
    places = np.unique(x)
    before, after = int(np.sum(places < line.position)), int(np.sum(places > line.position))
    if min(before, after) < ENOUGH:
        side, count = ("before", before) if before < after else ("after", after)
        sentences.append(f"only {count} distinct speeds lie {side} the knee: its slope there rests on these alone")
    if x.min() >= 0.0 and high < EARLY * x.max():
        sentences.append(
            "the knee lies in the first 40 % of speed, where pole seats settle (common practice, no source): it may "
            "be due to that"
        )
    if slopes is not None:
        sentences += _slopes_disagree(line, slopes, uncertainty, words)
    return sentences


def _slopes_disagree(line: FittedLine, slopes: tuple[float, float], uncertainty: float, words: Words) -> list[str]:
    sentences = []
    measured = ((line.slope_before, slopes[0], "before", 2), (line.slope_after, slopes[1], "after", 3))
    for slope, expected, side, place in measured:
        spread = math.hypot(math.sqrt(line.covariance[place, place]), uncertainty * expected)
        if abs(slope - expected) > 2.6 * spread:
            sentences.append(
                f"the slope {side} the knee is {words.slope(slope)}, not {words.slope(expected)} as expected"
            )
    return sentences


def _residuals(found: Scan, line: FittedLine) -> list[str]:
    from scipy.special import chdtrc

    points, sentences = found.points, []
    if points.noise_known:
        scatter = math.sqrt(line.chi_squared / line.degrees_of_freedom)
        if chdtrc(line.degrees_of_freedom, line.chi_squared) < DISTRUST:
            sentences.append(
                f"the points scatter {scatter:.2g} times as much as the noise stated: the noise is too small, or the "
                f"points do not follow two lines; the interval is too narrow"
            )
    reverse = replace(found, points=replace(points, sign=-points.sign))
    if points.sign and reverse.largest > found.largest and p_value_of(reverse) < DISTRUST:
        sentences.append("the slope changes in the opposite sense to the knee sought, by more than noise")
    return sentences
