"""Mechanics of rings and discs as plain functions of arrays; nothing here knows of generators."""

from rimmodel.elastic.ring import EdgeLoads, Ring, RingEdges, RingState, ring_edges

__all__ = ["EdgeLoads", "Ring", "RingEdges", "RingState", "ring_edges"]
