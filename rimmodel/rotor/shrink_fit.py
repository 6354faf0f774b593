"""The shrink fit of the rim on its keys."""

import math
from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import (
    FINITE,
    NOT_NEGATIVE,
    POSITIVE,
    SEVERAL,
    Bounds,
    Checked,
    plain,
    quantity,
    text,
)
from rimmodel.units import mm

SETTLEMENTS = ("keys", "stack", "unknown")
"""What can have lost interference since assembly: bedding of keys and shims, growth of the stack, or either."""

MEAN_AGREES_WITHIN = 0.01e-3
"""Metres by which a stated mean interference may miss the mean of the keys: what a keying sheet rounds to."""


@dataclass(frozen=True)
class ShrinkFit(Checked):
    """RADIAL interference at standstill and one uniform temperature, and what takes from it.

    `friction_interference` is what friction at the ledge and the tangential keys adds in run-up and takes in
    run-down; `settlement` is lost for good since assembly, by keys and shims bedding in, and `stack_growth` by a
    rim whose bore has grown for good, by slip of its laminations or by yield, which narrows the air gap too.
    `settlement_of` says which of both explains what a recording shows to be lost.

    `interference` is the mean over the keys. `key_interference` says how they differ, one value a key in the
    direction of rotation from `first_key_angle`; another `interference` moves all of them alike.
    `guide_stiffness` is what resists a sideways move of the whole rim: half the sum of the stiffnesses of the
    tangential keys. With a `tangential_clearance` above zero they hold nothing until that play is used up.
    """

    interference: Numbers = field(
        metadata=quantity(
            "small length",
            FINITE,
            "mean radial interference at standstill",
            derived=True,
            bounds=Bounds(-0.01, 0.02, "it is radial, 0.2 to 0.5 mm per m of bore radius; check the unit"),
            diameter="interference_on_diameter",
        )
    )
    interference_tolerance: Numbers = field(
        default=0.0,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "half-width of the interference, two standard uncertainties",
            bounds=Bounds(1e-6, 0.005, or_zero=True),
        ),
    )
    friction_interference: Numbers = field(
        default=0.0,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "apparent interference from friction",
            bounds=Bounds(1e-7, 0.005, or_zero=True),
        ),
    )
    settlement: Numbers = field(
        default=0.0,
        metadata=quantity("small length", FINITE, "interference lost since assembly", bounds=Bounds(-0.01, 0.02)),
    )
    key_stiffness: Numbers = field(
        default=math.inf,
        metadata=quantity(
            "stiffness",
            POSITIVE,
            "radial stiffness of one key with its shims",
            bounds=Bounds(1e7, 1e14, "one key with its shims has 1e9 to 1e11 N/m"),
        ),
    )
    key_count: Numbers | None = field(
        default=None, metadata=plain(SEVERAL, "number of keys; one at each arm when absent", bounds=Bounds(2, 300))
    )
    key_width: Numbers | None = field(
        default=None,
        metadata=quantity("length", POSITIVE, "width of one key along the rim bore", bounds=Bounds(0.005, 2.0)),
    )
    key_interference: tuple[float, ...] | None = field(
        default=None,
        metadata=quantity(
            "small length",
            FINITE,
            "radial interference of each key, from the first",
            several=True,
            bounds=Bounds(-0.01, 0.02, "it is radial, 0.2 to 0.5 mm per m of bore radius; check the unit"),
        ),
    )
    key_interference_tolerance: Numbers = field(
        default=0.0,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "half-width of one key's interference, two standard uncertainties",
            bounds=Bounds(1e-6, 0.005, or_zero=True),
        ),
    )
    first_key_angle: Numbers = field(
        default=0.0,
        metadata=quantity(
            "angle",
            FINITE,
            "angle of key 1 in the turning frame, + with rotation",
            bounds=Bounds(-6.3, 6.3, "one turn at most"),
        ),
    )
    tangential_clearance: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "play of the tangential keys, radius; not known when absent",
            bounds=Bounds(1e-6, 0.02, or_zero=True),
        ),
    )
    guide_stiffness: Numbers = field(
        default=0.0,
        metadata=quantity(
            "stiffness",
            NOT_NEGATIVE,
            "of the tangential keys against sideways movement of the rim",
            bounds=Bounds(1e6, 1e14, or_zero=True),
        ),
    )
    assembly_clearance: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "radial play wanted over the keys while the hot rim is keyed",
            bounds=Bounds(1e-6, 0.02, or_zero=True),
        ),
    )
    stack_growth: Numbers = field(
        default=0.0,
        metadata=quantity(
            "small length", FINITE, "growth of the rim bore for good since assembly", bounds=Bounds(-0.01, 0.02)
        ),
    )
    settlement_of: str = field(
        default="unknown", metadata=text("what lost the interference that a recording does not find", SETTLEMENTS)
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.key_interference is not None and (not np.ndim(self.key_interference) or len(self.key_interference) < 2):
            raise ValueError("ShrinkFit: key_interference must hold one value for each key, two at least")


def key_list_fault(key_interference: tuple[float, ...] | None, key_count: Numbers | None) -> str | None:
    """What is wrong between the list of key interferences and the number of keys, or None.

    Parameters
    ----------
    key_interference : tuple of float, m
    key_count : float or array, -
    """
    if key_interference is None:
        return None
    given = len(key_interference)
    if key_count is None:
        return f"fit.key_interference has {given} values, but the number of keys is not known; give fit.key_count"
    if given != key_count:
        return f"fit.key_interference has {given} values; it must have one for each of the {key_count:g} keys"
    return None


def resolve_interference(fit: dict[str, object]) -> str | None:
    """Fill a missing mean interference from those of the keys; returns what is wrong, or None."""
    keys, mean = fit.get("key_interference"), fit.get("interference")
    if not isinstance(keys, tuple):
        return None if mean is not None else "fit: give interference, or key_interference for each key"
    own = math.fsum(keys) / len(keys)
    if isinstance(mean, float) and abs(mean - own) > MEAN_AGREES_WITHIN:
        return (
            f"fit.interference is {mm(mean, 'g')}, the mean of key_interference {mm(own, '.4g')}; "
            f"they must agree within {mm(MEAN_AGREES_WITHIN, 'g')}; leave interference out to take the mean"
        )
    fit["interference"] = own
    return None
