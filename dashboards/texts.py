"""Every text a person reads on the pages, by key. Another language is another table with the same keys."""

from __future__ import annotations

from contextvars import ContextVar

from dashboards.shown_units import shown_unit
from dashboards.texts_english import ENGLISH

LANGUAGES: dict[str, dict[str, str]] = {"en": ENGLISH}

language: ContextVar[str] = ContextVar("language", default="en")
"""Language of the request being answered."""


def say(key: str, otherwise: str | None = None, **values: str) -> str:
    """The text of `key` with `values` filled in, and the reader's units at {u_kg}, {u_kg_h}, {u_bar} and {u_c}.

    otherwise: what to say where a name of the plant or the monitor has no text of its own. Without it a
    missing key is a mistake and raises KeyError.
    """
    table = LANGUAGES[language.get()]
    if key not in table:
        if otherwise is None:
            raise KeyError(f"no text '{key}' in language '{language.get()}'")
        return otherwise.replace("_", " ")
    text = table[key]
    if "{u_" in text:
        values = {"u_kg": shown_unit("kg"), "u_kg_h": shown_unit("kg/h"), "u_bar": shown_unit("bar"),
                  "u_c": shown_unit("C"), **values}  # fmt: skip
    return text.format(**values) if values else text
