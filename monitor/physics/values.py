"""What the functions of this package take and give, and a division that never warns."""

from __future__ import annotations

import numpy as np

Values = float | np.ndarray
"""A number, or an array that broadcasts with the others."""


def ratio(numerator: Values, denominator: Values) -> Values:
    """`numerator / denominator`, NaN where the denominator is zero: no rate has no specific energy."""
    nonzero = np.where(np.equal(denominator, 0), np.nan, denominator)
    return numerator / nonzero
