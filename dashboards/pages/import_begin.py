"""The import page before a log is there: drop it, or say where it is."""

from __future__ import annotations

import base64
import binascii
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import SECOND, PlantClock
from dashboards.parts import field
from dashboards.texts import say
from dashboards.urls import import_url
from dashboards.workshop.job import (
    MOST_DROPPED_BYTES,
    MOST_FILES,
    Job,
    found_job,
    job_of_files,
    job_of_paths,
    recent_jobs,
)
from dashboards.workshop.places import Places
from dashboards.workshop.session import session
from dashboards.workshop.start_step import Busy, start_step

MB = 1 << 20
MOST_RECENT = 6


class Refused(Exception):
    """A log that is not taken; the message is for the person who brought it. key: of the job that is in its way."""

    def __init__(self, message: str, key: str = "") -> None:
        super().__init__(message)
        self.key = key


def layout(places: Places | None) -> html.Div:
    """The place to drop a log."""
    if places is None:
        return html.Div([html.H1(say("import.title")), html.P(say("import.nowhere"))], className="page import")
    limit = say("import.limit", size=str(MOST_DROPPED_BYTES // MB), files=str(MOST_FILES))
    told: Any = {
        "data-most": str(MOST_DROPPED_BYTES),
        "data-one": say("import.too_large"),
        "data-all": say("import.too_large_all"),
        "data-sending": say("import.sending"),
    }
    drop = dcc.Upload(
        [html.Strong(say("import.drop")), html.Button(say("import.choose"), className="choose"), html.Span(limit)],
        id=ids.IMPORT_DROP,
        multiple=True,
        max_size=MOST_DROPPED_BYTES,
        className="drop",
        className_active="drop over",
        className_reject="drop over",
    )
    place = [
        field(say("import.place"), ids.IMPORT_PLACE),
        html.Button(say("import.read"), id=ids.IMPORT_READ, n_clicks=0),
    ]
    return html.Div(
        [
            html.H1(say("import.title")),
            html.P(say("import.what")),
            html.Div([drop, html.P(id=ids.IMPORT_DROP_SAID, className="refusal", role="alert")], **told),
            html.Div(place, className="act"),
            html.P(id=ids.IMPORT_SAID, className="refusal", role="alert"),
            *_lately(places),
        ],
        className="page import",
    )


def _lately(places: Places) -> list[Any]:
    jobs = recent_jobs(places.work, MOST_RECENT)
    if not jobs:
        return []
    clock = PlantClock("UTC")
    items = [
        html.Li(
            [
                dcc.Link(job.title, href=import_url(job.key)),
                html.Span(f"  {clock.day_minute(_brought(job))} UTC", className="soft"),
            ]
        )
        for job in jobs
    ]
    return [html.H2(say("import.lately")), html.Ul(items, className="lately")]


def _brought(job: Job) -> int:
    return int((job.folder / "opened").stat().st_mtime) * SECOND


def register(app: Dash, places: Places | None) -> None:
    """Callbacks of the page."""
    if places is None:
        return

    @app.callback(
        Output(ids.URL, "pathname", allow_duplicate=True),
        Output(ids.IMPORT_SAID, "children"),
        Output(ids.IMPORT_DROP, "contents"),
        Input(ids.IMPORT_DROP, "contents"),
        Input(ids.IMPORT_READ, "n_clicks"),
        State(ids.IMPORT_DROP, "filename"),
        State(ids.IMPORT_PLACE, "value"),
        prevent_initial_call=True,
    )
    def bring(
        contents: list[str] | None, clicks: int, names: list[str] | None, place: str | None
    ) -> tuple[Any, Any, Any]:
        dropped = ctx.triggered_id == ids.IMPORT_DROP
        if not (contents if dropped else clicks):
            raise PreventUpdate
        try:
            job = from_drop(places.work, contents or [], names or []) if dropped else from_place(places.work, place)
            begin(places.work, job)
        except Refused as refusal:
            way = [" ", dcc.Link(say("import.to_it"), href=import_url(refusal.key))] if refusal.key else []
            # The number makes a refusal that reads like the one before an answer of its own; see assets/dropped.js.
            told: Any = {"data-number": str(time.monotonic_ns())}
            # What was dropped is forgotten, or the same file dropped again would be no change anybody hears of.
            return no_update, [html.Span(str(refusal), **told), *way], None
        return import_url(job.key), "", no_update


def from_drop(work: Path, contents: Sequence[str], names: Sequence[str]) -> Job:
    """The job of what a browser sent: 'data:...;base64,...' each. Raises Refused."""
    if len(contents) > MOST_FILES:
        raise Refused(say("import.too_many", count=str(len(contents)), most=str(MOST_FILES)))
    # Three bytes are four letters: what is too large is not even decoded.
    size = sum((len(one) - one.find(",") - 1) * 3 // 4 - one[-2:].count("=") for one in contents)
    if size > MOST_DROPPED_BYTES:
        raise Refused(say("import.too_large_all", size=str(-(-size // MB)), most=str(MOST_DROPPED_BYTES // MB)))
    files = []
    for name, one in zip(names, contents, strict=True):
        try:
            content = base64.b64decode(one.partition(",")[2], validate=True)
        except (binascii.Error, ValueError):
            content = b""
        if not content:
            raise Refused(say("import.empty", name=name))
        files.append((name, content))
    try:
        return job_of_files(work, files)
    except OSError as error:
        raise _not_writable(error) from None


def from_place(work: Path, place: str | None) -> Job:
    """The job of a file or a folder on this computer. Raises Refused."""
    if not (place or "").strip():
        raise Refused(say("import.no_path"))
    path = Path((place or "").strip().strip('"')).expanduser()
    if not path.exists():
        raise Refused(say("import.no_place", place=str(path)))
    try:
        return job_of_paths(work, [path])
    except OSError as error:
        raise _not_writable(error) from None


def begin(work: Path, job: Job) -> None:
    """Looks at the log where that is not done yet. Raises Refused."""
    done = job.status()
    if job.read("proposal.json") and (done.step != "propose" or done.state == "done"):
        return
    start(work, job, "propose")


def start(work: Path, job: Job, step: str, *arguments: str) -> None:
    """Starts a step for the browser that asks. Raises Refused."""
    try:
        start_step(work, job, step, session(), *arguments)
    except Busy as busy:
        own = found_job(work, busy.key)
        text = say("import.busy_own", title=own.title) if own is not None else say("import.busy")
        raise Refused(text, busy.key) from None
    except OSError as error:
        raise _not_writable(error) from None


def _not_writable(error: OSError) -> Refused:
    return Refused(say("import.not_writable", why=(error.strerror or str(error)).lower()))
