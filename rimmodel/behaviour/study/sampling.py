"""Points of the unit cube, of which point i depends on the seed and on i alone.

Then a study gives the same numbers however it is cut into tasks, and a longer study starts with the shorter study
(Latin hypercubes apart, whose cells depend on how many there are).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.rotor.blocks import BLOCK

Method = Literal["sobol", "random", "latin hypercube"]
METHODS: tuple[Method, ...] = ("sobol", "random", "latin hypercube")

SOBOL_BITS = 30
LARGEST = {"sobol": 2**SOBOL_BITS, "random": 2**40, "latin hypercube": 10**6}
"""Most points of each method."""


@dataclass(frozen=True)
class Sampler:
    """Points of a method and a seed; `count` is the whole number of points, already rounded (see `sampler`).

    `directions` (bit, dimension) and `origin` (dimension,) are those of the scrambled Sobol sequence, else empty.
    """

    method: Method
    dimensions: int
    count: int
    seed: int
    origin: NDArray[np.uint64]
    directions: NDArray[np.uint64]

    @property
    def blocks(self) -> int:
        """Number of blocks of `BLOCK` points; the last may hold fewer."""
        return -(-self.count // BLOCK)

    def block(self, number: int) -> Floats:
        """Coordinates (dimension, point) of one block, shares of 1, ends excluded. Raises IndexError past the last."""
        if not 0 <= number < self.blocks:
            raise IndexError(f"block {number} of {self.blocks}")
        start = number * BLOCK
        points = min(BLOCK, self.count - start)
        if self.method == "sobol":
            return self._sobol(start)[:, :points]
        if self.method == "random":
            return self._random(start, points)
        places = _cells(self.count, self.dimensions, self.seed)[:, start : start + points]
        return (places + self._random(start, points)) / self.count

    def _random(self, start: int, points: int) -> Floats:
        """Philox at its counter: four numbers a step, whole steps for each point."""
        steps = -(-self.dimensions // 4)
        generator = np.random.Generator(np.random.Philox(key=self.seed, counter=start * steps))
        drawn = generator.random((points, 4 * steps))[:, : self.dimensions]
        # the middle of each of the 2^53 steps: no end of a distribution is ever met
        return np.ascontiguousarray(drawn.T) + 2.0**-54

    def _sobol(self, start: int) -> Floats:
        # points run in the order of the reflected binary code, which is linear: a block is the first one, turned
        code = start ^ (start >> 1)
        bits = [bit for bit in range(len(self.directions)) if code >> bit & 1]
        turn = np.bitwise_xor.reduce(self.directions[bits], axis=0) if bits else np.zeros_like(self.origin)
        return ((self._first ^ turn[:, None]) + 0.5) * 2.0**-SOBOL_BITS

    def __getstate__(self) -> dict[str, object]:
        return {name: value for name, value in vars(self).items() if name != "_first"}

    @cached_property
    def _first(self) -> NDArray[np.uint64]:
        """Integers (dimension, point) of the first block: each doubling mirrors what stands and flips one bit."""
        found = self.origin[:, None]
        for direction in self.directions[: BLOCK.bit_length() - 1]:
            found = np.concatenate([found, found[:, ::-1] ^ direction[:, None]], axis=1)
        return found


def sampler(method: Method, dimensions: int, count: int, seed: int) -> Sampler:
    """Sampler of at least `count` points; scrambled Sobol points are rounded up to a power of two.

    Parameters
    ----------
    method : "sobol", "random" or "latin hypercube"

    Raises
    ------
    ValueError
        An unknown method, too few or too many points, a negative seed.

    Notes
    -----
    A power of two keeps the balance of Sobol points (Owen 2020, On dropping the first Sobol' point; from memory).
    The scrambling is scipy's: left linear matrix and digital shift, so every point is uniform by itself.

    >>> sampler("sobol", 2, 1000, seed=1).count
    1024
    >>> points = sampler("sobol", 2, 1024, seed=1).block(0)
    >>> np.histogram(points[0], bins=16, range=(0, 1))[0].tolist() == [64] * 16
    True
    """
    if method not in METHODS:
        raise ValueError(f"sampling method is {method!r}; it must be one of {', '.join(METHODS)}")
    if dimensions < 1:
        raise ValueError("nothing varies: a study needs at least one tolerance or a table of samples")
    if not 2 <= count <= LARGEST[method]:
        raise ValueError(f"samples is {count}; with {method} it must be from 2 to {LARGEST[method]}")
    if not 0 <= seed < 2**64:
        raise ValueError(f"seed is {seed}; it must be zero or above")
    if method != "sobol":
        none = np.zeros((0,), dtype=np.uint64)
        return Sampler(method, dimensions, count, seed, none, none)
    whole = 1 << (count - 1).bit_length()
    return Sampler(method, dimensions, whole, seed, *_sobol_numbers(dimensions, max(whole, BLOCK), seed))


def _sobol_numbers(dimensions: int, count: int, seed: int) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """Origin and direction numbers, read off the points 0 and 2^k - 1 of scipy's sequence."""
    from scipy.stats.qmc import Sobol  # 0.6 s to load: only the process that plans a study does

    engine = Sobol(dimensions, scramble=True, bits=SOBOL_BITS, rng=np.random.default_rng(seed))

    def point() -> NDArray[np.uint64]:
        with np.errstate(all="ignore"):
            return np.asarray(engine.random(1)[0] * 2.0**SOBOL_BITS, dtype=np.uint64)

    origin = point()
    directions = []
    for bit in range((count - 1).bit_length()):
        if bit:
            engine.fast_forward(2**bit - 1)
        directions.append(origin ^ point())  # point 2^(bit + 1) - 1, whose code has this bit alone
    return origin, np.array(directions)


@lru_cache(maxsize=1)
def _cells(count: int, dimensions: int, seed: int) -> NDArray[np.uint32]:
    """Cell of each point in each dimension (dimension, point): a permutation a dimension."""
    generator = np.random.default_rng([seed, count, dimensions])
    return np.stack([generator.permutation(count).astype(np.uint32) for _ in range(dimensions)])
