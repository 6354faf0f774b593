"""A case reviewed: the result that the page, the text, the JSON and the figures are written from."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.behaviour import CharacteristicSpeed, Sweep
from rimmodel.behaviour.keys.run import KeyRun
from rimmodel.behaviour.limits.check import Check
from rimmodel.behaviour.quantities import print_unit
from rimmodel.evidence.measured.compare import Comparison
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.pooling.runs import PooledRuns
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.planning.shrink_window import ShrinkWindow
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.tabular import Tabular
from rimmodel.verdict.drivers import Driver
from rimmodel.verdict.histories import Histories
from rimmodel.verdict.judge import CLAIM_CONFIDENCE, Finding
from rimmodel.verdict.shims import ShimAdvice
from rimmodel.verdict.single_poles import plane_gaps


@dataclass(frozen=True)
class Prediction:
    """What the model says of one condition, with the drawing's interference."""

    name: str
    condition: Condition
    float_speed: CharacteristicSpeed
    event_speeds: dict[str, CharacteristicSpeed]
    at: dict[str, Sweep]
    curve: Sweep
    as_measured: AsMeasured | None


@dataclass(frozen=True)
class AsMeasured:
    """The same condition with the rotor as it is now: see `present.present_case`."""

    float_speed: CharacteristicSpeed
    at: dict[str, Sweep]
    curve: Sweep


@dataclass(frozen=True)
class Review(Tabular):
    """A case reviewed: everything that the page, the tables and the JSON are written from.

    As a table it is the claims and requirements with their verdicts, each in the unit of its row.
    """

    case: Case
    predictions: dict[str, Prediction]
    measurements: tuple[Measurement, ...]
    comparisons: tuple[Comparison, ...]
    shapes: tuple[dict[str, RotorShape], ...]
    """For each measurement, rotor shape by sensor plane; empty where single poles were not recorded."""
    records: tuple[CaseRecord, ...]
    """Of the measurements, in their order."""
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]
    """Against limits, each in its worst condition."""
    basis: str
    """On what checks, drivers, plan, load rejection and keys rest: see `present.present_case`."""
    drivers_in: str
    drivers: tuple[Driver, ...]
    window: ShrinkWindow
    shims: ShimAdvice
    """What to fit; the only place that says so."""
    keys: KeyRun | None
    """Key by key, in the condition of the drivers; None where the case does not describe its keys."""
    headline: str
    input_digest: str
    inputs: tuple[Path, ...] = ()
    """Files that the review was made from."""
    histories: Histories = field(default_factory=lambda: Histories({}, {}, ()))
    """Requirements over whole histories, with the histories that ask for something."""
    pooled: PooledRuns | None = None
    """The runs together; beside the findings, which rest on one run each. None with fewer than two."""

    def __repr__(self) -> str:
        verdicts = Counter(row.verdict for row in self.findings)
        counted = (
            ", ".join(f"{count} {verdict}" for verdict, count in verdicts.items()) or "nothing claimed or required"
        )
        return f"Review({self.case.title!r}: {counted}; {len(self.measurements)} recordings)"

    def columns(self) -> dict[str, Any]:
        """Claims and requirements with their verdicts, each in the unit of its row."""
        from rimmodel.verdict.output.tables import finding_table

        rows = [finding_table(row) for row in self.findings]
        columns: dict[str, Any] = {
            name: [row[name] for row in rows] for name in ("name", "quantity", "condition", "verdict")
        }
        columns["unit"] = [print_unit(row.quantity).name for row in self.findings]
        for name in ("stated", "predicted", "measured"):
            columns[f"{name}_in_unit"] = np.array([row[name] for row in rows], dtype=float)
        return columns

    @cached_property
    def least_gaps(self) -> tuple[dict[str, PlaneGap], ...]:
        """For each measurement, the planes of `shapes` with bore, centre and least gap, found when asked for."""
        pairs = zip(self.records, self.shapes, strict=True)
        return tuple(plane_gaps(self.case, record, shape, CLAIM_CONFIDENCE) for record, shape in pairs)

    @property
    def requirements_hold(self) -> bool:
        """Whether every requirement holds, those over whole histories too; what is not shown does not."""
        required = all(row.verdict == "holds" for row in self.findings if row.role == "requirement")
        return required and all(row.verdict == "holds" for row in self.histories.findings)

    def write(self, directory: str | Path, *, overwrite: bool = False) -> list[Path]:
        """Write review.html, review.json, sweep.csv and figures/*.svg; see `output.page.write_review`."""
        from rimmodel.verdict.output import page

        return page.write(self, Path(directory), overwrite=overwrite)
