"""Float speed, shrink fit and air gap of hydro-generator rotor rims.

>>> import rimmodel as rm
>>> case = rm.example_case()
>>> rm.float_speed(case.rotor, case.conditions["cold"]).note
'lifts off at 186.2 rpm, 1.490 x rated'

From a recording to what it shows, step by step or at once:

>>> recording = rm.read_recording(case.path.parent / case.records[0].file)
>>> points = rm.speed_points(recording)
>>> rm.find_knee(points).verdict
'resolved'
>>> fit = rm.back_fit(case.rotor, case.conditions["cold"], points)
>>> found = rm.measure(case.rotor, case.conditions["cold"], recording)
>>> bool(found.interference_interval[0] < fit.interference < found.interference_interval[1])
True

Numbers are SI, speeds in rad/s: ``125 * rm.RPM``. Results that are tables have ``to_frame()`` and ``plot()``.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from rimmodel.behaviour import (
    first_yield,
    float_speed,
    gap_closes,
    interference_for_float_speed,
    speed_at_gap,
    sweep,
)
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case, CaseError, example_case, read_case
from rimmodel.tabular import Tabular
from rimmodel.units import RPM
from rimmodel.verdict import review
from rimmodel.version import VERSION

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rimmodel.evidence.backfit.fit import back_fit
    from rimmodel.evidence.knee.of_points import find_knee
    from rimmodel.evidence.measured.measure import measure
    from rimmodel.evidence.recording.delimited import RecordingError
    from rimmodel.evidence.recording.read import read_recording
    from rimmodel.evidence.reduction.speed_points import speed_points

__version__ = VERSION

__all__ = [
    "RPM",
    "Case",
    "CaseError",
    "Condition",
    "RecordingError",
    "Rotor",
    "__version__",
    "back_fit",
    "example_case",
    "find_knee",
    "first_yield",
    "float_speed",
    "gap_closes",
    "interference_for_float_speed",
    "measure",
    "read_case",
    "read_recording",
    "review",
    "speed_at_gap",
    "speed_points",
    "sweep",
]

_LATER = {
    "RecordingError": "rimmodel.evidence.recording.delimited",
    "back_fit": "rimmodel.evidence.backfit.fit",
    "find_knee": "rimmodel.evidence.knee.of_points",
    "measure": "rimmodel.evidence.measured.measure",
    "read_recording": "rimmodel.evidence.recording.read",
    "speed_points": "rimmodel.evidence.reduction.speed_points",
}
"""Doors whose modules load when they are first used."""


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"module 'rimmodel' has no attribute {name!r}")
    found = getattr(import_module(_LATER[name]), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def _figure(result: Tabular) -> "Figure":
    from rimmodel.verdict.output import plots

    return plots.figure(result)


Tabular.drawn_by[:] = [_figure]
