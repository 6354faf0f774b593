"""Which shims there are to be fitted behind the keys of a rim, and how well key and shim are measured."""

from __future__ import annotations

from dataclasses import dataclass, field

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import COUNT, NOT_NEGATIVE, Bounds, Checked, Rule, plain, quantity
from rimmodel.units import mm

PRACTICE = "common practice, no source"

THICKNESS = Rule(
    "above zero: a shim only adds interference; less of it means taking pieces out (shims.present_packs) or machining "
    "the key bar",
    lambda value: value > 0,
)
CORRELATION = Rule("0 or above and below 1", lambda value: (value >= 0) & (value < 1))


@dataclass(frozen=True)
class ShimPiece(Checked):
    """A thickness of shim that is in the store, and how many pieces of it."""

    thickness: float = field(
        metadata=quantity(
            "small length", THICKNESS, "of one piece", bounds=Bounds(-0.02, 0.02, "it is 0.02 to 5 mm; check the unit")
        )
    )
    pieces: int = field(metadata=plain(COUNT, "in the store, each to be used once", bounds=Bounds(1, 100_000)))


@dataclass(frozen=True)
class ShimStock(Checked):
    """Shims that may be fitted, and the errors of reading a key and of making a piece; for the shim sheet.

    `present_packs` is what can be taken out behind each key, as a whole. Without it pieces are only added. Tolerances
    are half-widths, two standard uncertainties. Errors of reading are taken to be independent, alike between
    neighbouring keys by `reading_correlation`, or one oval, errors of pieces of one thickness to be independent or all
    the same: whichever is worse.
    """

    stock: tuple[ShimPiece, ...]
    most_pieces: Numbers = field(
        default=4,
        metadata=plain(COUNT, "fitted behind one key", source=PRACTICE, bounds=Bounds(1, 12)),
    )
    piece_tolerance: Numbers = field(
        default=0.01e-3,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "half-width of the thickness of one piece, two standard uncertainties",
            source=PRACTICE,
            bounds=Bounds(1e-7, 0.001, or_zero=True),
        ),
    )
    reading_tolerance: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "half-width of one key's reading, two standard uncertainties; fit.key_interference_tolerance if absent",
            bounds=Bounds(1e-6, 0.005, or_zero=True),
        ),
    )
    reading_correlation: Numbers = field(
        default=0.5,
        metadata=plain(CORRELATION, "of the errors of reading of neighbouring keys", source=PRACTICE),
    )
    present_packs: tuple[float, ...] | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "thickness that can be taken out behind each key, from the first",
            several=True,
            bounds=Bounds(1e-6, 0.05, or_zero=True),
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.stock:
            raise ValueError("ShimStock: stock is empty; list thickness and number of pieces of each shim in the store")
        thicknesses = [piece.thickness for piece in self.stock]
        twice = next((value for value in thicknesses if thicknesses.count(value) > 1), None)
        if twice is not None:
            raise ValueError(f"ShimStock: stock lists {mm(twice, 'g')} twice; give each thickness once")
