"""The one path: Blocks in, records out, for a finished log, a live line and a year of archive alike.

Every block is cut where notes change lot or recipe. Its cells go to the conditions that judge at the cadence;
whole 10 s cells go through phases, quantities and expectations to all others. What is decided is sorted by the
time it could be known, so the record log does not depend on how the log was cut.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ingest.block import FRESH, Block, Note
from monitor import causes, episodes, expectation, jump_guard, phases, quantities
from monitor.arming import Armed, Arming
from monitor.checkpoint import CheckpointError
from monitor.conditions.registry import CONDITIONS
from monitor.contract import NS, UNKNOWN, Condition, Context, State
from monitor.drive_limited import drive_limited
from monitor.episodes import Episode
from monitor.exact import Floats
from monitor.learned_quantities import kind_of, learned_cells, learned_names, operating_point
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Record
from monitor.reference.apply import LEANS
from monitor.reference.model import Reference
from monitor.tolerances import Kinds
from monitor.view import CoarseView, Readings, coarse_readings, usable
from monitor.zeroed import Zeroed

COARSE_S = 10.0
LONGEST_FILLED_GAP_S = 300.0
STATE_FORMAT = 5
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
        out, after = _Collected(), state["next"]
        for piece in self._bridge(state, block):
            if piece is None:
                self._cut_off(state, out)
                state = {**state, "next": None, "phase": 0, **self._fresh(state["recipe"])}
                continue
            keep = piece.t0 >= block.t0
            for part, notes in self._cut_at_notes(piece, after):
                state = self._take_notes(state, notes)
                state = self._cells(state, part, out, keep)
            after = piece.end
        records, state = self._number(state, out)
        return state, Step(records, np.concatenate(out.phase), out.joined(), out.blind)

    def finish(self, state: State) -> list[Record]:
        """End of a finished log: what is still open is cut off there, not closed."""
        out = _Collected()
        self._cut_off(state, out)
        return self._number(state, out)[0]

    def _cut_off(self, state: State, out: _Collected) -> None:
        """Whatever is open ends unseen: at the end of a log, or where a gap is too long to be bridged."""
        for armed in self.arming.arm(state["recipe"]):
            for subject, episode in enumerate(state["episodes"][armed.condition.name]):
                if episode.level:
                    worst = {n: math.nan if v is None else v for n, v in episode.worst_facts}
                    until = episode.clear_since if episode.clear_cells else None  # clear already: it ended there
                    turn = episodes.Turn(subject, state["next"], "cut off", episode.level, episode.since, until, worst)
                    out.turns.append((armed, turn, state["recipe"], state["lot"]))

    # -- one piece of cells under one recipe and lot

    def _cells(self, state: State, part: Block, out: _Collected, keep: bool) -> State:
        ctx = self.arming.context(state["recipe"], coarse=False)
        values, logged = usable(part.values, part.status), part.values
        if (zeros := self.zeroed.of(values)) is not None:
            values, logged = np.where(zeros, np.nan, values), np.where(zeros, np.nan, logged)
        arrived = (np.bitwise_or.reduce(part.status, axis=0) & FRESH) != 0
        fine = Readings(part.t0, part.step, self.index, values, logged, arrived=arrived)
        nodes, kept = dict(state["nodes"]), dict(state["episodes"])
        armed = self.arming.arm(state["recipe"])
        for item in armed:
            if item.condition.grid == "cadence":
                self._judge(item, nodes, kept, fine, ctx, out, state)
        state = {**state, "nodes": nodes, "episodes": kept, "next": part.end}
        before = state["phase"]
        joined = self._join_pending(state, fine)
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
            state, coarse_phase = self._coarse(state, head, armed, out)
            # Each holds from the end of its own 10 s cell: the cells left over before this part come first.
            first_end = (joined.t0 - part.t0) // self.step + self.width
            held = np.repeat(coarse_phase, self.width)[: part.n - first_end]
            phase[first_end : first_end + len(held)] = held
            phase[first_end + len(held) :] = coarse_phase[-1]
            state = {**state, "phase": int(coarse_phase[-1])}
        if keep:
            out.phase.append(phase)
        return state

    def _coarse(
        self, state: State, fine: Readings, armed: tuple[Armed, ...], out: _Collected
    ) -> tuple[State, NDArray[np.int8]]:
        ctx = self.arming.context(state["recipe"], coarse=True)
        logged, extremes = coarse_readings(fine, self.width)
        guard_state, readings = jump_guard.advance(state["guard"], logged)
        phase_state, run = phases.advance(state["phases"], readings, ctx)
        derived_state, derived = self.plan.advance(state["quantities"], readings, run.phase, ctx)
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
            derived,
            dict(zip(self.learned_names, expected, strict=True))
            | {f"before {name}": row for name, row in zip(self.learned_names, learned.before, strict=True)}
            | dict(zip(self.carried_names, learned.carried, strict=True)),
            dict(zip(self.learned_names, scatter, strict=True))
            | dict(zip(self.carried_names, learned.carried_scatter, strict=True)),
            extremes,
            leans,
        )
        nodes, kept = dict(state["nodes"]), dict(state["episodes"])
        for item in armed:
            if item.condition.grid == "coarse":
                view.asked.clear()
                self._judge(item, nodes, kept, view, ctx, out, state)
        starts = readings.ends() - readings.step
        out.quantities.append((starts, derived))
        state = {
            **state,
            "nodes": nodes,
            "episodes": kept,
            "guard": guard_state,
            "phases": phase_state,
            "quantities": derived_state,
            "learned": learned_state,
        }
        return state, run.phase

    def _judge(
        self,
        item: Armed,
        nodes: State,
        kept: State,
        view: Readings,
        ctx: Context,
        out: _Collected,
        state: State,
    ) -> None:
        name = item.condition.name
        nodes[name], judged = item.condition.advance(nodes[name], view, item.subjects, ctx)
        if isinstance(view, CoarseView) and view.leans:
            judged = replace(judged, facts={**judged.facts, LEANS: view.leaned()})
        unknown = judged.level == UNKNOWN
        if unknown.any():
            for subject, cells in enumerate(np.count_nonzero(unknown, axis=1).tolist()):
                if cells:
                    out.add_blind((state["lot"], name, item.subjects[subject]), cells * view.step / NS)
        kept[name], turns = episodes.advance(kept[name], judged, item.delays, view.t0, view.step)
        out.turns += [(item, turn, state["recipe"], state["lot"]) for turn in turns]

    # -- cutting, joining, notes

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

    def _bridge(self, state: State, block: Block) -> list[Block | None]:
        """The block with what is missing before it: empty cells for a short gap, then None for a fresh start."""
        if state["next"] is None or block.t0 == state["next"]:
            return [block]
        gap = (block.t0 - state["next"]) // self.step
        filled = min(gap, round(LONGEST_FILLED_GAP_S * NS) // self.step)
        shape = (len(self.channels), filled)
        empty = Block(state["next"], self.step, self.channels, np.full(shape, np.nan), np.full(shape, 3, np.uint8))
        return [empty, block] if filled == gap else [empty, None, block]

    def _cut_at_notes(self, block: Block, after: int | None) -> list[tuple[Block, tuple[Note, ...]]]:
        """The block in parts, each with the notes that come before its first cell is judged."""
        said = [note for note in self.notes if note.at_ns < block.end and (after is None or note.at_ns >= after)]
        notes = sorted([*said, *block.notes])
        place = {note: max(0, (note.at_ns - block.t0) // self.step) for note in notes}
        cells = sorted({*place.values(), 0, block.n})
        return [
            (
                block.cut(first, last, shared=True) if (first, last) != (0, block.n) else block,
                tuple(note for note in notes if place[note] == first),
            )
            for first, last in itertools.pairwise(cells)
        ]

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

    def _join_pending(self, state: State, fine: Readings) -> Readings:
        """Cells left over from before, then these; from nothing, empty cells up to the last 10 s mark."""
        pending, raw, t0 = state["pending"], state["pending_raw"], state["pending_t0"]
        if t0 is None:
            lead = fine.t0 // self.step % self.width
            pending = raw = np.full((len(self.channels), lead), np.nan)
            t0 = fine.t0 - lead * self.step
        if not pending.shape[1]:
            return fine
        return Readings(
            t0,
            self.step,
            self.index,
            np.concatenate((pending, fine.values), axis=1),
            np.concatenate((raw, fine.raw), axis=1),
        )

    def _fresh(self, recipe_name: str) -> State:
        coarse = self.arming.context(recipe_name, True)
        armed = self.arming.arm(recipe_name)
        return {
            "pending": None,
            "pending_raw": None,
            "pending_t0": None,
            "guard": jump_guard.start(len(jump_guard.guarded_rows(self.index))),
            "phases": phases.start(coarse),
            "quantities": self.plan.start(coarse),
            "learned": expectation.start(len(self.learned_names), self.minute),
            "nodes": {
                a.condition.name: a.condition.start(
                    a.subjects, coarse if a.condition.grid == "coarse" else self.arming.context(recipe_name, False)
                )
                for a in armed
            },
            "episodes": {a.condition.name: tuple(Episode() for _ in a.subjects) for a in armed},
        }

    # -- records

    def _number(self, state: State, out: _Collected) -> tuple[list[Record], State]:
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


@dataclass
class _Collected:
    """What the pieces of one block have given so far."""

    turns: list[tuple[Armed, episodes.Turn, str, str]] = field(default_factory=list)
    phase: list[NDArray[np.int8]] = field(default_factory=list)
    quantities: list[tuple[NDArray[np.int64], Mapping[str, Floats]]] = field(default_factory=list)

    blind: dict[tuple[str, str, str], float] = field(default_factory=dict)

    def add_blind(self, what: tuple[str, str, str], seconds: float) -> None:
        """Seconds in which a condition could not judge a subject of its own."""
        self.blind[what] = self.blind.get(what, 0.0) + seconds

    def joined(self) -> dict[str, tuple[NDArray[np.int64], Floats]]:
        """Quantities of all pieces, one pair of arrays each."""
        if not self.quantities:
            return {}
        times = np.concatenate([t for t, _ in self.quantities])
        return {
            name: (times, np.concatenate([values[name] for _, values in self.quantities]))
            for name in self.quantities[0][1]
        }
