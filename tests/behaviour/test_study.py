"""A study against closed forms, and the same bits however its work is shared."""

import math
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
import pytest
from scipy import stats

from rimmodel.behaviour.study.blocks import Bound, parts, plan_study, run_blocks, study, summarise
from rimmodel.behaviour.study.distribution import wilson
from rimmodel.behaviour.study.inputs import Inputs, with_table
from rimmodel.behaviour.study.propagation import differences, effective_degrees_of_freedom, propagate
from rimmodel.behaviour.study.sampling import METHODS
from rimmodel.behaviour.study.sobol_indices import sobol_indices
from rimmodel.rotor.blocks import BLOCK
from rimmodel.rotor.tolerance import Correlation, Tolerance, tolerance_of


def normal(name, centre=0.0, standard=1.0):
    return Tolerance(name, centre, "normal", standard)


def uniform(name, low=-math.pi, high=math.pi):
    half = (high - low) / 2
    return Tolerance(name, (low + high) / 2, "uniform", half / math.sqrt(3), half)


def product(table):
    return {"product": table["a"] * table["b"], "sum": table["a"] + table["b"]}


def ishigami(table):
    return {"y": np.sin(table["a"]) + 7 * np.sin(table["b"]) ** 2 + 0.1 * table["c"] ** 4 * np.sin(table["a"])}


PAIR = Inputs((normal("a", 3.0, 0.5), uniform("b", 1.0, 2.0)))
THREE = Inputs((uniform("a"), uniform("b"), uniform("c")))


# ------------------------------------------------------------------------------------------- distributions


@pytest.mark.independent
@pytest.mark.parametrize(
    ("tolerance", "known"),
    [
        (normal("x", 2.0, 0.3), stats.norm(2.0, 0.3)),
        (uniform("x", 1.0, 4.0), stats.uniform(1.0, 3.0)),
        (tolerance_of("x", 5.0, "triangular", None, 2.0), stats.triang(0.5, 3.0, 4.0)),
        (tolerance_of("x", 1.0, "truncated normal", 0.5, 0.8), stats.truncnorm(-1.6, 1.6, 1.0, 0.5)),
    ],
)
def test_quantiles_and_spread_are_those_of_scipy(tolerance, known):
    share = np.linspace(0.001, 0.999, 501)
    assert np.allclose(tolerance.quantile(share), known.ppf(share), rtol=1e-10)
    assert tolerance.standard_uncertainty == pytest.approx(known.std(), rel=1e-10)


@pytest.mark.derived
def test_half_widths_mean_two_standard_uncertainties_or_the_ends():
    assert tolerance_of("x", 0.0, "normal", None, 2.0).standard == 1.0
    assert tolerance_of("x", 0.0, "uniform", None, 3.0).standard == pytest.approx(3.0 / math.sqrt(3))
    assert tolerance_of("x", 0.0, "triangular", 1.0, None).half_width == pytest.approx(math.sqrt(6))


@pytest.mark.derived
@pytest.mark.parametrize("method", METHODS)
def test_mean_spread_quantiles_and_chances_of_a_normal_sum(method):
    # a + b of standard uncertainties 3 and 4, correlated by 0.5: sqrt(9 + 16 + 12) = sqrt(37)
    inputs = Inputs((normal("a", 1.0, 3.0), normal("b", 2.0, 4.0)), (Correlation(("a", "b"), 0.5),))
    spread = math.sqrt(37)
    bounds = [Bound("upper", "sum", at_most=3.0 + spread), Bound("lower", "sum", at_least=3.0)]
    done = study(product, inputs, 2**17, bounds=bounds, method=method, seed=4)
    found = done.distributions["sum"]
    error = spread / math.sqrt(2**17)
    assert abs(found.mean - 3.0) < 4 * error
    assert abs(found.standard_deviation - spread) < 4 * error / math.sqrt(2)
    for share in (0.025, 0.5, 0.975):
        density = stats.norm.pdf(stats.norm.ppf(share))
        allowed = 4 * spread * math.sqrt(share * (1 - share) / 2**17) / density
        assert abs(found.quantile(share) - stats.norm.ppf(share, 3.0, spread)) < allowed
    shares = [chance.probability for chance in done.chances]
    assert shares == pytest.approx([stats.norm.cdf(1), 0.5], abs=4 * 0.5 / math.sqrt(2**17))


@pytest.mark.independent
def test_counts_give_the_quantiles_of_the_samples_themselves():
    plan = plan_study(product, PAIR, 40_000, method="random", seed=8)
    done = summarise(plan, run_blocks(plan, range(plan.points.blocks)))
    values = np.concatenate(
        [product(PAIR.values(plan.points.block(number)))["product"] for number in range(plan.points.blocks)]
    )
    found = done.distributions["product"]
    assert (found.minimum, found.maximum) == (values.min(), values.max())
    assert found.mean == pytest.approx(values.mean(), rel=1e-12)
    assert found.standard_deviation == pytest.approx(values.std(ddof=1), rel=1e-9)
    width = found.edges[2] - found.edges[1]
    for share in (0.0005, 0.1, 0.5, 0.9, 0.9995):
        assert abs(found.quantile(share) - np.quantile(values, share, method="inverted_cdf")) <= width


def test_values_without_end_or_state_are_counted_apart_and_still_rank():
    def model(table):
        value = np.where(table["a"] > 0, np.inf, table["a"])
        return {"y": np.where(table["b"] > 1.75, np.nan, value)}

    done = study(model, Inputs((normal("a"), uniform("b", 1.0, 2.0))), 2**15, bounds=[Bound("y", "y", at_least=-9.0)])
    found = done.distributions["y"]
    assert found.none / found.samples == pytest.approx(0.25, abs=0.01)
    assert found.never / found.samples == pytest.approx(0.375, abs=0.01)
    assert found.quantile(0.75) == np.inf
    assert found.quantile(0.25) == pytest.approx(stats.norm.ppf(0.25), abs=0.05)
    # a rim that never floats keeps a lower bound; one without a state does not
    assert done.chances[0].probability == pytest.approx(0.75, abs=0.01)


@pytest.mark.independent
@pytest.mark.parametrize(("met", "samples"), [(0, 20), (7, 20), (990, 1000), (1000, 1000)])
def test_wilson_interval_is_scipys(met, samples):
    theirs = stats.binomtest(met, samples).proportion_ci(method="wilson")
    assert wilson(met, samples) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_convergence_ends_at_the_result_and_narrows():
    done = study(product, PAIR, 2**18, method="random")
    settled, found = done.convergence, done.distributions["product"]
    assert settled.samples.tolist() == [BLOCK * 2**k for k in range(6)]
    assert settled.mean[-1, 0] == found.mean
    assert abs(settled.mean[-1, 0] - 4.5) < 4 * found.standard_error


# --------------------------------------------------------------------------------- the same whoever works


def signature(done):
    rows = [
        (row.mean, row.standard_deviation, row.minimum, row.maximum, row.counts.tobytes())
        for row in done.distributions.values()
    ]
    return rows, [chance.met for chance in done.chances], done.convergence.mean.tobytes()


BOUNDS = (Bound("p", "product", at_least=4.0),)


@pytest.fixture(scope="module")
def serial():
    return signature(study(product, PAIR, 2**18, bounds=BOUNDS, seed=6))


@pytest.mark.parametrize("chunk", [1_000, 8_192, 10_000, 65_536, 1_000_000])
def test_the_size_of_a_task_changes_no_bit(serial, chunk):
    assert signature(study(product, PAIR, 2**18, bounds=BOUNDS, seed=6, chunk=chunk)) == serial


def test_processes_and_any_map_change_no_bit(serial):
    run = partial(study, product, PAIR, 2**18, bounds=BOUNDS, seed=6, chunk=20_000)
    assert signature(run(workers=2)) == serial
    with ThreadPoolExecutor(3) as pool:
        assert signature(run(workers=pool.map)) == serial
    indices = partial(sobol_indices, product, PAIR, 2**15, seed=6)
    one, two = indices(), indices(workers=2, chunk=1000)
    assert np.array_equal(one.first, two.first)
    assert np.array_equal(one.total, two.total)


def test_a_dask_cluster_on_this_machine_changes_no_bit(serial):
    distributed = pytest.importorskip("distributed", reason="needs the extra 'cluster': dask, distributed")
    settings = {"n_workers": 2, "threads_per_worker": 1, "processes": False, "dashboard_address": None}
    with distributed.LocalCluster(host="127.0.0.1", protocol="tcp://", **settings) as cluster:
        assert cluster.scheduler_address.startswith("tcp://127.0.0.1:")
        run = partial(study, product, PAIR, 2**18, bounds=BOUNDS, seed=6)
        assert signature(run(workers=cluster.scheduler_address, chunk=1000)) == serial


@pytest.mark.parametrize(
    ("workers", "words"), [(0, "1 to 256"), (True, "1 to 256"), ("tcp://127.0.0.1:9", "no dask scheduler answers")]
)
def test_workers_that_cannot_be_are_refused(workers, words):
    if isinstance(workers, str):
        pytest.importorskip("distributed", reason="needs the extra 'cluster': dask, distributed")
    with pytest.raises(ValueError, match=words):
        study(product, PAIR, 100, workers=workers)


def test_a_study_goes_on_from_any_part_of_itself(serial):
    plan = plan_study(product, PAIR, 2**18, bounds=BOUNDS, seed=6)
    done = run_blocks(plan, range(5))
    *_, last = parts(plan, done=done, chunk=30_000)
    assert signature(summarise(plan, last)) == serial
    assert next(parts(plan, done=last)) is last


def test_unknown_outputs_and_empty_studies_are_refused():
    with pytest.raises(ValueError, match="the outputs are product, sum"):
        study(product, PAIR, 100, bounds=[Bound("x", "none", at_least=1.0)])
    with pytest.raises(ValueError, match="nothing varies"):
        study(product, Inputs(), 100)
    with pytest.raises(ValueError, match="chunk is 0"):
        study(product, PAIR, 100, chunk=0)


# ------------------------------------------------------------------------------------- what drives an output


@pytest.mark.derived
def test_sobol_indices_of_the_ishigami_function_are_its_closed_form():
    # Ishigami & Homma 1990, a = 7, b = 0.1: V1 = (1 + b pi^4/5)^2/2, V2 = a^2/8, V13 = b^2 pi^8 (1/18 - 1/50)
    first = np.array([(1 + 0.1 * np.pi**4 / 5) ** 2 / 2, 49 / 8, 0.0])
    both = 0.01 * np.pi**8 * (1 / 18 - 1 / 50)
    variance = first.sum() + both
    found = sobol_indices(ishigami, THREE, 2**16, seed=2)
    assert found.evaluations == 5 * 2**16
    assert found.first[0] == pytest.approx(first / variance, abs=4e-3)
    assert found.total[0] == pytest.approx((first + both * np.array([1, 0, 1])) / variance, abs=4e-3)
    assert np.all(np.abs(found.first[0] - first / variance) < 4 * found.first_error[0] + 1e-4)
    sampled = study(ishigami, THREE, 2**16).distributions["y"]
    assert sampled.mean == pytest.approx(3.5, abs=0.01)
    assert sampled.standard_deviation**2 == pytest.approx(variance, rel=5e-3)


@pytest.mark.derived
def test_correlated_inputs_and_the_keys_share_one_index():
    inputs = Inputs(
        (normal("a", 0.0, 1.0), normal("b", 0.0, 1.0), normal("k[1]"), normal("k[2]")), (Correlation(("a", "b"), 0.5),)
    )

    def total(table):
        return {"y": table["a"] + table["b"] + table["k[1]"] + table["k[2]"]}

    found = sobol_indices(total, inputs, 2**14)
    assert found.groups == ("a + b", "k")
    assert found.first[0] == pytest.approx([3 / 5, 2 / 5], abs=0.01)  # variance 1 + 1 + 2 x 0.5, and 2


@pytest.mark.derived
def test_linear_propagation_is_exact_for_a_product_and_says_where_it_fails():
    found = propagate(product, PAIR)
    spread = math.hypot(0.5 * 1.5, 3.0 / math.sqrt(12))
    assert found.standard_uncertainty == pytest.approx([spread, math.hypot(0.5, 1 / math.sqrt(12))], rel=1e-12)
    bent = Inputs((normal("a", 0.1, 1.0),))

    def curve(table):
        return {"square": table["a"] ** 2, "line": 2 * table["a"]}

    done = study(curve, bent, 2**15)
    warnings = differences(propagate(curve, bent), done.distributions)
    assert set(warnings) == {"square"}
    assert "straight line" in warnings["square"]


def test_effective_degrees_of_freedom_do_not_count_what_is_known():
    assert effective_degrees_of_freedom(np.array([3.0, 4.0]), np.array([np.inf, np.inf])) == np.inf


# -------------------------------------------------------------------------------------- tables of samples


def test_a_table_replaces_distributions_and_keeps_its_rows_together():
    random = np.random.default_rng(1)
    a = random.normal(5.0, 1.0, 4000)
    inputs = with_table(PAIR, {"a": a, "b": 10.0 - a})
    assert [row.name for row in inputs.marginals] == []
    found = study(product, inputs, 2**15).distributions
    assert found["sum"].standard_deviation < 1e-9  # a + b is 10 in every row
    assert found["product"].mean == pytest.approx(np.mean(a * (10.0 - a)), rel=2e-3)


@pytest.mark.parametrize(
    ("table", "words"),
    [({"a": [1.0, 2.0], "b": [1.0]}, "one length"), ({"a": [1.0, np.nan]}, "not finite"), ({"a": 1.0}, "one length")],
)
def test_a_table_that_is_none_is_refused(table, words):
    with pytest.raises(ValueError, match=words):
        with_table(PAIR, table)


def test_a_table_may_not_tear_a_correlated_pair():
    tied = Inputs(PAIR.marginals, (Correlation(("a", "b"), 0.3),))
    with pytest.raises(ValueError, match="hold both or none"):
        with_table(tied, {"a": [1.0, 2.0]})
