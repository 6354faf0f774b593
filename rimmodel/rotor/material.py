"""Solid material of rim or spider."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import NOT_NEGATIVE, POISSON, POSITIVE, Bounds, Checked, plain, quantity
from rimmodel.units import mpa

ENDURED_SHARE = 0.9
"""Of the ultimate strength: at a thousand cycles, so what is endured indefinitely is less (book practice)."""


@dataclass(frozen=True)
class Material(Checked):
    """Elastic constants, density and strength of the solid steel, before stacking.

    >>> Material(206e9, 0.3, 7850.0).density
    7850.0
    """

    young_modulus: Numbers = field(
        metadata=quantity(
            "elastic modulus",
            POSITIVE,
            "Young's modulus of the solid",
            bounds=Bounds(8e10, 2.4e11, "steel has 195 to 215 GPa, cast iron from 90"),
        )
    )
    poisson_ratio: Numbers = field(
        metadata=plain(POISSON, "Poisson's ratio", bounds=Bounds(0.15, 0.4, "steel has 0.27 to 0.3"))
    )
    density: Numbers = field(
        metadata=quantity(
            "density",
            POSITIVE,
            "mass per volume of the solid",
            bounds=Bounds(6500.0, 8500.0, "steel has 7850 kg/m^3, which is 7.85 t/m^3"),
        )
    )
    thermal_expansion: Numbers = field(
        default=0.0,
        metadata=quantity(
            "thermal expansion",
            NOT_NEGATIVE,
            "linear thermal expansion",
            bounds=Bounds(5e-6, 2.5e-5, "steel has 11e-6 to 12e-6 1/K", or_zero=True),
        ),
    )
    yield_strength: Numbers | None = field(
        default=None,
        metadata=quantity(
            "strength",
            POSITIVE,
            "yield strength (0.2 % proof stress)",
            bounds=Bounds(8e7, 1.6e9, "rim steels have 300 to 900 MPa"),
        ),
    )
    ultimate_strength: Numbers | None = field(
        default=None,
        metadata=quantity(
            "strength", POSITIVE, "tensile strength", bounds=Bounds(1e8, 2.2e9, "rim steels have 450 to 1000 MPa")
        ),
    )
    endurance_limit: Numbers | None = field(
        default=None,
        metadata=quantity(
            "strength",
            POSITIVE,
            "stress amplitude, fully reversed, that is endured indefinitely",
            bounds=Bounds(2e7, 1.2e9, "it is about 0.4 of the tensile strength"),
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        _weaker(self.yield_strength, "yield_strength", self.ultimate_strength, 1.0)
        _weaker(self.endurance_limit, "endurance_limit", self.ultimate_strength, ENDURED_SHARE)


def _weaker(strength: Numbers | None, name: str, ultimate: Numbers | None, share: float) -> None:
    """Raise ValueError where a strength is not below a share of the ultimate strength."""
    if strength is None or ultimate is None:
        return
    lower, upper = np.broadcast_arrays(np.asarray(strength, dtype=float), np.asarray(ultimate, dtype=float))
    wrong = (lower > upper) if share == 1.0 else (lower >= share * upper)
    if wrong.any():
        of = "at most" if share == 1.0 else f"below {share:g} of"
        raise ValueError(
            f"Material: {name} is {mpa(lower[wrong].flat[0], 'g')}; it must be {of} ultimate_strength, "
            f"{mpa(upper[wrong].flat[0], 'g')}; are the two mixed up?"
        )
