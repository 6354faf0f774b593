"""What the numbers of a case make of the machine: masses, inertia, frequency, diameters, as a drawing gives them.

Each line has the band in which it usually lies and one in which it can lie at all, and says from where both are. A
slip of unit, of place or of meaning shows here, where a drawing or a rating plate has the same number.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, pi

import numpy as np

from rimmodel.rotor.case.stated import Stated
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.spider import ArmSpider, DiscSpider
from rimmodel.units import MILLIMETRE, rpm

MEMORY = "from memory, confirm"
PRACTICE = "common practice, no source"
PRINT = "textbook tables"
DERIVED = "follows from the densities of steel and copper"

SUPPLIES = (50.0, 60.0)
"""Hz of networks; the 16.7 or 25 Hz of a railway, which pairs taken for poles make too, is to be stated."""

ON_SUPPLY = 0.015
"""Share by which the frequency at rated speed may miss that of a network: rated speeds are printed to 0.1 or 1 rpm."""

STATED_FREQUENCY_WITHIN = 0.01
STATED_RIM_MASS = (0.75, 1.15)
"""Share of the mass of the ring that a stated rim mass may be: holes, ducts and slots take mass, studs add a bit."""
STATED_INERTIA = (0.8, 1.4)
"""Share of rim, poles and spider that a stated inertia may be: shaft, runner and an unknown spider add to it."""


@dataclass(frozen=True)
class DrawingLine:
    """One derived number, with the band that is usual and the one outside which no claim is judged.

    Attributes
    ----------
    value : float, SI
    unit : str
        Of print.
    size : float, SI
        Of the unit of print.
    usual, possible : pair of float, SI
    source : str
        Of the bands, empty where there is none.
    slip : str
        What a value outside is a sign of, and what to give besides to settle it.
    settled : bool
        A second number of the drawing agrees, so that the value is as meant.
    """

    name: str
    value: float
    unit: str
    size: float
    decimals: int
    usual: tuple[float, float] = (-inf, inf)
    possible: tuple[float, float] = (-inf, inf)
    source: str = ""
    slip: str = ""
    settled: bool = False

    def printed(self, value: float) -> str:
        """A value (SI) in the unit of print."""
        return f"{value / self.size:.{self.decimals}f} {self.unit}".strip()

    @property
    def text(self) -> str:
        """The value in its unit of print."""
        return self.printed(self.value)

    @property
    def band(self) -> str:
        """The usual band in words, empty where there is none."""
        low, high = self.usual
        if not np.isfinite([low, high]).any():
            return ""
        if not np.isfinite(high):
            return f"usually {self.printed(low)} or more"
        return f"usually {self.printed(low).removesuffix(self.unit).strip()} to {self.printed(high)}"

    @property
    def remark(self) -> str:
        """What to look at where the value lies outside the usual band; empty inside."""
        if self.usual[0] <= self.value <= self.usual[1]:
            return ""
        return f"{self.name} is {self.text}, {self.band} ({self.source}): {self.slip}"

    @property
    def blocks(self) -> bool:
        """Outside what can be, and nothing else settles it."""
        return not self.settled and not self.possible[0] <= self.value <= self.possible[1]


def rim_mass(rotor: Rotor) -> float:
    """Mass of the rim as a full ring of its stacking factor.

    Returns
    -------
    float, kg
    """
    rim = rotor.rim
    section = pi * (float(rim.outer_radius) ** 2 - float(rim.inner_radius) ** 2)
    return float(rim.stacking_factor) * float(rim.material.density) * section * float(rim.length)


def pole_mass(rotor: Rotor) -> float:
    """Mass of all poles.

    Returns
    -------
    float, kg
    """
    return float(rotor.poles.count) * float(rotor.poles.mass)


def spider_inertia(rotor: Rotor) -> float | None:
    """Mass moment of inertia of the spider; None where it is given by its stiffness alone.

    Returns
    -------
    float or None, kg m2
    """
    spider, a = rotor.spider, float(rotor.rim.inner_radius)
    if isinstance(spider, DiscSpider):
        density = float(spider.material.density)
        if spider.profile is None:
            return 0.5 * pi * density * float(spider.outer_thickness) * (a**4 - float(spider.inner_radius) ** 4)
        # t r^3 is of degree four between two rows: three Gauss points are exact
        nodes, weights = np.polynomial.legendre.leggauss(3)
        total = 0.0
        for (r, t), (s, u) in zip(spider.profile, spider.profile[1:], strict=False):
            radius = 0.5 * (r + s) + 0.5 * (s - r) * nodes
            thickness = 0.5 * (t + u) + 0.5 * (u - t) * nodes
            total += 0.5 * (s - r) * float(np.sum(weights * thickness * radius**3))
        return 2 * pi * density * total
    if isinstance(spider, ArmSpider):
        density, hub, count = float(spider.material.density), float(spider.hub_radius), float(spider.count)
        arms = count * density * float(spider.arm_area) * (a**3 - hub**3) / 3
        tips = count * float(spider.tip_mass) * a**2
        if spider.hub_bore_radius is None or spider.hub_length is None:
            return arms + tips
        own = 0.5 * pi * density * float(spider.hub_length) * (hub**4 - float(spider.hub_bore_radius) ** 4)
        return arms + tips + own
    return None


def rotor_inertia(rotor: Rotor) -> float:
    """Mass moment of inertia of rim, poles and what is known of the spider, without shaft and runner.

    Returns
    -------
    float, kg m2
    """
    rim, poles = rotor.rim, rotor.poles
    ring = rim_mass(rotor) * (float(rim.outer_radius) ** 2 + float(rim.inner_radius) ** 2) / 2
    return ring + pole_mass(rotor) * float(poles.mass_radius) ** 2 + (spider_inertia(rotor) or 0.0)


def electrical_frequency(rotor: Rotor) -> float:
    """Frequency at rated speed: pairs of poles times turns per second.

    Returns
    -------
    float, Hz
    """
    return float(rotor.poles.count) / 2 * float(rotor.speeds.rated) / (2 * pi)


def pole_bulk_density(rotor: Rotor) -> float:
    """Mass of one pole over its share of the ring between rim outside and pole face, on the face length.

    Returns
    -------
    float, kg/m3
    """
    inner, outer = float(rotor.rim.outer_radius), float(rotor.poles.face_radius)
    return pole_mass(rotor) / (pi * (outer**2 - inner**2) * float(rotor.face_length))


def stated_faults(rotor: Rotor, stated: Stated) -> list[str]:
    """What contradicts the numbers that a drawing states besides, each with both numbers and what is allowed."""
    faults = []
    if stated.frequency is not None:
        own = electrical_frequency(rotor)
        if abs(own / stated.frequency - 1) > STATED_FREQUENCY_WITHIN:
            faults.append(
                f"speeds.frequency is {stated.frequency:g} Hz, but poles.count {float(rotor.poles.count):g} at "
                f"{rpm(rotor.speeds.rated, 'g')} makes {own:.4g} Hz; they must agree within "
                f"{100 * STATED_FREQUENCY_WITHIN:g} %"
            )
    pairs = [
        ("rim.mass", "kg", 1.0, stated.rim_mass, rim_mass(rotor), "radii, length, density and stacking factor",
         STATED_RIM_MASS),
        ("rotor.inertia", "kg*m^2", 1.0, stated.inertia, rotor_inertia(rotor), "rim, poles and spider", STATED_INERTIA),
        ("rotor.gd2", "kg*m^2", 4.0, stated.gd2, 4 * rotor_inertia(rotor), "four times that of rim, poles and spider",
         STATED_INERTIA),
    ]  # fmt: skip
    for key, unit, _, given, own, of, (low, high) in pairs:
        if given is not None and not low <= given / own <= high:
            faults.append(
                f"{key} is {given:.5g} {unit}, but {of} make {own:.5g} {unit}; it must be from {low:g} to {high:g} "
                "times that"
            )
    if stated.inertia is not None and stated.gd2 is not None and abs(stated.gd2 / stated.inertia / 4 - 1) > 0.02:
        faults.append(
            f"rotor.gd2 is {stated.gd2:.5g} kg*m^2, but four times rotor.inertia is {4 * stated.inertia:.5g} kg*m^2; "
            "they must agree within 2 %"
        )
    return faults


def drawing(rotor: Rotor, stated: Stated | None = None, on_diameter: bool = False) -> tuple[DrawingLine, ...]:
    """The machine as its numbers make it, line by line.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    stated : Stated, optional
        What the drawing states besides; that it agrees was checked.
    on_diameter : bool
        The interference was given both as radial and on the diameter, or on the diameter alone.
    """
    said = stated or Stated()
    return (*_masses(rotor, said), *_radii(rotor, said), *_speeds(rotor, said), *_fit(rotor, on_diameter))


_SETTLE_MASS = "check mass, length and radii (radius, not diameter); state rotor.inertia or rotor.gd2 to settle it"


def _masses(rotor: Rotor, stated: Stated) -> list[DrawingLine]:
    rim, poles = rotor.rim, rotor.poles
    weighed = stated.any_inertia is not None
    ring = float(rim.stacking_factor) * float(rim.material.density) * float(rim.length)
    pull = ring * 2 * pi * (float(rim.outer_radius) ** 3 - float(rim.inner_radius) ** 3) / 3
    hung = pole_mass(rotor) * float(poles.mass_radius)
    inertia = rotor_inertia(rotor)
    known = "rim, poles and spider" if spider_inertia(rotor) is not None else "rim and poles"
    return [
        DrawingLine("mass of the rim", rim_mass(rotor), "t", 1e3, 2),
        DrawingLine("mass of all poles", pole_mass(rotor), "t", 1e3, 2),
        DrawingLine(
            "bulk density of a pole in its envelope", pole_bulk_density(rotor), "kg/m3", 1.0, 0,
            (3000.0, 7900.0), (2300.0, 8900.0), DERIVED, f"it must be the mass of one pole; {_SETTLE_MASS}", weighed,
        ),
        DrawingLine(
            "share of the poles in the centrifugal load", hung / (hung + pull), "%", 0.01, 0,
            (0.3, 0.8), (0.15, 0.93), MEMORY, _SETTLE_MASS, weighed,
        ),
        DrawingLine(f"moment of inertia J of {known}", inertia, "t m2", 1e3, 1),
        DrawingLine(f"GD2 = 4 J of {known}", 4 * inertia, "t m2", 1e3, 1),
    ]  # fmt: skip


def _radii(rotor: Rotor, stated: Stated) -> list[DrawingLine]:
    rim, poles, spider = rotor.rim, rotor.poles, rotor.spider
    inner, outer = float(rim.inner_radius), float(rim.outer_radius)
    face, bore = float(poles.face_radius), float(rotor.stator_bore_radius)
    rows = [
        ("diameter of the rim bore", inner), ("diameter of the rim outside", outer),
        ("diameter of the poles' centres of mass", float(poles.mass_radius)),
        ("diameter over the pole faces", face), ("diameter of the stator bore", bore),
    ]  # fmt: skip
    if isinstance(spider, ArmSpider):
        rows.append(("diameter of the hub", float(spider.hub_radius)))
        if spider.hub_bore_radius is not None:
            rows.append(("diameter of the hub bore", float(spider.hub_bore_radius)))
    if isinstance(spider, DiscSpider):
        rows.append(("diameter of the spider bore", float(spider.inner_radius)))
    lines = [DrawingLine(name, 2 * radius, "mm", MILLIMETRE, 0) for name, radius in rows]
    middle = (float(poles.mass_radius) - outer) / (face - outer)
    return [
        *lines,
        DrawingLine(
            "depth of the rim over its outside radius", (outer - inner) / outer, "%", 0.01, 1,
            (0.05, 0.35), (0.02, 0.7), MEMORY,
            "check both radii; state rim.mass to settle it", stated.rim_mass is not None,
        ),
        DrawingLine(
            "length of the rim over its outside diameter", float(rim.length) / (2 * outer), "%", 0.01, 0,
            (0.06, 1.2), (0.02, 3.0), MEMORY, "check the length and its unit; state rim.mass to settle it",
            stated.rim_mass is not None,
        ),
        DrawingLine(
            "length of the pole faces over that of the rim", float(rotor.face_length) / float(rim.length), "%", 0.01, 0,
            (0.8, 1.15), (0.5, 1.6), PRACTICE, "check both lengths",
        ),
        DrawingLine(
            "poles' centres of mass, from rim outside to pole face", middle, "%", 0.01, 0,
            (0.3, 0.7), (0.05, 0.9), DERIVED, "check the radius of the centre of mass; state rotor.inertia to settle "
            "it",
            stated.any_inertia is not None,
        ),
        DrawingLine(
            "cold gap over the diameter of the stator bore", float(rotor.air_gap.cold) / (2 * bore), "%", 0.01, 3,
            (0.001, 0.006), (0.0004, 0.02), MEMORY, "check the gap and the unit of the radii",
        ),
    ]  # fmt: skip


def _speeds(rotor: Rotor, stated: Stated) -> list[DrawingLine]:
    speeds, face = rotor.speeds, float(rotor.poles.face_radius)
    rated, highest = float(speeds.rated), float(speeds.highest)
    settled = stated.frequency is not None
    frequency = electrical_frequency(rotor)
    near = min(SUPPLIES, key=lambda supply: abs(frequency / supply - 1))
    band = (near * (1 - ON_SUPPLY), near * (1 + ON_SUPPLY))
    weighed = stated.any_inertia is not None or stated.rim_mass is not None
    lines = [
        DrawingLine(
            "electrical frequency at rated speed", frequency, "Hz", 1.0, 2, band, band,
            "networks of 50 and 60 Hz",
            f"{float(rotor.poles.count):g} poles (not pairs of them) at {rpm(rated, 'g')}; state speeds.frequency for "
            f"a railway, another network or a converter", settled,
        ),
        DrawingLine(
            "peripheral speed of the pole faces, rated", rated * face, "m/s", 1.0, 1, (20.0, 115.0), (8.0, 165.0),
            MEMORY,
            "check radii (not diameters) and rated speed; state rim.mass or rotor.inertia to settle it", weighed,
        ),
        DrawingLine(
            f"peripheral speed of the pole faces, {speeds.highest_name}", highest * face, "m/s", 1.0, 1,
            (25.0, 200.0), (8.0, 280.0), MEMORY,
            "check radii (not diameters) and speeds; state rim.mass or rotor.inertia to settle it", weighed,
        ),
        DrawingLine(
            "overspeed over rated speed", float(speeds.overspeed) / rated, "", 1.0, 2, (1.1, 1.9), (1.0, 2.6), MEMORY,
            "check both speeds",
        ),
    ]  # fmt: skip
    if speeds.runaway is not None:
        lines.append(
            DrawingLine(
                "runaway over rated speed", float(speeds.runaway) / rated, "", 1.0, 2, (1.4, 3.0), (1.15, 3.6), PRINT,
                "check both speeds; impulse turbines have 1.7 to 1.9, propeller turbines 2.5 to 3",
            )
        )  # fmt: skip
    return lines


def _fit(rotor: Rotor, on_diameter: bool) -> list[DrawingLine]:
    interference, bore = float(rotor.fit.interference), float(rotor.rim.inner_radius)
    slip = "it must be RADIAL, half the value on the diameter; give fit.interference_on_diameter as well to settle it"
    if interference < 0:
        slip = "below zero is a clearance: the rim is loose at standstill; check the sign"
    return [
        DrawingLine("interference, radial", interference, "mm", MILLIMETRE, 3),
        DrawingLine("interference on the diameter", 2 * interference, "mm", MILLIMETRE, 3),
        DrawingLine(
            "interference over the radius of the rim bore", interference / bore, "per mille", 1e-3, 3,
            (0.15e-3, 0.65e-3), (-inf if interference <= 0 else 0.02e-3, 0.8e-3), MEMORY, slip, on_diameter,
        ),
    ]  # fmt: skip
