"""Runs the live service on a log that grows."""

from __future__ import annotations

import signal
from collections.abc import Callable
from pathlib import Path

from dashboards.clock import PlantClock
from dashboards.command_line.holds_told import mapping_with_holds
from dashboards.command_line.journal_place import open_journal
from dashboards.command_line.settings_given import Settings
from dashboards.command_line.told import Told
from monitor.core import Monitor
from monitor.live import CannotGoOn, run_live
from monitor.live_clock import StopRequest, WallClock
from monitor.live_growing import GrowingLog


def watch_log(log: Path, settings: Settings, data: Path, *, fresh: bool, say: Callable[[str], None]) -> None:
    """Watch until Ctrl-C or a polite kill; `say` is told where things stand."""
    line, schedule = settings.lines[0], settings.schedules[0]
    clock = WallClock()
    if not log.exists():
        raise Told(f"{log}: there is no such file or folder. Name the log that is being written.")
    with open_journal(data, create=True) as journal:
        journal.register_line(line, settings.line_texts[0], settings.recipe_texts, schedule)
        mapping, holds = mapping_with_holds([log], line)
        monitor = Monitor(line.with_holds(mapping), settings.recipes, schedule)
        source = GrowingLog(log, mapping, clock=clock, report=say)
        end_ns = journal.resume(line.name).end_ns
        plant = PlantClock(line.line.time_zone)
        going_on = f", going on from {plant.day_minute(end_ns)} {plant.offset_text(end_ns)}" if end_ns else ""
        stop = StopRequest()
        before = (signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM))
        stop.on_signals()  # before anything is said: who reads that it watches may end it at once
        try:
            say(f"{line.name}: watching {log}{going_on}. Ctrl-C ends it.")
            for said in holds:
                say(said)
            run_live(source, monitor, journal, clock=clock, stop=stop, fresh=fresh, report=say)
        except CannotGoOn as error:
            raise Told(f"{error}\nWith --fresh it judges anew from here on.") from None
        finally:
            signal.signal(signal.SIGINT, before[0])
            signal.signal(signal.SIGTERM, before[1])
        say(f"{line.name}: ended. Started again, it goes on from here.")
