"""The air gap and the stator bore on its other side."""

from dataclasses import dataclass, field

from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, Checked, Numbers, quantity


@dataclass(frozen=True)
class AirGap(Checked):
    """Mean radial gap, pole face to stator bore, as assembled: standstill, one uniform temperature, no field."""

    cold: Numbers = field(metadata=quantity("small length", POSITIVE, "mean radial gap as assembled", from_gap=True))
    stator_bore_radius: Numbers | None = field(
        default=None, metadata=quantity("length", POSITIVE, "stator bore; face_radius + cold when absent")
    )
    minimum_allowed: Numbers | None = field(
        default=None, metadata=quantity("small length", NOT_NEGATIVE, "least mean gap that is allowed")
    )
    stator_thermal_expansion: Numbers | None = field(
        default=None,
        metadata=quantity("thermal expansion", NOT_NEGATIVE, "of the stator bore; the rim's when absent"),
    )
    stator_core_depth: Numbers | None = field(
        default=None, metadata=quantity("length", POSITIVE, "radial depth of the stator core; rigid when absent")
    )
    stator_core_modulus: Numbers | None = field(
        default=None, metadata=quantity("elastic modulus", POSITIVE, "hoop modulus of the core; rigid when absent")
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.stator_core_depth is None) != (self.stator_core_modulus is None):
            raise ValueError("AirGap: give both stator_core_depth and stator_core_modulus, or neither for a rigid core")
