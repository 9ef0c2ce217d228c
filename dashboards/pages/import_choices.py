"""What a person says on the import page: what a tag is, and the facts of line and log. Kept at once, on disk."""

from __future__ import annotations

from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx
from dash.exceptions import PreventUpdate

from dashboards import ids, tag_choice
from dashboards.presses import pressed_now
from dashboards.urls import path_parts
from dashboards.workshop.chosen import choose_line, choose_log, choose_tag, corrected, move_zone
from dashboards.workshop.job import Job, found_job
from dashboards.workshop.kept_files import file_name
from dashboards.workshop.places import Places

OF_TAG = {
    ids.IMPORT_ROLE: "role", ids.IMPORT_OTHER: "role", ids.IMPORT_AT: "at", ids.IMPORT_UNIT: "unit",
    ids.IMPORT_POSITION: "position",
}  # fmt: skip
OF_LINE = {
    ids.IMPORT_NAME: "name", ids.IMPORT_KIND: "kind", ids.IMPORT_ZONE: "time_zone", ids.IMPORT_FILE: "file",
}  # fmt: skip
OF_LOG = {
    ids.IMPORT_ORDER: "time_format", ids.IMPORT_RECIPES: "recipes", ids.IMPORT_SCHEDULE: "schedule",
}  # fmt: skip
"""Controls, and what each is about."""


def register(app: Dash, places: Places) -> None:
    """Callbacks of all controls. A control that appears says what is known already, and nothing follows."""

    @app.callback(
        Output(ids.IMPORT_CHANGED, "data"),
        *(Input(control, "value") for control in (*OF_TAG, *OF_LINE)),
        State(ids.IMPORT_OF, "data"),
        State(ids.IMPORT_CHANGED, "data"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def of_line(*given: Any) -> str:
        *values, of, before, pathname = given
        job, control = job_at(places, pathname), _touched()
        value = dict(zip((*OF_TAG, *OF_LINE), values, strict=True)).get(control)
        if of is not None and value is not None:
            part, text = int(of["part"]), str(value).strip()
            if control in OF_TAG:
                choose_what(job, part, of["tag"], control, text)
            else:
                tell_line(job, part, OF_LINE[control], text)
        return _news(job, before)

    @app.callback(
        Output(ids.IMPORT_CHANGED, "data", allow_duplicate=True),
        *(Input(control, "value") for control in OF_LOG),
        State(ids.IMPORT_CHANGED, "data"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def of_log(*given: Any) -> str:
        *values, before, pathname = given
        job, control = job_at(places, pathname), _touched()
        if control in OF_LOG:
            tell_log(job, OF_LOG[control], dict(zip(OF_LOG, values, strict=True))[control])
        return _news(job, before)

    @app.callback(
        Output(ids.IMPORT_CHANGED, "data", allow_duplicate=True),
        Input({"type": ids.IMPORT_MOVE, "zone": ALL, "way": ALL}, "n_clicks"),
        State(ids.IMPORT_OF, "data"),
        State(ids.IMPORT_CHANGED, "data"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def move(_clicks: Any, of: Any, before: Any, pathname: str) -> str:
        if not pressed_now():
            raise PreventUpdate
        job = job_at(places, pathname)
        of_zones(job, of, ctx.triggered_id)
        return _news(job, before)


def of_zones(job: Job, of: Any, pressed: Any) -> bool:
    """Moves the zone of the button that was pressed; False where nothing moves."""
    if of is None or not isinstance(pressed, dict):
        return False
    return move_zone(job, int(of["part"]), str(pressed["zone"]), int(pressed["way"]))


def job_at(places: Places, pathname: str | None) -> Job:
    """The job of an address; raises PreventUpdate where there is none."""
    parts = path_parts(pathname)
    job = found_job(places.work, parts[1]) if len(parts) == 2 and parts[0] == "import" else None
    if job is None:
        raise PreventUpdate
    return job


def choose_what(job: Job, part: int, tag: str, control: str, value: str) -> bool:
    """Keeps what one control says of a tag; False where that is what the tag is already."""
    tags = corrected(job).proposal.lines[part].tags
    one = next((one for one in tags if one.tag == tag), None)
    if one is None:
        return False
    if control == ids.IMPORT_ROLE:
        same, choice = value == tag_choice.value_of(one), tag_choice.taken(one, value)
    elif control == ids.IMPORT_OTHER:
        same = value in ("", one.role)
        choice = {} if same else tag_choice.other_role(one, value)
    else:
        choice = tag_choice.changed(one, **{OF_TAG[control]: "" if value == "-" else value})
        same = not one.told or choice == tag_choice.changed(one)
    if not same:
        choose_tag(job, part, tag, choice)
    return not same


def tell_line(job: Job, part: int, key: str, value: str) -> bool:
    """Keeps a fact of a line; False where it is known already, or where nothing was said."""
    found = corrected(job)
    line = found.proposal.lines[part]
    given = job.read("choices.json").get(str(part), {})
    known = {
        "name": line.name,
        "kind": "" if line.kind_why else line.kind,
        "time_zone": found.time_zones[part],
        "file": given.get("file", "") or file_name(line.name),
    }[key]
    if not value or value == known:
        return False
    choose_line(job, part, key, value)
    return True


def tell_log(job: Job, key: str, value: Any) -> bool:
    """Keeps a fact of the log: which number is the day, which recipes, which schedule."""
    known = job.read("choices.json").get(key)
    if key == "time_format":
        known = corrected(job).proposal.log.time_format
        if not known or not value:
            return False
    if value == known or (not value and not known):
        return False
    choose_log(job, key, value)
    return True


def stamp(job: Job) -> str:
    """Names the choices of a job as they are on the disk."""
    try:
        return str((job.folder / "choices.json").stat().st_mtime_ns)
    except OSError:
        return "0"


def _touched() -> str:
    """The one control that was touched, '' where several at once have just appeared."""
    return str(ctx.triggered_id) if len(ctx.triggered_prop_ids) == 1 else ""


def _news(job: Job, shown: str | None) -> str:
    """What is on the disk, where that is not what is shown. Raises PreventUpdate.

    Controls that appear ask for this too: an answer to a touch is dropped by the browser program when controls appear
    before it has come, and the page would show what holds no more.
    """
    now = stamp(job)
    if now == (shown or "0").split()[0]:
        raise PreventUpdate
    return now
