"""Names of the physics and their units: what docstrings are held against."""

import re

from rimmodel.units import KINDS

NOMENCLATURE = {
    "radius": "m", "inner_radius": "m", "outer_radius": "m", "depth": "m", "length": "m",
    "young_modulus": "Pa", "poisson_ratio": "-", "density": "kg/m3", "thermal_expansion": "1/K",
    "stacking_factor": "-", "hoop_stiffness_factor": "-", "net_section_factor": "-",
    "speed": "rad/s", "speed_rpm": "rpm", "speed_squared": "rad2/s2",
    "interference": "m", "residual_interference": "m", "contact_pressure": "Pa", "outer_traction": "Pa",
    "compliance": "m/Pa", "growth_per_speed_squared": "m s2", "radial_displacement": "m", "growth": "m",
    "air_gap": "m", "gap": "m", "hoop_stress": "Pa", "radial_stress": "Pa", "stress": "Pa",
    "key_force": "N", "key_interference": "m", "key_angle": "rad", "temperature": "K", "flux_density": "T",
}  # fmt: skip
"""Unit by name in code; a longer name that ends with _name is of the same quantity."""

ALIKE = re.compile(r"_per_|^per_|_for_|^percent_")
"""Names that end like a quantity of the nomenclature and are another."""

OTHER_MEANING = {
    ("behaviour.keys.complementarity.KeyContact", "compliance"): "per force on a key, not per pressure",
    ("behaviour.keys.complementarity.pressed_keys", "compliance"): "per force on a key, not per pressure",
    ("behaviour.keys.complementarity.rubbing_keys", "compliance"): "per force on a key, not per pressure",
    ("behaviour.keys.events.KeyLoads", "compliance"): "per force on a key, not per pressure",
    ("behaviour.contact.coefficients.Coefficients", "net_growth"): "per speed squared",
    ("rotor.allowances.Limits", "arm_effective_length"): "over the length of the arm",
    ("evidence.recording.delimited.Layout", "line_length"): "of a line of text",
    ("evidence.knee.inference.path_length", "path_length"): "of a path on the unit sphere",
    ("evidence.knee.inference.one_line_probability", "length"): "of a path on the unit sphere",
    ("evidence.knee.inference.detectable_score", "length"): "of a path on the unit sphere",
}
"""Names of the nomenclature that stand for something else in one place, and for what."""

PRINT = {"m": "mm", "rad/s": "rpm", "Pa": "MPa", "N": "kN", "rad": "deg"}
"""Units of print, in which plots and printed tables may have them."""

SI_UNITS = {name: kind.si_unit.replace("^", "").replace("*", " ") for name, kind in KINDS.items()}
UNITS = {
    *NOMENCLATURE.values(), *PRINT.values(), *SI_UNITS.values(),
    "m2", "m3", "1/m", "1/s", "J", "h",
    "m/h", "m/N", "N/m", "Pa/m", "Pa s2", "kg/m2", "s2/rad2", "%", "B", "inch", "SI",
}  # fmt: skip
"""Every unit that a docstring may name; "SI" where it depends on the quantity that is asked for."""

_ONE_UNIT = "|".join(sorted(map(re.escape, UNITS), key=len, reverse=True))
UNIT_IN_PROSE = re.compile(rf"(?:[,;] |\(|\bin )({_ONE_UNIT}|units? of \w+)(?=[\s,.:;)]|$)")
SAYS_UNIT = re.compile(rf"{UNIT_IN_PROSE.pattern}|[Dd]imensionless|[Ss]hare|[Nn]umber of|\bunits?\b")


def nomenclature_unit(name: str) -> str | None:
    """Unit of a name, by itself or by the longest name of the nomenclature that it ends with."""
    if name in NOMENCLATURE:
        return NOMENCLATURE[name]
    ends = [known for known in NOMENCLATURE if name.endswith("_" + known)]
    return NOMENCLATURE[max(ends, key=len)] if ends and not ALIKE.search(name) else None
