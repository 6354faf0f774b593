"""A body and a thick wall that are heated, in closed form: what a hand calculation of a heated ring needs.

Source: Carslaw & Jaeger, Conduction of Heat in Solids (2nd ed.), art. 3.8 (flux into a wall that holds back none on its
other side), Timoshenko & Goodier, Theory of Elasticity (3rd ed.), ch. 13 (thermal stress); both from memory, the
formulas derived again in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require


def lumped_rise(power: ArrayLike, loss: ArrayLike, capacity: ArrayLike, time: ArrayLike) -> Floats:
    """Rise of a body of even temperature that is heated and loses heat: ``P/G (1 - exp(-G t/C))``.

    Parameters
    ----------
    power : float or array, W
    loss : float or array, W/K
        Above zero.
    capacity : float or array, SI
        Heat capacity in J/K, above zero.
    time : float or array, s

    Returns
    -------
    array, K

    Raises
    ------
    ValueError
        A loss or a capacity that is not above zero.

    Notes
    -----
    Derived here, ``C dT/dt = P - G T``.

    100 kW against 1 kW/K come to 100 K in the end, 63.2 K after C/G:

    >>> print(f"{lumped_rise(1e5, 1e3, 7e7, 7e4):.1f} K")
    63.2 K
    """
    g, c = floats(loss), floats(capacity)
    require(g > 0, "loss", g, "W/K", "above zero")
    require(c > 0, "capacity", c, "J/K", "above zero")
    return floats(-floats(power) / g * np.expm1(-g * floats(time) / c))


@dataclass(frozen=True)
class Wall:
    """A wall that is heated on one side and holds nothing back on the other; heated on both, half of it counts.

    Attributes
    ----------
    depth : float, m
    conductivity : float, W/m/K
    stored : float, SI
        Heat capacity by volume, J/m3/K.

    Raises
    ------
    ValueError
        A number that is not above zero.
    """

    depth: float
    conductivity: float
    stored: float

    def __post_init__(self) -> None:
        for name, unit in (("depth", "m"), ("conductivity", "W/m/K"), ("stored", "J/m^3/K")):
            require(getattr(self, name) > 0, name, getattr(self, name), unit, "above zero")

    def spread(self, rate: float) -> float:
        """Hot side minus cold side, K, of the parabola while all of it warms at a rate: ``q L/(2 k)``, q = rho c L R.

        Parameters
        ----------
        rate : float, K/s

        >>> print(f"{Wall(0.44, 45.0, 7850.0 * 470.0).spread(10.0 / 3600):.1f} K")
        22.0 K
        """
        return self.stored * self.depth**2 * rate / (2 * self.conductivity)

    def rate(self, spread: float) -> float:
        """Rate of warming, K/s, at which the spread is as given: ``2 kappa S/L^2``.

        Parameters
        ----------
        spread : float, K

        >>> print(f"{Wall(0.44, 45.0, 7850.0 * 470.0).rate(10.0) * 3600:.2f} K/h")
        4.54 K/h
        """
        return 2 * self.conductivity * spread / (self.stored * self.depth**2)

    @property
    def evening_time(self) -> float:
        """Time, s, in which an uneven temperature without exchange falls to 1/e: ``L^2/(pi^2 kappa)``.

        >>> print(f"{Wall(0.44, 45.0, 7850.0 * 470.0).evening_time / 60:.1f} min")
        26.8 min
        """
        return self.stored * self.depth**2 / (np.pi**2 * self.conductivity)


def restrained_stress(young_modulus: ArrayLike, thermal_expansion: ArrayLike, difference: ArrayLike) -> Floats:
    """Stress of steel that may not grow by its difference from the mean around it: ``E alpha dT``.

    In the hoop direction of a stack of sheets, which is free along its axis and across its depth; a solid wall, held in
    two directions, would have 1/(1 - nu) of it. Hot steel is pressed, - here. Source: Timoshenko & Goodier, ch. 13.

    Parameters
    ----------
    young_modulus : float or array, Pa
    thermal_expansion : float or array, 1/K
    difference : float or array, K
        Temperature above the mean.

    Returns
    -------
    array, Pa

    >>> print(f"{restrained_stress(200e9, 1.2e-5, 5.0) / 1e6:.1f} MPa")
    -12.0 MPa
    """
    return floats(-floats(young_modulus) * floats(thermal_expansion) * floats(difference))


def thermal_wave(radius: ArrayLike, thermal_expansion: ArrayLike, amplitude: ArrayLike, harmonic: ArrayLike) -> Floats:
    """Radial wave of a thin free ring whose temperature goes around as ``tau cos n theta``: ``a alpha tau/(n^2 - 1)``.

    A hot arc becomes longer and, as it subtends the same angle, flatter: hot places go inward, by the size that is
    returned. From n = 2; n = 1 only moves a ring that stays round. With a temperature that falls inward as r^n the
    size is ``a alpha tau/(n + 1)``, outward, which is the same for n = 2.

    Parameters
    ----------
    radius : float or array, m
    thermal_expansion : float or array, 1/K
    amplitude : float or array, K
        Half of the spread around the ring.
    harmonic : float or array, -

    Returns
    -------
    array, m

    Raises
    ------
    ValueError
        A harmonic below 2.

    Notes
    -----
    Derived here: no stress, so that the curvature changes as in even growth, ``w'' + w = a alpha tau cos n theta``.

    5 K up and down, twice around a rim of 3.62 m:

    >>> print(f"{thermal_wave(3.62, 1.2e-5, 5.0, 2) * 1e3:.3f} mm")
    0.072 mm
    """
    n = floats(harmonic)
    require(n >= 2, "harmonic", n, "", "2 or more")
    return floats(floats(radius) * floats(thermal_expansion) * floats(amplitude) / (n**2 - 1))
