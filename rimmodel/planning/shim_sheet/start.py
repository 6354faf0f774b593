"""What the keys have before any shim is changed, and how well that is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.evidence.measured.machine import by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.shims.readings import KeyReadings
from rimmodel.planning.predicted import predicted_interval, standard_errors
from rimmodel.planning.present import present_case
from rimmodel.planning.shim_sheet.promise import CONFIDENCE, ShimErrors
from rimmodel.rotor import Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.shim_stock import ShimStock
from rimmodel.units import mm


@dataclass(frozen=True)
class Start:
    """What is there before any shim is changed, and how well that is known.

    Attributes
    ----------
    keys : array (N,), m
        Interference of each key, as assembled.
    basis : str
        Where differences and level come from.
    settled : float, m
        Of the rotor, to be added to an interference that is there now.
    """

    keys: Floats
    basis: str
    errors: ShimErrors
    settled: float
    doubts: tuple[str, ...]


def start_of(
    case: Case, shims: ShimStock, measurement: Measurement | None, readings: KeyReadings | None
) -> tuple[Case, Start]:
    """The case as it is now, and what its keys have before any change.

    Parameters
    ----------
    measurement, readings : as of `shim_sheet`

    Raises
    ------
    ValueError
        Keys without a reading, a reading without an error, or readings that contradict the run.
    """
    fit, count = case.rotor.fit, int(case.rotor.key_count or 0)
    if readings is None:
        sheet = fit.key_interference or ()
        if not sheet:
            raise ValueError(
                f"fit.key_interference is not given: {count} keys and no reading, so every key would be shimmed blind; "
                "read all of them (--readings), or give the keying sheet"
            )
        keys, source = floats(sheet), "keying sheet of the case"
    else:
        keys, source = readings.interference, readings.source
    stated = shims.reading_tolerance if shims.reading_tolerance is not None else fit.key_interference_tolerance
    if not float(stated) > 0.0 and shims.reading_tolerance is None:
        raise ValueError(
            "shims.reading_tolerance is not given, nor fit.key_interference_tolerance: without the error of a reading "
            "no shim can be promised to do anything; state it"
        )
    one, doubts = float(stated) / 2.0, []
    covariance = None if readings is None else readings.covariance
    if covariance is not None:
        one = math.sqrt(float(np.diag(covariance).max()))
    elif readings is not None and readings.each > 1 and readings.scatter > one:
        doubts.append(
            f"Readings of one key scatter by {mm(readings.scatter, '.3f')} (standard deviation), more than "
            f"shims.reading_tolerance allows; the scatter is used instead."
        )
        one = readings.scatter
    measured = measurement is not None and measurement.sets_interference
    now, basis = present_case(case, measurement, drawn_spider=True)
    level, settled = float(fit.interference_tolerance) / 2.0, 0.0
    if measured and measurement is not None:
        present = measurement.interference + float(fit.settlement) + float(fit.stack_growth)
        settled = float(now.rotor.fit.interference) - present
        doubts += _level_doubt(float(keys.mean()), present, level, measurement, readings)
        keys, level = keys - keys.mean() + present, 0.0
        source = f"{source}, level {basis}"
    speeds = _speed_errors(case, measurement if measured else None)
    alike = float(shims.reading_correlation)
    errors = ShimErrors(level, one, float(shims.piece_tolerance) / 2.0, alike, speeds, covariance)
    return now, Start(floats(keys), source, errors, settled, tuple(doubts))


def _level_doubt(
    read: float, present: float, level: float, measurement: Measurement, readings: KeyReadings | None
) -> list[str]:
    """What to say where the mean of the keys is not that of the run; refuses readings that contradict the run."""
    low, high = measurement.interference_interval
    wide = standard_errors(measurement.confidence)
    reach = max(high - measurement.interference, measurement.interference - low)
    about = reach / wide
    if abs(read - present) <= 2.0 * math.hypot(level, about):
        return []
    if readings is not None:
        raise ValueError(
            f"{readings.source}: the readings have a mean of {mm(read)}, the run '{measurement.label}' shows "
            f"{mm(present)}: they contradict each other beyond their errors; find the reason before any shim is cut, "
            "or leave the run out of [[records]] if it is older than the readings"
        )
    return [
        f"The keying sheet of the case has a mean of {mm(read)}, the run '{measurement.label}' shows {mm(present)}. "
        "That every key has lost the same is an assumption: read the keys (--readings), or let the limits of the "
        "readings before decide whether this sheet may be used."
    ]


def _speed_errors(case: Case, measurement: Measurement | None) -> Mapping[str, float]:
    """Relative standard uncertainty of a lift-off speed by condition, the interference of the keys apart."""
    found, certain = {}, replace(case, rotor=exact(case.rotor))
    for name in case.conditions:
        if measurement is not None:
            low, high = by_test(measurement.machines, "float_speed", name).interval
            wide = standard_errors(measurement.confidence)
        else:
            low, high = predicted_interval(certain, "float_speed", name, CONFIDENCE)
            wide = standard_errors(CONFIDENCE)
        known = np.isfinite([low, high]).all() and low > 0.0
        found[name] = (high - low) / (high + low) / wide if known else math.nan
    return found


def exact(rotor: Rotor) -> Rotor:
    """The rotor with an interference that has no tolerance: the readings bring their own."""
    return replace(rotor, fit=replace(rotor.fit, interference_tolerance=0.0))
