"""Linear propagation of uncertainty beside the sampled result: what each input adds, where a straight line fails."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, inf, log10, sqrt

import numpy as np

from rimmodel.arrays import Floats, Interval
from rimmodel.behaviour.study.distribution import Distribution
from rimmodel.behaviour.study.inputs import Inputs, Model


@dataclass(frozen=True)
class Propagation:
    """The outputs about the stated inputs, each in its SI unit.

    Attributes
    ----------
    value : array (output,), SI
        At the stated inputs.
    below, above : array (output, input), SI
        With one input a standard uncertainty lower or higher.
    contribution : array (output, input), SI
        Half of their difference, the sensitivity times the standard uncertainty.
    correlation : array (input, input), -
    standard_uncertainty : array (output,), SI
        With the correlations in.
    """

    outputs: tuple[str, ...]
    inputs: tuple[str, ...]
    value: Floats
    below: Floats
    above: Floats
    contribution: Floats
    correlation: Floats
    standard_uncertainty: Floats

    def interval(self, output: str, confidence: float = 0.95) -> Interval:
        """Normal coverage interval of an output, SI."""
        from scipy.special import ndtri

        row = self.outputs.index(output)
        half = float(ndtri((1 + confidence) / 2)) * float(self.standard_uncertainty[row])
        return float(self.value[row]) - half, float(self.value[row]) + half


def propagate(model: Model, inputs: Inputs) -> Propagation:
    """Linear (first-order) propagation of the inputs through a model, all in one call of it.

    Parameters
    ----------
    model : callable
        As of `study`.

    Notes
    -----
    ``u^2 = sum_ij c_i c_j u_i u_j r_ij``; ``c_i u_i`` from half the difference of the outputs at one standard
    uncertainty to both sides (JCGM 100:2008, 5.1.3 note 2 and 5.2.2; clauses from memory). Exact for a model that is
    at most quadratic in each input. An output that is not finite on one side makes its uncertainty NaN or infinite.

    >>> from rimmodel.rotor.tolerance import Tolerance
    >>> pair = Inputs((Tolerance("a", 1.0, "normal", 3.0), Tolerance("b", 2.0, "normal", 4.0)))
    >>> propagate(lambda t: {"sum": t["a"] + t["b"]}, pair).standard_uncertainty
    array([5.])
    """
    names = inputs.names
    covariance = inputs.covariance()
    spread = np.sqrt(np.diag(covariance))
    steps = np.concatenate([np.zeros((len(names), 1)), -np.diag(spread), np.diag(spread)], axis=1)
    centre = inputs.central()
    table = {name: centre[name] + steps[row] for row, name in enumerate(names)}
    found = model(table)
    values = np.stack([np.broadcast_to(value, (steps.shape[1],)) for value in found.values()])
    below, above = values[:, 1 : 1 + len(names)], values[:, 1 + len(names) :]
    safe = np.where(spread > 0, spread, 1.0)
    correlation = covariance / np.outer(safe, safe)
    with np.errstate(invalid="ignore"):
        contribution = (above - below) / 2
        variance = np.einsum("oi,ij,oj->o", contribution, correlation, contribution)
    return Propagation(
        tuple(found), names, values[:, 0], below, above, contribution, correlation, np.sqrt(np.maximum(variance, 0.0))
    )


def effective_degrees_of_freedom(contribution: Floats, degrees_of_freedom: Floats) -> float:
    """Effective degrees of freedom of a sum of contributions (input,) in quadrature (Welch-Satterthwaite).

    ``(sum c^2)^2 / sum(c^4/nu)`` (JCGM 100:2008, G.4.1); infinite where all inputs are known exactly.

    Parameters
    ----------
    contribution : array (input,), unit of output
    degrees_of_freedom : array (input,), -

    Returns
    -------
    float, -

    >>> effective_degrees_of_freedom(np.array([1.0, 1.0]), np.array([4.0, 4.0]))
    8.0
    """
    weight = float(np.sum(contribution**4 / degrees_of_freedom))
    return float(np.sum(contribution**2)) ** 2 / weight if weight else inf


def differences(linear: Propagation, sampled: Mapping[str, Distribution], confidence: float = 0.95) -> dict[str, str]:
    """Outputs whose sampled interval is not that of the straight line, with a sentence for each.

    The ends must agree within half a unit of the second digit of the standard uncertainty (JCGM 101:2008, 8.1; clause
    from memory), or within three sampling errors of an end where there are too few samples to decide.

    Parameters
    ----------
    confidence : float, -
    """
    from scipy.special import ndtri

    tail = (1 + confidence) / 2
    z = float(ndtri(tail))
    per_root_sample = sqrt(tail * (1 - tail)) * sqrt(2 * np.pi) * float(np.exp(0.5 * z * z))
    warnings = {}
    for name in linear.outputs:
        found = sampled[name]
        spread = float(linear.standard_uncertainty[linear.outputs.index(name)])
        missing = found.never + found.none
        ends = found.interval(confidence) + linear.interval(name, confidence)
        if missing or not np.isfinite([spread, *ends]).all():
            warnings[name] = (
                f"{missing} of {found.samples} samples have no finite value; a straight line cannot describe them"
            )
            continue
        if spread <= 1e-9 * abs(found.mean):
            continue  # it does not vary: what is left is round-off
        allowed = 0.5 * 10.0 ** (floor(log10(spread)) - 1)
        allowed = max(allowed, 3 * per_root_sample * found.standard_deviation / sqrt(found.samples))
        apart = max(abs(ends[0] - ends[2]), abs(ends[1] - ends[3]))
        if apart > allowed:
            warnings[name] = (
                f"an end of the sampled interval lies {apart / spread:.2f} standard uncertainties from that of the "
                f"straight line: use the sampled interval"
            )
    return warnings
