"""Running conditions: temperatures and field, and the speeds that matter."""

from dataclasses import dataclass, field

import numpy as np

from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, Checked, Numbers, quantity
from rimmodel.units import RPM, ZERO_CELSIUS

REFERENCE_TEMPERATURE = ZERO_CELSIUS + 20.0
"""Kelvin; the one uniform temperature at which interference and cold gap are stated."""

EXCITATIONS = ("constant current", "constant voltage")


@dataclass(frozen=True)
class Condition(Checked):
    """Mean temperatures (K) and the peak air-gap fundamental (T) at the cold gap.

    At constant current the flux density grows as the gap shrinks; at constant voltage it stays.
    `rim_temperature_rise` (K) is how much hotter the outside of the rim is than its bore, linear in radius: it leaves
    growth alone and adds stress, tension at the colder side. `rim_temperature` is the area mean.
    """

    rim_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE, metadata=quantity("temperature", POSITIVE, "mean rim temperature")
    )
    spider_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE, metadata=quantity("temperature", POSITIVE, "mean spider temperature")
    )
    pole_temperature: Numbers | None = field(
        default=None, metadata=quantity("temperature", POSITIVE, "mean pole temperature; the rim's when absent")
    )
    stator_temperature: Numbers = field(
        default=REFERENCE_TEMPERATURE, metadata=quantity("temperature", POSITIVE, "mean stator core temperature")
    )
    flux_density: Numbers = field(
        default=0.0, metadata=quantity("flux density", NOT_NEGATIVE, "peak fundamental at the cold gap")
    )
    excitation: str = "constant current"
    rim_temperature_rise: Numbers = 0.0
    """Outside less bore, K."""

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.excitation not in EXCITATIONS:
            raise ValueError(f"Condition: excitation is {self.excitation!r}; it must be one of {EXCITATIONS}")


UNIFORM_COLD = Condition()
"""20 degC throughout and no field: the state in which a rotor is assembled."""


def _rpm(speed: Numbers) -> str:
    return f"{np.asarray(speed).flat[0] / RPM:g} rpm"


@dataclass(frozen=True)
class Speeds(Checked):
    """Rated, highest expected in a load rejection or test, and runaway speed, rad/s."""

    rated: Numbers = field(metadata=quantity("speed", POSITIVE, "rated speed"))
    overspeed: Numbers = field(metadata=quantity("speed", POSITIVE, "agreed overspeed", of_rated=True))
    runaway: Numbers | None = field(default=None, metadata=quantity("speed", POSITIVE, "runaway speed", of_rated=True))

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
