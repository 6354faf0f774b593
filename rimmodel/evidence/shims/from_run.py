"""Readings of the keys from a run that was recorded pole by pole: the change of the rotor's shape as keys lift off."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import floats
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.evidence.shims.from_shape import shim_map
from rimmodel.evidence.shims.readings import KeyReadings, refuse_blind
from rimmodel.rotor import Condition, Rotor

BLIND = 0.95
"""Of the error of the keying sheet that readings must leave at most, or the key was not read by them."""


def readings_of_run(
    rotor: Rotor, condition: Condition, shape: RotorShape, tolerance: float, source: str
) -> KeyReadings:
    """Interference of each key from the shape of the rotor at each speed of a run-up, with its covariance.

    Parameters
    ----------
    rotor : Rotor
        With the interferences of the keying sheet.
    condition : Condition
        Of the run.
    shape : RotorShape
        Of one plane of sensors.
    tolerance : float, m
        Half-width of one key's interference on the keying sheet, two standard uncertainties.
    source : str
        Name of the run, for messages.

    Raises
    ------
    RecordingError
        Fewer than three speeds, or keys of which the run shows nothing.
    """
    rows = np.flatnonzero(shape.steady & (shape.direction != "down"))
    rows = rows[np.unique(shape.speed[rows], return_index=True)[1]]
    if rows.size < 3:
        raise RecordingError(
            f"{source}: {rows.size} holds of the run-up show every pole; the keys need three at least, from slow roll "
            "to beyond the first lift-off"
        )
    sensors = max(len(shape.sensors), 1)
    noise = float(np.median(shape.residual[rows])) / np.sqrt(sensors)
    keyed = keyed_rotor(rotor, condition, highest_speed=float(shape.speed[rows].max()))
    gap = shape.mean[rows, None] - shape.rotor.deviation[rows]
    found = shim_map(keyed, shape.speed[rows], shape.rotor.angle, gap, max(noise, 1e-6), tolerance)
    left = np.sqrt(np.diag(found.covariance)) / (0.5 * tolerance)
    refuse_blind([int(key) + 1 for key in np.flatnonzero(left > BLIND)], left.size, source)
    return KeyReadings(floats(found.key_interference), 1, float("nan"), source, found.covariance)
