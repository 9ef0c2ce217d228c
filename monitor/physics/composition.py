"""Shares of the ingredients in what is fed, and what errors of the feeders do to them."""

from __future__ import annotations

import numpy as np

from monitor.physics.values import Values, ratio


def total_rate_kg_h(rates_kg_h: np.ndarray) -> np.ndarray:
    """Sum over the feeders. rates_kg_h: shape (feeders, ...). NaN where any feeder has no reading."""
    return _sum_of_feeders(rates_kg_h)


def shares_pct(rates_kg_h: np.ndarray) -> np.ndarray:
    """Share of each feeder in the sum, percent; feeders first. NaN where the sum is zero or unknown."""
    return 100 * np.asarray(ratio(rates_kg_h, total_rate_kg_h(rates_kg_h)))


def share_after_error(*, share: Values, relative_error: Values) -> Values:
    """Share (0 to 1) of an ingredient whose feeder alone delivers `1 + relative_error` times its rate.

    About `(1 - share) * relative_error` off, relative: a large ingredient hides its own error.
    """
    return ratio(share * (1 + relative_error), 1 + share * relative_error)


def other_share_after_error(*, share: Values, erring_share: Values, relative_error: Values) -> Values:
    """Share (0 to 1) of another ingredient when the feeder of `erring_share` errs.

    About `-erring_share * relative_error` off, relative.
    """
    return ratio(share, 1 + erring_share * relative_error)


def share_relative_sd(shares: np.ndarray, rate_relative_sds: np.ndarray) -> np.ndarray:
    """Relative standard deviation of each share from independent random errors of every feeder.

    shares: 0 to 1, shape (feeders, ...). rate_relative_sds: of each feeder's rate, same shape.
    First order: a feeder's own error weighs 1 less its share, the error of another weighs that one's share.
    """
    by_feeder = np.square(shares * rate_relative_sds)
    by_others = np.maximum(_sum_of_feeders(by_feeder) - by_feeder, 0)
    return np.sqrt(np.square((1 - shares) * rate_relative_sds) + by_others)


def _sum_of_feeders(values: np.ndarray) -> np.ndarray:
    # Added feeder by feeder: numpy's own sum may add in another order for another length of block.
    total = np.zeros(values.shape[1:])
    for value in values:
        total = total + value
    return total
