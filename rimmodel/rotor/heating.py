"""How a rim is heated so that it goes over its keys: heaters, covers, heat that is lost, limits, and the work.

Nobody measures heat transfer coefficients: each is a range, from low to high, and a result holds for all of it.
Capacities, conductivities and surfaces are those of `rimmodel.rotor.thermal.Thermal`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from rimmodel.arrays import Interval, Numbers
from rimmodel.rotor.allowances import PRACTICE
from rimmodel.rotor.quantity import COUNT, FINITE, POSITIVE, SHARE, Bounds, Checked, plain, quantity, text
from rimmodel.units import ZERO_CELSIUS, celsius

HEATED = ("bore", "outside", "both", "even")
"""Where the heat enters the rim; even is hot air through the stack or from end to end."""

POLES = ("removed", "fitted")

_HALL = Bounds(ZERO_CELSIUS - 20.0, ZERO_CELSIUS + 50.0, "the air of an erection bay or pit has 5 to 35 degC")
_FILM = Bounds(0.2, 100.0, "still air and radiation make 3 to 12 W/m^2/K on bare steel, 1 to 4 W/m^2/K under covers")
_UNCHECKED = "from memory, not checked against a source"
_CUSTOM = f"10 to 15 K by custom; {_UNCHECKED}"


@dataclass(frozen=True)
class RimHeating(Checked):
    """Heating of the rim for its keys; every pair is the lowest and the highest value that is possible.

    Power, covers, exchange, work and the limit of temperature have no default: a wrong guess of them promises more
    time with hot steel than there is. Spreads are largest minus smallest.
    """

    heater_power: Numbers = field(
        metadata=quantity(
            "power", POSITIVE, "of all heaters together, as connected", bounds=Bounds(500.0, 5e6, "check the unit")
        )
    )
    heater_share: Interval = field(
        metadata=plain(SHARE, "share of the heater power that enters the rim: lowest and highest", several=True)
    )
    heated_at: str = field(metadata=text("where the heat enters the rim", HEATED))
    poles: str = field(metadata=text("whether the poles hang on the rim while it is heated", POLES))
    air: Numbers = field(
        metadata=quantity("temperature", POSITIVE, "of the hall, of rim and spider at the start", bounds=_HALL)
    )
    covered_heat_transfer: Interval = field(
        metadata=quantity(
            "heat transfer",
            POSITIVE,
            "from outside and ends of the rim under its covers to the air: lowest and highest",
            bounds=_FILM,
            several=True,
        )
    )
    open_heat_transfer: Interval = field(
        metadata=quantity(
            "heat transfer",
            POSITIVE,
            "the same with the covers as they are while keys are fitted: lowest and highest",
            bounds=_FILM,
            several=True,
        )
    )
    bore_heat_transfer: Interval = field(
        metadata=quantity(
            "heat transfer",
            POSITIVE,
            "from the rim bore to the spider, by radiation and the air between: lowest and highest",
            bounds=_FILM,
            several=True,
        )
    )
    spider_heat_transfer: Interval = field(
        metadata=quantity(
            "heat transfer", POSITIVE, "from the spider to the air: lowest and highest", bounds=_FILM, several=True
        )
    )
    contact_conductance: Interval = field(
        metadata=quantity(
            "thermal conductance",
            POSITIVE,
            "from rim to spider through ledge, guides and loose keys, all together: lowest and highest",
            bounds=Bounds(0.1, 1e5, "a ledge and loose keys have 50 to 1000 W/K"),
            several=True,
        )
    )
    surface_limit: Numbers = field(
        metadata=quantity(
            "temperature",
            POSITIVE,
            "highest at any place: varnish of the sheets, insulation, paint; by the maker",
            bounds=Bounds(ZERO_CELSIUS + 40.0, ZERO_CELSIUS + 250.0, "varnish and insulation bear 90 to 155 degC"),
        )
    )
    time_per_key: Numbers = field(
        metadata=quantity(
            "time", POSITIVE, "to fit one key with its shims, of the slowest", bounds=Bounds(20.0, 4 * 3600.0)
        )
    )
    keys_at_once: Numbers = field(
        default=1, metadata=plain(COUNT, "keys fitted at the same time", bounds=Bounds(1, 100))
    )
    rate_limit: Numbers = field(
        default=10.0 / 3600.0,
        metadata=quantity(
            "rate of temperature",
            POSITIVE,
            "fastest change of the mean rim temperature",
            bounds=Bounds(0.5 / 3600, 100.0 / 3600, "5 to 15 K/h is custom"),
            source=f"5 to 15 K/h by custom; {_UNCHECKED}",
        ),
    )
    depth_spread: Numbers = field(
        default=10.0,
        metadata=quantity(
            "temperature", POSITIVE, "largest spread from bore to outside", source=_CUSTOM, difference="10 K"
        ),
    )
    height_spread: Numbers = field(
        default=10.0,
        metadata=quantity(
            "temperature", POSITIVE, "largest spread from top to bottom", source=_CUSTOM, difference="10 K"
        ),
    )
    around_spread: Numbers = field(
        default=10.0,
        metadata=quantity("temperature", POSITIVE, "largest spread around the rim", source=_CUSTOM, difference="10 K"),
    )
    temperature_uncertainty: Numbers = field(
        default=2.0,
        metadata=quantity(
            "temperature",
            POSITIVE,
            "standard uncertainty of the measured difference of rim and spider",
            source=f"thermometers on steel that is heated; {PRACTICE}",
            difference="2 K",
        ),
    )
    hold: Numbers | None = field(
        default=None,
        metadata=quantity(
            "time",
            POSITIVE,
            "at the difference to reach, before the power goes off; until the rim is even when absent",
            bounds=Bounds(60.0, 48 * 3600.0),
        ),
    )
    longest: Numbers = field(
        default=72 * 3600.0,
        metadata=quantity(
            "time", POSITIVE, "longest heating that is considered", bounds=Bounds(3600.0, 240 * 3600.0), source=PRACTICE
        ),
    )
    interference: Numbers | None = field(
        default=None,
        metadata=quantity(
            "small length",
            FINITE,
            "mean radial interference to be keyed; that of [fit] when absent",
            bounds=Bounds(1e-6, 0.02, "it is radial, 0.2 to 0.5 mm per m of bore radius; check the unit"),
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        for entry in fields(self):
            pair = getattr(self, entry.name)
            if entry.metadata.get("several") and (len(pair) != 2 or not pair[0] <= pair[1]):
                raise ValueError(
                    f"RimHeating: {entry.name} is {list(pair)}; it must be a pair, the lowest and the highest value "
                    "that is possible (twice the same where it is known)"
                )
        if not float(self.surface_limit) > float(self.air):
            raise ValueError(
                f"RimHeating: surface_limit is {celsius(self.surface_limit, 'g')}; it must be above the "
                f"air, {celsius(self.air, 'g')}"
            )
        covered, opened = self.covered_heat_transfer, self.open_heat_transfer
        if opened[0] < covered[0] or opened[1] < covered[1]:
            raise ValueError(
                f"RimHeating: open_heat_transfer is {list(opened)} W/m^2/K, below covered_heat_transfer, "
                f"{list(covered)} W/m^2/K, at an end; an open rim loses more, not less: the same where covers stay on"
            )

    @property
    def spans(self) -> dict[str, Interval]:
        """The ranges by name, in the order of the fields, in SI."""
        return {entry.name: getattr(self, entry.name) for entry in fields(self) if entry.metadata.get("several")}
