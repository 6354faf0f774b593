"""Results that are tables, as a data frame, a figure and in a notebook; and numbers in one line of words."""

from __future__ import annotations

import html
import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.units import PRINT, in_print

if TYPE_CHECKING:
    import polars
    from matplotlib.figure import Figure

ROWS_SHOWN = 12
"""Rows of a table that a notebook shows; of a longer one the first and the last."""


class Tabular(ABC):
    """A result that holds equally long columns."""

    drawn_by: ClassVar[list[Callable[[Any], Figure]]] = []
    """The function that draws the usual figure of a result; the package names it when it is imported."""

    @abstractmethod
    def columns(self) -> dict[str, Any]:
        """Columns in units of print, the unit at the end of each name, such as ``speed_rpm``."""

    def to_frame(self) -> polars.DataFrame:
        """The columns as a polars frame; numbers in units of print, the unit in the name of each column.

        Returns
        -------
        polars.DataFrame
            One row per entry; what is not known is null.
        """
        import polars as pl

        return pl.DataFrame(
            {name: np.ravel(np.asarray(values)) for name, values in self.columns().items()}, nan_to_null=True
        )

    def plot(self) -> Figure:
        """The usual figure of this result, as a matplotlib figure; ``.savefig(path)`` writes it.

        Returns
        -------
        matplotlib Figure

        Raises
        ------
        TypeError
            There is no figure of such a result, or of one of this shape.
        """
        (drawn,) = self.drawn_by
        return drawn(self)

    def _repr_html_(self) -> str:
        """A table for a notebook, under one line of words."""
        columns = {name: np.ravel(np.asarray(values)) for name, values in self.columns().items()}
        length = max((len(values) for values in columns.values()), default=0)
        rows: list[int | None] = list(range(length))
        if length > ROWS_SHOWN:
            rows = [*range(ROWS_SHOWN // 2), None, *range(length - ROWS_SHOWN // 2, length)]
        head = "".join(f"<th>{html.escape(name)}</th>" for name in columns)
        body = "".join(f"<tr>{''.join(f'<td>{_cell(values, row)}</td>' for values in columns.values())}</tr>"
                       for row in rows)  # fmt: skip
        return f"<div><p>{html.escape(repr(self))}</p><table><tr>{head}</tr>{body}</table></div>"


def _cell(values: np.ndarray[Any, Any], row: int | None) -> str:
    if row is None:
        return "…"
    value = values[row]
    if isinstance(value, float | np.floating):
        return f"{value:.5g}" if math.isfinite(value) else ""
    return html.escape(str(value))


def in_brief(value: ArrayLike, kind: str, digits: int = 2) -> str:
    """A number with its unit of print, or the range of an array, for one line of words.

    Parameters
    ----------
    value : float or array, SI
    kind : str
        A key of ``PRINT``.

    >>> in_brief(0.0021, "length"), in_brief(np.array([0.002, 0.004]), "length", 1)
    ('2.10 mm', '2.0 to 4.0 mm (array of 2)')
    """
    numbers, unit = np.asarray(in_print(np.asarray(value, dtype=float), kind)), PRINT[kind].name
    if not numbers.shape:
        return f"{numbers:.{digits}f} {unit}"
    known = numbers[np.isfinite(numbers)]
    if not known.size:
        return f"no finite {unit} (array of {numbers.size})"
    return f"{known.min():.{digits}f} to {known.max():.{digits}f} {unit} (array of {numbers.size})"


def wanted(value: object, kind: type | tuple[type, ...], name: str, call: str, hint: str = "") -> None:
    """Refuse an argument of another type with one line that names what is wanted.

    Parameters
    ----------
    name : str
        Of the argument.
    call : str
        The function that was called, and what it wants.
    hint : str
        What to write instead.

    Raises
    ------
    TypeError
        The value is of another type.

    >>> try:
    ...     wanted(3, str, "file", "read_case wants the path of a case file")
    ... except TypeError as refused:
    ...     print(refused)
    read_case wants the path of a case file; file is 3 (int)
    """
    if not isinstance(value, kind):
        shown = " ".join(repr(value).split())
        shown = shown if len(shown) <= 60 else f"{shown[:57]}..."
        raise TypeError(f"{call}; {name} is {shown} ({type(value).__name__}){'; ' + hint if hint else ''}")
