"""Rates and melt pressures whose numbers are the recipe's, or below the machine's limit, only in another unit than the
line file gives them, while the screw turns under load: a likely mistake.

A screw that carries its usual torque at its usual speed is fed: where its feeders then report just a sixtieth of the
recipe's rates, they report kg/min. No machine runs for long over the limit of its pressure, its shut-off is below it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from ingest.account import GUESS, LIKELY
from ingest.roles import RELATIVE, ROLES, split_key
from ingest.units import UnitError, to_unit
from monitor.exact import Floats
from monitor.line import Line, Sensor
from monitor.recipe import Recipe, Window

RATE_UNITS = ("kg/h", "lb/h", "t/h", "kg/min", "lb/min", "g/min", "g/s")
PRESSURE_UNITS = ("bar", "psi", "MPa", "kPa", "mbar")
"""Units that are written for one another."""

RATE_WITHIN, NEARLY_ALL = 0.1, 0.8
NEAR_FACTOR, NEAR_WITHIN = 5.0, 0.04
"""A line may well be run at 45 % or 28 % of its rate: where units are no further apart than that, each feeder has to
be nearer, and torque and speed have to be the recipe's."""

LOADED, LOADED_PCT, TURNING, AT_SPEED = 0.7, 15.0, 0.5, 0.05
"""Share of the recipe's torque, or percent of rated over no-load, from which a screw is under load; share of the
recipe's speed from which it turns as usual, and how near it is at its speed."""

OVER_LIMIT, LEAST_OF_LIMIT = 1.2, 0.05
MOSTLY, HARDLY_EVER = 0.5, 0.05
"""Share of the loaded pieces in which another unit fits, at least, and in which the one that is given does, at most."""

Judge = Callable[[float], bool]


class _Tally:
    """One channel, or several of one role and unit, and how often which unit fits."""

    def __init__(self) -> None:
        self.pieces = self.as_given = 0
        self.fitting: dict[str, int] = {}
        self.low = 0

    def add(self, as_given: bool, others: Sequence[str], low: bool = False) -> None:
        self.pieces += 1
        self.as_given += as_given
        self.low += low
        for unit in others:
            self.fitting[unit] = self.fitting.get(unit, 0) + 1

    def units(self) -> list[str]:
        """The units that fit mostly, where the given one hardly ever does."""
        if not self.pieces or self.as_given > HARDLY_EVER * self.pieces:
            return []
        return [unit for unit, n in self.fitting.items() if n >= max(1, math.ceil(MOSTLY * self.pieces))]


class MistakenAmounts:
    """Takes the medians of pieces of a log beside the recipe in force. Memory: a few counts."""

    def __init__(self, line: Line) -> None:
        self._line = line
        self._rows = {key: row for row, key in enumerate(line.channels)}
        self._sensors = {sensor.key: sensor for sensor in line.sensor if _has_unit(sensor)}
        self._rates: dict[tuple[str, str], list[str]] = {}
        for key, sensor in self._sensors.items():
            role = split_key(key)[0]
            if ROLES[role].unit == "kg/h":
                self._rates.setdefault((role, unit_of(sensor)), []).append(key)
        self._pressures = [key for key in self._sensors if split_key(key)[0] == "melt_pressure"]
        self._of_rates = {group: _Tally() for group in self._rates}
        self._of_window = {key: _Tally() for key in self._pressures}
        self._of_limit = {key: _Tally() for key in self._pressures}

    def look(self, values: Floats, recipe: Recipe | None) -> None:
        """A piece of the log. values: [channel, n]. recipe: in force, None where there is none."""
        if not self._rates and not self._pressures:
            return
        piece = _Piece(self._line, self._rows, values, recipe)
        if not piece.turning:
            return
        loaded = piece.loaded if piece.torque_known else self._fed(piece)
        if loaded and recipe is not None:
            for group, keys in self._rates.items():
                self._look_at_rates(self._of_rates[group], group[1], keys, piece, recipe)
        limit = self._line.limits.melt_pressure_bar
        for key in self._pressures:
            value = piece.median(key)
            if not loaded or not np.isfinite(value):
                continue
            window = recipe.window_of(key) if recipe is not None else None
            bounds = _bounds(window) if window is not None else None
            if bounds is not None:
                others = self._fitting(key, value, PRESSURE_UNITS, _inside(*bounds))
                self._of_window[key].add(_inside(*bounds)(value), others, value < bounds[0])
            if limit is not None:
                low = LEAST_OF_LIMIT * limit
                others = self._fitting(key, value, PRESSURE_UNITS, _inside(low, limit)) if value > limit else []
                self._of_limit[key].add(value <= OVER_LIMIT * limit, others)

    def sentences(self) -> Iterator[tuple[str, str]]:
        """What is to be said, and how sure it is."""
        for (role, unit), keys in self._rates.items():
            units = self._of_rates[role, unit].units()
            if units:
                yield _said([self._sensors[key].tag for key in keys], "the recipe's rates", units, unit), LIKELY
        for key in self._pressures:
            tag, unit = self._sensors[key].tag, unit_of(self._sensors[key])
            window = self._of_window[key]
            if units := window.units():
                # A screen or die that lets melt through without resistance is low as well.
                sure = GUESS if window.low > MOSTLY * window.pieces else LIKELY
                yield _said([tag], "in the recipe's window", units, unit, sure), sure
            elif units := self._of_limit[key].units():
                yield _said([tag], "below the machine's limit, which no machine is over for long,", units, unit), LIKELY

    def _fed(self, piece: _Piece) -> bool:
        """Whether the feeders together report the recipe's rate, or a pressure is in its window at the full speed."""
        if piece.recipe is None or not piece.at_speed:
            return False
        wanted = piece.recipe.recipe.rate_kg_h
        rates = [piece.median(key) for group, keys in self._rates.items() if group[0] == "feeder_rate" for key in keys]
        total = float(np.nansum(rates)) if rates else piece.median("line_rate")
        if wanted and abs(total / wanted - 1) <= RATE_WITHIN:
            return True
        windows = [(key, piece.recipe.window_of(key)) for key in self._pressures]
        bounds = [(key, _bounds(window)) for key, window in windows if window is not None]
        return any(both is not None and _inside(*both)(piece.median(key)) for key, both in bounds)

    def _look_at_rates(self, tally: _Tally, given: str, keys: Sequence[str], piece: _Piece, recipe: Recipe) -> None:
        pairs = [(piece.median(key), _wanted(key, recipe)) for key in keys]
        known = [(value, wanted) for value, wanted in pairs if np.isfinite(value) and wanted > 0]
        if not known:
            return

        def fits(factor: float, within: float) -> bool:
            near = sum(abs(value * factor / wanted - 1) <= within for value, wanted in known)
            return near >= NEARLY_ALL * len(known)

        others = []
        for unit in RATE_UNITS:
            factor = to_unit(unit, "kg/h").scale / to_unit(given, "kg/h").scale
            near = 1 / NEAR_FACTOR < factor < NEAR_FACTOR
            if near and not (piece.at_speed and piece.torque_as_wanted):
                continue
            if not 0.9 < factor < 1.1 and fits(factor, NEAR_WITHIN if near else RATE_WITHIN):
                others.append(unit)
        tally.add(fits(1.0, RATE_WITHIN), others)

    def _fitting(self, key: str, value: float, units: Sequence[str], fits: Judge) -> list[str]:
        unit = ROLES[split_key(key)[0]].unit
        given = to_unit(unit_of(self._sensors[key]), unit)
        written = (value - given.offset) / given.scale
        if fits(value):
            return []
        return [other for other in units if fits(to_unit(other, unit).apply(written))]


class _Piece:
    """Medians of a piece of a log, and whether the screw turns under load in it."""

    def __init__(self, line: Line, rows: dict[str, int], values: Floats, recipe: Recipe | None) -> None:
        self._rows, self._values = rows, values
        self.recipe = recipe
        speed, torque = self.median("screw_speed"), self.median("torque")
        wanted = recipe.recipe.screw_speed_rpm if recipe is not None else None
        self.turning = bool(speed >= TURNING * wanted if wanted else speed > 0)
        self.at_speed = bool(wanted and abs(speed / wanted - 1) <= AT_SPEED)
        window = recipe.window_of("torque") if recipe is not None else None
        usual = window.target if window is not None else None
        least = LOADED * usual if usual else line.drive.no_load_torque_pct + LOADED_PCT
        relative = any(one.key == "torque" and one.unit == RELATIVE for one in line.sensor)
        self.torque_known = not relative and math.isfinite(torque)
        self.loaded = self.torque_known and bool(torque >= least)
        bounds = (window.low, window.high) if window is not None else (None, None)
        self.torque_as_wanted = self.loaded and all(one is not None for one in bounds) and _inside(*bounds)(torque)

    def median(self, key: str) -> float:
        """NaN where nothing is known."""
        if key not in self._rows:
            return math.nan
        row = self._values[self._rows[key]]
        known = row[np.isfinite(row)]
        return float(np.median(known)) if len(known) else math.nan


def unit_of(sensor: Sensor) -> str:
    """The unit that the line file gives a sensor."""
    return sensor.unit or ROLES[sensor.role].unit


def _has_unit(sensor: Sensor) -> bool:
    if sensor.unit == RELATIVE or sensor.full is not None:
        return False
    try:
        to_unit(unit_of(sensor), ROLES[sensor.role].unit)
    except UnitError:  # an amount in a time of its own, say
        return False
    return True


def _wanted(key: str, recipe: Recipe) -> float:
    """The recipe's rate of a channel, kg/h; 0 where it has none."""
    role, subject = split_key(key)
    rate = recipe.recipe.rate_kg_h or 0.0
    if role.startswith("line_rate"):
        return rate
    window = recipe.window_of(key)
    if window is not None and window.target is not None:
        return window.target
    return rate * recipe.shares.get(subject, 0.0) / 100


def _bounds(window: Window) -> tuple[float, float] | None:
    """The widest that a window lets be; None where it is open on one side, and any unit might fit."""
    low = window.low if window.low_outer is None else window.low_outer
    high = window.high if window.high_outer is None else window.high_outer
    return None if low is None or high is None or low <= 0 else (low, high)


def _inside(low: float | None, high: float | None) -> Judge:
    return lambda value: (low is None or value >= low) and (high is None or value <= high)


def _said(tags: Sequence[str], what: str, units: Sequence[str], given: str, sure: str = LIKELY) -> str:
    named = ", ".join(f"'{tag}'" for tag in tags[:3]) + (f" and {len(tags) - 3} more" if len(tags) > 3 else "")
    keys = " or ".join(f'unit = "{unit}"' for unit in units)
    wrong = "is likely wrong" if sure == LIKELY else "may be wrong"
    return (
        f"{named}: the screw turns under load, and what is read is {what} only if it is in {' or '.join(units)}, so "
        f"the unit of the line file {wrong}: write {keys} at each such [[sensor]]; until then the unit of the line "
        f"file, {given}, counts, and what is found by these readings, or not found, goes by it"
    )
