"""How long a chart of a month takes, from the journal and from an archive behind an empty journal.

    python -m tests.benchmarks.chart_speed --days 30

24 channels at one reading a second, with single readings put in that stand far out. Everything is asked through the
data door that the pages use: what it takes to answer (readings, windows, findings, figure, JSON), how large the answer
is, and whether every one of the single readings that stand out is still in it. First picture: the door is opened anew
each time. Aims: first picture under 1 s, zoom under 150 ms, answers under 200 KB. The files are in the page cache.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from plotly.utils import PlotlyJSONEncoder

from dashboards.clock import DAY, HOUR, MINUTE, SECOND
from dashboards.data import JournalData
from dashboards.decimate import LIVE_POINTS, STILL_POINTS
from dashboards.figures.channel_chart import channel_chart
from dashboards.figures.look import look
from dashboards.pages.lot import answer
from ingest.archive.archive_writer import ArchiveWriter
from ingest.archive.place import open_place
from ingest.block import FRESH, Block, Note
from monitor.journal import Journal
from monitor.journal.with_archive import JournalWithArchive
from monitor.line import Line
from monitor.phases import PHASES
from monitor.settings_file import validate

START = 1_772_323_200 * SECOND
NAME, RECIPE = "month", "R1"
CHANNELS = 24
FIRST_AIM_S, ZOOM_AIM_S, REPLY_AIM_KB = 1.0, 0.15, 200.0
OUTSTANDING = 40
"""Single readings that stand out, spread over the whole time."""


@dataclass(frozen=True)
class Judgement:
    """What the monitor would have said: nothing."""

    phase: np.ndarray
    records: tuple = ()
    quantities: dict = None  # type: ignore[assignment]


def line_toml() -> str:
    """A line of 24 channels: zones, pressure, torque, speed."""
    zones = "".join(f'[[zone]]\nname = "Z{i}"\nkind = "barrel"\n' for i in range(1, 11))
    sensors = [("zone_temperature", f"Z{i}") for i in range(1, 11)] + [("zone_setpoint", f"Z{i}") for i in range(1, 11)]
    sensors += [("melt_pressure", "P1"), ("melt_temperature", "melt"), ("screw_speed", ""), ("torque", "")]
    told = "".join(
        f'[[sensor]]\ntag = "T{i}"\nrole = "{role}"\n' + (f'at = "{at}"\n' if at else "")
        for i, (role, at) in enumerate(sensors)
    )
    return f'format = 1\n[line]\nname = "{NAME}"\nkind = "twin-screw"\n{zones}{told}'


RECIPE_TOML = f"""
format = 1
[recipe]
name = "{RECIPE}"
[[window]]
role = "melt_pressure"
at = "P1"
target = 100
low = 90
high = 110
"""


def standing_out(days: float) -> np.ndarray:
    """Seconds from the start at which each channel has a reading that stands out; int, rising."""
    rng = np.random.default_rng(5)
    return np.sort(rng.choice(int(days * 86_400), OUTSTANDING, replace=False))


def blocks(line: Line, days: float) -> Iterator[Block]:
    """Six hours at a time: slow waves, a tenth as resolution, an hour without readings every day."""
    rng, out, n = np.random.default_rng(7), standing_out(days), 6 * 3600
    scatter = np.round(rng.normal(0, 0.6, (CHANNELS, n + 4096)), 1)
    for first in range(0, int(days * 86_400), n):
        t = np.arange(first, first + n)
        level = 100 + 3 * np.sin(t / 9_000)
        values = np.round(level + scatter[:, (shift := int(rng.integers(4096))) : shift + n], 1)
        gap = (t % 86_400 >= 40_000) & (t % 86_400 < 43_600)
        values[:, gap] = np.nan
        here = out[(out >= first) & (out < first + n)] - first
        values[:, here] = 140.0 + np.arange(OUTSTANDING)[(out >= first) & (out < first + n)]
        status = np.where(np.isnan(values), 3, FRESH).astype(np.uint8)
        notes = (Note(START, "recipe", RECIPE), Note(START, "lot", "M1")) if first == 0 else ()
        yield Block(START + first * SECOND, SECOND, line.channels, values, status, notes)


def fill(folder: Path, days: float) -> tuple[float, float]:
    """A judged journal, and an archive behind a journal that has only the line; seconds each took."""
    line = validate(Line, tomllib.loads(line_toml()), Path("line"))
    began = time.perf_counter()
    with Journal(folder / "full.sqlite") as journal:
        journal.register_line(line, line_toml(), [RECIPE_TOML])
        journal.begin(NAME, source="finished log", fingerprint="f")
        steady = PHASES.index("steady")
        for block in blocks(line, days):
            step = Judgement(np.full(block.n, steady, np.int8), quantities={})
            journal.commit(NAME, position=str(block.end), block=block, step=step)
        journal.finish(NAME, [])
    middle = time.perf_counter()
    writer = ArchiveWriter(open_place(str(folder / "archive")), NAME, lambda: "one")
    for block in blocks(line, days):
        writer.add(block)
    writer.close()
    with Journal(folder / "bare.sqlite") as journal:
        journal.register_line(line, line_toml(), [RECIPE_TOML])
    return middle - began, time.perf_counter() - middle


def asked(door: JournalData, key: str, t0: int, t1: int, points: int) -> tuple[bytes, object]:
    """What a page answers for one chart: its JSON, and what it was drawn from."""
    chart = door.chart(NAME, key, t0, t1, points)
    figure = channel_chart(chart, look("light"))
    return json.dumps(figure, cls=PlotlyJSONEncoder).encode(), chart


def lot_page(door: JournalData) -> bytes:
    """Everything the first callback of the lot's page answers: words, sheet, chart, tables, findings."""
    lot = door.lots(NAME)[-1]
    return json.dumps(answer(door, lot, {}, "light", 1384), cls=PlotlyJSONEncoder).encode()


def lost(chart: object, days: float, t0: int, t1: int) -> int:
    """How many of the readings that stand out are not in the chart."""
    out = standing_out(days)
    at = START + out * SECOND
    inside = (at >= t0) & (at < t1) & ~((out % 86_400 >= 40_000) & (out % 86_400 < 43_600))
    expected = 140.0 + np.arange(OUTSTANDING)[inside]
    # Where two fall into one bucket of a coarse chart only the higher can be shown: that one is asked for.
    trace = chart.trace  # type: ignore[attr-defined]
    width = max(SECOND, int(np.median(np.diff(trace.t))) * 2) if len(trace.t) > 2 else SECOND
    buckets: dict[int, float] = {}
    for when, value in zip(at[inside], expected, strict=True):
        buckets[int(when) // width] = max(value, buckets.get(int(when) // width, 0.0))
    highest = max(buckets.values(), default=None)
    missing = [value for value in buckets.values() if not np.isclose(trace.y, value).any()]
    assert highest is None or np.nanmax(trace.y) == highest, "the greatest reading of all is not in the chart"
    return len(missing)


def measure(make, days: float, repeats: int) -> bool:
    """Prints a table; whether every aim was met."""
    whole = int(days * DAY)
    views = [
        ("first picture, all of it", 0, whole, STILL_POINTS),
        ("zoom to a week", whole // 3, min(7 * DAY, whole // 2), STILL_POINTS),
        ("zoom to 3 days", whole // 3, min(3 * DAY, whole // 2), STILL_POINTS),
        ("zoom to 2 days", whole // 3, min(2 * DAY, whole // 2), STILL_POINTS),
        ("zoom to a day", whole // 3, DAY, STILL_POINTS),
        ("zoom to 4 hours", whole // 3, 4 * HOUR, STILL_POINTS),
        ("zoom to 10 minutes", whole // 3, 10 * MINUTE, STILL_POINTS),
        ("the last hour, live", whole - HOUR, HOUR, LIVE_POINTS),
    ]
    met = True
    door = make()
    for name, offset, length, points in views:
        t0, t1 = START + offset, START + offset + length
        times: list[float] = []
        reply, chart = b"", None
        for i in range(repeats):
            if name.startswith("first"):
                door.source.close()
                door = make()
            key = ("melt_pressure:P1", "zone_temperature:Z4", "torque")[i % 3]
            began = time.perf_counter()
            reply, chart = asked(door, key, t0, t1, points)
            times.append(time.perf_counter() - began)
        gone = lost(chart, days, t0, t1)
        aim = FIRST_AIM_S if name.startswith("first") else ZOOM_AIM_S
        kb, worst = len(reply) / 1000, max(times)
        good = worst < aim and kb < REPLY_AIM_KB and not gone
        met &= good
        shown = len(chart.trace.t)  # type: ignore[attr-defined]
        print(
            f"  {name:26} {1000 * statistics.median(times):7.0f} {1000 * worst:7.0f} {1000 * aim:7.0f}"
            f" {kb:8.0f} {shown:7} {gone:6}  {'' if good else 'MISSED'}"
        )
    whole_page = {
        "window map of all of it": lambda: door.run(NAME, START, START + whole, 600),
        "lot page, all of its answer": lambda: lot_page(door),
    }
    for name, work in whole_page.items():
        began = time.perf_counter()
        answered = work()
        took = time.perf_counter() - began
        size = f"{len(answered) / 1000:8.0f}" if isinstance(answered, bytes) else ""
        met &= took < FIRST_AIM_S
        missed = "" if took < FIRST_AIM_S else " MISSED"
        print(f"  {name:26} {1000 * took:7.0f} {'':7} {1000 * FIRST_AIM_S:7.0f} {size}{missed}")
    door.source.close()
    return met


def main() -> int:
    """Returns 1 where an aim was missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=float, default=30)
    parser.add_argument("--repeats", type=int, default=6)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        journal_s, archive_s = fill(folder, given.days)
        readings = int(given.days * 86_400) * CHANNELS
        size = (folder / "full.sqlite").stat().st_size / 1e6
        kept = sum(file.stat().st_size for file in (folder / "archive").rglob("*.parquet")) / 1e6
        print(f"{given.days:g} days, {CHANNELS} channels, {readings:,} readings")
        print(f"filled: journal {journal_s:.0f} s, {size:.0f} MB; archive {archive_s:.0f} s, {kept:.0f} MB")
        head = f"  {'':26} {'median':>7} {'worst':>7} {'aim ms':>7} {'KB':>8} {'points':>7} {'lost':>6}"
        clock = START + int(given.days * DAY) + SECOND
        doors = {
            "journal": lambda: JournalData(Journal(folder / "full.sqlite", create=False), clock=lambda: clock),
            "archive behind an empty journal": lambda: JournalData(
                JournalWithArchive(folder / "bare.sqlite", str(folder / "archive"), create=False), clock=lambda: clock
            ),
        }
        met = True
        for title, make in doors.items():
            print(f"\n{title}\n{head}")
            met &= measure(make, given.days, given.repeats)
    print("\nall aims met" if met else "\nan aim was missed")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
