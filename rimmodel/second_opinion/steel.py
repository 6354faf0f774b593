"""The material of a part as a finite-element deck states it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Steel:
    """A law with two directions: radial, which is that of the axis too, and hoop.

    Parameters
    ----------
    radial_modulus : float, Pa
    poisson_ratio : float, -
        Hoop strain per radial strain under radial stress, sign turned.
    density : float, kg/m3
    thermal_expansion : float, 1/K
    hoop_factor : float, -
        Hoop modulus over radial modulus.
    shear_modulus : float, Pa, optional
        In the plane; that of even steel when absent.
    """

    radial_modulus: float
    poisson_ratio: float
    density: float
    thermal_expansion: float = 0.0
    hoop_factor: float = 1.0
    shear_modulus: float | None = None

    @property
    def even_shear_modulus(self) -> float:
        """Shear modulus of even steel of the radial modulus, Pa."""
        return self.radial_modulus / (2 * (1 + self.poisson_ratio))

    def law(self) -> list[str]:
        """Cards of the elastic law: two numbers where it is the same in all directions, nine where it is not."""
        radial, ratio, factor = self.radial_modulus, self.poisson_ratio, self.hoop_factor
        if factor == 1 and self.shear_modulus is None:
            return ["*ELASTIC", f"{radial:.14g}, {ratio:.14g}"]
        even, shear = self.even_shear_modulus, self.shear_modulus or self.even_shear_modulus
        moduli = f"{radial:.14g}, {radial * factor:.14g}, {radial:.14g}"
        ratios = f"{ratio:.14g}, {ratio:.14g}, {ratio * factor:.14g}"  # radial-hoop, radial-axial, hoop-axial
        return [
            "*ELASTIC, TYPE=ENGINEERING CONSTANTS",
            f"{moduli}, {ratios}, {shear:.14g}, {even:.14g},",
            f"{even:.14g},",
        ]

    def section(self, name: str, elements: str, axes: str) -> list[str]:
        """Cards of the material, and of the elements that are made of it."""
        return [
            *(f"*MATERIAL, NAME={name}STEEL", *self.law()),
            *("*DENSITY", f"{self.density:.14g}", "*EXPANSION", f"{self.thermal_expansion:.14g}"),
            f"*SOLID SECTION, ELSET={elements}, MATERIAL={name}STEEL, ORIENTATION={axes}",
        ]
