"""What is wrong with the text of a file, what it would change, and every version that was saved."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards import ids
from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.parts import row, shape_of
from dashboards.texts import say
from dashboards.urls import file_url
from dashboards.workshop.file_change import changed_lines, changes
from dashboards.workshop.kept_files import KeptFiles
from dashboards.workshop.settings_text import judged

MOST_CHANGES = 14
MOST_VERSIONS = 40


def messages(now: str | None, text: str) -> tuple[list[Any], bool]:
    """What is wrong with a text, or what it would change; and whether it cannot be saved."""
    told = judged(text)
    if told.problems:
        count = len(told.problems)
        words = say("file.wrong.1") if count == 1 else say("file.wrong.n", count=str(count))
        items = [html.Li(problem) for problem in told.problems]
        return [html.P([*shape_of("other"), html.B(words)]), html.Ul(items, className="mistakes")], True
    parts: list[Any] = [html.P(say("file.fine"), className="soft")]
    if now is not None and now != text:
        parts += [html.P(say("file.unsaved")), change_list(now, text)]
    return parts, now == text


def change_list(before: str, after: str) -> html.Div:
    """What changed, in words, and line by line under it."""
    said = changes(before, after)
    more = [say("change.more", count=str(len(said) - MOST_CHANGES))] if len(said) > MOST_CHANGES else []
    items = [html.Li(one) for one in (*said[:MOST_CHANGES], *more)]
    marked = [
        html.Span(f"{mark} {line}\n", className={"+": "put-in", "-": "taken-out"}.get(mark, "soft"))
        for mark, line in changed_lines(before, after)
    ]
    lines = html.Details([html.Summary(say("file.lines_of")), html.Pre(marked, className="changed-lines")])
    return html.Div([html.Ul(items), lines] if marked else html.Ul(items), className="changes")


def versions(kept: KeptFiles, name: str, state: dict[str, str], clock: PlantClock) -> list[Any]:
    """Every version, the newest first: when, and what changed against the one before."""
    if not name or kept.text(name) is None:
        return []
    found = kept.versions(name)
    shown = state.get(ids.VERSION, "") or found[0].name
    items = []
    for number, one in enumerate(found[:MOST_VERSIONS]):
        text = kept.version_text(name, one.name)
        before = kept.version_text(name, found[number + 1].name) if number + 1 < len(found) else None
        what: Any = html.P(say("file.first"), className="soft")
        if text is not None and before is not None:
            what = change_list(before, text)
        words: list[Any] = [
            dcc.Link(
                one.name, href=file_url(name, version="" if number == 0 else one.name),
                className="channel on" if one.name == shown else "channel",
            ),
            html.Span(saved_at(one.saved_ns, clock), className="soft"),
        ]  # fmt: skip
        if number == 0:
            words.append(html.B(say("file.holds")))
        items.append(html.Li([html.Div(words, className="version-head"), what]))
    return [row(say("file.versions"), html.Ol(items, className="versions"))]


def plant_clock(data: JournalData) -> PlantClock:
    """The clock of the plant, as on every other page; UTC where the journal knows none, or several that differ."""
    zones = {data.clock(name).name for name in data.line_names()}
    return PlantClock(zones.pop() if len(zones) == 1 else "UTC")


def saved_at(at_ns: int, clock: PlantClock) -> str:
    """When a version was saved, with the zone."""
    return f"{clock.day_minute(at_ns)} {clock.offset_text(at_ns)}" if at_ns else "–"
