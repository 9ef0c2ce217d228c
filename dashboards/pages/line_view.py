"""A line as its file describes it: the machine drawn, and tables of zones, feeders, vents and tags."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboards.drawing import Drawing
from dashboards.figures.bare_machine import bare_machine
from dashboards.names import figure, number, unit_of, with_unit
from dashboards.parts import row, table
from dashboards.shown_units import marked
from dashboards.tag_choice import role_words
from dashboards.texts import say
from monitor.line import Line


def line_view(line: Line, width: int) -> list[Any]:
    """All of it."""
    sensors = [[s.tag, role_words(s.role, s.at), s.unit or unit_of(line, s.key), _range(s.range)] for s in line.sensor]
    heads = ("tag", "role", "unit", "range")
    return [
        html.Div(Drawing(svg=bare_machine(line, width)), className="wide bare-strip"),
        row(say("line.machine"), facts(_facts(line))),
        row(say("line.zones"), _zones(line)),
        row(say("line.feeders"), _feeders(line)),
        *([row(say("line.vents"), _vents(line))] if line.vent else []),
        row(
            say("line.sensors"),
            html.Details(
                [
                    html.Summary(say("line.tag_count", count=str(len(sensors)))),
                    table([say(f"line.col.{head}") for head in heads], sensors),
                ],
                open=len(sensors) <= 12,
            ),
        ),
    ]


def facts(pairs: list[tuple[str, str]]) -> html.Dl:
    """Names and values, one beside the other."""
    return html.Dl([html.Div([html.Dt(name), html.Dd(value or say("line.unknown"))]) for name, value in pairs])


def _facts(line: Line) -> list[tuple[str, str]]:
    geometry, drive, limits = line.geometry, line.drive, line.limits
    screw = [
        with_unit(number(geometry.screw_diameter_mm, 1), "mm") if geometry.screw_diameter_mm else "",
        with_unit(marked(f"{geometry.length_over_diameter:g}"), "D") if geometry.length_over_diameter else "",
    ]
    power = [
        with_unit(marked(f"{drive.rated_power_kw:g}"), "kW") if drive.rated_power_kw else "",
        with_unit(marked(f"{drive.rated_speed_rpm:g}"), "rpm") if drive.rated_speed_rpm else "",
    ]
    limit = limits.melt_pressure_bar
    bar = unit_of(None, "melt_pressure")
    return [
        (say("line.fact.kind"), say(f"import.kind.{line.line.kind}")),
        (say("line.fact.screw"), ", ".join(filter(None, screw))),
        (say("line.fact.drive"), ", ".join(filter(None, power))),
        (say("line.fact.limit"), with_unit(figure(limit, "melt_pressure"), bar) if limit else ""),
        (say("line.fact.zone"), line.line.time_zone),
        (say("line.fact.step"), with_unit(marked(f"{line.line.cadence_s:g}"), "s")),
    ]


def _zones(line: Line) -> Any:
    if not line.zone:
        return html.P(say("line.none"), className="quiet")
    heads = ("zone", "kind", "element", "limit", "cooled")
    rows: list[list[Any]] = [
        [zone.name, zone.kind, zone.element if zone.kind in ("feed", "barrel") else "–",
         with_unit(marked(f"{zone.output_limit_pct:g}"), "%"), _yes(zone.cooled)]
        for zone in line.zone
    ]  # fmt: skip
    return table([say(f"line.col.{head}") for head in heads], rows, numbers=(3,), class_name="narrow")


def _feeders(line: Line) -> Any:
    if not line.feeder:
        return html.P(say("line.none"), className="quiet")
    heads = ("feeder", "material", "kind", "at", "hopper", "refill")
    kg = unit_of(None, "feeder_weight")
    rows: list[list[Any]] = [
        [
            f.title or f.name, f.material or "–", say("line.side", kind=f.kind) if f.side else f.kind, f.at or "–",
            with_unit(figure(f.hopper_kg, "feeder_weight"), kg) if f.hopper_kg else "–",
            with_unit(figure(f.refill_below_kg, "feeder_weight"), kg) if f.refill_below_kg else "–",
        ]
        for f in line.feeder
    ]  # fmt: skip
    return table([say(f"line.col.{head}") for head in heads], rows, numbers=(4, 5), class_name="narrow")


def _vents(line: Line) -> Any:
    rows: list[list[Any]] = [[vent.name, vent.at or "–", _yes(vent.vacuum)] for vent in line.vent]
    return table([say(f"line.col.{head}") for head in ("vent", "at", "vacuum")], rows, class_name="narrow")


def _range(limits: tuple[float, float] | None) -> str:
    return marked(f"{limits[0]:g} … {limits[1]:g}") if limits else "–"


def _yes(value: bool) -> str:
    return say("line.yes" if value else "line.no")
