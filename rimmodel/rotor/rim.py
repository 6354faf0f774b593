"""The laminated rim."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.elastic import Ring
from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.rotor.material import Material
from rimmodel.rotor.quantity import (
    COUNT,
    FINITE,
    HOOP_SHARE,
    NOT_NEGATIVE,
    ONE_OR_MORE,
    POSITIVE,
    SHARE,
    Checked,
    Numbers,
    plain,
    quantity,
)


@dataclass(frozen=True)
class ShapeHarmonic(Checked):
    """One harmonic of the as-built outside of the rim: ``amplitude cos(harmonic (theta - phase))``, + outward.

    Harmonic 1 is the eccentricity of the outside, poles and all, against the bore.
    """

    harmonic: int = field(metadata=plain(COUNT, "waves around the rim: 1 is eccentricity, 2 ovality"))
    amplitude: float = field(metadata=quantity("small length", NOT_NEGATIVE, "amplitude, half of peak to valley"))
    phase: float = field(
        default=0.0, metadata=quantity("angle", FINITE, "angle of a crest in the turning frame, + with rotation")
    )


@dataclass(frozen=True)
class Rim(Checked):
    """The rim as a ring: radii at the keys and at the pole seats, gross length, and what stacking does to steel.

    `hoop_stiffness_factor` is E_hoop / E_radial of the overlapped segments (0.6 to 1); it scales growth, not mass.
    `net_section_factor` is net over gross hoop section; it serves strength only. `bending_stiffness_factor` is the
    bending stiffness of the stack over that of a solid section. `shape` is the outside as built, before keying.
    """

    material: Material
    inner_radius: Numbers = field(metadata=quantity("length", POSITIVE, "bore radius, where the keys bear"))
    outer_radius: Numbers = field(metadata=quantity("length", POSITIVE, "outside radius, where the poles seat"))
    length: Numbers = field(metadata=quantity("length", POSITIVE, "axial length of the stack, gross"))
    stacking_factor: Numbers = field(default=1.0, metadata=plain(SHARE, "steel fraction of the stack"))
    hoop_stiffness_factor: Numbers = field(
        default=1.0, metadata=plain(HOOP_SHARE, "hoop over radial modulus of the overlapped segments")
    )
    net_section_factor: Numbers = field(default=1.0, metadata=plain(SHARE, "net over gross hoop section, for strength"))
    bending_stiffness_factor: Numbers = field(
        default=1.0, metadata=plain(HOOP_SHARE, "bending stiffness of the stack over that of a solid section")
    )
    stress_concentration_factor: Numbers | None = field(
        default=None, metadata=plain(ONE_OR_MORE, "local peak over net hoop stress at holes and roots")
    )
    shape: tuple[ShapeHarmonic, ...] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        if not np.all(np.asarray(self.outer_radius) > np.asarray(self.inner_radius)):
            raise ValueError(
                f"Rim: outer_radius is {self.outer_radius} m, inner_radius {self.inner_radius} m; "
                "the outside must be larger than the bore"
            )

    @property
    def ring(self) -> Ring:
        """The smeared ring that answers to gross stresses."""
        steel = self.material
        return Ring(
            self.inner_radius,
            self.outer_radius,
            np.asarray(self.stacking_factor) * np.asarray(steel.young_modulus),
            steel.poisson_ratio,
            np.asarray(self.stacking_factor) * np.asarray(steel.density),
            self.hoop_stiffness_factor,
            steel.thermal_expansion,
        )

    @property
    def harmonic_ring(self) -> HarmonicRing:
        """The same ring, for pressures that vary around the bore."""
        steel = self.material
        return HarmonicRing(
            self.inner_radius,
            self.outer_radius,
            np.asarray(self.stacking_factor) * np.asarray(steel.young_modulus),
            steel.poisson_ratio,
            self.hoop_stiffness_factor,
            bending_stiffness_factor=self.bending_stiffness_factor,
        )
