"""A Dash component that shows one of our SVG drawings and says what was touched in it.

Its browser side is `assets/drawing.js`; no build step, no web download.
"""

from __future__ import annotations

from typing import Any

from dash.development.base_component import Component

_PROPS = ["id", "svg", "className", "label", "touched", "span"]


class Drawing(Component):
    """An SVG drawing.

    svg: text of the drawing. touched: set by the browser, {'key': channel, 'n': how many touches so far}.
    span: set by the browser after a drag, {'from': ms, 'to': ms}, UTC.
    """

    _children_props: list[str] = []
    _base_nodes = ["children"]
    _namespace = "evenmelt"
    _type = "Drawing"

    def __init__(self, id: Any = None, svg: str = "", className: str = "", label: str = "", **more: Any) -> None:
        self._prop_names = list(_PROPS)
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = list(_PROPS)
        self.available_wildcard_properties: list[str] = []
        given = {"id": id, "svg": svg, "className": className, "label": label, **more}
        super().__init__(**{key: value for key, value in given.items() if value is not None})
