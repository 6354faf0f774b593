"""How much is allowed: every limit of the checks as a number that a case can replace, with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import (
    NOT_NEGATIVE,
    ONE_OR_MORE,
    POSITIVE,
    SHARE,
    Bounds,
    Checked,
    Rule,
    plain,
    quantity,
    text,
    value_text,
)
from rimmodel.units import ZERO_CELSIUS

if TYPE_CHECKING:
    from rimmodel.rotor.registry import Limit

PRACTICE = "common practice, no source"
MEMORY = "from memory, confirm in your copy"

STATED = "stated in the case"

TIMES = Rule(
    "above zero and at most 1e9",
    lambda value: (value > 0) & (value <= 1e9),
    (("exclusiveMinimum", 0), ("maximum", 1e9)),
)
BELOW_ONE = Rule("0 or above and below 1", lambda value: (value >= 0) & (value < 1))


@dataclass(frozen=True)
class Limits(Checked):
    """Allowed shares and margins; the default of each is custom or memory, and its source says which.

    Shares of yield are of the yield strength of rim or spider, whichever carries the stress.
    """

    standstill_share_of_yield: Numbers = field(
        default=2 / 3, metadata=plain(SHARE, "stress at standstill over yield", source=PRACTICE)
    )
    rated_share_of_yield: Numbers = field(
        default=0.5, metadata=plain(SHARE, "stress at rated speed over yield", source=MEMORY)
    )
    overspeed_share_of_yield: Numbers = field(
        default=2 / 3, metadata=plain(SHARE, "stress at overspeed over yield", source=PRACTICE)
    )
    runaway_share_of_yield: Numbers = field(
        default=2 / 3,
        metadata=plain(
            SHARE,
            "stress at runaway over yield",
            source="one national specification for small hydro plants asks for 2/3; confirm in yours",
        ),
    )
    peak_share_of_yield: Numbers = field(
        default=1.0, metadata=plain(POSITIVE, "local peak stress over yield", source=PRACTICE)
    )
    burst_share_of_ultimate: Numbers = field(
        default=0.85,
        metadata=plain(
            SHARE,
            "mean hoop stress at burst over ultimate strength",
            source="Robinson (1944), 0.85 to 1; from memory, confirm in your copy",
        ),
    )
    burst_speed_ratio: Numbers = field(
        default=1.2, metadata=plain(ONE_OR_MORE, "burst speed over the highest speed, at least", source=PRACTICE)
    )
    arm_share_of_yield: Numbers = field(
        default=0.5, metadata=plain(SHARE, "arm stress over yield of the spider, at any speed", source=PRACTICE)
    )
    buckling_ratio: Numbers = field(
        default=3.0,
        metadata=plain(ONE_OR_MORE, "buckling load of an arm over its force, at least", source=PRACTICE),
    )
    arm_effective_length: Numbers = field(
        default=1.0,
        metadata=plain(
            POSITIVE,
            "buckling length of an arm over its length",
            source="1 is pinned at both ends, 0.7 held at the hub: Timoshenko & Gere, Theory of Elastic Stability, "
            "ch. 2, from memory",
        ),
    )
    key_bearing_share_of_yield: Numbers = field(
        default=0.9, metadata=plain(POSITIVE, "bearing pressure of a key over the lower yield", source=PRACTICE)
    )
    torque_ratio: Numbers = field(
        default=1.0, metadata=plain(POSITIVE, "torque carried by friction over torque, at least", source=PRACTICE)
    )
    fatigue_ratio: Numbers = field(
        default=1.5, metadata=plain(ONE_OR_MORE, "distance from the Goodman line, at least", source=PRACTICE)
    )
    fatigue_damage: Numbers = field(
        default=1.0,
        metadata=plain(POSITIVE, "sum of cycles over cycles to failure, at most", source="Miner (1945), from memory"),
    )
    float_speed_ratio: Numbers = field(
        default=1.1,
        metadata=plain(
            POSITIVE,
            "float speed over rated where no requirement states one, at least",
            source="1.05 to 1.15 by custom; from memory",
        ),
    )
    relaxation_share: Numbers = field(
        default=0.1,
        metadata=plain(BELOW_ONE, "share of the interference that ageing may take", source=PRACTICE),
    )
    shrinking_rim_temperature: Numbers = field(
        default=ZERO_CELSIUS + 100.0,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "highest mean rim temperature while shrinking",
            source="rim 40 to 80 K above the spider; from memory",
        ),
    )
    shrinking_spider_temperature: Numbers = field(
        default=ZERO_CELSIUS + 20.0,
        metadata=quantity("temperature", POSITIVE, "mean spider temperature while shrinking", source=PRACTICE),
    )

    of_quantities: tuple[tuple[str, float], ...] = ()
    """Shares that a case states of the limits that quantities carry (`rimmodel.rotor.registry.Limit`), by key, -."""

    def of_quantity(self, limit: Limit) -> tuple[float, str]:
        """The share (-) that the limit of a quantity allows, and where that comes from.

        Returns
        -------
        share : float, -
        source : str
        """
        stated = dict(self.of_quantities).get(limit.key)
        return (limit.allowed, limit.source) if stated is None else (stated, STATED)

    def source(self, name: str) -> str:
        """Where the value of a limit comes from: its source, or the case where it is not the default.

        >>> Limits().source("peak_share_of_yield"), Limits(peak_share_of_yield=0.9).source("peak_share_of_yield")
        ('common practice, no source', 'stated in the case')
        """
        stored = next(entry for entry in fields(self) if entry.name == name)
        return str(stored.metadata["source"]) if getattr(self, name) == stored.default else STATED

    def share_of_yield(self, at: str) -> Numbers:
        """Allowed share of yield at standstill, rated, overspeed or runaway."""
        share: Numbers = getattr(self, f"{at}_share_of_yield")
        return share


CARRIERS = ("keys", "friction")


@dataclass(frozen=True)
class Torque(Checked):
    """Torque of the machine, and what carries it from spider to rim: tangential keys, or friction alone."""

    rated: Numbers = field(metadata=quantity("torque", POSITIVE, "rated torque", bounds=Bounds(100.0, 2e8)))
    fault: Numbers | None = field(
        default=None,
        metadata=quantity("torque", POSITIVE, "peak torque of the worst electrical fault", bounds=Bounds(100.0, 2e9)),
    )
    friction_coefficient: Numbers = field(
        default=0.15,
        metadata=plain(
            POSITIVE,
            "friction between rim and keys, steel on steel",
            bounds=Bounds(0.01, 1.0, "steel on steel has 0.1 to 0.2"),
        ),
    )
    carried_by: str = field(default="keys", metadata=text("", CARRIERS))


@dataclass(frozen=True)
class DutyCycle(Checked):
    """How often the machine goes from one speed to another and back."""

    start: Numbers = field(
        metadata=quantity(
            "speed",
            NOT_NEGATIVE,
            "'standstill', 'rated', ..., '1.2 x rated' or text with a unit",
            key="from",
            written=str,
        )
    )
    end: Numbers = field(
        metadata=quantity(
            "speed", POSITIVE, "'rated', 'overspeed', ..., '1.2 x rated' or text with a unit", key="to", written=str
        )
    )
    count: Numbers = field(metadata=plain(TIMES, "times in the life of the machine, up to 1e9"))
    name: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        if not np.all(np.asarray(self.end) > np.asarray(self.start)):
            raise ValueError(
                f"DutyCycle: to is {value_text(self.end, 'speed')}; it must be faster than from, "
                f"{value_text(self.start, 'speed')}"
            )


@dataclass(frozen=True)
class LoadRejection(Checked):
    """Turning masses and the torque that drives them after the load is lost: linearly to zero in `decay_time`.

    `braking_torque` is what slows the unit once the drive is gone (windage, runner); nothing when absent.
    """

    inertia: Numbers = field(
        metadata=quantity(
            "inertia",
            POSITIVE,
            "mass moment of inertia of all turning parts",
            bounds=Bounds(10.0, 3e9, "it is J, a quarter of GD2"),
        )
    )
    torque: Numbers = field(
        metadata=quantity("torque", POSITIVE, "driving torque when the load is lost", bounds=Bounds(100.0, 2e8))
    )
    decay_time: Numbers = field(
        metadata=quantity(
            "time", POSITIVE, "time in which the driving torque falls to zero", bounds=Bounds(0.05, 600.0)
        )
    )
    braking_torque: Numbers = field(
        default=0.0,
        metadata=quantity(
            "torque", NOT_NEGATIVE, "torque that slows the unit afterwards", bounds=Bounds(1.0, 2e8, or_zero=True)
        ),
    )


@dataclass(frozen=True)
class ProvingRun(Checked):
    """What a proving run may do and can see; shares of eccentricity and circularity are of the cold gap."""

    first_step: ClassVar[float] = 0.25
    """Share of rated speed at which its steps start, -."""

    highest_speed: Numbers | None = field(
        default=None, metadata=quantity("speed", POSITIVE, "agreed highest speed; overspeed when absent", of_rated=True)
    )
    sensor_noise: Numbers = field(
        default=0.03e-3,
        metadata=quantity(
            "small length",
            POSITIVE,
            "standard uncertainty of one mean gap",
            source=PRACTICE,
            bounds=Bounds(1e-6, 0.005),
        ),
    )
    sensor_offset: Numbers = field(
        default=0.1e-3,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "most by which all gaps may read wide",
            source=PRACTICE,
            bounds=Bounds(1e-6, 0.02, or_zero=True),
        ),
    )
    points: Numbers = field(default=20, metadata=plain(ONE_OR_MORE, "speed steps of the run-up", bounds=Bounds(1, 500)))
    speed_overshoot: Numbers = field(
        default=0.01, metadata=plain(NOT_NEGATIVE, "share by which a set speed may be overshot", source=PRACTICE)
    )
    eccentricity_share: Numbers = field(
        default=0.05,
        metadata=plain(
            SHARE,
            "rotor eccentricity over cold gap at which to stop",
            source="concentricity 5 % of the nominal gap: US Bureau of Reclamation, FIST 2-7, app. C; an assembly "
            "tolerance, applied here to the run",
        ),
    )
    circularity_share: Numbers = field(
        default=0.10,
        metadata=plain(
            SHARE,
            "rotor circularity (largest minus smallest radius) over cold gap at which to stop",
            source="rotor circularity +-5 % of the nominal gap: US Bureau of Reclamation, FIST 2-7, app. C; an "
            "assembly tolerance, applied here to the run",
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.points < 6 or self.points != int(self.points):
            raise ValueError(f"ProvingRun: points is {self.points:g}; it must be a whole number of 6 or more")
