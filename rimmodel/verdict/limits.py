"""What the checks against limits come to, in sentences: how many meet, exceed, inform, and are not checked."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.behaviour.limits.check import EXCEEDS, Check, listed_once
from rimmodel.units import PRINT, PrintUnit


def words_of(row: Check) -> str:
    """Name of a check with the state in which it counts."""
    return f"{row.name}, {row.at}" if row.at else row.name


def exceeded(rows: Sequence[Check], basis: str = "") -> tuple[str, ...]:
    """Sentences on the checks that exceed their limits, and on values beyond a limit that is not binding.

    Parameters
    ----------
    rows : sequence of Check
        Of one machine.
    basis : str
        On what they rest, such as "as drawn".

    Returns
    -------
    tuple of str
        Empty where nothing lies beyond a limit.

    >>> from rimmodel.behaviour.limits.check import About, at_most
    >>> exceeded([at_most("arm stress", About("rated", "hot", "", ""), 180e6, 172.5e6)])
    ('1 of 1 check against limits exceeds its limit: arm stress, rated (hot) 180 MPa against at most 172.5 MPa.',)
    """
    resting = f" ({basis})" if basis else ""
    decided = [row for row in rows if row.binding and not row.missing]
    beyond = [row for row in decided if row.status == EXCEEDS]
    informing = [row for row in rows if not row.binding and not row.missing and not bool(row.holds)]
    sentences = []
    if beyond:
        exceed = "exceeds its limit" if len(beyond) == 1 else "exceed their limits"
        names = "; ".join(against_limit(row) for row in beyond)
        checked = f"check{'s' if len(decided) > 1 else ''} against limits"
        sentences.append(f"{len(beyond)} of {len(decided)} {checked} {exceed}{resting}: {names}.")
    if informing:
        lie = "value lies" if len(informing) == 1 else "values lie"
        names = "; ".join(f"{against_limit(row)}: {row.for_information}" for row in informing)
        sentences.append(
            f"For information, {len(informing)} {lie} outside a limit that is not binding{resting}: {names}."
        )
    return tuple(sentences)


def exceeded_in_brief(rows: Sequence[Check], basis: str = "") -> tuple[str, ...]:
    """The same for the headline: what exceeds in full, what lies beyond a limit for information by name alone."""
    informing = [row for row in rows if not row.binding and not row.missing and not bool(row.holds)]
    sentences = exceeded([row for row in rows if row.binding], basis)
    if not informing:
        return sentences
    lie = "value lies" if len(informing) == 1 else "values lie"
    names = "; ".join(row.name for row in informing)
    return (*sentences, f"For information, {len(informing)} {lie} outside a limit that is not binding: {names}.")


def limits_sentences(rows: Sequence[Check], basis: str) -> tuple[str, ...]:
    """What the checks come to, in sentences for a page: how many meet, exceed, inform, and are not checked."""
    decided = [row for row in rows if row.binding and not row.missing]
    absent = [row for row in listed_once(rows) if row.missing]
    meets = f"All {len(decided)} binding checks meet their limits ({basis})."
    sentences = [] if any(row.status == EXCEEDS for row in decided) else [meets]
    sentences += exceeded(rows, basis)
    if absent:
        sentences.append(f"{len(absent)} more {'is' if len(absent) == 1 else 'are'} not checked; missing input.")
    return tuple(sentences)


def against_limit(row: Check) -> str:
    """A check in words: its name, where and in which condition, and value against limit."""
    bound = "at most" if row.at_most else "at least"
    where = f" ({row.condition})" if row.condition else ""
    return f"{words_of(row)}{where} {check_text(row.value, row)} against {bound} {check_text(row.limit, row)}"


def print_unit(row: Check) -> PrintUnit | None:
    """Unit of print of a check: its own, or that of its kind; None for a plain ratio."""
    return row.unit or PRINT.get(row.kind)


def check_text(value: ArrayLike, row: Check) -> str:
    """`value_text` of the value or the limit of a check.

    Parameters
    ----------
    value : float or array, SI
        Of one number.
    """
    return value_text(value, row.kind, print_unit(row))


def value_text(value: ArrayLike, kind: str, unit: PrintUnit | None = None) -> str:
    """A value or a limit with its unit of print: four figures, never in powers of ten.

    Parameters
    ----------
    value : float or array, SI
        Of one number.
    kind : str
        Of the check.
    unit : PrintUnit, optional
        That of its kind when absent.

    >>> value_text(21.684e6, "torque"), value_text(1.5, ""), value_text(float("inf"), "")
    ('21,680 kN m', '1.5', 'without bound')
    """
    unit = unit or PRINT.get(kind)
    shown = float(np.asarray(value))
    if unit is not None:
        shown = unit.of(shown)
    if not math.isfinite(shown):
        return "without bound" if shown > 0 else "not determined"
    digits = 3 - math.floor(math.log10(abs(shown))) if shown else 0
    number_text = f"{round(shown, digits):,.{max(digits, 0)}f}"
    number_text = number_text.rstrip("0").rstrip(".") if "." in number_text else number_text
    return number_text if unit is None else f"{number_text} {unit.name}"
