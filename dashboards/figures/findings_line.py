"""The findings time line: one bar a finding, from when it began to when it ended."""

from __future__ import annotations

from collections.abc import Sequence

from dashboards.consequences import with_consequences
from dashboards.figures.marks import mark
from dashboards.figures.svg import stroke, touchable, words
from dashboards.figures.text_width import fitted
from dashboards.figures.time_axis import TimeAxis
from dashboards.names import channel_title, condition_title, cut, priority_word
from dashboards.texts import say
from dashboards.views import WindowGrid, end_of
from monitor.line import Line
from monitor.records import Finding

ROW = 21.0
MOST = 14


def finding_look(finding: Finding) -> str:
    """'under', 'over' or 'other': the side its first measured fact is on, where it has one."""
    for fact in finding.last.evidence:
        if fact.value is None or fact.expected is None or fact.value == fact.expected:
            continue
        if fact.channel in ("", finding.last.channel):
            return "under" if fact.value < fact.expected else "over"
    return "other"


def ordered(findings: Sequence[Finding]) -> list[Finding]:
    """Most pressing first: open, causes before what they explain, priority, then the earliest.

    What follows from a finding that is not here counts as itself, and so does priority 1.
    """
    here = {f.last.finding for f in findings}

    def follows(f: Finding) -> bool:
        return f.last.part_of in here and f.last.priority > 1

    return sorted(findings, key=lambda f: (not f.open, follows(f), f.last.priority, f.last.since))


def findings_lane(
    line: Line, findings: Sequence[Finding], axis: TimeAxis, top: float, grid: WindowGrid | None = None
) -> tuple[list[str], float]:
    """Bars from `top` down in the order they began, thicker for higher priority; and where the lane ends.

    What only follows from another finding is counted behind that one's name.
    """
    tops = with_consequences(list(findings))
    chosen = sorted(tops, key=lambda pair: (pair[0].last.priority, pair[0].last.since))[:MOST]
    parts: list[str] = []
    for i, (finding, followers) in enumerate(sorted(chosen, key=lambda pair: pair[0].last.since)):
        parts.append(_bar(line, finding, len(followers), axis, top + i * ROW))
    bottom = top + len(chosen) * ROW
    if len(tops) > MOST:
        parts.append(words(axis.left, bottom + 14, say("findings.more", count=str(len(tops) - MOST)), "soft small"))
        bottom += 20
    return parts, bottom


LETTER, SIGN, LEAST_LABEL = 7.2, 24.0, 110.0
"""Pixels: of a letter, of the mark before a label, and below which a label is no use beside its bar."""


def _bar(line: Line, finding: Finding, followers: int, axis: TimeAxis, top: float) -> str:
    last = finding.last
    look = finding_look(finding)
    end = end_of(finding, axis.t1)
    x0, x1 = axis.x(last.since), axis.x(max(end, last.since))
    x1 = max(x1, x0 + 3)
    y = top + ROW / 2
    part = bool(last.part_of)
    ink = "soft" if part else "ink"
    more = " " + say("findings.followers", count=str(followers)) if followers else ""
    title = cut(f"{channel_title(line, last.channel)}: {condition_title(last.condition)}", 64 - len(more)) + more
    bar = stroke([(x0, y), (x1, y)], f"span {look} p{4 if part else last.priority}")
    # Beside the bar, on the side with room for all of it, else on the roomier one as far as it goes.
    right, left = axis.width - 10 - x1, x0 - axis.left
    fits_right = right >= len(title) * LETTER + SIGN
    room = (right if fits_right or right >= left else left) - SIGN
    title = cut(title, int(room / LETTER)) if room >= LEAST_LABEL else title
    if room < LEAST_LABEL:
        # No room beside it: the bar lies below its label, which takes the width of the lane.
        title = cut(title, int((axis.right - axis.left - SIGN) / LETTER))
        bar = stroke([(x0, y + 9), (x1, y + 9)], f"span {look} p3")
        text, sign = words(axis.left + 16, y + 1.5, title, f"small {ink}"), mark(axis.left + 6, y - 3, look, 11)
    elif fits_right or right >= left:
        text, sign = words(x1 + 20, y + 4.5, title, f"small {ink}"), mark(x1 + 11, y, look, 11)
    else:
        text, sign = words(x0 - 20, y + 4.5, title, f"small {ink}", "end"), mark(x0 - 10, y, look, 11)
    said = say("findings.part") if part else priority_word(last.priority)
    name = words(axis.left - 10, y + 4.5, fitted(said, axis.left - 14), "soft small", "end")
    label = f"{priority_word(last.priority)}: {last.summary}"
    return touchable(last.channel, label, (2, top, axis.right - 2, ROW), name, bar, sign, text, on=False)
