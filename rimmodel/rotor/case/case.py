"""Reading a case file: every fault at once, each with its key, its value and its rule."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import MISSING, dataclass, field, fields
from pathlib import Path
from typing import Any

from rimmodel.rotor.air_gap import AirGap
from rimmodel.rotor.allowances import DutyCycle, Limits, LoadRejection, ProvingRun, Torque
from rimmodel.rotor.assembly import Assembly, BoreHarmonic, Restraint
from rimmodel.rotor.axial import Axial
from rimmodel.rotor.case.stated import Stated
from rimmodel.rotor.case.text import shown, text_faults
from rimmodel.rotor.clamping import ClampedStack
from rimmodel.rotor.conditions import UNIFORM_COLD, Condition, Speeds
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.history import History
from rimmodel.rotor.key_setup import key_setup_faults
from rimmodel.rotor.material import Material
from rimmodel.rotor.near import near
from rimmodel.rotor.poles import Poles
from rimmodel.rotor.regular_file import not_a_file
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement, WitnessMark
from rimmodel.rotor.rim import Rim, ShapeHarmonic
from rimmodel.rotor.rotor import Rotor, RotorError
from rimmodel.rotor.shim_stock import ShimStock
from rimmodel.rotor.shrink_fit import ShrinkFit, key_list_fault, resolve_interference
from rimmodel.rotor.spider import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.thermal import Thermal
from rimmodel.rotor.tolerance import Correlation, Tolerance
from rimmodel.tabular import wanted
from rimmodel.units import rpm

UNNAMED_CONDITION = "20 degC, no field"
"""Name of the condition that a case without any gets."""

EXAMPLES = Path(__file__).parent.parent / "examples"

FASTEST = 4.0
"""Times rated speed that no water turbine reaches."""

LARGEST_FILE = 2_000_000
"""Bytes; a case file is a page or two of text."""


class CaseError(ValueError):
    """A case file that cannot be used; the text lists every fault."""

    def __init__(self, path: str, faults: list[str]) -> None:
        self.path, self.faults = path, tuple(faults)
        count = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(f"{path}: {count}\n" + "\n".join(f"  {fault}" for fault in faults))


@dataclass(frozen=True)
class Case:
    """A machine with its conditions, claims, requirements and records, as read from a file."""

    title: str
    rotor: Rotor
    conditions: dict[str, Condition]
    claims: tuple[Claim, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    records: tuple[CaseRecord, ...] = ()
    tolerances: tuple[Tolerance, ...] = ()
    correlations: tuple[Correlation, ...] = ()
    limits: Limits = field(default_factory=Limits)
    torque: Torque | None = None
    duty: tuple[DutyCycle, ...] = ()
    load_rejection: LoadRejection | None = None
    plan: ProvingRun = field(default_factory=ProvingRun)
    clamping: ClampedStack | None = None
    heating: RimHeating | None = None
    shims: ShimStock | None = None
    thermal: Thermal | None = None
    histories: tuple[History, ...] = ()
    witness_marks: tuple[WitnessMark, ...] = ()
    stated: Stated = field(default_factory=Stated)
    path: Path | None = None
    digest: str = ""
    as_read: dict[str, Any] = field(default_factory=dict)

    def __repr__(self) -> str:
        counts = ((self.claims, "claim"), (self.requirements, "requirement"), (self.records, "record"))
        listed = "".join(f", {len(some)} {word}{'s' * (len(some) != 1)}" for some, word in counts)
        return f"Case({self.title!r}: {self.rotor!r}; conditions {', '.join(self.conditions)}{listed})"

    def condition(self, name: str | None = None) -> tuple[str, Condition]:
        """Name and condition; the first of the file when no name is given. Raises `KeyError` in words."""
        if name is None:
            return next(iter(self.conditions.items()))
        if name not in self.conditions:
            raise KeyError(
                f"no condition {name!r}; the case has: {', '.join(self.conditions)}{near(name, self.conditions)}"
            )
        return name, self.conditions[name]


def read_case(path: str | Path) -> Case:
    """Read and check a case file (TOML).

    Parameters
    ----------
    path : str or Path
        Of the file; ``rimmodel new FILE`` writes one to fill in.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        The file is missing, not readable, not TOML, or any key is unknown, missing, of the wrong unit or out of its
        rule; all faults are listed.
    TypeError
        No path.
    """
    wanted(path, (str, Path), "path", "read_case wants the path of a case file")
    file = Path(path)
    reason = not_a_file(file, "the case file")
    if reason:
        raise CaseError(str(file), [reason])
    try:
        if file.stat().st_size > LARGEST_FILE:
            raise CaseError(
                str(file), [f"is larger than {LARGEST_FILE // 10**6} MB; a case file is a page or two of text"]
            )
        content = file.read_bytes()
    except OSError as error:
        raise CaseError(str(file), [f"cannot be read: {error.strerror}"]) from None
    return parse_case(content, str(file), file)


def unstated_condition(names: Iterable[str]) -> str:
    """What to do where a recording does not say in which of several conditions it was taken."""
    return f"the case has {', '.join(names)}, and which of them applies decides the verdict: name it"


def example_case() -> Case:
    """The built-in case: an invented machine with an invented test record.

    >>> example_case().title
    'Invented example: Quillmere unit Q1'
    """
    return read_case(EXAMPLES / "quillmere.toml")


def parse_case(content: bytes, name: str, path: Path | None = None) -> Case:
    """Check the bytes of a case file; `name` stands in messages, `path` is where its records are looked for.

    Raises CaseError with all that is wrong in it.
    """
    if not content.strip():
        raise CaseError(name, ["is empty; 'rimmodel new FILE' writes a case to fill in"])
    if b"\0" in content:
        raise CaseError(name, ["is a binary file or UTF-16 text; a case file is TOML text in UTF-8"])
    try:
        raw = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise CaseError(name, ["is not a text file in UTF-8; a case file is TOML text"]) from None
    except tomllib.TOMLDecodeError as error:
        raise CaseError(name, [f"is not valid TOML: {error}"]) from None
    except ValueError:
        raise CaseError(
            name, ["contains a whole number of thousands of digits; no number in a case is that large"]
        ) from None
    except RecursionError:
        raise CaseError(name, ["is not a case file: its lists are nested too deeply"]) from None
    faults = text_faults(raw)
    case = None if faults else _build(raw, faults)
    if case is None or faults:
        raise CaseError(name, faults)
    digest = hashlib.sha256(content).hexdigest()
    return Case(**{**vars(case), "path": path, "digest": digest, "as_read": raw})


_READ_APART = (
    "assembly",
    "axial",
    "rotor",
    "witness_marks",
    "duty",
    "thermal",
    "histories",
    "tolerances",
    "correlations",
)


def _build(raw: dict[str, Any], faults: list[str]) -> Case | None:
    # pydantic takes a tenth of a second to load, so these are imported with the first case, not before
    from rimmodel.rotor.case.claims import check_askable, read_claims, read_requirements
    from rimmodel.rotor.case.format import GROUPS, TABLES, AssemblyTable, AxialTable, RotorTable, planning_tables
    from rimmodel.rotor.case.of_drawing import check_stated, read_conditions, read_stated
    from rimmodel.rotor.case.planning import read_planning, read_witness_marks
    from rimmodel.rotor.case.tables import checked_group, checked_records, checked_spider, checked_table
    from rimmodel.rotor.case.thermal import read_thermal
    from rimmodel.rotor.case.tolerances import read_tolerances

    known = ["title", *TABLES, "spider", *GROUPS, "records", *planning_tables(), *_READ_APART]
    faults += [f"{shown(key)[1:-1]}: unknown key{near(key, known)}" for key in raw if key not in known]
    title = _title(raw.get("title"), faults)
    tables = {name: checked_table(model, raw.get(name), name, faults) for name, model in TABLES.items()}
    for name, model in (("assembly", AssemblyTable), ("axial", AxialTable)):
        tables[name] = checked_table(model, raw.get(name, {}), name, faults)
    spider = checked_spider(raw.get("spider"), faults)
    groups = {name: checked_group(name, model, raw.get(name), faults) for name, model in GROUPS.items()}
    records = checked_records(raw.get("records", []), faults)
    whole = checked_table(RotorTable, raw["rotor"], "rotor", faults) if "rotor" in raw else None
    stated = read_stated(tables, whole)
    parts = _parts(tables, spider, groups["materials"], faults)
    rotor, speeds = _rotor(parts, faults), parts["speeds"]
    if rotor is not None and not faults:
        check_stated(rotor, stated, faults)
        faults += key_setup_faults(rotor)
    conditions = read_conditions(groups["conditions"], None if faults else rotor, faults)
    if not conditions and not any(fault.startswith("conditions") for fault in faults):
        conditions = {UNNAMED_CONDITION: UNIFORM_COLD}
    names = list(raw["conditions"]) if isinstance(raw.get("conditions"), dict) else list(conditions)
    claims = read_claims(groups["claims"], speeds, names, faults)
    requirements = read_requirements(groups["requirements"], speeds, names, faults)
    asked = [(f"claims.{quantity}", quantity) for quantity in groups["claims"]]
    asked += [(f"requirements.{name}", table["quantity"]) for name, table in groups["requirements"].items()]
    check_askable(asked, parts, faults)
    planning = read_planning(raw, speeds, faults)
    cold = None if rotor is None else float(rotor.air_gap.cold)
    marks = read_witness_marks(raw.get("witness_marks", []), speeds, cold, names, faults)
    _check_records(records, names, faults)
    if rotor is None or faults:
        return None
    planning |= read_thermal(raw, rotor, conditions, planning.get("load_rejection"), stated, faults)
    if faults:
        return None
    uncertain = read_tolerances(raw, rotor, conditions, faults)
    return Case(
        title,
        rotor,
        conditions,
        tuple(claims),
        tuple(requirements),
        tuple(records),
        *uncertain,
        witness_marks=marks,
        stated=stated,
        **planning,
    )


def _title(title: object, faults: list[str]) -> str:
    if not isinstance(title, str) or not title.strip():
        what = "missing" if title is None else f"it is {shown(title)}"
        faults.append(f"title: {what}; give the case a title, as text in quotes")
    return str(title)


def _check_records(records: Sequence[CaseRecord], names: list[str], faults: list[str]) -> None:
    from rimmodel.rotor.case.claims import check_condition

    for number, record in enumerate(records, 1):
        check_condition(f"records[{number}].condition", record.condition, names, faults)
        if record.condition is None and len(names) > 1:
            faults.append(f"records[{number}].condition: missing; {unstated_condition(names)}")


_SPIDERS: dict[str, type[Any]] = {"disc": DiscSpider, "arms": ArmSpider, "given": GivenSpider}


def _parts(
    tables: dict[str, dict[str, Any] | None],
    spider: tuple[str, dict[str, Any]] | None,
    materials: dict[str, dict[str, Any]],
    faults: list[str],
) -> dict[str, Any]:
    """The parts of the machine by name; None for those that are not right, so that the others still speak."""
    from rimmodel.rotor.case.of_drawing import resolve_diameters

    rim, poles, fit, gap, speeds = (tables[name] for name in ("rim", "poles", "fit", "air_gap", "speeds"))
    rim_steel = _material(rim, "rim", materials, faults) if rim else None
    spider_steel = _material(spider[1], "spider", materials, faults) if spider else None
    for where, stored, table in (
        ("rim", Rim, rim),
        ("poles", Poles, poles),
        ("fit", ShrinkFit, fit),
        ("air_gap", AirGap, gap),
    ):
        if table is not None:
            resolve_diameters(where, stored, table, faults)
    if spider:
        resolve_diameters("spider", _SPIDERS[spider[0]], spider[1], faults)
    if fit and (wrong := resolve_interference(fit)):
        faults.append(wrong)
    if fit and fit.get("settlement_of") == "stack" and "settlement" in fit:
        fit["stack_growth"] = fit.get("stack_growth", 0.0) + fit.pop("settlement")
    if fit and spider:
        arms = spider[1]["count"] if spider[0] == "arms" else None
        if wrong := key_list_fault(fit.get("key_interference"), fit.get("key_count", arms)):
            faults.append(wrong)
    if poles and gap:
        _resolve_gap(poles, gap, faults)
    if speeds:
        _resolve_speeds(speeds, faults)
    if rim:
        rim = {**rim, "material": rim_steel, "shape": _waves(ShapeHarmonic, rim.get("shape", ()))}
    assembly = tables["assembly"]
    if assembly is not None:
        shapes = (("stator_shape", BoreHarmonic), ("stator_restraint", Restraint))
        assembly |= {key: _waves(stored, assembly.get(key, ())) for key, stored in shapes}
    kind, keys = spider or ("given", None)
    own = None if keys is None else {key: value for key, value in keys.items() if key != "kind"}
    return {
        "rim": _part("rim", Rim, rim if rim_steel else None, faults),
        "poles": _part("poles", Poles, poles, faults),
        "spider": _part("spider", _SPIDERS[kind], None if own is None else {**own, "material": spider_steel}, faults),
        "fit": _part("fit", ShrinkFit, fit, faults),
        "air_gap": _part("air_gap", AirGap, gap, faults),
        "speeds": _part("speeds", Speeds, speeds, faults),
        "assembly": _part("assembly", Assembly, assembly, faults),
        "axial": _part("axial", Axial, tables["axial"], faults),
    }


def _waves(stored: type[Any], rows: Iterable[Any]) -> tuple[Any, ...]:
    """The dataclasses of a list of harmonics."""
    return tuple(stored(**{key: value for key, value in row if value is not None}) for row in rows)


def _material(
    table: dict[str, Any], where: str, materials: dict[str, dict[str, Any]], faults: list[str]
) -> Material | None:
    name = table.get("material")
    if name is not None and name not in materials:
        if not any(fault.startswith(f"materials.{name}") for fault in faults):
            faults.append(f"{where}.material is {name!r}; there is no [materials.{name}]{near(name, materials)}")
        return None
    if name is None:
        return None
    try:
        return Material(**materials[name])
    except ValueError as error:
        wrong = f"materials.{name}.{str(error).partition(': ')[2]}"
        faults.extend([] if wrong in faults else [wrong])
        return None


def _part(where: str, stored: type[Any], table: dict[str, Any] | None, faults: list[str]) -> Any:
    """The dataclass of a table; None when a key is missing (reported before) or its rules are broken."""
    needed = {field.name for field in fields(stored) if field.default is MISSING}
    if table is None or not needed <= table.keys():
        return None
    try:
        return stored(**table)
    except ValueError as error:
        text = str(error).partition(": ")[2]
        names = {field.name for field in fields(stored)}
        faults.append(f"{where}{'.' if text.split()[0] in names else ': '}{text}")
        return None


def _rotor(parts: dict[str, Any], faults: list[str]) -> Rotor | None:
    if None in parts.values():
        return None
    try:
        return Rotor(**parts)
    except RotorError as error:
        faults += error.faults
        return None


def _resolve_gap(poles: dict[str, Any], gap: dict[str, Any], faults: list[str]) -> None:
    """Two of face radius, cold gap and stator bore give the third."""
    face, cold, bore = poles.get("face_radius"), gap.get("cold"), gap.get("stator_bore_radius")
    if [face, cold, bore].count(None) > 1:
        faults.append("air_gap: give two of poles.face_radius, air_gap.cold and air_gap.stator_bore_radius")
    elif face is None and bore is not None and cold is not None:
        poles["face_radius"] = bore - cold
    elif cold is None and bore is not None and face is not None:
        if bore > face:
            gap["cold"] = bore - face
        else:
            faults.append(
                f"air_gap.stator_bore_radius is {bore:g} m; it must be larger than poles.face_radius, {face:g} m"
            )


def _resolve_speeds(speeds: dict[str, Any], faults: list[str]) -> None:
    for name in ("overspeed", "runaway"):
        value = speeds.get(name)
        if isinstance(value, tuple):
            factor, base = value
            if base != "rated":
                faults.append(f"speeds.{name} is '{factor:g} x {base}'; it must be a speed or a multiple of rated")
            speeds[name] = value = factor * speeds["rated"]
        if value is not None and value > FASTEST * speeds["rated"]:
            faults.append(
                f"speeds.{name} is {rpm(value, 'g')}, {value / speeds['rated']:.3g} times rated; it must be at most "
                f"{FASTEST:g} times: propeller turbines run away to 3 times rated"
            )
