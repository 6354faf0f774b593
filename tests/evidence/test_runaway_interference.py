"""Where a run is one straight line, any interference beyond the run fits as well: the best fit stays one of a rim."""

from __future__ import annotations

import numpy as np
import pytest

from rimmodel.behaviour import float_speed, sweep
from rimmodel.evidence.backfit import fitter as fitting
from rimmodel.evidence.backfit.fitter import MOST_INTERFERENCE, Fitter, Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.evidence.backfit.least_squares import BatchFit
from rimmodel.rotor.case.case import example_case

CASE = example_case()
COLD = CASE.conditions["cold"]


@pytest.mark.derived
@pytest.mark.parametrize("away", [4.27, -4.27])
def test_least_squares_that_run_away_leave_an_interference_that_a_rotor_takes(
    monkeypatch: pytest.MonkeyPatch, away: float
) -> None:
    speed = np.linspace(2.0, 10.0, 12)  # rad/s, far below lift-off: one line
    gap = np.asarray(sweep(CASE.rotor, COLD, speed).air_gap)
    model = gap_model(CASE.rotor, COLD, speed, np.full(12, ""), np.full(12, np.nan), {})
    fitter = Fitter(model, gap, 1e-5, Freedom(), COLD)
    found = np.zeros((1, len(PARAMETERS)))
    found[0, 0] = away
    monkeypatch.setattr(fitting, "fit_batch", lambda *_, **__: BatchFit(found, np.ones(1), np.ones(1, dtype=bool)))
    best = fitter.best().parameters[0, 0]
    assert best == np.sign(away) * MOST_INTERFERENCE
    lift = float_speed(CASE.rotor.with_interference(float(best)), COLD).speed
    # one line below lift-off, or one of a rim that floats: as before
    assert float(np.asarray(lift).item()) > speed[-1] if away > 0 else float(np.asarray(lift).item()) == 0.0
