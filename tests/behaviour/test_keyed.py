"""The rotor key by key: against the smeared rim, the equations written out in full, and other solvers."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import cholesky, solve_triangular
from scipy.optimize import nnls

import rimmodel as rm
from rimmodel.behaviour.contact.scallop import key_yield
from rimmodel.behaviour.contact.shape import floating_mass, pull_stiffness, spin_stiffness
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.behaviour.keys.complementarity import KeyContact, settle
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.run import key_run, run_of
from rimmodel.elastic import ring_edges
from rimmodel.elastic.key_compliance import key_compliance_matrix
from rimmodel.rotor import DiscSpider, GivenSpider
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
UNEVEN = 1e-3 * np.array([2.10, 2.25, 1.95, 2.05, 2.30, 2.10, 1.90, 2.15, 2.00, 2.20, 2.05, 1.85, 2.25, 2.10])
GUIDES = 3e9


def keyed_case(guides=0.0, clearance=None, **fit):
    own = {"key_width": 0.3, "key_interference": None, "guide_stiffness": guides, "tangential_clearance": clearance}
    return replace(CASE.rotor, fit=replace(CASE.rotor.fit, **{**own, **fit}))


ROTOR, GUIDED = keyed_case(), keyed_case(GUIDES)
SPIDERS = {
    "arms": CASE.rotor.spider,
    "disc": DiscSpider(CASE.rotor.spider.material, 0.6, 0.5),
    "given": GivenSpider(4e10, 0.3e-3, 20.0),
}


@pytest.mark.independent
@pytest.mark.parametrize("guides", [0.0, GUIDES])
@pytest.mark.parametrize("condition", [COLD, HOT])
@pytest.mark.parametrize("spider", SPIDERS)
def test_even_keys_all_lift_at_the_float_speed_of_the_smeared_rim(spider, condition, guides):
    rotor = replace(keyed_case(guides, key_stiffness=3e9), spider=SPIDERS[spider])
    run = key_run(rotor, condition)
    smeared = float(rm.float_speed(rotor, condition).speed)
    first = [event.speed for event in run.events[:14]]
    assert {event.key for event in run.events[:14]} == set(range(1, 15))
    assert {event.kind for event in run.events[:14]} == {"lift-off"}
    assert np.allclose(first, smeared, rtol=1e-9, atol=0.0)
    assert run.event_speeds.first_lift_off == pytest.approx(smeared, rel=1e-9)
    if guides:
        assert run.event_speeds.last_lift_off == pytest.approx(smeared, rel=1e-9)
        assert run.event_speeds.centring_lost is None
    else:
        assert run.event_speeds.centring_lost == pytest.approx(smeared, rel=1e-9)
        assert run.event_speeds.last_lift_off is None


@pytest.mark.derived
def test_even_keys_carry_the_interference_over_rim_at_keys_and_spider():
    # p = i/(C_key + C_s) with the scalloped rim under the pressure that its keys have, N F = 2 pi a L p
    from rimmodel.elastic.key_compliance import scalloped_compliance

    rim = ROTOR.rim
    mean = ring_edges(rim.ring).bore_displacement.pressure
    under = key_yield(ROTOR)
    soft = scalloped_compliance(rim.harmonic_ring, 14, 0.3, mean, under.pressure) + under.support
    soft = soft + spider_response(ROTOR).compliance
    expected = 2.1e-3 / soft * 2 * np.pi * rim.inner_radius * rim.length / 14
    assert key_run(ROTOR, COLD, [0.0]).key_force == pytest.approx(np.full((1, 14), expected), rel=1e-7)


@pytest.mark.derived
@pytest.mark.parametrize("rotor", [ROTOR, GUIDED])
@pytest.mark.parametrize("condition", [COLD, HOT])
def test_states_obey_contact_and_balance_written_out_in_full(rotor, condition):
    """Clearance with the whole compliance matrix at each speed, spin and pull in it; balance; no key pulls."""
    eccentric = np.array([0.02e-3, -0.01e-3])
    keyed = keyed_rotor(rotor, condition, UNEVEN, mass_eccentricity=eccentric)
    speed = np.linspace(0.0, 21.0, 43)
    run = run_of(keyed, follow(keyed.loads), speed)
    model, rim, n = keyed.gap_model, rotor.rim, np.arange(2.0, keyed.harmonic[-1] + 1)
    area = np.pi * rim.inner_radius * rim.length
    stiffest = 1.0 / np.diag(keyed.loads.compliance).max()
    under = key_yield(rotor)
    for row, omega in enumerate(speed):
        x = omega**2
        panel = keyed.loads.at(x)
        closing = keyed.loads.interference[0] - panel.interference[0]
        k_mag = -(panel.stiffness[0] + floating_mass(rotor) * x - rotor.fit.guide_stiffness) / area
        matrix = key_compliance_matrix(
            rim.harmonic_ring, rim.length, run.key_angle, 0.3, model.edges.bore_displacement.pressure,
            spin_stiffness(rotor, n) * x, np.full(n.size, k_mag), under.pressure,
        )  # fmt: skip
        spider = (spider_response(rotor).compliance + under.support) * 14 / (2 * area)
        unit = np.stack([np.cos(run.key_angle), np.sin(run.key_angle)], axis=1)
        force, centre = run.key_force[row], run.centre[row]
        lifted = matrix @ force + spider * force + closing - (float(model.at_rest) + UNEVEN - UNEVEN.mean())
        clearance = lifted + unit @ centre
        assert np.abs(np.minimum(clearance * stiffest, force)).max() <= 1e-9 * 2.1e-3 * stiffest
        assert force.min() >= -1e-9 * 2.1e-3 * stiffest
        drive = (floating_mass(rotor) * x + k_mag * area - rotor.fit.guide_stiffness) * centre
        rest = force @ unit + drive + floating_mass(rotor) * x * eccentric
        assert np.abs(rest).max() <= 1e-10 * 2.1e-3 * stiffest * 14


@pytest.mark.independent
def test_the_pull_in_the_equations_is_that_of_the_gap():
    keyed = keyed_rotor(GUIDED, HOT)
    x = keyed.loads.nodes[7]
    gap = rm.sweep(GUIDED, HOT, np.sqrt(x)).air_gap
    held = keyed.loads.stiffness[7, 0] - GUIDES + floating_mass(GUIDED) * x
    unit_pull = np.pi * GUIDED.rim.inner_radius * GUIDED.rim.length * pull_stiffness(GUIDED, HOT, gap)
    assert -held == pytest.approx(float(unit_pull), rel=1e-6)
    # F = k_m e with k_m = pi r_face L B^2/(2 mu0 g), B at that gap
    flux = 0.95 * 16e-3 / gap
    assert unit_pull == pytest.approx(np.pi * 4.58 * 1.80 * flux**2 / (2 * 4e-7 * np.pi * gap), rel=1e-6)


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, HOT])
def test_forces_agree_with_non_negative_least_squares(condition):
    """With stiff guides the forces minimise F Q F/2 - F w over F >= 0, Q = A + B K^-1 B^T: another algorithm."""
    keyed = keyed_rotor(GUIDED, condition, UNEVEN)
    speed = np.linspace(0.0, 19.8, 25)
    run = run_of(keyed, follow(keyed.loads), speed)
    for row, omega in enumerate(speed):
        at = keyed.loads.at(omega**2)
        if at.stiffness.min() <= 0.0:
            continue
        whole = at.compliance + (at.shape / at.stiffness) @ at.shape.T
        root = cholesky(whole)
        force, _ = nnls(root, solve_triangular(root, at.interference, trans="T"))
        assert run.key_force[row] == pytest.approx(force, abs=1e-7 * run.key_force[0].max())


@pytest.mark.derived
def test_two_springs_on_both_sides_of_a_body():
    # 1 N/m each, pressed by 0.3 and 0.1 m, nothing else holds the body: it moves by 0.1 m, then both press with 0.2 N
    contact = KeyContact(np.eye(2), np.array([[1.0], [-1.0]]), np.array([0.3, 0.1]), np.zeros(1), np.zeros(1))
    rest = settle(contact, np.zeros(1))
    assert rest.mode == pytest.approx([0.1])
    assert rest.key_force == pytest.approx([0.2, 0.2])
    assert rest.clearance == pytest.approx([0.0, 0.0], abs=1e-15)


@pytest.mark.derived
def test_a_shim_pattern_that_a_shift_takes_up_leaves_even_forces():
    # delta + d cos(theta) is an even fit about a centre moved by d; at standstill nothing resists the move
    angle = 2 * np.pi * np.arange(14) / 14
    run = key_run(ROTOR, COLD, [0.0], key_interference=2.1e-3 + 0.2e-3 * np.cos(angle))
    assert run.centre[0] == pytest.approx([0.2e-3, 0.0], abs=1e-15)
    assert run.key_force[0] == pytest.approx(np.full(14, run.key_force[0, 0]), rel=1e-12)


@pytest.mark.derived
@pytest.mark.parametrize("condition", [COLD, HOT])
def test_turning_and_mirroring_the_keys_turns_and_mirrors_everything(condition):
    speed = np.linspace(0.0, 20.0, 21)
    run = key_run(GUIDED, condition, speed, key_interference=UNEVEN)
    turned = key_run(GUIDED, condition, speed, key_interference=np.roll(UNEVEN, 3))
    assert turned.key_force == pytest.approx(np.roll(run.key_force, 3, axis=1), abs=1e-9 * run.key_force.max())
    turn = 3 * 2 * np.pi / 14
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert turned.centre == pytest.approx(run.centre @ rotation, abs=1e-12)
    assert turned.ovality == pytest.approx(run.ovality, abs=1e-12)
    mirror = (-np.arange(14)) % 14
    mirrored = key_run(GUIDED, condition, speed, key_interference=UNEVEN[mirror])
    assert mirrored.key_force == pytest.approx(run.key_force[:, mirror], abs=1e-9 * run.key_force.max())
    assert mirrored.centre == pytest.approx(run.centre * [1.0, -1.0], abs=1e-12)
    for other, key in ((turned, lambda k: (k - 1 + 3) % 14 + 1), (mirrored, lambda k: (1 - k) % 14 + 1)):
        assert [(e.kind, e.key) for e in other.events] == [(e.kind, key(e.key)) for e in run.events]
        assert [e.speed for e in other.events] == pytest.approx([e.speed for e in run.events], rel=1e-10)
    offset = key_run(keyed_case(GUIDES, first_key_angle=0.4), condition, speed, key_interference=UNEVEN)
    assert offset.key_force == pytest.approx(run.key_force, abs=1e-9 * run.key_force.max())


SHIMS = st.lists(st.floats(-0.4e-3, 0.4e-3), min_size=14, max_size=14)


@settings(max_examples=60, deadline=None)
@given(shims=SHIMS, guides=st.sampled_from([0.0, 4e8, GUIDES]), hot=st.booleans())
def test_no_event_is_skipped_and_the_last_key_outlasts_the_mean(shims, guides, hot):
    keyed = keyed_rotor(keyed_case(guides), HOT if hot else COLD, 2.1e-3 + np.array(shims))
    path = follow(keyed.loads)
    x = [event.speed_squared for event in path.events]
    assert x == sorted(x)
    assert all(piece.start < piece.stop or piece.start == piece.stop for piece in path.pieces)
    size = 2.1e-3 / np.diag(keyed.loads.compliance)
    for piece in path.pieces:
        rows = piece.at(np.linspace(piece.start, piece.stop, 60))[:, :14]
        scaled = np.where(piece.seated, rows / size, rows / 2.1e-3)
        assert scaled.min() > -1e-8  # a skipped event would leave a pulling key or a rim inside one
    run = run_of(keyed, path, np.linspace(0.0, 20.0, 7))
    if run.event_speeds.last_lift_off is not None:
        assert run.event_speeds.last_lift_off >= run.event_speeds.mean_float * (1 - 1e-9)
    if run.event_speeds.first_lift_off is not None and run.event_speeds.centring_lost != 0.0:
        assert run.event_speeds.first_lift_off <= run.event_speeds.mean_float * (1 + 1e-9)


@settings(max_examples=15, deadline=None)
@given(shims=SHIMS)
def test_the_path_is_continuous_from_event_to_event(shims):
    keyed = keyed_rotor(GUIDED, COLD, 2.1e-3 + np.array(shims))
    path = follow(keyed.loads)
    assert not path.lost
    for before, after in zip(path.pieces[:-1], path.pieces[1:], strict=True):
        assert before.stop == after.start
        ends = [np.where(p.seated, p.at(np.asarray(after.start))[:14], 0.0) for p in (before, after)]
        assert ends[0] == pytest.approx(ends[1], abs=1e-8 * 6e6)


@pytest.mark.derived
def test_centring_is_lost_where_the_key_stiffness_falls_below_what_throws_the_rim_out():
    """The landmark against the 2x2 matrix e^T (G_SS + 1/k)^-1 e of the keys seated just before, built in full."""
    light = replace(ROTOR, rim=replace(ROTOR.rim, outer_radius=4.3), poles=replace(ROTOR.poles, mass_radius=4.4))
    heavy = replace(light, poles=replace(light.poles, mass=60e3))
    keyed = keyed_rotor(heavy, COLD, UNEVEN)
    path = follow(keyed.loads)
    assert path.lost
    x, harmonic = path.lost[0]
    assert harmonic == 1
    events = [event for event in path.events if event.speed_squared <= x]
    seated = np.ones(14, dtype=bool)
    for event in events:
        seated[event.key] = event.seats

    def least(mask, at):
        rim, n = heavy.rim, np.arange(2.0, keyed.harmonic[-1] + 1)
        matrix = key_compliance_matrix(
            rim.harmonic_ring, rim.length, keyed.key_angle, 0.3, keyed.gap_model.edges.bore_displacement.pressure,
            spin_stiffness(heavy, n) * at,
        )  # fmt: skip
        area = 2 * np.pi * rim.inner_radius * rim.length
        matrix = matrix + np.eye(14) * spider_response(heavy).compliance * 14 / area
        unit = np.stack([np.cos(keyed.key_angle), np.sin(keyed.key_angle)], axis=1)[mask]
        return np.linalg.eigvalsh(unit.T @ np.linalg.solve(matrix[np.ix_(mask, mask)], unit))[0]

    out = floating_mass(heavy) * x
    before = path.pieces[[p.stop for p in path.pieces].index(x)].seated
    assert least(before, x) >= out * (1 - 1e-6)
    after = before.copy()
    for event in events:
        if event.speed_squared == x and not event.seats:
            after[event.key] = False
    assert least(after, x) <= out * (1 + 1e-6)


def test_without_guides_the_rim_leans_on_a_few_keys_up_to_the_tangential_clearance():
    stop = 0.05e-3
    run = key_run(keyed_case(clearance=stop), COLD, [10.0, 25.0])
    free = key_run(ROTOR, COLD, [10.0, 25.0])
    assert np.hypot(*free.centre[1]) > stop
    assert np.hypot(*run.centre[1]) == pytest.approx(stop, rel=1e-12)
    assert run.eccentricity == pytest.approx([0.0, stop], abs=1e-12)
    assert run.clearance[1].min() >= 0.0
    assert any("tangential clearance, 0.05 mm" in note for note in run.notes)
    gap = run.mean_gap[1] - run.minimum_gap[1]
    assert gap >= stop * (1 - 1e-5)  # read at 1440 angles


def test_keys_hold_a_harmonic_that_the_pull_alone_would_run_away_with():
    strong = replace(HOT, flux_density=1.5, excitation="constant voltage")
    n = np.arange(2.0, 9.0)
    gap = float(rm.sweep(ROTOR, strong, 5.0).air_gap)
    with pytest.raises(ValueError, match="harmonic n = 2"):
        key_compliance_matrix(
            ROTOR.rim.harmonic_ring, 1.85, 2 * np.pi * np.arange(14) / 14, 0.3, 1e-10,
            spin_stiffness(ROTOR, n) * 25.0, np.full(7, float(pull_stiffness(ROTOR, strong, gap))),
        )  # fmt: skip
    run = key_run(ROTOR, strong, np.linspace(0.0, 12.0, 5), key_interference=UNEVEN)
    assert np.isfinite(run.key_force).all()
    assert run.key_force.min() >= 0.0
    guided = key_run(keyed_case(2e10), strong)
    assert guided.event_speeds.shape_lost == pytest.approx(guided.event_speeds.mean_float, rel=1e-9)
    assert guided.event_speeds.centring_lost is None
    assert any("exceeds the stiffness of a flexural mode" in note for note in guided.notes)


@pytest.mark.derived
def test_as_built_ovality_of_the_floating_rim_is_magnified_by_pull_and_eased_by_spin():
    from rimmodel.behaviour.contact.shape import free_shape

    wave = ShapeHarmonic(2, 0.1e-3, 0.5)
    oval = replace(keyed_case(GUIDES * 10), rim=replace(ROTOR.rim, shape=(wave,)))
    speed = float(rm.float_speed(oval, HOT).speed) * 1.1
    run = key_run(oval, HOT, [speed])
    expected = free_shape(oval, HOT, [speed]).amplitude[0, 0]
    change = expected - 0.1e-3
    assert run.key_force.max() == 0.0
    # the mode is a little smaller outside than at the bore: its change scales with that, the built shape does not
    keyed = keyed_rotor(oval, HOT)
    assert run.ovality[0] == pytest.approx(0.1e-3 + change * keyed.outer_ratio[1], rel=2e-4)
    assert np.angle(run.outer_harmonics[0, 2]) == pytest.approx(-1.0, abs=1e-9)


def test_loose_at_standstill_is_an_answer():
    run = key_run(keyed_case(GUIDES), COLD, key_interference=UNEVEN - 3e-3)
    assert run.event_speeds.first_lift_off == 0.0
    assert run.event_speeds.last_lift_off == 0.0
    assert not run.key_force.any()
    leaning = key_run(ROTOR, COLD, [5.0], key_interference=UNEVEN - 3e-3)
    assert leaning.event_speeds.centring_lost == 0.0
    assert 0 < np.count_nonzero(leaning.key_force) < 14


def test_one_key_without_shim_is_named():
    shims = UNEVEN.copy()
    shims[4] -= 8e-3
    run = key_run(ROTOR, COLD, [0.0], key_interference=shims)
    assert run.event_speeds.first_lift_off == 0.0
    assert any("loose at standstill: key 5" in note for note in run.notes)
    assert run.key_force[0, 4] == 0.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"key_width": None}, "fit.key_width"),
        ({"key_width": 1.9}, "key_width"),
        ({"key_interference": (2e-3,) * 13}, "13 values"),
        ({"tangential_clearance": 0.0}, "guides without play"),
        ({"interference": np.array([1e-3, 2e-3])}, "arrays"),
    ],
)
def test_what_cannot_be_set_up_is_refused_in_words(change, words):
    with pytest.raises(ValueError, match=words):
        key_run(replace(ROTOR, fit=replace(ROTOR.fit, **change)), COLD)


def test_wrong_arguments_are_refused_in_words():
    with pytest.raises(ValueError, match=r"14 finite values"):
        key_run(ROTOR, COLD, key_interference=UNEVEN[:5])
    with pytest.raises(ValueError, match=r"speed is .*-1"):
        key_run(ROTOR, COLD, [-1.0])
    with pytest.raises(ValueError, match="symmetric, 14 by 14"):
        key_run(ROTOR, COLD, coupling=np.eye(13))


def test_a_coupling_matrix_takes_the_place_of_the_smeared_spider():
    keyed = keyed_rotor(ROTOR, COLD)
    area = 2 * np.pi * ROTOR.rim.inner_radius * ROTOR.rim.length
    same = np.eye(14) * float(spider_response(ROTOR).compliance) * 14 / area
    coupled = keyed_rotor(ROTOR, COLD, coupling=same)
    assert coupled.loads.compliance == pytest.approx(keyed.loads.compliance, rel=1e-12)
