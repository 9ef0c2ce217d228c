"""What the upkeep page says of the chosen part: since when, evidence, what a repair did, what can be checked."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards import ids
from dashboards.back_inside import back_words
from dashboards.check_places import check_place
from dashboards.clock import DAY, SECOND, PlantClock, duration
from dashboards.data import JournalData
from dashboards.load_history import load_history, screens_of
from dashboards.names import difference, number, rate, signed
from dashboards.pages.live_parts import said_about
from dashboards.parts import caution, finding_block
from dashboards.refills import Refills, refills_now_and_before
from dashboards.run_summaries import run_summaries, wear_of
from dashboards.screen_ages import ScreenRun
from dashboards.shown_units import shown_unit
from dashboards.texts import say
from dashboards.upkeep_item import UpkeepItem
from dashboards.upkeep_items import HISTORY_NS
from dashboards.upkeep_panels import left_words, stop_words
from dashboards.upkeep_repairs import effect_words, repairs
from dashboards.upkeep_state import lately_words, state_words
from dashboards.upkeep_words import check_words
from dashboards.urls import live_url
from dashboards.windows import windows_of
from monitor.line import Line
from monitor.wear import LEAST_RUNS, Wear

MOST_FINDINGS = 5
MOST_SCREENS = 4


def item_title(item: UpkeepItem) -> str:
    """'zone Z4', 'feeder talc T4', 'screen, pressure P1', 'drive and screw'."""
    if item.kind == "cooling" and item.subject in ("", "throat"):
        return say(f"upkeep.cooling.{item.subject or 'water'}")
    if item.kind == "zone" and not item.subject:
        return say("upkeep.supply")
    if item.kind == "screen" and not item.alone:
        return say("upkeep.screen_or_die", subject=item.title)
    return say(f"upkeep.kind.{item.kind}", subject=item.title).strip()


def head(data: JournalData, item: UpkeepItem) -> list[Any]:
    """Name, what it stands at, since when, the forecast, failed sensor checks, and what repairs did."""
    now, clock = data.now_ns(), data.clock(item.line)
    line = data.source.line(item.line)
    words = [lately_words(item)]
    stop = stop_words(item)
    found: list[Any] = [html.H2([item_title(item), html.Span(f" {item.line}", className="soft")])]
    if stop:
        found.append(html.P(html.B(stop)))
    elif item.calls:
        words.append(left_words(item))
    how_now = state_words(item, clock)
    if how_now:
        found.append(html.P(html.B(how_now)))
    found.append(html.P(", ".join(words)))
    found += [html.P(html.B(check_words(check, clock))) for check in item.checks]
    for repair in repairs(data, item):
        said = say("upkeep.repair_head", at=clock.since(repair.at, now), who=repair.who)
        told = [html.Li(effect_words(line, *figure)) for figure in repair.told]
        lines: list[Any] = [html.B(said), f" {repair.text}" if repair.text else ""]
        found.append(html.Div([html.P(lines), html.Ul(told)], className="repair"))
    return found


def more(data: JournalData, item: UpkeepItem) -> list[Any]:
    """Its history, its findings, what can be done running and what needs the stop, and the caution."""
    now, clock = data.now_ns(), data.clock(item.line)
    line, actions = data.source.line(item.line), data.actions(item.line)
    explained, back = dict(item.explained), dict(item.back)
    windows = windows_of(line, data.recipe_at(item.line, item.end - 1)) if back else {}
    blocks = [
        finding_block(
            line,
            f,
            now,
            clock,
            live_url(item.line, channel=f.last.channel),
            parts=explained.get(f.last.finding, ()),
            open_=i == 0 and f in (*item.standing, *item.gone),
            said=said_about(actions, f, now, clock),
            back=back_words(line, f, back.get(f.last.finding), now, clock, windows),
        )
        for i, f in enumerate(item.findings[:MOST_FINDINGS])
    ]
    return [*_history(data, line, item, clock), *blocks, _advice(item), caution(say(f"upkeep.caution.{item.kind}"))]


def _advice(item: UpkeepItem) -> html.Div:
    """The checks of its standing findings, each where it can be done, and what always applies to this kind of part."""
    checks = list(dict.fromkeys(c for f in (item.standing or item.gone) for c in f.last.checks))
    columns = []
    for place, title in (("running", say("upkeep.running")), ("stop", say("upkeep.stopped"))):
        told = [html.Li(text) for text in checks if check_place(text) == place]
        general = say(f"upkeep.{'running' if place == 'running' else 'stopped'}.{item.kind}")
        columns.append(html.Div([html.H3(title), html.Ul(told) if told else None, html.P(general)]))
    return html.Div(columns, className="advice", id=ids.AT_CHECKS)


def _history(data: JournalData, line: Line, item: UpkeepItem, clock: PlantClock) -> list[Any]:
    first, end = data.span(item.line)
    start = max(first, end - HISTORY_NS)
    if item.kind == "drive":
        return _drive_history(data, line, item, start, end)
    if item.kind == "feeder":
        words = refill_words(*refills_now_and_before(data, line, item.subject, end))
        return [html.H3(say("upkeep.refills")), html.P(words)] if words else []
    if item.kind == "screen":
        changes, screens = screens_of(data, line, item.key, start, end)
        return [html.H3(say("upkeep.screens")), html.P(screen_words(changes, screens, end, clock, ended=not item.live))]
    return []


def refill_words(now: Refills | None, before: Refills | None) -> str:
    """How often it was refilled in the last day and a day before, and the longest time; '' where nothing tells."""
    if now is None:
        return ""
    text = say("upkeep.refilled", count=str(now.count), longest=duration(now.longest_s))
    if before is not None and before.days >= 0.5:
        text += " " + say("upkeep.refilled_before", count=number(before.per_day, 0), longest=duration(before.longest_s))
    return text


def screen_words(
    changes: list[int], screens: list[ScreenRun], end: int, clock: PlantClock, *, ended: bool = False
) -> str:
    """How old the present screen is, and what the ones before it carried. ended: with a log that is over."""
    if not changes:
        return say("upkeep.no_change")
    kg = screens[-1].kg
    carried = say("upkeep.screen_kg", kg=_mass(kg)) if kg == kg else ""
    at, age = clock.since(changes[-1], end), duration((end - changes[-1]) / SECOND)
    key = "upkeep.last_change_at_end" if ended else "upkeep.last_change"
    text = say(key, at=at, time=age, carried=carried)
    whole = [s.kg for s in screens[1:-1] if s.kg == s.kg][-MOST_SCREENS:]
    if whole:
        text += " " + say("upkeep.screens_before", kg=", ".join(_mass(value) for value in reversed(whole)))
    return text


def _mass(kg: float) -> str:
    return f"{rate(kg)} {shown_unit('kg')}"


def _drive_history(data: JournalData, line: Line, item: UpkeepItem, start: int, end: int) -> list[Any]:
    findings = data.findings(item.line, start, end + DAY)
    past = load_history(data, line, item.key, start, end, findings)
    days = duration((end - start) / SECOND)
    told = [say("upkeep.turned", hours=number(past.turned_h, 0))] if past.turned_h is not None else []
    if past.high_h is not None:
        told.append(say("upkeep.hours_high", hours=number(past.high_h, 1)) if past.high_h else say("upkeep.never_high"))
    told += [
        say("upkeep.trips", count=str(past.trips)),
        say("upkeep.cold_starts", count=str(past.cold_starts)),
        say("upkeep.metal", count=str(past.metal)),
    ]
    parts: list[Any] = [html.H3(say("upkeep.load", days=days)), html.Ul([html.Li(text) for text in told])]
    signs = wear_of(line, run_summaries(data, item.line))
    parts += [html.H3(say("upkeep.wear")), html.Ul([html.Li(wear_words(sign)) for sign in signs])]
    return [*parts, html.P(say("upkeep.wear_how"), className="soft")]


def wear_words(wear: Wear) -> str:
    """'melt temperature +3.1 °C over 9 of 12 runs (+1.0 to +5.2): sign of wear', or that runs are too few."""
    sign = say(f"upkeep.wear.{wear.sign}")
    if wear.low != wear.low or wear.high != wear.high:
        return say("upkeep.wear_few", sign=sign, runs=str(wear.runs), of=str(wear.of), least=str(LEAST_RUNS))
    kelvin = wear.sign == "melt temperature"
    unit = shown_unit("C") if kelvin else "%"
    values = (wear.change, wear.low, wear.high, wear.per_1000_h)
    # An interval that would begin and end at one figure gets a digit more, or is left out.
    digits = next((n for n in (1, 2) if _change(wear.low, kelvin, n) != _change(wear.high, kelvin, n)), 1)
    change, low, high, per = (_change(v, kelvin, digits) for v in values)
    verdict = say("upkeep.wear_certain" if wear.certain else "upkeep.wear_open")
    key = "upkeep.wear_told" if low != high else "upkeep.wear_told_exact"
    return say(key, sign=sign, change=change, low=low, high=high, per=per, unit=unit, verdict=verdict,
               runs=str(wear.runs), of=str(wear.of))  # fmt: skip


def _change(value: float, kelvin: bool, digits: int) -> str:
    return difference(value, "C", digits) if kelvin else signed(value, digits)
