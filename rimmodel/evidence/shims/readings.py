"""The interference of each key as it was read, from a table with a row for each reading."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.units import UnitError, conversion, mm

HEADER = "key, interference [mm]"
_BOUNDS = ShrinkFit.__dataclass_fields__["key_interference"].metadata["bounds"]
_LARGEST = 1_000_000
"""Bytes of a file: a sheet of readings is a page of text."""


@dataclass(frozen=True)
class KeyReadings:
    """Readings of the interference of N keys.

    Attributes
    ----------
    interference : array (N,), m
        Mean of the readings of each key.
    each : int
        Readings of each key.
    scatter : float, m
        Standard deviation of one reading about the mean of its key; NaN with one reading of each.
    covariance : array (N, N) or None, m2
        Of their errors, where the readings bring it.
    """

    interference: Floats
    each: int
    scatter: float
    source: str
    covariance: Floats | None = None


def read_key_readings(path: str | Path, keys: int) -> KeyReadings:
    """Read a table with the columns ``key`` and ``interference [mm]``: comma, semicolon or tab, ``#`` before remarks.

    Parameters
    ----------
    keys : int
        Number of keys of the rotor, counted from 1 in the direction of rotation.

    Raises
    ------
    RecordingError
        No such file, no such column, a value that cannot be, a key that was not read, or keys that were read more
        often than others.
    """
    rows = _rows(str(path))
    by_key: dict[int, list[float]] = {key: [] for key in range(1, keys + 1)}
    for line, key, value in rows:
        if key not in by_key:
            raise RecordingError(f"{path}, line {line}: key is {key}; the case has keys 1 to {keys}")
        if not _BOUNDS.holds(value):
            raise RecordingError(
                f"{path}, line {line}: interference of key {key} is {mm(value, 'g')}; it must be from "
                f"{mm(_BOUNDS.lowest, 'g')} to {mm(_BOUNDS.highest, 'g')}: {_BOUNDS.slip}"
            )
        by_key[key].append(value)
    refuse_blind([key for key, values in by_key.items() if not values], keys, str(path))
    counts = {key: len(values) for key, values in by_key.items()}
    most = max(counts.values())
    if short := [key for key, count in counts.items() if count < most]:
        raise RecordingError(
            f"{path}: keys are unevenly measured: fewer readings of key {', '.join(map(str, short[:12]))} than the "
            f"{most} of others; read every key the same number of times, or keep one reading of each"
        )
    table = np.array([by_key[key] for key in sorted(by_key)])
    scatter = float(np.sqrt(table.var(axis=1, ddof=1).mean())) if most > 1 else float("nan")
    return KeyReadings(table.mean(axis=1), most, scatter, Path(path).name)


def refuse_blind(blind: list[int], keys: int, source: str) -> None:
    """Refuse a set of readings that leaves keys without any.

    Parameters
    ----------
    blind : list of int
        Keys without a reading.
    source : str
        Of the readings.

    Raises
    ------
    RecordingError
        There are such keys.
    """
    if blind:
        named = f"key {', '.join(map(str, blind[:20]))}{' and more' if len(blind) > 20 else ''}"
        raise RecordingError(
            f"{source}: {keys} keys and readings of {keys - len(blind)}: {named} would be shimmed blind; read "
            f"{'it' if len(blind) == 1 else 'them'} before any shim is cut"
        )


def _rows(path: str) -> list[tuple[int, int, float]]:
    """Line, key and interference (m) of each row."""
    lines = [(number, line) for number, line in enumerate(_lines(path), 1) if line.strip() and line.lstrip()[0] != "#"]
    if len(lines) < 2:
        raise RecordingError(f"{path} has no reading; write the header '{HEADER}' and a row for each key")
    header = lines[0][1]
    separator = next((mark for mark in (";", "\t", ",") if mark in header), ",")
    names = [name.strip().strip('"') for name in header.split(separator)]
    at, scale = _columns(path, names)
    found = []
    for number, line in lines[1:]:
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=separator))]
        if len(cells) != len(names):
            raise RecordingError(f"{path}, line {number}: {len(cells)} values under {len(names)} columns")
        key, value = cells[at[0]], cells[at[1]].replace(",", ".") if separator != "," else cells[at[1]]
        if not re.fullmatch(r"\d{1,4}", key):
            raise RecordingError(f"{path}, line {number}: key is {shown(key)}; it must be a whole number from 1")
        if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", value, re.IGNORECASE):
            raise RecordingError(
                f"{path}, line {number}: interference is {shown(cells[at[1]])}; it must be a number (a decimal comma "
                "needs semicolons or tabs between the columns)"
            )
        found.append((number, int(key), float(value) * scale))
    return found


def _lines(path: str) -> list[str]:
    file = Path(path)
    if not file.is_file():
        raise RecordingError(f"the readings {path}: there is no such file")
    try:
        if file.stat().st_size > _LARGEST:
            raise RecordingError(f"{path} is larger than a megabyte; readings of keys are a page of text")
        return file.read_bytes().decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise RecordingError(f"{path} is not text in UTF-8; save it again as 'CSV UTF-8'") from None
    except OSError as error:
        raise RecordingError(f"{path} cannot be read: {error.strerror}") from None


def _columns(path: str, names: list[str]) -> tuple[tuple[int, int], float]:
    """Places of key and interference, and metres in one unit of the latter."""
    plain = [re.sub(r"\s*[\[(].*", "", name).lower() for name in names]
    for wanted in ("key", "interference"):
        if plain.count(wanted) != 1:
            fault = "is missing" if wanted not in plain else "stands there twice"
            raise RecordingError(f"{path}: column {wanted} {fault}; write the header '{HEADER}'")
    at = plain.index("key"), plain.index("interference")
    unit = re.search(r"[\[(](.*)[\])]", names[at[1]])
    if unit is None:
        raise RecordingError(f"{path}: column {shown(names[at[1]])} has no unit; write 'interference [mm]'")
    try:
        scale, _ = conversion(unit[1].strip(), "small length")
    except UnitError as error:
        raise RecordingError(f"{path}: column {shown(names[at[1]])}: {error}") from error
    return at, scale
