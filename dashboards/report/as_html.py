"""The parts of a page as HTML text, for a file that no browser program need fill.

Pages and reports are put together from the same parts, so that they say the same.
"""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

from dash.development.base_component import Component

from dashboards.drawing import Drawing

VOID = frozenset({"br", "hr", "img", "input"})
ATTRIBUTES = {"className": "class", "htmlFor": "for", "colSpan": "colspan", "rowSpan": "rowspan", "title": "title",
              "role": "role"}  # fmt: skip
"""Properties of a part that mean something on paper; what only a live page needs is left out."""


def as_html(part: Any, link: Callable[[str], str | None] = lambda href: None) -> str:
    """HTML of a part, a list of parts, a text or None.

    link: where a link of the pages leads to from the file; None leaves its text alone. Raises TypeError for a part that
    has no likeness on paper.
    """
    if part is None or isinstance(part, bool):
        return ""
    if isinstance(part, (list, tuple)):
        return "".join(as_html(item, link) for item in part)
    if not isinstance(part, Component):
        return html.escape(str(part), quote=False)
    if isinstance(part, Drawing):
        return f'<div class="wide">{getattr(part, "svg", "")}</div>'
    children = as_html(getattr(part, "children", None), link)
    kind = type(part).__name__
    namespace = getattr(part, "_namespace", "")
    if namespace == "dash_core_components" and kind == "Link":
        href = link(str(getattr(part, "href", "")))
        return children if href is None else f'<a href="{html.escape(href)}">{children}</a>'
    if namespace != "dash_html_components":
        raise TypeError(f"{kind} has no likeness on paper")
    if kind == "A":
        return ""
    name = kind.lower()
    if name == "details":
        return f"<div>{children}</div>"
    if name == "summary":
        return f"<p><b>{children}</b></p>"
    # What a screen reader needs, and the names of columns, hold on paper too.
    told = {key: key for key in vars(part) if key.startswith(("aria-", "data-"))}
    written = "".join(
        f' {attribute}="{html.escape(str(value))}"'
        for key, attribute in {**ATTRIBUTES, **told}.items()
        if (value := getattr(part, key, None)) is not None
    )
    return f"<{name}{written}>" if name in VOID else f"<{name}{written}>{children}</{name}>"
