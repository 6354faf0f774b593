"""What a docstring of a public function or class must say of its numbers, and what is wrong with one that does not.

What is read is the source text, so nothing need be imported and a line after a field counts as its docstring.

A parameter whose annotation says all has no line: one that only repeats the annotation is a fault.

A number is whatever is annotated with a float, an array of floats or a container of these. An entry for it reads
``name : float, m``, ``name : float or array, m`` (any shape, broadcasts), ``name : array (point, pole), m`` or
``name : array, m`` (the shape that the inputs broadcast to); a number without dimension has the unit ``-``, one whose
unit depends on the quantity asked for has ``SI``, one of a method that knows no physics has ``unit of ...``.
A function without numbers (texts, figures, objects that document themselves) needs a sentence and no sections.

Left out: the commands in `cli`, whose parameters typer documents; the tables of the case file (pydantic), which hold
text with units and have a schema; names with an underscore.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import rimmodel
from tests.nomenclature import OTHER_MEANING, PRINT, SAYS_UNIT, SI_UNITS, UNIT_IN_PROSE, UNITS, nomenclature_unit

ROOT = Path(rimmodel.__file__).parent

FLOATS = {"float", "complex", "ArrayLike", "NDArray", "Floats", "Numbers", "Array", "Complex", "Interval"}
NUMBER_WORDS = {"float", "array", "complex"}
ARRAYS = FLOATS - {"float", "complex", "Interval"}
OTHER_ARRAYS = re.compile(r"NDArray\[np\.(bool_|int64|intp|uint64|str_)\]|Callable\[.*\]")

SOURCE = re.compile(r"[Ss]ources?:|[Dd]erived|from memory|[Cc]ommon practice|[Bb]y definition|\b(?:1[89]|20)\d\d\b")


@dataclass(frozen=True)
class Entry:
    """One line ``names : kind, unit`` of a section; kind holds the shape."""

    names: tuple[str, ...]
    kind: str
    unit: str
    explained: bool = False
    """Whether lines below it say more."""

    @property
    def bare(self) -> bool:
        """It names a type and says no more."""
        named = re.fullmatch(r"[\w.]+(?: (?:or|of|to) [\w.]+)*", self.kind) is not None
        return named and not self.unit and not self.explained and not NUMBER_WORDS & set(self.kind.split())


@dataclass(frozen=True)
class Item:
    """A public function or class with the module that holds it."""

    name: str
    node: ast.FunctionDef | ast.ClassDef
    module: ast.Module

    @property
    def doc(self) -> str:
        return ast.get_docstring(self.node) or ""

    @property
    def package(self) -> str:
        return self.name.split(".")[0]


def entries(doc: str, section: str) -> list[Entry] | None:
    """Entries of a section, which ends at its first blank line; None without the section."""
    found = re.search(rf"^{section}\n-+\n(.*?)(?:\n\s*\n|\Z)", doc, re.DOTALL | re.MULTILINE)
    if found is None:
        return None
    lines = found[1].splitlines()
    more = [after.startswith(" ") for after in [*lines[1:], ""]]
    return [_entry(line, said) for line, said in zip(lines, more, strict=True) if not line.startswith(" ")]


def _entry(line: str, explained: bool = False) -> Entry:
    if line.startswith("*"):  # further arguments, handed on
        return Entry((line,), "", "")
    names, colon, spec = line.rpartition(" : ")
    parts = re.split(r", (?![^()]*\))", spec)
    parts = [part for part in parts if part not in ("optional", "or None")]
    known = parts[-1] in UNITS or re.match(r"units? of ", parts[-1]) is not None
    unit = parts.pop() if known and len(parts) > 1 else ""
    return Entry(tuple(names.split(", ")) if colon else (), ", ".join(parts), unit, explained)


def items(text: str, module: str) -> Iterator[Item]:
    """Public functions and classes of the text of a module."""
    tree = ast.parse(text)
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name[0] != "_" and not _is_overload(node):
            yield Item(f"{module}.{node.name}", node, tree)


def _is_overload(node: ast.FunctionDef | ast.ClassDef) -> bool:
    """Whether it is a second signature of a function, whose docstring stands in the last one."""
    return any(ast.unparse(decorator) == "overload" for decorator in node.decorator_list)


@cache
def package_items() -> tuple[Item, ...]:
    """Public functions and classes of the package, commands apart."""
    return tuple(_package_items())


def _package_items() -> Iterator[Item]:
    for path in sorted(ROOT.rglob("*.py")):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        if not module.startswith("cli"):
            yield from items(path.read_text(encoding="utf-8"), module)


def is_number(annotation: ast.expr | None) -> bool:
    return bool(_words(annotation) & FLOATS)


def _words(annotation: ast.expr | None) -> set[str]:
    text = "" if annotation is None else ast.unparse(annotation).strip("'")
    return set(re.findall(r"\w+", OTHER_ARRAYS.sub("", text)))


def faults(item: Item) -> list[str]:
    """What is wrong with the docstring of an item, in words."""
    if not item.doc:
        return ["has no docstring"]
    if isinstance(item.node, ast.ClassDef):
        return list(_class_faults(item, item.node))
    return [*_function_faults(item, item.node), *_raise_faults(item.doc, item.node), *_example_faults(item, item.node)]


def _arguments(node: ast.FunctionDef) -> dict[str, ast.expr | None]:
    given = node.args
    plain = {some.arg: some.annotation for some in (*given.posonlyargs, *given.args, *given.kwonlyargs)}
    starred = {some.arg: None for some in (given.vararg, given.kwarg) if some is not None}
    return {name: kind for name, kind in (plain | starred).items() if name not in ("self", "cls")}


@cache
def _classes() -> frozenset[str]:
    return frozenset(item.node.name for item in package_items() if isinstance(item.node, ast.ClassDef))


def _function_faults(item: Item, node: ast.FunctionDef) -> Iterator[str]:
    yield from _parameter_faults(item, node)
    if is_number(node.returns):
        yield from _return_faults(item, node)
    told = re.search(r"^Returns\n-+\n(.*?)(?:\n\n|\Z)", item.doc, re.DOTALL | re.MULTILINE)
    if told is not None:
        missing = (_words(node.returns) & _classes()) - set(re.findall(r"\w+", told[1]))
        yield from (f"Returns does not name {name}" for name in sorted(missing))


def _parameter_faults(item: Item, node: ast.FunctionDef) -> Iterator[str]:
    arguments = _arguments(node)
    listed = entries(item.doc, "Parameters")
    if listed is not None:
        yield from _section_faults(item, "Parameters", listed, arguments)
    elif any(is_number(kind) for kind in arguments.values()) and not _as_another(item, arguments):
        yield "takes numbers and has no Parameters section"


def _return_faults(item: Item, node: ast.FunctionDef) -> Iterator[str]:
    listed = entries(item.doc, "Returns")
    if listed is None:
        yield "returns numbers and has no Returns section"
        return
    numbers = [entry for entry in listed if NUMBER_WORDS & set(re.findall(r"\w+", entry.kind))]
    if not numbers:
        yield f"Returns says '{listed[0].kind}' of numbers; say what of: float or array"
    for entry in numbers:
        for name in entry.names or (node.name,):
            yield from _unit_faults(item, "Returns", name, entry, node.returns)


def _as_another(item: Item, arguments: dict[str, ast.expr | None]) -> bool:
    """Whether the docstring says ``as in `other` `` and the other one lists every number."""
    other = re.search(r"\bas\s+in\s+`(\w+)`", item.doc)
    numbers = {name for name, kind in arguments.items() if is_number(kind)}
    return other is not None and numbers <= listed_by(other[1])


@cache
def listed_by(name: str) -> frozenset[str]:
    """Names that the Parameters or Attributes of any function, method or class of this name list."""
    docs = [ast.get_docstring(node) or "" for node in _named().get(name, ())]
    found = [entry for doc in docs for part in ("Parameters", "Attributes") for entry in entries(doc, part) or ()]
    return frozenset(name for entry in found for name in entry.names)


@cache
def _named() -> dict[str, list[ast.FunctionDef | ast.ClassDef]]:
    """Every function, method and class of the package by its name."""
    found: dict[str, list[ast.FunctionDef | ast.ClassDef]] = {}
    for module in {item.module for item in package_items()}:
        for node in ast.walk(module):
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                found.setdefault(node.name, []).append(node)
    return found


def _section_faults(item: Item, section: str, listed: list[Entry], wanted: dict[str, ast.expr | None]) -> Iterator[str]:
    names = [name.lstrip("*") for entry in listed for name in entry.names]
    unsaid = {name for name, kind in wanted.items() if is_number(kind)} - set(names)
    if unsaid or names != [name for name in wanted if name in names]:
        yield f"{section} names {', '.join(names) or 'nothing'}; the signature has {', '.join(wanted) or 'nothing'}"
    for entry in listed:
        elsewhere = re.fullmatch(r"as in `(\w+)`", entry.kind)
        if entry.bare and not any(is_number(wanted.get(name)) for name in entry.names):
            yield f"{section}: the line of {', '.join(entry.names)} only repeats the annotation; leave it out"
        for name in entry.names:
            if elsewhere is None:
                yield from _unit_faults(item, section, name, entry, wanted.get(name))
            elif name not in listed_by(elsewhere[1]):
                yield f"{section}: {name} is said to be as in {elsewhere[1]}, which does not list it"


def _unit_faults(item: Item, section: str, name: str, entry: Entry, annotation: ast.expr | None) -> Iterator[str]:
    if not is_number(annotation) or re.match(r"(bool|int|str) array", entry.kind):
        return
    words = set(re.findall(r"\w+", entry.kind))
    if not entry.unit:
        yield f"{section}: {name} has no unit ('{entry.kind}'); write it after a comma, - for none"
    if _words(annotation) & ARRAYS and "array" not in words:
        yield f"{section}: {name} is annotated as an array and described as '{entry.kind}'; say float or array"
    if not words & NUMBER_WORDS:
        yield f"{section}: {name} is described as '{entry.kind}'; say what of: float or array"
    if not _words(annotation) & ARRAYS and "array" in words:
        yield f"{section}: {name} is annotated as a float and described as an array"
    yield from _nomenclature_faults(item, section, name, entry.unit)


def _nomenclature_faults(item: Item, section: str, name: str, unit: str) -> Iterator[str]:
    wanted = nomenclature_unit(name)
    fits = {wanted, "SI"} | (
        {PRINT.get(wanted or "")} if item.package in ("plotting", "planning", "verdict") else set()
    )
    if wanted and unit and unit not in fits and not unit.startswith("unit") and (item.name, name) not in OTHER_MEANING:
        yield f"{section}: {name} has the unit {unit}; the nomenclature has {wanted}"


def _class_faults(item: Item, node: ast.ClassDef) -> Iterator[str]:
    bases = {ast.unparse(base) for base in node.bases}
    if "BaseModel" in bases:
        return
    for method in node.body:
        public = isinstance(method, ast.FunctionDef) and method.name[0] != "_" and not _is_overload(method)
        if public and "Protocol" not in bases:
            yield from (f"{method.name}: {fault}" for fault in _method_faults(item, method))
    fields, own = {}, {}
    for here, after in zip(node.body, [*node.body[1:], None], strict=True):
        if isinstance(here, ast.AnnAssign) and isinstance(here.target, ast.Name) and here.target.id[0] != "_":
            unit = _metadata_unit(here)
            if unit is not None:
                yield from _nomenclature_faults(item, "metadata", here.target.id, unit)
                continue
            fields[here.target.id] = here.annotation
            if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
                own[here.target.id] = str(after.value.value)
    constructor = next((m for m in node.body if isinstance(m, ast.FunctionDef) and m.name == "__init__"), None)
    fields = fields if constructor is None else _arguments(constructor)
    section = "Attributes" if entries(item.doc, "Attributes") is not None else "Parameters"
    listed = entries(item.doc, section)
    rest = {name: kind for name, kind in fields.items() if name not in own}
    if listed is not None:
        yield from _section_faults(item, section, listed, rest)
    elif any(is_number(kind) for kind in rest.values()):
        numbers = [name for name, kind in rest.items() if is_number(kind)]
        yield f"holds numbers and has neither Attributes nor a line after each: {', '.join(numbers)}"
    for name, text in own.items():
        if is_number(fields.get(name)):
            yield from _line_faults(item, name, text)


def _line_faults(item: Item, name: str, text: str) -> Iterator[str]:
    found = UNIT_IN_PROSE.search(text)
    if found is None:
        yield f"the line after the field {name} has no unit; write it after a comma, - for none"
    else:
        yield from _nomenclature_faults(item, "line after the field", name, found[1])


def _metadata_unit(field: ast.AnnAssign) -> str | None:
    """Unit of a field whose kind and meaning stand as metadata, from which check and schema follow; else None."""
    found = None if field.value is None else re.search(r"metadata=(quantity|plain)\((.*)", ast.unparse(field.value))
    if found is None:
        return None
    return "-" if found[1] == "plain" else SI_UNITS[found[2].split("'")[1]]


def _method_faults(item: Item, method: ast.FunctionDef) -> Iterator[str]:
    """Faults of a public method, most of which are a line long: the unit may stand in that line."""
    whole = Item(item.name, method, item.module)
    if item.package == "elastic" or entries(whole.doc, "Parameters") is not None:
        yield from _parameter_faults(whole, method)
    if is_number(method.returns) and not SAYS_UNIT.search(whole.doc):
        yield "returns numbers and names no unit"
    yield from _raise_faults(whole.doc, method)


def _raise_faults(doc: str, node: ast.FunctionDef) -> Iterator[str]:
    told = doc[found.start() :] if (found := re.search(r"\bRaises\b", doc)) else ""
    for error in sorted(_raised(node)):
        if error not in told:
            yield f"raises {error} and does not say so after 'Raises'"


def _raised(node: ast.FunctionDef) -> set[str]:
    """Names of exceptions that the body makes and raises itself; what it only passes on has no class name."""
    inner = [some for some in ast.walk(node) if isinstance(some, ast.FunctionDef) and some is not node]
    hidden = {id(some) for function in inner for some in ast.walk(function)}
    calls = [some.exc for some in ast.walk(node) if isinstance(some, ast.Raise) and id(some) not in hidden]
    names = {ast.unparse(call.func if isinstance(call, ast.Call) else call) for call in calls if call is not None}
    return {name for name in names if name[0].isupper()}


def _example_faults(item: Item, node: ast.FunctionDef) -> Iterator[str]:
    physics = item.package in ("elastic", "behaviour") and is_number(node.returns)
    takes = _arguments(node).values()
    plain = item.package == "evidence" and is_number(node.returns) and all(is_number(kind) for kind in takes)
    if (physics or plain) and ">>>" not in item.doc:
        yield "computes numbers and has no doctest"
    if physics and not SOURCE.search(item.doc + (ast.get_docstring(item.module) or "")):
        yield "computes physics and names no source, neither itself nor at the head of its file"
