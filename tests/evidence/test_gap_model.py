"""The gap model of the back-fit against the forward model of the same rotor, to which it must come down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rimmodel as rm
from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.evidence.backfit.gap_model import NO_STATE, PARAMETERS, GapModel, gap_model
from rimmodel.rotor import Condition, DiscSpider, Rotor

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
EXCITED = Condition(flux_density=0.9)
WARM = Condition(rim_temperature=320.0, spider_temperature=312.0, stator_temperature=330.0, flux_density=0.7)
SPEED = np.linspace(0.0, 1.9, 25) * CASE.rotor.speeds.rated
FACTORS = st.floats(-0.3, 0.3)


def made(rotor: Rotor, condition: Condition, way: str = "") -> GapModel:
    return gap_model(rotor, condition, SPEED, np.full(SPEED.shape, way), np.linspace(0.0, 3600.0, len(SPEED)))


def unknowns(**given_: float) -> np.ndarray:
    return np.array([[given_.get(name, 0.0) for name in PARAMETERS]])


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, EXCITED, WARM])
@given(interference=st.floats(-0.5e-3, 3e-3))
def test_at_the_numbers_of_the_case_it_is_the_sweep_of_the_rotor(condition: Condition, interference: float) -> None:
    wanted = sweep(CASE.rotor.with_interference(interference), condition, SPEED).air_gap
    found = made(CASE.rotor, condition).gaps(unknowns(interference=interference))[0]
    np.testing.assert_allclose(found, wanted, rtol=0, atol=1e-12)


@pytest.mark.independent
def test_any_kind_of_spider_enters_by_its_growth_and_stiffness() -> None:
    disc = DiscSpider(CASE.rotor.spider.material, bore_radius=0.8, thickness=1.2)
    rotor = replace(CASE.rotor, spider=disc)
    np.testing.assert_allclose(
        made(rotor, EXCITED).gaps(unknowns(interference=1e-3))[0],
        sweep(rotor.with_interference(1e-3), EXCITED, SPEED).air_gap,
        rtol=0,
        atol=1e-12,
    )


@pytest.mark.independent
def test_keys_that_give_soften_the_spider() -> None:
    rotor = replace(CASE.rotor, fit=replace(CASE.rotor.fit, key_stiffness=2e9))
    found = made(rotor, COLD).gaps(unknowns(interference=1.5e-3))[0]
    np.testing.assert_allclose(found, sweep(rotor.with_interference(1.5e-3), COLD, SPEED).air_gap, rtol=0, atol=1e-12)


@pytest.mark.independent
@given(hoop=FACTORS, spider=FACTORS)
def test_stiffnesses_scale_hoop_modulus_and_spider_stiffness(hoop: float, spider: float) -> None:
    rim = replace(CASE.rotor.rim, hoop_stiffness_factor=CASE.rotor.rim.hoop_stiffness_factor * np.exp(hoop))
    even = replace(CASE.rotor, fit=replace(CASE.rotor.fit, key_width=None))
    base = made(even, EXCITED)
    stiffer = replace(base.rotor.spider, radial_stiffness=base.rotor.spider.radial_stiffness * np.exp(spider))
    wanted = sweep(replace(even, rim=rim, spider=stiffer), EXCITED, SPEED).air_gap
    some = unknowns(interference=CASE.rotor.fit.interference, hoop_stiffness_factor=hoop, spider_stiffness=spider)
    np.testing.assert_allclose(base.gaps(some)[0], wanted, rtol=0, atol=1e-12)


@pytest.mark.derived
def test_offset_lifts_all_gaps_and_drift_grows_with_time() -> None:
    model = made(CASE.rotor, COLD)
    plain = model.gaps(unknowns(interference=1e-3))[0]
    moved = model.gaps(unknowns(interference=1e-3, gap_offset=2e-4, drift=1e-7))[0]
    np.testing.assert_allclose(moved - plain, 2e-4 + 1e-7 * np.linspace(0.0, 3600.0, len(SPEED)), atol=1e-12)


@pytest.mark.derived
def test_drift_counts_from_the_first_point_and_is_nothing_without_times() -> None:
    nowhere = np.full(SPEED.shape, np.nan)
    model = gap_model(CASE.rotor, COLD, SPEED, np.full(SPEED.shape, "up"), nowhere)
    found = model.gaps(unknowns(interference=1e-3, drift=1e-7))
    np.testing.assert_array_equal(found, model.gaps(unknowns(interference=1e-3)))


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, EXCITED])
@pytest.mark.parametrize("way", ["up", "down", ""])
def test_friction_adds_on_the_way_up_and_takes_on_the_way_down(condition: Condition, way: str) -> None:
    rubbing = replace(CASE.rotor.fit, interference=1.2e-3, friction_interference=5e-5)
    wanted = sweep(replace(CASE.rotor, fit=rubbing), condition, SPEED, way or None).air_gap
    found = made(CASE.rotor, condition, way).gaps(unknowns(interference=1.2e-3, friction_interference=5e-5))[0]
    np.testing.assert_allclose(found, wanted, rtol=0, atol=1e-12)


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, EXCITED])
def test_ways_may_be_mixed_point_by_point(condition: Condition) -> None:
    way = np.where(np.arange(len(SPEED)) % 2, "up", "down")
    model = gap_model(CASE.rotor, condition, SPEED, way, np.zeros(len(SPEED)))
    found = model.gaps(unknowns(interference=1.2e-3, friction_interference=5e-5))[0]
    fit = replace(CASE.rotor.fit, interference=1.2e-3, friction_interference=5e-5)
    rubbing = replace(CASE.rotor, fit=fit)
    up, down = (sweep(rubbing, condition, SPEED, name).air_gap for name in ("up", "down"))
    np.testing.assert_allclose(found, np.where(way == "up", up, down), rtol=0, atol=1e-12)


@pytest.mark.independent
@pytest.mark.parametrize("asked", [COLD, EXCITED, WARM])
@given(speed=st.floats(3.0, 22.0), hoop=FACTORS)
def test_a_float_speed_as_first_unknown_is_the_rotor_that_lifts_off_there(
    asked: Condition, speed: float, hoop: float
) -> None:
    model = made(CASE.rotor, COLD)
    some = unknowns(interference=speed, hoop_stiffness_factor=hoop)
    interference = float(model.interference(some, asked)[0])
    if not np.isfinite(interference):
        return
    rotor = model.rotor_of(some).with_interference(interference)
    np.testing.assert_allclose(float_speed(rotor, asked).speed[0, 0], speed, rtol=1e-9)
    plain = some.copy()
    plain[0, 0] = interference
    np.testing.assert_allclose(model.gaps(some, asked), model.gaps(plain), rtol=0, atol=1e-12)


@pytest.mark.independent
def test_the_knee_of_the_run_follows_from_a_float_speed_in_another_condition() -> None:
    model = made(CASE.rotor, COLD)
    some = unknowns(interference=14.0)
    rotor = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, WARM, 14.0)))
    wanted = float_speed(rotor, COLD).speed ** 2
    np.testing.assert_allclose(model.knee(some, WARM, COLD)[0], wanted, rtol=1e-9)
    assert model.knee(some, COLD, COLD)[0] == 14.0**2


@pytest.mark.derived
def test_settlement_has_happened_and_the_interference_is_what_is_left() -> None:
    settled = replace(CASE.rotor, fit=replace(CASE.rotor.fit, settlement=0.3e-3))
    plain = replace(CASE.rotor, fit=replace(CASE.rotor.fit, settlement=0.0))
    some = unknowns(interference=1.0e-3)
    np.testing.assert_array_equal(made(settled, COLD).gaps(some), made(plain, COLD).gaps(some))


@pytest.mark.derived
def test_a_pull_that_closes_the_gap_is_no_state_and_no_nan() -> None:
    strong = Condition(flux_density=6.0)
    found = made(CASE.rotor, strong).gaps(unknowns(interference=1e-3))[0]
    state = sweep(CASE.rotor.with_interference(1e-3), strong, SPEED).air_gap
    assert np.isnan(state).any()  # there is such a speed, or the test says nothing
    np.testing.assert_array_equal(found[np.isnan(state)], NO_STATE)
    np.testing.assert_allclose(found[~np.isnan(state)], state[~np.isnan(state)], rtol=0, atol=1e-12)


@pytest.mark.derived
def test_many_fits_at_once_are_each_alone() -> None:
    model = made(CASE.rotor, EXCITED, "up")
    some = np.array([[1e-3, 0.1, -0.2, 1e-4, 1e-8, 2e-5], [2e-3, -0.1, 0.3, 0.0, 0.0, 0.0]])
    together = model.gaps(some)
    for row, alone in zip(some, together, strict=True):
        np.testing.assert_allclose(model.gaps(row[None])[0], alone, rtol=0, atol=1e-15)
