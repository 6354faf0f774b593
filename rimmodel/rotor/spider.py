"""Three ways to describe the spider that carries the rim."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.rotor.material import Material
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, SEVERAL, Checked, Numbers, plain, quantity


@dataclass(frozen=True)
class DiscSpider(Checked):
    """A disc of constant thickness that reaches to the rim bore; `bore_radius` 0 is a solid disc."""

    material: Material
    bore_radius: Numbers = field(metadata=quantity("length", NOT_NEGATIVE, "bore radius of the disc"))
    thickness: Numbers = field(
        metadata=quantity("length", POSITIVE, "axial thickness of the disc, all plates together")
    )


@dataclass(frozen=True)
class ArmSpider(Checked):
    """Prismatic arms from a hub to the rim bore; the hub is rigid unless its bore and length are given."""

    material: Material
    count: Numbers = field(metadata=plain(SEVERAL, "number of arms"))
    arm_area: Numbers = field(metadata=quantity("area", POSITIVE, "cross section of one arm"))
    hub_radius: Numbers = field(metadata=quantity("length", POSITIVE, "radius at which the arms start"))
    tip_mass: Numbers = field(
        default=0.0, metadata=quantity("mass", NOT_NEGATIVE, "mass at the tip of one arm: key bar, flange")
    )
    hub_bore_radius: Numbers | None = field(
        default=None, metadata=quantity("length", NOT_NEGATIVE, "bore radius of the hub; rigid hub when absent")
    )
    hub_length: Numbers | None = field(
        default=None, metadata=quantity("length", POSITIVE, "axial length of the hub; rigid hub when absent")
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.hub_bore_radius is None) != (self.hub_length is None):
            raise ValueError("ArmSpider: give both hub_bore_radius and hub_length, or neither for a rigid hub")
        if self.hub_bore_radius is not None and not np.all(
            np.asarray(self.hub_bore_radius) < np.asarray(self.hub_radius)
        ):
            raise ValueError(
                f"ArmSpider: hub_bore_radius is {self.hub_bore_radius} m; "
                f"it must be below hub_radius, {self.hub_radius} m"
            )


@dataclass(frozen=True)
class GivenSpider(Checked):
    """A spider known by two numbers of a report: total radial stiffness, and growth at one stated speed.

    The stiffness is the sum of all radial forces over a uniform radial displacement at the rim bore. The growth is
    radial, at the rim bore, of the spider alone. Without a material the thermal expansion is that of the rim.
    """

    radial_stiffness: Numbers = field(
        metadata=quantity("stiffness", POSITIVE, "total radial stiffness at the rim bore")
    )
    growth: Numbers = field(metadata=quantity("small length", NOT_NEGATIVE, "radial growth at growth_speed"))
    growth_speed: Numbers = field(metadata=quantity("speed", POSITIVE, "speed at which the growth is stated"))
    material: Material | None = None


Spider = DiscSpider | ArmSpider | GivenSpider
