"""Files the pages give away: a lot's report."""

from __future__ import annotations

from urllib.parse import quote

from dash import Dash
from flask import Response, abort

from dashboards.data import JournalData
from dashboards.urls import NO_NUMBER


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
