"""The JSON Schema of a case file in the older form that language servers for TOML read (draft-07)."""

from __future__ import annotations

import json
from typing import Any

SCHEMA_FILE = "rimmodel.schema.json"
"""Name under which the schema lies beside case files."""

DIRECTIVE = f"#:schema ./{SCHEMA_FILE}"
"""First line of a case file that tells a language server where its schema is."""

WRITTEN_BY = "Written by rimmodel new"
"""Beginning of the comment that marks a schema file as one that may be written anew."""


def draft_07(schema: dict[str, Any]) -> dict[str, Any]:
    """A schema of draft 2020-12, as `case_schema` makes it, in the form of draft-07.

    Parameters
    ----------
    schema : dict
        With definitions under ``$defs``.

    Returns
    -------
    dict
        Accepts and refuses the same files.

    >>> draft_07({"$defs": {"A": {"type": "string"}}, "properties": {"a": {"$ref": "#/$defs/A", "default": ""}}})
    ... # doctest: +ELLIPSIS
    {'$schema': 'http://json-schema.org/draft-07/schema#', 'definitions': {'A': {'type': 'string'}}, 'properties': ...}
    """
    older = {key: value for key, value in _older(schema).items() if key != "$schema"}
    return {"$schema": "http://json-schema.org/draft-07/schema#", **older}


def _older(node: Any) -> Any:
    if isinstance(node, list):
        return [_older(item) for item in node]
    if not isinstance(node, dict):
        return node
    table = {"definitions" if key == "$defs" else key: _older(value) for key, value in node.items()}
    table.pop("discriminator", None)  # of another standard; the constant in each branch does the same
    reference = table.get("$ref")
    if not isinstance(reference, str):
        return table
    table["$ref"] = reference.replace("#/$defs/", "#/definitions/")
    if len(table) == 1:
        return table
    # draft-07 reads nothing that stands beside a reference
    return {"allOf": [{"$ref": table.pop("$ref")}], **table}


def schema_file_text(schema: dict[str, Any], version: str) -> str:
    """What the schema file holds: the schema as draft-07, and by which version it was written.

    Parameters
    ----------
    schema : dict
        Of draft 2020-12.
    version : str
        Of this program.
    """
    older = draft_07(schema)
    marked = {"$schema": older.pop("$schema"), "$comment": f"{WRITTEN_BY}, version {version}", **older}
    return json.dumps(marked, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def is_schema_file(text: str) -> bool:
    """Whether a text is a schema file that this program has written, of whatever version.

    >>> is_schema_file('{"title": "mine"}'), is_schema_file('{"$comment": "Written by rimmodel new, version 1"}')
    (False, True)
    """
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(found, dict) and str(found.get("$comment", "")).startswith(WRITTEN_BY)
