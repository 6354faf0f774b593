"""The machine as frozen inputs: what is stored, not what is computed."""

from rimmodel.rotor.air_gap import AirGap
from rimmodel.rotor.assembly import Assembly
from rimmodel.rotor.axial import Axial
from rimmodel.rotor.conditions import REFERENCE_TEMPERATURE, UNIFORM_COLD, Condition, Speeds
from rimmodel.rotor.material import Material
from rimmodel.rotor.poles import Poles
from rimmodel.rotor.rim import Rim
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.rotor.spider import ArmSpider, DiscSpider, GivenSpider, Spider

__all__ = [
    "REFERENCE_TEMPERATURE",
    "UNIFORM_COLD",
    "AirGap",
    "ArmSpider",
    "Assembly",
    "Axial",
    "Condition",
    "DiscSpider",
    "GivenSpider",
    "Material",
    "Poles",
    "Rim",
    "Rotor",
    "ShrinkFit",
    "Speeds",
    "Spider",
]
