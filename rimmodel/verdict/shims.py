"""The one place that says which shims to fit: least, confident and best shim, and what binds each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.planning.edges import Edge
from rimmodel.planning.present import AS_DRAWN
from rimmodel.planning.shrink_window import STEP, ShrinkWindow, half_width, in_steps
from rimmodel.units import in_mm, mm, number


@dataclass(frozen=True)
class ShimChoice:
    """A change of shims, the interference that it leads to, and the criterion behind it.

    Attributes
    ----------
    change, interference : float, m
        Whole hundredths of a millimetre; a change below zero is to spare, one that is not known is NaN.
    by : str
        The criterion.
    confidence : float, -
        With which the criterion is then kept; of the best estimate alone, 0.5.
    """

    change: float
    interference: float
    by: str
    confidence: float


@dataclass(frozen=True)
class ShimAdvice:
    """Which shims to fit against the interference that is there.

    Attributes
    ----------
    present : float, m
        Whole hundredths of a millimetre, as are all others, so that present and change add up as printed; NaN where a
        recording leaves open what there is.
    basis : str
        Where the present interference is known from.
    least : ShimChoice or None
        Brings the best estimate to the lowest interference that a criterion asks for; None where none asks for any.
    confident : ShimChoice or None
        Keeps every lower edge at its confidence.
    best : ShimChoice or None
        To be fitted: `confident` with what ageing may take, within the window; None where there is no window or the
        present interference is not known.
    most : ShimChoice or None
        The most that every upper edge allows at its confidence; None where none is set.
    clash : str
        Why no shim mends it; empty where one does.
    relaxation_share : float, -
        Of the interference that ageing may take.
    """

    present: float
    basis: str
    least: ShimChoice | None
    confident: ShimChoice | None
    best: ShimChoice | None
    most: ShimChoice | None
    clash: str
    relaxation_share: float


def shim_advice(window: ShrinkWindow) -> ShimAdvice:
    """Least, confident and best shim of a shrink window, each with the criterion that binds it.

    An interference that must be reached is rounded up to the hundredth of a millimetre, one that must not be passed is
    rounded down; the change is what this differs from the present one as printed.

    >>> import rimmodel as rm
    >>> from rimmodel.planning.shrink_window import shrink_window
    >>> advice = shim_advice(shrink_window(rm.example_case()))
    >>> advice.least.change < advice.confident.change < 0 == advice.best.change < advice.most.change
    True
    """
    # a recording that shows no interference leaves open what is there, so no change is known, only where to end
    unknown = not window.measured and window.basis != AS_DRAWN
    present = math.nan if unknown else round(window.present / STEP) * STEP
    bare = max((edge for edge in window.edges if not edge.nowhere), key=lambda edge: edge.low, default=None)

    def choice(target: float, edge: Edge | None, *, up: bool, confidence: float) -> ShimChoice | None:
        if edge is None or not math.isfinite(target):
            return None
        inward = in_steps(target, up=up)
        return ShimChoice(inward - present, inward, edge.words, confidence)

    least = choice(window.low, bare, up=True, confidence=0.5)
    sure = 0.5 if window.low_by is None else window.low_by.confidence
    confident = choice(window.low_sure, window.low_by, up=True, confidence=sure)
    sure = 0.5 if window.high_by is None else window.high_by.confidence
    most = choice(window.high_sure, window.high_by, up=False, confidence=sure)
    return ShimAdvice(
        present,
        window.basis if window.measured or unknown else "of the drawing",
        least,
        confident,
        None if unknown else _best(window, present, confident, most),
        most,
        _clash(window),
        window.relaxation_share,
    )


def _best(
    window: ShrinkWindow, present: float, confident: ShimChoice | None, most: ShimChoice | None
) -> ShimChoice | None:
    """The recommended interference in whole steps, no less than confident and no more than most."""
    if window.recommended is None:
        return None
    whole = present if window.recommended == window.present else in_steps(window.recommended, up=True)
    if most is not None:
        whole = min(whole, most.interference)
    by = confident.by if confident is not None else ""
    return ShimChoice(whole - present, whole, by, confident.confidence if confident is not None else 0.5)


def _clash(window: ShrinkWindow) -> str:
    """Why no shim mends it, with both criteria that clash."""
    if window.exists:
        return ""
    if window.hopeless:
        lacking = window.missing
        names = "; ".join(edge.words for edge in window.hopeless if not edge.missing)
        if not names:
            return f"No shim is shown to meet every criterion. {lacking}"
        beside = f" {lacking}" if lacking else ""
        return f"No shim corrects {names}: no interference up to {_mm(window.widest)} meets it.{beside}"
    low_by, high_by = window.low_by, window.high_by
    most = _mm(in_steps(window.high_sure, up=False))
    if high_by is None or low_by is None:
        return f"No shim meets every criterion: {'' if high_by is None else high_by.words} allows at most {most}."
    bare_low = max(window.edges, key=lambda edge: edge.low)
    bare_high = min(window.edges, key=lambda edge: edge.high)
    if bare_low.low > bare_high.high:
        asked, allowed = in_steps(bare_low.low, up=True), in_steps(bare_high.high, up=False)
        return (
            f"No shim corrects this: {bare_low.words} requires at least {_mm(asked)} and {bare_high.words} allows at "
            f"most {_mm(allowed)}. Change the machine, the limit or the requirement."
        )
    low, high = (_mm(half_width(edge, window)) for edge in (low_by, high_by))
    least = _mm(in_steps(window.low_sure, up=True))
    return (
        f"No shim meets both with confidence: {low_by.words} requires {least} ({_mm(low_by.low)} plus {low} for "
        f"uncertainty), {high_by.words} allows {most} ({_mm(high_by.high)} minus {high}). A better measurement or a "
        f"closer tolerance may open a window."
    )


def shim_paragraph(advice: ShimAdvice) -> str:
    """The shims in one paragraph, for page, text and headline."""
    parts = []
    if advice.least is not None:
        parts.append(f"least {_shim(advice.least)}, at which the best estimate meets {advice.least.by}")
    if advice.confident is not None:
        parts.append(
            f"confident {_shim(advice.confident)}, at which {advice.confident.by} is met at "
            f"{100 * advice.confident.confidence:g} % confidence"
        )
    if advice.best is not None:
        parts.append(f"best {_shim(advice.best)}, {_why_best(advice)}")
    if advice.most is not None:
        parts.append(
            f"at most {_shim(advice.most)}, limited by {advice.most.by} at {100 * advice.most.confidence:g} % "
            f"confidence"
        )
    choices = (
        f"{_start(advice)}: {'; '.join(parts)}." if parts else f"{_start(advice)}: no criterion asks for a change."
    )
    spare = [some for some in (advice.least, advice.confident) if some is not None and some.change < 0]
    minus = " A negative value is shim to spare." if spare else ""
    return f"{choices}{minus}{' ' if advice.clash else ''}{advice.clash}"


def shims_in_brief(advice: ShimAdvice) -> str:
    """The same for the headline: what is met with confidence and what is best, or why nothing mends it."""
    if advice.clash:
        return advice.clash
    known = [
        (name, some) for name, some in (("confident", advice.confident), ("best", advice.best)) if some is not None
    ]
    if not known:
        return ""
    choices = ", ".join(f"{name} {_shim(choice)}" for name, choice in known)
    return f"{_start(advice)}: {choices}."


def _start(advice: ShimAdvice) -> str:
    if math.isnan(advice.present):
        return f"Shims: no change is stated ({advice.basis}). Interference to end with, by the drawing"
    return f"Shims, radial, relative to {_mm(advice.present)} {advice.basis}"


def _why_best(advice: ShimAdvice) -> str:
    best, confident = advice.best, advice.confident
    if best is None or confident is None:
        return "as no criterion asks for more"
    if best.change == 0.0:
        return "as the present interference meets every criterion with confidence, ageing included"
    if best.interference * (1 - advice.relaxation_share) >= confident.interference - STEP:
        return f"which still meets it after ageing has taken {100 * advice.relaxation_share:g} %"
    return f"halfway between confident and most, as there is no room for {100 * advice.relaxation_share:g} % of ageing"


def _shim(choice: ShimChoice) -> str:
    if math.isnan(choice.change):
        return _mm(choice.interference)
    change = _whole(choice.change)
    return f"{change:+.2f} mm ({_mm(choice.interference)})" if change else f"0 mm ({_mm(choice.interference)})"


def _mm(value: float) -> str:
    return mm(value)


def shims_table(advice: ShimAdvice) -> dict[str, Any]:
    """The advice for JSON; lengths in mm, null where there is none."""

    def row(choice: ShimChoice | None) -> dict[str, Any] | None:
        if choice is None:
            return None
        return {
            "change_mm": _whole(choice.change),
            "interference_mm": _whole(choice.interference),
            "by": choice.by or None,
            "confidence": choice.confidence,
        }

    return {
        "statement": shim_paragraph(advice),
        "present_mm": _whole(advice.present),
        "basis": advice.basis,
        **{name: row(getattr(advice, name)) for name in ("least", "confident", "best", "most")},
        "clash": advice.clash or None,
    }


def _whole(value: float) -> float | None:
    return number(float(np.round(in_mm(value), 2)))
