"""The search for packs against trying every choice: small cases, whole, with scarce stock and packs that come out."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from rimmodel.planning.shim_sheet.lift_off import exchanged, highest_lift_off
from rimmodel.planning.shim_sheet.packs import change_of, errors_of, packs_behind, pieces_used, within
from rimmodel.planning.shim_sheet.search import Task, best_packs
from rimmodel.rotor.shim_stock import ShimPiece, ShimStock

SMALL_CASES = 500


def small_task(seed):
    """Two to four keys, one to three thicknesses, now and then scarce, present packs in every second case."""
    rng = np.random.default_rng([7, seed])
    keys, kinds = int(rng.integers(2, 5)), int(rng.integers(1, 4))
    sizes = rng.choice([0.02, 0.03, 0.05, 0.07, 0.1, 0.2], kinds, replace=False)
    stock = tuple(ShimPiece(float(size) * 1e-3, int(rng.integers(1, 7))) for size in sizes)
    taken = tuple(float(x) for x in rng.choice([0.0, 0.05e-3, 0.12e-3], keys)) if seed % 2 else None
    shims = ShimStock(stock, most_pieces=int(rng.integers(1, 3)), present_packs=taken)
    matrix = rng.normal(size=(keys + 3, keys))
    present = 2e-3 + rng.normal(0.0, 0.08e-3, keys)
    rest = -matrix @ np.full(keys, 2.1e-3) + rng.normal(0.0, 0.03e-3, keys + 3)
    price = rng.uniform(0.0, (0.02e-3) ** 2, keys)
    middle = 2e-3 + rng.uniform(-0.02e-3, 0.1e-3)
    each = (middle - 0.12e-3, middle + 0.12e-3) if seed % 3 == 0 else (-1.0, 1.0)
    try:
        packs = within(packs_behind(shims, keys), present, *each)
    except ValueError:
        each, packs = (-1.0, 1.0), packs_behind(shims, keys)
    return Task(matrix, rest, present, packs, price, shims, middle - 0.05e-3, middle + 0.05e-3, each)


def every_choice(task):
    """Interferences (n, N), and the number of errors (n, N), of every choice of pieces, made without the packs."""
    shims, keys = task.shims, task.present.size
    counts = [range(row.pieces + 1) for row in shims.stock]
    packs = np.array([some for some in itertools.product(*counts) if sum(some) <= shims.most_pieces])
    sizes = np.array([row.thickness for row in shims.stock])
    present = shims.present_packs or (0.0,) * keys
    own = []
    for taken in present:
        options = [(*pack, 0, pack @ sizes) for pack in packs]
        options += [(*pack, 1, pack @ sizes - taken) for pack in packs if taken > 0.0]
        own.append(np.array(options, dtype=float))
    places = np.indices([len(rows) for rows in own]).reshape(keys, -1).T
    chosen = np.stack([rows[places[:, key]] for key, rows in enumerate(own)], axis=1)
    d = task.present + chosen[:, :, -1]
    fits = (chosen[:, :, : len(sizes)].sum(axis=1) <= [row.pieces for row in shims.stock]).all(axis=1)
    fits &= (d.mean(axis=1) >= task.low - 1e-12) & (d.mean(axis=1) <= task.high + 1e-12)
    fits &= (d >= task.each[0] - 1e-9).all(axis=1) & (d <= task.each[1] + 1e-9).all(axis=1)
    return d[fits], chosen[fits][:, :, :-1].sum(axis=2)


def square(task, d, errors):
    return ((d @ task.matrix.T + task.rest) ** 2).sum(axis=-1) + (errors * task.price).sum(axis=-1)


def keeps_its_limits(task, chosen):
    d = task.present + change_of(task.packs, chosen)
    used = pieces_used(task.packs, chosen)
    assert (used.sum(axis=0) <= task.stock).all()
    assert (used.sum(axis=1) <= task.shims.most_pieces).all()
    assert task.each[0] - 1e-9 <= d.min() <= d.max() <= task.each[1] + 1e-9
    assert task.low - 1e-9 <= d.mean() <= task.high + 1e-9
    return d


@pytest.mark.independent
def test_the_least_deviation_is_that_of_trying_every_choice_in_500_small_cases():
    none = 0
    for seed in range(SMALL_CASES):
        task = small_task(seed)
        d, errors = every_choice(task)
        found = best_packs(task)
        if not len(d):
            assert found is None, seed
            none += 1
            continue
        least = square(task, d, errors).min()
        own = square(task, keeps_its_limits(task, found.chosen), errors_of(task.packs, found.chosen))
        assert own == pytest.approx(least, rel=1e-6, abs=1e-18), seed
        assert found.value == pytest.approx(found.bound, rel=1e-9), seed
    assert 10 < none < SMALL_CASES // 2  # both kinds are there


def even_pressing(rng, keys):
    """Key forces of a body on coupled springs, straight in speed squared; and where the first of them lifts off."""
    root = rng.normal(size=(keys, keys))
    influence = 1e9 * (3.0 * np.eye(keys) + 0.3 * (root + root.T) / keys)
    closing = 1e-5 * influence.sum(axis=1)
    return lambda x: (influence, -x * closing), lambda d: float((d @ influence.T / closing).min(axis=-1))


@pytest.mark.independent
def test_the_highest_first_lift_off_is_that_of_trying_every_choice():
    """In closed form: force i is zero at (S d)_i over its closing."""
    tried, proven = 0, 0
    for seed in range(SMALL_CASES):
        task = small_task(seed)
        start = best_packs(task)
        if start is None:
            continue
        pressing, first = even_pressing(np.random.default_rng([8, seed]), task.present.size)
        d, _ = every_choice(task)
        influence, closing = pressing(0.0)[0], -pressing(1.0)[1]
        highest = (d @ influence.T / closing).min(axis=1).max()
        found = highest_lift_off(task, [start.chosen], pressing, first)
        assert first(keeps_its_limits(task, found.chosen)) == pytest.approx(found.value, rel=1e-12), seed
        assert found.value == pytest.approx(highest, rel=2e-4), seed
        assert found.bound >= highest * (1.0 - 1e-9), seed
        tried, proven = tried + 1, proven + (found.bound <= found.value * (1.0 + 1e-9))
        if tried == 100:
            break
    assert tried == 100
    assert proven > 90


def test_a_narrow_search_still_states_a_bound_below_the_best_and_a_choice_that_keeps_its_limits():
    """A pass of two branches a level drops nearly all; what it proves must still hold, to the ridge of each key."""
    cut = 0
    for seed in range(60):
        task = small_task(seed)
        d, errors = every_choice(task)
        if not len(d):
            continue
        least = square(task, d, errors).min()
        try:
            found = best_packs(task, (2,))
        except ArithmeticError:
            continue
        keeps_its_limits(task, found.chosen)
        assert found.bound <= least * (1.0 + 1e-6) + 1e-18
        assert found.value >= least * (1.0 - 1e-6) - 1e-18
        cut += found.bound < found.value * (1.0 - 1e-6)
    assert cut > 5


def test_exchanges_never_lower_the_least_force():
    for seed in range(40):
        task = small_task(seed)
        start = best_packs(task)
        if start is None:
            continue
        influence, rest = even_pressing(np.random.default_rng(seed), task.present.size)[0](150.0)
        better = exchanged(task, start.chosen, influence, rest)
        before, after = ((influence @ keeps_its_limits(task, chosen) + rest).min() for chosen in (start.chosen, better))
        assert after >= before


def test_packs_are_every_sum_of_pieces_once_and_the_one_of_fewest_pieces_where_all_are_plenty():
    shims = ShimStock((ShimPiece(1e-4, 99), ShimPiece(2e-4, 99), ShimPiece(5e-4, 99)), most_pieces=3)
    packs = packs_behind(shims, 4)[0]
    sums = {round(sum(some), 7) for size in range(4) for some in itertools.product((1e-4, 2e-4, 5e-4), repeat=size)}
    assert sorted(round(float(change), 7) for change in packs.change) == sorted(sums)
    fewest = {round(float(change), 7): count for change, count in zip(packs.change, packs.errors, strict=True)}
    assert (fewest[2e-4], fewest[4e-4], fewest[6e-4], fewest[7e-4]) == (1, 2, 2, 2)


def test_scarce_pieces_keep_the_packs_that_spare_them():
    shims = ShimStock((ShimPiece(1e-4, 99), ShimPiece(2e-4, 1)), most_pieces=2)
    packs = packs_behind(shims, 2)[0]
    twice = packs.pieces[np.abs(packs.change - 2e-4) < 1e-9]
    assert sorted(map(tuple, twice.tolist())) == [(0, 1), (2, 0)]


def test_a_pack_that_comes_out_makes_changes_below_zero():
    shims = ShimStock((ShimPiece(1e-4, 99),), most_pieces=1, present_packs=(3e-4, 0.0))
    first, second = packs_behind(shims, 2)
    assert first.change.min() == pytest.approx(-3e-4)
    assert second.change.min() == 0.0
    assert not second.out.any()


def test_too_many_packs_and_a_wrong_number_of_present_packs_are_refused():
    many = ShimStock(tuple(ShimPiece(1e-5 * size, 9) for size in range(1, 30)), most_pieces=12)
    with pytest.raises(ValueError, match="list fewer thicknesses"):
        packs_behind(many, 3)
    with pytest.raises(ValueError, match=r"present_packs has 1 values.*3 keys"):
        packs_behind(replace(many, present_packs=(0.0,)), 3)
