"""Prints what `evenmelt map` gets right, wrong and cannot tell.

`python -m tests.outside_checks.map_table [--seeds N] [--drawn N] [--wrong]`

Every sample log and, where EVENMELT_OPEN_DATA is set, the three extruders of 'multistage_line': with its own names,
with half of them scrambled, with half scrambled and the columns in any order, and with all scrambled. Then the header
lists of tests/ingest/propose/headers, names only.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterator
from pathlib import Path

from ingest.propose import propose_names
from ingest.propose.machines import machines_in
from ingest.propose.opened import open_any
from ingest.propose.propose_log import propose_sample
from ingest.propose.sample import Sample, take_sample
from tests.outside_checks.map_truth import (
    Key,
    Kind,
    Verdict,
    drawn,
    judge,
    log_of,
    sample_names,
    scrambled,
    told_by,
    truth_of,
)
from tests.outside_checks.open_data import folder

HERE = Path(__file__).parent
HEADERS = HERE.parent / "ingest" / "propose" / "headers"
WAYS = (
    ("own names", 0.0, False), ("half scrambled", 0.5, False), ("half, shuffled", 0.5, True),
    ("all scrambled", 1.0, False),
)  # fmt: skip


def cases(given_drawn: int = 0, first_seed: int = 201) -> Iterator[tuple[str, Sample, dict[str, str], dict[str, Key]]]:
    """Name, rows, units below the header and truth of every log."""
    for name in sample_names():
        opened = open_any([log_of(name)])
        yield name, take_sample(opened), opened[0].log.units, truth_of(log_of(name).parent / "line.toml")
    for number in range(given_drawn):
        for kind in ("twin-screw", "single-screw"):
            yield f"drawn {kind[:6]} {first_seed + number}", *_drawn(kind, first_seed + number)
    if (folder("multistage_line") / "line.parquet").is_file():
        opened = open_any([folder("multistage_line") / "line.parquet"])
        sample = take_sample(opened)
        for number, machine in enumerate(machines_in(sample.tags)[0][:3], start=1):
            truth = truth_of(HERE / f"multistage_m{number}.toml")
            yield f"multistage M{number}", sample.of(machine.tags), {}, truth


def _drawn(kind: Kind, seed: int) -> tuple[Sample, dict[str, str], dict[str, Key]]:
    sample, truth = drawn(kind, seed)
    return sample, {}, truth


def header_list(path: Path) -> Verdict:
    """Of one invented header list."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    proposal = propose_names([row["tag"] for row in rows], {row["tag"]: row["unit"] for row in rows if row["unit"]})
    truth = {row["tag"]: (row["role"], row["subject"]) for row in rows if row["role"]}
    return judge(told_by(proposal), truth)


def verdict(
    sample: Sample, units: dict[str, str], truth: dict[str, Key], share: float, shuffle: bool, seed: int
) -> Verdict:
    """Of one log with a share of its names scrambled."""
    changed, written, real = scrambled(sample, units, truth, share, seed, shuffle=shuffle)
    return judge(told_by(propose_sample(changed, written)), real)


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3, help="scramblings of every log")
    parser.add_argument("--drawn", type=int, default=0, help="plants drawn from seeds, beside the sample logs")
    parser.add_argument("--first-seed", type=int, default=201, help="of the drawn plants")
    parser.add_argument("--wrong", action="store_true", help="list what is wrong")
    given = parser.parse_args()
    print(f"{'log':20}" + "".join(f"{way:>24}" for way, _, _ in WAYS))
    print(" " * 20 + f"{'right wrong cannot +':>24}" * len(WAYS))
    totals = [[0, 0, 0, 0] for _ in WAYS]
    for name, sample, units, truth in cases(given.drawn, given.first_seed):
        row, said = f"{name:20}", []
        for place, (way, share, shuffle) in enumerate(WAYS):
            seeds = range(given.seeds) if share else (0,)
            found = [verdict(sample, units, truth, share, shuffle, seed) for seed in seeds]
            kinds = zip(*((v.right, v.wrong, v.cannot_tell, v.extra) for v in found), strict=True)
            counts = [sum(map(len, kind)) for kind in kinds]
            totals[place] = [a + b for a, b in zip(totals[place], counts, strict=True)]
            row += f"{'{:>9}{:6}{:6}{:3}'.format(*counts)}"
            said += [f"    {way}, {tag}: {key} called {wrong}" for v in found for tag, key, wrong in v.wrong]
        print(row)
        if given.wrong and said:
            print("\n".join(said))
    print(f"{'all':20}" + "".join("{:>9}{:6}{:6}{:3}".format(*counts) for counts in totals))
    print("\n+ = told, and not in the truth's line file\n\nheader lists, names only")
    for path in sorted(HEADERS.glob("*.csv")):
        one = header_list(path)
        print(f"{path.stem:20}{len(one.right):>9}{len(one.wrong):6}{len(one.cannot_tell):6}{len(one.extra):3}")


if __name__ == "__main__":
    main()
