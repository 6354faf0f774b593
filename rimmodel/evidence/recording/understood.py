"""What was taken for what: one entry for each column of a recording, as written and as understood."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class UnderstoodColumn:
    """A column of a recording.

    Parameters
    ----------
    column : str
        Its head as written.
    meaning : str
        What it holds, such as "speed"; "not used" where it is left aside.
    unit : str
        As understood; empty where it has none.
    sensor, plane : str
        Of gaps; empty where not known.
    angle : float or None, rad
        Of the sensor.
    pole : int or None
        Of gaps of a single pole.
    basis : str
        "header", "stated", or what was guessed; for a column that is not used, why.
    """

    column: str
    meaning: str
    unit: str = ""
    sensor: str = ""
    plane: str = ""
    angle: float | None = None
    pole: int | None = None
    basis: str = "header"
