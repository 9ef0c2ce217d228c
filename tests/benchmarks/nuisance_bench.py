"""False findings over simulated 12-hour shifts full of nuisances, alone and combined.

    python -m tests.benchmarks.nuisance_bench --shifts 200 --first-seed 1 --processes 2

Every nuisance of sample_logs/nuisances.py first has shifts of its own, over and over; the rest of the shifts mix
several. No shift has a fault, so whatever is said at priority 1 to 3 and not folded under another is false. It is
put down to the nuisance that was going on, or had ended within half an hour, when it began; one of the log lasts all
shift. Plants, their numbers and their logs are drawn as in the fault bench.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

import numpy as np

from sample_logs.draw_plant import with_cadence
from sample_logs.nuisances import NUISANCES, QUIET, Shift, able, draw_shift, second_recipe
from sample_logs.nuisances_running import HOTTER_C, RATE_PART
from sample_logs.plant import Kind
from sample_logs.simulate import simulate
from tests.benchmarks.fault_bench_cases import BenchPlant, draw_pool
from tests.benchmarks.fault_bench_judge import counts, said_in
from tests.benchmarks.fault_bench_tables import poisson_interval

NS = 1_000_000_000
SHIFT_S = 12 * 3600.0
AFTER_S = 1800.0
TOGETHER = 64
ALONE_PART = 0.65
MIXED = (4, 9)
SILENT = ("communication_gap", "store_and_forward", "controller_stale")
"""Of these it must be said that there is no data: a finding of family data is right then, not false."""


@dataclass(frozen=True)
class Task:
    """Shifts of plants of one structure. shifts: plant, nuisances, whether over and over, seed words."""

    shifts: tuple[tuple[BenchPlant, tuple[str, ...], bool, tuple[int, ...]], ...]
    logs: tuple[str, ...]


@dataclass(frozen=True)
class Said:
    """One false finding. blamed: nuisances going on; kept apart: `alone`, the only nuisance of its shift."""

    log: str
    kind: str
    alone: str
    blamed: tuple[str, ...]
    condition: str
    channel: str
    seed: tuple[int, ...]
    at_h: float


@dataclass(frozen=True)
class Judged:
    """hours by (log, alone or 'combined'), the false findings, and crashes."""

    hours: dict[tuple[str, str], float]
    said: tuple[Said, ...]
    crashes: tuple[str, ...]


def judge(task: Task) -> Judged:
    """Simulates and judges the shifts of one task."""
    drawn: list[Shift] = []
    for plant, names, over, words in task.shifts:
        drawn.append(draw_shift(np.random.default_rng(words), plant.whole, names, SHIFT_S, over_and_over=over))
    plants = [plant.whole for plant, *_ in task.shifts]
    chance = [words for *_, words in task.shifts]
    runs = simulate(plants, [shift.scenario for shift in drawn], SHIFT_S, 0, chance=chance)
    hours: Counter[tuple[str, str]] = Counter()
    said: list[Said] = []
    crashes: list[str] = []
    for log in task.logs:
        views = []
        for plant, names, _, words in task.shifts:
            view = getattr(plant, log)
            rng = np.random.default_rng([*words, 9])
            for name in names:
                change = NUISANCES[name].log
                view = change(rng, view) if change else view
            views.append(view)
        seen = runs.logged_as(views)
        for i, (plant, names, over, words) in enumerate(task.shifts):
            more = [second_recipe(views[i], HOTTER_C, RATE_PART)]
            found, crash = said_in(seen, i, more)
            crashes += [f"{crash} ({log}, {'+'.join(names)}, {words})"] if crash else []
            label = names[0] if over else "combined"
            hours[log, label] += SHIFT_S / 3600.0
            for f in (f for f in found if counts(f)):
                expected = f.last.family == "data" and set(names) & set(SILENT)
                at = (f.last.since - runs.scenarios[i].start_ns) / NS
                blamed = tuple(h.name for h in drawn[i].happenings if h.start_s - 120.0 <= at <= h.end_s + AFTER_S) or (
                    "nothing near",
                )
                if expected and set(blamed) & set(SILENT):
                    continue
                said.append(
                    Said(log, plant.whole.kind, label, blamed, f.last.condition, f.last.channel, words, at / 3600.0)
                )
    return Judged(dict(hours), tuple(said), tuple(crashes))


def tasks(shifts: int, seed: int, logs: tuple[str, ...]) -> Iterator[Task]:
    """The shifts, in batches of plants of one structure."""
    pools: dict[str, list[BenchPlant]] = {}
    for kind in get_args(Kind):
        pools[kind] = [_at_least_a_second(plant) for plant in draw_pool(10_000 + seed, kind)]
    everyone = [plant for pool in pools.values() for plant in pool]
    planned = []
    rng = np.random.default_rng([seed, 31])
    names = list(NUISANCES)
    alone = round(shifts * ALONE_PART)
    for i in range(shifts):
        kind: Kind = get_args(Kind)[int(rng.random() < 0.4)]
        if i < alone:
            name = names[i % len(names)]
            fit = [p for p in everyone if able(p.whole, NUISANCES[name])]
            same = [p for p in fit if p.whole.kind == kind] or fit
            if not same:
                continue
            planned.append((same[int(rng.integers(len(same)))], (name,), True, (seed, i)))
        else:
            plant = pools[kind][int(rng.integers(len(pools[kind])))]
            fit_names = [n for n in names if n != QUIET.name and able(plant.whole, NUISANCES[n])]
            chosen = rng.choice(fit_names, size=int(rng.integers(*MIXED)), replace=False)
            planned.append((plant, tuple(str(n) for n in chosen), False, (seed, i)))
    groups: dict[tuple[str, int], list[Any]] = {}
    for item in planned:
        groups.setdefault((item[0].whole.kind, len(item[0].whole.zones)), []).append(item)
    for members in groups.values():
        for first in range(0, len(members), TOGETHER):
            yield Task(tuple(members[first : first + TOGETHER]), logs)


def _at_least_a_second(plant: BenchPlant) -> BenchPlant:
    if plant.whole.cadence_s >= 1.0:
        return plant
    return replace(plant, **{name: with_cadence(getattr(plant, name), 1.0) for name in ("whole", "plain", "rich")})


def table(log: str, judged: Sequence[Judged]) -> str:
    """False findings by nuisance and by condition, and the rates."""
    hours: Counter[str] = Counter()
    for one in judged:
        for (of_log, label), value in one.hours.items():
            hours[label] += value * (of_log == log)
    said = [s for one in judged for s in one.said if s.log == log]
    rows = [f"== {log} logs, {sum(hours.values()) / 12:.0f} shifts of 12 h ==",
            f"{'nuisance':22} {'shifts':>6} {'false':>5} {'a shift':>8} {'95 % interval':>15}  conditions"]  # fmt: skip
    for name in (*NUISANCES, "combined"):
        if hours[name]:
            of = [s for s in said if s.alone == name]
            rows.append(_line(name, hours[name], of))
    rows += [_line("ALL ALONE", sum(hours.values()) - hours["combined"], [s for s in said if s.alone != "combined"]),
             _line("ALL", sum(hours.values()), said), ""]  # fmt: skip
    blamed = Counter(name for s in said if s.alone == "combined" for name in s.blamed)
    rows.append("in the combined shifts, going on at the time: " + _counted(blamed))
    rows.append("by condition: " + _counted(Counter(s.condition for s in said)))
    rows.append("each (condition channel: nuisances, seed, hour of the shift):")
    rows += [
        f"  {s.condition} {s.channel} on {s.kind}: {'+'.join(s.blamed) if s.alone == 'combined' else s.alone}, "
        f"{s.seed}, {s.at_h:.2f} h"
        for s in said
    ]
    return "\n".join(rows)


def _line(name: str, hours: float, said: Sequence[Said]) -> str:
    shifts = hours / 12.0
    low, high = poisson_interval(len(said), max(shifts, 1e-9))
    return (
        f"{name:22} {shifts:6.0f} {len(said):5} {len(said) / max(shifts, 1e-9):8.2f} {f'{low:.2f}..{high:.2f}':>15}  "
        f"{_counted(Counter(s.condition for s in said))}"
    )


def _counted(counter: Counter[str]) -> str:
    return ", ".join(f"{name} {count}" for name, count in counter.most_common()) or "-"


def main() -> None:
    """Run the shifts and print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--shifts", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=1)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--plain", action="store_true")
    which.add_argument("--rich", action="store_true")
    which.add_argument("--both", action="store_true", help="what is done when nothing is said")
    parser.add_argument("--processes", type=int, default=1)
    given = parser.parse_args()
    logs = ("plain",) if given.plain else ("rich",) if given.rich else ("plain", "rich")
    began, judged = time.time(), []
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for one in pool.imap_unordered(judge, tasks(given.shifts, given.first_seed, logs)):
            judged.append(one)
            print(f"\r{len(judged)} batches, {time.time() - began:.0f} s", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for log in logs:
        print(table(log, judged), end="\n\n")
    crashes = [crash for one in judged for crash in one.crashes]
    for crash in crashes:
        print(f"THE MONITOR BROKE: {crash}")
    print(f"{given.shifts} shifts in {time.time() - began:.0f} s")
    sys.exit(1 if crashes else 0)


if __name__ == "__main__":
    main()
