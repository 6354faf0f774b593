"""Machines whose fields are arrays: their common shape, and a walk through them in blocks.

Whole arrays of a million elements leave the cache at every step of a formula. Blocks of 8192 do not, and run the
same formula two to four times as fast.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np

Stored = TypeVar("Stored")

BLOCK = 8192


def array_shape(*stored: object) -> tuple[int, ...]:
    """Broadcast shape of every array that the given dataclasses hold; () when all are scalars."""
    return np.broadcast_shapes(*(leaf.shape for item in stored for leaf in _arrays(item)))


def map_arrays(stored: Stored, function: Callable[[Any], Any]) -> Stored:
    """The same dataclass, nested ones included, with `function` applied to each array in it."""

    def mapped(leaf: Any) -> Any:
        if is_dataclass(leaf) and not isinstance(leaf, type):
            return map_arrays(leaf, function)
        return function(leaf) if isinstance(leaf, np.ndarray) and leaf.ndim else leaf

    return replace(stored, **{f.name: mapped(getattr(stored, f.name)) for f in fields(stored)})  # type: ignore[arg-type, type-var]


def blocks(*stored: Any) -> Iterator[tuple[slice, tuple[Any, ...]]]:
    """Flat parts of at most `BLOCK` elements: the place of the part, and the dataclasses cut to it."""
    shape = array_shape(*stored)
    flat = tuple(map_arrays(item, lambda leaf: np.broadcast_to(leaf, shape).reshape(-1)) for item in stored)
    for start in range(0, int(np.prod(shape)), BLOCK):
        part = slice(start, start + BLOCK)
        yield part, tuple(map_arrays(item, lambda leaf, part=part: leaf[part]) for item in flat)  # type: ignore[misc]


def _arrays(item: object) -> Iterator[np.ndarray[Any, Any]]:
    if isinstance(item, np.ndarray):
        yield item
    elif is_dataclass(item):
        for field in fields(item):
            yield from _arrays(getattr(item, field.name))
