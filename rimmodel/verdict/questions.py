"""What to ask the maker: what was assumed or is badly known, and what an answer would do to the findings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.behaviour.quantities import evaluate, interval_text, plain_name, quantity_text
from rimmodel.evidence.measured.machine import GAIN, LEVEL, NOISE, TEMPERATURE, by_test
from rimmodel.evidence.measured.neighbours import ASSEMBLED_GAP, OF_THE_GAP
from rimmodel.rotor import ArmSpider, GivenSpider
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.conditions import UNIFORM_COLD
from rimmodel.rotor.quantity import value_text
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import RUN_TEMPERATURE, SENSOR_GAIN, SENSOR_OFFSET
from rimmodel.units import PRINT, celsius, in_print, mm, number
from rimmodel.verdict.judge import LOST_BY, Finding, verdict_of_interval
from rimmodel.verdict.result import Review
from rimmodel.verdict.shares import interval_if_known, shares, verdict_at_worst, verdict_if_known

WORTH_ASKING = 0.10
"""Share of the variance above which a cause is asked about."""

NOT_COMPUTED = "The effect is not computed, as a value is needed."
LITTLE = f"This contributes no more than {100 * WORTH_ASKING:.0f} % to the variance of any finding."

SEAT_STIFFNESS = 5e10
"""Radial stiffness (N/m) of the rim side of a pole seat alone, the softest of plane finite elements of a rim 1.85 m
long: stands for a pole of which nothing is stated, so that a reader sees how much depends on it."""

IN_PRINT = ("small length", "elastic modulus", "strength")
"""Kinds of inputs that are shown in their unit of print, not in SI."""

OF_A_RECORD = {
    LEVEL: ("sensor_offset", f"{mm(SENSOR_OFFSET, 'g')} for the level of the mean gap (from memory)"),
    GAIN: ("sensor_gain", f"{100 * SENSOR_GAIN:g} % for the sensitivity (from memory)"),
    TEMPERATURE: ("temperature_uncertainty", f"{RUN_TEMPERATURE:g} K (common practice, no source)"),
}
"""Key of a record that states the uncertainty of a cause, and what is taken where it does not."""

ASKED = {
    NOISE: "Can the run be repeated, or the full record be sent: every sensor, with more steady speeds near lift-off, "
    "none above the agreed highest speed?",
    TEMPERATURE: "What were the mean temperatures of rim and spider during the run, how were they measured, and how "
    "well are they known?",
    GAIN: "How were the gap sensors calibrated, against what, when, and with what uncertainty of their sensitivity?",
    LEVEL: "How was the mean gap at assembly measured, how well is it known, and how well is the zero of the gap "
    "sensors known against it?",
}


@dataclass(frozen=True)
class Question:
    """A question to the maker.

    Attributes
    ----------
    about : str
        Cause, or key of the case file.
    share_of_variance : float or None, -
        The largest that it has in any finding; None where it has no stated uncertainty.
    effect : str
        What an answer would do to the findings.
    """

    about: str
    question: str
    share_of_variance: float | None
    effect: str


def questions(review: Review) -> tuple[Question, ...]:
    """Every question that a review leaves open, first those on which a finding that is not shown depends.

    Returns
    -------
    tuple of Question
        What has lost the interference, where that is open; a recording that is not used for any verdict; causes above
        `WORTH_ASKING`, by their largest share; then what was assumed because the case does not state it.
    """
    case = review.case
    found = [(row, shares(case, row)) for row in review.findings]
    causes = dict.fromkeys(cause for _, parts in found for cause in parts)
    undecided = {
        cause for row, parts in found for cause, share in parts.items()
        if share > WORTH_ASKING and row.verdict == "not shown"
    }  # fmt: skip
    largest = {cause: max(parts.get(cause, 0.0) for _, parts in found) for cause in causes}
    defaulted = _of_records(review)
    asked = [
        Question(cause, _words(case, cause, defaulted), largest[cause], _effects(case, found, cause))
        for cause in sorted(causes, key=lambda cause: (cause not in undecided, -largest[cause]))
        if largest[cause] > WORTH_ASKING
    ]
    asked += [
        Question(cause, _words(case, cause, defaulted), largest.get(cause), LITTLE if causes else NOT_COMPUTED)
        for cause in defaulted
        if largest.get(cause, 0.0) <= WORTH_ASKING
    ]
    first = [*_of_lost_interference(review), *_of_disqualified(review)]
    return (
        *first, *asked, *(Question(about, words, None, effect) for about, words, effect in _assumed(review))
    )  # fmt: skip


def questions_table(asked: tuple[Question, ...]) -> list[dict[str, Any]]:
    """The questions for review.json."""
    return [
        {
            "about": row.about,
            "question": row.question,
            "share_of_variance": number(row.share_of_variance),
            "effect": row.effect,
        }
        for row in asked
    ]


def finding_name(finding: Finding) -> str:
    """A claim or a requirement in words: "claimed float speed, cold"."""
    quantity = f"{plain_name(finding.quantity)}, {finding.condition}"
    return f"claimed {quantity}" if finding.role == "claim" else f"requirement '{finding.name}' ({quantity})"


# ------------------------------------------------------------------------------- causes that have a share


def _words(case: Case, cause: str, defaulted: dict[str, str]) -> str:
    if cause in ASKED:
        return ASKED[cause] + (f" {defaulted[cause]}" if cause in defaulted else "")
    names = cause.split(" + ")
    taken = _capital("; ".join(_input_words(case, name) for name in names))
    if len(names) == 1:
        return f"{taken}. What is the value as built, how was it determined, and how accurately is it known?"
    return (
        f"{taken}; they are assumed to vary together. What are the values as built, how were they determined, and how "
        f"accurately are they known?"
    )


def _input_words(case: Case, name: str) -> str:
    from rimmodel.rotor.case.tolerances import case_quantities

    quantity = case_quantities(case.rotor, case.conditions, case.as_read).get(name)
    row = next((row for row in case.tolerances if row.name == name), None)
    if quantity is None or row is None:
        return name
    value, spread = _printed(row.centre, quantity.kind), _printed(row.standard_uncertainty, quantity.kind, spread=True)
    meaning = _meaning(case, name)
    return f"{meaning} ({name}), taken as {value} with a standard uncertainty of {spread}"


def _printed(value: float, kind: str | None, *, spread: bool = False) -> str:
    """An input in an engineer's unit; a spread with two digits."""
    if kind == "temperature":
        return f"{value:.2g} K" if spread else celsius(value, "g")
    printed = kind in IN_PRINT
    shown = float(f"{in_print(value, kind) if kind and printed else value:.{2 if spread else 6}g}")
    return f"{shown:g} {PRINT[kind].name}" if kind and printed else value_text(shown, kind)


def _meaning(case: Case, name: str) -> str:
    """What a key of the case file means, from the dataclass that stores it."""
    from dataclasses import fields

    where, _, key = name.rpartition(".")
    if where.startswith("conditions."):
        stored: Any = case.conditions.get(where.partition(".")[2])
    elif where.startswith("materials."):
        stored = case.rotor.rim.material
    else:
        stored = getattr(case.rotor, where, None)
    if stored is None:
        return key.replace("_", " ")
    found = {field.name: str(field.metadata.get("meaning", "")) for field in fields(stored)}
    return found.get(key) or key.replace("_", " ")


def _effects(case: Case, found: list[tuple[Finding, dict[str, float]]], cause: str) -> str:
    return " ".join(
        _effect(case, row, cause, parts[cause]) for row, parts in found if parts.get(cause, 0.0) > WORTH_ASKING
    )


def _effect(case: Case, finding: Finding, cause: str, share: float) -> str:
    """What knowing one cause better would do to one finding."""
    exactly = interval_text(finding.quantity, interval_if_known(case, finding, cause))
    head = f"{_capital(finding_name(finding))} ({100 * share:.0f} % of its variance): "
    if finding.verdict == "not shown":
        if _held_back(finding):
            return f"{head}not shown, whatever the answer, while the case itself is in doubt."
        half = verdict_if_known(case, finding, cause, 0.5)
        exact = verdict_if_known(case, finding, cause)
        if half != "not shown":
            return (
                f"{head}with half the uncertainty it {_would(half)} if the best value stays (known exactly: {exactly})."
            )
        if exact != "not shown":
            return (
                f"{head}with half the uncertainty still not shown; known exactly, it {_would(exact)} if the best "
                f"value stays ({exactly})."
            )
        return f"{head}still not shown even if this were known exactly and the best value stayed ({exactly})."
    worst = verdict_at_worst(case, finding, cause)
    span = f"the range that the case allows ({100 * finding.confidence:g} %)"
    if worst == finding.verdict:
        return f"{head}{finding.verdict}, and no answer within {span} changes that (known exactly: {exactly})."
    return f"{head}{finding.verdict}; an answer at the end of {span} would leave it {worst} (known exactly: {exactly})."


def _would(verdict: str) -> str:
    return {"holds": "would hold", "does not hold": "would not hold"}[verdict]


def _held_back(finding: Finding) -> bool:
    """Whether the interval would decide and something else does not let it."""
    decisive = finding.predicted_interval if finding.interval is None else finding.interval
    return verdict_of_interval(decisive, finding.threshold, finding.at_least) != "not shown"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


# ------------------------------------------------------------------------------- what the recordings leave open


def _of_records(review: Review) -> dict[str, str]:
    """Causes of which a record states nothing, with a sentence on what was taken instead."""
    if not review.measurements:
        return {}
    stated = {Path(str(row.get("file", ""))).name: row for row in review.case.as_read.get("records", [])}
    rows = [stated.get(Path(measurement.source).name, {}) for measurement in review.measurements]
    found = {
        cause: f"The case states no {key}; a standard uncertainty of {words} was assumed."
        for cause, (key, words) in OF_A_RECORD.items()
        if any(key not in row for row in rows)
    }
    if not any(row.name in OF_THE_GAP for row in review.case.tolerances):
        found[LEVEL] = (
            f"{found.get(LEVEL, '')} The case states no tolerance of the cold gap; {100 * ASSEMBLED_GAP:g} % of it "
            f"was assumed (half of the 5 % that published assembly tolerances allow)."
        ).strip()
    return found


def _of_disqualified(review: Review) -> list[Question]:
    return [
        Question(
            "recording",
            f"Is there another record of the run than '{row.label}', which is not used for any verdict: "
            f"{row.disqualified[0]}",
            None,
            "Without another record, nothing that depends on it can be shown.",
        )
        for row in review.measurements
        if row.disqualified
    ]


def _of_lost_interference(review: Review) -> list[Question]:
    """The question of what has lost the interference, where a recording leaves both readings open."""
    effects = []
    for finding in review.findings:
        own = [row for row in _speaking(review, finding) if row.confidence == finding.confidence]
        if finding.interval is None or any(row.disqualified for row in _speaking(review, finding)):
            continue
        if not own:  # measured at another confidence
            effects.append(f"{_capital(finding_name(finding))}: the effect is not computed.")
            continue
        readings = by_test(own[0].machines, finding.quantity, finding.condition).by_cause
        if len(readings) < 2:
            continue
        verdicts = {
            cause: verdict_of_interval(ends, finding.threshold, finding.at_least)
            for cause, (_, ends) in readings.items()
        }
        words = "; ".join(
            f"{LOST_BY[cause]}, {verdicts[cause]} ({interval_text(finding.quantity, ends)})"
            for cause, (_, ends) in readings.items()
        )
        if set(verdicts.values()) != {finding.verdict}:
            effects.append(f"{_capital(finding_name(finding))}: {words}.")
    open_ones: list[Any] = [
        row for row in review.measurements if row.machines and len(row.machines[0].level.possible) > 1
    ]
    fit = review.case.rotor.fit
    if not review.measurements and fit.settlement_of == "unknown" and float(fit.settlement) > 0:
        open_ones, effects = [None], ["The predicted intervals cover both explanations; the answer leaves one of them."]
    if not open_ones:
        return []
    return [
        Question(
            "fit.settlement_of",
            "Has interference been lost since assembly by bedding of keys and shims, or by growth of the rim stack? "
            "Please send the rim bore or outside diameters as built and now, and the condition in which the keys were "
            "found.",
            None,
            " ".join(effects) or "No finding depends on the answer: both explanations lead to the same findings.",
        )
    ]


def _speaking(review: Review, finding: Finding) -> list[Any]:
    """The recording that speaks for a finding: the first for claims, the last for requirements."""
    rows = review.measurements
    return list(rows[:1] if finding.role == "claim" else rows[-1:])


# ------------------------------------------------------------------------------- what the case does not state


def _of_soft_poles(review: Review) -> str:
    """What poles that yield would do to gaps: those of the drawing, with all else the same."""
    case = review.case
    poles = replace(case.rotor.poles, radial_stiffness=SEAT_STIFFNESS)
    softer = replace(case.rotor, poles=poles)
    effects = []
    for row in review.findings:
        if not quantity_at(row.quantity).quantity.of_pole_faces:
            continue
        value = evaluate(row.quantity, softer, case.conditions[row.condition])
        if not np.isfinite([value, row.predicted]).all():
            continue
        softly, stiffly = quantity_text(row.quantity, value), quantity_text(row.quantity, row.predicted)
        words = f"{finding_name(row)}: {softly} on the drawing, not {stiffly}"
        low, high = (end + value - row.predicted for end in row.predicted_interval)
        then = verdict_of_interval((low, high), row.threshold, row.at_least)
        if row.interval is None and not _held_back(row) and then != row.verdict:
            words += f", which would leave it {then} ({interval_text(row.quantity, (low, high))})"
        effects.append(words)
    if not effects:
        return NOT_COMPUTED
    return (
        f"With {SEAT_STIFFNESS:.0e} N/m for each pole (the rim side of a seat alone in a rim 1.85 m long, by plane "
        f"finite elements; root, keys and bolts add their own): {'; '.join(effects)}."
    ).replace("e+", "e")


def _assumed(review: Review) -> list[tuple[str, str, str]]:
    """Key, question and effect for every input that has a default because the case is silent."""
    case = review.case
    raw = case.as_read
    known = {(where, key) for where, table in raw.items() if isinstance(table, dict) for key in table}
    found = [
        (key, question, NOT_COMPUTED) for key, question in (*_of_rim_and_fit(case, known), *_of_spider(case, known))
    ]
    if np.isinf(case.rotor.poles.radial_stiffness):
        question = "What is the radial stiffness of one pole on the rim? It was assumed rigid."
        found.append(("poles.radial_stiffness", question, _of_soft_poles(review)))
    found += [(key, question, NOT_COMPUTED) for key, question in (*_of_gap(case), *_of_conditions(case))]
    if exact := _taken_as_exact(case):
        meanings = ", ".join(_meaning(case, key) for key in exact)
        question = f"How well are these known? They were assumed exact: {meanings}."
        effect = "The effect is not computed, as an uncertainty is needed; any uncertainty widens the intervals."
        found.append((", ".join(exact), question, effect))
    return found


def _of_rim_and_fit(case: Case, known: set[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    for key, what in (
        ("stacking_factor", "steel fraction of the rim stack, taken as 1 (solid)"),
        ("hoop_stiffness_factor", "hoop stiffness of the overlapped segments over that of solid steel, taken as 1"),
        ("net_section_factor", "net over gross hoop section, taken as 1 (no holes)"),
    ):
        if ("rim", key) not in known:
            yield f"rim.{key}", f"What is the {what}?"
    if ("fit", "interference_tolerance") not in known and not any(
        row.name.startswith(("fit.interference", "fit.key_interference")) for row in case.tolerances
    ):
        yield "fit.interference_tolerance", "What is the tolerance of the interference? It was assumed exact."
    if np.isinf(case.rotor.fit.key_stiffness):
        yield "fit.key_stiffness", "What is the radial stiffness of one key with its shims? It was assumed rigid."
    if ("fit", "friction_interference") not in known:
        yield "fit.friction_interference", "How large is the friction between keys and rim? None was assumed."


def _of_spider(case: Case, known: set[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    spider = case.rotor.spider
    if isinstance(spider, ArmSpider) and spider.hub_bore_radius is None:
        question = "What are the bore radius and the length of the hub? The hub was assumed rigid; a real hub deflects."
        yield "spider.hub_bore_radius", question
    if isinstance(spider, ArmSpider) and ("spider", "tip_mass") not in known:
        yield "spider.tip_mass", "What is the mass of key bar and flange at each arm? It was assumed to be zero."
    if isinstance(spider, GivenSpider) and spider.material is None:
        yield "spider.material", "Which steel is the spider made of? It was assumed to expand like the rim."


def _of_gap(case: Case) -> Iterator[tuple[str, str]]:
    gap = case.rotor.air_gap
    if case.rotor.poles.face_length is None:
        yield "poles.face_length", "How long is the pole face? It was assumed to be as long as the rim."
    if gap.stator_thermal_expansion is None:
        question = "How does the stator bore expand? It was assumed to expand like the rim."
        yield "air_gap.stator_thermal_expansion", question
    if gap.stator_core_depth is None:
        question = (
            "What are the depth and the modulus of the stator core? It was assumed rigid under the magnetic pull."
        )
        yield "air_gap.stator_core_depth", question


def _of_conditions(case: Case) -> Iterator[tuple[str, str]]:
    for name, condition in case.conditions.items():
        warm = float(np.max(condition.rim_temperature)) != UNIFORM_COLD.rim_temperature
        if condition.pole_temperature is None and warm:
            question = f"How warm are the poles in condition '{name}'? They were assumed to be as warm as the rim."
            yield f"conditions.{name}.pole_temperature", question


def _taken_as_exact(case: Case) -> list[str]:
    """Inputs that a float speed or a gap depends on and that the case gives no tolerance."""
    keys = ["rim.hoop_stiffness_factor", "rim.stacking_factor", "poles.mass", "poles.mass_radius"]
    for name, condition in case.conditions.items():
        if condition.rim_temperature != condition.spider_temperature:
            keys += [f"conditions.{name}.rim_temperature", f"conditions.{name}.spider_temperature"]
        if float(np.max(condition.flux_density)) > 0:
            keys.append(f"conditions.{name}.flux_density")
    stated = {row.name for row in case.tolerances}
    return [key for key in keys if key not in stated]
