"""Running conditions: temperatures and field, and the speeds that matter."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, Bounds, Checked, Rule, quantity, text
from rimmodel.tabular import in_brief
from rimmodel.units import RPM, ZERO_CELSIUS, rpm

REFERENCE_TEMPERATURE = ZERO_CELSIUS + 20.0
"""Kelvin; the one uniform temperature at which interference and cold gap are stated."""

EXCITATIONS = ("constant current", "constant voltage")

TAPER = Rule("from -40 K to 40 K over the length of the rim", lambda value: np.abs(value) <= 40.0)


@dataclass(frozen=True)
class Condition(Checked):
    """Mean temperatures (K) and the peak air-gap fundamental (T) at the cold gap.

    The mean temperature of the rim, and of a spider that is a disc, is the area mean ``2 int(T r dr)/(b^2 - a^2)``,
    which governs its growth. That of arms is the mean over the radius, the hub with its own temperature.

    At constant current the flux density grows as the gap shrinks; at constant voltage it stays.
    `rim_temperature_rise` (K) is how much hotter the outside of the rim is than its bore, linear in radius: it leaves
    growth alone and adds stress, tension at the colder side. `rim_temperature` is the area mean.
    `rim_temperature_taper` (K) is how much hotter its upper end is than its lower: the mean gap and the float speed of
    the mean do not see it, the slices of `Axial` do; the spider counts as even.
    """

    rim_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "mean rim temperature",
            bounds=Bounds(
                ZERO_CELSIUS - 50.0, ZERO_CELSIUS + 160.0, "rims run at 10 to 90 degC; check degC against degF and K"
            ),
        ),
    )
    spider_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "mean spider temperature: over the area of a disc, over the length of arms",
            bounds=Bounds(
                ZERO_CELSIUS - 50.0, ZERO_CELSIUS + 160.0, "spiders run at 10 to 90 degC; check degC against degF and K"
            ),
        ),
    )
    pole_temperature: Numbers | None = field(
        default=None,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "mean pole temperature; the rim's when absent",
            bounds=Bounds(
                ZERO_CELSIUS - 50.0, ZERO_CELSIUS + 200.0, "poles run at 20 to 140 degC; check degC against degF and K"
            ),
        ),
    )
    stator_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "mean stator core temperature",
            bounds=Bounds(
                ZERO_CELSIUS - 50.0, ZERO_CELSIUS + 180.0, "cores run at 20 to 110 degC; check degC against degF and K"
            ),
        ),
    )
    flux_density: Numbers = field(
        default=0.0,
        metadata=quantity(
            "flux density",
            NOT_NEGATIVE,
            "peak fundamental at the cold gap",
            bounds=Bounds(
                0.01,
                1.6,
                "the peak fundamental in the gap is 0.8 to 1.05 T; the field in the teeth is higher",
                or_zero=True,
            ),
        ),
    )
    excitation: str = field(default="constant current", metadata=text("", EXCITATIONS))
    rim_temperature_taper: Numbers = field(
        default=0.0,
        metadata=quantity(
            "temperature", TAPER, "of the rim at its upper end less that at its lower, linear between", difference="6 K"
        ),
    )
    rim_temperature_rise: Numbers = 0.0
    """Outside less bore, K."""

    def __repr__(self) -> str:
        rim, spider, stator = (
            in_brief(kelvin, "temperature", 0)
            for kelvin in (self.rim_temperature, self.spider_temperature, self.stator_temperature)
        )
        flux = np.max(self.flux_density)
        excited = f"{flux:.3g} T, {self.excitation}" if flux else "no field"
        return f"Condition(rim {rim}, spider {spider}, stator {stator}, {excited})"


UNIFORM_COLD = Condition()
"""20 degC throughout and no field: the state in which a rotor is assembled."""


SPEED_NAMES = ("standstill", "rated", "overspeed", "runaway")
"""At which a quantity may be asked, slowest first; the last need not be given."""


def _rpm(speed: Numbers) -> str:
    return rpm(np.asarray(speed).flat[0], "g")


@dataclass(frozen=True)
class Speeds(Checked):
    """Rated, highest expected in a load rejection or test, and runaway speed, rad/s."""

    rated: Numbers = field(
        metadata=quantity(
            "speed", POSITIVE, "rated speed", bounds=Bounds(15 * RPM, 2000 * RPM, "check rpm against rad/s")
        )
    )
    overspeed: Numbers = field(
        metadata=quantity(
            "speed",
            POSITIVE,
            "agreed overspeed",
            of_rated=True,
            bounds=Bounds(-np.inf, 5000 * RPM, "check rpm against rad/s"),
        )
    )
    runaway: Numbers | None = field(
        default=None,
        metadata=quantity(
            "speed",
            POSITIVE,
            "runaway speed",
            of_rated=True,
            bounds=Bounds(-np.inf, 6000 * RPM, "check rpm against rad/s"),
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if not np.all(np.asarray(self.overspeed) >= np.asarray(self.rated)):
            raise ValueError(
                f"Speeds: overspeed is {_rpm(self.overspeed)}; it must be at least rated, {_rpm(self.rated)}"
            )
        if self.runaway is not None and not np.all(np.asarray(self.runaway) >= np.asarray(self.overspeed)):
            raise ValueError(
                f"Speeds: runaway is {_rpm(self.runaway)}; it must be at least overspeed, {_rpm(self.overspeed)}"
            )

    @property
    def named(self) -> dict[str, Numbers]:
        """The given speeds by name, rad/s, slowest first."""
        both: dict[str, Numbers] = {"rated": self.rated, "overspeed": self.overspeed}
        return both if self.runaway is None else {**both, "runaway": self.runaway}

    @property
    def from_standstill(self) -> dict[str, Numbers]:
        """Standstill and the given speeds by name, rad/s, slowest first."""
        return {"standstill": 0.0, **self.named}

    @property
    def highest_name(self) -> str:
        """Name of the highest speed that is given."""
        return list(self.named)[-1]

    @property
    def highest(self) -> Numbers:
        """The highest speed that is given, rad/s."""
        return self.named[self.highest_name]
