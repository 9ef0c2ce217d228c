"""The screw turns while melt somewhere ahead of it is still frozen."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from ingest.roles import channel_key
from monitor import cautions, read_twice
from monitor.contract import Context, Explanation, Judged, State, Timing, no_facts, setting
from monitor.exact import last_known
from monitor.levels import rule
from monitor.materials import cold_start_limit_c
from monitor.phases import turning_limit_rpm
from monitor.records import Evidence, Family
from monitor.view import Readings

UNDER = "under "
"""Facts: how far each zone that was cold at the start is still under its limit, C, by its name."""


AT_SET_C = 5.0
"""A zone so near its set-point is as it was set."""

TAKES_COLD_S = 300.0
"""Three times 100 s: until then melt that the screw kept soft has not taken the temperature of a colder wall."""

ROOM_C = 25.0
"""No zone is colder than half-way from here to the colder of its neighbours: steel hands that much on even without a
heater of its own. Common practice, no source."""


@dataclass(frozen=True)
class ColdStart:
    """The screw is started while a zone from the melting length to the die is too cold.

    An operator would say: "somebody started it cold". Judged from the moment the screw begins to turn: every zone
    that the recipe wants above the limit, barrel to die (adapter, screen changer and die included, the cooled feed
    zone not), must be above the melting point plus `margin_c` (crystalline) or Tg + 50 C (amorphous); where the
    material is not known, within `unknown_under_c` of its target. A zone that grows cold later, while the screw
    turns, is another matter; a soak cut short is said by `soak_short`. A log that begins on a turning screw: zones
    too cold in its first readings are said once, without saying since when, unless they stand at their own
    set-point (that is `setpoint_not_recipe`) or the zones on both sides are hot, which no steel between them lets
    be. Look-alikes: a dead couple reading ambient; a short stop (`short_stop_s` at most, after a run as long), in which
    a zone that shear keeps hot falls faster than the melt inside. A zone that was too cold before such a stop already
    has no heat to give: as long as the screw turned, work kept its melt soft, and a layer of 10 mm takes the wall's
    temperature within five minutes (thickness squared over pi squared times 1e-7 m2/s: 100 s, three times that): after
    as long it counts, with medium confidence, unless it stands at its own set-point or is colder than steel between its
    neighbours can be.
    One start is one finding, of the zone that was
    coldest against its limit, with all others that are too cold; it lasts while any of them is. Priority 1. Missing
    zone readings are not judged. Memory: 8 numbers a zone.
    """

    margin_c: float = setting(10, 0, 60, "C over the melting point")
    under_target_c: float = setting(10, 2, 60, "C under target that is always cold enough to be let pass")
    unknown_under_c: float = setting(30, 5, 100, "C under target, material not known")
    rest_s: float = setting(60, 5, 3600, "s standing before it counts as a start")
    short_stop_s: float = setting(600, 0, 3600, "s standing after as long a run that leave the melt hot")
    on_s: float = setting(5, 1, 60, "s")
    off_s: float = setting(30, 1, 600, "s")

    name: ClassVar[str] = "cold_start"
    family: ClassVar[Family] = "cold_start"
    title: ClassVar[str] = "screw started cold"
    grid: ClassVar[Literal["cadence", "coarse"]] = "cadence"
    needs: ClassVar[tuple[str, ...]] = ("zone_temperature", "screw_speed")
    sharpened_by: ClassVar[tuple[str, ...]] = ("zone_setpoint",)
    quantities: ClassVar[tuple[str, ...]] = ()

    def subjects(self, ctx: Context) -> tuple[str, ...]:
        """Every zone but the feed zone, where the screw speed is logged."""
        if not ctx.has("screw_speed"):
            return ()
        return tuple(name for name in ctx.subjects_of("zone_temperature") if ctx.line.zone_named(name).kind != "feed")

    def channel(self, subject: str) -> str:
        """The cold zone."""
        return channel_key("zone_temperature", subject)

    def timing(self, subject: str, ctx: Context) -> Timing:
        """Five seconds, two readings at least: a jog is not a start."""
        return Timing(read_twice.on_delay_s(self.on_s, ctx), self.off_s)

    def start(self, subjects: tuple[str, ...], ctx: Context) -> State:
        """As if the screw had stood for long before the log begins, unless its first reading shows it turning."""
        count = len(subjects)
        return {
            "rest_cells": 1_000_000_000,
            "ran_cells": 0,
            "seen": False,
            "starting": False,
            "cold": np.zeros(count, bool),
            "ran_cold": np.zeros(count, bool),
            "again": False,
            "stood": 0,
            "lead": 0,
            "before": False,
            "speed": np.full(1, np.nan),
            "twice": read_twice.start(2),
        }

    def advance(self, state: State, view: Readings, subjects: tuple[str, ...], ctx: Context) -> tuple[State, Judged]:
        """One row a zone."""
        speed, speed_state = last_known(state["speed"], view.get("screw_speed")[None, :])
        with np.errstate(invalid="ignore"):
            turning = speed[0] > turning_limit_rpm(ctx)
        value = view.rows("zone_temperature", subjects)
        limit = ctx.once((self, subjects), lambda: self.limits(subjects, ctx))
        with np.errstate(invalid="ignore"):
            below = value < limit[:, None]
        known = np.isfinite(speed[0])
        under = limit[:, None] - value
        held, lead, before = np.zeros(below.shape, bool), np.full(view.n, state["lead"]), np.zeros(view.n)
        again = np.full(view.n, np.nan)
        wanted = view.rows("zone_setpoint", subjects)
        if state["seen"]:
            known[:] = True
        elif known.any():
            begins = int(np.argmax(known))
            state = {**state, "seen": True}
            if turning[begins]:
                cold = below[:, begins] & self._believed(value, wanted, limit, begins)
                coldest = _coldest(under[:, begins], cold)
                state = {**state, "starting": True, "before": True, "cold": cold, "lead": coldest, "rest_cells": 0}
            known[:begins], known[begins:] = False, True
        kept = state
        if state["seen"] and view.n:
            part = slice(int(np.argmax(known)), None)
            real = functools.partial(self._real, value[:, part], wanted[:, part])
            held[:, part], lead[part], again[part], kept = self._since_start(
                state, turning[part], below[:, part], under[:, part], real, ctx
            )
            if state["before"]:
                stands = np.logical_or.accumulate(~turning[part])
                before[part] = ~stands
                kept = {**kept, "before": not stands[-1]}
        after = {**kept, "speed": speed_state}
        if not np.count_nonzero(held):
            after["twice"] = read_twice.start(2) if view.n else state["twice"]
            return after, no_facts(rule(held, np.isfinite(value), np.isfinite(limit)[:, None]))
        cold = held.any(axis=0)
        zones = [self.channel(subject) for subject in subjects]
        came = np.array([read_twice.arrived(view, keys) for keys in (("screw_speed",), zones)])
        after["twice"], waits = read_twice.advance(state["twice"], np.array([cold, cold]), came, ctx)
        # One start is one finding: the row of the coldest zone speaks while any zone that was cold still is.
        mine = np.arange(len(subjects))[:, None] == lead
        known = np.isfinite(value) | (mine & (held & np.isfinite(value)).any(axis=0))
        known &= ~waits.any(axis=0)
        level = rule(mine & cold, known, np.isfinite(limit)[:, None])
        too_cold = np.where(held, under, np.nan)
        facts = {
            "value": value,
            "limit": np.broadcast_to(limit[:, None], value.shape),
            "speed": speed[0],
            "before": before,
            "again": again,
            **{UNDER + name: too_cold[row] for row, name in enumerate(subjects)},
        }
        worst = np.fmax.reduce(too_cold, axis=0, initial=-np.inf) if len(subjects) else np.zeros(view.n)
        score = np.where(np.isfinite(worst), worst, under)
        return after, Judged(level, score, facts)

    @staticmethod
    def _believed(value: np.ndarray, wanted: np.ndarray, limit: np.ndarray, cell: int) -> np.ndarray:
        """Zones whose cold first reading may be one: away from their set-point, not between two hot zones, [zone]."""
        now, cold = value[:, cell], value[:, cell] < limit
        hot = np.concatenate(([False], (now >= limit) & ~cold, [False]))
        with np.errstate(invalid="ignore"):
            at_set = np.abs(now - wanted[:, cell]) <= AT_SET_C
        return ~at_set & ~(hot[:-2] & hot[2:])

    @staticmethod
    def _real(value: np.ndarray, wanted: np.ndarray, cell: int) -> np.ndarray:
        """Which zones that were cold all the time are cold in a cell and not wanted so, nor misread, [zone]."""
        now = value[:, cell]
        beside = np.concatenate(([np.nan], now, [np.nan]))
        with np.errstate(invalid="ignore"):
            colder = np.minimum(beside[:-2], beside[2:])
            return ~(np.abs(now - wanted[:, cell]) <= AT_SET_C) & ~(now < (colder + ROOM_C) / 2)

    def _since_start(
        self,
        state: State,
        turning: np.ndarray,
        below: np.ndarray,
        under: np.ndarray,
        real: Callable[[int], np.ndarray],
        ctx: Context,
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, State]:
        """Zones that were cold when the screw began to turn and still are, [zone, n]; run by run of turning.

        And the row of the one that was coldest then, [n]; and for how long the screw stood, s, where the zones were
        cold before it did, [n].
        """
        held, lead, unread = np.zeros(below.shape, bool), np.zeros(len(turning), np.int64), np.isnan(under)
        after_s, again, stood_for = np.full(len(turning), np.nan), state["again"], state["stood"]
        ran_cold = state["ran_cold"]
        rest, starting, cold, coldest = state["rest_cells"], state["starting"], state["cold"], state["lead"]
        ran, least_rest, short = state["ran_cells"], ctx.cells(self.rest_s), ctx.cells(self.short_stop_s)
        edges = [0, *(np.flatnonzero(turning[1:] != turning[:-1]) + 1).tolist(), len(turning)]
        for first, last in itertools.pairwise(edges):
            if first == last:
                continue
            if not turning[first]:
                rest = last - first + (0 if starting else rest)
                starting, cold = False, np.zeros_like(cold)
                lead[first:last] = coldest
                continue
            if not starting:
                starting = True
                stood, again, stood_for = rest >= least_rest, rest <= short and ran >= short, rest
                cold = below[:, first] if stood else np.zeros_like(cold)
                if again:
                    takes_cold = rest >= ctx.cells(TAKES_COLD_S)
                    cold = cold & ran_cold & real(first) if takes_cold else np.zeros_like(cold)
                coldest = _coldest(under[:, first], cold)
                rest, ran = 0.0, 0
            ran = min(ran + last - first, short)
            ran_cold = np.where(unread[:, last - 1], ran_cold, below[:, last - 1])
            lead[first:last] = coldest
            if again:
                after_s[first:last] = stood_for * ctx.step_s
            if cold.any():
                stays = np.logical_and.accumulate(
                    np.concatenate((cold[:, None], (below | unread)[:, first:last]), axis=1), axis=1
                )
                held[:, first:last], cold = stays[:, 1:], stays[:, -1]
        after = {"rest_cells": rest, "starting": starting, "cold": cold, "lead": coldest, "ran_cells": ran}
        after |= {"ran_cold": ran_cold, "again": bool(again), "stood": stood_for}
        return held, lead, after_s, {**state, **after}

    def limits(self, subjects: tuple[str, ...], ctx: Context) -> np.ndarray:
        """Least temperature of each zone for turning the screw, C; NaN where it cannot be said."""
        out = np.full(len(subjects), np.nan)
        for row, name in enumerate(subjects):
            target = ctx.recipe.zones.get(name) if ctx.recipe else None
            known, beyond = self.material_limit(ctx), ctx.line.zone_named(name).beyond_the_screw
            if target is None:
                # Melt passes adapter, screen and die whether or not the recipe names them.
                if known is not None and beyond:
                    out[row] = known
                continue
            if known is None:
                out[row] = target - self.unknown_under_c
            elif target >= known - self.margin_c or beyond:
                out[row] = min(known, target - self.under_target_c)
        return out

    def material_limit(self, ctx: Context) -> float | None:
        """Melting point plus margin, or Tg + 50 C; the recipe's own first."""
        told = ctx.recipe.recipe.flows_from_c(self.margin_c) if ctx.recipe else None
        if told is not None:
            return told
        return cold_start_limit_c(ctx.material, self.margin_c) if ctx.material else None

    def explain(self, subject: str, level: int, facts: dict[str, float], ctx: Context) -> Explanation:
        """Which zone, how far below."""
        before, again = facts["before"] > 0, facts["again"] == facts["again"]
        how = "turning, as the log begins," if before else "started"
        if again:
            how = f"started after a stop of {facts['again'] / 60:.0f} min"
        named = [(facts[UNDER + name], name) for name in self.subjects(ctx) if facts.get(UNDER + name, np.nan) > 0]
        cold = sorted(named, key=lambda one: -one[0]) or [(facts["limit"] - facts["value"], subject)]
        limit_of = dict(zip(self.subjects(ctx), self.limits(self.subjects(ctx), ctx).tolist(), strict=True))
        (most, worst), others = cold[0], cold[1:]
        also = ", ".join(f"{name} by {under:.0f} °C" for under, name in others)
        return Explanation(
            f"screw {how} at {facts['speed']:.0f} rpm with zone {worst} at {limit_of[worst] - most:.0f} °C, "
            f"{most:.0f} °C too cold{'; too cold as well: ' + also if also else ''}"
            + ("; so before the stop already, when the turning screw kept the melt soft there" if again else ""),
            1,
            "medium" if before or again else "high",
            (
                *(
                    Evidence(f"zone {name}", limit_of[name] - under, "C", limit_of[name], None, self.channel(name))
                    for under, name in cold
                ),
                Evidence("screw speed", facts["speed"], "rpm", None, None, "screw_speed"),
            ),
            (
                *(("heating lost before the stop, or zones set back",) if again else ()),
                *(() if again else ("started before the zones were hot and soaked",)),
                *(() if others or again else ("heater of this zone dead at heat-up",)),
                *(() if others else ("couple of this zone reads low",)),
                *(("heaters of these zones dead at heat-up",) if others and not again else ()),
            ),
            (
                "stop the screw",
                "which zones are still cold, die and adapter first",
                "melt pressure and torque",
            ),
            cautions.COLD,
        )


def _coldest(under: np.ndarray, cold: np.ndarray) -> int:
    """Row of the zone farthest under its limit of those that are cold; the first where none is."""
    return int(np.argmax(np.where(cold & np.isfinite(under), under, -np.inf))) if len(cold) else 0
