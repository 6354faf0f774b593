"""The verdict of a review in a few sentences: what stands first on the page and in the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.evidence.backfit.fit import OWN_CONDITION
from rimmodel.evidence.backfit.fitter import PRIOR_SD
from rimmodel.evidence.measured.compare import Comparison
from rimmodel.evidence.measured.measurement import Measurement, describe, turning_difference
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.verdict.histories import HistoryFinding, histories_in_brief
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.fit import comparison_text, turning_words
from rimmodel.verdict.shims import ShimAdvice, shims_in_brief

if TYPE_CHECKING:
    from rimmodel.verdict.result import Prediction

_LENGTH = "residual_interference_at_standstill"


def headline(
    case: Case,
    findings: Sequence[Finding],
    predictions: dict[str, Prediction],
    measurements: Sequence[Measurement],
    comparisons: Sequence[Comparison],
    shims: ShimAdvice,
    exceeded: Sequence[str] = (),
    over_histories: Sequence[HistoryFinding] = (),
) -> str:
    """The claim first, then what the runs show, requirements, limits exceeded, and the shims where they would mend."""
    sentences = [*_claims(findings, predictions), *_evidence(case, measurements, comparisons)]
    sentences += [*_requirements(findings, exceeded, over_histories), *histories_in_brief(over_histories)]
    sentences += [*exceeded, *_shims(case, findings, measurements, shims)]
    return " ".join(sentences)


def _claims(findings: Sequence[Finding], predictions: dict[str, Prediction]) -> Iterator[str]:
    claimed = [row for row in findings if row.role == "claim" and row.quantity == "float_speed"]
    for row in claimed:
        verdict: str = "is not shown by this evidence" if row.verdict == "not shown" else row.verdict
        if row.threshold != row.stated and row.verdict != "not shown":
            share = 100 * abs(row.threshold / row.stated - 1.0)
            verdict += f" within its tolerance of {share:g} % ({quantity_text('float_speed', row.threshold)})"
        yield f"The claimed float speed of {quantity_text('float_speed', row.stated)} ({row.condition}) {verdict}."
    if not claimed:
        name, prediction = next(iter(predictions.items()))
        yield f"No float speed is claimed; the prediction ({name}): {prediction.float_speed.note}."


def _evidence(case: Case, measurements: Sequence[Measurement], comparisons: Sequence[Comparison]) -> Iterator[str]:
    if not measurements:
        yield "No test record was given: all verdicts rest on the drawing alone."
        if not any(row.name == "rim.hoop_stiffness_factor" for row in case.tolerances):
            yield (
                "The case states no tolerance of the hoop stiffness, which is taken as exact: a real stack is known to "
                f"about {100 * PRIOR_SD['hoop_stiffness_factor']:g} %, as 'rimmodel plan' counts it. “Holds” "
                "means with this stiffness alone."
            )
        return
    first = measurements[0]
    yield f"In '{first.label}' ({first.condition}) the rim {describe(first)}{_directions(first)}."
    yield from _left(case, first)
    for row, later in zip(comparisons, measurements[1:], strict=True):
        yield f"In '{later.label}' ({later.condition}) it {describe(later)}{_directions(later)}."
        yield comparison_text(row)
    if len(measurements) > 1:
        yield from _left(case, measurements[-1], "now ")


def _directions(measurement: Measurement) -> str:
    """Run-up, run-down and their difference, where both were fitted; a lift-off only where a direction resolves it."""
    turn = turning_difference(measurement)
    if turn is None:
        return ""
    words = []
    for direction in ("up", "down"):
        lift_off = quantity_text("float_speed", measurement.fits[direction].float_speed[OWN_CONDITION])
        found = measurement.knees[direction].verdict == "resolved"
        words.append(
            f"run-{direction} {lift_off}" if found else f"the run-{direction} alone does not resolve a lift-off"
        )
    return f"; {', '.join(words)}, {turning_words(*turn)}"


def _left(case: Case, measurement: Measurement, when: str = "") -> Iterator[str]:
    if measurement.sets_interference:
        yield (
            f"The effective interference is {when}{quantity_text(_LENGTH, measurement.interference)} "
            f"({interval_text(_LENGTH, measurement.interference_interval)}) against "
            f"{quantity_text(_LENGTH, float(case.rotor.fit.interference))} on the drawing."
        )


def _requirements(
    findings: Sequence[Finding], exceeded: Sequence[str], over_histories: Sequence[HistoryFinding]
) -> Iterator[str]:
    required = [row for row in findings if row.role == "requirement"]
    failed = [row.name for row in required if row.verdict == "does not hold"]
    undecided = [row.name for row in required if row.verdict == "not shown"]
    if failed:
        yield f"Requirements that do not hold: {', '.join(failed)}."
    if undecided:
        yield f"Requirements not shown: {', '.join(undecided)}."
    if required and not failed and not undecided:
        if any(row.verdict != "holds" for row in over_histories):
            yield "All requirements on single conditions hold, but not all those over histories."
        else:
            yield "All requirements hold, but not all limits are met." if exceeded else "All requirements hold."


def _shims(
    case: Case, findings: Sequence[Finding], measurements: Sequence[Measurement], shims: ShimAdvice
) -> Iterator[str]:
    """The shims, where a requirement on the float speed does not hold or is not shown."""
    wanting = [row for row in findings if row.role == "requirement" and row.verdict != "holds"]
    words = shims_in_brief(shims)
    if measurements and not measurements[-1].sets_interference:
        return  # nor does one from the drawing, when a run has been made that shows nothing of it
    if any(doubt.blocks for doubt in case_doubts(case)):
        return  # a shim from numbers in doubt helps nobody
    if words and any(row.quantity == "float_speed" for row in wanting):
        yield words
