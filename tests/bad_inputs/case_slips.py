"""Cases with one slip each, made from the built-in one by one replacement, and the words that answer it."""

from dataclasses import dataclass

from rimmodel.rotor.case.case import EXAMPLES

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")


@dataclass(frozen=True)
class CaseSlip:
    """A slip: what is replaced in the built-in case, by what, and what the answer must say."""

    name: str
    old: str
    new: str
    words: str

    @property
    def text(self) -> str:
        """The case with the slip in it."""
        assert self.old in TEXT, self.name
        return TEXT.replace(self.old, self.new, 1)


def _slips(*rows: tuple[str, str, str, str]) -> tuple[CaseSlip, ...]:
    return tuple(CaseSlip(*row) for row in rows)


RIM_STEEL_DENSITY = 'density = "7850 kg/m^3"'
BORE, OUTSIDE = 'inner_radius = "3.62 m"', 'outer_radius = "4.06 m"'
FACE, CENTRE = 'face_radius = "4.58 m"', 'mass_radius = "4.32 m"'
MEAN = 'interference = "2.1 mm" '
HOT_RIM = 'rim_temperature = "58 degC"'
CLAIM = 'value = "1.49 x rated"'

REFUSED = _slips(
    # unit and power of ten
    ("density in t/m^3 with the unit of kg/m^3", RIM_STEEL_DENSITY, 'density = "7.85 kg/m^3"', "7.85 t/m^3"),
    ("density ten times", RIM_STEEL_DENSITY, 'density = "78500 kg/m^3"', "materials.rim_steel.density"),
    ("density of aluminium", RIM_STEEL_DENSITY, 'density = "2700 kg/m^3"', "materials.rim_steel.density"),
    ("length in mm for m", 'length = "1.85 m"', 'length = "1.85 mm"', "1000 times as much would fit"),
    ("length in m for mm", 'length = "1.85 m"', 'length = "18.5 m"', "from 0.05 m to 8 m"),
    ("bore in mm for m", BORE, 'inner_radius = "3.62 mm"', "it is a radius"),
    ("bore of 36 m", BORE, 'inner_radius = "36.2 m"', "from 0.15 m to 12 m"),
    ("outside in cm for m", OUTSIDE, 'outer_radius = "4.06 cm"', "rim.outer_radius is '4.06 cm'"),
    ("pole of 3.7 kg", 'mass = "3.7 t"', 'mass = "3.7 kg"', "poles.mass is '3.7 kg'"),
    ("all poles as one", 'mass = "3.7 t"', 'mass = "177.6 t"', "it must be the mass of one pole"),
    ("face length in mm", 'face_length = "1.80 m"', 'face_length = "1.80 mm"', "poles.face_length"),
    ("pole neck in mm^2 as m^2", 'attachment_area = "0.075 m^2"', 'attachment_area = "75 m^2"', "attachment_area"),
    ("interference in um", MEAN, 'interference = "21 mm" ', "it is radial"),
    ("interference in cm", MEAN, 'interference = "2.1 cm" ', "fit.interference is '2.1 cm'"),
    ("tolerance in cm", 'interference_tolerance = "0.1 mm"', 'interference_tolerance = "1 cm"', "interference_toler"),
    ("key width in m for mm", 'key_width = "260 mm"', 'key_width = "2.6 m"', "fit.key_width is '2.6 m'"),
    ("key as a knife edge", 'key_width = "260 mm"', 'key_width = "0.26 mm"', "fit.key_width"),
    ("guide play in cm", 'tangential_clearance = "0.3 mm"', 'tangential_clearance = "3 cm"', "tangential_clearance"),
    ("gap in cm", 'cold = "16 mm"', 'cold = "16 cm"', "air gaps are 3 to 40 mm"),
    ("gap in um", 'cold = "16 mm"', 'cold = "16 um"', "air_gap.cold is '16 um'"),
    ("gap in inches for mm", 'cold = "16 mm"', 'cold = "16 in"', "air_gap.cold"),
    ("least gap above cold gap", 'minimum_allowed = "9 mm"', 'minimum_allowed = "19 mm"', "below the cold gap"),
    ("orbit in m", 'orbit = "0.15 mm"', 'orbit = "0.15 m"', "0.001 times as much would fit"),
    ("orbit of the gap", 'orbit = "0.15 mm"', 'orbit = "17 mm"', "assembly.orbit is 17 mm; it must be below the cold"),
    ("centre as a wave", "{ harmonic = 3,", "{ harmonic = 1,", "1 is the centre: centre_offset"),
    ("Carter as a share", "carter_factor = 1.12", "carter_factor = 0.12", "assembly.carter_factor is 0.12"),
    ("Carter in per cent", "carter_factor = 1.12", "carter_factor = 112.0", "it is 1.05 to 1.3"),
    ("shaft in N/mm", '"6e9 N/m"', '"6e9 N/mm"', "assembly.shaft_stiffness"),
    ("bore in m", '"0.15 mm", phase', '"0.15 m", phase', "assembly.stator_shape[1].amplitude"),
    ("tolerance in per cent", 'rotor_lean = "0.2 mm"', "rotor_verticality_share = 5.0", "0 or above and below 1"),
    ("taper in cm", "[speeds]", '[axial]\ninterference_taper = "2 cm"\n[speeds]', "shims differ by tenths"),
    ("poles in mm as m", "[speeds]", '[axial]\npole_length = "170 m"\n[speeds]', "axial.pole_length"),
    ("stack stiffer than steel", "[speeds]", '[axial]\nshear_modulus = ["1 GPa", "206 GPa"]\n[speeds]', "solid steel"),
    ("stack the wrong way round", "[speeds]", '[axial]\nshear_modulus = ["9 GPa", "1 GPa"]\n[speeds]', "a pair"),
    ("taper as a temperature", HOT_RIM, f'{HOT_RIM}\nrim_temperature_taper = "58 degC"', "from -40 K to 40 K"),
    ("unknown key of assembly", "rotor_lean =", "rotor_leen =", "did you mean 'rotor_lean'?"),
    ("rated in rad/s", 'rated = "125 rpm"', 'rated = "13000 rpm"', "check rpm against rad/s"),
    ("rated of 125 rad/s", 'rated = "125 rpm"', 'rated = "125 rad/s"', "if 125 rpm is meant"),
    ("rated of 1.25 rpm", 'rated = "125 rpm"', 'rated = "1.25 rpm"', "speeds.rated is '1.25 rpm'"),
    ("3 T", 'flux_density = "0.95 T"', 'flux_density = "3 T"', "0.8 to 1.05 T"),
    ("millitesla", 'flux_density = "0.95 T"', 'flux_density = "0.95 mT"', "flux_density"),
    ("negative field", 'flux_density = "0.95 T"', 'flux_density = "-0.95 T"', "flux_density"),
    ("400 degC", HOT_RIM, 'rim_temperature = "400 degC"', "check degC against degF"),
    ("rim in K as degC", HOT_RIM, 'rim_temperature = "331 degC"', "rim_temperature"),
    ("spider at -80 degC", 'spider_temperature = "50 degC"', 'spider_temperature = "-80 degC"', "spider_temperature"),
    ("stator at 650 degC", 'stator_temperature = "65 degC"', 'stator_temperature = "650 degC"', "stator_temperature"),
    ("modulus of 20.6 GPa", 'young_modulus = "206 GPa"', 'young_modulus = "20.6 GPa"', "195 to 215 GPa"),
    ("modulus in MPa", 'young_modulus = "206 GPa"', 'young_modulus = "206 MPa"', "young_modulus"),
    ("Poisson of 0.03", "poisson_ratio = 0.3", "poisson_ratio = 0.03", "steel has 0.27 to 0.3"),
    ("Poisson in per cent", "poisson_ratio = 0.3", "poisson_ratio = 30.0", "poisson_ratio is 30"),
    ("expansion ten times", '"12e-6 1/K"', '"12e-5 1/K"', "thermal_expansion"),
    ("expansion a tenth", '"12e-6 1/K"', '"1.2e-6 1/K"', "steel has 11e-6"),
    ("yield in GPa", 'yield_strength = "550 MPa"', 'yield_strength = "550 GPa"', "yield_strength"),
    ("yield of 55 MPa", 'yield_strength = "550 MPa"', 'yield_strength = "55 MPa"', "rim steels have 300"),
    ("strengths mixed up", 'yield_strength = "550 MPa"', 'yield_strength = "750 MPa"', "are the two mixed up?"),
    ("endurance above ultimate", 'endurance_limit = "270 MPa"', 'endurance_limit = "690 MPa"', "below 0.9 of"),
    ("endurance of 2.7 MPa", 'endurance_limit = "270 MPa"', 'endurance_limit = "2.7 MPa"', "about 0.4"),
    ("stacking in per cent", "stacking_factor = 0.97", "stacking_factor = 97.0", "at most 1"),
    ("stacking of 0.097", "stacking_factor = 0.97", "stacking_factor = 0.097", "0.93 to 0.99"),
    ("hoop factor of 0.085", "hoop_stiffness_factor = 0.85", "hoop_stiffness_factor = 0.085", "0.6 to 1"),
    ("net section of 0.085", "net_section_factor = 0.85", "net_section_factor = 0.085", "0.6 to 0.95"),
    ("stress concentration of 22", "stress_concentration_factor = 2.2", "stress_concentration_factor = 22.0", "2 to 4"),
    ("arm area of 580 m^2", 'arm_area = "0.058 m^2"', 'arm_area = "580 m^2"', "arm_area"),
    ("arm area in mm^2", 'arm_area = "0.058 m^2"', 'arm_area = "5.8e-8 m^2"', "spider.arm_area"),
    ("tip mass of 180 t", 'tip_mass = "180 kg"', 'tip_mass = "180 t"', "it must be the mass at one arm"),
    (
        "second moment of 160 m^4",
        'arm_second_moment = "1.6e-4 m^4"',
        'arm_second_moment = "16 m^4"',
        "arm_second_moment",
    ),
    ("torque in N*mm", 'rated = "9.5e6 N*m"', 'rated = "9.5e9 N*m"', "torque.rated"),
    ("inertia in g", 'inertia = "6.0e6 kg*m^2"', 'inertia = "6.0e10 kg*m^2"', "it is J"),
    ("decay in ms", 'decay_time = "7.4 s"', 'decay_time = "7.4 ms"', "decay_time"),
    ("decay in hours", 'decay_time = "7.4 s"', 'decay_time = "7.4 h"', "decay_time"),
    # geometry
    ("bore as a diameter", BORE, 'inner_radius = "7.24 m"', "the outside must be larger than the bore"),
    ("outside as a diameter", OUTSIDE, 'outer_radius = "8.12 m"', "larger than rim.outer_radius"),
    ("outside below bore", OUTSIDE, 'outer_radius = "3.06 m"', "outside must be larger"),
    ("centre of mass in the rim", CENTRE, 'mass_radius = "3.92 m"', "outside the rim"),
    ("centre of mass beyond the face", CENTRE, 'mass_radius = "4.72 m"', "the pole face"),
    ("face inside the rim", FACE, 'face_radius = "4.00 m"', "larger than rim.outer_radius"),
    ("hub as a diameter of the rim", 'hub_radius = "1.25 m"', 'hub_radius = "3.75 m"', "below rim.inner_radius"),
    ("hub in mm", 'hub_radius = "1.25 m"', 'hub_radius = "1.25 mm"', "spider.hub_radius"),
    ("odd number of poles", "count = 48", "count = 47", "an even whole number"),
    ("half a pole", "count = 48", "count = 48.5", "whole number"),
    ("4800 poles", "count = 48", "count = 4800", "number of poles, not of pairs"),
    ("poles of 400 digits", "count = 48", "count = " + "4" * 400, "a whole number of 400 digits"),
    ("poles of 5000 digits", "count = 48", "count = " + "4" * 5000, "thousands of digits"),
    ("arms of 30 digits", "count = 14\n", "count = " + "1" * 30 + "\n", "a whole number of 30 digits"),
    ("fourteen million keys", "key_count = 14", "key_count = 14000000", "fit.key_count is 14000000"),
    ("keys that do not match the list", "key_count = 14", "key_count = 16", "one for each of the 16 keys"),
    ("keys that overlap", 'key_width = "260 mm"', 'key_width = "1.65 m"', "do not fit around the rim bore"),
    (
        "guides without play or stiffness",
        'tangential_clearance = "0.3 mm"',
        'tangential_clearance = "0 mm"',
        "guides without play need a stiffness",
    ),
    ("overspeed of 15 x", 'overspeed = "1.5 x rated"', 'overspeed = "15 x rated"', "times rated"),
    ("runaway of 20 x", 'runaway = "2 x rated"', 'runaway = "20 x rated"', "times rated"),
    ("runaway below overspeed", 'runaway = "2 x rated"', 'runaway = "1.2 x rated"', "at least overspeed"),
    # numbers of the drawing that contradict each other
    ("radius and diameter", BORE, BORE + '\ninner_diameter = "3.62 m"', "half of it 1810 mm"),
    ("outside and its diameter", OUTSIDE, OUTSIDE + '\nouter_diameter = "8.2 m"', "rim.outer_diameter is 8200 mm"),
    ("face and its diameter", FACE, FACE + '\nface_diameter = "9.18 m"', "poles.face_radius is 4580 mm"),
    (
        "interference and that on the diameter",
        MEAN,
        'interference_on_diameter = "2.1 mm"\n' + MEAN,
        "fit.interference_on_diameter is 2.1 mm, half of it 1.05 mm",
    ),
    ("bore and gap", 'cold = "16 mm"', 'cold = "16 mm"\nstator_bore_radius = "4.60 m"', "agree within 0.5 mm"),
    ("bore diameter and gap", 'cold = "16 mm"', 'cold = "16 mm"\nstator_bore_diameter = "9.24 m"', "within 0.5 mm"),
    ("rim mass", 'length = "1.85 m"', 'length = "1.85 m"\nmass = "250 t"', "rim.mass is 2.5e+05 kg"),
    ("frequency", 'rated = "125 rpm"', 'rated = "125 rpm"\nfrequency = "60 Hz"', "makes 50 Hz"),
    ("inertia", "[speeds]", '[rotor]\ninertia = "2.2e7 kg*m^2"\n[speeds]', "rotor.inertia is 2.2e+07"),
    ("J as GD2", "[speeds]", '[rotor]\ngd2 = "5.7e6 kg*m^2"\n[speeds]', "rotor.gd2 is 5.7e+06"),
    ("J and GD2", "[speeds]", '[rotor]\ninertia = "5.7e6 kg*m^2"\ngd2 = "2.6e7 kg*m^2"\n[speeds]', "within 2 %"),
    (
        "mean and both sides of the spider",
        'spider_temperature = "50 degC"',
        'spider_temperature = "50 degC"\nspider_hub_temperature = "30 degC"\nspider_rim_temperature = "40 degC"',
        "hub and rim side make a mean of",
    ),
    (
        "one side of the spider",
        'spider_temperature = "50 degC"',
        'spider_hub_temperature = "30 degC"',
        "spider_rim_temperature: missing",
    ),
    # what other commands would refuse later
    ("confidence that no knee is read at", 'at_least = "9 mm"', 'at_least = "9 mm"\nconfidence = 0.995', "0.99"),
    ("confidence in per cent", 'at_least = "9 mm"', 'at_least = "9 mm"\nconfidence = 95.0', "0.99"),
    (
        "proving run below its first step",
        'highest_speed = "1.5 x rated"',
        'highest_speed = "0.2 x rated"',
        "above 25 % of rated speed",
    ),
    ("claim of runaway without one", 'runaway = "2 x rated"', "", "the case gives no speeds.runaway"),
    # types and shapes
    (
        "tolerance as bare text",
        '"rim.stacking_factor" = { distribution = "uniform", half_width = 0.01 }',
        '"rim.stacking_factor" = "1 %"',
        "tolerances.rim.stacking_factor is '1 %'; it must be a table",
    ),
    ("tolerances as a list", "[tolerances] ", "[[tolerances]] ", "[tolerances]"),
    (
        "tolerance width as a list",
        "standard = 0.04",
        "standard = [0.04]",
        "tolerances.rim.hoop_stiffness_factor.standard",
    ),
    ("tolerance width true", "standard = 0.04", "standard = true", "tolerances.rim.hoop_stiffness_factor.standard"),
    ("unknown distribution", 'distribution = "triangular"', 'distribution = "gauss"', "it must be"),
    (
        "between as text",
        'between = ["conditions.hot.rim_temperature", "conditions.hot.spider_temperature"]',
        'between = "conditions.hot.rim_temperature"',
        "it must be a list",
    ),
    (
        "between three",
        'between = ["conditions.hot.rim_temperature", ',
        'between = ["poles.mass", "conditions.hot.rim_temperature", ',
        "two items",
    ),
    (
        "between numbers",
        'between = ["conditions.hot.rim_temperature", "conditions.hot.spider_temperature"]',
        "between = [1, 2]",
        "text in quotes",
    ),
    ("coefficient of 60", "coefficient = 0.6", "coefficient = 60.0", "correlations[1].coefficient is 60"),
    ("coefficient as text", "coefficient = 0.6", 'coefficient = "0.6"', "bare number"),
    (
        "condition as text",
        "[conditions.cold] ",
        '[conditions]\nwarm = "yes"\n[conditions.cold] ',
        "conditions.warm is 'yes'",
    ),
    (
        "claim as text",
        "[claims.float_speed]\n" + CLAIM + '\ncondition = "cold"',
        '[claims]\nfloat_speed = "1.49 x rated"',
        "claims.float_speed is '1.49 x rated'; it must be a table",
    ),
    ("claim as a number", CLAIM, "value = 1.49", "text in quotes"),
    ("tolerance of a claim in per cent", CLAIM, CLAIM + "\ntolerance = 5.0", "claims.float_speed.tolerance is 5"),
    ("materials as a list", "[materials.rim_steel]", "[[materials.rim_steel]]", "materials.rim_steel"),
    ("rim as a list", "[rim]", "[[rim]]", "it must be a table"),
    ("spider as text", "[spider]\n", "[spiders]\n", "[spider]: missing table"),
    ("records as a table", '[[records]]\nfile = "quillmere_run.csv"', '[records]\nfile = "quillmere_run.csv"', "TOML"),
    ("nested too deeply", "stacking_factor = 0.97", "stacking_factor = " + "[" * 60 + "]" * 60, "nested more than"),
    ("nested beyond the reader", "stacking_factor = 0.97", "stacking_factor = " + "[" * 9000 + "]" * 9000, "nested"),
    ("a very long text", "Quillmere unit Q1", "Q" * 5000, "a text of 50"),
    # characters that do not show
    ("title turned around", "Quillmere unit", "Quillmere \u202eunit", "U+202E (right-to-left override)"),
    ("title with a zero width", "Quillmere unit", "Quill\u200bmere unit", "U+200B (zero width space)"),
    ("title with an isolate", "Quillmere unit", "Quillmere \u2067unit", "U+2067"),
    ("title with a bell", "Quillmere unit", "Quillmere \\u0007unit", "U+0007"),
    ("title over two lines", "Quillmere unit", "Quillmere\\nunit", "U+000A"),
    ("label with a mark", 'label = "proving run"', 'label = "proving\u200frun"', "U+200F"),
    ("file turned around", "quillmere_run.csv", "quillmere_\u202erun.csv", "records[1].file"),
    ("condition with a zero width", "[conditions.hot]", '[conditions."h\u200dot"]', "U+200D"),
    ("requirement with an escape", "[requirements.gap_at_runaway]", '[requirements."gap\\u001b[31m"]', "U+001B"),
)
"""Refused, with these words among the faults."""

BLOCKED = _slips(
    ("interference on the diameter", MEAN + "         # radial", 'interference = "4.2 mm" # radial', "RADIAL"),
    ("radius as a diameter", BORE, 'inner_diameter = "3.62 m"', "interference over the radius"),
    ("20 poles", "count = 48", "count = 20", "electrical frequency"),
    ("poles in pairs", "count = 48", "count = 24", "electrical frequency"),
    ("rated speed of 56 poles at 60 Hz", 'rated = "125 rpm"', 'rated = "128.6 rpm"', "electrical frequency"),
    ("rated speed of another unit", 'rated = "125 rpm"', 'rated = "136.4 rpm"', "electrical frequency"),
    ("rated in rad/s", 'rated = "125 rpm"', 'rated = "60 rad/s"', "electrical frequency"),
    ("two poles for one", 'mass = "3.7 t"', 'mass = "7.4 t"', "bulk density"),
    ("half a pole", 'mass = "3.7 t"', 'mass = "0.9 t"', "bulk density"),
    ("pole of 370 kg", 'mass = "3.7 t"', 'mass = "370 kg"', "bulk density"),
    ("pole of 37 t", 'mass = "3.7 t"', 'mass = "37 t"', "bulk density"),
    ("rim length a tenth", 'length = "1.85 m"', 'length = "0.185 m"', "length of the pole faces"),
    ("rim length of two rims", 'length = "1.85 m"', 'length = "3.7 m"', "length of the pole faces"),
    ("face length a tenth", 'face_length = "1.80 m"', 'face_length = "0.18 m"', "length of the pole faces"),
    (
        "runaway hardly above rated",
        'overspeed = "1.5 x rated"\nrunaway = "2 x rated"',
        'overspeed = "1.05 x rated"\nrunaway = "1.1 x rated"',
        "runaway over rated speed",
    ),
    (
        "gap of 1.6 mm",
        'cold = "16 mm"\nminimum_allowed = "9 mm"',
        'cold = "1.6 mm"\nminimum_allowed = "0.9 mm"',
        "cold gap",
    ),
    ("centre of mass at the seat", CENTRE, 'mass_radius = "4.08 m"', "centres of mass"),
    ("centre of mass at the face", CENTRE, 'mass_radius = "4.55 m"', "centres of mass"),
    ("spider hotter", 'spider_temperature = "50 degC"', 'spider_temperature = "95 degC"', "the spider is 37 K hotter"),
    (
        "degF read as degC",
        HOT_RIM + '\nspider_temperature = "50 degC"',
        'rim_temperature = "136 degC"\nspider_temperature = "122 degC"',
        "check degC against degF",
    ),
    ("field of the teeth", 'flux_density = "0.95 T"', 'flux_density = "1.5 T"', "flux_density is 1.5 T"),
    ("field a tenth", 'flux_density = "0.95 T"', 'flux_density = "0.095 T"', "flux_density is 0.095 T"),
    (
        "no thermal expansion",
        'thermal_expansion = "12e-6 1/K"\nyield_strength = "550',
        'yield_strength = "550',
        "has no thermal_expansion",
    ),
    ("GD2 as J", 'inertia = "6.0e6 kg*m^2"', 'inertia = "22.6e6 kg*m^2"', "a quarter of GD2"),
    ("inertia a tenth", 'inertia = "6.0e6 kg*m^2"', 'inertia = "6.0e5 kg*m^2"', "load_rejection.inertia"),
    ("arms of 0.58 m^2 in a small hub", 'arm_area = "0.058 m^2"', 'arm_area = "2.5 m^2"', "circumference of the hub"),
    ("arms of 5.8 cm^2", 'arm_area = "0.058 m^2"', 'arm_area = "5.8 cm^2"', "of the rim bore"),
    ("claim of 1.49 rpm", CLAIM, 'value = "1.49 rpm"', "less than half of rated speed"),
    ("claim of a gap in cm", 'value = "14.2 mm"', 'value = "1.42 mm"', "less than a fifth of the cold gap"),
    ("claim met within half", CLAIM, CLAIM + "\ntolerance = 0.5", "0.05 is 5 %"),
    ("required gap in cm", 'at_least = "9 mm"', 'at_least = "0.9 mm"', "less than a fifth of the cold gap"),
    ("required stress ten times", 'at_most = "366 MPa"', 'at_most = "3660 MPa"', "more than the strength of the steel"),
    (
        "required speed ratio a tenth",
        'at_least = "1.15 x rated"',
        'at_least = "0.115 x rated"',
        "less than half of rated",
    ),
)
"""Legal, but so odd that the claim or requirement concerned may not hold; the doubt says these words."""
