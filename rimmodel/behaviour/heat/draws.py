"""Values of heat exchange within their ranges: the middle, one range at a time, corners, and points between."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.rotor.thermal import Span, Thermal

SEED = 20


def middle_first(thermal: Thermal, count: int, worst: NDArray[np.bool_] | None = None) -> dict[str, Floats]:
    """Values by the name of their range: first the middle, then each range at its ends with the rest in the middle.

    The rest are corners and points drawn evenly between the ends, half of each; ahead of them stand those of `toward`
    for `worst`. The same count makes the same values. Derived here.

    Parameters
    ----------
    count : int
        At least one and twice the number of ranges.
    worst : bool array (span,) or (corner, span), optional
        Corners to look at: which ranges are at their upper ends.

    Returns
    -------
    dict of str to array (draw,), SI

    Raises
    ------
    ValueError
        A count that is too small.

    The middle of 20 and 45 W/m2/K is their geometric mean, 30:

    >>> import rimmodel as rm
    >>> print(f"{middle_first(rm.example_case().thermal, 40)['rim_bore_heat_transfer'][0]:.1f}")
    30.0
    """
    return spread(thermal.spans, places(len(thermal.spans), count, worst))


def places(spans: int, count: int, worst: NDArray[np.bool_] | None = None) -> Floats:
    """Places (draw, span) within the ranges, 0 at the lower and 1 at the upper end; see `middle_first`, derived there.

    Parameters
    ----------
    worst : bool array (span,) or (corner, span), optional

    Returns
    -------
    array (draw, span), -

    Raises
    ------
    ValueError
        A count that is too small.

    >>> places(1, 3).tolist()
    [[0.5], [0.0], [1.0]]
    """
    least = 1 + 2 * spans
    if count < least:
        raise ValueError(f"{count} draws; {spans} ranges need {least} at least: the middle and both ends of each")
    table = np.full((count, spans), 0.5)
    for number in range(spans):
        table[1 + 2 * number, number], table[2 + 2 * number, number] = 0.0, 1.0
    rest = count - least
    random = np.random.default_rng(SEED).uniform(size=(rest, spans))
    corners = rest // 2
    random[:corners] = np.round(random[:corners])
    if worst is not None and rest > 1:
        looked_at = toward(np.atleast_2d(worst))[:rest]
        random[: len(looked_at)] = looked_at
    table[least:] = random
    return table


def toward(corners: NDArray[np.bool_]) -> Floats:
    """Places (draw, span) at corners and before them: a machine may be possible no further than up to there.

    First every corner; then its opposite; then each corner with one range after the other back in its middle; then
    steps towards it. Derived here.

    Parameters
    ----------
    corners : bool array (corner, span)
        Which ranges are at their upper ends.

    Returns
    -------
    array (draw, span), -

    >>> toward(np.array([[True, False]]))[:4].tolist()
    [[1.0, 0.0], [0.0, 1.0], [0.5, 0.0], [1.0, 0.5]]
    """
    ends = corners.astype(float)
    one_back = [np.where(np.eye(len(end), dtype=bool), 0.5, end) for end in ends]
    towards = [0.5 + part * (ends - 0.5) for part in (0.9, 0.75, 0.5)]
    return floats(np.concatenate([ends, 1.0 - ends, *one_back, *towards]))


def spread(spans: Mapping[str, Span], table: Floats) -> dict[str, Floats]:
    """Values at places within ranges: evenly in the logarithm, or evenly where a range starts at zero; derived here.

    Parameters
    ----------
    table : array (draw, span), -

    Returns
    -------
    dict of str to array (draw,), SI

    >>> spread({"h": (4.0, 9.0), "rise": (0.0, 8.0)}, np.array([[0.5, 0.5]]))["h"].tolist()
    [6.0]
    """
    found = {}
    for (name, (low, high)), place in zip(spans.items(), table.T, strict=True):
        ratio = low > 0 and high > low
        found[name] = floats(low * (high / low) ** place if ratio else low + (high - low) * place)
    return found
