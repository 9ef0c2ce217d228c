"""One line or recipe file: drawn, changed, judged by the loaders while it is typed, and kept in versions."""

from __future__ import annotations

import time
from typing import Any

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboards import ids
from dashboards.clock import PlantClock
from dashboards.data import JournalData
from dashboards.pages.file_versions import messages, plant_clock, saved_at, versions
from dashboards.pages.files import PATH
from dashboards.pages.line_view import line_view
from dashboards.pages.recipe_view import recipe_view
from dashboards.parts import field, row, shape_of
from dashboards.text_field import TextField, left_in
from dashboards.texts import say
from dashboards.urls import file_url, parameters, path_parts
from dashboards.workshop.kept_files import KeptFiles, NotSaved, version_of
from dashboards.workshop.new_recipe import recipe_start
from dashboards.workshop.places import Places
from dashboards.workshop.quick_values import values_of, with_values
from dashboards.workshop.settings_text import Judged, judged
from monitor.line import Line
from monitor.recipe import Recipe

NEW = "new"
NEW_NAME = "new recipe.toml"


def layout(places: Places | None, name: str) -> html.Div:
    """The empty page; name '' = a new recipe."""
    kept = KeptFiles(places.lines) if places is not None and places.lines is not None else None
    if kept is None or (name and kept.text(name) is None):
        gone = [html.H1(say("files.title")), html.P(say("files.unknown", name=name)), dcc.Link(say("files.back"), PATH)]
        return html.Div(gone, className="page file")
    head = [html.H1(name or say("files.new_recipe")), dcc.Link(say("files.back"), href=PATH)]
    return html.Div(
        [
            html.Div(head, className="facts"),
            html.Div(id=ids.FILE_WHICH),
            html.Div(id=ids.FILE_DRAWN),
            html.Div(id=ids.FILE_BODY),
            html.P(id=ids.FILE_SAID, className="refusal", role="status"),
            html.Div(id=ids.FILE_VERSIONS),
        ],
        className="page file",
    )


def judged_line(data: JournalData, name: str) -> html.Div:
    """A line as the journal holds it: drawn, not to be changed."""
    line = data.line(name)
    if line is None:
        return html.Div(
            [html.H1(say("unknown.line", line=name)), dcc.Link(say("files.back"), href=PATH)], className="page"
        )
    head = [html.H1(name), dcc.Link(say("files.back"), href=PATH)]
    told = html.P(
        say("files.as_judged", version=line.version) if line.version else say("files.as_judged_plain"), className="soft"
    )
    return html.Div([html.Div(head, className="facts"), told, html.Div(id=ids.FILE_OF_JOURNAL)], className="page file")


def register(app: Dash, data: JournalData, places: Places | None) -> None:
    """Callbacks of the page."""

    @app.callback(Output(ids.FILE_OF_JOURNAL, "children"), Input(ids.WIDTH, "data"), State(ids.URL, "pathname"))
    def of_journal(width: int, pathname: str) -> list[Any]:
        parts = path_parts(pathname)
        line = data.line(parts[2]) if len(parts) == 3 and parts[:2] == ["files", "judged"] else None
        if not width or line is None:
            raise PreventUpdate
        return line_view(line, width)

    if places is None or places.lines is None:
        return
    kept = KeptFiles(places.lines)
    _register_text(app, kept)

    @app.callback(
        Output(ids.FILE_WHICH, "children"),
        Output(ids.FILE_BODY, "children"),
        Output(ids.FILE_VERSIONS, "children"),
        Input(ids.URL, "search"),
        Input(ids.FILE_SAID, "children"),
        State(ids.URL, "pathname"),
    )
    def show(search: str, _said: Any, pathname: str) -> tuple[list[Any], list[Any], list[Any]]:
        name = namesaved_at(pathname)
        if name is None:
            raise PreventUpdate
        state, clock = parameters(search), plant_clock(data)
        return which(kept, name, state, clock), body(kept, name, state), versions(kept, name, state, clock)

    @app.callback(
        Output(ids.FILE_DRAWN, "children"),
        Input(ids.URL, "search"),
        Input(ids.FILE_SAID, "children"),
        Input(ids.WIDTH, "data"),
        State(ids.URL, "pathname"),
    )
    def draw(search: str, _said: Any, width: int, pathname: str) -> list[Any]:
        name = namesaved_at(pathname)
        if not width or not name:
            raise PreventUpdate
        shown = shown_text(kept, name, parameters(search))[1]
        return drawn(kept, judged(shown), width)

    @app.callback(
        Output(ids.FILE_SAID, "children"),
        Output(ids.URL, "href", allow_duplicate=True),
        Input(ids.FILE_SAVE, "n_clicks"),
        State(ids.FILE_TEXT, "value"),
        State(ids.FILE_NAME, "value"),
        State(ids.FILE_WAS, "data"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    def save(clicks: int, text: str, new_name: str, was: str, pathname: str) -> tuple[Any, Any]:
        name = namesaved_at(pathname)
        if not clicks or name is None:
            raise PreventUpdate
        wanted = name or (new_name or "").strip()
        wanted = wanted if wanted.endswith(".toml") else f"{wanted}.toml"
        said, saved = keep(kept, wanted, text or "", was)
        return said, file_url(wanted) if saved else no_update


def _register_text(app: Dash, kept: KeptFiles) -> None:
    @app.callback(
        Output(ids.FILE_JUDGED, "children"),
        Output(ids.FILE_SAVE, "disabled"),
        Input(ids.FILE_TEXT, "value"),
        State(ids.URL, "pathname"),
    )
    def judge(text: str | None, pathname: str) -> tuple[list[Any], bool]:
        name = namesaved_at(pathname)
        if name is None:
            raise PreventUpdate
        return messages(kept.text(name) if name else None, text or "")

    @app.callback(
        Output(ids.FILE_TEXT, "left"),
        Input(ids.FILE_QUICK, "n_clicks"),
        State({"type": ids.FILE_QUICK, "key": ALL}, "value"),
        State({"type": ids.FILE_QUICK, "key": ALL}, "id"),
        State(ids.FILE_TEXT, "value"),
        prevent_initial_call=True,
    )
    def quick(clicks: int, values: list[str | None], keys: list[dict[str, str]], text: str) -> Any:
        if not clicks:
            raise PreventUpdate
        named = {tuple(one["key"].split(" ", 1)): str(value or "") for one, value in zip(keys, values, strict=True)}
        return left_in(text, with_values(text or "", named))  # type: ignore[arg-type]


def namesaved_at(pathname: str | None) -> str | None:
    """The file of an address, '' for a new recipe, None for another page."""
    match path_parts(pathname):
        case ["files", "new", "recipe"]:
            return ""
        case ["files", name] if name.endswith(".toml"):
            return name
        case _:
            return None


def shown_text(kept: KeptFiles, name: str, state: dict[str, str]) -> tuple[str | None, str, str | None]:
    """What holds now, what is shown, and the earlier version where that is one."""
    now = kept.text(name) if name else None
    if now is None:
        return None, recipe_start(next(iter(lines_of(kept)), None)), None
    wanted = state.get(ids.VERSION, "")
    old = kept.version_text(name, wanted) if wanted and wanted != version_of(now) else None
    return now, now if old is None else old, old


def body(kept: KeptFiles, name: str, state: dict[str, str]) -> list[Any]:
    """Its common values, and its text with what is wrong with it."""
    now, text, old = shown_text(kept, name, state)
    return [
        row(say("file.quick"), *_quick(text, judged(text).kind)),
        row(say("file.text"), *_editor(name, text, now, old)),
    ]


def which(kept: KeptFiles, name: str, state: dict[str, str], clock: PlantClock) -> list[Any]:
    """Which version is shown."""
    now, _, old = shown_text(kept, name, state)
    if now is None:
        return []
    saved = {one.name: one.saved_ns for one in kept.versions(name)}
    if old is not None:
        wanted = version_of(old)
        words = say("file.old", version=wanted, at=saved_at(saved.get(wanted, 0), clock))
        return [html.P([*shape_of("other"), words + " ", dcc.Link(say("file.newest"), href=file_url(name))])]
    version = version_of(now)
    return [html.P(say("file.now", version=version, at=saved_at(saved.get(version, 0), clock)), className="soft")]


def drawn(kept: KeptFiles, told: Judged, width: int) -> list[Any]:
    """The line or recipe as a picture and tables; nothing where it cannot be read."""
    if told.line is not None:
        return line_view(told.line, width)
    if told.recipe is not None:
        recipe = told.recipe
        fits = [one for one in lines_of(kept) if one.name in recipe.recipe.lines or not recipe.recipe.lines]
        fits.sort(key=lambda one: -_in_common(one, recipe))
        return recipe_view(recipe, next(iter(fits), None), width)
    return []


def _in_common(line: Line, recipe: Recipe) -> int:
    """How much of a recipe a line knows."""
    windows = {window.key for window in recipe.window} & set(line.channels)
    return len(windows) + len(set(recipe.zones) & set(line.zone_names))


def lines_of(kept: KeptFiles) -> list[Line]:
    """Every line file of the folder that holds."""
    texts = [text for name in kept.names() if (text := kept.text(name)) is not None]
    return [one.line for one in map(judged, texts) if one.line is not None]


def _quick(text: str, kind: str) -> list[Any]:
    values = values_of(text, kind)
    fields = [
        html.Label(
            [
                say(f"quick.{key}"),
                TextField(id={"type": ids.FILE_QUICK, "key": f"{table} {key}"}, value=value, className="field"),
            ]
        )
        for (table, key), value in values.items()
    ]
    button = html.Button(say("file.quick_take"), id=ids.FILE_QUICK, n_clicks=0, disabled=not values)
    return [html.P(say("file.quick_how"), className="soft"), html.Div([*fields, button], className="act quick")]


def _editor(name: str, text: str, now: str | None, old: str | None) -> list[Any]:
    area = TextField(ids.FILE_TEXT, "area", value=text, className="editor", spellCheck=False, wrap="off", rows=26)
    words = say("file.bring_back" if old is not None else "file.save" if name else "file.save_first")
    return [
        html.Label(
            [say("file.text_label", name=name or NEW_NAME), area], htmlFor=ids.FILE_TEXT, className="editor-label"
        ),
        html.Div(id=ids.FILE_JUDGED, role="status"),
        html.Div(
            [
                field(say("file.name"), ids.FILE_NAME, "" if not name else "gone", value=name or NEW_NAME),
                html.Button(words, id=ids.FILE_SAVE, n_clicks=0),
                dcc.Store(id=ids.FILE_WAS, data=version_of(now) if now is not None else ""),
            ],
            className="act",
        ),
    ]


def keep(kept: KeptFiles, name: str, text: str, was: str) -> tuple[str, bool]:
    """Saves a text; gives what to say, and whether it is saved."""
    if judged(text).problems:
        return say("import.wrong"), False
    if was and kept.text(name) == text:
        return say("file.same"), False
    try:
        version = kept.save(name, text, was, time.time_ns())
    except NotSaved as error:
        said = {
            "name": say("file.bad_name"),
            "there": say("file.there", name=name),
            "changed": say("file.changed"),
            "folder": say("file.not_writable", why=error.said.lower()),
        }[error.why]
        return said, False
    return say("file.saved", version=version), True
