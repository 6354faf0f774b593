"""The poles that hang on the rim."""

import math
from dataclasses import dataclass, field

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import POSITIVE, SEVERAL, Bounds, Checked, plain, quantity


@dataclass(frozen=True)
class Poles(Checked):
    """Number, mass and radii of the poles; each is rigid unless its radial stiffness is given."""

    count: Numbers = field(
        metadata=plain(
            SEVERAL, "number of poles", bounds=Bounds(2, 250, "it is the number of poles, not of pairs"), even=True
        )
    )
    mass: Numbers = field(
        metadata=quantity(
            "mass",
            POSITIVE,
            "mass of one pole with its winding",
            bounds=Bounds(5.0, 6e4, "it must be the mass of one pole, with its winding; check the unit, kg or t"),
        )
    )
    mass_radius: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "radius of the pole's centre of mass",
            bounds=Bounds(0.2, 12.8, "it is a radius, check that and the unit"),
            diameter="mass_diameter",
        )
    )
    face_radius: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "radius of the pole face at standstill",
            from_gap=True,
            bounds=Bounds(0.22, 13.0, "it is a radius, check that and the unit"),
            diameter="face_diameter",
        )
    )
    face_length: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "axial length of the pole face; the rim length when absent", bounds=Bounds(0.04, 8.0)
        ),
    )
    radial_stiffness: Numbers = field(
        default=math.inf,
        metadata=quantity(
            "stiffness",
            POSITIVE,
            "radial stiffness of one pole on its seat",
            bounds=Bounds(1e7, 2e12, "one pole seat has 1e9 to 1e11 N/m"),
        ),
    )
    attachment_area: Numbers | None = field(
        default=None,
        metadata=quantity(
            "area", POSITIVE, "least section that holds one pole: all its dovetails or necks", bounds=Bounds(1e-4, 3.0)
        ),
    )
