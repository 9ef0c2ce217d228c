"""What the bench prints: found with intervals, delays, causes, false findings, the starved and flooded matrix."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence

import numpy as np

from sample_logs.faults import FAULTS
from tests.benchmarks.fault_bench_answers import ANSWERS
from tests.benchmarks.fault_bench_judge import Clean, Outcome
from tests.benchmarks.fault_bench_window import PACES, pace_of

HEAD = (
    f"{'':30} {'n':>4} {'not vis':>7} {'unwatched':>9} {'found':>5} {'95 % interval':>13} {'note':>4} "
    f"{'delay s':>8} {'possible':>8} {'excess':>7} {'on-delay':>8} {'beyond':>7} "
    f"{'1st cause':>9} {'of found':>8} {'channel':>8}"
)


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson score interval of a proportion."""
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return max(0.0, middle - half), min(1.0, middle + half)


def poisson_interval(count: int, exposure: float) -> tuple[float, float]:
    """95 % interval of a rate (Garwood 1936): chi-square quantiles over twice the exposure."""
    from scipy.stats import chi2

    low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    return float(low) / exposure, float(chi2.ppf(0.975, 2 * count + 2)) / 2 / exposure


def row(name: str, cases: Sequence[Outcome]) -> str:
    """One line: what was visible, how much of it was found, when, and whether the first word was right."""
    visible = [o for o in cases if math.isfinite(o.possible_s)]
    hits = [o for o in visible if o.found]
    low, high = wilson(len(hits), len(visible))
    delay = _median(o.delay_s for o in hits)
    possible = _median(o.possible_s for o in hits)
    excess = _median(max(o.delay_s - o.possible_s, 0.0) for o in hits)
    # What the rule must wait for belongs to what was possible, as dead time and lag do.
    waits = _median(o.on_delay_s for o in hits)
    beyond = _median(max(o.delay_s - o.possible_s - o.on_delay_s, 0.0) for o in hits)
    first = sum(o.first_right for o in visible)
    found_first = sum(o.first_right for o in hits)
    right = sum(o.channel_right for o in hits)
    unwatched = sum(not o.watched for o in visible)
    return (
        f"{name:30} {len(visible):4} {len(cases) - len(visible):7} {unwatched:9} {len(hits):5} "
        f"{f'{low:.2f}..{high:.2f}':>13} {sum(o.note_only for o in hits):4} {delay} {possible} "
        f"{excess:>7} {waits} {beyond:>7} "
        f"{_part(first, len(visible)):>9} {_part(found_first, len(hits)):>8} {_part(right, len(hits)):>8}"
    )


def _median(values: Iterable[float]) -> str:
    found = [v for v in values if math.isfinite(v)]
    return f"{np.median(found):8.0f}" if found else f"{'-':>8}"


def _part(hits: int, n: int) -> str:
    return f"{100 * hits / n:.0f} %" if n else "-"


def tables(log: str, outcomes: Sequence[Outcome], cleans: Sequence[Clean]) -> str:
    """Everything for one kind of log."""
    of = [o for o in outcomes if o.log == log]
    rows = [f"== {log} logs ==", HEAD]
    rows += _by(of, lambda o: FAULTS[o.fault].family, "family")
    rows += _by(of, lambda o: o.fault, "fault")
    rows += _by(of, lambda o: f"{o.size}", "size")
    rows += _by(of, lambda o: o.kind, "line")
    rows += ["-- by pace", *(row(pace, [o for o in of if pace_of(o.fault) == pace]) for pace in PACES)]
    rows += [row("medium and large", [o for o in of if o.size in ("medium", "large")])]
    rows += [row("ALL", of), "", *_before_the_window(of), "", *_missed(of), "", *_matrix(of), "", *_false(log, cleans)]
    return "\n".join(rows)


def _by(of: Sequence[Outcome], key: Callable[[Outcome], str], title: str) -> list[str]:
    names = sorted({key(o) for o in of}, key=lambda n: list(FAULTS).index(n) if n in FAULTS else -1)
    return [f"-- by {title}", *(row(name, [o for o in of if key(o) == name]) for name in names)]


def _before_the_window(of: Sequence[Outcome]) -> list[str]:
    """Of the visible cases that leave a recipe window: how many were said before, by pace."""
    head = f"{'said before a window is left':30} {'inner':>7} {'said':>5} {'outer':>7} {'said':>5}"
    rows = [f"{head} {'none left':>14} {'found':>5}"]
    for pace in PACES:
        cases = [o for o in of if pace_of(o.fault) == pace and math.isfinite(o.possible_s)]
        inner, outer = ([o for o in cases if math.isfinite(getattr(o, ring))] for ring in ("inner_s", "outer_s"))
        never = [o for o in cases if not math.isfinite(o.inner_s)]
        rows.append(
            f"{pace:30} {len(inner):7} {sum(o.delay_s <= o.inner_s for o in inner):5} "
            f"{len(outer):7} {sum(o.delay_s <= o.outer_s for o in outer):5} {len(never):14} "
            f"{sum(o.found for o in never):5}"
        )
    late = [o for o in of if pace_of(o.fault) == "slow" and o.delay_s > o.outer_s and math.isfinite(o.possible_s)]
    said = (f"{o.fault} {_name(o)} ({o.delay_s:.0f} s, left at {o.outer_s:.0f} s)" for o in late)
    return [*rows, f"slow ones said after an outer limit was passed: {'; '.join(said) or 'none'}"]


def _missed(of: Sequence[Outcome]) -> list[str]:
    rows = ["missed, and first words that were wrong (seed.plant size: what was said):"]
    for fault in FAULTS:
        missed = [o for o in of if o.fault == fault and math.isfinite(o.possible_s) and not o.found]
        wrong = [o for o in of if o.fault == fault and o.found and o.first and not o.first_right]
        if missed:
            rows.append(
                f"  {fault} missed: "
                + "; ".join(
                    f"{_name(o)}: {'+'.join(o.said) or 'nothing'}{'' if o.watched else ', unwatched'}" for o in missed
                )
            )
        if wrong:
            rows.append(
                f"  {fault} first word: " + "; ".join(f"{_name(o)}: {o.first} ({o.first_cause})" for o in wrong)
            )
    return rows


def _name(o: Outcome) -> str:
    return f"{o.seed}.{o.kind[0]}{o.plant} {o.size}"


def _matrix(of: Sequence[Outcome]) -> list[str]:
    """Starved, flooded, neither: truth by row, first of the two words said by column, visible cases only.

    'both' is a finding that names both and says that both fit: the wrong one is not claimed.
    """
    truths, said = ("starved", "flooded", "neither"), ("starved", "flooded", "both", "neither")
    counts = Counter((ANSWERS[o.fault].fed, o.fed) for o in of if math.isfinite(o.possible_s))
    rows = ["truth \\ said  " + "".join(f"{name:>10}" for name in said)]
    rows += [f"{truth:14}" + "".join(f"{counts[truth, name]:10}" for name in said) for truth in truths]
    for truth in truths[:2]:
        for name in said[:2]:
            if truth != name:
                seeds = [
                    f"{o.fault} {_name(o)}" for o in of
                    if ANSWERS[o.fault].fed == truth and o.fed == name and math.isfinite(o.possible_s)
                ]  # fmt: skip
                rows.append(f"{truth} called {name}: {', '.join(seeds) or 'none'}")
    return rows


def _false(log: str, cleans: Sequence[Clean]) -> list[str]:
    rows = []
    for kind in sorted({c.kind for c in cleans}):
        of = [c for c in cleans if c.log == log and c.kind == kind]
        hours = sum(c.hours for c in of)
        false = [f"{name} ({c.seed}.{c.plant})" for c in of for name in c.false]
        low, high = poisson_interval(len(false), hours / 12.0)
        rows.append(
            f"false findings, {kind}: {len(false)} in {hours:.0f} h free of faults, {12 * len(false) / hours:.2f} "
            f"({low:.2f}..{high:.2f}) a 12 h shift: {', '.join(false) or 'none'}"
        )
    return rows
