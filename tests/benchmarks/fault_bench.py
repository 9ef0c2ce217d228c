"""Found, missed, delay, first cause and false findings on invented lines whose numbers are drawn at random.

    python -m tests.benchmarks.fault_bench --repeats 1 --first-seed 1 --both --processes 2

Each seed draws a pool of twin-screw and single-screw plants; every fault of the catalogue is put on three of them,
once small, once medium, once large, among everyday nuisances, and judged in one go with the settings as committed,
from a plain and from a rich log of the same run. The same plants also run free of faults: that gives the false
findings, and (same noise) the moment when a fault first stands out of the noise of what is logged. A fault that
never does is 'not visible' and not counted as missed. What answers a fault is written in fault_answers.toml.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from typing import get_args

from sample_logs.faults import FAULTS
from sample_logs.plant import Kind
from tests.benchmarks.fault_bench_answers import ANSWERS
from tests.benchmarks.fault_bench_cases import Batch, batches, draw_cases, draw_pool
from tests.benchmarks.fault_bench_judge import Clean, Outcome, judge_batch
from tests.benchmarks.fault_bench_tables import tables


def work(seeds: range, names: tuple[str, ...], logs: tuple[str, ...]) -> Iterator[tuple[Batch, tuple[str, ...]]]:
    """Every batch of the bench."""
    for seed in seeds:
        for kind in get_args(Kind):
            wanted = tuple(name for name in names if kind in FAULTS[name].lines)
            if wanted:
                pool = draw_pool(seed, kind)
                for batch in batches(pool, draw_cases(seed, kind, pool, wanted)):
                    yield batch, logs


def judged(item: tuple[Batch, tuple[str, ...]]) -> tuple[list[Outcome], list[Clean]]:
    """One batch, for a worker process."""
    return judge_batch(*item)


def main() -> None:
    """Run the bench and print its tables; --out writes every outcome as JSON lines."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--repeats", type=int, default=1, help="seeds; each gives three cases a fault and line kind")
    parser.add_argument("--first-seed", type=int, default=1)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--plain", action="store_true")
    which.add_argument("--rich", action="store_true")
    which.add_argument("--both", action="store_true", help="what is done when nothing is said")
    parser.add_argument("--fault", nargs="+", default=[], metavar="NAME")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--out", default="")
    given = parser.parse_args()
    unknown = [name for name in given.fault if name not in FAULTS]
    if unknown:
        parser.error(f"no fault {', '.join(unknown)}; there are {', '.join(FAULTS)}")
    names = tuple(given.fault or ANSWERS)
    logs = ("plain",) if given.plain else ("rich",) if given.rich else ("plain", "rich")
    outcomes: list[Outcome] = []
    cleans: list[Clean] = []
    began = time.time()
    seeds = range(given.first_seed, given.first_seed + given.repeats)
    with multiprocessing.get_context("spawn").Pool(given.processes) as pool:
        for found, clean in pool.imap(judged, work(seeds, names, logs)):
            outcomes += found
            cleans += clean
            print(f"\r{len(outcomes)} judged, {time.time() - began:.0f} s", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    if given.out:
        with open(given.out, "w", encoding="utf-8") as out:
            out.writelines(json.dumps(asdict(outcome)) + "\n" for outcome in (*outcomes, *cleans))
    for log in logs:
        print(tables(log, outcomes, cleans), end="\n\n")
    crashes = Counter(item.crash for item in (*outcomes, *cleans) if item.crash)
    for crash, count in crashes.most_common():
        print(f"THE MONITOR BROKE {count} times: {crash}")
    print(f"{len(outcomes)} cases and {len(cleans)} runs free of faults judged in {time.time() - began:.0f} s")
    sys.exit(1 if crashes else 0)


if __name__ == "__main__":
    main()
