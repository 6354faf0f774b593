"""What a drawing states besides the numbers that are computed with: they must agree with those."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Stated:
    """Numbers of a drawing that follow from others; None where it does not give them.

    Attributes
    ----------
    rim_mass : float or None, kg
        Without poles.
    frequency : float or None, Hz
        Electrical, at rated speed.
    inertia, gd2 : float or None, kg m2
        Of the whole rotor; GD2 is four times J.
    """

    rim_mass: float | None = None
    frequency: float | None = None
    inertia: float | None = None
    gd2: float | None = None

    @property
    def any_inertia(self) -> float | None:
        """J by either key, kg m2."""
        return self.inertia if self.inertia is not None else (None if self.gd2 is None else self.gd2 / 4)
