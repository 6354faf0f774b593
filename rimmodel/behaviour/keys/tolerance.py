"""Many sets of shims on one rotor: how far apart the characteristic speeds lie that a keying tolerance leaves open."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, Places, floats
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor, keyed_rotor
from rimmodel.behaviour.keys.lockstep import KeyPaths, follow_sets
from rimmodel.behaviour.keys.path import even_float, guided, surrounded
from rimmodel.behaviour.study.workers import Workers, task_map
from rimmodel.rotor import Condition, Rotor

BLOCK = 128
"""Sets of shims that one task follows in lockstep: a few megabytes, and more sets are hardly faster."""


@dataclass(frozen=True)
class KeyStudy:
    """Characteristic speeds of n sets of shims on N keys; speeds are inf where there is none up to the end of the path.

    Attributes
    ----------
    key_interference : array (n, N), m
        The sets.
    first_lift_off, centring_lost, last_lift_off, one_sided, mean_float : array (n,), rad/s
        As in `KeySpeeds`.
    first_key : int array (n,)
        The key (from 1) that lifts off first, 0 for none.
    """

    key_interference: Floats
    first_lift_off: Floats
    centring_lost: Floats
    last_lift_off: Floats
    one_sided: Floats
    mean_float: Floats
    first_key: NDArray[np.int64]


def random_shims(mean: ArrayLike, tolerance: float, samples: int, seed: int) -> Floats:
    """Return normal sets of shims about a mean, independent of each other.

    Each number depends on seed and place alone: a longer table starts with the shorter table. That the tolerance
    is two standard deviations is common practice.

    Parameters
    ----------
    mean : array (N,), m
    tolerance : float, m
        Two standard deviations.

    Returns
    -------
    array (samples, N), m

    Raises
    ------
    ValueError
        A mean that is no list, a tolerance below zero, or no sample.

    >>> random_shims(np.full(3, 2e-3), 0.2e-3, 4, 1).shape
    (4, 3)
    >>> bool(np.all(random_shims(np.zeros(3), 1.0, 9, 1)[:4] == random_shims(np.zeros(3), 1.0, 4, 1)))
    True
    """
    from scipy.special import ndtri

    centre = floats(mean)
    if centre.ndim != 1 or tolerance < 0.0 or samples < 1:
        raise ValueError(
            f"random_shims: mean has shape {centre.shape}, tolerance is {tolerance:g} m, samples {samples}; "
            "give one mean a key, a tolerance of zero or above and one sample at least"
        )
    uniform = np.random.Generator(np.random.Philox(key=seed)).random((samples, centre.size))
    # the middle of each of the 2^53 steps: 0 would be minus infinity
    return floats(centre + 0.5 * tolerance * ndtri(uniform + 2.0**-54))


def key_study(
    rotor: Rotor, condition: Condition, key_interference: ArrayLike, workers: Workers = 1, **setup: Any
) -> KeyStudy:
    """Follow many sets of shims, each from standstill through all its events.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    key_interference : array (n, N), m
        One set of radial interferences a row, as of `random_shims`. The mean pull is that of the mean of all.
    workers : int, str or map-like callable
        As of `task_map`: processes, a scheduler, or what is called as map(function, tasks) and keeps the order. The
        result is the same to the last bit for any of them.
    **setup
        Further arguments of `keyed_rotor`.

    Raises
    ------
    ValueError
        As `keyed_rotor`; a table of the wrong shape; workers below one.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> study = key_study(case.rotor, case.conditions["cold"], random_shims(np.full(14, 2.1e-3), 0.1e-3, 3, seed=1))
    >>> bool(np.all(study.first_lift_off < study.mean_float))
    True
    """
    sets = floats(key_interference)
    if sets.ndim != 2 or not sets.size or not np.all(np.isfinite(sets)):
        raise ValueError(f"key_interference has shape {sets.shape}; it must be finite, one row a set, one column a key")
    keyed = keyed_rotor(rotor, condition, sets.mean(axis=0), **setup)
    tasks = [sets[start : start + BLOCK] for start in range(0, len(sets), BLOCK)]
    with task_map(workers) as run:
        marks = np.concatenate(list(run(partial(_follow_block, keyed), tasks)))
    first, lost, last, leaning, mean, key = marks.T
    return KeyStudy(sets, first, lost, last, leaning, mean, key.astype(np.int64))


def _follow_block(keyed: KeyedRotor, sets: Floats) -> Floats:
    """Speeds of a part of the sets (n, N): the five speeds of `KeyStudy` and the first key."""
    interference = keyed.loads.interference + (sets - keyed.assembled)
    paths, count = follow_sets(keyed.loads, interference), len(sets)
    lifts = ~paths.event_seats
    first_set, first_at = paths.event_set[lifts], paths.event_at[lifts]
    shifts = paths.lost_mode == 1
    free = _free(paths, sets.shape[1])[::-1]
    leans = ~surrounded(keyed.key_angle, paths.piece_seated) & (not guided(keyed))
    squared = (
        _first(first_set, first_at, count, np.inf),
        _first(paths.lost_set[shifts], paths.lost_at[shifts], count, np.inf),
        _first(paths.event_set[free], paths.event_at[free], count, np.inf),
        _first(paths.piece_set[leans], paths.piece_start[leans], count, np.inf),
    )
    key = _first(first_set, floats(paths.event_key[lifts] + 1), count, 0.0)
    return np.column_stack([*np.sqrt(squared), even_float(keyed.gap_model, interference), key])


def _first(sets: Places, values: Floats, count: int, none: float) -> Floats:
    """First of the values that belong to each set, `none` where there is none."""
    out = np.full(count, none)
    own, first = np.unique(sets, return_index=True)
    out[own] = values[first]
    return out


def _free(paths: KeyPaths, keys: int) -> Places:
    """Events of every set after which no key is seated, but for those where a state was lost."""
    order = np.argsort(paths.event_set, kind="stable")
    owner, change = paths.event_set[order], np.where(paths.event_seats[order], 1, -1)
    total, begin = np.cumsum(change), owner.searchsorted(owner)
    seated = keys + total - (total - change)[begin]
    free: Places = order[seated == 0]
    lost = np.abs(paths.event_at[free, None] - paths.lost_at) <= 1e-12 * paths.lost_at
    lost &= paths.event_set[free, None] == paths.lost_set
    return free[~lost.any(axis=1)]
