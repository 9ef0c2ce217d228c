"""Turns the numbers in a sentence of the monitor into the reader's units, or leaves the whole sentence as it is.

The monitor speaks in fixed units: '242.0 °C, 4.0 °C above its limit of 238'. A number without a unit belongs to one
that has one. Where the sentence does not make plain to which, nothing in it is turned: it stays true in the
monitor's units. A sentence never mixes both.
"""

from __future__ import annotations

import functools
import itertools
import re
from dataclasses import dataclass

from dashboards.shown_units import AS_INSIDE, Choice, chosen, shown_difference, shown_unit, shown_value

_NUMBER = re.compile(r"(?<![\w:,])(?<!(?<!\.)\.)(?<![A-Za-z]-)[+\-−]?\d+(?:\.\d+)?(?!\w|:\d|\.\d)")
_STRAY = re.compile(r"(?<![\w:\-])(?<!(?<!\.)\.)\d[\w.:]*")
_UNIT = re.compile(
    r"[ \u00a0\u202f]?(?:°?C(?: min|/min|/h|/s)?|bar(?:/h|/s|/min)?|kg/h/rpm|kg/h/%|kg/h|kg|kWh/kg)(?![\w/])"
)
_OTHER_UNIT = re.compile(
    r"[ \u00a0\u202f]?(?:%|rpm|sigmas?|mbar|kW|A|V|m/min|mm|l|K|Hz|s|min|h|d|seconds?|minutes?|hours?|days?|cells?|"
    r"times|zones?|readings?|runs?|lots?|stops?|feeders?|sensors?|couples?|jumps?|swings?|cycles?|turns?)(?![\w/])"
)
_JOIN = re.compile(r"\s*(?:\.\.|–)\s*|\s+(?:of|to|and|or)\s+")
_TAKES_BEFORE = re.compile(
    r"(?:(?:^|[\s,;(])(?:expected|usual|usually|about|wanted|was|set|says|than|against|only))\s*$", re.I
)
_TAKES_AFTER = re.compile(r"\s*(?:wanted|usual|expected|promised|at first|before|set)\b")
_TAKES_LEVEL = re.compile(r"\b(?:limit|ceiling|set-point|target|point|edge|disc)(?: \w+){0,3} of\s*$|\bof\s*$", re.I)

_DIFFERENCE_AFTER = re.compile(
    r"\s*(?:above|below|over|under|hotter|colder|warmer|cooler|higher|lower|up|down|off|apart|either|away|beyond|"
    r"peak|wide|more|less|too|an hour|a minute|per)\b"
)
_DIFFERENCE_BEFORE = re.compile(
    r"\b(?:by|by about|by at least|up|down|within|rose|fell|climbed|dropped|wandered|moved|difference|"
    r"scatter of)\s*$|\+ $",
    re.I,
)
_LEVEL_BEFORE = re.compile(
    r"\b(?:at|to|from|reads?|has read|reached|of|(?:above|below|over|under) (?:about )?)\s*$", re.I
)


@dataclass
class _Said:
    """One number of a sentence. unit: fixed unit it is in; '' = one we never turn; None = not known yet."""

    start: int
    end: int
    unit_end: int
    unit: str | None
    difference: bool = False


def spoken(text: str, names: tuple[str, ...] = ()) -> str:
    """The sentence in the reader's units and with the reader's decimal mark.

    names: what the plant calls zones, feeders, sensors and the like; numbers in them are no readings.
    """
    choice = chosen.get()
    return text if choice == AS_INSIDE or not text else _spoken(text, names, choice)


@functools.lru_cache(maxsize=8192)
def _spoken(text: str, names: tuple[str, ...], _choice: Choice) -> str:
    numbers = _numbers(text, names)
    known = _nothing_unread(text, numbers, names) and all(_belongs(text, numbers))
    turned = known and any(n.unit and shown_unit(n.unit) != _as_written(n.unit) for n in numbers)
    if turned and not all(_kind_is_plain(text, n) for n in numbers):
        turned = False
    out, at = [], 0
    for n in numbers:
        out.append(text[at : n.start])
        out.append(_written(text, n, turned))
        at = n.unit_end if turned and n.unit and n.unit_end > n.end else n.end
    return "".join([*out, text[at:]])


def _numbers(text: str, names: tuple[str, ...]) -> list[_Said]:
    inside = _named(text, names)
    found = []
    for match in _NUMBER.finditer(text):
        unit = _UNIT.match(text, match.end())
        other = _OTHER_UNIT.match(text, match.end())
        if any(a <= match.start() < b for a, b in inside) and not unit:
            continue
        name, end = None, match.end()
        if unit:
            name, end = unit.group().strip(" \u00a0\u202f°"), unit.end()
        elif other:
            name, end = "%" if other.group().strip() == "%" else "", other.end()
        found.append(_Said(match.start(), match.end(), end, name))
    return found


def _nothing_unread(text: str, numbers: list[_Said], names: tuple[str, ...]) -> bool:
    """Whether every run of digits is a number that was read or part of a name: '1.8e+02' and '60s' are neither."""
    read = [(n.start, n.end) for n in numbers] + _named(text, names)
    return all(any(a <= stray.start() < b for a, b in read) for stray in _STRAY.finditer(text))


@functools.lru_cache(maxsize=64)
def _names_pattern(names: tuple[str, ...]) -> re.Pattern[str] | None:
    kept = sorted({n for n in names if any(c.isdigit() for c in n)}, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, kept))})(?!\w)") if kept else None


def _named(text: str, names: tuple[str, ...]) -> list[tuple[int, int]]:
    pattern = _names_pattern(names)
    return [match.span() for match in pattern.finditer(text)] if pattern else []


def _belongs(text: str, numbers: list[_Said]) -> list[bool]:
    """Gives every number its unit where the sentence tells it; whether it did, for each."""
    for n in numbers:
        n.difference = n.unit == "C" and _is_difference(text, n)
    for n, following in reversed(list(itertools.pairwise(numbers))):
        if n.unit is None and following.unit is not None and _JOIN.fullmatch(text, n.end, following.start):
            n.unit, n.difference = following.unit, following.difference
    for i, n in enumerate(numbers):
        if n.unit is not None or not i:
            continue
        before = numbers[i - 1]
        near = text[before.unit_end : n.start]
        ends = re.match(r"\s*(?:$|[,;:.)]|and\b|or\b|to\b|\.\.)", text[n.end :]) is not None
        if before.unit is not None and before.end == before.unit_end and _JOIN.fullmatch(near) and ends:
            n.unit, n.difference = before.unit, before.difference
        elif _TAKES_LEVEL.search(near) and ends:
            level = next((b for b in reversed(numbers[:i]) if b.unit not in (None, "%")), None)
            if level is not None:
                n.unit, n.difference = level.unit, False
        elif before.unit is not None and (
            (ends and re.fullmatch(r"(?: an hour| a minute)? \(", near))
            or (
                (before.unit or not any(b.unit for b in numbers))
                and (_TAKES_AFTER.match(text, n.end) or (ends and _TAKES_BEFORE.search(text[: n.start])))
            )
        ):
            n.unit, n.difference = before.unit, before.difference
    return [n.unit is not None for n in numbers]


def _is_difference(text: str, n: _Said) -> bool:
    return text[n.start] == "+" or bool(
        _DIFFERENCE_AFTER.match(text, n.unit_end) or _DIFFERENCE_BEFORE.search(text[: n.start])
    )


def _kind_is_plain(text: str, n: _Said) -> bool:
    """Whether it is plain that a temperature is a level or a difference: not where signs of both stand beside it."""
    if n.unit != "C" or text[n.start] == "+":
        return True
    return not (_is_difference(text, n) and _LEVEL_BEFORE.search(text[: n.start]))


def _as_written(unit: str) -> str:
    return f"°{unit}" if unit == "C" or unit.startswith(("C ", "C/")) else unit


def _written(text: str, n: _Said, turned: bool) -> str:
    digits = text[n.start : n.end]
    if turned and n.unit and n.unit != "%" and shown_unit(n.unit) != _as_written(n.unit):
        value = float(digits.replace("−", "-"))
        value = shown_difference(value, n.unit) if n.difference else shown_value(value, n.unit)
        places = len(digits.partition(".")[2])
        places = max(0, places - 1) if "bar" in n.unit else places
        new = f"{value:{'+' if digits[0] == '+' else ''}.{places}f}"
        digits = new.replace("-", "−") if "−" in digits else new
        gap = re.match(r"[ \u00a0\u202f]?", text[n.end : n.unit_end])
        tail = f"{gap.group() if gap else ' '}{shown_unit(n.unit)}" if n.unit_end > n.end else ""
    else:
        tail = text[n.end : n.unit_end] if turned and n.unit and n.unit_end > n.end else ""
    return (digits.replace(".", ",") if chosen.get().mark == "comma" else digits) + tail
