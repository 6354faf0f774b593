"""Types of arrays, and the checks of values that every layer needs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

Complex = NDArray[np.complex128]

Mask = NDArray[np.bool_]
"""True where something holds; selects from an array of the same shape."""

Places = NDArray[np.intp]
"""Where entries stand in another array."""

Numbers = float | Floats
"""A scalar, or an array that broadcasts with every other field of the machine."""

Interval = tuple[float, float]
"""Lower and upper end; an open side is infinite."""


def floats(value: ArrayLike) -> Floats:
    """The value as an array of floats, without a copy where it is one already.

    Parameters
    ----------
    value : float or array, unit of value

    Returns
    -------
    array, unit of value

    >>> floats([1, 2]).tolist()
    [1.0, 2.0]
    """
    return np.asarray(value, dtype=float)


def require(ok: ArrayLike, name: str, value: ArrayLike, unit: str, rule: str) -> None:
    """Refuse an argument of which any element breaks a rule, naming the first that does.

    Parameters
    ----------
    ok : bool array
        Whether each element obeys; `value` broadcasts to it.
    value : float or array, unit of value
    unit : str
        As the message shall print it; "" for a number without dimension.
    rule : str
        Ends the sentence "it must be ...".

    Raises
    ------
    ValueError
        An element is not ok.
    """
    if not np.asarray(ok).all():  # the method: np.all takes five times as long for a scalar
        wrong = np.broadcast_to(np.asarray(value), np.shape(ok))[~np.asarray(ok)].flat[0]
        raise ValueError(f"{name} is {wrong:g}{' ' + unit if unit else ''}; it must be {rule}")
