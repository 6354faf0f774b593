"""The shrink fit of the rim on its keys."""

import math
from dataclasses import dataclass, field

from rimmodel.rotor.quantity import FINITE, NOT_NEGATIVE, POSITIVE, SEVERAL, Checked, Numbers, plain, quantity


@dataclass(frozen=True)
class Fit(Checked):
    """RADIAL interference at standstill and one uniform temperature, and what takes from it.

    `friction_interference` is what friction at the ledge and the tangential keys adds on the way up and takes on
    the way down; `settlement` is lost for good since assembly, by laminations, keys and shims bedding in.
    """

    interference: Numbers = field(metadata=quantity("small length", FINITE, "radial interference at standstill"))
    interference_tolerance: Numbers = field(
        default=0.0,
        metadata=quantity("small length", NOT_NEGATIVE, "half-width of the interference, two standard uncertainties"),
    )
    friction_interference: Numbers = field(
        default=0.0, metadata=quantity("small length", NOT_NEGATIVE, "interference that friction feigns")
    )
    settlement: Numbers = field(
        default=0.0, metadata=quantity("small length", FINITE, "interference lost since assembly")
    )
    key_stiffness: Numbers = field(
        default=math.inf, metadata=quantity("stiffness", POSITIVE, "radial stiffness of one key with its shims")
    )
    key_count: Numbers | None = field(
        default=None, metadata=plain(SEVERAL, "number of keys; one at each arm when absent")
    )
