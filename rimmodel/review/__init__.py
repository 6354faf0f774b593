"""Claim against prediction against evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rimmodel.review.assess import Review
    from rimmodel.rotor.case import Case
    from rimmodel.rotor.requirements import Record


def review(case: Case, records: Sequence[Record] | None = None) -> Review:
    """Review a case: predict every condition, read its records, judge its claims and requirements.

    Parameters
    ----------
    case : Case
    records : sequence of Record, optional
        Instead of those that the case names; paths are then taken as they are.

    Returns
    -------
    Review
        With ``write(directory)`` for the page, the figures and the tables.

    Raises
    ------
    RecordingError
        A record that cannot be used; the text names file, line or column, value and rule.
    """
    from rimmodel.review.assess import assess

    return assess(case, records)
