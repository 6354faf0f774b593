"""The case file as a set of validated tables, written from the fields of the machine's dataclasses.

Kind, rule and meaning of a key stand at the field that stores it. Here they become what checks a file and what
describes it to an editor (JSON Schema).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema, create_model
from pydantic_core import PydanticCustomError, PydanticKnownError

from rimmodel.rotor.air_gap import AirGap
from rimmodel.rotor.allowances import DutyCycle, Limits, LoadRejection, ProvingRun, Torque
from rimmodel.rotor.assembly import Assembly, BoreHarmonic, Restraint
from rimmodel.rotor.axial import Axial
from rimmodel.rotor.clamping import ClampedStack
from rimmodel.rotor.conditions import Condition, Speeds
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.history import PLACES, SEGMENTS, Reading, Segment
from rimmodel.rotor.material import Material
from rimmodel.rotor.poles import Poles
from rimmodel.rotor.quantity import EVEN, POSITIVE, Bounds, Rule
from rimmodel.rotor.record_columns import CellStyle, ColumnUse
from rimmodel.rotor.registry import Limit, quantity_names, registered_limits
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement, WitnessMark, ratio_of_speed
from rimmodel.rotor.rim import Rim, ShapeHarmonic
from rimmodel.rotor.shim_stock import ShimPiece, ShimStock
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.rotor.spider import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.thermal import BRAKE_RINGS, Thermal
from rimmodel.rotor.tolerance import Correlation, Tolerance
from rimmodel.units import KINDS, UnitError, parse_difference, parse_quantity

STRICT = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True, defer_build=True)

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
    """A validated table with the keys of a dataclass: those with metadata, plus `extra` ones as (type, default).

    A field that is the name of its table in a group has no key; one that is stated in another form than it is stored
    (a speed by name, a width as a share) is read as that form, and its rule is checked where it is resolved.
    """
    keys: dict[str, Any] = {}
    for field in dataclasses.fields(stored):
        meta = field.metadata
        if "meaning" not in meta or meta.get("of_group"):
            continue
        if meta.get("text"):
            keys[field.name] = _text_key(field)
            continue
        rule, bounds = EVEN if meta.get("even") else meta["rule"], meta.get("bounds")
        type_ = meta.get("written") or _number_type(meta, rule)
        if meta.get("several"):
            type_ = Annotated[list[type_], AfterValidator(tuple)]  # type: ignore[valid-type]
        elsewhere = meta.get("from_gap") or meta.get("derived") or meta.get("diameter") or "absent" in meta
        needed = field.default is dataclasses.MISSING and not elsewhere
        shown = field.default if rule.schema and not needed else None  # a range for editors, and what stands in it
        about = Field(default=... if needed else shown, description=meta["meaning"] or None, alias=meta.get("key"))
        keys[field.name] = (type_ if needed or shown is not None else type_ | None, about)
        if diameter := meta.get("diameter"):
            twice = quantity_type(meta["kind"], rule, bounds=bounds.times(2.0) if bounds else None)
            keys[diameter] = (twice | None, Field(default=None, description=f"twice {field.name}, in its place"))
    model: type[BaseModel] = create_model(name, __config__=STRICT, __doc__=_summary(stored), **keys, **extra)
    return model


def _number_type(meta: Mapping[str, Any], rule: Rule) -> Any:
    kind, bounds = meta["kind"], meta.get("bounds")
    if meta.get("difference"):
        return _difference_type(kind, rule, meta["difference"])
    if kind:
        return quantity_type(kind, rule, bool(meta.get("of_rated")), bounds)
    within = [_within(bounds, None)] if bounds else []
    schema = [WithJsonSchema({"type": "number", **dict(rule.schema)})] if rule.schema else []
    return Annotated[_plain_type(rule), _obeys(rule), *within, *schema]


def _difference_type(kind: str, rule: Rule, example: str) -> Any:
    """Annotated type of a difference between two quantities of a kind: of temperatures in K or degC alike."""

    def read(text: object) -> float:
        try:
            return parse_difference(text, kind)
        except UnitError as error:
            raise PydanticCustomError("unit", "{words}", {"words": str(error)}) from error

    schema = WithJsonSchema({"type": "string", "examples": [example]})
    return Annotated[float, _obeys(rule), BeforeValidator(read), schema]


def _text_key(field: dataclasses.Field[Any]) -> tuple[Any, Any]:
    """Type and default of a key that is text: any, one of a list, or a pair."""
    meta, default = field.metadata, field.default
    type_: Any = str
    if callable(meta["choices"]):
        type_ = Annotated[str, *_one_of(meta["choices"])]
    elif meta["choices"]:
        type_ = Literal[meta["choices"]]
    if meta.get("pair"):
        type_ = Annotated[list[str], Field(min_length=2, max_length=2)]
    default = meta.get("absent", ... if default is dataclasses.MISSING else default)
    about = Field(default=default, description=meta["meaning"] or None)
    return (type_ | None if default is None else type_, about)


def _one_of(names: Callable[[], Sequence[str]]) -> tuple[Any, ...]:
    """What checks a name against those known when it is read, and states those known when the schema is written."""

    def check(name: str) -> str:
        known = names()
        if name not in known:
            expected = ", ".join(repr(other) for other in known[:-1]) + f" or {known[-1]!r}"
            raise PydanticKnownError("literal_error", {"expected": expected})
        return name

    class Names:
        @classmethod
        def __get_pydantic_json_schema__(cls, core: Any, handler: Any) -> dict[str, Any]:
            return {"enum": list(names()), "type": "string"}

    return AfterValidator(check), Names()


@dataclasses.dataclass(frozen=True)
class _SchemaOf:
    """The schema of a table where a dictionary is stored, of each of its values or of all; written when it is asked."""

    table: type[BaseModel]
    each: bool = False

    def __get_pydantic_json_schema__(self, core: Any, handler: Any) -> dict[str, Any]:
        found = self.table.model_json_schema()
        return {"type": "object", "additionalProperties": found} if self.each else found


def _summary(stored: type) -> str:
    """What a table is: the docstring of the dataclass up to its parameters."""
    return (stored.__doc__ or "").partition("Parameters\n")[0]


def _plain_type(rule: Rule) -> Any:
    return int if "whole" in rule.words else float


MATERIAL_NAME = (str, Field(description="name of a table under [materials]"))

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
FitTable = table_of(ShrinkFit, "ShrinkFit")
AirGapTable = table_of(AirGap, "AirGap")
BoreTable: Any = table_of(BoreHarmonic, "BoreHarmonic")
RestraintTable: Any = table_of(Restraint, "Restraint")
AssemblyTable = table_of(
    Assembly,
    "Assembly",
    stator_shape=(list[BoreTable] | None, Field(default=None, description="harmonics of the bore as surveyed")),
    stator_restraint=(
        list[RestraintTable] | None,
        Field(default=None, description="waves of the free growth of the core that frame and foundation hold back"),
    ),
)
AxialTable = table_of(Axial, "Axial")
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


ClaimTable: Any = table_of(Claim, "ClaimTable")
RequirementTable: Any = table_of(Requirement, "RequirementTable")
ColumnTable: Any = table_of(
    ColumnUse,
    "ColumnTable",
    table=(
        list[Annotated[list[str], Field(min_length=2, max_length=2)]] | None,
        Field(default=None, description='rows of a signal and its gap, such as ["4 mA", "5 mm"]'),
    ),
)
CellTable: Any = table_of(CellStyle, "CellTable")
RecordTable: Any = table_of(
    CaseRecord,
    "RecordTable",
    columns=(
        Annotated[
            dict[str, Any],
            _SchemaOf(ColumnTable, each=True),
        ]
        | None,
        Field(default=None, description="what the columns of the table hold, by their names as written"),
    ),
    cells=(
        Annotated[dict[str, Any], _SchemaOf(CellTable)] | None,
        Field(default=None, description="how its cells are written, where the file leaves it open"),
    ),
)
WitnessTable: Any = table_of(WitnessMark, "WitnessTable")
DutyTable: Any = table_of(DutyCycle, "DutyTable")
ToleranceTable: Any = table_of(Tolerance, "ToleranceTable")
CorrelationTable: Any = table_of(Correlation, "CorrelationTable")


def _key_of(stored: type, name: str) -> Any:
    """Annotated type of one key of a dataclass, by the metadata of its field."""
    meta = stored.__dataclass_fields__[name].metadata  # type: ignore[attr-defined]
    return quantity_type(meta["kind"], meta["rule"], bounds=meta.get("bounds"))


_Duration: Any = _key_of(Segment, "duration")
_Air: Any = _key_of(Segment, "air")
_ReadingTime: Any = _key_of(Reading, "time")
_ReadTemperature: Any = _key_of(Reading, "temperature")
_MinimumGap: Any = _key_of(AirGap, "minimum_allowed")
_Uncertainty: Any = _difference_type("temperature", POSITIVE, "1 K")
ThermalTable: Any = table_of(
    Thermal,
    "Thermal",
    steady_state=(str, Field(description="name of the condition at rated load, warmed through")),
    brake_ring=(Literal[BRAKE_RINGS], Field(default="rim", description="what carries the brake ring")),
)


class SegmentTable(BaseModel):
    """A stretch of time in which the machine does one thing."""

    model_config = STRICT
    kind: Literal[SEGMENTS]  # type: ignore[valid-type]
    duration: _Duration
    speed: str | None = Field(
        default=None,
        description="at its end: 'rated', '1.2 x rated' or text with a unit; rated for start and load, standstill for "
        "brake and rest; in a rejection it is where the unit runs away to when the governor does not act",
    )
    load: float | None = Field(default=None, ge=0, le=1.5, description="over rated load; 1 for load")
    excited: bool | None = Field(default=None, description="with field; true for load and rejection")
    air: _Air | None = Field(default=None, description="air that enters the rotor; that of [thermal] when absent")


class ReadingTable(BaseModel):
    """A temperature that was read in a history."""

    model_config = STRICT
    time: _ReadingTime = Field(description="from the start of the history")
    place: Literal[PLACES]  # type: ignore[valid-type]
    temperature: _ReadTemperature
    uncertainty: _Uncertainty = Field(default=1.0, description="standard uncertainty of the reading")


class HistoryTable(BaseModel):
    """A named course of segments, and what is asked of the machine over the whole of it."""

    model_config = STRICT
    segments: list[SegmentTable] = Field(min_length=1, max_length=1000)
    start: str | None = Field(
        default=None,
        description="name of the condition whose temperatures it starts with; those of the air when absent",
    )
    float_speed_ratio: float | None = Field(
        default=None, ge=0.5, le=5, description="float speed over running speed, at least, at every moment"
    )
    minimum_gap: _MinimumGap | None = Field(default=None, description="mean gap, at least, at every moment")
    readings: list[ReadingTable] = Field(default_factory=list, description="temperatures that were read in it")


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


@cache
def _limits_table(limits: tuple[Limit, ...]) -> type[BaseModel]:
    """The table of limits, with those that quantities carry."""
    more = {
        limit.key: (
            Annotated[float, _obeys(limit.rule)] | None,
            Field(default=None, description=limit.meaning),
        )
        for limit in limits
    }
    return table_of(Limits, "Limits", **more)


ShimPieceTable: Any = table_of(ShimPiece, "ShimPiece")
_PLANNING_TABLES: dict[str, type[BaseModel]] = {
    "torque": table_of(Torque, "Torque"),
    "load_rejection": table_of(LoadRejection, "LoadRejection"),
    "plan": table_of(ProvingRun, "ProvingRun"),
    "clamping": table_of(ClampedStack, "ClampedStack"),
    "heating": table_of(RimHeating, "RimHeating"),
    "shims": table_of(ShimStock, "ShimStock", stock=(list[ShimPieceTable], Field(description="shims in the store"))),
}


def planning_tables() -> dict[str, type[BaseModel]]:
    """The tables that serve checks, shrink window and test plan, by name."""
    return {"limits": _limits_table(registered_limits()), **_PLANNING_TABLES}


OPTIONAL = ("conditions", "claims", "requirements", "records", "tolerances", "correlations", "histories")


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
        "assembly": (AssemblyTable | None, None),
        "axial": (AxialTable | None, None),
        "spider": (Annotated[disc | arms | given, Field(discriminator="kind")], ...),
        "conditions": (dict[str, ConditionTable], none),
        "claims": (claims, Field(default=None)),
        "requirements": (dict[str, RequirementTable], none),
        "records": (list[RecordTable], Field(default_factory=list)),
        "witness_marks": (list[WitnessTable], Field(default_factory=list)),
        "tolerances": (dict[str, ToleranceTable], none),
        "correlations": (list[CorrelationTable], Field(default_factory=list)),
        "rotor": (RotorTable | None, None),
        **{name: (table | None, None) for name, table in planning_tables().items()},
        "duty": (list[DutyTable], Field(default_factory=list)),
        "thermal": (ThermalTable | None, None),
        "histories": (dict[str, HistoryTable], none),
    }
    whole = create_model("Case", __config__=STRICT, __doc__="A case file of rimmodel.", **tables)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **whole.model_json_schema()}
