"""What repairs did to a part: each of its key figures before the finding, during it, and after the repair."""

from __future__ import annotations

from dataclasses import dataclass

from dashboards.clock import DAY
from dashboards.data import JournalData
from dashboards.key_figures import key_figures
from dashboards.names import difference, figure, number, shown_figure, unit_inside, unit_known, unit_of, with_unit
from dashboards.repair_effect import Effect, effect
from dashboards.shown_units import shown_unit, shown_value
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from monitor.line import Line

REACH_NS = 14 * DAY
"""How far back before a finding its figures are looked at."""


@dataclass(frozen=True)
class Repair:
    """One repair somebody said. told: (name and key of a figure, what became of it)."""

    at: int
    who: str
    text: str
    told: tuple[tuple[str, str, Effect], ...]


def repairs(data: JournalData, item: UpkeepItem) -> list[Repair]:
    """Repairs of this part's findings, the newest first. A later repair ends what counts as after an earlier one."""
    first, end = data.span(item.line)
    since = {f.last.finding: f.last.since for f in item.findings}
    done = sorted(
        (a for a in data.actions(item.line) if a.kind == "repaired" and a.finding in since), key=lambda a: a.at_ns
    )
    found = []
    for i, action in enumerate(done):
        until = min(end, done[i + 1].at_ns) if i + 1 < len(done) else end
        begun = min(since[action.finding], action.at_ns)
        figures = key_figures(data, item, max(first, begun - REACH_NS), until)
        told = tuple((f.name, f.key, effect(f.t, f.y, begun, action.at_ns)) for f in figures)
        found.append(Repair(action.at_ns, action.who, action.text, told))
    return found[::-1]


def effect_words(line: Line, name: str, key: str, found: Effect) -> str:
    """'duty: back where it was. Before 14 %, during 31 %, after 15 %.'"""
    values = {part: _written(line, name, key, getattr(found, part)) for part in ("before", "during", "after")}
    figures = say("upkeep.effect_figures", **values)
    title = say(f"upkeep.figure.{name}")
    return say("upkeep.effect", figure=title, verdict=say(f"upkeep.verdict.{found.verdict}"), figures=figures)


def _written(line: Line, name: str, key: str, value: float) -> str:
    if value != value:
        return "–"
    if name == "spread":
        return with_unit(number(value, 1), "%")
    if name == "off set":
        return with_unit(difference(value, "C", 1), shown_unit("C"))
    if name == "feed factor":
        if not unit_known(line, key):
            return shown_figure(value, key)
        return with_unit(shown_figure(shown_value(value, "kg/h"), key), f"{shown_unit('kg/h')}/%")
    return with_unit(figure(value, key, line), unit_of(line, key) if unit_inside(key) else "")
