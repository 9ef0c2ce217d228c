"""What is due though nothing failed: a screen at the kilograms of those before it, a screw that shows signs of wear."""

from __future__ import annotations

import math
from statistics import median
from weakref import WeakKeyDictionary

from dashboards.clock import DAY
from dashboards.data import JournalData
from dashboards.held_words import mass
from dashboards.load_history import screens_of
from dashboards.run_summaries import run_summaries, wear_of
from dashboards.texts import say
from monitor.line import Line

DUE_SHARE = 0.95
"""Of the kilograms the screens before carried; common practice, no source."""

MOST_SCREENS = 4

_signs: WeakKeyDictionary[object, dict[str, tuple[tuple[int, int], tuple[str, ...]]]] = WeakKeyDictionary()


def screen_due(data: JournalData, line: Line, key: str, start: int, end: int) -> str:
    """That the screen has carried what the ones before it had when they were changed; '' where it has not."""
    screens = screens_of(data, line, key, start, end)[1]
    before = [s.kg for s in screens[1:-1] if s.kg > 0][-MOST_SCREENS:]
    if not before or math.isnan(screens[-1].kg):
        return ""
    usual = median(before)
    if screens[-1].kg < DUE_SHARE * usual:
        return ""
    return say("upkeep.due.screen", kg=mass(screens[-1].kg), usual=mass(usual))


def wear_due(data: JournalData, line: Line, end: int) -> str:
    """Which signs of wear its runs show for sure, in a sentence; '' where none."""
    signs = wear_signs(data, line, end)
    return say("upkeep.due.wear", signs=", ".join(say(f"upkeep.wear.{sign}") for sign in signs)) if signs else ""


def wear_signs(data: JournalData, line: Line, end: int) -> tuple[str, ...]:
    """Those signs, see `monitor.wear`. Looked at anew once a day and with every lot."""
    lots = data.lots(line.name)
    kept = _signs.setdefault(data.source, {})
    asked = (len(lots), end // DAY)
    if line.name not in kept or kept[line.name][0] != asked:
        found = wear_of(line, run_summaries(data, line.name))
        kept[line.name] = (asked, tuple(sign.sign for sign in found if sign.certain))
    return kept[line.name][1]
