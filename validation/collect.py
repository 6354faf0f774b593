"""Find the files that hold checks, and read theirs."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

from validation.check import Check, Group, Provenance

RUNNER = {"__main__", "calculix_decks", "check", "collect", "compound", "figure", "front_page", "report", "shooting"}
SLOW_ENDING = "_finite_elements"
"""Files of this ending compute while they list their checks, which takes seconds."""


class LibraryMissingError(Exception):
    """A file of checks that needs a library or a program which is not installed here."""


def group_names(wanted: Iterable[str] = ()) -> list[str]:
    """Names of the files with checks, sorted; only those that contain one of the wanted texts, if any are given."""
    texts = list(wanted)
    names = (module.name for module in pkgutil.iter_modules([str(Path(__file__).parent)]))
    return sorted(n for n in names if n not in RUNNER and (not texts or any(text in n for text in texts)))


def title(name: str) -> str:
    """First line of a file's docstring: the heading of its group."""
    return (importlib.import_module(f"validation.{name}").__doc__ or name).strip().splitlines()[0].rstrip(".")


def checks_of(name: str) -> tuple[Check, ...]:
    """Return the checks of one file, each in its group; raises `LibraryMissingError` when what it needs is missing."""
    try:
        module = importlib.import_module(f"validation.{name}")
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] in ("", "rimmodel", "validation"):
            raise
        raise LibraryMissingError(f"{name}: left out, because {error.name} is not installed") from error
    rows = (
        row if isinstance(row, Check) else _from_row(row, f"{name}-{number}")
        for number, row in enumerate(module.checks(), start=1)
    )
    return tuple(replace(check, group=_group(name, module, check.provenance)) for check in rows)


def _group(name: str, module: ModuleType, provenance: Provenance) -> Group:
    """Take the group that the file names; else finite elements by its name, and what is not printed is computed."""
    if name.endswith(SLOW_ENDING):
        return Group.FINITE_ELEMENTS
    computed = provenance in (Provenance.INDEPENDENT_METHOD, Provenance.DERIVED)
    group: Group = getattr(module, "GROUP", Group.LIBRARIES if computed else Group.BOOKS)
    return group


def _from_row(row: Any, identity: str) -> Check:
    """Take the plain row of a numerical comparison: what, source, ours, other, its difference and tolerance."""
    fields: Mapping[str, Any] = vars(row)
    ours, other, relative = float(fields["ours"]), float(fields["other"]), float(fields["relative_difference"])
    # such a row may be relative to a largest value rather than to its own number
    scale = abs((ours - other) / relative) if relative else abs(other) or 1.0
    return Check(
        id=identity.replace(SLOW_ENDING, ""),
        what=fields["what"],
        source=fields["source"],
        printed=other,
        unit=fields.get("unit", "SI"),
        ours=lambda: ours,
        provenance=Provenance.INDEPENDENT_METHOD,
        tolerance=float(fields["tolerance"]),
        reason=fields["reason"],
        scale=scale,
        note=fields.get("note", ""),
    )
