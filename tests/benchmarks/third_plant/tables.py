"""What the bench prints."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np

from tests.benchmarks.third_plant.judge import Judged, Said, Verdict

SHIFT_H = 12.0


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson score interval of a proportion."""
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return max(0.0, (middle - half) / (1 + z * z / n)), min(1.0, (middle + half) / (1 + z * z / n))


def print_all(logs: Sequence[Judged]) -> None:
    """Tables by family, by size, clean hours, then everything that was not as it should be."""
    verdicts = [v for log in logs for v in log.verdicts]
    if verdicts:
        print(
            "\nfamily         plain: n  found (95 %)        1st cause harm chan  med.delay min  | rich: the same"
            " | not visible"
        )
        for family in (*sorted({v.family for v in verdicts}), "all"):
            part = [v for v in verdicts if family in ("all", v.family)]
            hidden = sum(not v.visible for v in part)
            print(f"{family:13} {_row(v for v in part if not v.rich)} | {_row(v for v in part if v.rich)} | {hidden:3}")
        for size in "SML":
            print(f"size {size}        {_row(v for v in verdicts if v.size == size)}   (plain and rich)")
    for log in logs:
        if log.broke:
            print(f"BROKE {log.case.case} [{log.case.machine.name}] {log.broke}")
    _clean(logs)
    _wrong(verdicts)
    print("\nfalse findings (unfolded, priority 1 to 3; clean logs, and ahead of the fault in the others)")
    for log in logs:
        for item in log.false:
            print(f"  {log.case.case} [{log.case.machine.name}] {_said(item)} <{_doing(log, item)}>")


def _row(verdicts: Iterable[Verdict]) -> str:
    part = [v for v in verdicts if v.visible]
    found = [v for v in part if v.found]
    low, high = wilson(len(found), len(part))
    delay = f"{np.median([v.delay_min for v in found]):5.1f}" if found else "    -"
    return (
        f"{len(part):4} {len(found):4} ({low:.2f}..{high:.2f}) {sum(v.cause_right for v in found):6} "
        f"{sum(bool(v.harm) for v in part):6} {sum(v.wrong_channel for v in part):4} {delay:>8}  "
    )


def _clean(logs: Sequence[Judged]) -> None:
    for words, wanted in (("clean logs", True), ("ahead of faults", False)):
        for rich in (False, True):
            part = [log for log in logs if (log.case.family == "clean") is wanted and log.case.machine.rich is rich]
            hours, count = sum(log.watched_h for log in part), sum(len(log.false) for log in part)
            if hours:
                kind = "rich " if rich else "plain"
                print(f"{words:16} {kind} {hours:6.0f} h  false {count:3}  = {count / hours * SHIFT_H:.2f} per 12 h")
    names = Counter(item.condition for log in logs for item in log.false)
    print("false by condition:", ", ".join(f"{n} {name}" for name, n in names.most_common()) or "none")


def _wrong(verdicts: Sequence[Verdict]) -> None:
    for title, chosen in (
        ("missed", [v for v in verdicts if v.visible and not v.found and not v.note]),
        ("only a note", [v for v in verdicts if v.visible and not v.found and v.note]),
        ("first cause wrong", [v for v in verdicts if v.visible and v.found and not v.cause_right]),
        ("harmful", [v for v in verdicts if v.visible and v.harm]),
        ("late by more than 15 min", [v for v in verdicts if v.visible and v.found and v.delay_min > 15]),
        ("not visible, yet said", [v for v in verdicts if not v.visible and v.found]),
        ("not visible", [v for v in verdicts if not v.visible and not v.found]),
    ):
        print(f"\n{title}: {len(chosen)}")
        for v in chosen:
            t = v.truth
            print(
                f"  {v.case} {v.fault} {v.size} [{v.machine}, {'rich' if v.rich else 'plain'}] {'/'.join(t.at)} "
                f"{t.start_min:.0f}..{t.end_min:.0f} min, known {t.known_min:.1f}; {v.lead}"
            )
            for words in (
                v.harm if title == "harmful" else v.others[:5] if title in ("missed", "first cause wrong") else ()
            ):
                print(f"      {words[:170]}")


def _said(item: Said) -> str:
    when = f"P{item.priority} {item.since:.0f}..{item.until:.0f} said {item.decided:.0f}"
    return f"{when} {item.condition} [{item.channel}] {item.summary}"


def _doing(log: Judged, item: Said) -> str:
    """What was done last, within the hour."""
    told = [words for words in log.case.story if words[0].isdigit()]
    near = [w for w in told if 0 <= item.since - float(w.split(" ", 1)[0]) <= 60]
    return "; ".join(near[-2:])
