"""Two thousand random legal rotors: results are numbers or said to be none, whatever size, units and numbering.

Geometric similarity: lengths times s and speeds over s leave every stress as it was. A unit of mass f times smaller
leaves every length and speed. Turning the numbering of the keys turns every array of the keyed result with it.
"""

from dataclasses import fields, replace

import numpy as np
import pytest

from rimmodel import first_yield, float_speed, gap_closes, sweep
from rimmodel.behaviour.contact.shape import floating_mass, spin_stiffness
from rimmodel.behaviour.keys.run import key_run
from rimmodel.behaviour.limits.spider_stress import spider_peak_stress
from rimmodel.rotor import (
    AirGap,
    ArmSpider,
    Condition,
    DiscSpider,
    GivenSpider,
    Material,
    Poles,
    Rim,
    Rotor,
    ShrinkFit,
    Speeds,
)
from rimmodel.rotor.blocks import map_arrays
from rimmodel.rotor.quantity import varied
from tests.invented_steels import ANY_STEEL, ranges

COUNT = 500
"""Rotors of each kind of spider."""
KINDS = ("disc", "arms", "hubbed", "given")
STRESSES = ("contact_pressure", "rim_bore_hoop_stress", "rim_outer_hoop_stress", "spider_hoop_stress", "magnetic_pull")
LENGTHS = ("residual_interference", "rim_bore_growth", "rim_outer_growth", "air_gap")


def machines(kind, count=COUNT, seed=20):
    """Random rotors with one kind of spider and random conditions, each as arrays (count,)."""
    draw = np.random.default_rng([seed, KINDS.index(kind)])

    def between(low, high):
        return draw.uniform(low, high, count)

    def steel():
        return Material(**ranges(ANY_STEEL, between))

    bore, length = between(0.5, 6.0), between(0.3, 3.0)
    depth = bore * between(0.03, 0.4)
    outside = bore + depth
    face = outside * between(1.05, 1.2)
    rim_steel, poles_count = steel(), draw.integers(4, 90, count).astype(float)
    even_shear = rim_steel.young_modulus / (2 * (1 + rim_steel.poisson_ratio))
    rim = Rim(
        rim_steel, bore, outside, length, between(0.9, 1.0), between(0.6, 1.0), between(0.7, 1.0),
        shear_modulus=even_shear * between(0.1, 1.0), slot_depth=depth * between(0.0, 0.4),
        slot_share=between(0.0, 0.6), slot_flank_angle=between(0.4, np.pi / 2),
    )  # fmt: skip
    own = 0.5 * length * (face**2 - outside**2) * np.pi * 5000.0 / poles_count
    poles = Poles(
        poles_count, own * between(0.3, 1.2), outside + between(0.2, 0.8) * (face - outside), face,
        length * between(0.7, 1.1), between(1e9, 1e11),
    )  # fmt: skip
    if kind == "disc":
        spider = DiscSpider(steel(), bore * between(0.0, 0.8), length * between(0.05, 1.0))
    elif kind == "given":
        spider = GivenSpider(between(1e9, 1e12), bore * between(0.0, 2e-4), between(10.0, 50.0))
    else:
        hub = bore * between(0.2, 0.6)
        about = (hub * between(0.1, 0.7), length * between(0.3, 1.0)) if kind == "hubbed" else (None, None)
        arms = draw.integers(4, 30, count).astype(float)
        spider = ArmSpider(steel(), arms, 0.01 * bore * between(0.5, 2.0), hub, between(0.0, 20.0), *about)
    fit = ShrinkFit(
        bore * between(-1e-5, 8e-4),
        friction_interference=bore * between(0.0, 2e-5),
        settlement=bore * between(0.0, 5e-5),
        key_stiffness=between(1e9, 1e11),
        key_count=draw.integers(4, 60, count).astype(float),
    )
    gap = AirGap(face * between(1e-3, 6e-3), None, None, between(8e-6, 16e-6), between(0.1, 0.6), between(5e10, 2e11))
    rated = between(30.0, 100.0) / outside
    rotor = Rotor(rim, poles, spider, fit, gap, Speeds(rated, 1.5 * rated, 2.0 * rated))
    condition = Condition(
        between(283, 353), between(283, 353), between(283, 393), between(283, 353),
        np.where(draw.random(count) < 0.5, 0.0, between(0.3, 1.1)),
        ("constant current", "constant voltage")[KINDS.index(kind) % 2], between(-15.0, 15.0),
    )  # fmt: skip
    return rotor, condition


def one_of(stored, place):
    return map_arrays(stored, lambda leaf: float(leaf[place]))


def rescaled(rotor, condition, length=1.0, mass=1.0, time=1.0):
    """The same machine in units of length, mass and time that are so many times smaller."""
    powers = {
        "length": (1, 0, 0), "small length": (1, 0, 0), "area": (2, 0, 0), "second moment of area": (4, 0, 0),
        "mass": (0, 1, 0), "density": (-3, 1, 0), "elastic modulus": (-1, 1, -2), "shear modulus": (-1, 1, -2),
        "strength": (-1, 1, -2), "stiffness": (0, 1, -2), "speed": (0, 0, -1), "flux density": (-0.5, 0.5, -1),
    }  # fmt: skip

    def scaled(part):
        changes = {}
        for field in fields(part):
            value, kind = getattr(part, field.name), field.metadata.get("kind")
            if isinstance(value, Material):
                changes[field.name] = scaled(value)
            elif value is not None and kind in powers:
                changes[field.name] = value * np.prod([length, mass, time] ** np.array(powers[kind], dtype=float))
        return varied(part, **changes)  # other units than SI: the checks of plausible sizes do not apply

    parts = {field.name: scaled(getattr(rotor, field.name)) for field in fields(rotor)}
    return varied(rotor, **parts), scaled(condition)


def results(rotor, condition):
    """Everything asked of a rotor, by name: speeds, stresses and lengths, (count,) arrays."""
    found = {"float": float_speed(rotor, condition).speed, "yield": first_yield(rotor, condition).speed}
    found["closes"] = gap_closes(rotor, condition).speed
    states = {}
    for name, speed in {"standstill": 0.0 * rotor.speeds.rated, **rotor.speeds.named}.items():
        states[name] = sweep(rotor, condition, speed)
        states[name, "peak"] = spider_peak_stress(rotor, states[name]).equivalent_stress
    return found, states


@pytest.mark.derived
@pytest.mark.parametrize("kind", KINDS)
def test_every_result_is_a_number_or_said_to_be_none(kind):
    rotor, condition = machines(kind)
    speeds, states = results(rotor, condition)
    shut = speeds["closes"]
    assert not np.isnan(shut).any()
    assert np.all(shut >= 0)
    assert np.all(speeds["float"][~np.isnan(speeds["float"])] >= 0)
    for name, speed in {"standstill": 0.0, **rotor.speeds.named}.items():
        state = states[name]
        lost = np.isnan(state.air_gap)
        for field in fields(state):
            values = getattr(state, field.name)
            if field.name == "speed" or (field.name == "spider_hoop_stress" and kind in ("arms", "given")):
                continue
            assert np.array_equal(np.isnan(values), lost), field.name
            assert np.isfinite(values[~lost]).all(), field.name
        # a state is lost only where the pull has shut the gap, and that speed is known
        assert np.all(shut[lost] <= (speed * np.ones_like(shut))[lost] * (1 + 1e-9))
        assert np.all(state.contact_pressure[~lost] >= 0)
        if kind in ("disc", "hubbed"):
            at_bore = np.abs(state.spider_hoop_stress[~lost])
            assert np.all(states[name, "peak"][~lost] >= at_bore * (1 - 1e-9))
    none = np.isnan(speeds["float"])
    assert np.all(np.isfinite(shut[none]))
    assert 0 < none.sum() < COUNT / 2 or condition.excitation == "constant voltage"
    for place in [*np.flatnonzero(none)[:5], *np.flatnonzero(np.isinf(speeds["float"]))[:5], *range(15)]:
        single = float_speed(one_of(rotor, place), one_of(condition, place))
        assert single.speed == pytest.approx(speeds["float"][place], rel=1e-9, nan_ok=True)
        assert not {"nan", "inf", "-inf"} & set(single.note.replace(",", " ").replace(":", " ").split())


@pytest.mark.derived
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("length", "mass", "time"), [(3.7, 3.7**3, 3.7), (1.0, 2204.6, 1.0), (39.37, 1.0, 1.0), (1.0, 1.0, 60.0)],
    ids=["similar", "pounds per tonne", "inches", "minutes"],
)  # fmt: skip
def test_neither_size_nor_units_matter(kind, length, mass, time):
    """Similar machines: mass as s^3 and time as s leave modulus and density; the rest are units alone."""
    rotor, condition = machines(kind)
    # of the magnetic constant nothing can be scaled: the field follows the pressure
    other, state = rescaled(rotor, condition, length, mass, time)
    ours, states = results(rotor, condition)
    theirs, changed = results(other, state)
    pressure = mass / length / time**2
    for name, speed in ours.items():
        assert theirs[name] * time == pytest.approx(speed, rel=1e-6, nan_ok=True), name
    for name, before in states.items():
        after = changed[name]
        if isinstance(name, tuple):
            assert after / pressure == pytest.approx(before, rel=1e-6, nan_ok=True)
            continue
        size = {"contact_pressure": 1e4, "magnetic_pull": 1.0}
        for stress in STRESSES:
            one, two = getattr(before, stress), getattr(after, stress) / pressure
            assert two == pytest.approx(one, rel=1e-6, abs=size.get(stress, 1e3) * 1e-3, nan_ok=True), stress
        for one in LENGTHS:
            assert getattr(after, one) / length == pytest.approx(getattr(before, one), rel=1e-6, abs=1e-10, nan_ok=True)
    assert floating_mass(other) / mass == pytest.approx(floating_mass(rotor), rel=1e-9)
    assert spin_stiffness(other, 2) * length**2 / mass == pytest.approx(spin_stiffness(rotor, 2), rel=1e-9)


def keyed(number):
    """One rotor with uneven keys, ten of each number of keys."""
    draw = np.random.default_rng([31, number])
    rotor, _ = machines("given", 1, 100 + number)
    rotor, count = one_of(rotor, 0), (8, 10, 12, 16)[number % 4]
    bore = rotor.rim.inner_radius
    keys = bore * 5e-4 * (1 + 0.1 * draw.uniform(-1, 1, count))
    spider = GivenSpider(2e10 * rotor.rim.length, bore * 2e-5, rotor.speeds.rated)
    guides = 2 * floating_mass(rotor) * rotor.speeds.runaway**2 if number % 8 < 4 else 0.0
    fit = ShrinkFit(
        float(keys.mean()), key_count=count, key_width=0.2 * 2 * np.pi * bore / count, guide_stiffness=guides
    )
    return replace(rotor, spider=spider, fit=fit), keys


@pytest.mark.derived
@pytest.mark.parametrize("number", range(40))
def test_turning_the_numbering_turns_every_array_of_the_keyed_result(number):
    rotor, keys = keyed(number)
    count, turn = keys.size, 1 + number % (keys.size - 1)
    speed = np.linspace(0.0, rotor.speeds.overspeed, 7)
    run = key_run(rotor, Condition(), speed, key_interference=keys)
    turned = key_run(rotor, Condition(), speed, key_interference=np.roll(keys, turn))
    angle = 2 * np.pi * turn / count
    force = np.nanmax(run.key_force)
    assert force > 0
    assert turned.key_force == pytest.approx(np.roll(run.key_force, turn, axis=1), abs=1e-6 * force, nan_ok=True)
    far = float(keys.max()) * 1e-6
    assert turned.clearance == pytest.approx(np.roll(run.clearance, turn, axis=1), abs=far, nan_ok=True)
    wheel = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    assert turned.centre == pytest.approx(run.centre @ wheel, abs=far, nan_ok=True)
    waves = run.outer_harmonics * np.exp(-1j * angle * np.arange(run.outer_harmonics.shape[1]))
    assert turned.outer_harmonics == pytest.approx(waves, abs=far, nan_ok=True)
    for name in ("ovality", "mean_gap", "eccentricity", "minimum_gap"):
        assert getattr(turned, name) == pytest.approx(getattr(run, name), abs=far, nan_ok=True), name
    marks, end = run.event_speeds, np.inf
    if marks.last_lift_off is not None and marks.centring_lost is not None:
        end = marks.centring_lost * (1 - 1e-9)  # a rim that floats centred leaves its centre to a side of chance
    ours = sorted(((event.key + turn - 1) % count + 1, event.kind, event.speed) for event in run.events)
    theirs = sorted((event.key, event.kind, event.speed) for event in turned.events)
    ours, theirs = ([row for row in rows if row[2] < end] for rows in (ours, theirs))
    assert ours
    assert [row[:2] for row in ours] == [row[:2] for row in theirs]
    assert [row[2] for row in ours] == pytest.approx([row[2] for row in theirs], rel=1e-6)
    for name in ("first_lift_off", "centring_lost", "last_lift_off", "one_sided", "shape_lost", "mean_float"):
        one, two = getattr(run.event_speeds, name), getattr(turned.event_speeds, name)
        assert two == (None if one is None else pytest.approx(one, rel=1e-6)), name
