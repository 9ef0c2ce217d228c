"""The URL is the state: how pages are addressed and how what they show is written into the address."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from urllib.parse import parse_qsl, quote, unquote, urlencode

from dash.exceptions import PreventUpdate

from dashboards.clock import SECOND

NO_NUMBER = "-"
"""Stands in an address for a lot without a number."""


def live_url(line: str, **state: str) -> str:
    """Address of a line's live page."""
    return f"/live/{quote(line, safe='')}{query(state)}"


def lot_url(line: str, lot: str, **state: str) -> str:
    """Address of a lot."""
    return f"/lots/{quote(line, safe='')}/{quote(lot or NO_NUMBER, safe='')}{query(state)}"


def upkeep_url(**state: str) -> str:
    """Address of the upkeep page."""
    return f"/upkeep{query(state)}"


def import_url(key: str, **state: str) -> str:
    """Address of a log that was brought."""
    return f"/import/{quote(key, safe='')}{query(state)}"


def file_url(name: str, **state: str) -> str:
    """Address of a line or recipe file."""
    return f"/files/{quote(name, safe='')}{query(state)}"


def judged_line_url(line: str) -> str:
    """Address of a line as the journal holds it."""
    return f"/files/judged/{quote(line, safe='')}"


def query(state: Mapping[str, str]) -> str:
    """'?a=b&c=d' of what is not empty, or ''."""
    kept = {key.rstrip("_"): value for key, value in state.items() if value}
    return "?" + urlencode(kept, quote_via=quote, safe=":") if kept else ""


def parameters(search: str | None) -> dict[str, str]:
    """The state in an address; the last word counts where one is said twice."""
    return dict(parse_qsl((search or "").removeprefix("?")))


def with_parameters(search: str | None, **changes: str) -> str:
    """The same address state with some of it changed; an empty value takes it out."""
    return query({**parameters(search), **{key.rstrip("_"): value for key, value in changes.items()}})


def touched_url(touched: Mapping[str, object] | None, search: str | None) -> str:
    """The address state after a channel was touched in a drawing; raises PreventUpdate when none was."""
    if not touched:
        raise PreventUpdate
    return with_parameters(search, channel=str(touched["key"]))


def data_url(line: str, key: str) -> str:
    """Address of the table of a channel; the stretch is added as `from` and `to`, in UTC."""
    return f"/data/{quote(line, safe='')}/{quote(key, safe='')}.csv"


def upkeep_table_url(item: str, chart: str) -> str:
    """Address of the table of an item's chart: 'days' or 'weeks'."""
    return f"/data/upkeep.csv{query({'item': item, 'chart': chart})}"


def beside_table_url(line: str, lot: str, **state: str) -> str:
    """Address of the table of runs laid over each other; the stretch of the axis is added as `from` and `to`."""
    return f"/data/beside.csv{query({'line': line, 'lot': lot or NO_NUMBER, **state})}"


def path_parts(pathname: str | None) -> list[str]:
    """Decoded parts of a path."""
    return [unquote(part) for part in (pathname or "/").split("/") if part]


def instant_text(at_ns: int) -> str:
    """UTC instant as it stands in an address: 2026-03-03T06:29:00Z."""
    return dt.datetime.fromtimestamp(at_ns // SECOND, dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def parse_instant(text: str | None) -> int | None:
    """UTC nanoseconds of an instant in an address; None if it is none."""
    try:
        found = dt.datetime.fromisoformat(text or "")
    except ValueError:
        return None
    if found.tzinfo is None:
        found = found.replace(tzinfo=dt.UTC)
    return int(found.timestamp()) * SECOND


def stretch(state: Mapping[str, str], t0: int, t1: int) -> tuple[int, int]:
    """The stretch of time an address asks for, held inside [t0, t1]; all of it if it asks for none."""
    start, end = parse_instant(state.get("from")), parse_instant(state.get("to"))
    start = t0 if start is None else min(max(start, t0), t1)
    end = t1 if end is None else min(max(end, t0), t1)
    return (start, end) if end - start >= 10 * SECOND else (t0, t1)
