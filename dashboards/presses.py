"""Whether a person pressed, or a button was only drawn anew."""

from __future__ import annotations

from dash import ctx


def pressed_now() -> bool:
    """Inside a callback: whether its button was pressed; a list drawn anew brings buttons that nobody has pressed."""
    return bool(ctx.triggered and ctx.triggered[0]["value"])
