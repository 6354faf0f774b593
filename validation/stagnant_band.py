"""Open data with a knee: height of a stagnant band against flow (R. A. Cook; Bacon & Watts, Biometrika 58, 1971).

29 readings, seen in print in three places as example data of general statistics software. Held against them: the
broken line of the R package segmented, computed once (R 4.2.2, segmented 1.6-2, iterated to the end) and recorded
here, and the printed summary of a Bayesian fit with flat priors.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

from rimmodel.evidence.knee.fit import Knee, fit_knee
from validation.check import Check, Group, Provenance

GROUP = Group.OPEN_DATA
# fmt: off
FLOW = (
    -1.39, -1.39, -1.08, -1.08, -0.94, -0.8, -0.63, -0.63, -0.25, -0.25, -0.12, -0.12, 0.01, 0.11, 0.11, 0.11, 0.25,
    0.25, 0.34, 0.34, 0.44, 0.59, 0.7, 0.7, 0.85, 0.85, 0.99, 0.99, 1.19,
)
"""Logarithm of flow."""
HEIGHT = (
    1.12, 1.12, 0.99, 1.03, 0.92, 0.9, 0.81, 0.83, 0.65, 0.67, 0.6, 0.59, 0.51, 0.44, 0.43, 0.43, 0.33, 0.3, 0.25, 0.24,
    0.13, -0.01, -0.13, -0.14, -0.3, -0.33, -0.46, -0.43, -0.65,
)
"""Logarithm of band height."""
# fmt: on
SEGMENTED = "band data of Bacon & Watts (1971); R package segmented 1.6-2, computed for this check"
BAYES = "band data of Bacon & Watts (1971); posterior of a change-point model, printed in public course notes (2022)"
POSTERIOR = {"knee": 0.0315, "slope_before": 0.01468, "slope_after": 0.01726}
"""Standard deviations printed with the posterior."""


@cache
def knee() -> Knee:
    """Plain least squares, as the sources do: no point set aside, no rounding sought."""
    return fit_knee(FLOW, HEIGHT, robust=False, rounded=False, independent=True)


def checks() -> tuple[Check, ...]:
    return (*_least_squares(), *_posterior())


def _least_squares() -> tuple[Check, ...]:
    rows: tuple[tuple[str, str, Callable[[], float]], ...] = (
        ("knee", "0.035912", lambda: knee().position),
        ("slope before it", "-0.4220768", lambda: knee().slope_before),
        ("slope after it", "-1.016593", lambda: knee().slope_after),
        ("standard error of the knee", "0.0218861", lambda: math.sqrt(knee().covariance[0, 0])),
        ("standard error of the slope before", "0.0114027", lambda: math.sqrt(knee().covariance[2, 2])),
        ("standard error of the slope after", "0.0141113", lambda: math.sqrt(knee().covariance[3, 3])),
        ("noise", "0.0193715", lambda: knee().sigma),
    )
    return tuple(
        Check(f"SEG-1.{number}", f"band data: {what}", SEGMENTED, printed, "-", ours, Provenance.INDEPENDENT_METHOD)
        for number, (what, printed, ours) in enumerate(rows, start=1)
    )


def _posterior() -> tuple[Check, ...]:
    span = max(FLOW) - min(FLOW)
    rows = (
        ("lower end of the 95 % interval of the knee", "-0.03736", "knee", span, lambda: knee().interval[0]),
        ("upper end of the 95 % interval of the knee", "0.08328", "knee", span, lambda: knee().interval[1]),
        ("slope before the knee", "-0.41922", "slope_before", 0.41922, lambda: knee().slope_before),
        ("slope after the knee", "-1.01357", "slope_after", 1.01357, lambda: knee().slope_after),
    )
    return tuple(
        Check(
            f"SEG-2.{number}",
            f"band data: {what}",
            BAYES,
            printed,
            "-",
            ours,
            Provenance.SEEN_IN_PRINT,
            tolerance=0.25 * POSTERIOR[name] / scale,
            reason="a posterior of flat priors is no likelihood profile: a quarter of its standard deviation",
            scale=scale,
            note="relative to the range of the data" if name == "knee" else "",
        )
        for number, (what, printed, name, scale, ours) in enumerate(rows, start=1)
    )
