"""Import: what Evenmelt makes of a log, corrected by a person, kept as a line file, and checked."""

from __future__ import annotations

import time
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate
from flask import Response, abort

from dashboards import ids
from dashboards.data import JournalData
from dashboards.pages import import_begin, import_choices
from dashboards.pages.import_begin import Refused
from dashboards.pages.import_choices import job_at, stamp
from dashboards.pages.import_end import check, checked, ending, keeping, save
from dashboards.pages.import_facts import facts
from dashboards.pages.import_tags import chosen_tag, detail, groups_of, lists
from dashboards.parts import shape_of
from dashboards.tag_choice import GROUPS
from dashboards.texts import say
from dashboards.urls import import_url, parameters
from dashboards.workshop.chosen import Corrected, corrected, text_of
from dashboards.workshop.job import KEPT_DAYS, Job, Status, found_job
from dashboards.workshop.job_step import OWN_MISTAKE
from dashboards.workshop.kept_files import file_name
from dashboards.workshop.places import Places
from dashboards.workshop.start_step import stop_step

PATH = "/import"
TICK_MS, IDLE_MS = 1000, 3000
"""How often the page looks while the log is worked on, and else: a click that starts work may go under."""


def layout(places: Places | None, key: str) -> html.Div:
    """The page of one log; the address says which tag is shown."""
    job = found_job(places.work, key) if places is not None else None
    if job is None:
        unknown = [
            html.H1(say("import.unknown")),
            html.P(say("import.unknown_how", days=f"{KEPT_DAYS:g}")),
            dcc.Link(say("import.another"), href=PATH),
        ]
        return html.Div(unknown, className="page import")
    return html.Div(
        [
            dcc.Interval(id=ids.IMPORT_TICK, interval=TICK_MS),
            dcc.Store(id=ids.IMPORT_STATE),
            dcc.Store(id=ids.IMPORT_CHANGED),
            html.Div([html.H1(job.title), dcc.Link(say("import.another"), href=PATH)], className="facts"),
            html.Div(
                [
                    html.Div(id=ids.IMPORT_PROGRESS),
                    html.Button(say("import.stop"), id=ids.IMPORT_STOP, n_clicks=0, className="gone"),
                ],
                className="progress",
                role="status",
            ),
            html.Div(id=ids.IMPORT_HEAD),
            html.Div(
                [
                    html.Div(id=ids.IMPORT_TAGS, className="items"),
                    html.Div(id=ids.IMPORT_SURE, className="usual"),
                    html.Div(id=ids.IMPORT_DETAIL, className="detail"),
                ],
                className="two upkeep-two import-two",
            ),
            html.Div(id=ids.IMPORT_FACTS),
            html.Div(id=ids.IMPORT_KEEP),
            html.P(id=ids.IMPORT_SAVE_SAID, className="refusal beside-margin", role="status"),
            html.Div(id=ids.IMPORT_END),
            html.P(id=ids.IMPORT_CHECK_SAID, className="refusal beside-margin", role="alert"),
            html.Div(
                [
                    html.Div(id=ids.IMPORT_JUDGING),
                    html.Button(say("import.stop"), id=ids.IMPORT_STOP_JUDGING, n_clicks=0, className="gone"),
                ],
                className="progress beside-margin",
                role="status",
            ),
            html.Div(id=ids.IMPORT_CHECKED, className="beside-margin", role="status"),
        ],
        className="page import",
    )


def register(app: Dash, data: JournalData, places: Places | None) -> None:
    """Callbacks of the page and the file it gives away."""
    import_begin.register(app, places)
    if places is None:
        return
    _register_show(app, data, places)
    import_choices.register(app, places)
    _register_ending(app, data, places)

    @app.server.get("/import-file/<key>/<int:part>.toml")
    def line_file(key: str, part: int) -> Response:
        job = found_job(places.work, key)
        if job is None or not job.read("proposal.json") or part >= len(corrected(job).proposal.lines):
            abort(404)
        found = corrected(job)
        name = file_name(found.proposal.lines[part].name).encode("ascii", "replace").decode().replace("?", "_")
        headers = {"Content-Disposition": f'attachment; filename="{name}"'}
        return Response(text_of(found, part), mimetype="application/toml", headers=headers)


def _register_show(app: Dash, data: JournalData, places: Places) -> None:
    @app.callback(
        Output(ids.IMPORT_STATE, "data"),
        Output(ids.IMPORT_PROGRESS, "children"),
        Output(ids.IMPORT_STOP, "className"),
        Output(ids.IMPORT_JUDGING, "children"),
        Output(ids.IMPORT_STOP_JUDGING, "className"),
        Output(ids.IMPORT_TICK, "interval"),
        Input(ids.IMPORT_TICK, "n_intervals"),
        Input(ids.IMPORT_CHECK_SAID, "children"),
        State(ids.URL, "pathname"),
        State(ids.IMPORT_STATE, "data"),
    )
    def watch(_n: int | None, _said: Any, pathname: str, before: str | None) -> tuple:
        job = job_at(places, pathname)
        status = job.status()
        works = status.state == "working"
        files = [name for name in ("proposal.json", "account.json", "result.json") if (job.folder / name).exists()]
        state = " ".join((status.step, status.state, *files))
        now = no_update if state == before else state
        told, judging = progress(job, status), status.step == "check"
        stops = ["plain" if works and here else "gone" for here in (not judging, judging)]
        return now, [] if judging else told, stops[0], told if judging else [], stops[1], TICK_MS if works else IDLE_MS

    @app.callback(
        Output(ids.IMPORT_HEAD, "children"),
        Output(ids.IMPORT_TAGS, "children"),
        Output(ids.IMPORT_SURE, "children"),
        Output(ids.IMPORT_DETAIL, "children"),
        Output(ids.IMPORT_FACTS, "children"),
        Output(ids.IMPORT_KEEP, "children"),
        Output(ids.IMPORT_END, "children"),
        Output(ids.IMPORT_CHECKED, "children"),
        Input(ids.IMPORT_STATE, "data"),
        Input(ids.IMPORT_CHANGED, "data"),
        Input(ids.URL, "search"),
        Input(ids.WIDTH, "data"),
        State(ids.URL, "pathname"),
    )
    def show(state: str | None, _changed: Any, search: str, width: int, pathname: str) -> tuple:
        if state is None or not width:
            raise PreventUpdate
        job = job_at(places, pathname)
        if not job.read("proposal.json"):
            return (no_update,) * 8
        return answer(data, places, job, parameters(search), width)


def _register_ending(app: Dash, data: JournalData, places: Places) -> None:
    @app.callback(
        Output(ids.IMPORT_SAVE_SAID, "children"),
        Output(ids.IMPORT_CHANGED, "data", allow_duplicate=True),
        Input(ids.IMPORT_SAVE, "n_clicks"),
        State(ids.IMPORT_WAS, "data"),
        State(ids.IMPORT_OF, "data"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def keep(clicks: int, was: str, of: dict, pathname: str) -> tuple[str, str]:
        if not clicks or of is None:
            raise PreventUpdate
        job = job_at(places, pathname)
        said = save(places, job, corrected(job), int(of["part"]), was or "")
        return said, f"{stamp(job)} {time.time_ns()}"

    @app.callback(
        Output(ids.IMPORT_CHECK_SAID, "children"),
        Input(ids.IMPORT_CHECK, "n_clicks"),
        State(ids.IMPORT_RECIPES, "value"),
        State(ids.IMPORT_SCHEDULE, "value"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def judge(clicks: int, recipes: list[str] | None, schedule: str | None, pathname: str) -> str:
        if not clicks:
            raise PreventUpdate
        job = job_at(places, pathname)
        try:
            check(data, places, job, corrected(job), recipes or [], schedule or "")
        except Refused as refusal:
            return str(refusal)
        return ""

    @app.callback(
        Output(ids.IMPORT_STOP, "disabled"),
        Input(ids.IMPORT_STOP, "n_clicks"),
        Input(ids.IMPORT_STOP_JUDGING, "n_clicks"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def stop(clicks: int, clicks_judging: int, pathname: str) -> bool:
        if not clicks and not clicks_judging:
            raise PreventUpdate
        stop_step(job_at(places, pathname))
        return False


def progress(job: Job, status: Status) -> list[Any]:
    """How far the work is, or why it failed and what to do."""
    if status.state == "working":
        percent = str(min(99, round(100 * status.done / status.total))) if status.total else ""
        key = "import.checking" if status.step == "check" else "import.reading_through"
        soon = "import.checking_soon" if status.step == "check" else "import.reading_soon"
        if status.step == "propose" and not (job.folder / "proposal.json").exists():
            return [html.P([say("import.reading"), " ", say("import.wait")])]
        wait = [" ", say("import.wait")] if status.step == "check" else []
        return [html.P([say(key, percent=percent) if percent else say(soon), *wait])]
    if status.state != "failed":
        return []
    words = {"gone": say("import.gone"), "stopped": say("import.stopped")}.get(status.said, status.said)
    if status.said.startswith(OWN_MISTAKE):
        words = say("import.own_mistake", what=status.said.removeprefix(OWN_MISTAKE).strip())
    checking = status.step == "check"
    key = "import.check_failed" if checking else "import.failed"
    how = html.P(say("import.check_failed_how" if checking else "import.failed_how"), className="soft")
    told = [html.P(text) for text in words.splitlines()]
    return [html.Div([html.H2([*shape_of("other"), say(key)]), *told, how], className="failed")]


def answer(data: JournalData, places: Places, job: Job, state: dict[str, str], width: int) -> tuple:
    """Everything below the progress."""
    found = corrected(job)
    part = part_at(found, state)
    tag = chosen_tag(job, found, part, state.get(ids.TAG, ""))
    open_, folded = lists(job, found, part, tag, state.get(ids.TAG, ""))
    done = job.status()
    came = checked(data, job) if (done.step, done.state) == ("check", "done") else []
    return (
        _head(job, found, part), open_, folded, detail(job, found, part, tag, width), facts(job, found, part),
        keeping(places, job, found, part), ending(data, places, job, found, again=bool(came)), came,
    )  # fmt: skip


def part_at(found: Corrected, state: dict[str, str]) -> int:
    """Which line of the log the address means; the first that has tags."""
    wanted = state.get(ids.PART, "")
    if wanted.isdigit() and int(wanted) < len(found.proposal.lines):
        return int(wanted)
    return 0


def _head(job: Job, found: Corrected, part: int) -> list[Any]:
    line = found.proposal.lines[part]
    told = sum(one.told for one in line.tags)
    unsure = any(groups_of(found, part)[group] for group in GROUPS[:3])
    after = say("import.next" if unsure else "import.next_sure")
    words: list[Any] = [html.P([say("import.told", told=str(told), all=str(len(line.tags))), " ", after])]
    if not told:
        words = [html.H2([*shape_of("other"), say("import.cannot_map")]), html.P(say("import.cannot_map_how"))]
    if len(found.proposal.lines) > 1:
        links = [
            dcc.Link(
                one.name, href=import_url(job.key, part=str(n)), className="channel on" if n == part else "channel"
            )
            for n, one in enumerate(found.proposal.lines)
        ]
        words.insert(0, html.Div([html.Span(say("import.part"), className="soft"), *links], className="channels parts"))
    return words
