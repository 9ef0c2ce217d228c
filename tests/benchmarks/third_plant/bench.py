"""Judges the third plant's logs through the path of `evenmelt check` and counts what was right.

    python -m tests.benchmarks.third_plant.bench --seed 1 [--only FAMILY] [--share 0.2] [--workers 2]
    python -m tests.benchmarks.third_plant.bench --seed 1 --case chute_blocked.3 --keep FOLDER

Every seed is a new plant: machines, faults and what goes on around them are drawn from it. Printed by family, plain and
rich logs apart: visible cases, found (Wilson interval), first cause right, harmful, wrong zone or feeder, delay behind
what the log could first show; false findings (unfolded, priority 1 to 3) per 12 h; every miss and every false finding
with its case. `--keep` writes one case's log, line, recipe and schedule, so that `evenmelt check` can be run on it.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import multiprocessing
import os
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path

from tests.benchmarks.third_plant.cases import case_names, draw_case
from tests.benchmarks.third_plant.channels import channels
from tests.benchmarks.third_plant.judge import Judged, as_said, judge
from tests.benchmarks.third_plant.line_files import write_files
from tests.benchmarks.third_plant.log_files import write_log
from tests.benchmarks.third_plant.plant import simulate
from tests.benchmarks.third_plant.recorder import recorded, start_of
from tests.benchmarks.third_plant.tables import print_all
from tests.benchmarks.third_plant.truth import Case
from tests.benchmarks.third_plant.visible import known_minute


def write_case(seed: int, name: str, folder: Path) -> tuple[Case, Path, Path, list[Path], Path]:
    """Draw and simulate a case, put its truth down, write its files: case, log, line, recipes, schedule."""
    case = draw_case(seed, name)
    tags = channels(case.machine)
    faulty = [change for _, change in case.faulty]
    course = simulate(case.machine, case.life + faulty, case.minutes, case.seed, case.start)
    known = []
    for number, truth in enumerate(case.truths):
        others = [change for owner, change in case.faulty if owner != number]
        without = simulate(case.machine, case.life + others, case.minutes, case.seed, case.start)
        known.append(known_minute(case.machine, tags, course, without, truth))
    case.truths = [type(t)(**{**vars(t), "known_min": k}) for t, k in zip(case.truths, known, strict=True)]
    columns, keep = recorded(case, course, tags)
    log = write_log(case.machine, tags, columns, keep, start_of(case), folder)
    line, recipes, schedule = write_files(case.machine, tags, start_of(case), case.product, folder)
    truth = {
        "case": case.case, "seed": seed, "size": case.size, "story": case.story, "allowed": sorted(case.allowed),
        "start": start_of(case).isoformat(), "truths": [asdict(t) for t in case.truths],
        "faulty": [list(change) for change in faulty], "machine": asdict(case.machine),
    }  # fmt: skip
    (folder / "truth.json").write_text(json.dumps(truth, indent=1))
    return case, log, line, recipes, schedule


def run_case(task: tuple[int, str, str]) -> Judged:
    """Write, check and judge one case."""
    from dashboards.command_line.check_log import check_logs
    from dashboards.command_line.settings_given import read_settings

    seed, name, keep = task
    begun = time.perf_counter()
    with contextlib.ExitStack() as stack:
        folder = Path(keep) if keep else Path(stack.enter_context(tempfile.TemporaryDirectory()))
        folder.mkdir(parents=True, exist_ok=True)
        case, log, line, recipes, schedule = write_case(seed, name, folder)
        stack.enter_context(contextlib.redirect_stdout(io.StringIO()))
        stack.enter_context(contextlib.redirect_stderr(io.StringIO()))
        broke, findings = "", []
        try:
            findings = check_logs([log], read_settings([line], recipes, schedule), None)[0].findings
        except Exception as error:  # whatever ends a check is told as such, and the next case is run
            broke = f"{type(error).__name__}: {error}"
    said = as_said(findings, int(start_of(case).timestamp() * 1e9))
    return judge(case, said, time.perf_counter() - begun, broke)


def print_case(judged: Judged, keep: str) -> None:
    """One case with everything that was said."""
    case = judged.case
    print(f"{case.case} on {case.machine.name}, size {case.size}; allowed {sorted(case.allowed)}")
    for words in case.story:
        print(f"  {words}")
    for verdict in judged.verdicts:
        t = verdict.truth
        print(
            f"truth: {t.fault} at {'/'.join(t.at)} {t.start_min:.1f}..{t.end_min:.1f} min, known {t.known_min:.1f}; "
            f"found {verdict.found}, first cause right {verdict.cause_right}, harmful {bool(verdict.harm)}"
        )
    for s in judged.said:
        part = " (part)" if s.folded else ""
        when = f"{s.since:.1f}..{s.until:.1f} said {s.decided:.1f}"
        print(f"  P{s.priority}{part} {when} {s.condition} [{s.channel}] {s.summary}")
        print(f"      causes: {' | '.join(s.causes)}\n      evidence: {s.evidence}")
    if keep:
        more = " --recipe recipe_2.toml" if case.product else ""
        log = "log.parquet" if case.machine.dialect.shape == "parquet" else "log.csv"
        files = f"--line line.toml --recipe recipe.toml{more} --schedule schedule.csv"
        print(f"cd {keep} && evenmelt check {log} {files} --out out")


def _told(log: Judged, number: int, of: int) -> Judged:
    """The log, after a line on it for who waits."""
    words = ["found" if v.found else "missed" if v.visible else "not visible" for v in log.verdicts]
    words += [f"{len(log.false)} false"] if log.false else []
    print(f"{number}/{of} {log.case.case}: {', '.join(words) or 'quiet'}", file=sys.stderr, flush=True)
    return log


def main() -> None:
    """Run the bench and print its tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--only", default="", help="families or scenarios whose name holds this; 'clean' for clean logs"
    )
    parser.add_argument("--share", type=float, default=1.0, help="part of the cases, by chance")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--case", default="", help="one case by its name: everything that was said")
    parser.add_argument("--keep", default="", help="folder in which the files of that case stay")
    options = parser.parse_args()
    begun = time.time()
    if options.case:
        print_case(run_case((options.seed, options.case, options.keep)), options.keep)
        return
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    names = case_names(options.seed, options.only, options.share)
    tasks = [(options.seed, name, "") for name in names]
    with multiprocessing.get_context("spawn").Pool(options.workers) as pool:
        logs = [_told(log, i, len(tasks)) for i, log in enumerate(pool.imap(run_case, tasks, chunksize=1), 1)]
    print_all(logs)
    faults = sum(len(log.verdicts) for log in logs)
    spent = sum(log.seconds for log in logs)
    took = f"{time.time() - begun:.0f} s ({spent:.0f} s of work)"
    print(f"\nseed {options.seed}: {faults} faults in {len(logs)} logs, {took}")


if __name__ == "__main__":
    main()
