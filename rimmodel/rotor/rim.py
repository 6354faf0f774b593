"""The laminated rim."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.elastic import Ring, Teeth
from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.rotor.material import Material
from rimmodel.rotor.quantity import (
    COUNT,
    FINITE,
    FLANK,
    HOOP_SHARE,
    NOT_NEGATIVE,
    ONE_OR_MORE,
    PART,
    POSITIVE,
    SHARE,
    Bounds,
    Checked,
    plain,
    quantity,
)


@dataclass(frozen=True)
class ShapeHarmonic(Checked):
    """One harmonic of the as-built outside of the rim: ``amplitude cos(harmonic (theta - phase))``, + outward.

    Harmonic 1 is the eccentricity of the outside, poles and all, against the bore.
    """

    harmonic: int = field(
        metadata=plain(COUNT, "waves around the rim: 1 is eccentricity, 2 ovality", bounds=Bounds(1, 500))
    )
    amplitude: float = field(
        metadata=quantity(
            "small length", NOT_NEGATIVE, "amplitude, half of peak to valley", bounds=Bounds(1e-6, 0.03, or_zero=True)
        )
    )
    phase: float = field(
        default=0.0, metadata=quantity("angle", FINITE, "angle of a crest in the turning frame, + with rotation")
    )


@dataclass(frozen=True)
class Rim(Checked):
    """The rim as a ring: radii at the keys and at the pole seats, gross length, and what stacking does to steel.

    With poles hung in dovetail or T-head slots, `outer_radius` is the outside of the teeth, where the pole bodies sit,
    and only the ring from the bore to the slot bottom (`slot_depth` further in) carries hoop stress: slots of 60 to
    120 mm in a rim of 440 mm hide 9 to 26 % of growth when they are left out. The teeth hang on that ring as mass.
    `slot_share` is the part of the circumference that the slots take (number of poles times mean slot width over
    ``2 pi r``). The pole roots in the slots belong to the mass of the poles; at 0 the teeth count as steel all round,
    which is on the safe side by the mass of the roots. `slot_flank_angle` is that between the flank that holds a pole
    and the radius: a right angle in a T-head slot, about 30 deg in a dovetail, which wedges the slot open.
    `hoop_stiffness_factor` is E_hoop / E_radial of the overlapped segments (0.6 to 1); it scales growth, not mass.
    `net_section_factor` is net over gross hoop section; it serves strength only. `bending_stiffness_factor` is the
    bending stiffness of the stack over that of a solid section. `shape` is the outside as built, before keying.
    `shear_modulus` is that of the stack in the plane of its sheets, over the gross section: sheets that slide on each
    other have less than even steel, which is what they have when it is absent. It decides how the rim scallops between
    keys: at a fifth of that of even steel waves 4, 6 and 12 are softer by 18, 38 and 115 %.
    """

    material: Material
    inner_radius: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "bore radius, where the keys bear",
            bounds=Bounds(0.15, 12.0, "it is a radius, check that and the unit"),
            diameter="inner_diameter",
        )
    )
    outer_radius: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "outside radius: top of the teeth, where the pole bodies sit",
            bounds=Bounds(0.2, 12.5, "it is a radius, check that and the unit"),
            diameter="outer_diameter",
        )
    )
    length: Numbers = field(
        metadata=quantity("length", POSITIVE, "axial length of the stack, gross", bounds=Bounds(0.05, 8.0))
    )
    stacking_factor: Numbers = field(
        default=1.0,
        metadata=plain(
            SHARE, "steel fraction of the stack", bounds=Bounds(0.7, 1.0, "a stack is 0.93 to 0.99 steel, as a share")
        ),
    )
    hoop_stiffness_factor: Numbers = field(
        default=1.0,
        metadata=plain(
            HOOP_SHARE,
            "hoop over radial modulus of the overlapped segments",
            bounds=Bounds(0.2, 1.5, "overlapped segments make 0.6 to 1, as a share"),
        ),
    )
    net_section_factor: Numbers = field(
        default=1.0,
        metadata=plain(
            SHARE,
            "net over gross hoop section, for strength",
            bounds=Bounds(0.2, 1.0, "joints and holes leave 0.6 to 0.95, as a share"),
        ),
    )
    bending_stiffness_factor: Numbers = field(
        default=1.0,
        metadata=plain(
            HOOP_SHARE,
            "bending stiffness of the stack over that of a solid section",
            bounds=Bounds(0.01, 1.5, "a stack has 0.3 to 1 of a solid section, as a share"),
        ),
    )
    shear_modulus: Numbers | None = field(
        default=None,
        metadata=quantity("shear modulus", POSITIVE, "in-plane, of the stack; that of even steel when absent"),
    )
    stress_concentration_factor: Numbers | None = field(
        default=None,
        metadata=plain(
            ONE_OR_MORE,
            "local peak over net hoop stress at holes and roots",
            bounds=Bounds(1.0, 15.0, "holes and roots make 2 to 4"),
        ),
    )
    slot_depth: Numbers = field(
        default=0.0, metadata=quantity("length", NOT_NEGATIVE, "radial depth of the pole slots below outer_radius")
    )
    slot_share: Numbers = field(
        default=0.0, metadata=plain(PART, "part of the circumference that the slots take; with slot_depth")
    )
    slot_flank_angle: Numbers = field(
        default=np.pi / 2,
        metadata=quantity("angle", FLANK, "between slot flank and radius: 90 deg in a T-head slot, less in a dovetail"),
    )
    shape: tuple[ShapeHarmonic, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        if not np.all(np.asarray(self.outer_radius) > np.asarray(self.inner_radius)):
            raise ValueError(
                f"Rim: outer_radius is {self.outer_radius} m, inner_radius {self.inner_radius} m; "
                "the outside must be larger than the bore"
            )
        if not np.all(np.asarray(self.slot_bottom_radius) > np.asarray(self.inner_radius)):
            raise ValueError(
                f"Rim: slot_depth is {self.slot_depth} m; it must be less than the depth of the rim, "
                f"from inner_radius, {self.inner_radius} m, to outer_radius, {self.outer_radius} m"
            )

        steel = self.material
        if self.shear_modulus is not None:
            most = np.asarray(steel.young_modulus) / (2 * (1 + np.asarray(steel.poisson_ratio)))
            if not np.all(np.asarray(self.shear_modulus) <= 1.01 * most):
                raise ValueError(
                    f"Rim: shear_modulus is {np.max(self.shear_modulus):.4g} Pa; it must be at most that of its "
                    f"solid steel, {float(np.max(most)):.4g} Pa"
                )

    @property
    def slot_bottom_radius(self) -> Numbers:
        """Outer radius of the ring that carries hoop stress, m."""
        bottom: Numbers = np.asarray(self.outer_radius) - np.asarray(self.slot_depth)
        return bottom

    @property
    def net_factor(self) -> Numbers:
        """Net steel section over gross section, -: a gross stress over it is that of the steel."""
        net: Numbers = np.asarray(self.stacking_factor) * np.asarray(self.net_section_factor)
        return net

    @property
    def ring(self) -> Ring:
        """The smeared ring that answers to gross stresses: from the bore to the slot bottom."""
        steel = self.material
        return Ring(
            self.inner_radius,
            self.slot_bottom_radius,
            np.asarray(self.stacking_factor) * np.asarray(steel.young_modulus),
            steel.poisson_ratio,
            np.asarray(self.stacking_factor) * np.asarray(steel.density),
            self.hoop_stiffness_factor,
            steel.thermal_expansion,
        )

    @property
    def teeth(self) -> Teeth:
        """What stands on that ring between the slots, smeared over the stack as the ring is."""
        stacking = np.asarray(self.stacking_factor)
        return Teeth(
            self.slot_bottom_radius,
            self.outer_radius,
            stacking * np.asarray(self.material.young_modulus),
            stacking * np.asarray(self.material.density),
            1.0 - np.asarray(self.slot_share),
        )

    @property
    def harmonic_ring(self) -> HarmonicRing:
        """The same ring, for pressures that vary around the bore."""
        steel = self.material
        return HarmonicRing(
            self.inner_radius,
            self.slot_bottom_radius,
            np.asarray(self.stacking_factor) * np.asarray(steel.young_modulus),
            steel.poisson_ratio,
            self.hoop_stiffness_factor,
            self.shear_modulus,
            bending_stiffness_factor=self.bending_stiffness_factor,
        )
