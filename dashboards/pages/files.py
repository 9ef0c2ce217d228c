"""Line and recipe files: all of them, with their version and whether they hold."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.pages.file_versions import plant_clock, saved_at
from dashboards.parts import shape_of, table
from dashboards.texts import say
from dashboards.urls import file_url, judged_line_url
from dashboards.workshop.kept_files import KeptFiles, version_of
from dashboards.workshop.places import Places
from dashboards.workshop.settings_text import Judged, judged

PATH = "/files"
HEADS = ("file", "name", "version", "saved", "state")


def layout(data: JournalData, places: Places | None) -> html.Div:
    """Both lists, and the lines as the journal holds them."""
    return html.Div(
        [html.H1(say("files.title")), *_folder(places, plant_clock(data)), *_in_journal(data)],
        className="page files",
    )


def _folder(places: Places | None, clock: PlantClock) -> list[Any]:
    if places is None or places.lines is None:
        return [html.P(say("files.no_folder")), html.Pre(say("files.command"))]
    kept = KeptFiles(places.lines)
    told = [(name, text, judged(text)) for name in kept.names() if (text := kept.text(name)) is not None]
    parts: list[Any] = [html.P(say("files.what"), className="soft")]
    for kind, title in (("line", "files.lines"), ("recipe", "files.recipes")):
        rows = [_row(kept, name, text, one, clock) for name, text, one in told if one.kind == kind]
        if rows:
            parts += [html.H2(say(title)), table([say(f"files.{head}") for head in HEADS], rows)]
    if not told:
        parts.append(html.P(say("files.none"), className="quiet"))
    links = [
        dcc.Link(say("files.import"), href="/import", className="strong"),
        dcc.Link(say("files.new_recipe"), href="/files/new/recipe", className="strong"),
    ]
    return [*parts, html.Div(links, className="channels")]


def _row(kept: KeptFiles, name: str, text: str, one: Judged, clock: PlantClock) -> list[Any]:
    return [
        dcc.Link(name, href=file_url(name), className="strong"),
        one.name or "–",
        version_of(text),
        saved_at(kept.changed_ns(name), clock),
        state_words(one),
    ]


def state_words(one: Judged) -> Any:
    """Whether it holds, in words and with a mark."""
    count = len(one.problems)
    if not count:
        return html.Span(say("files.valid"), className="soft")
    words = say("files.mistakes.1") if count == 1 else say("files.mistakes.n", count=str(count))
    return html.Span([*shape_of("other"), html.B(words)])


def _in_journal(data: JournalData) -> list[Any]:
    names = data.line_names()
    if not names:
        return []
    links = [dcc.Link(name, href=judged_line_url(name), className="channel") for name in names]
    return [
        html.H2(say("files.in_journal")),
        html.P(say("files.in_journal_what"), className="soft"),
        html.Div(links, className="channels"),
    ]
