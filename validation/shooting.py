"""Equilibrium of layered rings by numerical integration of the field equations: no closed form enters.

State (u, s_r). Free strains e_r and e_t may be any functions of radius, such as those of heat::

    s_t = E_t (u/r - e_t) + nu m s_r        with m = E_t/E_r
    du/dr = (s_r - nu s_t)/E_r + e_r        ds_r/dr = (s_t - s_r)/r - rho w^2 r

Two integrations from the bore outward (one with the loads, one of a unit bore displacement) and the outer edge
condition fix the rest. In an interface u jumps by the interference.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Floats = NDArray[np.float64]


def _none(radius: float) -> float:
    return 0.0


@dataclass(frozen=True)
class Layer:
    """One ring: radii (m), moduli (Pa), hoop strain per radial strain under radial stress, kg/m3, free strains."""

    inner_radius: float
    outer_radius: float
    radial_modulus: float
    hoop_modulus: float
    poisson_ratio: float
    density: float = 0.0
    interference: float = 0.0
    """Radial, m, by which the layer inside is too large for this one."""
    free_radial_strain: Callable[[float], float] = _none
    free_hoop_strain: Callable[[float], float] = _none

    def hoop_stress(self, radius: float, displacement: float, radial_stress: float) -> float:
        """Hoop stress in Pa of a point that is displaced by so much (m) and pressed by so much (Pa)."""
        elastic = displacement / radius - self.free_hoop_strain(radius)
        return self.hoop_modulus * (elastic + self.poisson_ratio * radial_stress / self.radial_modulus)


@dataclass(frozen=True)
class Solution:
    """Values at the two edges of each layer, shape (layers, 2): m and Pa."""

    displacement: Floats
    radial_stress: Floats
    hoop_stress: Floats


def shoot(
    layers: Sequence[Layer], speed: float = 0.0, inner_pressure: float = 0.0, outer_traction: float = 0.0
) -> Solution:
    """Solve a stack of layers; a bore of 0 is taken as a hole of a millionth of the first layer, filled alike."""
    loaded = _march(layers, speed, -inner_pressure, 0.0, 1.0)
    unit = _march(layers, 0.0, 0.0, 1.0, 0.0)
    amount = (outer_traction - loaded[-1, 1, 1]) / unit[-1, 1, 1]
    values = loaded + amount * unit
    hoop = [
        [layer.hoop_stress(r, *values[i, edge]) for edge, r in enumerate((_start(layer), layer.outer_radius))]
        for i, layer in enumerate(layers)
    ]
    return Solution(values[..., 0], values[..., 1], np.array(hoop))


def _start(layer: Layer) -> float:
    return layer.inner_radius or 1e-6 * layer.outer_radius


def _march(layers: Sequence[Layer], speed: float, stress: float, displacement: float, loads: float) -> Floats:
    """Integrate outward from a bore state; `loads` switches interference and free strains on (1) or off (0)."""
    state, values = np.array([displacement, stress]), []
    if layers[0].inner_radius == 0.0:
        # the filled hole: u/r uniform, and the radial stress that an isotropic core answers with
        core, r = layers[0], _start(layers[0])
        strain = displacement / r - loads * core.free_hoop_strain(r)
        state[1] = strain * core.radial_modulus / (1.0 - core.poisson_ratio)
    for layer in layers:
        state = state + np.array([loads * layer.interference, 0.0])
        values.append([state, _through(layer, state, speed, loads)])
        state = values[-1][1]
    return np.array(values)


def _through(layer: Layer, state: Floats, speed: float, loads: float) -> Floats:
    modulus, nu = layer.radial_modulus, layer.poisson_ratio

    def slope(r: float, scaled: Floats) -> list[float]:
        u, radial = scaled[0], scaled[1] * modulus
        # without loads the free strains are off: add back what hoop_stress takes away
        u_elastic = u + (1.0 - loads) * r * layer.free_hoop_strain(r)
        hoop = layer.hoop_stress(r, u_elastic, radial)
        growth = (radial - nu * hoop) / modulus + loads * layer.free_radial_strain(r)
        return [growth, ((hoop - radial) / r - layer.density * speed**2 * r) / modulus]

    scale = np.array([1.0, modulus])  # stress over modulus is of the size of a strain
    run = solve_ivp(slope, (_start(layer), layer.outer_radius), state / scale, method="DOP853", rtol=1e-12, atol=1e-17)
    end: Floats = run.y[:, -1] * scale
    return end
