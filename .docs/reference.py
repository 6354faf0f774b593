"""Pages written from the program itself: Python names, commands, and keys of the case file."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from pathlib import Path
from typing import Any

LAYERS = {
    "rotor": "the machine as dataclasses, and the case file",
    "elastic": "rings, discs and harmonics as plain functions of arrays",
    "behaviour": "contact, gap and what happens at which speed",
    "evidence": "recordings, the knee in them, the interference that is left",
    "plotting": "figures from plain arrays",
    "planning": "shrink window, proving run, stop lines",
    "verdict": "claim against prediction against evidence",
}
"""Folders of the package, and what each is about; a folder that is not there is passed over."""


def write_api(place: Path) -> None:
    """Write a page for each layer, each with all its modules, and one with the public names of the package."""
    import rimmodel

    place.mkdir(parents=True)
    root = Path(rimmodel.__file__).parent
    found = [name for name in LAYERS if (root / name).is_dir()]
    for name in found:
        package = importlib.import_module(f"rimmodel.{name}")
        modules = [info.name for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")]
        (place / f"{name}.rst").write_text(_layer(package.__name__, LAYERS[name], modules), encoding="utf-8")
    (place / "units.rst").write_text(_layer("rimmodel.units", "the door between units of print and SI", []), "utf-8")
    public = [name for name in rimmodel.__all__ if callable(getattr(rimmodel, name))]
    lines = [
        *_heading("Python", "="),
        inspect.getdoc(rimmodel) or "",
        "",
        *_heading("Names of ``rimmodel``", "-"),
        *(f"* `{_home(getattr(rimmodel, name))}`: {_first_line(getattr(rimmodel, name))}" for name in public),
        "",
        *_heading("All modules by layer", "-"),
        ".. toctree::",
        "   :maxdepth: 1",
        "",
        *(f"   {name}" for name in [*found, "units"]),
        "",
    ]
    (place / "index.rst").write_text("\n".join(lines), encoding="utf-8")


def _home(thing: Any) -> str:
    return f"{thing.__name__} <{thing.__module__}.{thing.__qualname__}>"


def _first_line(thing: Any) -> str:
    return (inspect.getdoc(thing) or "").partition("\n")[0]


def _heading(text: str, line: str) -> list[str]:
    return [text, line * len(text), ""]


def _layer(package: str, about: str, modules: list[str]) -> str:
    short = package.removeprefix("rimmodel.")
    lines = _heading(f"{short}: {about}", "=")
    lines += [".. automodule:: " + package, "   :members:" if not modules else "   :no-members:", ""]
    for module in modules:
        is_package = hasattr(importlib.import_module(module), "__path__")
        lines += _heading(module.removeprefix("rimmodel."), "-")
        lines += [f".. automodule:: {module}", "   :no-members:" if is_package else "   :members:", ""]
    return "\n".join(lines)


def write_commands(page: Path) -> None:
    """Write every command with its arguments and options, as the program knows them."""
    import typer

    from rimmodel.cli import app

    lines = ["# Commands", "", "Each command without a case runs on the built-in, invented one.", ""]
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        lines += [
            f"## rimmodel {name}",
            "",
            _plain(command.help),
            "",
            "| argument or option | meaning |",
            "| --- | --- |",
        ]
        for parameter in command.params:
            spelled = parameter.metavar or parameter.name.upper()
            if parameter.param_type_name == "option":
                takes = "" if parameter.is_flag else f" {parameter.metavar or 'VALUE'}"
                spelled = f"{', '.join(parameter.opts)}{takes}"
            lines.append(f"| `{spelled}` | {_plain(parameter.help)} |")
        lines.append("")
    page.write_text("\n".join(lines), encoding="utf-8")


def write_case_keys(page: Path) -> None:
    """Write the case to fill in, and a table of every key with its meaning, from the schema."""
    from rimmodel.rotor.case.case import EXAMPLES
    from rimmodel.rotor.case.format import case_schema

    schema = case_schema()
    template = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
    lines = [
        "# Case file",
        "",
        "`rimmodel new unit.toml` writes this case to fill in:",
        "",
        f"```toml\n{template}\n```",
        "",
    ]
    lines += ["## Every key", "", "Keys marked * are needed.", ""]
    for name, table in sorted(schema["$defs"].items()):
        keys = table.get("properties", {})
        if not keys or name == "Claims":
            continue
        lines += [f"### {name}", "", _plain(table.get("description", "")).partition("  ")[0], ""]
        lines += ["| key | example | meaning |", "| --- | --- | --- |"]
        needed = table.get("required", [])
        for key, about in keys.items():
            star = " *" if key in needed else ""
            lines.append(f"| `{key}`{star} | {_example(about)} | {_plain(about.get('description', ''))} |")
        lines.append("")
    page.write_text("\n".join(lines), encoding="utf-8")


def _example(about: dict[str, Any]) -> str:
    branches = [about, *about.get("anyOf", [])]
    for branch in branches:
        if branch.get("examples"):
            return f"`{branch['examples'][0]}`"
        if branch.get("enum"):
            return " or ".join(f"`{word}`" for word in branch["enum"][:3])
    return ""


def _plain(text: str | None) -> str:
    first = (text or "").partition("\n\n")[0]
    return " ".join(first.split()).replace("|", "\\|")
