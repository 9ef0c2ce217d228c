"""What leaves the die of a feed that varies: delayed and mixed by kilograms, not by seconds.

A path holds a mass that hardly depends on rate: what is fed comes out once as many kilograms have followed it.
The plug-flow part only delays; the rest mixes as one stirred vessel, so that the age of what leaves is spread
exponentially over the kilograms fed before. The spread is cut into parts of equal weight, each the mean of the feed
over its kilograms, so that nothing falls between.
"""

from __future__ import annotations

import numpy as np

PARTS = 8
OLDEST_MIXINGS = 4.6
"""Where the exponential tail is cut: 1 % of what leaves is older; it counts as of this age."""


def part_edges(parts: int = PARTS, oldest: float = OLDEST_MIXINGS) -> np.ndarray:
    """Ages between the parts of equal weight of an exponential spread, in mixing masses, shape (parts + 1,)."""
    edges = -np.log1p(-np.arange(parts + 1)[:parts] / parts)
    return np.append(edges, oldest)


EDGES = part_edges()


def leaves_die(
    fed_kg: np.ndarray, moment: np.ndarray, reach: int, plug_kg: np.ndarray, mixing_kg: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What leaves the die at the end of each cell.

    fed_kg: kilograms of all ingredients fed so far at the end of each cell, shape (reach + n,), never falling.
    moment: rate of the ingredient summed over those kilograms (kg/h times kg), same shape. reach: cells looked back.
    plug_kg, mixing_kg: of the path, shape (n,), mixing_kg > 0. Returns the rate at the die, kg/h, shape (n,), NaN
    where the spread reaches further back than `reach` cells, and the place in `fed_kg` of the oldest cell used.
    """
    n = len(fed_kg) - reach
    edges = EDGES
    now, oldest = fed_kg[reach:], fed_kg[:n]
    wanted = now - plug_kg - edges[:, np.newaxis] * mixing_kg
    known = wanted[-1] > oldest
    place = np.searchsorted(fed_kg, np.where(np.isfinite(wanted), wanted, 0.0).ravel()).reshape(wanted.shape)
    place = np.clip(place, 1, len(fed_kg) - 1)
    below, above = fed_kg[place - 1], fed_kg[place]
    width = above - below
    part = np.where(width > 0, (wanted - below) / np.where(width > 0, width, 1.0), 0.0)
    low = moment[place - 1]
    there = low + part * (moment[place] - low)
    means = (there[:-1] - there[1:]) / ((edges[1:] - edges[:-1])[:, np.newaxis] * mixing_kg)
    # Added youngest first in a log of any length: a plain sum would not keep to an order.
    rate = np.add.accumulate(means, axis=0)[-1] + 0.0
    return np.where(known, rate / (len(edges) - 1), np.nan), place[-1] - 1
