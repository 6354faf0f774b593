"""What decides how fast rim, spider and stator warm and cool: heat transfer as ranges, air, masses, and where from.

Nobody measures heat transfer coefficients: each is a range, from low to high, and a result holds for all of it.
The losses are not asked for. They are those that hold the machine at the temperatures of `steady_state` at rated
speed and load.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

from rimmodel.arrays import Numbers
from rimmodel.rotor.quantity import NOT_NEGATIVE, POSITIVE, SHARE, Bounds, Checked, Rule, plain, quantity
from rimmodel.units import ZERO_CELSIUS

Span = tuple[float, float]
"""Lowest and highest value that is possible."""

BRAKE_RINGS = ("rim", "spider")

EXPONENT = Rule("from 0 to 1", lambda value: (value >= 0) & (value <= 1))
TEXTBOOK = "textbook value of plain steel near 50 degC, from memory"
_AIR = Bounds(ZERO_CELSIUS - 40.0, ZERO_CELSIUS + 80.0, "air of a machine hall or behind a cooler has 0 to 50 degC")
_FILM = Bounds(0.5, 1000.0, "air makes 3 to 10 W/m^2/K at rest and 15 to 150 W/m^2/K in a running machine")


def _span(kind: str, meaning: str, bounds: Bounds, **more: object) -> dict[str, object]:
    return {**quantity(kind, POSITIVE, f"{meaning}: lowest and highest", bounds=bounds, several=True, **more)}


@dataclass(frozen=True)
class Thermal(Checked):
    """Heat exchange of the machine; every pair is the lowest and the highest value that is possible.

    Heat transfer at a speed is that at rated speed times ``(speed/rated)^speed_exponent``, and not below
    `still_heat_transfer`. The spider of a disc exchanges on its two faces, arms on `arm_perimeter` along their
    length, a spider given by its stiffness on `spider_surface`. The poles hang on the rim outside with their heat
    capacity; with `pole_conductance` they have a temperature of their own. Air at the rim is that of the segment plus
    `air_rise` at rated load; air at the spider is whatever holds it at the temperature of the steady condition.
    """

    steady_state: str
    """Name of the condition in which the machine is at rated load, warmed through."""
    air: Numbers = field(
        metadata=quantity("temperature", POSITIVE, "air that enters the rotor, at rated load", bounds=_AIR)
    )
    rim_bore_heat_transfer: Span = field(
        metadata=_span("heat transfer", "from the rim bore to the air, at rated speed", _FILM)
    )
    rim_outer_heat_transfer: Span = field(
        metadata=_span("heat transfer", "from rim outside and poles to the air, at rated speed", _FILM)
    )
    spider_heat_transfer: Span = field(
        metadata=_span("heat transfer", "from the spider to the air, at rated speed", _FILM)
    )
    contact_conductance: Span = field(
        metadata=_span(
            "thermal conductance",
            "between rim and spider, all keys together",
            Bounds(1.0, 1e7, "a key of half a square metre with its shims has 100 to 1000 W/K"),
        )
    )
    stator_time_constant: Span = field(
        metadata=_span(
            "time", "of the stator core, at rated speed", Bounds(60.0, 1e6, "a core has half an hour to 5 h")
        )
    )
    air_rise: Span = field(
        default=(0.0, 0.0),
        metadata={
            **quantity("temperature", NOT_NEGATIVE, "of the air at the rim over the air that enters, at rated load"),
            "difference": "8 K",
            "several": True,
            "source": "none: the air at the rim is that which enters",
        },
    )
    speed_exponent: Span = field(
        default=(0.7, 0.8),
        metadata=plain(
            EXPONENT,
            "of heat transfer over speed: lowest and highest",
            several=True,
            source="turbulent flow along plates 0.8, mixed flow 0.7; from memory",
        ),
    )
    still_heat_transfer: Span = field(
        default=(3.0, 10.0),
        metadata=_span(
            "heat transfer",
            "at standstill",
            Bounds(0.5, 50.0, "free convection and radiation make 3 to 10 W/m^2/K"),
            source="free convection and radiation near room temperature, textbooks; from memory",
        ),
    )
    no_load_loss_share: Span = field(
        default=(0.2, 0.4),
        metadata=plain(
            SHARE,
            "loss at rated speed with field and without load, over that at rated load: lowest and highest",
            several=True,
            source="field current at no load 0.45 to 0.63 of that at rated load; from memory",
        ),
    )
    brake_share: Span = field(
        default=(0.8, 1.0),
        metadata=plain(
            SHARE,
            "share of the energy of braking that stays in the rotor: lowest and highest",
            several=True,
            source="a brake ring of steel against lined shoes; common practice, no source",
        ),
    )
    brake_ring: str = "rim"
    """What carries the brake ring: the rim or the spider."""
    thermal_conductivity: Numbers = field(
        default=45.0,
        metadata=quantity(
            "thermal conductivity",
            POSITIVE,
            "of rim and spider, along the sheets",
            bounds=Bounds(5, 80),
            source=TEXTBOOK,
        ),
    )
    specific_heat: Numbers = field(
        default=470.0,
        metadata=quantity(
            "specific heat", POSITIVE, "of rim, spider and stator", bounds=Bounds(300, 700), source=TEXTBOOK
        ),
    )
    pole_specific_heat: Numbers = field(
        default=430.0,
        metadata=quantity(
            "specific heat",
            POSITIVE,
            "of the poles",
            bounds=Bounds(300, 700),
            source="steel 470 and copper 390 J/kg/K, half of each by mass; from memory",
        ),
    )
    arm_perimeter: Numbers | None = field(
        default=None,
        metadata=quantity(
            "length", POSITIVE, "girth of one arm that meets the air; arms need it", bounds=Bounds(0.05, 60.0)
        ),
    )
    hub_mass: Numbers | None = field(
        default=None,
        metadata=quantity(
            "mass", POSITIVE, "of the hub of arms; no heat flows into it when absent", bounds=Bounds(5, 1e6)
        ),
    )
    spider_mass: Numbers | None = field(
        default=None,
        metadata=quantity(
            "mass", POSITIVE, "of the spider; one given by its stiffness needs it", bounds=Bounds(10, 2e6)
        ),
    )
    spider_surface: Numbers | None = field(
        default=None,
        metadata=quantity(
            "surface",
            POSITIVE,
            "of the spider that meets the air; one given by its stiffness needs it",
            bounds=Bounds(0.1, 1e4),
        ),
    )
    pole_surface: Numbers = field(
        default=0.0,
        metadata=quantity(
            "surface", NOT_NEGATIVE, "of one pole that meets the air", bounds=Bounds(0.01, 100.0, or_zero=True)
        ),
    )
    pole_conductance: Span | None = field(
        default=None,
        metadata=_span(
            "thermal conductance",
            "of one pole to the rim",
            Bounds(0.1, 1e6),
            source="none: a pole is as hot as its seat",
        ),
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        for entry in fields(self):
            pair = getattr(self, entry.name)
            if entry.metadata.get("several") and pair is not None and (len(pair) != 2 or not pair[0] <= pair[1]):
                raise ValueError(
                    f"Thermal: {entry.name} is {list(pair)}; it must be a pair, the lowest and the highest value "
                    "that is possible (twice the same where it is known)"
                )
        if self.brake_ring not in BRAKE_RINGS:
            raise ValueError(f"Thermal: brake_ring is {self.brake_ring!r}; it must be one of {BRAKE_RINGS}")
        if self.pole_conductance is not None and not self.pole_surface > 0:
            raise ValueError(
                f"Thermal: pole_surface is {self.pole_surface:g} m^2; it must be given with pole_conductance"
            )

    @property
    def spans(self) -> dict[str, Span]:
        """The ranges by name, in the order of the fields; absent ones left out."""
        pairs = {entry.name: getattr(self, entry.name) for entry in fields(self) if entry.metadata.get("several")}
        return {name: pair for name, pair in pairs.items() if pair is not None}
