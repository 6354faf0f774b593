"""Mechanics of rings and discs as plain functions of arrays; nothing here knows of generators."""

from rimmodel.elastic.burst import burst_speed_ratio, mean_hoop_stress
from rimmodel.elastic.disc import Disc
from rimmodel.elastic.harmonics import HarmonicRing, HarmonicState
from rimmodel.elastic.key_compliance import (
    dented_compliance,
    key_compliance_matrix,
    key_shape_amplitudes,
    scalloped_compliance,
)
from rimmodel.elastic.key_yield import KeySupport, KeyYield
from rimmodel.elastic.nested import NestedRings, nested_rings
from rimmodel.elastic.overspeed import ElasticPlasticState, PermanentGrowth, elastic_plastic_state, permanent_growth
from rimmodel.elastic.plasticity import first_yield_speed, fully_plastic_speed
from rimmodel.elastic.ring import Ring, RingState
from rimmodel.elastic.ring_edges import EdgeLoads, RingEdges, ring_edges
from rimmodel.elastic.teeth import Teeth, wedging
from rimmodel.elastic.von_mises import fully_plastic_speed_von_mises, permanent_growth_von_mises

__all__ = [
    "Disc",
    "EdgeLoads",
    "ElasticPlasticState",
    "HarmonicRing",
    "HarmonicState",
    "KeySupport",
    "KeyYield",
    "NestedRings",
    "PermanentGrowth",
    "Ring",
    "RingEdges",
    "RingState",
    "Teeth",
    "burst_speed_ratio",
    "dented_compliance",
    "elastic_plastic_state",
    "first_yield_speed",
    "fully_plastic_speed",
    "fully_plastic_speed_von_mises",
    "key_compliance_matrix",
    "key_shape_amplitudes",
    "mean_hoop_stress",
    "nested_rings",
    "permanent_growth",
    "permanent_growth_von_mises",
    "ring_edges",
    "scalloped_compliance",
    "wedging",
]
