"""What stands on a long page: a short list of its sections near its top, each a link to its place."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards.parts import NO_VOICE
from dashboards.texts import say


def contents(*sections: tuple[str, str]) -> html.Nav:
    """The list. sections: id of each, which is also its fragment in the address, and its heading.

    A plain link, so that the browser keeps the place in its history; assets/arrive.js brings an opened address there.
    """
    named: Any = {"aria-label": say("contents.title")}
    items = [html.Li(html.A(heading, href=f"#{id_}")) for id_, heading in sections]
    return html.Nav([html.Span(say("contents.title"), **NO_VOICE), html.Ul(items)], className="contents", **named)
