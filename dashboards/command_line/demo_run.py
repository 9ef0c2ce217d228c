"""Runs the demo: fills a journal with finished lots, lets one line go on live, serves the pages, cleans up."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from dashboards.command_line.demo_data import fill
from dashboards.command_line.journal_place import open_journal
from dashboards.command_line.memory_returned import return_memory
from dashboards.command_line.pages_server import refuse_taken, served
from monitor.journal import Journal
from monitor.live_clock import StopRequest

LIVE_MODULE = "dashboards.command_line.demo_live"
LIVE_LINE = "twin 4"
ENDING_S = 5.0
STARTING_S = 20.0


def run_demo(port: int, speed: float, seed: int, data: Path | None, *, browser: bool) -> None:
    """Until Ctrl-C or a polite kill. Raises Told when the port is taken."""
    stop = StopRequest().on_signals()
    refuse_taken(port)
    # Before the logs are read: what that takes would stay with the server.
    return_memory()
    with _folder(data) as folder:
        print("Evenmelt demo: reading the sample logs of the invented plant ...", flush=True)
        if not fill(folder, stop):
            return
        from dashboards.app import create_app
        from dashboards.command_line.demo_data import fill_lines
        from dashboards.data import JournalData
        from dashboards.workshop.places import Places

        places = Places(folder, fill_lines(folder / "lines"))
        with open_journal(folder) as journal, live_part(folder, speed, seed) as live:
            # Before anything is shown: the live service brings a fuller line file and recipe, and no page may change
            # its rows under its reader.
            _wait_for_life(stop, live, journal)
            app = create_app(JournalData(journal, clock=plant_now(journal, LIVE_LINE)), places=places)
            with served(app, port) as address:
                print(f"The pages are at {address}  ({LIVE_LINE} runs {speed:g} times as fast as a plant)")
                print("Ctrl-C ends the demo.", flush=True)
                if browser:
                    webbrowser.open(address)
                _wait(stop, live)


def _wait(stop: StopRequest, live: subprocess.Popen) -> None:
    while not stop.wait(1.0):
        if live.poll() is not None:
            print("The live line has ended; the pages stay. Ctrl-C ends the demo.", file=sys.stderr, flush=True)
            while not stop.wait(3600):
                pass


def _wait_for_life(stop: StopRequest, live: subprocess.Popen, journal: Journal) -> None:
    """So that nobody's first sight of the live line is that its data have stopped."""
    began_ns, until = time.time_ns(), time.monotonic() + STARTING_S
    while live.poll() is None and time.monotonic() < until:
        newest = journal.newest(LIVE_LINE)
        if journal.source(LIVE_LINE) == "live" and newest is not None and newest.written_at >= began_ns:
            return
        if stop.wait(0.2):
            return


@contextmanager
def _folder(data: Path | None) -> Iterator[Path]:
    if data is not None:
        data.mkdir(parents=True, exist_ok=True)
        yield data
        return
    folder = Path(tempfile.mkdtemp(prefix="evenmelt-demo-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def live_part(folder: Path, speed: float, seed: int) -> Iterator[subprocess.Popen]:
    """The live service as a process of its own; it ends with this one."""
    child = subprocess.Popen([sys.executable, "-m", LIVE_MODULE, str(folder), str(speed), str(seed)])
    try:
        yield child
    finally:
        child.terminate()
        try:
            child.wait(ENDING_S)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def plant_now(journal: Journal, line: str) -> Callable[[], int]:
    """The clock of a plant that runs faster than the wall's: its newest reading, and the time since then.

    So the pages show the age of the newest reading as a person sitting before them sees it.
    """

    def now_ns() -> int:
        newest = journal.newest(line)
        wall_ns = time.time_ns()
        return wall_ns if newest is None else newest.reading_at + max(0, wall_ns - newest.written_at)

    return now_ns
