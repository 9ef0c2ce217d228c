"""Tells browsers apart, so that each has one job at a time: a cookie with a random number, nothing else."""

from __future__ import annotations

import re
import uuid

from dash import Dash
from flask import Response, has_request_context, request

COOKIE = "evenmelt-session"
_FORM = re.compile(r"[0-9a-f]{32}")


def session() -> str:
    """The number of the browser that asks, '' before it has one."""
    found = request.cookies.get(COOKIE, "") if has_request_context() else ""
    return found if _FORM.fullmatch(found) else ""


def register(app: Dash) -> None:
    """Gives every browser its number with the first page."""

    @app.server.after_request
    def number(response: Response) -> Response:
        if request.method == "GET" and not session():
            response.set_cookie(COOKIE, uuid.uuid4().hex, httponly=True, samesite="Lax")
        return response
