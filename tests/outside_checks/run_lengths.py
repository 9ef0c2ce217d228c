"""Run lengths of the charts by plain simulation, beside published tables and beside what their limits were made for.

    python -m tests.outside_checks.run_lengths

Independent readings: CUSUM k 0.5, h 4 after J. M. Lucas & R. B. Crosier, Technometrics 24(3), 199 (1982), table 1;
EWMA after J. M. Lucas & M. S. Saccucci, Technometrics 32(1), 1 (1990), table 3. Readings that resemble each other
(AR(1)): no published table is at hand; limits are designed for a run length (variance of the EWMA: W. Schmid 1997) and
the simulation says what they give. Textbook limits on the same readings are shown beside.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.statistics.autocorrelated_design import design_cusum_autocorrelated, design_ewma_autocorrelated
from monitor.statistics.ewma import variance_factor
from monitor.statistics.run_length import design_cusum, design_ewma
from monitor.statistics.run_length_simulation import simulate_cusum, simulate_ewma

CUSUM_4 = {0.0: 168, 0.5: 26.6, 1.0: 8.38, 2.0: 3.34}
EWMA_HALF = {0.0: 500, 0.5: 88.8, 1.0: 17.5, 2.0: 3.63}
EWMA_SLOW = {0.0: 500, 0.5: 29.3, 1.0: 12.6, 2.0: 5.99}
WANTED = 10_000.0
LAGS = (0.25, 0.5, 0.75, 0.9)


@dataclass(frozen=True)
class Row:
    """One chart at one shift: run length wanted or published, and simulated with its standard error."""

    chart: str
    shift: float
    lag1: float
    wanted: float
    simulated: float
    error: float


def _row(chart: str, shift: float, lag1: float, wanted: float, lengths) -> Row:  # type: ignore[no-untyped-def]
    return Row(chart, shift, lag1, wanted, float(lengths.mean()), float(lengths.std(ddof=1) / len(lengths) ** 0.5))


def independent(runs: int = 20_000) -> Iterator[Row]:
    """Against the published tables."""
    for shift, published in CUSUM_4.items():
        yield _row("CUSUM k 0.5 h 4", shift, 0, published, simulate_cusum(0.5, 4, 0, shift=shift, runs=runs))
    for name, weight, width, table in (
        ("EWMA 0.5, 3.071", 0.5, 3.071, EWMA_HALF),
        ("EWMA 0.03, 2.437", 0.03, 2.437, EWMA_SLOW),
    ):
        for shift, published in table.items():
            yield _row(name, shift, 0, published, simulate_ewma(weight, width, 0, shift=shift, runs=runs))


def autocorrelated(runs: int = 1000) -> Iterator[Row]:
    """Designed for the autocorrelation, then the same run length by textbook limits."""
    for lag1 in LAGS:
        width = design_ewma_autocorrelated(0.2, lag1, WANTED)
        yield _row("EWMA 0.2, designed", 0, lag1, WANTED, simulate_ewma(0.2, width, lag1, runs=runs, seed=5))
        h = design_cusum_autocorrelated(0.5, lag1, WANTED)
        yield _row("CUSUM 0.5, designed", 0, lag1, WANTED, simulate_cusum(0.5, h, lag1, runs=runs, seed=5))
    for lag1 in LAGS:
        # The textbook's limit in sigma of x, as the simulation counts widths in standard deviations of z.
        narrow = design_ewma(0.2, WANTED) * (variance_factor(0.2, 0) / variance_factor(0.2, lag1)) ** 0.5
        yield _row("EWMA 0.2, textbook", 0, lag1, WANTED, simulate_ewma(0.2, narrow, lag1, runs=runs, seed=5))
        h = design_cusum(0.5, WANTED)
        yield _row("CUSUM 0.5, textbook", 0, lag1, WANTED, simulate_cusum(0.5, h, lag1, runs=runs, seed=5))


def main() -> None:
    """Print the tables."""
    for title, rows in (
        ("independent readings", independent()),
        ("readings that resemble each other", autocorrelated()),
    ):
        print(f"{title}\n{'chart':22} {'lag 1':>6} {'shift':>6} {'wanted':>9} {'simulated':>10} {'+-':>7}")
        for row in rows:
            print(
                f"{row.chart:22} {row.lag1:6.2f} {row.shift:6.2f} {row.wanted:9.4g} {row.simulated:10.4g} "
                f"{row.error:7.2g}"
            )


if __name__ == "__main__":
    main()
