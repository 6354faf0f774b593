"""What presses the sheets of a laminated rim together: studs, friction and overlap, as a case states them."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import ONE_OR_MORE, POSITIVE, Bounds, Checked, Rule, plain, quantity

Pair = tuple[float, float]
"""Lowest and highest value that is possible."""

PART = Rule("above zero and at most 1", lambda value: (value > 0) & (value <= 1))


@dataclass(frozen=True)
class ClampedStack(Checked):
    """Clamping of the laminations of the rim; every pair is the lowest and the highest value that is possible.

    Friction between sheets, preload that is left in the studs, and the stiffness of a stack that slips are known as
    ranges alone.
    """

    stud_force: Pair = field(
        metadata=quantity(
            "force",
            POSITIVE,
            "preload left in one stud (bolt): lowest and highest",
            several=True,
            bounds=Bounds(1e3, 5e6, "a rim stud of 40 to 70 mm has 100 to 1000 kN"),
        )
    )
    stud_count: Numbers = field(metadata=plain(ONE_OR_MORE, "number of studs", bounds=Bounds(4, 5000)))
    friction_coefficient: Pair = field(
        metadata=plain(
            POSITIVE,
            "between the sheets, bare steel 0.15 to 0.3: lowest and highest",
            several=True,
            bounds=Bounds(0.02, 1.0, "bare steel has 0.15 to 0.3"),
        )
    )
    segment_overlap: Numbers = field(
        metadata=quantity(
            "length",
            POSITIVE,
            "along the circumference, from a joint to the next joint of a neighbouring layer",
            bounds=Bounds(0.02, 10.0),
        )
    )
    sheet_thickness: Numbers = field(
        metadata=quantity(
            "small length", POSITIVE, "of one sheet", bounds=Bounds(0.0003, 0.02, "a rim sheet has 1.5 to 5 mm")
        )
    )
    slipping_share: Pair = field(
        default=(0.3, 0.8),
        metadata=plain(
            PART,
            "hoop stiffness of a stack that slips over that of a stack that holds: lowest and highest",
            several=True,
            source="none: a guess, stated as such",
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        for entry in fields(self):
            pair = getattr(self, entry.name)
            if entry.metadata.get("several") and (len(pair) != 2 or not pair[0] <= pair[1]):
                raise ValueError(
                    f"ClampedStack: {entry.name} is {list(pair)}; it must be a pair, the lowest and the highest value "
                    "that is possible (twice the same where it is known)"
                )
        if self.stud_count != int(self.stud_count):
            raise ValueError(f"ClampedStack: stud_count is {self.stud_count:g}; it must be a whole number")
