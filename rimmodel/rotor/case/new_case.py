"""A case file to fill in, and beside it the schema by which an editor checks and completes it."""

from __future__ import annotations

import tomllib
from pathlib import Path

from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.rotor.case.format import case_schema
from rimmodel.rotor.case.schema_draft_07 import DIRECTIVE, SCHEMA_FILE, is_schema_file, schema_file_text


def new_case(file: str, version: str, *, over_own: bool) -> tuple[dict[Path, str | bytes], dict[Path, str | bytes]]:
    """Contents of a case file to fill in, and of the schema beside it where it is not there already.

    Parameters
    ----------
    file : str
        Of the case, as it was named.
    version : str
        Of this program, for the schema.
    over_own : bool
        Whether a file that is there is to be overwritten, which one with its own numbers never is.

    Raises
    ------
    ValueError
        The name is that of the schema, the file is a case with its own numbers, or the schema cannot stand there.
    """
    place = Path(file)
    template = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
    if place.name == SCHEMA_FILE:
        raise ValueError(f"{file} is the name of the schema that is written beside a case; name the case otherwise")
    if over_own and _is_filled_in(place, template):
        raise ValueError(
            f"{file} is a case with its own numbers; it is never overwritten, not even with --force: choose another "
            "name, or move the file"
        )
    return {place: f"{DIRECTIVE}\n{template}"}, _schema_to_write(place.parent / SCHEMA_FILE, version)


def _schema_to_write(place: Path, version: str) -> dict[Path, str | bytes]:
    """The schema file with its text, nothing where it is there already; refuses to replace a file of another kind."""
    text = schema_file_text(case_schema(), version)
    if place.is_dir():
        raise ValueError(f"{place} is a directory; the schema of the case is to stand there: choose another folder")
    if place.is_file():
        standing = place.read_text(encoding="utf-8", errors="replace")
        if standing == text:
            return {}
        if not is_schema_file(standing):
            raise ValueError(
                f"{place} is there and was not written by rimmodel; choose another folder, or move it away"
            )
    return {place: text}


def _is_filled_in(place: Path, template: str) -> bool:
    """Whether a file is a case, or the start of one, that somebody has worked on."""
    if not place.is_file():
        return False
    text = place.read_bytes().decode("utf-8-sig", errors="replace")
    if text.removeprefix(f"{DIRECTIVE}\n") == template:
        return False
    try:
        return bool(tomllib.loads(text).keys() & tomllib.loads(template).keys())
    except tomllib.TOMLDecodeError:
        return any(line.strip().startswith(("[rim]", "[fit]", "[poles]", "[conditions.")) for line in text.splitlines())
