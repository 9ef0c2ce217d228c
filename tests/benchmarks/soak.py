"""Memory of the pages over hours: is it flat while a line is watched live at one reading a second?

    python -m tests.benchmarks.soak --minutes 120 --lived 13 --samples soak.csv

Starts the demo at plant speed, opens the overview and the page of the running line, each in a browser of its own, and
leaves them open. With --lived its line has run for that many hours before, at 600 times plant speed: the last hour of
the chart, the four hours of the map, the findings of eight hours and the changes of a shift are full from the first
sample, so that nothing rises only because there is ever more to show.

Every --every seconds it notes the memory of the pages' server, of the live service and of the browsers, and of the part
of a browser that draws the page. At the end it prints, for each, the slope after the first quarter, in which all grows
warm, and over the second half: the median of slopes between pairs of samples, and two 95 % intervals. The first is
Theil and Sen's own, as scipy.stats.theilslopes has it: it takes samples as independent, which they are not, for a heap
fills for minutes and is collected at once. The second is widened for how much neighbours resemble one another about
that line (monitor/statistics/theil_sen.py); that one is judged by.

Of the two Python processes it notes besides what they hold, as they say themselves (held_memory): what malloc has given
out and not got back, and how many blocks of the interpreter are alive. The memory the system counts for them holds what
lies free between these as well, which moves by some MB with no more being held. Eleven times it has them collect their
garbage first: those figures are what is held and nothing else.

The browsers collect their garbage when they see fit, as a person's do. An open line page rises from 110 MB just
collected to about 260 MB within its first 700 updates and stays there; a collection forced now and then would begin
that rise anew and show as a slope. So what the scripts hold, garbage collected, and what the drawing part holds right
after it, is looked at three times only: with the first sample, after a quarter, when all is warm, and with the last;
each look itself leaves 0.15 MB in the page. Up to 6 MB of it come and go: the chart library remembers the size of every
label at every place where it stood, six a second in a chart that moves on with the time, and forgets all when there are
10 000.
"""

from __future__ import annotations

import argparse
import csv
import math
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from playwright.sync_api import Playwright, sync_playwright
from scipy.stats import theilslopes

from dashboards import ids
from dashboards.command_line.demo_plant import START_NS
from dashboards.command_line.journal_place import open_journal
from dashboards.urls import live_url
from monitor.statistics.theil_sen import lag1_about_trend, theil_sen

CHROMIUM = "/usr/bin/chromium"
LINE = "twin 4"
FAST = 600
HELD = Path(__file__).parent / "held_memory"
"""With it on their path, Python processes note what they hold."""
PARTS: tuple[str, ...] = ("server", "live service")
ENOUGH_LOOKS = 5
"""For a slope; what the browsers' scripts hold is looked at three times only."""
SHORTEST_PAGE = 500
"""Letters; the overview of a single line has 1 500."""


def family(root: int) -> list[int]:
    """A process and all its descendants, by number."""
    parents: dict[int, list[int]] = {}
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text(encoding="utf-8", errors="replace").rsplit(")", 1)[1].split()
        except OSError:
            continue
        parents.setdefault(int(fields[1]), []).append(int(status.parent.name))
    found, waiting = [], [root]
    while waiting:
        found.append(waiting.pop())
        waiting += parents.get(found[-1], [])
    return found


def own_mb(process: int) -> float:
    """Memory that a process shares with no other, MB; 0 when it is gone. What it shares moves with the others."""
    try:
        text = Path(f"/proc/{process}/smaps_rollup").read_text(encoding="ascii")
    except OSError:
        return 0.0
    return sum(int(kb) for kb in re.findall(r"^Private_(?:Clean|Dirty):\s+(\d+)", text, re.MULTILINE)) / 1024


def command_of(process: int) -> str:
    """The command line of a process."""
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    except OSError:
        return ""


class Window:
    """One page in a browser of its own, as a person has it open: nothing is attached to it but for a moment."""

    def __init__(self, url: str, folder: Path) -> None:
        self.folder = folder
        flags = [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--window-size=1440,900",
            "--remote-debugging-port=0",
        ]
        command = [CHROMIUM, *flags, f"--user-data-dir={folder}", url]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def own_mb(self) -> float:
        """Memory of all its processes that they share with nobody."""
        return sum(own_mb(process) for process in family(self.process.pid))

    def page_mb(self) -> float:
        """Of it, what the process holds that draws the page and runs its scripts."""
        drawing = (process for process in family(self.process.pid) if "--type=renderer" in command_of(process))
        return sum(own_mb(process) for process in drawing)

    def script_mb(self, playwright: Playwright) -> float:
        """What the scripts of the page hold, MB, garbage collected.

        Attached for that alone, so that what an inspector keeps of the page is not in the figures. Raises ValueError
        where the page is not drawn.
        """
        port = (self.folder / "DevToolsActivePort").read_text(encoding="ascii").split()[0]
        browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        page = browser.contexts[0].pages[0]
        if len(words := page.inner_text(f"#{ids.PAGE}")) < SHORTEST_PAGE:
            raise ValueError(f"{page.url} is not drawn, so its memory says nothing; it reads: {words!r}")
        session = browser.contexts[0].new_cdp_session(page)
        session.send("Performance.enable")
        session.send("HeapProfiler.collectGarbage")
        metrics = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        browser.close()
        return metrics["JSHeapUsedSize"] / 2**20


def in_use(notes: Path, collected: bool) -> tuple[float, float, float]:
    """What a process last noted that it holds: MB from malloc, of it SQLite's, and thousands of Python's own blocks.

    After a garbage collection, waited for, where that is asked.
    """
    if collected:
        notes.with_suffix(".collect").touch()
        until = time.monotonic() + 60
        while notes.with_suffix(".collect").exists() and time.monotonic() < until:
            time.sleep(0.5)
    _, held_mb, sqlite_mb, blocks, was_collected = notes.read_text(encoding="ascii").splitlines()[-1].split(",")
    if collected and was_collected != "1":
        raise TimeoutError(f"{notes} has no row after a garbage collection")
    return float(held_mb), float(sqlite_mb), float(blocks)


def sample(
    demo: int, windows: dict[str, Window], playwright: Playwright, scripts: bool, collected: bool, notes: Path
) -> dict[str, float]:
    """One row, MB; what is held garbage collected, and the drawing part with it, only where it is asked."""
    row = dict.fromkeys(PARTS, 0.0)
    for process in family(demo):
        part = "live service" if "demo_live" in command_of(process) else "server"
        row[part] += own_mb(process)
        noted = notes / f"{process}.csv"
        row[f"in use, {part}"], row[f"SQLite, {part}"], row[f"blocks, {part}"] = in_use(noted, False)
        held_mb, sqlite_mb, blocks = in_use(noted, True) if collected else (math.nan, math.nan, math.nan)
        row[f"held, {part}"], row[f"held blocks, {part}"] = held_mb, blocks
        row[f"held but for SQLite, {part}"] = held_mb - sqlite_mb
    for name, window in windows.items():
        row[f"browser, {name}"] = window.own_mb()
        row[f"page, {name}"] = window.page_mb()
        row[f"scripts, {name}"] = window.script_mb(playwright) if scripts else math.nan
        row[f"held, {name}"] = window.page_mb() if scripts else math.nan
    return row


def address(out: Path) -> str:
    """Where the demo serves its pages; waits for it."""
    until = time.monotonic() + 180
    while time.monotonic() < until:
        if found := re.search(r"http://127\.0\.0\.1:\d+", out.read_text(encoding="utf-8")):
            return found.group()
        time.sleep(0.5)
    raise TimeoutError(out.read_text(encoding="utf-8"))


def started(folder: Path, speed: int, out: Path) -> subprocess.Popen:
    """The demo at so many times plant speed, on what is in the folder already."""
    command = [sys.executable, "-m", "dashboards.command_line", "demo", "--no-browser", "--port", "0"]
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join(path for path in (str(HELD), os.environ.get("PYTHONPATH")) if path),
        "EVENMELT_HELD_TO": str(out.parent),
        "ARROW_DEFAULT_MEMORY_POOL": "system",
    }
    with out.open("w") as file:
        return subprocess.Popen(
            [*command, "--speed", str(speed), "--data", str(folder)],
            stdout=file,
            stderr=subprocess.STDOUT,
            env=environment,
        )


def live_for(folder: Path, hours: float, out: Path) -> None:
    """Lets the line live for so many hours of its own, fast, and stops it there. Raises TimeoutError."""
    demo = started(folder, FAST, out)
    try:
        address(out)
        until = time.monotonic() + 300 + 3600 * hours / FAST * 10
        with open_journal(folder) as journal:
            while (newest := journal.newest(LINE)) is None or newest.reading_at < START_NS + hours * 3600e9:
                if time.monotonic() > until or demo.poll() is not None:
                    raise TimeoutError(f"the line did not get through {hours:g} h:\n{out.read_text(encoding='utf-8')}")
                time.sleep(1)
    finally:
        demo.terminate()
        demo.wait(60)


def soak(minutes: float, every_s: float, samples: Path, lived_hours: float = 0.0) -> list[dict[str, float]]:
    """Runs and samples; rows are written as they come."""
    rows: list[dict[str, float]] = []
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        out, data = Path(folder) / "out.txt", Path(folder) / "data"
        if lived_hours:
            live_for(data, lived_hours, out)
        demo = started(data, 1, out)
        windows: dict[str, Window] = {}
        try:
            base = address(out)
            for name, path in (("overview", "/"), ("line", live_url(LINE))):
                windows[name] = Window(base + path, Path(folder) / name)
            time.sleep(30)
            start = time.monotonic()
            with samples.open("w", newline="") as file:
                writer = None
                while (passed := time.monotonic() - start) < minutes * 60:
                    quarter = bool(rows) and rows[-1]["minutes"] < minutes / 4 <= passed / 60
                    scripts = not rows or quarter or passed + every_s + 1 >= minutes * 60
                    tenth = scripts or int(passed / minutes / 6) > int(rows[-1]["minutes"] * 10 / minutes)
                    looked = sample(demo.pid, windows, playwright, scripts, tenth, out.parent)
                    row = {"minutes": round(passed / 60, 2), **looked}
                    rows.append(row)
                    writer = writer or csv.DictWriter(file, list(row))
                    if len(rows) == 1:
                        writer.writeheader()
                    writer.writerow({key: round(value, 2) for key, value in row.items()})
                    file.flush()
                    time.sleep(every_s)
        finally:
            for window in windows.values():
                window.process.terminate()
                window.process.wait(30)
            demo.terminate()
            demo.wait(30)
    return rows


def main() -> None:
    """Prints first, last and slope of every series."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=120.0)
    parser.add_argument("--every", type=float, default=30.0, help="seconds between samples")
    parser.add_argument("--lived", type=float, default=0.0, help="hours that the line has run before")
    parser.add_argument("--samples", type=Path, default=Path("soak.csv"))
    given = parser.parse_args()
    tell(soak(given.minutes, given.every, given.samples, given.lived))


def tell(rows: list[dict[str, float]]) -> None:
    """Prints levels and slopes of every series."""
    print(
        f"{len(rows)} samples; MB, blocks in thousands; slopes an hour with their 95 % interval, taken as independent;"
    )
    print("as they are")
    for name in rows[0]:
        if name == "minutes":
            continue
        if name.startswith(("scripts", "held")):
            looks = [row for row in rows if not math.isnan(row[name])]
            print(f"{name:33} at each look: " + " ".join(f"{row[name]:.1f}" for row in looks), end="")
            late = [row for row in looks if row["minutes"] >= rows[-1]["minutes"] / 4]
            print(f"  after a quarter: {slope_words(late, name)}" if len(late) > ENOUGH_LOOKS else "")
            continue
        print(f"{name:33} first {rows[0][name]:6.1f}  last {rows[-1][name]:6.1f}", end="")
        for words, part in (("after a quarter", rows[len(rows) // 4 :]), ("second half", rows[len(rows) // 2 :])):
            print(f"  {words}: {slope_words(part, name)}", end="")
        print()


def slope_words(rows: list[dict[str, float]], name: str) -> str:
    """The slope of one series and its two intervals."""
    hours = np.array([row["minutes"] for row in rows]) / 60
    values = np.array([row[name] for row in rows])
    slope, _, low, high = theilslopes(values, hours, 0.95)
    wide = theil_sen(hours, values, lag1=lag1_about_trend(hours, values))
    return f"{slope:+.2f} ({low:+.2f}..{high:+.2f}; {wide.low:+.2f}..{wide.high:+.2f})"


if __name__ == "__main__":
    main()
