"""Whether a check can be made with the line running or needs the stop, where its own words tell.

Only plain words are trusted: what opens, loosens, weighs, measures resistance or works on the cold machine needs the
stop; what is read off a display, compared, counted, heard or sampled at the die is done running. Everything else is
not sorted, and nothing is called safe by that.
"""

from __future__ import annotations

import re
from typing import Literal

CheckPlace = Literal["running", "stop", ""]

STOP = re.compile(
    r"\b(resistance|at the next (?:stop|opening|clean-out)|next stop|pulled|gauged|scale (?:zero|free)|test weight"
    r"|in the bore|sensor port|coupling|couple seated|couple type|plugs and terminal|terminals|contactor|fuse"
    r"|wraps in the cutter|screws and liners|magnet and sieve|change the filter|flow stopper|larger feed screw"
    r"|agitator(?! (?:running|turning))|isolate)\b",
    re.IGNORECASE,
)
RUNNING = re.compile(
    r"\b(display|against|rate shown|catch sample|reading|listen|count the|sight glass|heater current|strands?|pellets?"
    r"|product|recipe|lots?|neighbours|outputs?|cooling return|water in and out|noise|oil level|oil sample"
    r"|melt (?:pressure|temperature)|mode of|mode on|hand-held|from outside|from a safe place|screen age|set-points?"
    r"|logger|tag list|hopper level|dew point|agitator (?:running|turning))\b",
    re.IGNORECASE,
)


def check_place(text: str) -> CheckPlace:
    """'running', 'stop', or '' where the words do not tell. What speaks for the stop goes first."""
    if STOP.search(text):
        return "stop"
    return "running" if RUNNING.search(text) else ""
