"""Speed up and down again: friction against the smeared rim and step by step, loose rims in two states."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.keys.complementarity import Friction, rubbing_keys, settle
from rimmodel.behaviour.keys.history import key_friction, key_history
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.run import key_run
from rimmodel.behaviour.keys.tolerance import random_shims
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
WAVES = tuple(ShapeHarmonic(n, 0.03e-3 / n, 0.4 * n) for n in (1, 2, 3, 4))
TOP = float(CASE.rotor.speeds.highest)


def rotor_on(count=14, guides=3e10, waves=()):
    fit = replace(
        CASE.rotor.fit, key_count=count, key_width=0.2, key_interference=None, tangential_clearance=None,
        guide_stiffness=guides,
    )  # fmt: skip
    return replace(CASE.rotor, fit=fit, rim=replace(CASE.rotor.rim, shape=waves))


@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("guides", [0.0, 3e9])
def test_without_friction_the_run_up_is_the_path_of_a_run(condition, guides):
    shims = random_shims(np.full(14, 1.6e-3), 0.4e-3, 1, 3)[0]
    rotor = rotor_on(guides=guides, waves=WAVES)
    up = key_history(rotor, condition, friction_interference=0.0, key_interference=shims).branches[0]
    run = key_run(rotor, condition, [TOP], key_interference=shims)
    events = [event for event in run.events if event.speed <= TOP]
    assert [(event.key, event.kind) for event in up.events] == [(event.key, event.kind) for event in events]
    assert [event.speed for event in up.events] == pytest.approx([event.speed for event in events], rel=1e-9)


def test_the_run_down_of_a_stable_rim_takes_up_its_keys_where_the_run_up_left_them():
    shims = random_shims(np.full(14, 1.6e-3), 0.4e-3, 1, 3)[0]
    up, down = key_history(rotor_on(), COLD, friction_interference=0.0, key_interference=shims).branches
    assert [event.key for event in down.events] == [event.key for event in up.events][::-1]
    assert {event.kind for event in down.events} == {"re-seating"}
    assert [event.speed for event in down.events] == pytest.approx([event.speed for event in up.events][::-1], rel=1e-9)
    assert down.all_seated == pytest.approx(up.first("lift-off"), rel=1e-9)


@pytest.mark.independent
@pytest.mark.parametrize("lost", [1e-5, 5e-5])
def test_even_keys_with_friction_lift_off_and_seat_where_the_smeared_rim_does(lost):
    rotor = rotor_on().with_interference(1.4e-3)
    smeared = replace(rotor, fit=replace(rotor.fit, friction_interference=lost))
    up, down = key_history(rotor, COLD, friction_interference=lost).branches
    for branch, direction, kind in ((up, "up", "lift-off"), (down, "down", "re-seating")):
        expected = float(rm.float_speed(smeared, COLD, direction).speed)
        speeds = [event.speed for event in branch.events if event.kind == kind]
        assert len(speeds) == 14
        assert speeds == pytest.approx([expected] * 14, rel=1e-9)


@pytest.mark.derived
def test_a_rim_drops_back_only_when_friction_has_turned_round():
    # from f one way to f the other the keys unload 2 delta_f of growth: x falls by 2 delta_f/(c_r - c_s)
    lost = 3e-5
    rotor = rotor_on().with_interference(1.4e-3)
    down = key_history(rotor, COLD, friction_interference=lost).branches[1]
    growth = float(coefficients(rotor, COLD).net_growth)
    assert down.first("slips") == pytest.approx(np.sqrt(TOP**2 - 2 * lost / growth), rel=1e-9)


def step_by_step(keyed, rub, squares):
    """States with friction in small steps of speed: each key by itself in turn until none changes (Gauss-Seidel)."""
    force, stood = np.zeros(keyed.key_angle.size), np.zeros(keyed.key_angle.size)
    found = []
    for x in squares:
        at = keyed.loads.at(x)
        whole = at.compliance + (at.shape / at.stiffness) @ at.shape.T
        wanted = at.interference - at.shape @ (at.force / at.stiffness)
        before = stood.copy()
        for _ in range(3000):
            most = 0.0
            for key in range(force.size):
                # clearance if this key alone changes: c = rest + own q, on the steps of the law
                own = whole[key, key]
                rest = whole[key] @ force - own * force[key] - wanted[key]
                q = -rub
                if rest + own * q < before[key]:  # it does not move out
                    q = (before[key] - rest) / own
                    if before[key] > 0.0 and q > rub:
                        q = max(rub, -rest / own)
                most = max(most, abs(q - force[key]))
                force[key] = q
            if most <= 1e-10 * rub:
                break
        stood = np.maximum(whole @ force - wanted, 0.0)
        stood[stood < 1e-12] = 0.0
        found.append((force.copy(), stood.copy()))
    return found


@pytest.mark.independent
def test_friction_key_by_key_is_that_of_many_small_steps():
    lost, count = 4e-5, 8
    shims = np.array([1.05, 1.2, 0.9, 1.1, 1.0, 1.3, 0.95, 1.15]) * 1e-3
    rotor = rotor_on(count)
    keyed = keyed_rotor(rotor, COLD, shims)
    rub = key_friction(keyed, lost)
    history = key_history(rotor, COLD, [0.0, 18.0, 12.0, 17.0], lost, key_interference=shims)
    marks = [0.0, 18.0**2, 12.0**2, 17.0**2]
    squares = np.concatenate([np.linspace(a, b, 240)[1:] for a, b in pairwise(marks)])
    states = step_by_step(keyed, rub, squares)
    for number, branch in enumerate(history.branches):
        own = slice(239 * number, 239 * (number + 1))
        step = abs(marks[number + 1] - marks[number]) / 239
        for x, (_, stood) in zip(squares[own], states[own], strict=True):
            span = np.sort(branch.span, axis=1)
            inside = np.flatnonzero((span[:, 0] + 1.5 * step <= x) & (x <= span[:, 1] - 1.5 * step))
            if inside.size:  # not next to an event, where steps are coarse
                assert (stood == 0.0).tolist() == branch.on_key[inside[0]].tolist()
    kinds = [{event.kind for event in branch.events} for branch in history.branches]
    assert "lift-off" in kinds[0]
    assert {"slips", "re-seating"} <= kinds[1]


@pytest.mark.independent
@pytest.mark.parametrize(("count", "mean", "number"), [(8, 0.3e-3, 0), (14, 0.3e-3, 3), (14, 2.1e-3, 3)])
def test_a_loose_rim_rests_in_two_states_at_one_speed(count, mean, number):
    """Both are balances that come to rest where they are when let go: found from the ends, not along the path."""
    shims = random_shims(np.full(count, mean), 0.5e-3, 4, seed=count)[number]
    rotor = rotor_on(count, 0.0, WAVES)
    history = key_history(rotor, HOT, friction_interference=0.0, key_interference=shims)
    up, down = history.branches
    assert up.lost
    assert down.lost
    (low, high) = history.two_states()[0]
    assert low == pytest.approx(min(down.lost), rel=1e-6)
    assert high == pytest.approx(max(up.lost), rel=1e-6)
    at = keyed_rotor(rotor, HOT, shims).loads.at((0.5 * (low + high)) ** 2)
    rests = []
    for branch in (up, down):
        span = np.sort(branch.span, axis=1)
        inside = np.flatnonzero((span[:, 0] <= (0.5 * (low + high)) ** 2) & ((0.5 * (low + high)) ** 2 <= span[:, 1]))
        seated = branch.on_key[inside[0]]
        held = at.shape[seated]
        spring = np.diag(at.stiffness) + held.T @ np.linalg.solve(at.compliance[np.ix_(seated, seated)], held)
        assert np.linalg.eigvalsh(spring)[0] > 0.0
        push = np.linalg.solve(at.compliance[np.ix_(seated, seated)], at.interference[seated])
        mode = np.linalg.solve(spring, held.T @ push + at.force)
        rest = settle(at, mode, seated)
        assert rest.seated.tolist() == seated.tolist()
        rests.append(rest.mode)
    assert np.hypot(*(rests[0] - rests[1])[:2]) > 1e-5


@pytest.mark.derived
def test_a_rubbing_key_holds_the_rim_until_friction_is_spent():
    # compliance 1 m/N, friction 0.5 N, the rim stands at 0.2 m: c = q - w
    rub = Friction(np.full(1, 0.5), np.full(1, 0.2))
    for wanted, force, clearance in ((-0.4, -0.2, 0.2), (-0.9, -0.5, 0.4), (0.4, 0.5, 0.1), (0.9, 0.9, 0.0)):
        held, q, c = rubbing_keys(np.eye(1), rub, np.array([wanted]), np.array([True]))
        assert (q[0], c[0]) == (pytest.approx(force), pytest.approx(clearance))
        assert held[0] == (clearance in (0.2, 0.0))


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 2**32),
    mean=st.floats(0.2e-3, 2.4e-3),
    lost=st.sampled_from([0.0, 5e-6, 4e-5]),
    hot=st.booleans(),
)
def test_any_course_comes_back_to_standstill_with_its_keys_seated(seed, mean, lost, hot):
    shims = random_shims(np.full(14, mean + 0.8e-3), 0.4e-3, 1, seed)[0]
    rotor, state = rotor_on(guides=3e9, waves=WAVES), HOT if hot else COLD
    history = key_history(rotor, state, friction_interference=lost, key_interference=shims)
    up, down = history.branches
    assert (up.ends, down.ends) == ("", "")
    assert np.all(np.diff([event.speed for event in up.events]) >= -1e-9)
    assert np.all(np.diff([event.speed for event in down.events]) <= 1e-9)
    start = key_run(rotor, state, [0.0], key_interference=shims)
    if (start.key_force[0] > 0.0).all():
        assert down.all_seated is not None
        assert down.all_seated <= up.first("lift-off") * (1 + 1e-9) if up.first("lift-off") else True


@pytest.mark.parametrize(
    ("course", "lost", "words"),
    [
        ([5.0], 0.0, "two speeds at least"),
        ([0.0, 5.0, 5.0], 0.0, "unlike the speed before"),
        ([0.0, -1.0], 0.0, r"speed is .*-1"),
        (None, -1e-5, "zero or above"),
        ([0.0, 120.0], 0.0, "120"),
    ],
)
def test_what_cannot_be_followed_is_refused_in_words(course, lost, words):
    with pytest.raises(ValueError, match=words):
        key_history(rotor_on(), COLD, course, lost)
