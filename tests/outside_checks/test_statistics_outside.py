"""The statistics against published tables, open data and other libraries. Tables: see the modules beside."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.statistics.autocorrelation import autocorrelation
from monitor.statistics.change_point import change_point
from monitor.statistics.ewma import ewma
from monitor.statistics.huber import huber_fit
from monitor.statistics.mann_kendall import mann_kendall
from monitor.statistics.principal import components, contributions, limit_by_moments, t2_and_spe
from monitor.statistics.theil_sen import theil_sen
from tests.outside_checks import machine_temperature, run_lengths, simulated_process
from tests.outside_checks.open_data import needs


def test_run_lengths_on_independent_readings_are_the_published_ones() -> None:
    """Within four standard errors of the simulation and the rounding of the tables."""
    for row in run_lengths.independent(runs=4000):
        assert abs(row.simulated - row.wanted) <= 4 * row.error + 0.005 * row.wanted, row


def test_run_lengths_on_readings_that_resemble_each_other_are_those_designed_for() -> None:
    rows = list(run_lengths.autocorrelated(runs=300))

    for row in rows:
        if "designed" in row.chart:
            assert abs(row.simulated - row.wanted) <= 0.1 * row.wanted + 3 * row.error, row
    worst = max(row.simulated for row in rows if "textbook" in row.chart)
    assert worst < 0.15 * run_lengths.WANTED, "textbook limits call at least seven times too often"


@needs(simulated_process.NAME)
def test_missed_detection_rates_are_those_computed_by_others() -> None:
    """With the same limits, to the last printed digit, all 21 faults."""
    made, beside = simulated_process.judge(), simulated_process.computed_by_others()

    for fault, (t2, spe) in simulated_process.missed(made, "percentile").items():
        assert t2 == pytest.approx(beside[fault]["T2_missed_empirical99"], abs=6e-5), fault
        assert spe == pytest.approx(beside[fault]["Q_missed_empirical99"], abs=6e-5), fault
    for fault, (t2, spe) in simulated_process.missed(made, "analytic").items():
        assert t2 == pytest.approx(beside[fault]["T2_missed_analytic99"], abs=2e-3), fault
        assert spe == pytest.approx(beside[fault]["Q_missed_analytic99"], abs=2e-3), fault


@needs(simulated_process.NAME)
def test_false_alarms_of_the_limits_the_monitor_uses_keep_what_is_promised() -> None:
    made = simulated_process.judge()

    analytic, used = (simulated_process.false_alarms(made, way) for way in ("analytic", "largest"))
    assert analytic[1] > 0.05, "the reason not to use the analytic limit of SPE"
    assert max(used) <= simulated_process.CHANCE + 0.002


@needs(machine_temperature.NAME)
def test_machine_temperature_with_frozen_settings() -> None:
    """What was found at the first run: no better is asked for, and nothing was tuned since."""
    machine, ambient = (machine_temperature.outcome(record) for record in machine_temperature.RECORDS)

    assert (machine.found, machine.windows) == (3, 4) and machine.false / machine.weeks < 0.5
    assert (ambient.found, ambient.windows) == (1, 2) and ambient.false / ambient.weeks < 0.2


def test_theil_sen_and_mann_kendall_against_scipy() -> None:
    stats = pytest.importorskip("scipy.stats")
    rng = np.random.default_rng(4)
    time = np.arange(60.0)
    values = 0.03 * time + rng.standard_t(3, 60)

    ours, theirs = theil_sen(time, values), stats.theilslopes(values, time, 0.95)
    assert (ours.slope, ours.low, ours.high) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))
    tau = stats.kendalltau(time, values, method="asymptotic")
    assert mann_kendall(values).tau == pytest.approx(tau.statistic)
    assert mann_kendall(values).p == pytest.approx(tau.pvalue, rel=0.03), "ours has a continuity correction"


def test_huber_and_autocorrelation_against_statsmodels() -> None:
    sm = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(5)
    x = rng.normal(size=(300, 2))
    y = 3 + x @ np.array([0.5, -1.2]) + 0.1 * rng.normal(size=300)
    y[::9] += 4

    ours = huber_fit(x, y)
    theirs = sm.RLM(y, sm.add_constant(x), M=sm.robust.norms.HuberT(1.345)).fit(scale_est="mad", tol=1e-10, maxiter=200)
    assert [ours.level, *ours.coefficients] == pytest.approx(theirs.params, abs=2e-3)
    assert autocorrelation(y, 3) == pytest.approx(sm.tsa.acf(y, nlags=3)[3])


def test_components_against_scikit_learn() -> None:
    decomposition = pytest.importorskip("sklearn.decomposition")
    rng = np.random.default_rng(6)
    x = np.repeat(rng.normal(size=(400, 3)), 3, axis=1) + 0.5 * rng.normal(size=(400, 9))
    x = (x - x.mean(axis=0)) / x.std(axis=0)

    made = components(x, 3)
    t2, spe = t2_and_spe(x, made)
    theirs = decomposition.PCA(3).fit(x)
    scores = theirs.transform(x)
    np.testing.assert_allclose(t2, (scores**2 / theirs.explained_variance_).sum(axis=1), rtol=1e-8)
    np.testing.assert_allclose(spe, ((x - theirs.inverse_transform(scores)) ** 2).sum(axis=1), rtol=1e-8)
    assert len(components(x).variances) == 3, "as many as were put in"
    to_t2, to_spe = contributions(x[7], made)
    assert (to_t2.sum(), to_spe.sum()) == pytest.approx((t2[7], spe[7]))


def test_limit_by_moments_of_a_chi_squared_is_its_quantile() -> None:
    stats = pytest.importorskip("scipy.stats")
    values = 2.5 * np.random.default_rng(7).chisquare(6, 200_000)

    assert limit_by_moments(values, 0.001) == pytest.approx(2.5 * stats.chi2.ppf(0.999, 6), rel=0.02)


def test_change_point_against_ruptures() -> None:
    ruptures = pytest.importorskip("ruptures")
    rng = np.random.default_rng(8)
    for place in (20, 50, 75):
        values = rng.normal(size=100) + np.where(np.arange(100) < place, 0, 2.0)
        theirs = ruptures.Dynp(model="l1", min_size=2, jump=1).fit(values).predict(n_bkps=1)[0]
        assert abs(change_point(values).index - theirs) <= 3


def test_ewma_against_pandas() -> None:
    pandas = pytest.importorskip("pandas")
    values = np.random.default_rng(9).normal(size=200)

    theirs = pandas.Series([0.0, *values]).ewm(alpha=0.2, adjust=False).mean().to_numpy()[1:]
    np.testing.assert_allclose(ewma(values, 0.2, 0.0), theirs)
