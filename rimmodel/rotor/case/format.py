"""The case file as a set of validated tables, written from the fields of the machine's dataclasses.

Kind, rule and meaning of a key stand at the field that stores it. Here they become what checks a file and what
describes it to an editor (JSON Schema).
"""

from __future__ import annotations

import dataclasses
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, create_model
from pydantic_core import PydanticCustomError, PydanticKnownError

from rimmodel.rotor.air_gap import AirGap
from rimmodel.rotor.allowances import CARRIERS, Limits, LoadRejection, ProvingRun, Torque
from rimmodel.rotor.conditions import EXCITATIONS, Condition, Speeds
from rimmodel.rotor.material import Material
from rimmodel.rotor.poles import Poles
from rimmodel.rotor.quantity import EVEN, NOT_NEGATIVE, POSITIVE, Bounds, Rule
from rimmodel.rotor.registry import quantity_names
from rimmodel.rotor.requirements import (
    RUN_TEMPERATURE,
    SENSOR_GAIN,
    SENSOR_OFFSET,
    ratio_of_speed,
)
from rimmodel.rotor.rim import Rim, ShapeHarmonic
from rimmodel.rotor.shrink_fit import SETTLEMENTS, ShrinkFit
from rimmodel.rotor.spider import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.tolerance import DISTRIBUTIONS
from rimmodel.units import KINDS, UnitError, parse_difference, parse_quantity

STRICT = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True)

Ratio = tuple[float, str]


def _obeys(rule: Rule) -> AfterValidator:
    def check(value: Any) -> Any:
        if not rule.holds(value):
            raise PydanticCustomError("rule", "it must be {words}", {"words": rule.words})
        return value

    return AfterValidator(check)


def _within(bounds: Bounds, kind: str | None) -> AfterValidator:
    def check(value: Any) -> Any:
        if isinstance(value, int | float) and not bounds.holds(value):
            raise PydanticCustomError("rule", "it must be {words}", {"words": bounds.words(value, kind)})
        return value

    return AfterValidator(check)


def _reads(kind: str, of_rated: bool = False) -> BeforeValidator:
    def read(text: object) -> float | Ratio:
        if of_rated and isinstance(text, str) and (ratio := ratio_of_speed(text)):
            return ratio
        try:
            return parse_quantity(text, kind)
        except UnitError as error:
            raise PydanticCustomError("unit", "{words}", {"words": str(error)}) from error

    return BeforeValidator(read)


def quantity_type(kind: str, rule: Rule | None, of_rated: bool = False, bounds: Bounds | None = None) -> Any:
    """Annotated type of a key that is text with a unit (or, for speeds, ``"1.45 x rated"``)."""
    words = f"text with a unit, such as {KINDS[kind].example!r}" + (" or '1.45 x rated'" if of_rated else "")
    rules = [_obeys(rule)] if rule and not of_rated else []
    rules += [_within(bounds, kind)] if bounds else []
    schema = WithJsonSchema({"type": "string", "examples": [KINDS[kind].example], "description": words})
    return Annotated[(float | Ratio) if of_rated else float, *rules, _reads(kind, of_rated), schema]


def table_of(stored: type, name: str, **extra: Any) -> type[BaseModel]:
    """A validated table with the keys of a dataclass: those with metadata, plus `extra` ones as (type, default)."""
    keys: dict[str, Any] = {}
    for field in dataclasses.fields(stored):
        meta = field.metadata
        if "rule" not in meta:
            continue
        kind, rule = meta["kind"], meta["rule"]
        of_rated = bool(meta.get("of_rated"))
        bounds: Bounds | None = meta.get("bounds")
        if meta.get("even"):
            rule = EVEN
        if kind:
            type_ = quantity_type(kind, rule, of_rated, bounds)
        else:
            within = [_within(bounds, None)] if bounds else []
            type_ = Annotated[_plain_type(rule), _obeys(rule), *within]
        if meta.get("several"):
            type_ = Annotated[list[type_], AfterValidator(tuple)]  # type: ignore[valid-type]
        elsewhere = meta.get("from_gap") or meta.get("derived") or meta.get("diameter")
        needed = field.default is dataclasses.MISSING and not elsewhere
        about = Field(default=... if needed else None, description=meta["meaning"])
        keys[field.name] = (type_ if needed else type_ | None, about)
        if diameter := meta.get("diameter"):
            twice = quantity_type(kind, rule, bounds=bounds.times(2.0) if bounds else None)
            keys[diameter] = (twice | None, Field(default=None, description=f"twice {field.name}, in its place"))
    model: type[BaseModel] = create_model(name, __config__=STRICT, __doc__=stored.__doc__, **keys, **extra)
    return model


def _plain_type(rule: Rule) -> Any:
    return int if "whole" in rule.words else float


MATERIAL_NAME = (str, Field(description="name of a table under [materials]"))


def _known_quantity(name: str) -> str:
    names = quantity_names()
    if name not in names:
        expected = ", ".join(repr(known) for known in names[:-1]) + f" or {names[-1]!r}"
        raise PydanticKnownError("literal_error", {"expected": expected})
    return name


class _QuantityNames:
    """Names in the schema: those that are registered when it is written."""

    @classmethod
    def __get_pydantic_json_schema__(cls, core: Any, handler: Any) -> dict[str, Any]:
        return {"enum": list(quantity_names()), "type": "string"}


QuantityName = Annotated[str, AfterValidator(_known_quantity), _QuantityNames()]

MaterialTable: Any = table_of(Material, "Material")
ShapeTable: Any = table_of(ShapeHarmonic, "ShapeHarmonic")
RimTable = table_of(
    Rim,
    "Rim",
    material=MATERIAL_NAME,
    shape=(list[ShapeTable] | None, Field(default=None, description="harmonics of the outside as built")),
    mass=(
        quantity_type("mass", POSITIVE, bounds=Bounds(20.0, 5e6)) | None,
        Field(default=None, description="of the rim by the drawing, without poles; checked against the other keys"),
    ),
)
PolesTable = table_of(Poles, "Poles")
_Length = quantity_type("length", None)
ProfileRow: Any = Annotated[list[_Length], Field(min_length=2, max_length=2), AfterValidator(tuple)]  # type: ignore[valid-type]
SPIDER_TABLES: dict[str, type[BaseModel]] = {
    "disc": table_of(
        DiscSpider,
        "DiscSpider",
        kind=(Literal["disc"], ...),
        material=MATERIAL_NAME,
        profile=(
            Annotated[list[ProfileRow], AfterValidator(tuple)] | None,
            Field(default=None, description="pairs of radius and thickness, bore to outside"),
        ),
    ),
    "arms": table_of(ArmSpider, "ArmSpider", kind=(Literal["arms"], ...), material=MATERIAL_NAME),
    "given": table_of(
        GivenSpider,
        "GivenSpider",
        kind=(Literal["given"], ...),
        material=(str | None, Field(default=None, description="its thermal expansion counts; the rim's when absent")),
    ),
}
FitTable = table_of(
    ShrinkFit,
    "ShrinkFit",
    settlement_of=(
        Literal[SETTLEMENTS],
        Field(default="unknown", description="what lost the interference that a recording does not find"),
    ),
)
AirGapTable = table_of(AirGap, "AirGap")
SpeedsTable = table_of(
    Speeds,
    "Speeds",
    frequency=(
        quantity_type("frequency", POSITIVE, bounds=Bounds(5.0, 200.0)) | None,
        Field(default=None, description="electrical frequency at rated speed; checked against the number of poles"),
    ),
)
_SpiderSide = quantity_type(
    "temperature", POSITIVE, bounds=Condition.__dataclass_fields__["spider_temperature"].metadata["bounds"]
)
ConditionTable: Any = table_of(
    Condition,
    "Condition",
    excitation=(Literal[EXCITATIONS], Field(default="constant current")),
    rim_bore_temperature=(
        quantity_type("temperature", POSITIVE) | None,
        Field(default=None, description="of the rim at its bore, in place of rim_temperature"),
    ),
    rim_outer_temperature=(
        quantity_type("temperature", POSITIVE) | None,
        Field(default=None, description="of the rim outside (slot bottom); in between it is linear in radius"),
    ),
    spider_hub_temperature=(
        _SpiderSide | None,
        Field(default=None, description="of the spider at bore or hub, in place of spider_temperature"),
    ),
    spider_rim_temperature=(
        _SpiderSide | None,
        Field(default=None, description="of the spider at the rim bore; in between it is linear in radius"),
    ),
)


SmallLength = Annotated[float, _reads("small length"), WithJsonSchema({"type": "string", "examples": ["0.4 mm"]})]


def _reads_difference(text: object) -> float:
    try:
        return parse_difference(text, "temperature")
    except UnitError as error:
        raise PydanticCustomError("unit", "{words}", {"words": str(error)}) from error


TemperatureDifference = Annotated[
    float,
    _obeys(NOT_NEGATIVE),
    BeforeValidator(_reads_difference),
    WithJsonSchema({"type": "string", "examples": ["0.5 K"]}),
]


class ClaimTable(BaseModel):
    """A maker's statement of one quantity."""

    model_config = STRICT
    value: str = Field(description="text with a unit, or a ratio such as '1.49 x rated'")
    condition: str | None = Field(default=None, description="name of a table under [conditions]; the first when absent")
    tolerance: float = Field(default=0.0, ge=0, lt=1, description="share of the value within which it counts as met")


class RequirementTable(BaseModel):
    """A bound that a quantity must keep."""

    model_config = STRICT
    quantity: QuantityName
    condition: str | None = Field(default=None, description="name of a table under [conditions]; the first when absent")
    at_least: str | None = None
    at_most: str | None = None
    confidence: float = Field(
        default=0.95, ge=0.5, le=0.99, description="of the two-sided interval that decides, from 0.5 to 0.99"
    )


class RecordTable(BaseModel):
    """A recording of a run."""

    model_config = STRICT
    file: str = Field(description="CSV or Parquet, relative to the case file")
    condition: str | None = Field(
        default=None, description="name of a table under [conditions]; needed where there are several"
    )
    label: str = ""
    direction: Literal["up", "down"] | None = None
    expected_change: SmallLength | None = Field(
        default=None, description="radial interference that the shims should have added since the record before"
    )
    sensor_offset: Annotated[SmallLength, _obeys(NOT_NEGATIVE)] = Field(
        default=SENSOR_OFFSET, description="standard uncertainty of the level of the mean gap"
    )
    sensor_gain: float = Field(
        default=SENSOR_GAIN, ge=0, lt=0.5, description="standard uncertainty of the sensitivity, as a share"
    )
    temperature_uncertainty: TemperatureDifference = Field(
        default=RUN_TEMPERATURE, description="standard uncertainty of rim over spider temperature in this run"
    )


class DutyTable(BaseModel):
    """How often the machine goes from one speed to another and back."""

    model_config = STRICT
    start: str = Field(alias="from", description="'standstill', 'rated', ..., '1.2 x rated' or text with a unit")
    end: str = Field(alias="to", description="'rated', 'overspeed', ..., '1.2 x rated' or text with a unit")
    count: float = Field(gt=0, le=1e9, description="times in the life of the machine, up to 1e9")


class ToleranceTable(BaseModel):
    """How one number of the case varies about its value, named by its key."""

    model_config = STRICT
    distribution: Literal[DISTRIBUTIONS] = "normal"  # type: ignore[valid-type]
    standard: float | str | None = Field(
        default=None, description="standard uncertainty: text with a unit, a share such as '2 %', or a bare number"
    )
    half_width: float | str | None = Field(
        default=None, description="half-width: two standard uncertainties of a normal, the end of any other"
    )


class CorrelationTable(BaseModel):
    """Two toleranced numbers that vary together."""

    model_config = STRICT
    between: list[str] = Field(min_length=2, max_length=2, description="keys of two numbers under [tolerances]")
    coefficient: float = Field(gt=-1, lt=1, description="correlation coefficient of their normal scores")


_Inertia: Any = quantity_type("inertia", POSITIVE, bounds=Bounds(5.0, 3e9))
_GD2: Any = quantity_type("inertia", POSITIVE, bounds=Bounds(20.0, 1.2e10))


class RotorTable(BaseModel):
    """What a drawing states of the whole rotor; checked against masses and radii."""

    model_config = STRICT
    inertia: _Inertia | None = Field(default=None, description="mass moment of inertia J of the whole rotor")
    gd2: _GD2 | None = Field(default=None, description="GD2 of the whole rotor, four times J")


TABLES: dict[str, type[BaseModel]] = {
    "rim": RimTable,
    "poles": PolesTable,
    "fit": FitTable,
    "air_gap": AirGapTable,
    "speeds": SpeedsTable,
}
GROUPS: dict[str, type[BaseModel]] = {
    "materials": MaterialTable,
    "conditions": ConditionTable,
    "claims": ClaimTable,
    "requirements": RequirementTable,
}
PLANNING_TABLES: dict[str, type[BaseModel]] = {
    "limits": table_of(Limits, "Limits"),
    "torque": table_of(Torque, "Torque", carried_by=(Literal[CARRIERS], Field(default="keys"))),
    "load_rejection": table_of(LoadRejection, "LoadRejection"),
    "plan": table_of(ProvingRun, "ProvingRun"),
}
OPTIONAL = ("conditions", "claims", "requirements", "records", "tolerances", "correlations")


def case_schema() -> dict[str, Any]:
    """JSON Schema of a case file, for editors that complete and check TOML by schema."""
    none: Any = Field(default_factory=dict)
    stated: dict[str, Any] = dict.fromkeys(quantity_names(), (ClaimTable | None, None))
    claims: Any = create_model("Claims", __config__=STRICT, **stated)
    disc, arms, given = SPIDER_TABLES.values()
    tables: dict[str, Any] = {
        "title": (str, ...),
        "materials": (dict[str, MaterialTable], ...),
        **{name: (table, ...) for name, table in TABLES.items()},
        "spider": (Annotated[disc | arms | given, Field(discriminator="kind")], ...),
        "conditions": (dict[str, ConditionTable], none),
        "claims": (claims, Field(default=None)),
        "requirements": (dict[str, RequirementTable], none),
        "records": (list[RecordTable], Field(default_factory=list)),
        "tolerances": (dict[str, ToleranceTable], none),
        "correlations": (list[CorrelationTable], Field(default_factory=list)),
        "rotor": (RotorTable | None, None),
        **{name: (table | None, None) for name, table in PLANNING_TABLES.items()},
        "duty": (list[DutyTable], Field(default_factory=list)),
    }
    whole = create_model("Case", __config__=STRICT, __doc__="A case file of rimmodel.", **tables)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **whole.model_json_schema()}
