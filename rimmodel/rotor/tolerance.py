"""How uncertain a number of the case is: its distribution about the stated value, and what it shares with others."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rimmodel.rotor.quantity import POSITIVE, Checked, Rule, plain, text

DISTRIBUTIONS = ("normal", "uniform", "triangular", "truncated normal")

COEFFICIENT = Rule(
    "above -1 and below 1",
    lambda value: (value > -1) & (value < 1),
    (("exclusiveMinimum", -1), ("exclusiveMaximum", 1)),
)

PER_KEY = "fit.key_interference"
"""One tolerance for all keys: each key draws its own value."""

NORMAL_REACH = 6.0
"""Standard deviations up to which a normal distribution must obey the rule of its quantity: one in 1e9 lies beyond."""


@dataclass(frozen=True)
class Tolerance(Checked):
    """How one number of the case varies about its value, named by its key.

    `standard` is the standard uncertainty of the parent distribution, SI: for "truncated normal" that before the ends
    are cut off. `half_width` (SI) is infinite where there is no end.

    Parameters
    ----------
    name : str
        The key in the case file.
    centre : float, SI

    >>> tolerance = Tolerance("rim.hoop_stiffness_factor", 0.85, "uniform", 0.06 / 3**0.5, 0.06)
    >>> [round(float(value), 3) for value in tolerance.quantile(np.array([0.0, 0.5, 1.0]))]
    [0.79, 0.85, 0.91]
    """

    name: str = field(metadata=text("", of_group=True))
    centre: float
    distribution: str = field(metadata=text("", DISTRIBUTIONS, absent="normal"))
    standard: float = field(
        metadata=plain(
            POSITIVE,
            "standard uncertainty: text with a unit, a share such as '2 %', or a bare number",
            written=float | str,
            absent=None,
        )
    )
    half_width: float = field(
        default=math.inf,
        metadata=plain(
            POSITIVE, "half-width: two standard uncertainties of a normal, the end of any other", written=float | str
        ),
    )

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation of what is drawn, SI."""
        if self.distribution != "truncated normal":
            return self.standard
        end = self.half_width / self.standard
        density = math.exp(-0.5 * end * end) / math.sqrt(2 * math.pi)
        return self.standard * math.sqrt(1 - 2 * end * density / math.erf(end / math.sqrt(2)))

    @property
    def reach(self) -> float:
        """Largest distance from the centre, SI, that has to obey the rule of the quantity."""
        return NORMAL_REACH * self.standard if self.distribution == "normal" else self.half_width

    def quantile(self, probability: NDArray[np.float64]) -> NDArray[np.float64]:
        """Value (SI) below which the share `probability` lies."""
        from scipy.special import ndtr, ndtri

        if self.distribution == "normal":
            deviation = self.standard * ndtri(probability)
        elif self.distribution == "uniform":
            deviation = self.half_width * (2 * probability - 1)
        elif self.distribution == "triangular":
            tail = np.sqrt(2 * np.minimum(probability, 1 - probability))
            deviation = self.half_width * np.where(probability < 0.5, tail - 1, 1 - tail)
        else:
            cut = ndtr(-self.half_width / self.standard)
            deviation = self.standard * ndtri(cut + (1 - 2 * cut) * probability)
        value: NDArray[np.float64] = self.centre + deviation
        return value


@dataclass(frozen=True)
class Correlation(Checked):
    """Two toleranced numbers that vary together.

    Their coefficient is that of their normal scores. For two normal distributions it is the ordinary coefficient; for
    others the ordinary coefficient is a little smaller (two uniform ones: ``6/pi asin(coefficient/2)``).
    """

    between: tuple[str, str] = field(metadata=text("keys of two numbers under [tolerances]", pair=True))
    coefficient: float = field(metadata=plain(COEFFICIENT, "correlation coefficient of their normal scores"))


def tolerance_of(
    name: str, centre: float, distribution: str, standard: float | None, half_width: float | None
) -> Tolerance:
    """A tolerance from what was stated.

    A half-width alone is two standard uncertainties of a normal distribution, the end of any other distribution.

    Parameters
    ----------
    centre : float, SI
    standard, half_width : float or None, SI

    Raises
    ------
    ValueError
        Too little or too much is stated; the text gives the rule.

    >>> tolerance_of("fit.interference", 2e-3, "normal", None, 1e-4).standard
    5e-05
    """
    if distribution == "truncated normal":
        if not standard or not half_width:
            raise ValueError("a truncated normal needs both standard and half_width, where it ends, above zero")
        return Tolerance(name, centre, distribution, standard, half_width)
    if (standard is None) == (half_width is None):
        raise ValueError(f"a {distribution} distribution needs one of standard and half_width, not both")
    per_width = {"normal": 0.5, "uniform": 1 / math.sqrt(3), "triangular": 1 / math.sqrt(6)}[distribution]
    if standard is None:
        standard = per_width * float(half_width or 0.0)
    return Tolerance(
        name, centre, distribution, standard, math.inf if distribution == "normal" else standard / per_width
    )


def correlation_matrix(names: tuple[str, ...], correlations: tuple[Correlation, ...]) -> NDArray[np.float64]:
    """Correlation matrix of toleranced numbers, one on the diagonal.

    Returns
    -------
    array (name, name), -
    """
    matrix = np.eye(len(names))
    for pair in correlations:
        i, j = (names.index(name) for name in pair.between)
        matrix[i, j] = matrix[j, i] = pair.coefficient
    return matrix
