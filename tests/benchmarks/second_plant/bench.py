"""Judges the second plant's logs through the path of `evenmelt check` and counts what was right.

    python -m tests.benchmarks.second_plant.bench --seed 1 [--only WORDS] [--clean 3] [--said]

Prints per family found, missed, first cause right and delay; false findings (priority 1 to 3, not folded under
another) per clean 12-hour shift by line and condition; false ones before a fault began; starved and flooded taken
for each other. Clean shifts hold ordinary life only. Answers stand in `answers.py`, cases in `cases.py`.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import tempfile
import time
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from dashboards.command_line.check_log import check_logs
from dashboards.command_line.settings_given import read_settings
from monitor.records import Finding
from tests.benchmarks.second_plant.cases import CASES, Case
from tests.benchmarks.second_plant.crew import Plan, clean_shift, cold_start_shift, fault_shift, hot_hold_shift
from tests.benchmarks.second_plant.faults import FAULTS
from tests.benchmarks.second_plant.line_files import write_files
from tests.benchmarks.second_plant.lines import LINES
from tests.benchmarks.second_plant.log_files import EPOCH_NS, write_log
from tests.benchmarks.second_plant.plant import Upset, run
from tests.benchmarks.second_plant.sensing import logged
from tests.benchmarks.second_plant.signals import SIGNALS
from tests.benchmarks.second_plant.tables import Judged, judge, print_clean, print_faults


@dataclass(frozen=True)
class Log:
    """One log to judge. case None: a clean shift."""

    line: str
    case: Case | None
    seed: int


def make(log: Log, folder: Path) -> tuple[list[Finding], Plan, int]:
    """Simulate, write and check one log: findings, what the crew did, the second at which the fault began."""
    spec, rng = LINES[log.line], np.random.default_rng(log.seed)
    upset, at = None, 0
    if log.case is None:
        plan = clean_shift(spec, rng)
    elif log.case.fault == "cold_start":
        plan = cold_start_shift(spec, rng, log.case.x)
        at = plan.doings[1][0]
    elif log.case.fault == "hot_hold":
        plan = hot_hold_shift(spec, rng, log.case.x)
        at = plan.doings[0][0]
    else:
        plan = fault_shift(spec, rng)
        at = int(rng.uniform(2.2, 3.2) * 720) * 5
        upset = Upset(FAULTS[log.case.fault](log.case.place), at, log.case.x)
    raw = run(spec, plan, upset, log.seed)
    path = write_log(log.line, logged(SIGNALS[log.line], raw, spec.cadence_s, log.seed), spec.cadence_s, folder)
    line, recipes, schedule = write_files(log.line, folder, plan.change)
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        checked = check_logs([path], read_settings([line], recipes, schedule), None)
    return checked[0].findings, plan, at


def seed_of(seed: int, words: str) -> int:
    """A seed of its own for each log, the same on every machine."""
    return (zlib.crc32(words.encode()) + 1_000_003 * seed) % 2**31


def tasks(seed: int, clean: int, only: str) -> Iterator[Log]:
    """Fault logs, then clean shifts, those whose words hold `only`."""
    for case in CASES:
        if only in case.title:
            yield Log(case.line, case, seed_of(seed, case.title))
    for name in LINES:
        for i in range(clean):
            if only in f"{name} clean":
                yield Log(name, None, seed_of(seed, f"{name} clean {i}"))


def said(finding: Finding) -> str:
    """One finding on one line, for the eyes."""
    last = finding.last
    at = (last.since - EPOCH_NS) / 1e9
    end = "" if last.until is None else f"{(last.until - EPOCH_NS) / 1e9:.0f}"
    cause = last.cause_texts[0] if last.causes else ""
    part = " (part)" if last.part_of else ""
    return (
        f"  P{last.priority}{part} {at:.0f}..{end} said {(finding.first_decided_at - EPOCH_NS) / 1e9:.0f}"
        f" {last.condition} [{last.channel}] {last.summary} || {cause} || "
        + "; ".join(item.sentence() for item in last.evidence)
    )


def main() -> None:
    """Run the bench and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--clean", type=int, default=3, help="clean shifts of each line")
    parser.add_argument("--only", default="", help="logs whose words hold this")
    parser.add_argument("--said", action="store_true", help="print the findings of every log")
    parser.add_argument("--down-to", type=int, default=3, help="down to this priority")
    options = parser.parse_args()
    begun, faults, shifts = time.time(), list[Judged](), list[Judged]()
    for log in tasks(options.seed, options.clean, options.only):
        with tempfile.TemporaryDirectory() as folder:
            findings, plan, at = make(log, Path(folder))
        judged = judge(log.line, log.case, findings, at, plan)
        (shifts if log.case is None else faults).append(judged)
        if options.said:
            print(f"{judged.title} began {at}; crew {sorted(plan.doings)}")
            for finding in findings:
                if finding.last.priority <= options.down_to:
                    print(said(finding))
    print_faults(faults)
    print_clean(shifts)
    print(f"{len(faults)} fault logs, {len(shifts)} clean shifts, {time.time() - begun:.0f} s")


if __name__ == "__main__":
    main()
