"""The search for prior weights judges them by the intervals that the fit itself gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rimmodel.evidence.knee import slips
from rimmodel.evidence.knee.fit import fit_knee
from tests.benchmarks.noise_calibration import CROSSED, FAMILIES, POSSIBLE_DRIFT, Family, invented, lines
from tests.benchmarks.noise_weights import Weights, interval, kept, outcome, seek, spoilt_once

NAMED = {family.name: family for family in (*FAMILIES, *CROSSED)}


@pytest.mark.derived
@pytest.mark.parametrize(
    "name", ["white, 12 points", "white, 30 points", "correlation 0.0, rounded 0.4, 30 up and down"]
)
def test_an_interval_of_kept_likelihoods_is_that_of_the_fit(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(slips, "SLIPS", 1e-9)  # places of a jump are chosen by the run, and not kept
    family, weights = NAMED[name], Weights.present()
    for number in range(4):
        x, gap, _ = lines(family, invented(family, number, 5))
        whole = fit_knee(x, gap, drift=POSSIBLE_DRIFT, time=np.arange(len(x)), robust=False).interval
        run = kept(family, number, 5)  # the fit leaves out noise of less than a thousandth of the probability
        assert interval(run, weights.of_models(), weights.of_widths(run.count)) == pytest.approx(whole, rel=0.01)


@pytest.mark.derived
def test_other_weights_give_other_intervals_and_a_search_never_ends_worse() -> None:
    families = [Family("white", 24), Family("correlated", 24, correlation=0.8), Family("none", 24, knee=False)]
    runs = {family: [kept(family, number, 6) for number in range(6)] for family in families}
    present = outcome(runs, Weights.present())
    alone = np.where(np.arange(len(Weights.present().correlation)) == 0, 1.0, 1e-12)
    white = replace(Weights.present(), correlation=alone, drifting=Weights.present().drifting * 1e-6)
    assert outcome(runs, white).length < present.length
    found = seek(runs, 0.5, 1)[1]
    assert found.cost <= present.cost


def test_weights_moved_at_random_are_weights_still() -> None:
    random, weights = np.random.default_rng(3), Weights.present()
    for _ in range(40):
        weights = weights.moved(random)
        assert weights.correlation.sum() == pytest.approx(1.0)
        assert weights.width.sum() == pytest.approx(1.0)
        assert weights.width_of_few.sum() == pytest.approx(1.0)
        assert (weights.drifting <= 0.9).all()


def test_families_of_which_the_run_chooses_candidates_are_left_out() -> None:
    assert spoilt_once(NAMED["step 0.1 mm"])
    assert not any(spoilt_once(family) for family in CROSSED)
