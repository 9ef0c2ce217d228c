"""The list of Upkeep: parts that ask for a look in groups by how they ask, and those as usual."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.figures.findings_line import finding_look
from dashboards.legends import shapes_legend
from dashboards.pages.upkeep_detail import item_title
from dashboards.pages.upkeep_outside import outside_block
from dashboards.parts import shape_of
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_panels import left_words
from dashboards.upkeep_state import lately_words, state_words, told_words
from dashboards.urls import upkeep_url

MOST_ITEMS = 60


@dataclass(frozen=True)
class Entries:
    """How the entries of one list are written.

    several: lines in it, so that each says its own. state: of the address. out: names of parts out of service.
    """

    chosen: UpkeepItem
    several: bool
    state: Mapping[str, str]
    out: Collection[str]


def calling_list(data: JournalData, items: Sequence[UpkeepItem], entries: Entries) -> list[Any]:
    """What asks for a look, in groups by how. items: the most pressing first."""
    calling = [i for i in items if i.calls][:MOST_ITEMS]
    live = any(i.live for i in items)
    outside = outside_block(data, dict.fromkeys(i.line for i in items if i.live))
    blocks: list[Any] = [shapes_legend()] if calling else []
    blocks += outside
    if calling and calling[0].state not in ("now", "stood") and live:
        blocks.append(html.P(say("upkeep.none_found" if outside else "upkeep.none_now"), className="none-now"))
    for state, group in groupby(enumerate(calling, 1), key=lambda numbered: numbered[1].state):
        numbered = list(group)
        listed = [_entry(i, str(n), entries) for n, i in numbered]
        if state == "ended" and live:
            # Nothing there can stop a line any more: it waits, closed, beneath what is live.
            summary = html.Summary(say("upkeep.group.ended_count", count=str(len(listed))), className="group")
            blocks.append(html.Details([summary, *listed], open=any(i is entries.chosen for _, i in numbered)))
        else:
            blocks += [html.H2(say(f"upkeep.group.{state}"), className="group"), *listed]
    return blocks


def usual_list(items: Sequence[UpkeepItem], entries: Entries) -> list[Any]:
    """The parts as usual, closed unless the chosen one is among them."""
    usual = [i for i in items if not i.calls]
    if not usual:
        return []
    listed = [_entry(i, "", entries) for i in usual[:MOST_ITEMS]]
    summary = html.Summary(say("upkeep.as_usual", count=str(len(usual))))
    return [html.Details([summary, *listed], open=entries.chosen in usual, className="as-usual")]


def _entry(item: UpkeepItem, rank: str, entries: Entries) -> dcc.Link:
    finding = next(iter(item.standing), None)
    shape: list[Any] = []
    if finding is not None and finding.last.priority <= 3:
        shape = list(shape_of(finding_look(finding), spoken=True))
    clock = PlantClock(item.zone)
    lines: list[Any] = [html.Span(text, className="told") for text in told_words(item, clock)]
    how_now = state_words(item, clock)
    if how_now:
        lines.insert(0, html.Span(how_now, className="state"))
    lines.append(html.Span(lately_words(item), className="soft"))
    title = item_title(item) + (f" · {item.line}" if entries.several else "")
    away = html.Span(say("out.title"), className="left")
    return dcc.Link(
        [
            html.Span(rank, className="rank"),
            html.Span(
                [
                    html.Span(
                        [html.Strong([*shape, title]), away if item.name in entries.out else _left(item)],
                        className="entry-head",
                    ),
                    *lines,
                ],
                className="entry-words",
            ),
        ],
        href=upkeep_url(line=entries.state.get(ids.LINE, ""), item=item.name) + f"#{ids.AT_EVIDENCE}",
        className="entry on" if item is entries.chosen else "entry",
    )


def _left(item: UpkeepItem) -> html.Span:
    """How long until it stops the line, where that is known; its evidence says where it is not."""
    known = item.stop is not None or any(f.last.priority == 1 for f in item.standing)
    return html.Span(left_words(item) if known else "", className="left")
