"""What ran beyond an outer limit while no finding holds its product: the map shows it, no kilogram does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dashboards.clock import SECOND, duration
from dashboards.data import JournalData
from dashboards.grid import window_grid
from dashboards.held_words import LEAST_TOLD_KG, mass
from dashboards.lot_product import Product
from dashboards.names import channel_title
from dashboards.texts import say
from dashboards.touched import Container, Fed, is_product, merged, touched_span
from dashboards.views import Run, end_of
from dashboards.windows import FAR_OVER, FAR_UNDER
from monitor.records import Finding

MADE_IN = ("steady", "settling")
"""Phases in which what leaves the die may be packed."""

COLUMNS = 8640
"""Cells of 10 s up to a day, longer ones beyond."""

LEAST_S = 60.0
"""Shorter than the mean a rate is judged by; common practice, no source."""

MOST_NAMED = 6


@dataclass(frozen=True)
class Unheld:
    """seconds: by channel, the longest first. kg: of all of it, each once and none that is touched; NaN = not known.

    spans: [start, end) of it at the die, UTC ns.
    """

    seconds: tuple[tuple[str, float], ...]
    kg: float
    spans: tuple[tuple[int, int], ...] = ()


def outside_unheld(data: JournalData, run: Run, product: Product) -> Unheld | None:
    """What of the run was beyond an outer limit at a time that no finding covers which counts for product.

    None where there is none, or where all of it leaves the die with product that is touched by something else. A
    channel whose sensor a finding doubts has no reading then.
    """
    recipes = data.recipe_segments(run.line.name, run.t0, run.t1)
    grid = window_grid(data.source, run.line, run.t0, run.t1, COLUMNS, run.phases, recipes, MADE_IN)
    starts = grid.t0 + grid.step * np.arange(grid.code.shape[1], dtype=np.int64)
    covered = _during(starts, grid.step, [f for f in product.found if is_product(f)], run.t1)
    doubted = [f for f in run.findings if f.last.family == "sensor" and f.last.priority <= 3]
    seconds: dict[str, float] = {}
    out = np.zeros(starts.shape, dtype=bool)
    for row, key in enumerate(grid.keys):
        beyond = ((grid.code[row] == FAR_UNDER) | (grid.code[row] == FAR_OVER)) & ~covered
        beyond &= ~_during(starts, grid.step, [f for f in doubted if f.last.channel == key], run.t1)
        lasted = float(beyond.sum()) * grid.step / SECOND
        if lasted >= LEAST_S:
            seconds[key] = lasted
            out |= beyond
    if not seconds:
        return None
    at_die = [touched_span(int(at), int(at) + grid.step, product.delay) for at in starts[out]]
    inside = [(max(a, run.t0), min(b, run.t1)) for a, b in merged(at_die)]
    rest = without([(a, b) for a, b in inside if b > a], product.spans)
    kg = product.fed.over(rest)
    if not rest or kg < LEAST_TOLD_KG:
        return None
    return Unheld(tuple(sorted(seconds.items(), key=lambda pair: -pair[1])), kg, tuple(rest))


def with_unheld(packed: Sequence[Container], found: Unheld | None, fed: Fed) -> list[Container]:
    """The containers, those that no finding touches to be checked where some of what was found is in them."""
    result = []
    for one in packed:
        spans = found.spans if found is not None else ()
        inside = [(max(a, one.start), min(b, one.end)) for a, b in spans if a < one.end and b > one.start]
        if one.verdict == "clear" and inside:
            one = replace(one, verdict="check", kg_outside=fed.over(inside))
        result.append(one)
    return result


def unheld_words(found: Unheld, run: Run) -> str:
    """'Also outside an outer limit, without a finding that holds it: Z3 temperature 23 min, about 45 kg; ...'."""
    named = [f"{channel_title(run.line, key)} {duration(seconds)}" for key, seconds in found.seconds]
    more = len(named) - MOST_NAMED
    names = ", ".join(named[:MOST_NAMED]) + (say("account.more", count=str(more)) if more > 0 else "")
    key = "lot.unheld" if found.kg == found.kg else "lot.unheld_unknown"
    return say(key, names=names, mass=mass(found.kg))


def without(spans: Sequence[tuple[int, int]], held: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """What is left of spans that do not overlap, less those of `held`."""
    left = list(spans)
    for start, end in held:
        parts = [part for a, b in left for part in ((a, min(b, start)), (max(a, end), b))]
        left = [(a, b) for a, b in parts if b > a]
    return left


def _during(starts: np.ndarray, step: int, findings: Sequence[Finding], t1: int) -> np.ndarray:
    """Cells that a finding covers in some part."""
    inside = np.zeros(starts.shape, dtype=bool)
    for finding in findings:
        inside |= (starts + step > finding.last.since) & (starts < end_of(finding, t1))
    return inside
