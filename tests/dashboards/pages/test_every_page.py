"""Every page, without a browser: it answers, its ids are unique and known, its replies are bounded."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from dash import Dash
from dash.development.base_component import Component

from dashboards import ids
from dashboards.app import create_app, page_of
from dashboards.chart_moves import zoomed
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.pages import lines, live, lot, lots, upkeep
from dashboards.urls import live_url, lot_url, parameters
from tests.dashboards.lines import twin

ADDRESSES = [
    "/",
    live_url("Line 3"),
    live_url("Line 5"),
    live_url("no such"),
    "/lots",
    lot_url("Line 3", "4417"),
    lot_url("Line 5", ""),
    lot_url("Line 3", "9"),
    "/upkeep",
    "/nowhere",
]
KNOWN = {value for name, value in vars(ids).items() if name.isupper()}
CHARTS = (ids.LIVE_CHART, ids.LOT_CHART, ids.LOT_BESIDE_CHART, ids.UPKEEP_CHART, ids.UPKEEP_WEEKS)
KNOWN |= {f"{chart}-{part}" for chart in CHARTS for part in ("hold", "keys")}


@pytest.fixture(scope="module")
def app(data: MemoryData) -> Dash:
    return create_app(data)


def components(node: Any) -> Iterator[Component]:
    if isinstance(node, Component):
        yield node
        yield from components(getattr(node, "children", None))
    elif isinstance(node, (list, tuple)):
        for child in node:
            yield from components(child)


def size(value: Any) -> int:
    import plotly.utils

    return len(json.dumps(value, cls=plotly.utils.PlotlyJSONEncoder))


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_address_answers(app: Dash, address: str) -> None:
    reply = app.server.test_client().get(address)
    assert reply.status_code == 200
    assert b'<html lang="en">' in reply.data


def test_nothing_is_fetched_from_elsewhere(app: Dash) -> None:
    page = app.server.test_client().get("/").get_data(as_text=True)
    assert "https://" not in page and "http://" not in page


def test_assets_and_layout_are_served(app: Dash) -> None:
    client = app.server.test_client()
    for name in ("marks.css", "page.css", "page.js", "drawing.js", "chart.js"):
        with client.get(f"/assets/{name}") as reply:
            assert reply.status_code == 200
    assert client.get("/_dash-layout").status_code == 200
    assert len(client.get("/_dash-dependencies").data) > 100


@pytest.mark.parametrize("address", ADDRESSES)
def test_layouts_are_small_and_ids_unique_and_known(app: Dash, data: MemoryData, address: str) -> None:
    layout, title = page_of(data, address.split("?")[0], "", 1.0)
    shell = app.layout
    found = [c.id for root in (shell, layout) for c in components(root) if getattr(c, "id", None)]
    assert len(found) == len(set(found))
    assert set(found) <= KNOWN
    assert size(layout) < 50_000
    assert "Evenmelt" in title


@pytest.mark.parametrize("address", ADDRESSES)
def test_one_interval_a_page_of_a_second_or_more(data: MemoryData, address: str) -> None:
    layout, _ = page_of(data, address, "", 0.1)
    intervals = [c for c in components(layout) if type(c).__name__ == "Interval"]
    assert len(intervals) <= 1
    assert all(c.interval >= 1000 for c in intervals)


def test_stores_are_small(data: MemoryData) -> None:
    reply = live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)
    assert size(reply[-1]) < 4096
    assert all(
        size(c.data) < 4096 for c in components(page_of(data, "/live/Line 3", "", 1)[0]) if type(c).__name__ == "Store"
    )


@pytest.mark.parametrize("width", [760, 1384, 1720])
@pytest.mark.parametrize("name", ["Line 3", "Line 5"])
def test_live_replies_are_bounded_and_shrink(data: MemoryData, name: str, width: int) -> None:
    first = live.answer(data, name, {}, "dark", width, {}, 1.0)
    assert size(first) < 200_000
    again = live.answer(data, name, {}, "dark", width, first[-1], 1.0)
    assert size(again) < 90_000
    assert size(again) < size(first)


def test_lot_lines_and_upkeep_replies_are_bounded(data: MemoryData) -> None:
    for name, number in (("Line 3", "4417"), ("Line 5", "")):
        found = data.lot(name, number)
        assert found is not None
        assert size(lot.answer(data, found, {}, "light", 1384)) < 200_000
    assert size([lines.line_block(data, name, 1384) for name in data.line_names()]) < 100_000
    assert size(lots.lots_table(data, {})) < 200_000
    for item in upkeep.all_items(data, {}):
        assert size(upkeep.answer(data, {"item": item.name}, "light", 1384)) < 200_000


def test_ids_inside_replies_are_unique(data: MemoryData) -> None:
    reply = live.answer(data, "Line 3", {}, "light", 1384, {}, 1.0)
    layout = page_of(data, "/live/Line 3", "", 1)[0]
    found = [c.id for part in (*reply, layout) for c in components(part) if getattr(c, "id", None)]
    assert len(found) == len(set(found))


def test_first_run_says_how_to_begin(empty_data: MemoryData) -> None:
    layout, _ = page_of(empty_data, "/", "", 1.0)
    assert "evenmelt demo" in json.dumps(layout.to_plotly_json(), default=lambda c: c.to_plotly_json())
    assert create_app(empty_data).server.test_client().get("/").status_code == 200


def test_two_apps_in_one_process_do_not_mix(data: MemoryData, empty_data: MemoryData) -> None:
    apps = create_app(data), create_app(empty_data)
    replies = []
    for app in apps:
        body = {
            "output": "..page.children...title.data..",
            "changedPropIds": ["url.pathname"],
            "outputs": [{"id": "page", "property": "children"}, {"id": "title", "property": "data"}],
            "inputs": [{"id": "url", "property": "pathname", "value": "/"}],
            "state": [{"id": "url", "property": "search", "value": ""}],
        }
        reply = app.server.test_client().post("/_dash-update-component", json=body)
        assert reply.status_code == 200
        replies.append(reply.get_data(as_text=True))
    assert "lines-body" in replies[0] and "No line yet" in replies[1]


def test_search_finds_by_number_product_day_and_finding(data: MemoryData) -> None:
    def numbers(**state: str) -> list[str]:
        return [item.lot.number for item in lots.listed(data, state)]

    assert numbers(find="4417") == ["4417"]
    assert numbers(find="grey talc") == ["4417", "4416"]
    assert numbers(find="vacuum") == ["4416"]
    assert numbers(**{"from": "2026-03-04"}) == []
    assert "4417" in numbers(**{"from": "2026-03-03", "to": "2026-03-03"})
    assert numbers(find="no such thing") == []


@pytest.mark.parametrize(
    ("moved", "wanted"),
    [
        (None, None),
        ({"autosize": True}, None),
        ({"dragmode": "pan"}, None),
        ({"xaxis.autorange": True}, ("", "")),
        (
            {"xaxis.range[0]": "2026-03-03 07:00:00", "xaxis.range[1]": "2026-03-03 07:20:00.5"},
            ("2026-03-03T06:00:00Z", "2026-03-03T06:20:00Z"),
        ),
        (
            {"xaxis.range": ["2026-03-03 07:00", "2026-03-03 07:20"]},
            ("2026-03-03T06:00:00Z", "2026-03-03T06:20:00Z"),
        ),
        ({"yaxis.range[0]": 1, "yaxis.range[1]": 2}, None),
    ],
)
def test_chart_zoom_becomes_a_stretch(data: MemoryData, end_ns: int, moved: dict | None, wanted: tuple | None) -> None:
    assert zoomed(moved, data.clock("Line 3"), end_ns) == wanted


def test_page_addresses_itself(data: MemoryData) -> None:
    reply = live.answer(data, "Line 3", parameters("?channel=zone_temperature:Z4"), "light", 1384, {}, 1.0)
    assert reply[5][0] == "Z4 temperature"


def test_unknown_language_is_refused(data: MemoryData) -> None:
    with pytest.raises(ValueError, match="no texts"):
        create_app(data, lang="xx")


def test_any_line_name_can_be_shown(end_ns: int) -> None:
    held = twin()
    odd = held.line.model_copy(update={"line": held.line.line.model_copy(update={"name": "Line 3.1 {x}/ü & <b>"})})
    data = MemoryData([MemoryLine(**{**vars(held), "line": odd})], clock=lambda: end_ns)
    name = odd.name
    assert page_of(data, live_url(name), "", 1.0)[1].startswith(name)
    assert size(lines.line_block(data, name, 1384)) and size(lots.lots_table(data, {}))
    reply = live.answer(data, name, {}, "light", 1384, {}, 1.0)
    assert not any("." in str(c.id) or "{" in str(c.id) for p in reply for c in components(p) if getattr(c, "id", None))
