"""The poles that hang on the rim."""

import math
from dataclasses import dataclass, field

from rimmodel.rotor.quantity import POSITIVE, SEVERAL, Checked, Numbers, plain, quantity


@dataclass(frozen=True)
class Poles(Checked):
    """Number, mass and radii of the poles; each is rigid unless its radial stiffness is given."""

    count: Numbers = field(metadata=plain(SEVERAL, "number of poles"))
    mass: Numbers = field(metadata=quantity("mass", POSITIVE, "mass of one pole with its winding"))
    mass_radius: Numbers = field(metadata=quantity("length", POSITIVE, "radius of the pole's centre of mass"))
    face_radius: Numbers = field(
        metadata=quantity("length", POSITIVE, "radius of the pole face at standstill", from_gap=True)
    )
    face_length: Numbers | None = field(
        default=None, metadata=quantity("length", POSITIVE, "axial length of the pole face; the rim length when absent")
    )
    radial_stiffness: Numbers = field(
        default=math.inf, metadata=quantity("stiffness", POSITIVE, "radial stiffness of one pole on its seat")
    )
    attachment_area: Numbers | None = field(
        default=None,
        metadata=quantity("area", POSITIVE, "least section that holds one pole: all its dovetails or necks"),
    )
