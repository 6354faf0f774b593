"""Guides to uncertainty, JCGM 100 and 101, and the Ishigami function, through the study of tolerances."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from rimmodel.behaviour.study.blocks import study
from rimmodel.behaviour.study.distribution import Distribution
from rimmodel.behaviour.study.inputs import Inputs, Marginal, Table
from rimmodel.behaviour.study.propagation import Propagation, effective_degrees_of_freedom, propagate
from rimmodel.behaviour.study.sobol_indices import SobolIndices, sobol_indices
from rimmodel.rotor.tolerance import Correlation, Tolerance
from validation.check import Check, Provenance

Floats = NDArray[np.float64]
SAMPLES = 2**21


@dataclass(frozen=True)
class StudentT:
    """A scaled and shifted Student distribution, as a stated uncertainty of few readings has (JCGM 101, 6.4.9)."""

    name: str
    centre: float
    scale: float
    degrees_of_freedom: float

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation."""
        return self.scale * math.sqrt(self.degrees_of_freedom / (self.degrees_of_freedom - 2))

    def quantile(self, probability: Floats) -> Floats:
        """Value below which the share `probability` lies."""
        from scipy.special import stdtrit

        value: Floats = self.centre + self.scale * stdtrit(self.degrees_of_freedom, probability)
        return value


@dataclass(frozen=True)
class Arcsine:
    """The U-shaped distribution of a cyclic quantity (JCGM 101, 6.4.6)."""

    name: str
    centre: float
    half_width: float

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation."""
        return self.half_width / math.sqrt(2)

    def quantile(self, probability: Floats) -> Floats:
        """Value below which the share `probability` lies."""
        value: Floats = self.centre - self.half_width * np.cos(np.pi * probability)
        return value


def normal(name: str, centre: float, standard: float) -> Tolerance:
    """A normal input."""
    return Tolerance(name, centre, "normal", standard)


def uniform(name: str, low: float, high: float) -> Tolerance:
    """A rectangular input."""
    half = (high - low) / 2
    return Tolerance(name, (low + high) / 2, "uniform", half / math.sqrt(3), half)


# ------------------------------------------------------------------------------------------- JCGM 100, H.1


def end_gauge(table: Table) -> dict[str, Floats]:
    """Length of the end gauge in nm."""
    standard = table["standard"]
    warm = table["expansion_difference"] * table["temperature"] + table["expansion"] * table["temperature_difference"]
    return {"length": standard + table["difference"] - standard * warm}


# standard uncertainties in print, and the degrees of freedom that belong to them
END_GAUGE = (
    (normal("standard", 50_000_623.0, 25.0), 18.0),
    (normal("difference", 215.0, 9.7), 25.6),
    (normal("expansion", 11.5e-6, 1.2e-6), math.inf),
    (normal("temperature", -0.1, 0.41), math.inf),
    (normal("expansion_difference", 0.0, 0.58e-6), 50.0),
    (normal("temperature_difference", 0.0, 0.029), 2.0),
)


@cache
def end_gauge_linear() -> Propagation:
    """Linear propagation of the end gauge."""
    return propagate(end_gauge, Inputs(tuple(row for row, _ in END_GAUGE)))


def end_gauge_freedom() -> float:
    """Effective degrees of freedom of the length."""
    freedom = np.array([one for _, one in END_GAUGE])
    return effective_degrees_of_freedom(end_gauge_linear().contribution[0], freedom)


def end_gauge_expanded() -> float:
    """Half-width at 99 % with the whole number of degrees of freedom below, nm."""
    from scipy.special import stdtrit

    return float(stdtrit(math.floor(end_gauge_freedom()), 0.995) * end_gauge_linear().standard_uncertainty[0])


# ------------------------------------------------------------------------------------------- JCGM 100, H.2

READINGS = np.array(
    [
        [5.007, 4.994, 5.005, 4.990, 4.999],
        [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
    ]
)
"""Voltage (V), current (A) and phase (rad), read five times together."""


def impedance(table: Table) -> dict[str, Floats]:
    """Resistance, reactance and impedance, ohm."""
    ratio = table["voltage"] / table["current"]
    return {"R": ratio * np.cos(table["phase"]), "X": ratio * np.sin(table["phase"]), "Z": ratio}


@cache
def impedance_linear() -> Propagation:
    """Linear propagation with the correlations of the five readings."""
    names = ("voltage", "current", "phase")
    spread = READINGS.std(axis=1, ddof=1) / math.sqrt(READINGS.shape[1])
    tied = np.corrcoef(READINGS)
    marginals = tuple(normal(*row) for row in zip(names, READINGS.mean(axis=1), spread, strict=True))
    pairs = tuple(
        Correlation((names[i], names[j]), float(tied[i, j])) for i in range(3) for j in range(i + 1, 3)
    )  # fmt: skip
    return propagate(impedance, Inputs(marginals, pairs))


def impedance_number(output: str, field: str) -> float:
    """Value or standard uncertainty of one output."""
    found = impedance_linear()
    return float(getattr(found, field)[found.outputs.index(output)])


# ------------------------------------------------------------------------------------------- JCGM 101


def total(table: Table) -> dict[str, Floats]:
    """Sum of all inputs."""
    return {"y": sum(table.values(), np.zeros(1))}


@cache
def four(rectangular: bool) -> Distribution:
    """Sum of four inputs of zero mean and unit standard deviation."""
    edge = math.sqrt(3)
    rows: list[Marginal] = [
        uniform(f"x{number}", -edge, edge) if rectangular else normal(f"x{number}", 0.0, 1.0) for number in range(4)
    ]
    return study(total, Inputs(tuple(rows)), SAMPLES, seed=1).distributions["y"]


def gauge_block(table: Table) -> dict[str, Floats]:
    """Length of the gauge block less its nominal 50 mm, nm; curvilinear trapezoids from two uniforms each."""
    standard = table["standard"]
    difference = table["readings"] + table["random"] + table["systematic"]
    temperature = table["mean_temperature"] + table["cycle"]

    def trapezoid(name: str, end: float, doubt: float) -> Floats:
        low = -end - doubt + 2 * doubt * table[f"{name}_end"]
        return low - 2 * low * table[name]  # from the drawn end to its mirror image about zero

    warm = trapezoid("expansion_difference", 1e-6, 1e-7) * temperature
    warm = warm + table["expansion"] * trapezoid("temperature_difference", 0.05, 0.025)
    return {"y": standard * (1 - warm) + difference - 50_000_000.0}


GAUGE_BLOCK: tuple[Marginal, ...] = (
    StudentT("standard", 50_000_623.0, 25.0, 18.0),
    StudentT("readings", 215.0, 6.0, 24.0),
    StudentT("random", 0.0, 4.0, 5.0),
    StudentT("systematic", 0.0, 7.0, 8.0),
    uniform("expansion", 9.5e-6, 13.5e-6),
    normal("mean_temperature", -0.1, 0.2),
    Arcsine("cycle", 0.0, 0.5),
    uniform("expansion_difference", 0.0, 1.0),
    uniform("expansion_difference_end", 0.0, 1.0),
    uniform("temperature_difference", 0.0, 1.0),
    uniform("temperature_difference_end", 0.0, 1.0),
)


@cache
def gauge() -> Distribution:
    """Distribution of the gauge block."""
    return study(gauge_block, Inputs(GAUGE_BLOCK), SAMPLES, seed=1).distributions["y"]


# ------------------------------------------------------------------------------------------- Ishigami


def ishigami(table: Table) -> dict[str, Floats]:
    """Return sin a + 7 sin^2 b + 0.1 c^4 sin a."""
    return {"y": np.sin(table["a"]) + 7 * np.sin(table["b"]) ** 2 + 0.1 * table["c"] ** 4 * np.sin(table["a"])}


@cache
def indices() -> SobolIndices:
    """Sobol indices of the Ishigami function."""
    inputs = Inputs(tuple(uniform(name, -math.pi, math.pi) for name in "abc"))
    return sobol_indices(ishigami, inputs, 2**17, seed=1)


FIRST = ((1 + 0.1 * math.pi**4 / 5) ** 2 / 2, 49 / 8, 0.0)
BOTH = 0.01 * math.pi**8 * (1 / 18 - 1 / 50)
VARIANCE = sum(FIRST) + BOTH


def checks() -> tuple[Check, ...]:
    """All checks of this file."""
    guide = partial(Check, provenance=Provenance.SEEN_IN_PRINT)
    h1, h2 = (
        "JCGM 100:2008, annex H.1 (seen in print second-hand)",
        "JCGM 100:2008, annex H.2 (seen in print second-hand)",
    )
    sums = "JCGM 101:2008, 9.2, tables 2 and 3 (seen in print second-hand)"
    drawn = "JCGM 101:2008, 9.5, table 11"
    sampled = "sampling: three standard errors of this number of samples"
    memory: Callable[..., Check] = partial(Check, source=drawn, unit="nm", provenance=Provenance.FROM_MEMORY)
    closed: Callable[..., Check] = partial(
        Check, source="closed form of Ishigami & Homma (1990), derived anew", unit="-", provenance=Provenance.DERIVED,
        scale=1.0, tolerance=2e-3, reason="sampling: indices of 131072 samples",
    )  # fmt: skip
    rows = [
        guide("UNC-1a", "end gauge: length", h1, "50000838", "nm", lambda: end_gauge_linear().value[0]),
        guide("UNC-1b", "its combined standard uncertainty", h1, "31.71", "nm",
              lambda: end_gauge_linear().standard_uncertainty[0]),
        guide("UNC-1c", "its effective degrees of freedom", h1, "16.66", "-", end_gauge_freedom),
        guide("UNC-1d", "its expanded uncertainty at 99 %", h1, "93", "nm", end_gauge_expanded),
        guide("UNC-2a", "sum of four normals: half the width of the 95 % interval", sums, "3.92", "-",
              lambda: np.ptp(four(False).interval()) / 2),
        guide("UNC-2b", "sum of four rectangulars: half the width of the shortest 95 % interval", sums, "3.88", "-",
              lambda: np.ptp(four(True).shortest_interval()) / 2,
              note="Exact: 2 sqrt(3) (2 - (3/5)^(1/4)) = 3.8794."),
        guide("UNC-2c", "sum of four rectangulars: standard uncertainty", sums, "2.00", "-",
              lambda: four(True).standard_deviation),
    ]  # fmt: skip
    for output, value, spread in (("R", "127.732", "0.071"), ("X", "219.847", "0.295"), ("Z", "254.260", "0.236")):
        rows.append(
            guide(f"UNC-3{output}", f"H.2: {output} from correlated readings", h2, value, "ohm",
                  partial(impedance_number, output, "value"))
        )  # fmt: skip
        if output == "X":
            rows.append(
                guide("UNC-3uX", "standard uncertainty of X", h2, spread, "ohm",
                      partial(impedance_number, output, "standard_uncertainty"), tolerance=1e-3 / 0.295,
                      reason="one unit of the last digit, since the printed value is not the linear one",
                      note="Linear propagation gives 0.2956, printed as 0.296 by rounding; the scatter of the five "
                      "values of X is 0.2955, which the guide prints as 0.295.")
            )  # fmt: skip
        else:
            rows.append(
                guide(f"UNC-3u{output}", f"standard uncertainty of {output}", h2, spread, "ohm",
                      partial(impedance_number, output, "standard_uncertainty"))
            )  # fmt: skip
    rows += [
        memory("UNC-4a", "gauge block: estimate", printed="838", ours=lambda: gauge().mean),
        memory("UNC-4b", "gauge block: standard uncertainty", printed="36", ours=lambda: gauge().standard_deviation),
        memory("UNC-4c", "gauge block: lower end of the shortest 99 % interval", printed="745",
               ours=lambda: gauge().shortest_interval(0.99)[0], tolerance=1.5 / 745, reason=SHORTEST),
        memory("UNC-4d", "gauge block: upper end of the shortest 99 % interval", printed="931",
               ours=lambda: gauge().shortest_interval(0.99)[1], tolerance=1.5 / 931, reason=SHORTEST),
        closed("UNC-5", "variance of the Ishigami function", printed=VARIANCE, scale=VARIANCE, ours=ishigami_variance,
               reason=sampled),
    ]  # fmt: skip
    for place, name in enumerate("abc"):
        whole = FIRST[place] + (BOTH if name != "b" else 0.0)
        rows += [
            closed(f"UNC-6{name}", f"Ishigami: first index of {name}", printed=FIRST[place] / VARIANCE,
                   ours=lambda place=place: indices().first[0, place]),
            closed(f"UNC-7{name}", f"Ishigami: total index of {name}", printed=whole / VARIANCE,
                   ours=lambda place=place: indices().total[0, place]),
        ]  # fmt: skip
    return tuple(rows)


SHORTEST = "the shortest interval of a few million samples wanders by 1 nm, since its ends trade against each other"


def ishigami_variance() -> float:
    """Sampled variance of the Ishigami function."""
    inputs = Inputs(tuple(uniform(name, -math.pi, math.pi) for name in "abc"))
    return study(ishigami, inputs, 2**17, seed=1).distributions["y"].standard_deviation ** 2
