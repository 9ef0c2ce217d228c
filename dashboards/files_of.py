"""Files the pages give away: a lot's report, and what a chart shows as a table."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from urllib.parse import quote

from dash import Dash
from flask import Response, abort, request

from dashboards import ids
from dashboards.data import JournalData
from dashboards.names import QUANTITY_UNITS
from dashboards.urls import NO_NUMBER, instant_text, stretch
from ingest.roles import split_key


def report_url(line: str, number: str) -> str:
    """Where a lot's report is."""
    return f"/report/{quote(line, safe='')}/{quote(number or NO_NUMBER, safe='')}.html"


def register(app: Dash, data: JournalData) -> None:
    """Routes of the files, on the app's own server."""

    @app.server.get("/report/<line>/<path:name>")
    def report(line: str, name: str) -> Response:
        from dashboards.report.lot_report import lot_report

        number = name.removesuffix(".html")
        found = data.lot(line, "" if number == NO_NUMBER else number) if data.line(line) is not None else None
        if found is None:
            abort(404)
        return Response(lot_report(data, found, data.now_ns()), mimetype="text/html")

    @app.server.get("/data/<line>/<path:name>")
    def chart_data(line: str, name: str) -> Response:
        from dashboards.channel_table import channel_rows

        key, _, kind = name.rpartition(".")
        if data.line(line) is None or kind != "csv" or not _is_charted(data, line, key):
            abort(404)
        t0, t1 = stretch(request.args, *data.span(line))
        return _given(channel_rows(data, line, key, t0, t1), f"{line} {key} {instant_text(t0)}")

    @app.server.get("/data/upkeep.csv")
    def upkeep_data() -> Response:
        from dashboards.figure_tables import panel_rows
        from dashboards.pages.upkeep import item_named
        from dashboards.upkeep_panels import panels_of
        from dashboards.upkeep_weeks import weeks_of

        item = item_named(data, request.args.get("item", ""))
        weeks = request.args.get("chart") == "weeks"
        panels = None if item is None else weeks_of(data, item) if weeks else panels_of(data, item)
        if item is None or panels is None:
            abort(404)
        t0, t1 = stretch(request.args, panels.t0, panels.t1)
        return _given(panel_rows(panels, t0, t1), f"{item.name.replace('/', ' ')} {instant_text(t0)}")

    @app.server.get("/data/beside.csv")
    def beside_data() -> Response:
        from dashboards.figure_tables import overlay_rows
        from dashboards.pages.lot_beside import laid_over

        name, number = request.args.get("line", ""), request.args.get("lot", "")
        lot = data.lot(name, "" if number == NO_NUMBER else number) if data.line(name) is not None else None
        key = request.args.get(ids.CHANNEL, "")
        if lot is None or not _is_charted(data, name, key):
            abort(404)
        laid = laid_over(data, lot, request.args, key)
        ends = [_number(request.args.get(end), otherwise) for end, otherwise in (("from", -inf), ("to", inf))]
        return _given(overlay_rows(laid, *ends), f"{name} {key} {lot.number}")


def _given(rows: Iterator[str], name: str) -> Response:
    """A table as a file; the mark in front tells spreadsheets that it is UTF-8."""
    saved = quote(f"{name}.csv".replace(":", "-"), safe="")
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{saved}"}
    return Response("\ufeff" + "".join(rows), mimetype="text/csv", headers=headers)


def _number(text: str | None, otherwise: float) -> float:
    try:
        return float(text or "")
    except ValueError:
        return otherwise


def _is_charted(data: JournalData, line: str, key: str) -> bool:
    known = data.line(line)
    return known is not None and (key in known.channels or split_key(key)[0] in QUANTITY_UNITS)
