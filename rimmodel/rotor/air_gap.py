"""The air gap and the stator bore on its other side."""

from dataclasses import dataclass, field

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, Bounds, Checked, quantity


@dataclass(frozen=True)
class AirGap(Checked):
    """Mean radial gap, pole face to stator bore, as assembled: standstill, one uniform temperature, no field."""

    cold: Numbers = field(
        metadata=quantity(
            "small length",
            POSITIVE,
            "mean radial gap as assembled",
            from_gap=True,
            bounds=Bounds(1e-3, 0.08, "air gaps are 3 to 40 mm; check the unit"),
        )
    )
    stator_bore_radius: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length",
            POSITIVE,
            "stator bore; face_radius + cold when absent",
            bounds=Bounds(0.22, 13.1, "it is a radius, check that and the unit"),
            diameter="stator_bore_diameter",
        ),
    )
    minimum_allowed: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length", NOT_NEGATIVE, "least mean gap that is allowed", bounds=Bounds(0.2e-3, 0.08, or_zero=True)
        ),
    )
    stator_thermal_expansion: Numbers | None = field(
        default=None,
        metadata=quantity(
            "thermal expansion",
            NOT_NEGATIVE,
            "of the stator bore; the rim's when absent",
            bounds=Bounds(5e-6, 2.5e-5, or_zero=True),
        ),
    )
    stator_core_depth: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "radial depth of the stator core; rigid when absent", bounds=Bounds(0.03, 2.5)
        ),
    )
    stator_core_modulus: Numbers | None = field(
        default=None,
        metadata=quantity(
            "elastic modulus",
            POSITIVE,
            "hoop modulus of the core; rigid when absent",
            bounds=Bounds(1e10, 2.3e11, "a core has 50 to 200 GPa"),
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.stator_core_depth is None) != (self.stator_core_modulus is None):
            raise ValueError("AirGap: give both stator_core_depth and stator_core_modulus, or neither for a rigid core")
