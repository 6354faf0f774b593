"""The house stays one that people can live in: no circle of imports, few names between the layers, short functions."""

import ast
import re
from collections import defaultdict
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import pytest

import rimmodel

ROOT = Path(rimmodel.__file__).parent
PAGE = Path(__file__).parent.parent / "DEVELOPERS.md"

LAZY_DOORS = {"rimmodel.verdict.result"}
"""Modules whose imports inside functions may close a circle: a review writes itself, `Review.write`."""

MOST_PUBLIC_NAMES = 400
MOST_LINES, MOST_ARGUMENTS = 60, 8

DOORS = {
    "behaviour.keys.keyed_rotor.keyed_rotor": "what a drawing leaves open of the keys, all by keyword",
    "behaviour.study.blocks.study": "how many samples, drawn and run how, all by keyword",
    "elastic.key_compliance.key_shape_amplitudes": "a formula of nine numbers and a pressure",
    "evidence.backfit.fit.back_fit": "what is free, known and asked, all by keyword",
    "evidence.knee.fit.fit_knee": "what is known of noise, slopes and range, all by keyword",
    "evidence.measured.measure.measure_points": "where the points come from beside what `measure` takes, by keyword",
    "evidence.recording.read.read_recording": "what is known of the table and the machine, all by keyword",
    "evidence.reduction.rotor_shape.rotor_shape": "how poles and sensors are counted, all by keyword",
    "evidence.shims.from_shape.shim_map": "what the shims are held to, all by keyword",
    "verdict.tolerance_study.run_study": "as `study`, and where its result goes, all by keyword",
}
"""Public functions of more than eight arguments, and what the arguments are."""


@dataclass
class Module:
    """What one file imports and defines."""

    name: str
    path: Path
    tree: ast.Module
    at_load: set[str] = field(default_factory=set)
    lazily: set[str] = field(default_factory=set)
    imported: list[tuple[str, tuple[str, ...]]] = field(default_factory=list)

    @property
    def layer(self) -> str:
        return self.name.split(".")[1] if "." in self.name else self.name


@cache
def modules() -> dict[str, Module]:
    """Every module of the package by its dotted name."""
    found = {}
    for path in sorted(ROOT.rglob("*.py")):
        name = ".".join(("rimmodel", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        found[name] = Module(name, path, ast.parse(path.read_text(encoding="utf-8")))
    for module in found.values():
        _read_imports(module, found)
    return found


def _read_imports(module: Module, known: dict[str, Module]) -> None:
    at_load, for_types = set(), set()
    for node in module.tree.body:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            for_types |= {id(inner) for inner in ast.walk(node)}
        elif not isinstance(node, ast.FunctionDef | ast.ClassDef):
            at_load |= {id(inner) for inner in ast.walk(node)}
    for node in ast.walk(module.tree):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("rimmodel"):
            continue
        names = tuple(alias.name for alias in node.names)
        module.imported.append((node.module, names))
        targets = {inner if (inner := f"{node.module}.{name}") in known else node.module for name in names}
        if id(node) in at_load:
            module.at_load |= targets
        elif id(node) not in for_types:
            module.lazily |= targets


def circles(edges: dict[str, set[str]]) -> list[list[str]]:
    """Sets of nodes that can all reach each other, smallest that are more than one node."""

    def reached(start: str) -> set[str]:
        seen, left = set(), [start]
        while left:
            for there in edges.get(left.pop(), set()) - seen:
                seen.add(there)
                left.append(there)
        return seen

    reach = {node: reached(node) for node in edges}
    found = {frozenset(there for there in reach[node] if node in reach.get(there, set())) for node in edges}
    return [sorted(circle) for circle in found if circle]


def test_a_circle_is_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"d"}}) in ([["b", "c"], ["d"]], [["d"], ["b", "c"]])
    assert circles({"a": {"b"}, "b": {"c"}, "c": set()}) == []


def test_no_circle_of_imports_when_modules_load():
    assert circles({name: module.at_load for name, module in modules().items()}) == []


def test_no_circle_of_imports_inside_functions_but_through_the_doors():
    every = {name: module.at_load | module.lazily for name, module in modules().items()}
    shut = {name: modules()[name].at_load if name in LAZY_DOORS else found for name, found in every.items()}
    assert circles(shut) == []
    assert circles(every), "no door closes a circle any more: empty LAZY_DOORS"


def aliases() -> set[tuple[str, str]]:
    """Module and name of every type alias that is no more than a shape of other types."""
    shapes = re.compile(
        r"(NDArray|Callable|Literal|tuple|dict|list|Mapping|Sequence|Iterable|Iterator|float|int|str)\b"
    )
    return {
        (module.name, node.targets[0].id)
        for module in modules().values()
        for node in module.tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and node.targets[0].id[0].isupper()
        and not node.targets[0].id.isupper()
        and shapes.match(ast.unparse(node.value))
    }


def test_no_module_is_imported_for_its_type_aliases_alone():
    known = aliases()
    assert ("rimmodel.arrays", "Floats") in known
    alone = [
        f"{module.name} imports {', '.join(names)} from {source}"
        for module in modules().values()
        for source, names in module.imported
        if source != "rimmodel.arrays" and all((source, name) in known for name in names)
    ]
    assert alone == []


def public_names() -> dict[str, set[str]]:
    """Functions, classes and constants of each layer that another layer uses, by import or as `module.name`.

    Equal names of a layer count once: `table` and `text` of each module that makes output are one scheme to learn.
    """
    shown = defaultdict(set)
    for module in modules().values():
        for source, name in (*_imported_names(module), *_names_of_modules(module)):
            layer = source.split(".")[1] if "." in source else source
            if layer != module.layer and f"{source}.{name}" not in modules() and not name.startswith("_"):
                shown[layer].add(name)
    return shown


def _imported_names(module: Module) -> list[tuple[str, str]]:
    return [(source, name) for source, names in module.imported for name in names]


def _names_of_modules(module: Module) -> list[tuple[str, str]]:
    """Module and name of everything written `module.name`, of modules of the package that are imported whole."""
    whole = defaultdict(set)  # functions of one file may call several modules by one name
    for node in ast.walk(module.tree):
        if isinstance(node, ast.ImportFrom):
            for alias in node.names:
                if f"{node.module}.{alias.name}" in modules():
                    whole[alias.asname or alias.name].add(f"{node.module}.{alias.name}")
    return [
        (source, node.attr)
        for node in ast.walk(module.tree)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
        for source in whole.get(node.value.id, ())
    ]


def test_names_of_whole_modules_are_counted():
    used = _names_of_modules(modules()["rimmodel.verdict.output.key_history"])
    assert ("rimmodel.behaviour.keys.history", "key_history") in used


def test_the_layers_show_each_other_few_names():
    shown = public_names()
    count = sum(map(len, shown.values()))
    print(f"{count} public names:", {layer: len(names) for layer, names in sorted(shown.items())})
    assert 100 < count <= MOST_PUBLIC_NAMES


def test_no_underscored_name_is_used_by_another_layer():
    found = [
        f"{module.name}: {source}.{name}"
        for module in modules().values()
        for source, names in module.imported
        for name in names
        if name.startswith("_") and source.split(".")[1:2] != [module.layer]
    ]
    assert found == []


@dataclass(frozen=True)
class Size:
    name: str
    lines: int
    """Of code and comments, the docstring apart."""
    arguments: int


@cache
def sizes() -> tuple[Size, ...]:
    """Every function and method of the package."""
    found = []
    for module in modules().values():
        for node in ast.walk(module.tree):
            if isinstance(node, ast.FunctionDef):
                first = node.body[0]
                told = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
                doc = first.end_lineno - first.lineno + 1 if told else 0
                given = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
                arguments = [some for some in given if some.arg not in ("self", "cls")]
                name = f"{module.name}.{node.name}".removeprefix("rimmodel.")
                found.append(Size(name, node.end_lineno - node.lineno + 1 - doc, len(arguments)))
    return tuple(found)


def test_no_function_is_longer_than_a_page():
    assert [f"{size.name}: {size.lines} lines" for size in sizes() if size.lines > MOST_LINES] == []


def test_no_function_takes_more_than_eight_arguments_but_public_doors():
    many = {size.name: size.arguments for size in sizes() if size.arguments > MOST_ARGUMENTS}
    commands = {name for name in many if name.startswith("cli.")}  # options of a command
    assert many.keys() - commands - DOORS.keys() == set()
    assert DOORS.keys() - many.keys() == set(), "doors that need no exception any more"
    assert not any(name.rpartition(".")[2].startswith("_") for name in DOORS)


def homes() -> list[tuple[str, str, str]]:
    """Rows of the table of homes in the developers' page: what is looked for, its file, the name defined there."""
    text = PAGE.read_text(encoding="utf-8").partition("## Where to find")[2].partition("\n## ")[0]
    return re.findall(r"^\| ([^|]+?) \| `([\w/.]+)` \| `(\w+)` \|$", text, re.MULTILINE)


def test_the_page_names_the_home_of_what_a_newcomer_looks_for():
    assert len(homes()) >= 15


@pytest.mark.parametrize(("what", "file", "name"), homes())
def test_what_the_page_names_stands_there(what, file, name):
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    defined = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.ClassDef)}
    defined |= {inner.id for node in tree.body if isinstance(node, ast.Assign) for inner in ast.walk(node.targets[0])
                if isinstance(inner, ast.Name)}  # fmt: skip
    assert name in defined, f"{what}: {name} is not in {file}"
