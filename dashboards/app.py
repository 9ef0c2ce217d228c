"""Builds the app: one shell, one router, and every page registered on it by name."""

from __future__ import annotations

from contextvars import copy_context
from importlib.resources import files
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, dcc, html

from dashboards import files_of, ids, units_menu
from dashboards.data import JournalData
from dashboards.pages import (
    begin,
    file_page,
    import_begin,
    import_log,
    lines,
    live,
    lot,
    lots,
    not_found,
    upkeep,
)  # fmt: skip
from dashboards.pages import (
    files as files_page,
)
from dashboards.texts import LANGUAGES, language, say
from dashboards.urls import parameters, path_parts
from dashboards.workshop import session
from dashboards.workshop.places import Places

SHORTEST_REFRESH_S = 1.0


def create_app(data: JournalData, *, refresh_s: float = 1.0, lang: str = "en", places: Places | None = None) -> Dash:
    """A Dash app over one data door. Nothing is read before a browser asks.

    refresh_s: how often live pages look, at least one second. lang: language of the texts. places: folders that
    the import, line and recipe pages may write to; without them these pages say so.
    Raises ValueError for a language that has no texts.
    """
    if lang not in LANGUAGES:
        raise ValueError(f"no texts in language '{lang}'; there are {', '.join(sorted(LANGUAGES))}")
    refresh_s = max(refresh_s, SHORTEST_REFRESH_S)
    app = Dash(
        "evenmelt",
        title="Evenmelt",
        update_title="",
        assets_folder=str(files("dashboards").joinpath("assets")),
        suppress_callback_exceptions=True,
        serve_locally=True,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    app.index_string = _index(lang)
    app.server.before_request(lambda: language.set(lang) and None)
    token = language.set(lang)
    app.layout = _shell()
    language.reset(token)
    units_menu.register(app)
    session.register(app)
    _register_shell(app, data, refresh_s, places)
    begin.register(app, places)
    import_log.register(app, data, places)
    file_page.register(app, data, places)
    lines.register(app, data, refresh_s)
    live.register(app, data, refresh_s)
    lots.register(app, data)
    lot.register(app, data)
    upkeep.register(app, data)
    files_of.register(app, data)
    _set_up(app)
    return app


def _set_up(app: Dash) -> None:
    """Dash gathers scripts and styles during the first request and answers others meanwhile without them.

    After a restart the browsers of a plant all ask at once: so the first request is made here, before anybody's.
    """

    def ask() -> None:
        with app.server.test_client() as first:
            first.get("/")

    # In a context of its own: a request sets its reader's language and units, and whoever builds an app keeps theirs.
    copy_context().run(ask)


def page_of(
    data: JournalData, pathname: str | None, search: str | None, refresh_s: float, places: Places | None = None
) -> tuple[Any, str]:
    """Layout and title of the page at an address."""
    state = parameters(search)
    match path_parts(pathname):
        case [] if places is not None and not data.line_names():
            return begin.layout(), say("title.lines")
        case []:
            return lines.layout(data, refresh_s), say("title.lines")
        case ["live", name]:
            return live.layout(data, name, refresh_s), f"{name} · Evenmelt"
        case ["lots"]:
            return lots.layout(data, state), say("title.lots")
        case ["lots", name, number]:
            return lot.layout(data, name, number), say("title.lot", lot=number, line=name)
        case ["upkeep"]:
            return upkeep.layout(data), say("title.upkeep")
        case ["import"]:
            return import_begin.layout(places), say("title.import")
        case ["import", key]:
            return import_log.layout(places, key), say("title.import")
        case ["files"]:
            return files_page.layout(data, places), say("title.files")
        case ["files", "new", "recipe"]:
            return file_page.layout(places, ""), say("title.file", name=say("files.new_recipe"))
        case ["files", "judged", name]:
            return file_page.judged_line(data, name), say("title.file", name=name)
        case ["files", name]:
            return file_page.layout(places, name), say("title.file", name=name)
        case _:
            return not_found.layout(pathname or ""), say("title.not_found")


def _register_shell(app: Dash, data: JournalData, refresh_s: float, places: Places | None) -> None:
    @app.callback(
        Output(ids.PAGE, "children"),
        Output(ids.TITLE, "data"),
        Input(ids.URL, "pathname"),
        State(ids.URL, "search"),
    )
    def show_page(pathname: str, search: str) -> tuple[Any, str]:
        return page_of(data, pathname, search, refresh_s, places)

    app.clientside_callback(
        ClientsideFunction("evenmelt", "look"), Output(ids.LOOK, "data"), Input(ids.LOOK_BUTTON, "n_clicks")
    )
    app.clientside_callback(ClientsideFunction("evenmelt", "width"), Output(ids.WIDTH, "data"), Input(ids.PAGE, "id"))
    app.clientside_callback(
        ClientsideFunction("evenmelt", "title"), Output(ids.TITLE_DONE, "data"), Input(ids.TITLE, "data")
    )


def _shell() -> html.Div:
    nav = [
        dcc.Link(html.Strong("Evenmelt"), href="/", className="mark"),
        dcc.Link(say("nav.lines"), href="/"),
        dcc.Link(say("nav.lots"), href="/lots"),
        dcc.Link(say("nav.upkeep"), href="/upkeep"),
        dcc.Link(say("nav.files"), href="/files"),
        dcc.Link(say("nav.import"), href="/import"),
    ]
    return html.Div(
        [
            dcc.Location(id=ids.URL, refresh=False),
            dcc.Store(id=ids.LOOK),
            dcc.Store(id=ids.WIDTH),
            dcc.Store(id=ids.TITLE),
            dcc.Store(id=ids.TITLE_DONE),
            dcc.Store(id=ids.UNITS_DONE),
            html.A(say("nav.skip"), href=f"#{ids.PAGE}", className="skip"),
            html.Header(
                [
                    html.Nav(nav),
                    units_menu.menu(),
                    html.Button(say("nav.look"), id=ids.LOOK_BUTTON, className="plain"),
                ],
                className="top",
            ),
            html.Main(id=ids.PAGE, tabIndex=-1),
            html.Footer([html.P(say("caution.short")), _cautions()]),
        ]
    )


def _cautions() -> html.Details:
    points = [html.Li(say(f"caution.{i}")) for i in range(1, 13)]
    return html.Details([html.Summary(say("caution.all")), html.Ul(points)])


def _index(lang: str) -> str:
    return f"""<!DOCTYPE html>
<html lang="{lang}">
<head>{{%metas%}}<title>{{%title%}}</title>{{%favicon%}}{{%css%}}</head>
<body>{{%app_entry%}}<footer class="dash-scripts">{{%config%}}{{%scripts%}}{{%renderer%}}</footer></body>
</html>"""
