"""What zones did, minute by minute: the grid on which slow steel is judged.

A barrel zone has a time constant of 10 to 45 min and a dead time of 0.5 to 4 min (values from memory), so that a minute
loses nothing and is six times cheaper than the 10 s grid, in time and in what has to be remembered. Minutes lie on
absolute time; what a minute decides holds from its last cell until the next minute ends.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from monitor.conditions.zone_signals import LINE_ROWS, ZONE_ROWS, zones_with_output
from monitor.contract import UNKNOWN, Context, Judged, State
from monitor.exact import Bools, Floats, cell_means, count_true, last_known, trailing_extremes, trailing_mean
from monitor.exact import trailing_slope as exact_slope
from monitor.view import CoarseView

Levels = NDArray[np.int8]

ALL_OF_IT = 0.999
"""A flag that held in every cell of a minute has this mean at least."""


@dataclass(frozen=True)
class Minutes:
    """Zone signals [zone, past + m] and line signals [past + m]: minutes judged before, then m new ones.

    zone, line: by name, see `zone_signals`. zones: their names, in machine order.
    """

    zones: tuple[str, ...]
    zone: Mapping[str, Floats]
    line: Mapping[str, Floats]
    m: int

    def now(self, name: str) -> Floats:
        """The new minutes of a zone signal, [zone, m]."""
        rows = self.zone[name]
        return rows[:, rows.shape[1] - self.m :]

    def line_now(self, name: str) -> Floats:
        """The new minutes of a line signal, [m]."""
        rows = self.line[name]
        return rows[len(rows) - self.m :]

    def tail(self, rows: Floats, minutes: int) -> tuple[Floats, Floats]:
        """The `minutes` - 1 columns before the new ones, and the new ones."""
        first = rows.shape[1] - self.m
        return rows[:, first - (minutes - 1) : first], rows[:, first:]

    def mean(self, rows: Floats, minutes: int) -> Floats:
        """Mean over the last minutes, [row, m]; NaN where fewer than eight tenths are known."""
        return self._once("mean", rows, minutes)[0]

    def slope_c_min(self, rows: Floats, minutes: int) -> Floats:
        """Least-squares slope per minute over the last minutes, [row, m]; NaN where one is missing."""
        return self._once("slope", rows, minutes)[0]

    def extremes(self, rows: Floats, minutes: int) -> tuple[Floats, Floats]:
        """Least and greatest over the last minutes, [row, m] each."""
        low, high = self._once("extremes", rows, minutes)
        return low, high

    def _once(self, what: str, rows: Floats, minutes: int) -> tuple[Floats, ...]:
        """What is asked of the same rows several times, made once and not to be written to."""
        asked = (what, id(rows), minutes)
        if asked not in self._made:
            if what == "mean":
                made = trailing_mean(*self.tail(rows, minutes), int(np.ceil(0.8 * minutes)))[:1]
            elif what == "slope":
                made = exact_slope(*self.tail(rows, minutes))[:1]
            else:
                made = trailing_extremes(*self.tail(rows, minutes))[:2]
            for out in made:
                out.setflags(write=False)
            self._made[asked] = rows, made  # with the rows kept, their id stays theirs
        return self._made[asked][1]

    @functools.cached_property
    def _made(self) -> dict[tuple[str, int, int], tuple[Floats, tuple[Floats, ...]]]:
        return {}

    def held(self, flag: Bools, minutes: int) -> Bools:
        """Whether it held in each of the last minutes, [row, m]."""
        first = flag.shape[1] - self.m - (minutes - 1)
        return count_true(flag[:, first:], minutes) == minutes

    def most(self, rows: Floats, minutes: int) -> Floats:
        """Greatest value of each row over the new minutes and the `minutes` - 1 before, [row]; -inf where none."""
        last = rows[:, rows.shape[1] - self.m - (minutes - 1) :]
        return np.fmax.reduce(np.where(np.isfinite(last), last, -np.inf), axis=1, initial=-np.inf)

    def ago(self, rows: Floats, minutes: int) -> Floats:
        """The value that many minutes before, [row, m]."""
        last = rows.shape[1] - minutes
        return rows[:, last - self.m : last]

    def ago_rows(self, rows: Floats, minutes: int) -> Floats:
        """The rows as they stood that many minutes before, as long a past as is left, [row, past - minutes + m]."""
        return rows[:, : rows.shape[1] - minutes]

    def running(self) -> Bools:
        """Minutes of making product throughout, [past + m]."""
        return self.line["running"] >= ALL_OF_IT

    def still(self) -> Bools:
        """Minutes in which the screw stood throughout, [past + m]."""
        return self.line["still_s"] > 0


def left_right(rows: Floats) -> tuple[Floats, Floats]:
    """The rows of the zone before and the zone behind, NaN where there is none."""
    nothing = np.full((1, rows.shape[1]), np.nan)
    return np.concatenate((nothing, rows[:-1])), np.concatenate((rows[1:], nothing))


def others_median(rows: Floats) -> Floats:
    """For each zone the median of the known values of the other zones, [zone, m]; NaN where there are none."""
    if len(rows) < 2:
        return np.full(rows.shape, np.nan)
    ordered, known = np.sort(rows, axis=0), np.isfinite(rows)
    others = np.count_nonzero(known, axis=0) - known
    low, high = np.maximum(others - 1, 0) // 2, np.minimum(others // 2, len(rows) - 2)
    column = np.arange(rows.shape[1])
    total = np.zeros(rows.shape)
    with np.errstate(invalid="ignore"):
        for place in (low, high):
            # A zone that stands at that place or before it is itself passed over when counting to the middle.
            here = ordered[place, column]
            total += np.where((here < rows) | ~known, here, ordered[place + 1, column])
    return np.where(others > 0, total / 2, np.nan)


def median_of_others(values: list[float], zone: int) -> float:
    """As `others_median`, of one zone in one minute; NaN where no other is known."""
    known = sorted(value for i, value in enumerate(values) if i != zone and value - value == 0.0)
    return (known[(len(known) - 1) // 2] + known[len(known) // 2]) / 2 if known else np.nan


class ZoneMinutes:
    """Base of conditions that judge zones by the minute. Not a condition itself.

    zone_rows, line_rows: signals wanted, names from `zone_signals`. past_minutes: how far back the rule looks.
    said: names of the facts `judge` gives.
    """

    grid: ClassVar[Literal["cadence", "coarse"]] = "coarse"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature",)
    zone_rows: ClassVar[tuple[str, ...]] = ("temperature", "wanted", "heat", "cool")
    line_rows: ClassVar[tuple[str, ...]] = ("running",)
    past_minutes: ClassVar[int] = 30
    grid_s: ClassVar[float] = 60.0
    said: ClassVar[tuple[str, ...]] = ()
    extra_subjects: ClassVar[tuple[str, ...]] = ()

    def zones(self, ctx: Context) -> tuple[str, ...]:
        """Zones this condition looks at."""
        return zones_with_output(ctx)

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """The zones, and what stands for several of them; none where the line lacks what the condition needs."""
        logged = all(any(map(ctx.has, need.split("|"))) for need in self.needs)
        zones = self.zones(ctx) if logged else ()
        return (*zones, *self.extra_subjects) if zones else ()

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """Nothing seen. part: cells of a minute not yet whole; past: minutes; held: what the last minute decided."""
        zones = max(len(subjects) - len(self.extra_subjects), 0)
        rows = zones * len(self.zone_rows) + len(self.line_rows)
        return {
            "part": np.full((rows, 0), np.nan),
            "begun": False,
            "past": np.full((rows, self.past_minutes), np.nan),
            "level": np.full(len(subjects), float(UNKNOWN)),
            "score": np.full(len(subjects), np.nan),
            "facts": np.full((len(self.said), len(subjects)), np.nan),
            "own": self.begin(zones, ctx),
        }

    def begin(self, zones: int, ctx: Context) -> State:
        """What a condition remembers besides the minutes."""
        return {}

    def judge(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Judged]:
        """Judge the new minutes: levels, scores and facts [subject, m]."""
        raise NotImplementedError

    def quick(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Levels] | None:
        """State and levels where it is plain that no new minute speaks; None where `judge` has to look.

        It must give what `judge` would: the same state, the same levels.
        """
        return None

    def advance(self, state: State, view: CoarseView, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """Make minutes of the cells, judge the whole ones, let each verdict stand until the next."""
        if not subjects or view.n == 0:
            empty = np.zeros((len(subjects), view.n))
            return state, Judged(empty.astype(np.int8), empty, dict.fromkeys(self.said, empty))
        zones = subjects[: len(subjects) - len(self.extra_subjects)]
        width = max(1, round(self.grid_s / ctx.step_s))
        index = view.t0 // view.step
        part = state["part"] if state["begun"] else np.full((len(state["past"]), index % width), np.nan)
        if part.shape[1] + view.n < width:
            return self._wait(state, np.concatenate((part, self._signals(view, zones, ctx)), axis=1), view.n)
        means, rest = self._cut(view, zones, ctx, part, width)
        whole = means.shape[1]
        seen = np.concatenate((state["past"], means), axis=1)
        own, new_level, new_score, new_facts = self._judged(state["own"], self._minutes(seen, zones, whole), ctx)
        level = np.concatenate((state["level"][:, None], new_level), axis=1)
        score = np.concatenate((state["score"][:, None], new_score), axis=1)
        facts = np.concatenate((state["facts"][:, :, None], new_facts), axis=2)
        state = {
            "part": rest,
            "begun": True,
            "past": seen[:, seen.shape[1] - self.past_minutes :].copy(),
            "level": level[:, -1].copy(),
            "score": score[:, -1].copy(),
            "facts": facts[:, :, -1].copy(),
            "own": own,
        }
        first = (index - part.shape[1]) // width
        place = (index + np.arange(1, view.n + 1)) // width - first
        said = np.take(level.astype(np.int8), place, axis=1)
        speaks = np.flatnonzero(np.logical_or.reduce(level > 0, axis=1))
        blank = np.broadcast_to(np.nan, said.shape)
        if not len(speaks):
            return state, Judged(said, blank, dict.fromkeys(self.said, blank))
        spread = np.full((len(self.said) + 1, *said.shape), np.nan)
        spread[0, speaks] = np.take(score[speaks], place, axis=1)
        spread[1:, speaks] = np.take(facts[:, speaks], place, axis=2)
        return state, Judged(said, spread[0], dict(zip(self.said, spread[1:], strict=True)))

    def _wait(self, state: State, part: Floats, n: int) -> tuple[State, Judged]:
        """No minute is whole yet: the last verdict stands."""
        level, score = state["level"].astype(np.int8)[:, None], state["score"][:, None]
        facts = dict(zip(self.said, state["facts"][:, :, None].repeat(n, axis=2), strict=True))
        return {**state, "part": part, "begun": True}, Judged(level.repeat(n, axis=1), score.repeat(n, axis=1), facts)

    def _rows(self, name: str, view: CoarseView, zones: tuple[str, ...], ctx: Context) -> Floats:
        """One signal of these cells, a row a zone or one for the line."""
        return ZONE_ROWS[name](view, zones, ctx) if name in self.zone_rows else LINE_ROWS[name](view, ctx)[None, :]

    def _signals(self, view: CoarseView, zones: tuple[str, ...], ctx: Context) -> Floats:
        """All signals of these cells."""
        names = (*self.zone_rows, *self.line_rows)
        return np.concatenate(
            [view.once((name, zones), functools.partial(self._rows, name, view, zones, ctx)) for name in names]
        )

    def _cut(
        self, view: CoarseView, zones: tuple[str, ...], ctx: Context, part: Floats, width: int
    ) -> tuple[Floats, Floats]:
        """Means of the minutes that are whole with these cells, and the cells left over, a row each signal.

        part: cells left over before. Conditions that had the same left over share the minutes of a signal.
        """
        means, rest, first = [], [], 0
        for name in (*self.zone_rows, *self.line_rows):
            last = first + (len(zones) if name in self.zone_rows else 1)
            before, first = part[first:last], last
            its_means, its_rest = view.once(
                ("minutes", name, zones, width, before.tobytes()),
                functools.partial(self._cut_one, name, view, zones, ctx, before, width),
            )
            means.append(its_means)
            rest.append(its_rest)
        return np.concatenate(means), np.concatenate(rest)

    def _cut_one(
        self, name: str, view: CoarseView, zones: tuple[str, ...], ctx: Context, before: Floats, width: int
    ) -> tuple[Floats, Floats]:
        joined = np.concatenate((before, self._rows(name, view, zones, ctx)), axis=1)
        whole = joined.shape[1] // width * width
        return cell_means(joined[:, :whole], width), joined[:, whole:]

    def _judged(self, own: State, x: Minutes, ctx: Context) -> tuple[State, Floats, Floats, Floats]:
        """State, level, score and facts of the new minutes; the last two only where it speaks."""
        plain = self.quick(own, x, ctx)
        if plain is not None:
            own, level = plain
            blank = np.full(level.shape, np.nan)
            return own, level.astype(float), blank, np.full((len(self.said), *level.shape), np.nan)
        own, judged = self.judge(own, x, ctx)
        speaks = judged.level > 0
        facts = np.array([np.where(speaks, judged.facts[name], np.nan) for name in self.said])
        return own, judged.level.astype(float), np.where(speaks, judged.score, np.nan), facts

    def _minutes(self, seen: Floats, zones: tuple[str, ...], m: int) -> Minutes:
        count = len(zones)
        zone = {name: seen[i * count : (i + 1) * count] for i, name in enumerate(self.zone_rows)}
        line = {name: seen[len(self.zone_rows) * count + i] for i, name in enumerate(self.line_rows)}
        return Minutes(zones, zone, line, m)


def latched(before: Floats, expected: Floats, wanted: Floats, m: int) -> tuple[Floats, Floats]:
    """The set-point at which each zone's reference was learned, [zone, m], and the state.

    A reference that appears, or is taken anew (moves by 3 % and more in a minute), belongs to the set-point of that
    minute. expected, wanted: [zone, past + m] with past >= 1.
    """
    first = expected.shape[1] - m
    now, just_before = expected[:, first:], expected[:, first - 1 : -1]
    fresh = np.isfinite(now) & ~(np.abs(now - just_before) <= 3.0)
    return last_known(before, np.where(fresh, wanted[:, first:], np.nan))
