"""One number of an outside source beside ours: what a check is, and what came of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike


class Provenance(StrEnum):
    """Where the number that ours is held against comes from."""

    SEEN_IN_PRINT = "seen in print"
    FROM_MEMORY = "from memory"
    DERIVED = "derived"
    INDEPENDENT_METHOD = "independent method"
    COMMON_PRACTICE = "common practice, no source"


class Group(StrEnum):
    """What a number is held against: the parts of the dossier, in their order."""

    BOOKS = "textbooks, handbooks and standards"
    OPEN_DATA = "open data"
    FINITE_ELEMENTS = "finite elements"
    LIBRARIES = "general reference libraries and derivations"


ROUNDING = "half a unit of the last printed digit"
FORMULA = "the source prints a formula, exact: round-off only"
ROUND_OFF = 1e-11
"""Tolerance that goes with `FORMULA`: about a hundred operations in double precision."""


@dataclass(frozen=True)
class Check:
    """One number of an outside source, and how ours is computed.

    Parameters
    ----------
    id : str
        Short and unique, such as ``"ROT-1"``.
    what : str
        The quantity, in words.
    source : str
        Author and title to chapter, page or case; or the method.
    printed : str or float
        Text exactly as printed, digits and all; or a number, where the source gives a formula or is a method.
    unit : str
        Unit of `printed` and of `ours`; "-" for none.
    ours : callable
        Returns our number when called, so that a list of checks costs nothing and a failure stays with its row.
    provenance : Provenance
    tolerance : float, optional
        Largest difference relative to `scale`; by default half a unit of the last printed digit.
    reason : str
        Why the tolerance is what it is.
    scale : float, optional
        What differences are relative to, in `unit`; by default the size of the source's number.
    note : str
        Misprints, inferred inputs, partial disagreement.
    group : Group
        Part of the dossier; `collect.checks_of` fills it in.

    Raises
    ------
    ValueError
        A number without printed digits and without a tolerance, a tolerance without its own reason, or a zero
        without a scale.

    """

    id: str
    what: str
    source: str
    printed: str | float
    unit: str
    ours: Callable[[], ArrayLike]
    provenance: Provenance
    tolerance: float | None = None
    reason: str = ROUNDING
    scale: float | None = None
    note: str = ""
    group: Group = Group.BOOKS

    def __post_init__(self) -> None:
        if self.tolerance is None and not isinstance(self.printed, str):
            raise ValueError(f"check {self.id}: a number has no printed digits; give a tolerance and its reason")
        if (self.tolerance is None) != (self.reason == ROUNDING):
            raise ValueError(f"check {self.id}: a tolerance and the reason for it go together; give both or neither")
        if self.reference == 0:
            raise ValueError(f"check {self.id}: the number is zero; give the scale that differences are relative to")

    @property
    def number(self) -> float:
        """The source's number, in `unit`."""
        return float(self.printed)

    @property
    def reference(self) -> float:
        """What differences are relative to, in `unit`."""
        return abs(self.number) if self.scale is None else self.scale

    @property
    def allowed(self) -> float:
        """Largest relative difference that still counts as agreement.

        >>> print(f"{Check('A', '', '', '65.3', 'MPa', lambda: 65.3, Provenance.DERIVED).allowed * 65.3:.2f}")
        0.05
        """
        if self.tolerance is not None:
            return self.tolerance
        exponent = Decimal(str(self.printed)).as_tuple().exponent
        return 0.5 * 10.0 ** int(exponent) / self.reference

    def run(self) -> Outcome:
        """Compute our number; whatever goes wrong in the process is a miss of this row, stated in its text."""
        try:
            ours = float(np.asarray(self.ours()))
        except Exception as error:  # one broken row must not hide the others
            return Outcome(self, math.nan, math.nan, f"{type(error).__name__}: {error}")
        return Outcome(self, ours, (ours - self.number) / self.reference)


@dataclass(frozen=True)
class Outcome:
    """What came of one check: our number (in the unit of the check), the relative difference, and any error."""

    check: Check
    ours: float
    difference: float
    error: str = ""

    @property
    def holds(self) -> bool:
        """Whether the difference is within what the check allows; not-a-number never is."""
        return abs(self.difference) <= self.check.allowed
