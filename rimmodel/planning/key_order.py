"""In which order keys are fitted while the rim is hot: opposite pairs, so that it stays centred, the tightest first."""

from __future__ import annotations


def across(count: int, first: int = 0) -> tuple[int, ...]:
    """Keys, from 0, in pairs that lie opposite each other, each pair as far as possible from all before it.

    Parameters
    ----------
    first : int
        The key to begin with.

    >>> across(8, 2)
    (2, 6, 4, 0, 3, 7, 5, 1)
    """
    order: list[int] = []
    left = set(range(count))

    def distance(key: int, other: int) -> int:
        around = (key - other) % count
        return min(around, count - around)

    chosen = first
    while True:
        order.append(chosen)
        left.discard(chosen)
        if not left:
            return tuple(order)
        if len(order) % 2:  # the partner of the key before
            before = chosen
            chosen = min(left, key=lambda key: (-distance(key, before), (key - first) % count))
        else:
            chosen = min(left, key=lambda key: (-min(distance(key, other) for other in order), (key - first) % count))
