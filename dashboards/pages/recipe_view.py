"""A recipe as its file describes it: windows as bands in machine order, shares, and what a practitioner would say."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards.drawing import Drawing
from dashboards.figures.recipe_bands import recipe_bands
from dashboards.figures.time_axis import PHONE
from dashboards.machine import machine_order
from dashboards.names import channel_title, figure, number, unit_of, with_unit
from dashboards.pages.line_view import facts
from dashboards.parts import row
from dashboards.shown_units import marked
from dashboards.tag_choice import role_words
from dashboards.texts import say
from dashboards.windows import plain_zone_window
from ingest.roles import ROLES, split_key
from monitor.line import Line
from monitor.recipe import Recipe, Window
from monitor.recipe_remarks import recipe_remarks


def recipe_view(recipe: Recipe, line: Line | None, width: int) -> list[Any]:
    """All of it. line: one it is made on, where such a line file is known; it gives the order and the names."""
    rows = band_rows(recipe, line)
    drawn: list[Any] = [html.P(say("recipe.no_windows"), className="quiet")]
    if rows:
        beside = max(700, width - 160 if width > 1100 else width)
        svg = recipe_bands(rows, width if width < PHONE else beside, recipe.name)
        drawn = [html.P(say("recipe.how"), className="soft"), html.Div(Drawing(svg=svg), className="wide")]
    parts: list[Any] = [row(say("recipe.facts"), facts(_facts(recipe))), row(say("recipe.windows"), *drawn)]
    if recipe.shares:
        parts.append(row(say("recipe.shares"), html.Div(_shares(recipe, line), className="channels")))
    remarks = recipe_remarks(line, recipe) if line is not None else ()
    if line is not None and remarks:
        items = html.Ul([html.Li(remark) for remark in remarks])
        parts.append(row(say("recipe.remarks", line=line.name), items))
    return parts


def band_rows(recipe: Recipe, line: Line | None) -> list[tuple[str, str, Window]]:
    """(title, unit, window) of everything it judges; zones with a target alone get the plain start."""
    windows = {window.key: window for window in recipe.window}
    plain = {}
    for zone, wanted in recipe.zones.items():
        key = f"zone_temperature:{zone}"
        if key not in windows:
            plain[key] = plain_zone_window(zone, wanted)
    together = {**plain, **windows}
    keys = machine_order(line, list(together)) if line is not None else list(together)
    rows = []
    for key in keys:
        title = _title(line, key)
        if key in plain:
            title = say("recipe.plain", title=title)
        rows.append((title, unit_of(None, key), together[key]))
    return rows


def _title(line: Line | None, key: str) -> str:
    role, at = split_key(key)
    if line is not None and key in line.channels:
        return channel_title(line, key)
    return role_words(role, at) if role in ROLES else key


def _shares(recipe: Recipe, line: Line | None) -> list[html.Span]:
    titles = {f.name: f.title or f.name for f in line.feeder} if line is not None else {}
    return [
        html.Span(say("recipe.share", feeder=titles.get(name, name), percent=number(share, 2)))
        for name, share in recipe.shares.items()
    ]


def _facts(recipe: Recipe) -> list[tuple[str, str]]:
    told = recipe.recipe

    def value(amount: float | None, key: str) -> str:
        return with_unit(figure(amount, key), unit_of(None, key)) if amount is not None else ""

    pairs = [
        (say("recipe.fact.product"), told.product),
        (say("recipe.fact.materials"), ", ".join(told.materials)),
        (say("recipe.fact.lines"), ", ".join(told.lines) or say("recipe.fact.any")),
        (say("recipe.fact.rate"), value(told.rate_kg_h, "line_rate")),
        (say("recipe.fact.speed"), value(told.screw_speed_rpm, "screw_speed")),
        (say("recipe.fact.melting"), value(told.melting_point_c, "zone_temperature")),
        (say("recipe.fact.glass"), value(told.glass_transition_c, "zone_temperature")),
        (say("recipe.fact.ceiling"), value(told.ceiling_c, "zone_temperature")),
        (say("recipe.fact.hold"), with_unit(marked(f"{told.hot_hold_min:g}"), "min") if told.hot_hold_min else ""),
    ]
    return pairs + ([(say("recipe.fact.learned"), ", ".join(told.learned_from))] if told.learned_from else [])
