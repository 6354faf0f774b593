"""More effective interference than the drawing and the recorded shims can account for."""

from __future__ import annotations

from rimmodel.arrays import Interval
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import mm


def most_interference(case: Case, record: CaseRecord) -> float:
    """Largest interference at standstill that drawing, tolerance and the shims up to a record account for.

    Parameters
    ----------
    record : CaseRecord
        Of the case, or another: then only the shims that it states itself count.

    Returns
    -------
    float, m

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> round(1e3 * most_interference(case, case.records[1]), 2)  # 2.10 + 0.10 mm, shims of 0.30 mm
    2.5
    """
    before = case.records[: case.records.index(record) + 1] if record in case.records else (record,)
    added = sum(one.expected_change or 0.0 for one in before)
    return float(case.rotor.fit.interference + case.rotor.fit.interference_tolerance) + added


def beyond_drawing_remark(case: Case, record: CaseRecord, interval: Interval) -> str:
    """That a run shows more interference than there can be; empty where its interval reaches down to what can be.

    Parameters
    ----------
    interval : pair of float, m
        Of the effective interference, with all uncertainties.

    Returns
    -------
    str
    """
    most = most_interference(case, record)
    if not interval[0] > most:
        return ""
    return (
        f"the effective interference is at least {mm(interval[0])}, but drawing, tolerance and recorded shims account "
        f"for {mm(most)} at most, and no rim gains interference by running: check rim and spider temperatures of the "
        "run, gain of the sensors, hoop stiffness and pole mass of the case, and whether shims were added that "
        "expected_change does not state"
    )
