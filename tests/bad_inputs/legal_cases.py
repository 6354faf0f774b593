"""Unusual cases that are right, made from the built-in one, each with a number in SI that it must give."""

from collections.abc import Callable
from dataclasses import dataclass

from rimmodel.rotor.case.case import EXAMPLES, Case
from rimmodel.units import RPM

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")


@dataclass(frozen=True)
class LegalCase:
    """An unusual way to write a case, what is replaced by what, and a value (SI) to find in it."""

    name: str
    changes: tuple[tuple[str, str], ...]
    value: Callable[[Case], float]
    expected: float

    @property
    def text(self) -> str:
        """The case as written."""
        text = TEXT
        for old, new in self.changes:
            assert old in text, (self.name, old)
            text = text.replace(old, new, 1)
        return text


def _legal(*rows: tuple[str, tuple[tuple[str, str], ...], Callable[[Case], float], float]) -> tuple[LegalCase, ...]:
    return tuple(LegalCase(*row) for row in rows)


BORE, OUTSIDE = 'inner_radius = "3.62 m"', 'outer_radius = "4.06 m"'
FACE, CENTRE = 'face_radius = "4.58 m"', 'mass_radius = "4.32 m"'
MEAN = 'interference = "2.1 mm"          #'
KEYS = (
    "key_interference = [             # shims as fitted, key by key; their mean is the interference above\n"
    '    "2.05 mm", "2.15 mm", "2.10 mm", "2.20 mm", "2.00 mm", "2.10 mm", "2.15 mm",\n'
    '    "2.05 mm", "2.12 mm", "2.08 mm", "2.10 mm", "2.05 mm", "2.15 mm", "2.10 mm",\n]\n'
)
RATED = 'rated = "125 rpm"'
HOT = 'rim_temperature = "58 degC"'
HOT_SPIDER = 'spider_temperature = "50 degC"'

LEGAL = _legal(
    # other units; exact factors of the international inch, pound and psi
    ("bore in mm", ((BORE, 'inner_radius = "3620 mm"'),), lambda c: c.rotor.rim.inner_radius, 3.62),
    ("bore in inches", ((BORE, 'inner_radius = "142.5 in"'),), lambda c: c.rotor.rim.inner_radius, 3.6195),
    ("outside in feet", ((OUTSIDE, 'outer_radius = "13.32 ft"'),), lambda c: c.rotor.rim.outer_radius, 4.059936),
    ("interference in mils", ((MEAN, 'interference = "82.7 mil" #'),), lambda c: c.rotor.fit.interference, 2.1e-3),
    ("length with an exponent", (('length = "1.85 m"', 'length = "1.85e3 mm"'),), lambda c: c.rotor.rim.length, 1.85),
    ("pole in pounds", (('mass = "3.7 t"', 'mass = "8157.1 lb"'),), lambda c: c.rotor.poles.mass, 3700.0),
    (
        "pole in kilograms with an exponent",
        (('mass = "3.7 t"', 'mass = "3.7E3 kg"'),),
        lambda c: c.rotor.poles.mass,
        3700.0,
    ),
    (
        "yield in ksi",
        (('yield_strength = "550 MPa"', 'yield_strength = "80 ksi"'),),
        lambda c: c.rotor.rim.material.yield_strength,
        551.5806e6,
    ),
    (
        "modulus in psi",
        (('young_modulus = "206 GPa"', 'young_modulus = "2.99e7 psi"'),),
        lambda c: c.rotor.rim.material.young_modulus,
        206.153e9,
    ),
    (
        "density in t/m^3",
        (('density = "7850 kg/m^3"', 'density = "7.85 t/m^3"'),),
        lambda c: c.rotor.rim.material.density,
        7850.0,
    ),
    (
        "expansion per degF",
        (('thermal_expansion = "12e-6 1/K"', 'thermal_expansion = "0.000012 1/K"'),),
        lambda c: c.rotor.rim.material.thermal_expansion,
        12e-6,
    ),
    ("rim in degF", ((HOT, 'rim_temperature = "136.4 degF"'),), lambda c: c.conditions["hot"].rim_temperature, 331.15),
    ("rim in K", ((HOT, 'rim_temperature = "331.15 K"'),), lambda c: c.conditions["hot"].rim_temperature, 331.15),
    (
        "rim in degrees with a sign",
        ((HOT, 'rim_temperature = "58 °C"'),),
        lambda c: c.conditions["hot"].rim_temperature,
        331.15,
    ),
    (
        "frost in the hall",
        (
            (
                "[conditions.cold] ",
                '[conditions.ice]\nrim_temperature = "-18 degC"\nspider_temperature = "-18 degC"\n[conditions.cold] ',
            ),
        ),
        lambda c: c.conditions["ice"].rim_temperature,
        255.15,
    ),
    (
        "field in millitesla",
        (('flux_density = "0.95 T"', 'flux_density = "950 mT"'),),
        lambda c: c.conditions["hot"].flux_density,
        0.95,
    ),
    ("torque in kN*m", (('rated = "9.5e6 N*m"', 'rated = "9500 kN*m"'),), lambda c: c.torque.rated, 9.5e6),
    ("speed in rad/s", ((RATED, 'rated = "13.08996938995747 rad/s"'),), lambda c: c.rotor.speeds.rated / RPM, 125.0),
    ("speed per minute", ((RATED, 'rated = "125 1/min"'),), lambda c: c.rotor.speeds.rated / RPM, 125.0),
    (
        "arm area in square millimetres",
        (('arm_area = "0.058 m^2"', 'arm_area = "58000 mm^2"'),),
        lambda c: c.rotor.spider.arm_area,
        0.058,
    ),
    (
        "second moment in cm^4",
        (('arm_second_moment = "1.6e-4 m^4"', 'arm_second_moment = "16000 cm^4"'),),
        lambda c: c.rotor.spider.arm_second_moment,
        1.6e-4,
    ),
    (
        "angle of the first key in degrees",
        (("key_count = 14", 'key_count = 14\nfirst_key_angle = "-90 deg"'),),
        lambda c: c.rotor.fit.first_key_angle,
        -1.5707963,
    ),
    # what drawings give
    ("bore diameter", ((BORE, 'inner_diameter = "7240 mm"'),), lambda c: c.rotor.rim.inner_radius, 3.62),
    (
        "bore radius and diameter",
        ((BORE, BORE + '\ninner_diameter = "7.24 m"'),),
        lambda c: c.rotor.rim.inner_radius,
        3.62,
    ),
    ("outside diameter", ((OUTSIDE, 'outer_diameter = "8.12 m"'),), lambda c: c.rotor.rim.outer_radius, 4.06),
    (
        "diameters of poles",
        ((CENTRE, 'mass_diameter = "8.64 m"'), (FACE, 'face_diameter = "9.16 m"')),
        lambda c: c.rotor.poles.mass_radius + c.rotor.poles.face_radius,
        8.9,
    ),
    (
        "stator bore diameter in place of the face",
        ((FACE, ""), ('cold = "16 mm"', 'cold = "16 mm"\nstator_bore_diameter = "9.192 m"')),
        lambda c: c.rotor.poles.face_radius,
        4.58,
    ),
    (
        "stator bore and face in place of the gap",
        (('cold = "16 mm"', 'stator_bore_diameter = "9192 mm"'),),
        lambda c: c.rotor.air_gap.cold,
        0.016,
    ),
    ("hub diameter", (('hub_radius = "1.25 m"', 'hub_diameter = "2.5 m"'),), lambda c: c.rotor.spider.hub_radius, 1.25),
    (
        "hub bore diameter",
        (('hub_radius = "1.25 m"', 'hub_radius = "1.25 m"\nhub_bore_diameter = "1.1 m"\nhub_length = "1.5 m"'),),
        lambda c: c.rotor.spider.hub_bore_radius,
        0.55,
    ),
    (
        "interference on the diameter",
        ((MEAN, 'interference_on_diameter = "4.2 mm" #'),),
        lambda c: c.rotor.fit.interference,
        2.1e-3,
    ),
    (
        "interference both ways",
        ((MEAN, 'interference = "2.1 mm"\ninterference_on_diameter = "4.2 mm" #'),),
        lambda c: c.rotor.fit.interference,
        2.1e-3,
    ),
    (
        "a tight rim, confirmed on the diameter",
        ((KEYS, ""), (MEAN, 'interference = "3.4 mm"\ninterference_on_diameter = "6.8 mm" #')),
        lambda c: c.rotor.fit.interference,
        3.4e-3,
    ),
    ("rim mass", (('length = "1.85 m"', 'length = "1.85 m"\nmass = "146 t"'),), lambda c: c.stated.rim_mass, 146e3),
    ("frequency", ((RATED, RATED + '\nfrequency = "50 Hz"'),), lambda c: c.stated.frequency, 50.0),
    (
        "a railway at 16.7 Hz",
        (
            ("count = 48", "count = 16"),
            ('mass = "3.7 t"', 'mass = "11.1 t"'),
            (RATED, RATED + '\nfrequency = "16.7 Hz"'),
        ),
        lambda c: c.stated.frequency,
        16.7,
    ),
    (
        "a variable-speed machine at 55 Hz",
        ((RATED, 'rated = "137.5 rpm"\nfrequency = "55 Hz"'),),
        lambda c: c.stated.frequency,
        55.0,
    ),
    ("rated at 60 Hz", ((RATED, 'rated = "150 rpm"'),), lambda c: c.rotor.speeds.rated / RPM, 150.0),
    ("inertia", (("[speeds]", '[rotor]\ninertia = "5.9e6 kg*m^2"\n[speeds]'),), lambda c: c.stated.inertia, 5.9e6),
    ("GD2 in t m2", (("[speeds]", '[rotor]\ngd2 = "23600 t*m^2"\n[speeds]'),), lambda c: c.stated.any_inertia, 5.9e6),
    (
        "inertia in lb ft2",
        (("[speeds]", '[rotor]\ninertia = "1.4e8 lb*ft^2"\n[speeds]'),),
        lambda c: c.stated.inertia,
        1.4e8 * 0.45359237 * 0.3048**2,
    ),
    # (3.62 + 1.25)/2 of 3.62 weighs the rim side by 0.3274: 30 + 30 x 0.3274
    (
        "both sides of an armed spider",
        ((HOT_SPIDER, 'spider_hub_temperature = "30 degC"\nspider_rim_temperature = "60 degC"'),),
        lambda c: c.conditions["hot"].spider_temperature - 273.15,
        30 + 30 * (3.62 - 1.25) / 2 / 3.62,
    ),
    # text
    (
        "comments at every line end",
        (("[rim]\n", "[rim]  # laminated, Größe nach Zeichnung\n"),),
        lambda c: c.rotor.rim.length,
        1.85,
    ),
    (
        "a title in another script",
        (("Invented example", "Придуманный пример Łódź"),),
        lambda c: c.rotor.rim.length,
        1.85,
    ),
    ("a byte order mark", (("# An INVENTED", "\ufeff# An INVENTED"),), lambda c: c.rotor.rim.length, 1.85),
    (
        "inline tables",
        (("[torque]\n", "[torque]\nfriction_coefficient = 0.12\n"),),
        lambda c: c.torque.friction_coefficient,
        0.12,
    ),
    (
        "no runaway asked",
        (("[requirements.no_float_in_service]", '[requirements."fließt nicht"]'),),
        lambda c: len(c.requirements),
        3,
    ),
    # machines at the ends
    (
        "floating by design",
        ((KEYS, ""), (MEAN, 'interference = "0 mm" #'), ('interference_tolerance = "0.1 mm"', "")),
        lambda c: c.rotor.fit.interference,
        0.0,
    ),
    ("settled to half", ((MEAN, 'settlement = "1 mm"\n' + MEAN),), lambda c: c.rotor.fit.settlement, 1e-3),
    (
        "a confidence at the edge",
        (('at_least = "9 mm"', 'at_least = "9 mm"\nconfidence = 0.99'),),
        lambda c: c.requirements[1].confidence,
        0.99,
    ),
)

SMALL = """
title = "A small machine"
[materials.steel]
young_modulus = "206 GPa"
poisson_ratio = 0.3
density = "7850 kg/m^3"
thermal_expansion = "12e-6 1/K"
[rim]
material = "steel"
inner_diameter = "600 mm"
outer_diameter = "760 mm"
length = "300 mm"
[poles]
count = 8
mass = "32 kg"
mass_diameter = "860 mm"
face_diameter = "960 mm"
[spider]
kind = "disc"
material = "steel"
bore_diameter = "120 mm"
thickness = "200 mm"
[fit]
interference_on_diameter = "0.24 mm"
[air_gap]
cold = "3.5 mm"
[speeds]
rated = "750 rpm"
overspeed = "1.3 x rated"
runaway = "1350 rpm"
"""

LARGE = """
title = "A very large machine"
[materials.steel]
young_modulus = "206 GPa"
poisson_ratio = 0.3
density = "7850 kg/m^3"
thermal_expansion = "12e-6 1/K"
[rim]
material = "steel"
inner_radius = "8.3 m"
outer_radius = "8.95 m"
length = "3.1 m"
stacking_factor = 0.97
hoop_stiffness_factor = 0.8
[poles]
count = 80
mass = "6.2 t"
mass_radius = "9.14 m"
face_radius = "9.4 m"
[spider]
kind = "given"
radial_stiffness = "9e10 N/m"
growth = "0.9 mm"
growth_speed = "75 rpm"
[fit]
interference = "3.6 mm"
[air_gap]
cold = "32 mm"
[speeds]
rated = "75 rpm"
overspeed = "1.45 x rated"
runaway = "150 rpm"
"""
