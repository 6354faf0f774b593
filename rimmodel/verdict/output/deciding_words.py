"""What would decide, in a few sentences for the first page, where no cause can be named: never a run past the limit.

A run may be asked for here, so what is asked stays within the agreed highest speed, and does not promise more than the
reasons in the annex: a run over the same speeds may leave knee and drift as open as before.
"""

from __future__ import annotations

import numpy as np

from rimmodel.evidence.interim.run import agreed_speed
from rimmodel.evidence.knee.reasons import remedy
from rimmodel.units import rpm
from rimmodel.verdict.deciding import deciding
from rimmodel.verdict.result import Review

SOUND_RUN = (
    "holds of many readings up to {limit}, not above; a run-down with the same holds; low-speed points repeated at the "
    "end; temperatures of rim and stator beside every gap"
)


def deciding_words(review: Review) -> str:
    """What decides, in a sentence or a few, where no cause can be named; empty otherwise."""
    if deciding(review.case, review.findings):
        return ""
    if not review.findings:
        return "The case states no claim and no requirement: there is nothing to judge."
    speed, name = agreed_speed(review.case)
    words = f"{SOUND_RUN.format(limit=f'{rpm(speed)} ({name})')}. {_hidden(review, speed)}"
    if not review.measurements:
        return (
            "No recording: the tolerances of the case decide, through the interval of the prediction. A proving run "
            f"(Annex: plan of a proving run) may decide instead: {words}"
        )
    if any(row.disqualified for row in review.measurements):
        return f"The recording is not used for any verdict: Annex 1 gives the reasons. A sound run may decide: {words}"
    if any(np.isfinite(row.interval).any() for row in review.findings if row.interval is not None):
        shown = "The recording bounds the lift-off on one side only; its interval follows from that bound."
    else:
        shown = "The recording sets no bound."
    own = remedy(reason for row in review.measurements for reason in row.reasons)
    named = f" Needed first: {own}." if own else ""
    return f"{shown}{named} A further run within the limit may decide: {words}"


def _hidden(review: Review, limit: float) -> str:
    """What no run within the limit can show, with the lift-off by the drawing where that lies beyond."""
    runs = {row.condition for row in review.measurements} or {review.case.condition(None)[0]}
    drawn = max(float(review.predictions[name].float_speed.speed) for name in runs)
    where = f" (predicted: {rpm(drawn)})" if np.isfinite(drawn) and drawn > limit else ""
    return f"A lift-off above {rpm(limit)}{where} shows in no run within that limit."
