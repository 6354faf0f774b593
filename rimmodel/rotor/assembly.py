"""How bore and rotor stand to each other: shape of the bore, centre, orbit, shaft, and what assembly may leave."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import (
    FINITE,
    NOT_NEGATIVE,
    ONE_OR_MORE,
    PART,
    POSITIVE,
    SHARE,
    Bounds,
    Checked,
    Rule,
    plain,
    quantity,
)

WAVES = Rule(
    "a whole number of 2 or more (1 is the centre: centre_offset)", lambda value: (value >= 2) & (value % 1 == 0)
)

PUBLISHED = "US Bureau of Reclamation, FIST 2-7, appendix C: 5 % of the nominal gap; confirm in your copy"
STATED = "stated in the case"
OF_GAP = Bounds(0.0, 0.3, "it is a share of the cold gap, 0.05 for 5 %")


@dataclass(frozen=True)
class BoreHarmonic(Checked):
    """One harmonic of the bore as surveyed: ``amplitude cos(harmonic (theta - phase))``, + outward.

    The angle counts from a fixed mark on the stator, in the direction of rotation.
    """

    harmonic: int = field(metadata=plain(WAVES, "waves around the bore: 2 is ovality", bounds=Bounds(2, 500)))
    amplitude: float = field(
        metadata=quantity(
            "small length", NOT_NEGATIVE, "amplitude, half of peak to valley", bounds=Bounds(1e-6, 0.03, or_zero=True)
        )
    )
    phase: float = field(
        default=0.0, metadata=quantity("angle", FINITE, "angle of a crest on the stator, + with rotation")
    )


@dataclass(frozen=True)
class Restraint(Checked):
    """Where frame and foundation hold the warm core back: a wave of its free growth that does not happen.

    The bore grows by ``1 - share cos(harmonic (theta - phase))`` of what it would freely.
    """

    harmonic: int = field(metadata=plain(WAVES, "waves around the bore", bounds=Bounds(2, 500)))
    share: float = field(metadata=plain(SHARE, "part of the free growth that is held back at a crest"))
    phase: float = field(
        default=0.0, metadata=quantity("angle", FINITE, "angle of a held place on the stator, + with rotation")
    )


@dataclass(frozen=True)
class Assembly(Checked):
    """Shape of the bore, centre and shaft, as surveyed at standstill, 20 degC, without field.

    What is not stated has not been measured: the least gap then takes off what the assembly tolerance of the matching
    share allows, in the worst place. The shares are of the cold gap. `centre_offset` is that of the axis of rotation
    from the centre of the bore. `orbit` is the radius of the shaft's motion at the rotor, of any frequency and phase.
    `carter_factor` and `saturation_factor` widen the gap in which the field changes when the rotor moves;
    `pull_share` is what equalising currents in parallel circuits leave of the pull that is out of balance.
    `shaft_stiffness` is that of shaft, bearings and brackets together at the rotor.
    """

    stator_shape: tuple[BoreHarmonic, ...] = ()
    stator_restraint: tuple[Restraint, ...] = ()
    centre_offset: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "axis of rotation from the centre of the bore",
            bounds=Bounds(1e-6, 0.03, or_zero=True),
        ),
    )
    centre_offset_angle: Numbers = field(
        default=0.0, metadata=quantity("angle", FINITE, "towards where on the stator, + with rotation")
    )
    orbit: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "radius of the shaft orbit at the rotor, of any phase",
            bounds=Bounds(1e-6, 0.03, or_zero=True),
        ),
    )
    stator_lean: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "most by which the bore leans from the vertical over its length",
            bounds=Bounds(1e-6, 0.03, or_zero=True),
        ),
    )
    rotor_lean: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "most by which the pole faces lean from the vertical over their length",
            bounds=Bounds(1e-6, 0.03, or_zero=True),
        ),
    )
    shaft_stiffness: Numbers | None = field(
        default=None,
        metadata=quantity(
            "stiffness", POSITIVE, "of shaft, bearings and brackets at the rotor; rigid when absent",
            bounds=Bounds(1e6, 1e12),
        ),
    )  # fmt: skip
    carter_factor: Numbers = field(
        default=1.0,
        metadata=plain(ONE_OR_MORE, "effective over real gap, for slots", bounds=Bounds(1.0, 2.0, "it is 1.05 to 1.3")),
    )
    saturation_factor: Numbers = field(
        default=1.0,
        metadata=plain(
            ONE_OR_MORE,
            "field current over that which the gap alone needs",
            bounds=Bounds(1.0, 3.0, "it is 1.1 to 1.5"),
        ),
    )
    pull_share: Numbers = field(
        default=1.0, metadata=plain(SHARE, "unbalanced pull that parallel circuits and damper leave")
    )
    gap_share: Numbers = field(
        default=0.05,
        metadata=plain(PART, "mean gap off its nominal value, over the cold gap", source=PUBLISHED, bounds=OF_GAP),
    )
    stator_circularity_share: Numbers = field(
        default=0.05,
        metadata=plain(PART, "radius of the bore off its mean, over the cold gap", source=PUBLISHED, bounds=OF_GAP),
    )
    rotor_circularity_share: Numbers = field(
        default=0.05,
        metadata=plain(
            PART, "radius of the pole faces off its mean, over the cold gap", source=PUBLISHED, bounds=OF_GAP
        ),
    )
    stator_verticality_share: Numbers = field(
        default=0.05,
        metadata=plain(PART, "lean of the bore over its length, over the cold gap", source=PUBLISHED, bounds=OF_GAP),
    )
    rotor_verticality_share: Numbers = field(
        default=0.05,
        metadata=plain(
            PART, "lean of the pole faces over their length, over the cold gap", source=PUBLISHED, bounds=OF_GAP
        ),
    )
    concentricity_share: Numbers = field(
        default=0.05,
        metadata=plain(
            PART, "axis of rotation off the centre of the bore, over the cold gap", source=PUBLISHED, bounds=OF_GAP
        ),
    )

    def source(self, name: str) -> str:
        """Where the value of a share comes from: the published table, or the case where it is not the default.

        >>> Assembly(concentricity_share=0.04).source("concentricity_share")
        'stated in the case'
        """
        stored = next(entry for entry in fields(self) if entry.name == name)
        return str(stored.metadata["source"]) if getattr(self, name) == stored.default else STATED
