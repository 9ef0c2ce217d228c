"""A Dash component for text that a person types: nothing that comes late is written over it.

The field that comes with Dash sets the place of typing back a moment after a key was pressed and, told key by key, may
put an older text back: on a busy computer letters change places or get lost. The browser side is `assets/field.js`; no
build step.
"""

from __future__ import annotations

import time
from typing import Any

from dash import no_update
from dash.development.base_component import Component

_PROPS = [
    "id",
    "kind",
    "value",
    "left",
    "debounce",
    "placeholder",
    "className",
    "rows",
    "wrap",
    "spellCheck",
    "persistence",
    "disabled",
    "about",
]


class TextField(Component):
    """kind: 'text', 'search' or 'area'. value: what was typed; callbacks read it and never write it.

    left: what a callback leaves in the field, from `left_in`. debounce: told with Enter and on leaving the field only.
    persistence: whether the browser remembers it for the next visit. rows, wrap: of an area.
    about: what the text belongs to. Where an answer draws a field of the same id anew about the same, whoever types in
    it goes on typing.
    """

    _children_props: list[str] = []
    _base_nodes = ["children"]
    _namespace = "evenmelt"
    _type = "TextField"

    def __init__(self, id: Any = None, kind: str = "text", **more: Any) -> None:
        self._prop_names = list(_PROPS)
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = list(_PROPS)
        self.available_wildcard_properties: list[str] = []
        super().__init__(**{key: given for key, given in {"id": id, "kind": kind, **more}.items() if given is not None})


def left_in(was: str | None, now: str) -> Any:
    """For the output `left`: `now` is to stand in the field where still stands what was read from it, `was`.

    Whoever typed on meanwhile keeps what they typed.
    """
    if (was or "") == now:
        return no_update
    return {"was": was or "", "now": now, "at": time.monotonic_ns()}
