"""What a study has done, on disk: written whole or not at all, and taken up again by the same study only."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.behaviour.study.blocks import Part
from rimmodel.behaviour.study.case_study import ToleranceStudy
from rimmodel.verdict.output.files import OVERWRITE, RESUME, OutputError, refuse_inputs, write_files
from rimmodel.verdict.output.study import study_json, table


def study_place(out: str | None) -> tuple[Path | None, Path | None]:
    """JSON file and folder of figures for what the user named: a folder has both, a file is the JSON alone."""
    if out is None:
        return None, None
    place = Path(out)
    if place.is_dir() or not (place.suffix or os.path.lexists(place)):
        return place / "study.json", place / "figures"
    return place, None


@dataclass(frozen=True)
class StudyStore:
    """The file of a result and, beside it, that of what is done so far; both are written whole or not at all."""

    path: Path
    fingerprint: str
    overwrite: bool
    inputs: tuple[Path, ...] = ()

    @property
    def partial(self) -> Path:
        """Where what is done stands while the study runs."""
        return self.path.with_name(f"{self.path.name}.partial")

    def load(self, resume: bool) -> Part | None:
        """The partial result when the study is to go on from it; refuses what would be lost.

        Raises OutputError for what exists and is not to be overwritten, ValueError for what is not of this study.
        """
        refuse_inputs((self.path, self.partial), self.inputs)
        if self.partial.exists() and not self.partial.is_file():
            raise OutputError(f"{self.partial} is a directory or a device; the partial result goes there: move it")
        if self.path.exists() and not self.path.is_file():
            raise OutputError(f"{self.path} is a directory or a device; name a file to write to")
        if self.path.exists() and not self.overwrite:
            raise OutputError(f"{self.path} already exists; choose another place, or overwrite it with {OVERWRITE}")
        if not self.partial.exists():
            return None
        state = self._state()
        started = state is not None and bool(state["sums"])
        if not resume:
            if started and not self.overwrite:
                raise OutputError(
                    f"{self.partial} holds the partial result of an interrupted study; resume it with {RESUME}, or "
                    f"discard it with {OVERWRITE}"
                )
            return None
        if state is None:
            raise OutputError(f"{self.partial} is not a partial result of a study; delete it, or leave out {RESUME}")
        if state["fingerprint"] != self.fingerprint:
            raise OutputError(
                f"{self.partial} belongs to another study: case, tolerances, samples, method or seed differ; "
                f"repeat the same study, or start again with {OVERWRITE}"
            )
        return _part(state) if started else None

    def _state(self) -> dict[str, Any] | None:
        try:
            state = json.loads(self.partial.read_text(encoding="utf-8"))["state"]
            return state if {"fingerprint", "counts", "sums", "met", "histogram"} <= state.keys() else None
        except OSError as error:
            raise OutputError(f"{self.partial} cannot be read: {error.strerror}") from error
        except (ValueError, KeyError, TypeError, AttributeError):
            return None

    def save(self, part: Part, result: ToleranceStudy | None = None) -> None:
        """Put what is done on disk, in the place of what was done before; `result` is what it shows so far."""
        arrays = {name: getattr(part, name).tolist() for name in ("counts", "sums", "met", "histogram")}
        content = {
            "what": "partial result of a study: continue with --resume",
            "result": None if result is None else table(result),
            "state": {"fingerprint": self.fingerprint, **arrays},
        }
        # sums of blocks may hold infinite ends, which only this program reads
        write_files({self.partial: json.dumps(content)}, overwrite=True, inputs=self.inputs)

    def finish(self, result: ToleranceStudy) -> Path:
        """Write the result, then drop the partial result."""
        write_files({self.path: study_json(result)}, overwrite=self.overwrite, inputs=self.inputs)
        self.partial.unlink(missing_ok=True)
        return self.path


def _part(state: dict[str, Any]) -> Part:
    counts, met, histogram = (np.array(state[name], np.int64) for name in ("counts", "met", "histogram"))
    return Part(counts, np.array(state["sums"], float), met.reshape(len(counts), -1), histogram)
