"""How a rim differs along its length: shims and poles, and what its sheets do on each other."""

from __future__ import annotations

from dataclasses import dataclass, field

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import FINITE, NOT_NEGATIVE, POSITIVE, SEVERAL, Bounds, Checked, plain, quantity, text
from rimmodel.units import with_unit

Pair = tuple[float, float]
"""Lowest and highest value that is possible."""

SPIDERS = ("unknown", "local", "ends")
"""How the spider yields along the rim: unknown (both count), each place by itself, or straight between both ends."""


@dataclass(frozen=True)
class Axial(Checked):
    """Differences along the rim, upper end less lower end, linear between; its stack is cut into slices.

    `interference_taper` is what the shims differ by over the length of the rim, radial; `interference` of the fit stays
    the mean. Temperature along the rim belongs to a condition: `rim_temperature_taper`. Poles press on `pole_length` of
    the rim, of which the middle stands `pole_rise` above that of the rim; they press on all of it when it is absent.

    `shear_modulus` and `axial_modulus` are those of the pressed stack across its sheets, over the gross section, lowest
    and highest that is possible. Nobody measures them: they lie between nothing and solid steel when they are absent,
    and what follows is a band. An `axial_modulus` that is absent is the share of solid steel that `shear_modulus` is.
    `spider_yields` says whether each place of the spider yields to the pressure there ("local": arms that are plates as
    long as the rim), or its bars stay straight on discs at both ends ("ends"), the stiffest against a tilt.
    """

    interference_taper: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            FINITE,
            "radial interference at the upper end less that at the lower",
            bounds=Bounds(-0.005, 0.005, "shims differ by tenths of a millimetre over the length; check the unit"),
        ),
    )
    pole_length: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "of the rim on which the poles press; all when absent", bounds=Bounds(0.05, 8.0)
        ),
    )
    pole_rise: Numbers = field(
        default=0.0,
        metadata=quantity(
            "length", FINITE, "middle of the poles above the middle of the rim", bounds=Bounds(-2.0, 2.0)
        ),
    )
    shear_modulus: Pair | None = field(
        default=None,
        metadata=quantity(
            "stack modulus",
            NOT_NEGATIVE,
            "of the pressed stack across its sheets: lowest and highest; from zero to solid steel when absent",
            several=True,
        ),
    )
    axial_modulus: Pair | None = field(
        default=None,
        metadata=quantity(
            "stack modulus",
            NOT_NEGATIVE,
            "of the pressed stack along its axis: lowest and highest; the share of steel of shear_modulus when absent",
            several=True,
        ),
    )
    spider_yields: str = field(
        default="unknown", metadata=text("to the rim along its length: local, ends, or unknown (both count)", SPIDERS)
    )
    slices: int = field(
        default=48, metadata=plain(SEVERAL, "into which the rim is cut along its length", bounds=Bounds(2, 80))
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in ("shear_modulus", "axial_modulus"):
            pair = getattr(self, name)
            if pair is not None and (len(pair) != 2 or not pair[0] <= pair[1]):
                given = ", ".join(with_unit(value, "stack modulus", ".4g") for value in pair)
                raise ValueError(
                    f"Axial: {name} is {given}; it must be a pair, the lowest and the highest value that is possible "
                    "(twice the same where it is known)"
                )
