"""What a machine goes through in a day: segments of speed, load, air and field, and temperatures read in between."""

from __future__ import annotations

from dataclasses import dataclass, field

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, Bounds, Checked, Rule, plain, quantity
from rimmodel.units import ZERO_CELSIUS

SEGMENTS = ("start", "load", "rejection", "coast", "brake", "rest")
"""Kinds of a segment: up to a speed, held at a speed, loss of load, down to a speed, the same by brakes, standstill."""

PLACES = ("rim", "rim_bore", "rim_outer", "spider", "hub", "stator")
"""Where a temperature can be read; "rim" and "spider" are the means that govern growth."""

LOAD = Rule("from 0 to 1.5", lambda value: (value >= 0) & (value <= 1.5))
LONGEST = 400 * 86400.0
"""Seconds of one history: a year and a month."""
_AIR = Bounds(ZERO_CELSIUS - 40.0, ZERO_CELSIUS + 80.0, "air of a machine hall or behind a cooler has 0 to 50 degC")


@dataclass(frozen=True)
class Segment(Checked):
    """A stretch of time in which the machine does one thing.

    `speed` (rad/s) is that at the end. A start, a coast and a brake change it evenly over the duration. In a rejection
    it follows from turning masses and is None; with a speed of its own the governor does not act, and the unit runs
    away to it.
    """

    kind: str
    duration: Numbers = field(
        metadata=quantity(
            "time", POSITIVE, "how long it lasts", bounds=Bounds(1.0, LONGEST, "a segment is a second to a year")
        )
    )
    speed: Numbers | None
    """At its end, rad/s; None where it follows from a rejection."""
    load: Numbers = field(default=0.0, metadata=plain(LOAD, "load over rated load"))
    excited: bool = False
    air: Numbers | None = field(
        default=None,
        metadata=quantity(
            "temperature", POSITIVE, "air that enters the rotor; that of [thermal] when absent", bounds=_AIR
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.kind not in SEGMENTS:
            raise ValueError(f"Segment: kind is {self.kind!r}; it must be one of {SEGMENTS}")


@dataclass(frozen=True)
class Reading(Checked):
    """A temperature that was read in a history, with its standard uncertainty (K)."""

    time: Numbers = field(metadata=quantity("time", NOT_NEGATIVE, "from the start of the history"))
    place: str
    temperature: Numbers = field(
        metadata=quantity(
            "temperature", POSITIVE, "as read", bounds=Bounds(ZERO_CELSIUS - 50.0, ZERO_CELSIUS + 200.0, "check degC")
        )
    )
    uncertainty: Numbers = 1.0
    """Standard uncertainty, K."""

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.place not in PLACES:
            raise ValueError(f"Reading: place is {self.place!r}; it must be one of {PLACES}")


@dataclass(frozen=True)
class History:
    """A named course of segments; what is asked of the machine over the whole of it; and what was read.

    Attributes
    ----------
    start : str or None
        Name of the condition whose temperatures it starts with; those of the air when absent.
    float_speed_ratio : float or None, -
        Float speed over speed, at least, at every moment in which the machine turns.
    minimum_gap : float or None, m
        Mean gap, at least.
    """

    name: str
    segments: tuple[Segment, ...]
    start: str | None = None
    float_speed_ratio: float | None = None
    minimum_gap: float | None = None
    readings: tuple[Reading, ...] = ()

    @property
    def asked(self) -> dict[str, float]:
        """What is asked of the machine over the whole of it, at least, SI, by its key."""
        found = {"float_speed_ratio": self.float_speed_ratio, "minimum_gap": self.minimum_gap}
        return {key: float(least) for key, least in found.items() if least is not None}

    @property
    def duration(self) -> float:
        """Length of the history, s."""
        return float(sum(float(segment.duration) for segment in self.segments))
