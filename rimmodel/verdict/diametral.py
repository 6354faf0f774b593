"""A measured interference near half of the drawn interference, as where the drawing gives it on the diameter."""

from __future__ import annotations

from math import isfinite

from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.rotor.case.case import Case
from rimmodel.units import mm

NEAR_HALF = (0.42, 0.58)
"""Share of the drawn interference by which a measured interference is taken for half of it."""


def diametral_suspicion(measured: float, interval: tuple[float, float], drawn: float) -> str:
    """Remark on a measured interference that is near half of the drawn interference; empty otherwise.

    Parameters
    ----------
    measured : float, m
        Radial; not a number where none is known.
    interval : pair of float, m
        Of the measured interference.
    drawn : float, m
        As the case states it, radial.

    >>> diametral_suspicion(1.05e-3, (1.0e-3, 1.1e-3), 2.1e-3)[:65]
    'The measured interference is 0.50 of the drawn interference (1.05'
    >>> diametral_suspicion(1.9e-3, (1.8e-3, 2.0e-3), 2.1e-3)
    ''
    """
    if not (isfinite(measured) and drawn > 0):
        return ""
    share, half = measured / drawn, drawn / 2
    narrow = all(map(isfinite, interval)) and interval[1] < 0.8 * drawn
    holds_half = narrow and interval[0] <= half <= interval[1]
    if not (narrow and (holds_half or NEAR_HALF[0] <= share <= NEAR_HALF[1])):
        return ""
    return (
        f"The measured interference is {share:.2f} of the drawn interference ({mm(measured)} of "
        f"{mm(drawn)}): check whether the drawing states it on the diameter. fit.interference is "
        "radial; half the shrink lost and a diametral drawing look the same in a run."
    )


def diametral_remarks(case: Case, measurements: tuple[Measurement, ...]) -> list[str]:
    """The remark on the first record, which speaks for the rotor as delivered; none or one."""
    if not measurements or "interference_on_diameter" in case.as_read.get("fit", {}):
        return []
    first = measurements[0]
    if not first.sets_interference:
        return []
    drawn = float(case.rotor.fit.interference)
    remark = diametral_suspicion(float(first.interference), first.interference_interval, drawn)
    return [remark] if remark else []
