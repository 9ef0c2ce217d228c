"""Files the pages give away: a lot's report, and what a chart shows as a table or as a drawing."""

from __future__ import annotations

from urllib.parse import quote

from dash import Dash
from flask import Response, abort, request

from dashboards.data import JournalData
from dashboards.names import QUANTITY_UNITS
from dashboards.urls import NO_NUMBER, instant_text, query, stretch
from ingest.roles import split_key

SVG_WIDTH, SVG_HEIGHT, SVG_POINTS = 1100, 320.0, 1500


def report_url(line: str, number: str) -> str:
    """Where a lot's report is."""
    return f"/report/{quote(line, safe='')}/{quote(number or NO_NUMBER, safe='')}.html"


def data_url(line: str, key: str, t0: int, t1: int, kind: str, **more: str) -> str:
    """Where the data of a chart are. kind: 'csv' or 'svg'."""
    asked = query({"from": instant_text(t0), "to": instant_text(t1), **more})
    return f"/data/{quote(line, safe='')}/{quote(key, safe='')}.{kind}{asked}"


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
        from dashboards.figures.look import standalone
        from dashboards.figures.still_chart import still_chart

        key, _, kind = name.rpartition(".")
        if data.line(line) is None or kind not in ("csv", "svg") or not _is_charted(data, line, key):
            abort(404)
        first, end = data.span(line)
        t0, t1 = stretch(request.args, first, end)
        file_name = f"{line} {key} {instant_text(t0)}".replace(":", "-")
        headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(file_name + '.' + kind, safe='')}"}
        if kind == "csv":
            text = "\ufeff" + "".join(channel_rows(data, line, key, t0, t1))
            return Response(text, mimetype="text/csv", headers=headers)
        drawn = still_chart(data.chart(line, key, t0, t1, SVG_POINTS), SVG_WIDTH, SVG_HEIGHT)
        return Response(standalone(drawn, request.args.get("look", "light")), mimetype="image/svg+xml", headers=headers)


def _is_charted(data: JournalData, line: str, key: str) -> bool:
    known = data.line(line)
    return known is not None and (key in known.channels or split_key(key)[0] in QUANTITY_UNITS)
