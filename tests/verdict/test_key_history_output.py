"""A course of speed key by key as printed: what is arbitrary on keys that are all alike is not given as a speed."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.verdict.output import key_history as output
from rimmodel.verdict.output.keys import run_keys, speed_rows

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SEATS = "first_key_seats_again_rpm"


def on_keys(shims):
    fit = replace(CASE.rotor.fit, key_interference=shims, guide_stiffness=0.0, tangential_clearance=0.4e-3)
    return output.history_of(replace(CASE, rotor=replace(CASE.rotor, fit=fit)), COLD, "0,250,0")


@pytest.mark.derived
def test_keys_that_are_all_alike_have_no_speed_at_which_a_single_one_seats_again():
    """Turned by one key the rotor is the same, so no speed of a single key off centre follows from the mechanics."""
    band = on_keys(None)
    assert band.arbitrary
    up, down = output.table(band)["branches"]
    assert up["landmarks"][SEATS] is None
    assert down["landmarks"][SEATS] is None
    assert down["landmarks"]["rim_goes_to_another_state_rpm"] is None
    assert up["events"] == down["events"] == down["lost_rpm"] == []
    assert output.table(band)["arbitrary"] is True
    words = output.text(band)
    assert " key " not in words.split("- without friction")[0].replace("first key ", "")
    assert words.count("arbitrary: all keys are alike") == 3
    assert "state key_interference" in words
    assert "one state in run-up" not in words
    # what all courses share stands: the rim of even keys floats off all at the float speed of the mean, and seats there
    mean = rm.float_speed(CASE.rotor, COLD).speed / rm.RPM
    assert up["landmarks"]["first_key_lifts_off_rpm"] == pytest.approx([mean, mean], rel=1e-6)
    assert down["landmarks"]["all_keys_seated_from_here_down_rpm"] == pytest.approx([mean, mean], rel=1e-3)


def test_keys_on_shims_of_their_own_have():
    band = on_keys(tuple((2.1e-3 + 0.05e-3 * np.cos(np.arange(14.0) ** 2)).tolist()))
    assert not band.arbitrary
    words = output.text(band)
    assert "all keys are alike" not in words
    for branch in output.table(band)["branches"]:
        assert branch["events"]
        assert 150.0 < branch["landmarks"][SEATS][0] < 250.0


def test_keys_of_one_side_are_never_beside_a_centring_that_is_not_reached():
    run = run_keys(CASE, CASE.conditions["cold"])
    marks = run.event_speeds
    assert marks.one_sided is not None
    assert marks.centring_lost is None
    rows = dict(speed_rows(run))
    assert rows["centring lost"] == "with that: keys of one side do not centre it"
    later, before, never = (
        dict(speed_rows(replace(run, event_speeds=replace(marks, one_sided=side, centring_lost=lost))))["centring lost"]
        for side, lost in ((19.0, 20.0), (21.0, 20.0), (None, None))
    )
    assert (later, before, never) == ("191.0 rpm, off centre before", "191.0 rpm", "not reached")
