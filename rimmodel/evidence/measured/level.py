"""Level of the recorded gaps against the cold gap of the case: how far off it may stand and what would explain it."""

from __future__ import annotations

from rimmodel.evidence.measured.machine import RULED_OUT, Level
from rimmodel.units import in_mm, mm

SHARE = 0.05
"""Of the cold gap: a level may always be off by so much, which published assembly tolerances allow for the mean gap
(US Bureau of Reclamation, FIST 2-7, appendix C)."""

DEVIATIONS = RULED_OUT
"""Standard uncertainties of cold gap, sensors and fit together that a level may be off by."""


WORTH_A_REMARK = 2.33
"""Standard uncertainties from which a level is remarked: one clean run in fifty."""


def level_limit(level: Level, cold_gap: float) -> float:
    """Difference of level that cold gap and sensors still explain: the larger of `SHARE` and `DEVIATIONS`.

    Parameters
    ----------
    cold_gap : float, m

    Returns
    -------
    float, m

    >>> level_limit(Level({"keys": 0.0}, 0.4e-3, ("keys",)), 16e-3) == RULED_OUT * 0.4e-3
    True
    """
    return max(SHARE * cold_gap, DEVIATIONS * level.standard_uncertainty)


def nearest_difference(level: Level) -> float | None:
    """Recorded less expected mean gap, for that possible cause of lost interference which explains most of it.

    Returns
    -------
    float or None, m
        None where a recording holds changes only.

    >>> nearest_difference(Level({"keys": 0.9e-3, "stack": 0.1e-3}, 0.2e-3, ("keys",)))  # the case states the keys
    0.0009
    """
    found = (level.difference[cause] for cause in level.possible if cause in level.difference)
    return min(found, key=abs, default=None)


def level_text(level: Level) -> str:
    """The level in words; empty where a recording holds changes only."""
    difference = nearest_difference(level)
    if difference is None:
        return ""
    shown = round(in_mm(difference), 2) + 0.0  # no minus before a zero
    return f"{shown:+.2f} mm, standard uncertainty {mm(level.standard_uncertainty)}"


def level_doubt(level: Level | None, cold_gap: float) -> str:
    """Why the recorded gaps cannot be those of the case; empty where cold gap and sensors explain their level.

    Parameters
    ----------
    cold_gap : float, m
    """
    difference = None if level is None else nearest_difference(level)
    if level is None or difference is None:
        return ""
    limit = level_limit(level, cold_gap)
    if abs(difference) <= limit:
        return ""
    side = "wider" if difference > 0 else "narrower"
    return (
        f"the gaps are {mm(abs(difference))} {side} than the case allows (cold gap "
        f"{mm(cold_gap, '.4g')}; {mm(limit)} could be due to it and to the sensors): a "
        "sensor offset, a wrong unit or scale, a gap stated for a different state, or a stack that has grown; correct "
        "the "
        "cold gap or the readings, state sensor_offset of the record, or give the run as gap_change"
    )


def level_remark(level: Level | None, cold_gap: float) -> str:
    """A level that is off by more than chance, though not so far that the recording is used for no verdict.

    Parameters
    ----------
    cold_gap : float, m

    Returns
    -------
    str
        Empty where the level is as expected, and where `level_doubt` speaks.
    """
    difference = None if level is None else nearest_difference(level)
    if level is None or difference is None or abs(difference) <= WORTH_A_REMARK * level.standard_uncertainty:
        return ""
    if level_doubt(level, cold_gap):
        return ""
    side = "wider" if difference > 0 else "narrower"
    return (
        f"the gaps are {mm(abs(difference))} {side} than expected, "
        f"{abs(difference) / level.standard_uncertainty:.1f} standard uncertainties: an error of gain of "
        f"{100 * abs(difference) / cold_gap:.2g} %, a stator or rotor warmer than recorded, or a different cold gap; "
        f"a gain error shifts the interference as well"
    )
