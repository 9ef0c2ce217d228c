"""English texts of the head of the live page, and of what it does not offer."""

from __future__ import annotations

LIVE: dict[str, str] = {
    "silent.word": "No answer",
    "silent.last": "The last answer of the server came at {at}. What follows is old: it is as it was then.",
    "silent.do": "Look at the line's own panel, and reload this page.",
    "verdict.stopped": "Stopped",
    "reason.stands": "The line stands since {since}.",
    "reason.stands_open": "Open: {summary}.",
    "head.check_of": "{check} ({summary})",
    "head.out": "{title} {value}, limit {limit}",
    "room.short": "No room to go faster: {title} cannot hold its rate, {rate} of {wanted} {u_kg_h}.",
    "room.outside": "No room to go faster while {title} is outside its window.",
    "room.act": "No room to go faster while this is open: {summary}.",
}
