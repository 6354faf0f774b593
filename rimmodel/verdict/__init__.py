"""Claim against prediction against evidence."""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord
    from rimmodel.verdict.result import Review


def review(case: Case, records: Sequence[CaseRecord] | None = None) -> Review:
    """Review a case: predict every condition, read its records, judge its claims and requirements.

    Parameters
    ----------
    case : Case
        From `read_case` or `example_case`.
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
    TypeError
        No case, such as the path of one.
    """
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord
    from rimmodel.tabular import wanted

    hint = f"write review(read_case({str(case)!r}))" if isinstance(case, (str, PathLike)) else "write read_case(file)"
    wanted(case, Case, "case", "review wants a Case", hint)
    if records is not None:
        call, several = "review wants its records as CaseRecords", (list, tuple)
        wanted(records, several, "records", call, "write [CaseRecord(file, condition)]")
        for record in records:
            wanted(record, CaseRecord, "a record", call, "write [CaseRecord(file, condition)]")
    from rimmodel.verdict.assess import assess

    return assess(case, records)
