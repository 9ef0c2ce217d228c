"""Memory of the pages over hours: is it flat while a line is watched live at one reading a second?

    python -m tests.benchmarks.soak --minutes 120 --samples soak.csv

Starts the demo at plant speed, opens the overview and the page of the running line in a browser and leaves them open.
Every --every seconds it notes the resident memory of the pages' server, of the live service and of the browser, and
what the page's scripts hold after a collection of garbage. At the end it prints, for each, the slope over the second
half and its interval: the median of slopes between pairs of samples and its 95 % interval (Theil and Sen, by
scipy.stats.theilslopes). Samples follow one another closely, so the interval is rather too narrow.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from playwright.sync_api import CDPSession, sync_playwright
from scipy.stats import theilslopes

from dashboards.urls import live_url

CHROMIUM = "/usr/bin/chromium"
LINE = "twin 4"


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


def script_mb(session: CDPSession) -> float:
    """What the scripts of a page hold, MB, garbage collected."""
    session.send("HeapProfiler.collectGarbage")
    metrics = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
    return metrics["JSHeapUsedSize"] / 2**20


def sample(demo: int, browser: int, sessions: list[CDPSession]) -> dict[str, float]:
    """One row, MB."""
    row = {"server": 0.0, "live service": 0.0}
    for process in family(demo):
        row["live service" if "demo_live" in command_of(process) else "server"] += own_mb(process)
    row["browser"] = sum(own_mb(process) for process in family(browser))
    for name, session in zip(("scripts of overview", "scripts of the line"), sessions, strict=True):
        row[name] = script_mb(session)
    return row


def address(out: Path) -> str:
    """Where the demo serves its pages; waits for it."""
    until = time.monotonic() + 180
    while time.monotonic() < until:
        if found := re.search(r"http://127\.0\.0\.1:\d+", out.read_text(encoding="utf-8")):
            return found.group()
        time.sleep(0.5)
    raise TimeoutError(out.read_text(encoding="utf-8"))


def soak(minutes: float, every_s: float, samples: Path) -> list[dict[str, float]]:
    """Runs and samples; rows are written as they come."""
    rows: list[dict[str, float]] = []
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        out = Path(folder) / "out.txt"
        command = [sys.executable, "-m", "dashboards.command_line", "demo", "--no-browser", "--port", "0"]
        with out.open("w") as file:
            demo = subprocess.Popen([*command, "--speed", "1"], stdout=file, stderr=subprocess.STDOUT)
        try:
            base = address(out)
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
            root = next(one for one in family(os.getpid()) if "chromium" in command_of(one))
            sessions = []
            for path in ("/", live_url(LINE)):
                page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
                page.goto(base + path)
                sessions.append(page.context.new_cdp_session(page))
                sessions[-1].send("Performance.enable")
            start = time.monotonic()
            with samples.open("w", newline="") as file:
                writer = None
                while (passed := time.monotonic() - start) < minutes * 60:
                    row = {"minutes": round(passed / 60, 2), **sample(demo.pid, root, sessions)}
                    rows.append(row)
                    writer = writer or csv.DictWriter(file, list(row))
                    if len(rows) == 1:
                        writer.writeheader()
                    writer.writerow({key: round(value, 2) for key, value in row.items()})
                    file.flush()
                    time.sleep(every_s)
            browser.close()
        finally:
            demo.terminate()
            demo.wait(30)
    return rows


def main() -> None:
    """Prints first, last and slope of every series."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=120.0)
    parser.add_argument("--every", type=float, default=30.0, help="seconds between samples")
    parser.add_argument("--samples", type=Path, default=Path("soak.csv"))
    given = parser.parse_args()
    rows = soak(given.minutes, given.every, given.samples)
    half = rows[len(rows) // 2 :]
    hours = np.array([row["minutes"] for row in half]) / 60
    print(f"{len(rows)} samples; slope over the second half, MB an hour, with its 95 % interval")
    for name in rows[0]:
        if name != "minutes":
            slope, _, low, high = theilslopes(np.array([row[name] for row in half]), hours, 0.95)
            first, last = rows[0][name], rows[-1][name]
            print(f"{name:22} first {first:7.1f}  last {last:7.1f}  slope {slope:+7.2f} ({low:+.2f} .. {high:+.2f})")


if __name__ == "__main__":
    main()
