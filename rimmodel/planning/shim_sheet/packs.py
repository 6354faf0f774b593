"""Packs of shims: every change of interference that whole pieces of the stock can make behind one key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from math import comb

import numpy as np

from rimmodel.arrays import Floats, Mask, Places
from rimmodel.planning.shrink_window import in_steps
from rimmodel.rotor.shim_stock import ShimStock
from rimmodel.units import mm

GRAIN = 1e-7
"""Metres within which two packs are of one thickness."""

MOST_PACKS = 30_000


@dataclass(frozen=True)
class Packs:
    """What can be done behind one key: M packs of pieces of T thicknesses.

    Attributes
    ----------
    change : array (M,), m
        Of the interference; below zero where more is taken out than is put in.
    pieces : int array (M, T)
        New pieces of each thickness.
    out : bool array (M,)
        Whether the present pack is taken out.
    """

    change: Floats
    pieces: Places
    out: Mask

    @property
    def errors(self) -> Floats:
        """Number of thicknesses (M,) whose errors enter the change."""
        return np.asarray(self.pieces.sum(axis=1) + self.out, dtype=float)


def packs_behind(shims: ShimStock, keys: int) -> tuple[Packs, ...]:
    """Packs behind each key, without those that another pack of equal thickness makes with no more of anything.

    Raises
    ------
    ValueError
        More than 30,000 packs, or a list of present packs of another length than the keys.

    >>> from rimmodel.rotor.shim_stock import ShimPiece
    >>> few = ShimStock((ShimPiece(1e-4, 50), ShimPiece(2e-4, 1)), most_pieces=2)
    >>> [round(1e3 * x, 1) for x in packs_behind(few, 2)[0].change.tolist()]     # 0.2 twice: one piece, or two
    [0.0, 0.1, 0.2, 0.2, 0.3]
    """
    present = shims.present_packs
    if present is not None and len(present) != keys:
        raise ValueError(
            f"shims.present_packs has {len(present)} values; it must have one for each of the {keys} keys (0 mm where "
            "nothing can be taken out)"
        )
    thickness, pieces = _combinations(shims)
    scarce = scarce_kinds(shims, keys)
    found: dict[float, Packs] = {}
    for removable in [0.0] * keys if present is None else present:
        if removable not in found:
            found[removable] = _behind(thickness, pieces, scarce, removable)
    return tuple(found[removable] for removable in ([0.0] * keys if present is None else present))


def within(packs: Sequence[Packs], present: Floats, low: float, high: float) -> tuple[Packs, ...]:
    """The packs that bring each key by itself between two interferences.

    Parameters
    ----------
    present : array (N,), m
    low, high : float, m

    Raises
    ------
    ValueError
        Keys that no pack brings there.
    """
    kept, reasons = [], []
    for key, (row, now) in enumerate(zip(packs, present, strict=True), 1):
        fits = (now + row.change >= low - GRAIN) & (now + row.change <= high + GRAIN)
        kept.append(Packs(row.change[fits], row.pieces[fits], row.out[fits]))
        reasons += [] if fits.any() else [(str(key), _reason(now + row.change, low, high, takes_out=row.out.any()))]
    if reasons:
        keys = ", ".join(key for key, _ in reasons)
        each = "; ".join(f"key {key} {reason}" for key, reason in reasons)
        raise ValueError(
            f"no stock fits: no whole pieces of shims.stock bring key {keys} into the window, "
            f"{mm(in_steps(low, up=True))} to {mm(in_steps(high, up=False))}: {each}"
        )
    return tuple(kept)


def _reason(reached: Floats, low: float, high: float, *, takes_out: bool | np.bool_) -> str:
    """Why no pack brings a key between two interferences: in which direction, by how much, and what cures it."""
    least, most = float(reached.min()), float(reached.max())
    if least > high:
        over = f"is too tight: {mm(least, '.3f')} is the least that can be left, {mm(least - high, '.3f')} too much"
        if takes_out:
            return f"{over}; take out more than its pack in shims.present_packs, or machine its key bar"
        return f"{over}; state in shims.present_packs what can be taken out there, or machine its key bar"
    if most < low:
        return (
            f"is too loose: {mm(most, '.3f')} is the most that its pieces reach, {mm(low - most, '.3f')} short; add "
            "thicker pieces to shims.stock or raise shims.most_pieces"
        )
    below, above = float(reached[reached < low].max()), float(reached[reached > high].min())
    return (
        f"comes to {mm(below, '.3f')} or to {mm(above, '.3f')} with the packs next to the window: the pieces are too "
        "coarse; add thinner ones to shims.stock"
    )


def scarce_kinds(shims: ShimStock, keys: int) -> Mask:
    """Which thicknesses (T,) could run out."""
    return np.array([row.pieces < keys * int(shims.most_pieces) for row in shims.stock])


def _combinations(shims: ShimStock) -> tuple[Floats, Places]:
    """Thickness (M,) and pieces (M, T) of every pack that one key alone could take from the stock."""
    most, kinds = int(shims.most_pieces), len(shims.stock)
    if comb(most + kinds, kinds) > MOST_PACKS:
        raise ValueError(
            f"shims: {kinds} thicknesses in packs of up to {most} pieces make {comb(most + kinds, kinds)} packs; at "
            f"most {MOST_PACKS} are compared: list fewer thicknesses or lower shims.most_pieces"
        )
    chosen = [some for size in range(most + 1) for some in combinations_with_replacement(range(kinds), size)]
    pieces = np.array([np.bincount(some, minlength=kinds) for some in chosen], dtype=np.intp)
    pieces = pieces[(pieces <= [row.pieces for row in shims.stock]).all(axis=1)]
    return pieces @ np.array([row.thickness for row in shims.stock]), pieces


def _behind(thickness: Floats, pieces: Places, scarce: Mask, removable: float) -> Packs:
    change, out = thickness, np.zeros(thickness.size, dtype=bool)
    if removable > 0.0:
        change = np.concatenate([thickness, thickness - removable])
        pieces, out = np.concatenate([pieces, pieces]), np.concatenate([out, ~out])
    every = Packs(change, pieces, out)
    kept = _undominated(np.round(change / GRAIN).astype(np.int64), every.errors, pieces[:, scarce])
    return Packs(change[kept], pieces[kept], out[kept])


def _undominated(grain: Places, errors: Floats, scarce: Places) -> list[int]:
    """Packs to keep, by thickness: fewest errors first, then those that need less of a scarce thickness."""
    kept: list[int] = []
    same: list[int] = []
    for pack in np.lexsort((errors, grain)):
        if same and grain[same[0]] != grain[pack]:
            same = []
        if not any((scarce[other] <= scarce[pack]).all() for other in same):
            same.append(int(pack))
            kept.append(int(pack))
    return kept


def pieces_used(packs: Sequence[Packs], chosen: Places) -> Places:
    """New pieces (N, T) behind each key of a choice (N,) of packs."""
    return np.array([row.pieces[pack] for row, pack in zip(packs, chosen, strict=True)], dtype=np.intp)


def change_of(packs: Sequence[Packs], chosen: Places) -> Floats:
    """Change of interference that a choice (N,) of packs makes.

    Returns
    -------
    array (N,), m
    """
    return np.array([row.change[pack] for row, pack in zip(packs, chosen, strict=True)])


def errors_of(packs: Sequence[Packs], chosen: Places) -> Floats:
    """Number of thicknesses whose errors enter each change of a choice (N,) of packs.

    Returns
    -------
    array (N,), -
    """
    return np.array([row.errors[pack] for row, pack in zip(packs, chosen, strict=True)])
