"""Solid material of rim or spider."""

from dataclasses import dataclass, field

from rimmodel.rotor.quantity import NOT_NEGATIVE, POISSON, POSITIVE, Checked, Numbers, plain, quantity


@dataclass(frozen=True)
class Material(Checked):
    """Elastic constants, density and strength of the solid steel, before stacking.

    >>> Material(206e9, 0.3, 7850.0).density
    7850.0
    """

    young_modulus: Numbers = field(metadata=quantity("elastic modulus", POSITIVE, "Young's modulus of the solid"))
    poisson_ratio: Numbers = field(metadata=plain(POISSON, "Poisson's ratio"))
    density: Numbers = field(metadata=quantity("density", POSITIVE, "mass per volume of the solid"))
    thermal_expansion: Numbers = field(
        default=0.0, metadata=quantity("thermal expansion", NOT_NEGATIVE, "linear thermal expansion")
    )
    yield_strength: Numbers | None = field(
        default=None, metadata=quantity("strength", POSITIVE, "yield strength (0.2 % proof stress)")
    )
    ultimate_strength: Numbers | None = field(default=None, metadata=quantity("strength", POSITIVE, "tensile strength"))
    endurance_limit: Numbers | None = field(
        default=None,
        metadata=quantity("strength", POSITIVE, "stress amplitude, fully reversed, that is endured without end"),
    )
