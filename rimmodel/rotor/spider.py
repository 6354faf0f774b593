"""Three descriptions of the spider that carries the rim."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.material import Material
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, SEVERAL, Bounds, Checked, plain, quantity
from rimmodel.units import RPM


@dataclass(frozen=True)
class DiscSpider(Checked):
    """A disc that reaches to the rim bore: of constant thickness, or by a profile; `bore_radius` 0 is a solid disc.

    `profile` holds pairs of radius and axial thickness (m) from bore to outside, straight between them; a radius given
    twice is a step. It takes the place of `bore_radius` and `thickness`.
    """

    material: Material
    bore_radius: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length",
            NOT_NEGATIVE,
            "bore radius of the disc",
            bounds=Bounds(0.02, 11.0, "it is a radius, check that and the unit", or_zero=True),
            diameter="bore_diameter",
        ),
    )
    thickness: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "axial thickness of the disc, all plates together", bounds=Bounds(0.003, 8.0)
        ),
    )
    profile: tuple[tuple[float, float], ...] | None = None
    """Pairs of radius and axial thickness, m."""

    def __post_init__(self) -> None:
        super().__post_init__()
        plain_disc = (self.bore_radius is not None, self.thickness is not None)
        if self.profile is None and not all(plain_disc):
            missing = "bore_radius" if plain_disc[1] else "thickness"
            raise ValueError(f"DiscSpider: {missing} is missing; give bore_radius and thickness, or a profile")
        if self.profile is not None and any(plain_disc):
            raise ValueError("DiscSpider: profile takes the place of bore_radius and thickness; give it without them")
        if self.profile is not None:
            _check_profile(self.profile)

    @property
    def inner_radius(self) -> Numbers:
        """Bore radius, m."""
        return self.profile[0][0] if self.profile is not None else _given(self.bore_radius)

    @property
    def outer_thickness(self) -> Numbers:
        """Axial thickness at the rim bore, m."""
        return self.profile[-1][1] if self.profile is not None else _given(self.thickness)


def _given(value: Numbers | None) -> Numbers:
    if value is None:
        raise ValueError("DiscSpider: give bore_radius and thickness, or a profile")
    return value


def _check_profile(profile: tuple[tuple[float, float], ...]) -> None:
    """Raise ValueError for a profile that is no disc; rows are counted from 1."""
    if len(profile) < 2 or any(len(row) != 2 for row in profile):
        raise ValueError("DiscSpider: profile must hold two or more pairs of radius and thickness")
    for number, (radius, thickness) in enumerate(profile, 1):
        if not 0 <= radius < np.inf:
            raise ValueError(f"DiscSpider: profile row {number} has radius {radius:g} m; it must be zero or above")
        if not 0 < thickness < np.inf:
            raise ValueError(f"DiscSpider: profile row {number} has thickness {thickness:g} m; it must be above zero")
    radii = np.array([row[0] for row in profile])
    steps = np.diff(radii)
    if np.any(steps < 0):
        number = int(np.argmax(steps < 0)) + 2
        raise ValueError(
            f"DiscSpider: profile row {number} has radius {radii[number - 1]:g} m, row {number - 1} "
            f"{radii[number - 2]:g} m; radii must rise from bore to outside"
        )
    if steps[0] == 0 or steps[-1] == 0 or np.any((steps[1:] == 0) & (steps[:-1] == 0)):
        raise ValueError(
            "DiscSpider: profile gives a radius twice at its bore or outside, or three times; a step within the disc "
            "is a radius given twice"
        )


@dataclass(frozen=True)
class ArmSpider(Checked):
    """Prismatic arms from a hub to the rim bore; the hub is rigid unless its bore and length are given."""

    material: Material
    count: Numbers = field(metadata=plain(SEVERAL, "number of arms", bounds=Bounds(2, 120)))
    arm_area: Numbers = field(metadata=quantity("area", POSITIVE, "cross section of one arm", bounds=Bounds(1e-4, 3.0)))
    hub_radius: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "radius at which the arms start",
            bounds=Bounds(0.05, 11.0, "it is a radius, check that and the unit"),
            diameter="hub_diameter",
        )
    )
    tip_mass: Numbers = field(
        default=0.0,
        metadata=quantity(
            "mass",
            NOT_NEGATIVE,
            "mass at the tip of one arm: key bar, flange",
            bounds=Bounds(0.1, 3e4, "it must be the mass at one arm", or_zero=True),
        ),
    )
    hub_bore_radius: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length",
            NOT_NEGATIVE,
            "bore radius of the hub; rigid hub when absent",
            bounds=Bounds(0.02, 10.0, "it is a radius, check that and the unit", or_zero=True),
            diameter="hub_bore_diameter",
        ),
    )
    hub_length: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "axial length of the hub; rigid hub when absent", bounds=Bounds(0.03, 10.0)
        ),
    )
    arm_second_moment: Numbers | None = field(
        default=None,
        metadata=quantity(
            "second moment of area",
            POSITIVE,
            "least second moment of area of one arm, for buckling",
            bounds=Bounds(1e-10, 1.0),
        ),
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
        metadata=quantity(
            "stiffness",
            POSITIVE,
            "total radial stiffness at the rim bore",
            bounds=Bounds(1e8, 1e13, "it is the total stiffness, usually 1e10 to 1e12 N/m"),
        )
    )
    growth: Numbers = field(
        metadata=quantity(
            "small length", NOT_NEGATIVE, "radial growth at growth_speed", bounds=Bounds(1e-7, 0.02, or_zero=True)
        )
    )
    growth_speed: Numbers = field(
        metadata=quantity(
            "speed",
            POSITIVE,
            "speed at which the growth is stated",
            bounds=Bounds(1 * RPM, 6000 * RPM, "check rpm against rad/s"),
        )
    )
    material: Material | None = None


Spider = DiscSpider | ArmSpider | GivenSpider
