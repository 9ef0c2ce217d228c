"""Zones whose numbers are the recipe's in another unit of temperature than the line file gives them: a likely mistake.

Rates and pressures are looked at along with them (`monitor.mistaken_amounts`), and ranges (`monitor.mistaken_range`).

Several zones are not by chance where only a change of unit puts them: 170, 190 and 200 read as °F are 77, 88 and 93 °C.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Iterator, Sequence

import numpy as np

from ingest.account import LIKELY, ReadingAccount
from ingest.block import Block, Note
from ingest.roles import RELATIVE, ROLES, split_key
from ingest.units import to_unit
from monitor.exact import Bools, Floats
from monitor.line import Line
from monitor.mistaken_amounts import MistakenAmounts
from monitor.mistaken_range import MistakenRanges
from monitor.recipe import Recipe

UNITS = ("C", "F", "K")
WITHIN_C = {"zone_setpoint": 1.0, "zone_temperature": 5.0}
"""How near the recipe a zone is where it is set to it, and where it is held; common practice, no source."""

FEWEST, NEARLY_ALL = 3, 0.8
PIECE_NS = 600 * 10**9
MOSTLY, HARDLY_EVER = 0.5, 0.05
"""Share of the pieces of a log in which another unit fits, at least, and in which the one that is given does, at most:
a barrel that heats up or is set back passes other temperatures."""

_NAMED = 3


def units_of(line: Line, keys: Sequence[str]) -> list[str]:
    """The unit that the line file gives each of these channels."""
    given = {sensor.key: sensor.unit or ROLES[sensor.role].unit for sensor in line.sensor}
    return [given[key] for key in keys]


def fits(value_c: Floats, wanted_c: Floats, given: Sequence[str], within_c: float) -> tuple[Bools, dict[str, Bools]]:
    """Whether nearly all zones are where they are wanted, [n], as they are given and in each other unit.

    value_c, wanted_c: [zone, n], C, as the given unit makes them; NaN is not counted. given: by zone.
    """
    known = np.isfinite(value_c) & np.isfinite(wanted_c)
    count = np.count_nonzero(known, axis=0)

    def nearly_all(as_if_c: Floats) -> Bools:
        with np.errstate(invalid="ignore"):
            near = np.count_nonzero(known & (np.abs(as_if_c - wanted_c) <= within_c), axis=0)
        return (count >= FEWEST) & (near >= NEARLY_ALL * count)

    others = {}
    for unit in UNITS:
        if all(to_unit(one, "C") != to_unit(unit, "C") for one in given):
            as_if = [_as_if(row, one, unit) for row, one in zip(value_c, given, strict=True)]
            others[unit] = nearly_all(np.array(as_if).reshape(value_c.shape)) & ~nearly_all(value_c)
    return nearly_all(value_c), others


def _as_if(value_c: Floats, given: str, unit: str) -> Floats:
    conversion = to_unit(given, "C")
    return to_unit(unit, "C").apply((value_c - conversion.offset) / conversion.scale)


def fitting_unit(line: Line, keys: Sequence[str], value_c: Floats, wanted_c: Floats) -> Floats:
    """In which of UNITS the set-points of zones among keys would be the recipe's, [n]: 1 and up, 0 = in none.

    value_c, wanted_c: [key, n].
    """
    rows = [row for row, key in enumerate(keys) if split_key(key)[0] == "zone_setpoint"]
    out = np.zeros(value_c.shape[1])
    if len(rows) >= FEWEST:
        given = units_of(line, [keys[row] for row in rows])
        _, others = fits(value_c[rows], wanted_c[rows], given, WITHIN_C["zone_setpoint"])
        for unit, there in others.items():
            out[there] = 1.0 + UNITS.index(unit)
    return out


class MistakenUnits:
    """Looks at zones, rates and pressures of a finished log, beside the recipe in force, ten minutes at a time.

    schedule: notes of the schedule file. recipe: in force where nobody names one. Memory: a few counts.
    said: after the end, that some unit is likely wrong.
    """

    def __init__(self, line: Line, recipes: Sequence[Recipe], schedule: Sequence[Note], recipe: str = "") -> None:
        self._line, self._recipes = line, {one.name: one for one in recipes}
        self._notes = sorted(note for note in schedule if note.kind == "recipe")
        self._recipe = recipe
        groups = dict[tuple[str, str], list[int]]()
        for row, (key, unit) in enumerate(zip(line.channels, units_of(line, line.channels), strict=True)):
            if split_key(key)[0] in WITHIN_C and unit != RELATIVE:
                groups.setdefault((split_key(key)[0], unit), []).append(row)
        self._groups = {group: rows for group, rows in groups.items() if len(rows) >= FEWEST}
        self._amounts, self._ranges, self.said = MistakenAmounts(line), MistakenRanges(line), False
        self._pieces = dict.fromkeys(self._groups, 0)
        self._as_given = dict.fromkeys(self._groups, 0)
        self._fitting = dict.fromkeys(((group, unit) for group in self._groups for unit in UNITS), 0)

    def add(self, block: Block) -> None:
        """The next cells."""
        self._ranges.add(block)
        for note in block.notes:
            if note.kind == "recipe":
                bisect.insort(self._notes, note)
        width = max(1, PIECE_NS // block.step)
        for first in range(0, block.n, width):
            last = min(block.n, first + width)
            recipe = self._in_force(block.t0 + first * block.step, block.t0 + last * block.step)
            if recipe is not None and recipe.zones:
                self._look(block.values[:, first:last], recipe)
            self._amounts.look(block.values[:, first:last], recipe)

    def close(self, account: ReadingAccount) -> None:
        """The log is at its end."""
        likely = (*self._sentences(), *self._ranges.sentences(account))
        for sentence, sure in (*((sentence, LIKELY) for sentence in likely), *self._amounts.sentences()):
            account.notice(sentence, sure)
            self.said = True

    def _in_force(self, start: int, end: int) -> Recipe | None:
        """The recipe that holds from start to end, ns; None where it changes."""
        place = bisect.bisect_right(self._notes, start, key=lambda note: note.at_ns)
        if place < len(self._notes) and self._notes[place].at_ns < end:
            return None
        return self._recipes.get(self._notes[place - 1].text if place else self._recipe)

    def _look(self, values: Floats, recipe: Recipe) -> None:
        for (role, unit), rows in self._groups.items():
            wanted = np.array([recipe.zones.get(split_key(self._line.channels[row])[1], np.nan) for row in rows])
            some = [np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in values[rows]]
            known = np.isfinite(some) & np.isfinite(wanted)
            if np.count_nonzero(known) < FEWEST:
                continue
            group = role, unit
            so, others = fits(np.array(some)[:, None], wanted[:, None], [unit] * len(rows), WITHIN_C[role])
            self._pieces[group] += 1
            self._as_given[group] += bool(so[0])
            for other, there in others.items():
                self._fitting[group, other] += bool(there[0])

    def _sentences(self) -> Iterator[str]:
        found: dict[tuple[str, str], list[str]] = {}
        for (role, unit), pieces in self._pieces.items():
            for other in UNITS:
                often = self._fitting[(role, unit), other] >= max(1, math.ceil(MOSTLY * pieces))
                if pieces and often and self._as_given[role, unit] <= HARDLY_EVER * pieces:
                    found.setdefault((unit, other), []).append(role)
        for (unit, other), roles in found.items():
            tags = [self._tag(row) for role in roles for row in self._groups[role, unit]]
            rest = [
                sensor.tag
                for sensor in self._line.sensor
                if sensor.tag not in tags and ROLES[sensor.role].unit == "C" and (sensor.unit or "C") == unit
            ]
            beside = f", and look at the others given in {unit}, {_named(rest)}" if rest else ""
            yield (
                f"{_named(tags)}: what is read is the recipe's zones only if it is in {other}, so the unit of the line "
                f'file is likely wrong: write unit = "{other}" at each such [[sensor]]{beside}; until then the unit of '
                f"the line file, {unit}, counts"
            )

    def _tag(self, row: int) -> str:
        key = self._line.channels[row]
        return next(sensor.tag for sensor in self._line.sensor if sensor.key == key)


def _named(tags: Sequence[str]) -> str:
    more = len(tags) - _NAMED
    return ", ".join(f"'{tag}'" for tag in tags[:_NAMED]) + (f" and {more} more" if more > 0 else "")
