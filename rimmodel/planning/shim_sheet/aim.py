"""The mean interference to aim at inside the window, and readings that are too poor to aim at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats
from rimmodel.planning.predicted import standard_errors
from rimmodel.planning.shim_sheet.promise import CONFIDENCE, ShimErrors
from rimmodel.planning.shim_sheet.start import Start
from rimmodel.planning.shrink_window import ShrinkWindow, in_steps
from rimmodel.rotor.shim_stock import ShimStock
from rimmodel.units import mm


@dataclass(frozen=True)
class Aim:
    """The mean interference that was allowed.

    Attributes
    ----------
    low, high : float, m
    least : float, m
        Least that the window allows with the errors taken off: the lower limit is that or above.
    margin : float, m
        Taken off at each edge of the window for the errors of readings and pieces.
    aged : float, m
        Least mean that ageing does not bring below the window.
    why : str
        Why the lower limit does not cover ageing; empty where it does.
    """

    low: float
    high: float
    least: float
    margin: float
    aged: float
    why: str = ""


def aim_of(window: ShrinkWindow, start: Start, shims: ShimStock, *, level_known: bool, for_ageing: bool) -> Aim:
    """The mean interference to aim at.

    Parameters
    ----------
    level_known : bool
        The edges of the window hold the error of the level.
    for_ageing : bool
        Ageing is to be covered where window and stock leave room for it.

    Raises
    ------
    ValueError
        The window is narrower than the errors.
    """
    errors, keys = start.errors, start.keys.size
    of_reading = 0.0 if level_known else float(errors.of_reading(keys, "neighbours").sum()) / keys**2
    of_pieces = errors.piece * float(shims.most_pieces)  # all of one sheet and wrong alike
    about = math.sqrt((0.0 if level_known else errors.level) ** 2 + of_reading + of_pieces**2)
    margin = standard_errors(1.0 - 2.0 * (1.0 - CONFIDENCE) / (2.0 + len(errors.relative))) * about
    edge = max(window.low_sure, 0.0)
    low, high, aged = edge + margin, window.high_sure - margin, edge / (1.0 - window.relaxation_share) + margin
    if low > high:
        raise ValueError(
            f"no stock fits: the window from {lower_edge(window)} to {upper_edge(window)} is narrower than the errors "
            f"of readings and pieces, {mm(margin)} to each side; read the keys closer or fit fewer pieces "
            "(shims.most_pieces)"
        )
    if not for_ageing:
        return Aim(low, high, low, margin, aged, "the goal 'lift-off' does not ask for it")
    thinnest, reach = min(row.thickness for row in shims.stock), float(start.keys.mean()) + room_of(shims, keys)
    why = "the window leaves no room for it" if aged + thinnest > high else ""
    if not why and reach < aged:
        why = f"all pieces of the stock together reach a mean of {mm(reach, '.3f')}"
    if not why:
        return Aim(aged, high, low, margin, aged)
    best = high if window.recommended is None else window.recommended
    return Aim(max(low, min(best, reach, high) - thinnest), high, low, margin, aged, why)


def room_of(shims: ShimStock, keys: int) -> float:
    """Most that all pieces of the stock can add to the mean interference.

    Returns
    -------
    float, m
    """
    sizes = np.sort(np.repeat([row.thickness for row in shims.stock], [int(row.pieces) for row in shims.stock]))[::-1]
    return float(sizes[: keys * int(shims.most_pieces)].sum()) / keys


def lower_edge(window: ShrinkWindow) -> str:
    """The sure lower edge in words, never below it."""
    return mm(in_steps(max(window.low_sure, 0.0), up=True))


def upper_edge(window: ShrinkWindow) -> str:
    """The sure upper edge in words, never above it."""
    return mm(in_steps(window.high_sure, up=False)) if math.isfinite(window.high_sure) else "no edge"


def _each(keys: int) -> float:
    return standard_errors(1.0 - (1.0 - CONFIDENCE) / keys)


def reading_limit(errors: ShimErrors, keys: int) -> Floats:
    """Half-width in which a repeated reading of each key must lie: 95 % for all keys together.

    Returns
    -------
    array (N,), m
    """
    return floats(np.full(keys, _each(keys) * math.sqrt(2.0) * errors.reading))


def limits_of(errors: ShimErrors, pieces: Places, out: Mask) -> tuple[Floats, Floats, float, Floats]:
    """Half-widths of readings before and after, of their mean, and of the new packs: 95 % for all keys together.

    Parameters
    ----------
    pieces : int array (N, T)
        New pieces of each thickness behind each key.
    out : bool array (N,)
        Where a present pack is taken out.

    Returns
    -------
    array (N,), array (N,), float, array (N,), m
    """
    keys = len(pieces)
    each = _each(keys)
    square = (pieces**2).sum(axis=1).astype(float)  # the pieces of one thickness wrong alike
    own = errors.piece**2 * np.maximum(square, pieces.sum(axis=1))
    read = 2.0 * errors.reading**2
    mean = 2.0 * float(errors.of_reading(keys, "neighbours").sum()) / keys**2
    mean += errors.piece**2 * float(((pieces.sum(axis=0) / keys) ** 2).sum() + out.sum() / keys**2)
    return (
        reading_limit(errors, keys),
        each * np.sqrt(read + own + out * errors.piece**2),
        standard_errors(CONFIDENCE) * math.sqrt(mean),
        each * np.sqrt(own),
    )


def refuse_poor_readings(errors: ShimErrors, window: ShrinkWindow, limit: Floats) -> None:
    """Refuse limits of a reading that span more than the window: a key at both of its edges would pass.

    Parameters
    ----------
    limit : array (N,), m
        Half-width in which a reading of each key must lie.

    Raises
    ------
    ValueError
        Where a key's range is wider than the window.
    """
    width, widest = window.high_sure - max(window.low_sure, 0.0), 2.0 * float(limit.max())
    if widest > width:
        wanted = max(math.floor(2.0 * errors.reading * width / widest / 1e-5), 0) * 1e-5
        raise ValueError(
            f"no shim sheet: the readings are too poor. One reading has an error of {mm(2.0 * errors.reading, '.3f')} "
            f"(half-width), so a key could read anywhere in {mm(widest)} and pass, and the whole window, "
            f"{lower_edge(window)} to {upper_edge(window)}, is {mm(width)} wide; know each key to {mm(wanted)} or "
            "better, by a closer gauge or as the mean of several readings, and state that in shims.reading_tolerance"
        )
