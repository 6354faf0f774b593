"""Claim against prediction against evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord
    from rimmodel.verdict.result import Review


def review(case: Case, records: Sequence[CaseRecord] | None = None) -> Review:
    """Review a case: predict every condition, read its records, judge its claims and requirements.

    Parameters
    ----------
    records : sequence of CaseRecord, optional
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
    from rimmodel.verdict.assess import assess

    return assess(case, records)
