"""Probability that a rotating annular disc comes near burst, by direct sampling."""

from __future__ import annotations

from functools import cache

import numpy as np

from rimmodel.elastic import Ring
from rimmodel.elastic.burst import burst_speed_ratio, mean_hoop_stress
from rimmodel.units import RPM
from validation.check import Check, Provenance

INCH, POUND = 0.0254, 0.45359237
PSI = 4.4482216152605 / INCH**2
SAMPLES, BLOCK, SEED = 2_000_000, 100_000, 7
LEAST_MARGIN = 0.37473


@cache
def burst_probability() -> float:
    """Share of sampled discs whose burst speed over speed lies below `LEAST_MARGIN`."""
    rng = np.random.default_rng(SEED)
    return sum(_below(rng, BLOCK) for _ in range(SAMPLES // BLOCK)) / SAMPLES


def _below(rng: np.random.Generator, count: int) -> int:
    share = 0.958 * rng.weibull(25.508, count)
    ultimate = rng.normal(220_000, 5_000, count) * PSI
    speed = rng.normal(21_000, 1_000, count) * RPM
    density = rng.uniform(0.28, 0.30, count) * POUND / INCH**3
    outer, inner = rng.normal(24.0, 0.5, count) * INCH, rng.normal(8.0, 0.3, count) * INCH
    mean = mean_hoop_stress(Ring(inner, outer, 200e9, 0.3, density), speed)
    return int((burst_speed_ratio(mean, ultimate, share) < LEAST_MARGIN).sum())


def checks() -> tuple[Check, ...]:
    ours, theirs = 1 / np.sqrt(1.04e-3 * SAMPLES), 1 / np.sqrt(1.04e-3 * 1e6)
    return (
        Check(
            "PLA-3",
            f"probability that sqrt(share x ultimate strength / mean hoop stress) is below {LEAST_MARGIN}",
            "Penmetsa & Grandhi (2002), burst margin of a rotating annular disk: probability by direct sampling, as "
            "printed in a later collection of test problems; limit state from memory",
            "1.04e-3",
            "-",
            burst_probability,
            Provenance.SEEN_IN_PRINT,
            tolerance=2 * float(np.hypot(ours, theirs)),
            reason=f"two standard errors of {SAMPLES:,} samples here and a million there (their number is assumed)",
            note="Normal and Weibull inputs as printed; the threshold is from memory.",
        ),
    )
