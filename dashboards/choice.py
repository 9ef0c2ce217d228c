"""A Dash component that lets one choose with the browser's own controls: a list, or boxes to tick.

What comes with Dash hides a focusable field from screen readers. The browser side is `assets/choice.js`; no build step.
"""

from __future__ import annotations

from typing import Any

from dash.development.base_component import Component

_PROPS = ["id", "kind", "options", "value", "hint", "className"]


class Choice(Component):
    """kind: 'list' (value: one of the options' values, '' = none yet) or 'ticks' (value: a list of them).

    options: [{'label': text, 'value': text}]. hint: what a list shows while nothing is chosen.
    """

    _children_props: list[str] = []
    _base_nodes = ["children"]
    _namespace = "evenmelt"
    _type = "Choice"

    def __init__(self, id: Any = None, kind: str = "list", **more: Any) -> None:
        self._prop_names = list(_PROPS)
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = list(_PROPS)
        self.available_wildcard_properties: list[str] = []
        super().__init__(**{key: given for key, given in {"id": id, "kind": kind, **more}.items() if given is not None})
