"""The one path: Blocks in, records out, for a finished log, a live line and a year of archive alike.

Every block is cut where notes change lot or recipe. Its cells go to the conditions that judge at the cadence;
whole 10 s cells go through phases, quantities and expectations to all others. What is decided is sorted by the
time it could be known, so the record log does not depend on how the log was cut.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ingest.block import FRESH, Block, Note
from monitor import causes, episodes, expectation, jump_guard, phases, quantities, recent_cells, resting
from monitor.arming import Armed, Arming
from monitor.checkpoint import CheckpointError
from monitor.collected import Collected
from monitor.conditions.registry import CONDITIONS
from monitor.contract import NS, UNKNOWN, Condition, Context, State
from monitor.drive_limited import drive_limited
from monitor.episodes import Episode
from monitor.exact import Floats
from monitor.learned_quantities import kind_of, learned_cells, learned_names, operating_point, sets_c
from monitor.line import Line
from monitor.pieces import bridged, cut_at_notes, with_pending
from monitor.recent_cells import Places, places_of
from monitor.recipe import Recipe
from monitor.records import Record
from monitor.reference.apply import LEANS
from monitor.reference.model import Reference
from monitor.resting import Stretch
from monitor.silent_log import SilentLog
from monitor.tolerances import Kinds
from monitor.view import CoarseView, Readings, Rows, coarse_readings, usable
from monitor.zeroed import Zeroed

COARSE_S = 10.0
STATE_FORMAT = 43
STOOD = np.array([name not in phases.RUNNING for name in phases.PHASES])
CHANGED = np.array([name not in ("unknown", "starting", "settling", "steady") for name in phases.PHASES])
"""By phase: speed, rate or recipe was changed, or the line stood."""


@dataclass(frozen=True)
class Step:
    """What one advance gives.

    phase: int8 per cadence cell, as known when the cell ends. quantities: name -> (start of each whole 10 s cell in UTC
    ns, values); each cell is given once, when it is whole. blind: (lot, condition, subject) -> seconds in which a rule
    applied and could not be judged.
    """

    records: list[Record]
    phase: NDArray[np.int8]
    quantities: dict[str, tuple[NDArray[np.int64], Floats]] = field(default_factory=dict)
    blind: dict[tuple[str, str, str], float] = field(default_factory=dict)


class Monitor:
    """Judges the Blocks of one line. Holds no state of the run: that travels through `advance`.

    recipes: all that the log's notes may name, those for other lines left out; an only one holds from the start.
    notes: from a schedule file, beside those that come inside the blocks. conditions: all, but for tests.
    Raises SettingsError when a line or recipe file sets what a condition does not allow.
    """

    def __init__(
        self,
        line: Line,
        recipes: Sequence[Recipe],
        notes: Sequence[Note] = (),
        conditions: Sequence[Condition] = CONDITIONS,
        reference: Reference | None = None,
    ) -> None:
        self.line = line
        fitting = [recipe for recipe in recipes if not recipe.recipe.lines or line.name in recipe.recipe.lines]
        self.recipes: Mapping[str, Recipe] = {recipe.name: recipe for recipe in fitting}
        self.notes = tuple(sorted(notes))
        self.step = round(line.line.cadence_s * NS)
        self.width = max(1, math.ceil(COARSE_S / line.line.cadence_s - 1e-9))
        self.minute = max(1, round(60.0 / (self.width * line.line.cadence_s)))
        self.channels = line.channels
        self.index = {key: place for place, key in enumerate(self.channels)}
        self.zeroed = Zeroed(line)
        self.silent_log = SilentLog(line)
        self._first_recipe = fitting[0].name if len(fitting) == 1 else ""
        self.reference = reference
        self.arming = Arming(line, self.recipes, self.width, conditions, reference)
        self.plan = quantities.plan(self.arming.context(self._first_recipe, coarse=True))
        relative = line.relative_channels
        self.learned_names = learned_names(self.channels, self.plan.names, relative)
        self.kinds = Kinds([kind_of(name, relative) for name in self.learned_names])
        self.carried_names = tuple(
            f"carried {name}" for name, carried in zip(self.learned_names, self.kinds.carried, strict=True) if carried
        )
        self.places = Places(
            places_of(*(quantity.name for quantity in self.plan.ordered)),
            places_of(*self.learned_names, *(f"before {name}" for name in self.learned_names), *self.carried_names),
            places_of(*self.learned_names, *self.carried_names),
        )
        versions = [line.version, *(recipe.version for recipe in fitting), str(self.notes), str(STATE_FORMAT)]
        versions += [f"reference {reference.version}"] if reference is not None else []
        versions += [repr(armed.condition) for armed in self.arming.arm(self._first_recipe)]
        self.fingerprint = hashlib.sha256("\n".join(versions).encode()).hexdigest()[:16]

    def start(self) -> State:
        """State before the first block."""
        return {
            "fingerprint": self.fingerprint,
            "next": None,
            "recipe": self._first_recipe,
            "lot": "",
            "repaired": False,
            "seq": 0,
            "phase": 0,
            **self._fresh(self._first_recipe),
            "standing": {},
        }

    def advance(self, state: State, block: Block) -> tuple[State, Step]:
        """Judge the next cells. Pure: neither `state` nor `block` is changed.

        Raises ValueError when the block does not fit the line or lies before the cells already judged, and
        CheckpointError when the state belongs to other files or settings.
        """
        self._check(state, block)
        if block.n == 0:
            return state, Step([], np.zeros(0, np.int8))
        out, after = Collected(), state["next"]
        for piece in bridged(block, state["next"]):
            if piece is None:
                state = self._settle(state, out)
                self._cut_off(state, out)
                state = {**state, "next": None, "phase": 0, **self._fresh(state["recipe"])}
                continue
            keep = piece.t0 >= block.t0
            for part, notes in cut_at_notes(piece, after, self.notes):
                state = self._take_notes(self._settle(state, out) if notes else state, notes)
                state = self._cells(state, part, out, keep)
            after = piece.end
        records, state = self._number(state, out)
        return state, Step(records, np.concatenate(out.phase), out.joined(), out.blind)

    def blind_at_end(self, state: State) -> dict[tuple[str, str, str], float]:
        """As `Step.blind`, of the last cells of a finished log, which some conditions have not judged yet."""
        out = Collected()
        self._settle(state, out)
        return out.blind

    def finish(self, state: State) -> list[Record]:
        """End of a finished log: what is still open is cut off there, not closed."""
        out = Collected()
        self._cut_off(state, out)
        return self._number(state, out)[0]

    def _cut_off(self, state: State, out: Collected) -> None:
        """Whatever is open ends unseen: at the end of a log, or where a gap is too long to be bridged."""
        for armed in self.arming.arm(state["recipe"]):
            for subject, episode in enumerate(state["episodes"][armed.condition.name]):
                if episode.level:
                    until = episode.clear_since if episode.clear_cells else None  # clear already: it ended there
                    facts = episode.facts()
                    turn = episodes.Turn(subject, state["next"], "cut off", episode.level, episode.since, until, facts)
                    out.turns.append((armed, turn, state["recipe"], state["lot"]))

    # -- one piece of cells under one recipe and lot

    def _cells(self, state: State, part: Block, out: Collected, keep: bool) -> State:
        ctx = self.arming.context(state["recipe"], coarse=False)
        together = np.bitwise_or.reduce(part.status, axis=0)
        values, logged = usable(part.values, part.status, together), part.values
        # As logged: a zero of °F lies below the range of many a sensor, and is the same zero.
        if (zeros := self.zeroed.of(logged)) is not None:
            values, logged = np.where(zeros, np.nan, values), np.where(zeros, np.nan, logged)
        arrived = (together & FRESH) != 0
        stale, silence = self.silent_log.of(state["silence"], values, arrived, ctx)
        state = {**state, "silence": silence}
        if stale is not None:
            values, logged = self.silent_log.without(values, stale), self.silent_log.without(logged, stale)
        fine = Readings(
            part.t0, part.step, self.index, values, logged, arrived=arrived,
            fresh=lambda rows: (part.status[rows] & FRESH) != 0,
        )  # fmt: skip
        nodes, kept = dict(state["nodes"]), dict(state["episodes"])
        armed = self.arming.arm(state["recipe"])
        for item in armed:
            if item.condition.grid == "cadence" and item.subjects:
                self._judge(item, nodes, kept, fine, ctx, out, state)
        state = {**state, "nodes": nodes, "episodes": kept, "next": part.end}
        before = state["phase"]
        joined = with_pending(state, fine, self.width)
        whole = joined.n // self.width * self.width
        state = {
            **state,
            "pending": joined.values[:, whole:].copy(),
            "pending_raw": joined.raw[:, whole:].copy(),
            "pending_t0": joined.t0 + whole * self.step,
        }
        phase = np.full(part.n, before, np.int8)
        if whole:
            head = Readings(joined.t0, self.step, self.index, joined.values[:, :whole], joined.raw[:, :whole])
            state, coarse_phase = self._coarse(state, head, armed, out, part.end // self.step)
            # Each holds from the end of its own 10 s cell: the cells left over before this part come first.
            first_end = (joined.t0 - part.t0) // self.step + self.width
            held = np.repeat(coarse_phase, self.width)[: part.n - first_end]
            phase[first_end : first_end + len(held)] = held
            phase[first_end + len(held) :] = coarse_phase[-1]
            state = {**state, "phase": int(coarse_phase[-1])}
        elif state["owed"]:
            state = self._late(state, part, out)
        if keep:
            out.phase.append(phase)
        return state

    def _late(self, state: State, part: Block, out: Collected) -> State:
        """Conditions that rest judge, in a tick in which no 10 s cell ends, the cells before a mark that has passed."""
        first, last = part.t0 // self.step, part.end // self.step
        names = resting.late_now(self._marks(state["recipe"]), state["owed"], first, last, self.width)
        return self._settle(state, out, names) if names else state

    def _marks(self, recipe_name: str) -> dict[str, resting.Marks]:
        ctx = self.arming.context(recipe_name, coarse=True)
        return ctx.once("marks", lambda: resting.marks(self.arming.arm(recipe_name), self.width, ctx))

    def _coarse(
        self, state: State, fine: Readings, armed: tuple[Armed, ...], out: Collected, fine_end: int
    ) -> tuple[State, NDArray[np.int8]]:
        ctx = self.arming.context(state["recipe"], coarse=True)
        logged, extremes = coarse_readings(fine, self.width)
        guard_state, readings = jump_guard.advance(state["guard"], logged)
        phase_state, run = phases.advance(state["phases"], readings, ctx)
        derived_state, derived = self.plan.advance(state["quantities"], readings, run.phase, run.asked, ctx)
        steady = run.phase == phases.PHASES.index("steady")
        changed = CHANGED[run.phase]
        learned_state, learned = expectation.advance(
            state["learned"],
            learned_cells(self.learned_names, readings, derived),
            steady & ~drive_limited(readings, ctx),
            changed,
            readings.t0 // readings.step,
            self.kinds,
            operating_point(readings, derived, ctx.starve_fed),
            STOOD[run.phase],
            sets_c(readings),
        )
        expected, scatter, leans = learned.reference, learned.scatter, {}
        if ctx.reference is not None and not state["repaired"]:
            expected, scatter, leans = ctx.reference.over(expected, scatter, self.learned_names, readings, derived)
        view = CoarseView(
            readings.t0,
            readings.step,
            self.index,
            readings.values,
            readings.raw,
            run.phase,
            run.ages,
            Rows(self.places.quantities, np.array([derived[name] for name in self.places.quantities])),
            Rows(self.places.expected, np.concatenate((expected, learned.before, learned.carried))),
            Rows(self.places.scatter, np.concatenate((scatter, learned.carried_scatter))),
            extremes,
            leans,
        )
        nodes, kept, owed = dict(state["nodes"]), dict(state["episodes"]), dict(state["owed"])
        stretch = Stretch(view, extremes, state["recent"], fine_end, self.width)
        marks = self._marks(state["recipe"])
        for item in armed:
            if (its := marks.get(item.condition.name)) is not None:
                for part in stretch.due(item, its, owed, nodes, kept, ctx):
                    self._judge(item, nodes, kept, part, ctx, out, state)
        starts = readings.ends() - readings.step
        out.quantities.append((starts, derived))
        state = {
            **state,
            "nodes": nodes,
            "episodes": kept,
            "owed": owed,
            "recent": stretch.newest(),
            "guard": guard_state,
            "phases": phase_state,
            "quantities": derived_state,
            "learned": learned_state,
        }
        return state, run.phase

    def _settle(self, state: State, out: Collected, names: Collection[str] | None = None) -> State:
        """Conditions that rest, all or some, judge what they have not judged yet, under its own recipe and lot."""
        owed = {name: state["owed"][name] for name in (state["owed"] if names is None else names)}
        if not any(owed.values()):
            return state
        ctx = self.arming.context(state["recipe"], coarse=True)
        nodes, kept = dict(state["nodes"]), dict(state["episodes"])
        view = recent_cells.alone(state["recent"], self.places, self.step * self.width, self.index)
        parts: dict[int, CoarseView] = {}
        for item in self.arming.arm(state["recipe"]):
            if cells := owed.get(item.condition.name):
                if cells not in parts:
                    parts[cells] = recent_cells.cut(view, view.n - cells, view.n)
                self._judge(item, nodes, kept, parts[cells], ctx, out, state)
        left = {name: 0 if name in owed else cells for name, cells in state["owed"].items()}
        return {**state, "nodes": nodes, "episodes": kept, "owed": left}

    def _judge(
        self,
        item: Armed,
        nodes: State,
        kept: State,
        view: Readings,
        ctx: Context,
        out: Collected,
        state: State,
    ) -> None:
        name = item.condition.name
        if isinstance(view, CoarseView):
            view.asked.clear()
        nodes[name], judged = item.condition.advance(nodes[name], view, item.subjects, ctx)
        if isinstance(view, CoarseView) and view.leans:
            judged = replace(judged, facts={**judged.facts, LEANS: view.leaned()})
        unknown = judged.level == UNKNOWN
        if np.count_nonzero(unknown):  # several times quicker than to ask for any, in a live cell
            for subject, cells in enumerate(np.count_nonzero(unknown, axis=1).tolist()):
                if cells:
                    out.add_blind((state["lot"], name, item.subjects[subject]), cells * view.step / NS)
        kept[name], turns = episodes.advance(kept[name], judged, item.delays, view.t0, view.step)
        out.turns += [(item, turn, state["recipe"], state["lot"]) for turn in turns]

    # -- checks, notes

    def _check(self, state: State, block: Block) -> None:
        if state["fingerprint"] != self.fingerprint:
            raise CheckpointError(
                "the saved state belongs to another line file, recipe, schedule or version; start this line afresh"
            )
        if block.channels != self.channels:
            raise ValueError("the block's channels are not those of the line file, in its order")
        if block.step != self.step:
            raise ValueError(f"the block's cells are {block.step} ns wide, the line's {self.step} ns")
        if state["next"] is not None and block.t0 < state["next"]:
            raise ValueError(f"block starts at {block.t0}, before {state['next']}, which is already judged")

    def _take_notes(self, state: State, notes: Sequence[Note]) -> State:
        for note in notes:
            if note.kind == "lot":
                state = {**state, "lot": note.text}
            elif note.kind == "repair" and self.reference is not None and note.at_ns > self.reference.last_ns:
                state = {**state, "repaired": True}
            elif note.kind == "reference adopted":
                state = {**state, "repaired": False}
            elif note.kind == "recipe":
                name = note.text if note.text in self.recipes else ""
                if name != state["recipe"]:
                    learned = expectation.start(len(self.learned_names), self.minute)
                    run = phases.recipe_changed(state["phases"])
                    state = {**state, "recipe": name, "phases": run, "learned": learned}
        return state

    def _fresh(self, recipe_name: str) -> State:
        coarse = self.arming.context(recipe_name, True)
        armed = self.arming.arm(recipe_name)
        return {
            "pending": None,
            "pending_raw": None,
            "pending_t0": None,
            "silence": self.silent_log.start(),
            "guard": jump_guard.start(len(jump_guard.guarded_rows(self.index))),
            "phases": phases.start(coarse),
            "quantities": self.plan.start(coarse),
            "learned": expectation.start(len(self.learned_names), self.minute),
            "owed": {},
            "recent": None,
            "nodes": {
                a.condition.name: a.condition.start(
                    a.subjects, coarse if a.condition.grid == "coarse" else self.arming.context(recipe_name, False)
                )
                for a in armed
            },
            "episodes": {a.condition.name: tuple(Episode() for _ in a.subjects) for a in armed},
        }

    # -- records

    def _number(self, state: State, out: Collected) -> tuple[list[Record], State]:
        rank = {"opened": 0, "revised": 1, "closed": 2, "cut off": 3}
        out.turns.sort(key=lambda item: (item[1].decided_at, item[0].order, item[1].subject, rank[item[1].kind]))
        records, standing, seq = [], state["standing"], state["seq"]
        for armed, turn, recipe_name, lot in out.turns:
            ctx = self.arming.context(recipe_name, armed.condition.grid == "coarse")
            subject = armed.subjects[turn.subject]
            told, standing = causes.said(armed.condition, subject, turn, ctx, lot, seq + 1, standing)
            records += told
            seq += len(told)
        return records, {**state, "seq": seq, "standing": standing}
