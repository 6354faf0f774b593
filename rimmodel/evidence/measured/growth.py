"""How fast the recorded gap falls with speed, against what a rotor of the case can do: sign, size and likely slip."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.backfit.expected import expected_slopes
from rimmodel.evidence.backfit.fitter import PRIOR_SD
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.slips import likely_fall
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import in_mm, in_rpm, mm, rpm

REACH = 2.0
"""Standard uncertainties of both stiffnesses that are allowed to a machine before its growth is doubted."""

ODD, IMPOSSIBLE = 1.5, 6.0
"""Factor outside of what such machines do from which a growth is doubted, and from which it is refused: slips of unit
lie beyond the second, while the recording of another machine need not."""

SURE = 5.0
"""Standard errors by which a growth must lie outside: points about a bent line are no independent readings."""

NEAR_PERCENT = 0.1
"""Share by which a fall may miss that of speeds in percent of rated speed."""

CLEARLY, FASTER = 1.2, 1.9
"""Times the largest possible fall, and times the expected fall, from which percent are asked for: below, a soft rim or
a rim that warms by a few kelvin falls as fast."""

HIGHER = 1.05
"""Times the highest speed of the case that a run may reach."""

RISING = 0.3
"""Share of the least expected fall by which a gap must rise to be refused for its sign."""


@dataclass(frozen=True)
class Fall:
    """Fall of the gap over speed squared, as recorded and as the case allows.

    Attributes
    ----------
    recorded, standard_error : float, m s2
    least, largest : float, m s2
        Of the seated and of the floating rim, with the stiffnesses that such a machine can have.
    span : float, rad2/s2
        Of speed squared, from the slowest to the fastest point.
    """

    recorded: float
    standard_error: float
    least: float
    largest: float
    span: float


def fall(rotor: Rotor, condition: Condition, points: SpeedPoints) -> Fall | None:
    """Fit one straight line to gap against speed squared and set it beside the modelled slopes.

    Returns
    -------
    Fall or None
        None for fewer than four points or for one speed only.
    """
    x, gap = points.speed**2, points.gap
    spread = float(np.sum((x - x.mean()) ** 2)) if x.size else 0.0
    if x.size < 4 or spread <= 0.0:
        return None
    slope = float(np.sum((x - x.mean()) * (gap - gap.mean()))) / spread
    rest = gap - gap.mean() - slope * (x - x.mean())
    error = float(np.sqrt(np.sum(rest**2) / (x.size - 2) / spread))
    least, largest = _possible(rotor, condition)
    return Fall(-slope, error, least, largest, float(np.ptp(x)))


def _possible(rotor: Rotor, condition: Condition) -> tuple[float, float]:
    """Least seated and largest floating slope with both stiffnesses off by `REACH` standard uncertainties."""
    moves = np.zeros((4, len(PARAMETERS)))
    names = ("hoop_stiffness_factor", "spider_stiffness")
    for row, signs in enumerate(product((-1.0, 1.0), repeat=2)):
        for name, sign in zip(names, signs, strict=True):
            moves[row, PARAMETERS.index(name)] = sign * REACH * PRIOR_SD[name]
    nowhere = np.zeros(1)
    moved = gap_model(rotor, condition, nowhere, np.array([""]), nowhere).rotor_of(moves)
    model = coefficients(moved, condition)
    return float(np.min(model.seated.per_speed_squared)), float(np.max(model.floating.per_speed_squared))


def growth_doubts(rotor: Rotor, condition: Condition, points: SpeedPoints, source: str = "") -> tuple[str, ...]:
    """Say what is wrong with the size of the recorded fall of the gap.

    Parameters
    ----------
    source : str
        For the message.

    Returns
    -------
    tuple of str
        Why the recording cannot decide anything; empty where its fall is what such a machine can show.

    Raises
    ------
    RecordingError
        The gap rises with speed, or falls by several times more or less than it can.
    """
    found = fall(rotor, condition, points)
    if found is None or not 0.0 < found.least <= found.largest:
        return ()
    where = f"{source}: " if source else ""
    if found.recorded + SURE * found.standard_error < 0.0 and found.recorded < -RISING * found.least:
        return _refused(f"{where}{_rising(found, points)}", points)
    sure = SURE * found.standard_error
    low, high = found.recorded + sure < found.least / ODD, found.recorded - sure > found.largest * ODD
    if not (low or high):
        return _percent(rotor, condition, found, points)
    sentence = _sentence(found, points, rotor)
    gross = found.recorded + sure < found.least / IMPOSSIBLE or found.recorded - sure > found.largest * IMPOSSIBLE
    return _refused(f"{where}{sentence}", points) if gross else (sentence,)


def _percent(rotor: Rotor, condition: Condition, found: Fall, points: SpeedPoints) -> tuple[str, ...]:
    """Ask whether the speed is in percent of rated: too fast a fall, by the square of what a percent then is in rpm.

    A soft rim may fall as fast; it is asked only where no speed is higher than the machine reaches in percent, so that
    a run to rated speed or beyond, in rpm, is never asked.
    """
    speeds = rotor.speeds
    percent = in_rpm(float(speeds.rated)) / 100.0
    seated, floating = (-slope * percent**2 for slope in expected_slopes(rotor, condition))
    near = (1.0 - NEAR_PERCENT) * seated < found.recorded < (1.0 + NEAR_PERCENT) * floating
    beyond = found.recorded - SURE * found.standard_error > CLEARLY * found.largest and percent**2 > FASTER
    reached = in_rpm(points.speed.max()) <= 100.0 * HIGHER * float(speeds.highest / speeds.rated)
    if not (near and beyond and reached and points.speed.max() < speeds.rated):
        return ()
    return (
        f"{_moved(found, points)}; speeds in percent of the rated {rpm(speeds.rated, '.4g')} would make it fall "
        f"{percent**2:.3g} times as fast as expected: is the speed in percent of rated? The recording is not used for "
        "any verdict; give the speed in rpm, or state the right masses, radii and stiffnesses",
    )


def _refused(message: str, points: SpeedPoints) -> tuple[str, ...]:
    """Refuse; where the recording contradicts itself that is the reason to report, with this sentence beside it."""
    if points.disqualified:
        return (message,)
    raise RecordingError(message)


def _rising(found: Fall, points: SpeedPoints) -> str:
    return (
        f"the gap grows with speed, by {mm(-found.recorded * found.span, '.3g')} to "
        f"{rpm(points.speed.max(), '.4g')}, where it must fall by at least "
        f"{mm(found.least * found.span, '.3g')}: this looks like growth of the rotor, or like a change counted in the "
        f"opposite direction; give the air gap, or the signed change of gap, negative where the gap closes"
    )


def _sentence(found: Fall, points: SpeedPoints, rotor: Rotor) -> str:
    """What was recorded, what was expected, and the factors that would explain it."""
    percent = in_rpm(float(rotor.speeds.rated)) / 100.0
    hint = likely_fall(
        found.recorded, found.least, found.largest, int(rotor.poles.count), lengths=points.is_change, percent=percent
    )
    return f"{_moved(found, points)}{hint}: check the units of gap and speed, and masses and radii of the case"


def _moved(found: Fall, points: SpeedPoints) -> str:
    """By how much the gap falls, and should."""
    low, high = (in_mm(bound * found.span) for bound in (found.least, found.largest))
    moves = "falls" if found.recorded >= 0.0 else "rises"
    return (
        f"the gap {moves} by {mm(abs(found.recorded) * found.span, '.3g')} from "
        f"{in_rpm(points.speed.min()):.4g} to {rpm(points.speed.max(), '.4g')}, where it should fall by {low:.3g} to "
        f"{high:.3g} mm on a rotor like that of the case"
    )
