"""One check of the machine against one limit, and the worst of several conditions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.units import PrintUnit

MEETS, EXCEEDS, FOR_INFORMATION, NOT_CHECKED = "meets", "exceeds", "for information", "not checked"
"""What becomes of a check; the last two are followed by the reason and by the missing input."""


@dataclass(frozen=True)
class Check:
    """A value against its limit.

    Attributes
    ----------
    name, at, condition : str
        What is checked, where or at which speed, and in which condition.
    kind : str
        Of `units.KINDS`; "" is a plain ratio.
    value, limit : array, SI
        NaN, and so is the margin, where an input is missing.
    at_most : bool
        The limit is a ceiling, else a floor.
    source : str
        Of the limit.
    key : str
        The entry of the case that replaces the limit.
    missing : str
        The input without which the check cannot be made.
    for_information : str
        Why the check is not binding, such as friction where keys carry the torque; empty where it is binding.
    unit : PrintUnit or None
        Where it is printed in another unit than that of its kind.
    """

    name: str
    at: str
    condition: str
    kind: str
    value: Floats
    limit: Floats
    at_most: bool
    source: str
    key: str
    note: str = ""
    missing: str = ""
    for_information: str = ""
    unit: PrintUnit | None = None

    @property
    def binding(self) -> bool:
        """Whether the check decides, rather than informs."""
        return not self.for_information

    @property
    def margin(self) -> Floats:
        """Share of the limit by which the value is on its good side; below zero the limit is broken."""
        with np.errstate(divide="ignore", invalid="ignore"):
            share: Floats = (self.value - self.limit) / np.abs(self.limit)
        return -share if self.at_most else share

    @property
    def holds(self) -> NDArray[np.bool_]:
        """Whether the limit is kept; false where that is not known."""
        kept: NDArray[np.bool_] = self.margin >= 0
        return kept

    @property
    def status(self) -> str:
        """What became of the check of one machine, in the words that text, page and JSON share.

        >>> about = About("rated", "hot", "", "")
        >>> at_most("x", about, 5.0, 4.0).status, unknown("x", about, "rim.length").status
        ('exceeds', 'not checked: rim.length')
        """
        if self.missing:
            return f"{NOT_CHECKED}: {self.missing}"
        if self.for_information:
            return f"{FOR_INFORMATION}: {self.for_information}"
        return MEETS if bool(self.holds) else EXCEEDS


@dataclass(frozen=True)
class About:
    """What a check is made for, and where its limit comes from: see the fields of `Check`."""

    at: str
    condition: str
    source: str
    key: str
    for_information: str = ""
    unit: PrintUnit | None = None


def at_most(name: str, about: About, value: ArrayLike, limit: ArrayLike, kind: str = "stress", note: str = "") -> Check:
    """A ceiling on a value.

    Parameters
    ----------
    value, limit : float or array, SI
        Of one kind.
    kind : str
        Of `units.KINDS`; "" is a plain ratio.
    """
    return _row(name, about, value, limit, kind, note, ceiling=True)


def at_least(name: str, about: About, value: ArrayLike, limit: ArrayLike, kind: str = "", note: str = "") -> Check:
    """A floor under a value; arguments as in `at_most`."""
    return _row(name, about, value, limit, kind, note, ceiling=False)


def unknown(
    name: str, about: About, missing: str, kind: str = "stress", note: str = "", *, ceiling: bool = True
) -> Check:
    """A check that cannot be made, and the input that it needs."""
    return _row(name, about, np.nan, np.nan, kind, note, ceiling=ceiling, missing=missing)


def _row(
    name: str,
    about: About,
    value: ArrayLike,
    limit: ArrayLike,
    kind: str,
    note: str,
    *,
    ceiling: bool,
    missing: str = "",
) -> Check:
    return Check(
        name, about.at, about.condition, kind, floats(value), floats(limit), ceiling,
        about.source, about.key, note, missing, about.for_information, about.unit,
    )  # fmt: skip


def worst(rows: Iterable[Check]) -> tuple[Check, ...]:
    """Of rows that differ only in their condition, that with the least margin; in the order of first appearance.

    Rows of arrays are compared element by element, and "worst of all" takes the place of their condition.
    """
    groups: dict[tuple[str, str], list[Check]] = {}
    for row in rows:
        groups.setdefault((row.name, row.at), []).append(row)
    return tuple(_worst_of(group) for group in groups.values())


def _worst_of(group: list[Check]) -> Check:
    first = group[0]
    if len(group) == 1 or first.missing:
        return first
    shape = np.broadcast_shapes(*(row.margin.shape for row in group))
    values, limits, margins = (
        np.stack([np.broadcast_to(getattr(row, name), shape) for row in group]) for name in ("value", "limit", "margin")
    )
    # a check that fails to exist in one condition (the gap is pulled shut) is the worst of all
    place = np.where(np.isnan(margins), -np.inf, margins).argmin(axis=0)
    if not place.shape:
        return group[int(place)]
    value, limit = (np.take_along_axis(some, place[np.newaxis], axis=0)[0] for some in (values, limits))
    return replace(first, value=value, limit=limit, condition="worst of all")


def listed_once(rows: Sequence[Check]) -> list[Check]:
    """The checks, those without an input once each instead of once a speed: known ones first, in their order."""
    absent: dict[tuple[str, str], Check] = {}
    for row in rows:
        if row.missing:
            absent.setdefault((row.name, row.missing), replace(row, at="", condition=""))
    return [*(row for row in rows if not row.missing), *absent.values()]
