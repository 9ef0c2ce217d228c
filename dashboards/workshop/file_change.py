"""What changed between two versions of a line or recipe file, in words: by part and key, then line by line."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from dashboards.texts import say

MOST_LINES = 400


def changes(before: str, after: str) -> list[str]:
    """One sentence a change. Texts that are no TOML are compared by the number of their lines alone."""
    if before == after:
        return [say("change.none")]
    try:
        old, new = tomllib.loads(before), tomllib.loads(after)
    except tomllib.TOMLDecodeError:
        return [_counts(before, after)]
    was, now = dict(_parts(old)), dict(_parts(new))
    said = [say("change.new", part=part) for part in now if part not in was]
    said += [say("change.gone", part=part) for part in was if part not in now]
    for part, keys in now.items():
        if part in was:
            said += _keys(part, was[part], keys)
    for kind in ("zone", "feeder", "vent", "sensor", "window"):
        order, before_order = _order(now, kind), _order(was, kind)
        if sorted(order) == sorted(before_order) and order != before_order:
            said.append(say("change.order", kind=kind, order=", ".join(order)))
    return said or [say("change.comments")]


def changed_lines(before: str, after: str) -> list[tuple[str, str]]:
    """(' ', '+' or '-', line) of what was put in and taken out, with one line on either side."""
    rows = difflib.unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm="")
    return [(row[:1], row[1:]) for row in rows if not row.startswith(("---", "+++"))][:MOST_LINES]


def _counts(before: str, after: str) -> str:
    rows = changed_lines(before, after)
    added, taken = (sum(mark == wanted for mark, _ in rows) for wanted in "+-")
    return say("change.lines", added=str(added), taken=str(taken))


def _parts(data: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every table under a name a person knows it by, with its keys."""
    plain: dict[str, Any] = {}
    for key, value in data.items():
        if isinstance(value, dict):
            yield from _table(key, value)
        elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
            for item in value:
                yield f"{key} '{_called(item)}'", item
        else:
            plain[key] = value
    if plain:
        yield say("change.file"), plain


def _table(name: str, table: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    yield f"[{name}]", {key: value for key, value in table.items() if not isinstance(value, dict)}
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _table(f"{name}.{key}", value)


def _called(item: Mapping[str, Any]) -> str:
    if "role" in item and "tag" not in item:
        return " ".join(str(item[key]) for key in ("role", "at") if item.get(key))
    return str(item.get("tag") or item.get("name") or "?")


def _keys(part: str, was: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    said = []
    for key in dict.fromkeys((*was, *now)):
        if was.get(key) == now.get(key):
            continue
        if key not in was:
            said.append(say("change.key_new", part=part, what=key, now=_value(now[key])))
        elif key not in now:
            said.append(say("change.key_gone", part=part, what=key, was=_value(was[key])))
        else:
            said.append(say("change.key", part=part, what=key, now=_value(now[key]), was=_value(was[key])))
    return said


def _value(value: Any) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"'{value}'" if isinstance(value, str) else str(value)


def _order(parts: Mapping[str, Any], kind: str) -> list[str]:
    return [part.removeprefix(f"{kind} ").strip("'") for part in parts if part.startswith(f"{kind} '")]
