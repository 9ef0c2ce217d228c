"""Episodes against a state machine that takes one cell at a time, at any cut."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import episodes
from monitor.checkpoint import dump_state, load_state
from monitor.contract import CLEAR, DISARMED, UNKNOWN, Judged
from monitor.episodes import Delays, Episode, Turn

S = 1_000_000_000
T0 = 1_760_000_340 * S
NAN = float("nan")


class OneCellAtATime:
    """What the module says an episode is, in the plainest words. Facts are told by the number of their cell."""

    def __init__(self, subject: int, delays: Delays, t0: int, step: int) -> None:
        self.subject, self.delays, self.t0, self.step = subject, delays, t0, step
        self.turns: list[tuple[Any, ...]] = []
        self.ended = -math.inf
        self.forget()

    def forget(self) -> None:
        self.comes_and_goes = False
        self.came_back = 0
        self.level = self.pending = self.worse = self.clear = self.blind = 0
        self.since = self.clear_since = self.blind_since = 0
        self.due: int | None = None
        self.worst: float | None = None
        self.worst_cell: int | None = None

    def say(self, kind: str, end: int, until: int | None, cell: int | None) -> None:
        self.turns.append((self.subject, end, kind, self.level, self.since, until, cell, self.came_back))

    def remember(self, cell: int, score: float) -> None:
        if self.worst_cell is None or (score == score and (self.worst is None or score > self.worst)):
            self.worst_cell = cell
        if score == score and (self.worst is None or score > self.worst):
            self.worst = score

    def revise_if_due(self, end: int) -> None:
        if self.due is not None and self.due <= end:
            self.due = None
            self.say("revised", end, None, self.worst_cell)

    def cell(self, number: int, level: int, score: float) -> None:
        start = self.t0 + number * self.step
        if self.level:
            self.cell_of_open(number, level, score, start, start + self.step)
        else:
            self.cell_of_none(number, level, score, start, start + self.step)

    def cell_of_none(self, number: int, level: int, score: float, start: int, end: int) -> None:
        if level in (DISARMED, CLEAR):
            self.forget()
        elif level == UNKNOWN:
            if self.pending:
                self.blind += 1
                if self.blind >= self.delays.blind:
                    self.forget()
        else:
            self.since = start if self.pending == 0 else self.since
            self.pending, self.blind = self.pending + 1, 0
            self.remember(number, score)
            if self.pending >= self.delays.on_for(level):
                self.level, self.due = level, end + 300 * S
                self.comes_and_goes = self.since - self.ended <= self.delays.again * self.step
                self.came_back = int(self.comes_and_goes)
                self.say("opened", end, None, number)

    def cell_of_open(self, number: int, level: int, score: float, start: int, end: int) -> None:
        if level == DISARMED:
            self.say("closed", end, self.clear_since if self.clear else start, self.worst_cell)
            self.ended = -math.inf
            self.forget()
        elif level == UNKNOWN:
            self.blind_since = start if self.blind == 0 else self.blind_since
            self.blind += 1
            self.revise_if_due(end)
            if self.blind >= self.delays.blind:
                self.say("cut off", end, self.clear_since if self.clear else self.blind_since, self.worst_cell)
                self.ended = -math.inf
                self.forget()
        elif level == CLEAR:
            self.clear_since = start if self.clear == 0 else self.clear_since
            self.clear, self.blind, self.worse = self.clear + 1, 0, 0
            if self.clear >= max(self.delays.off, self.delays.again if self.comes_and_goes else 0):
                self.say("closed", end, self.clear_since, self.worst_cell)
                self.ended = self.clear_since
                self.forget()
            else:
                self.revise_if_due(end)
        else:
            if self.comes_and_goes and self.clear >= self.delays.off:
                self.came_back += 1
                if self.came_back in (2, 4, 8, 16, 32):
                    self.say("revised", end, None, self.worst_cell)
            self.clear = self.blind = 0
            self.remember(number, score)
            self.worse = self.worse + 1 if level > self.level else 0
            self.revise_if_due(end)
            if self.worse >= self.delays.on_for(level):
                self.level, self.worse = level, 0
                self.say("revised", end, None, number)


def judged(levels: list[list[int]], scores: list[list[float]]) -> Judged:
    """Levels with a fact that names the cell, one that all subjects share, and one that is sometimes unknown."""
    level = np.array(levels, np.int8).reshape(len(levels), -1)
    n = level.shape[1]
    number = np.arange(float(n))
    facts = {
        "cell": np.tile(number, (len(levels), 1)),
        "shared": number + 0.5,
        "odd": np.where(number % 2 == 1, number, np.nan),
    }
    return Judged(level, np.array(scores, float).reshape(level.shape), facts)


def part(whole: Judged, first: int, last: int) -> Judged:
    return Judged(
        whole.level[:, first:last],
        whole.score[:, first:last],
        {name: v[..., first:last] for name, v in whole.facts.items()},
    )


def plain(turn: Turn) -> tuple[Any, ...]:
    """A turn with its facts told by the number of their cell, which all three facts must agree on."""
    cell = turn.facts["cell"]
    assert turn.facts["shared"] == cell + 0.5
    assert turn.facts["odd"] == cell if cell % 2 == 1 else math.isnan(turn.facts["odd"])
    back = int(turn.facts.get(episodes.CAME_BACK, 0))
    return turn.subject, turn.decided_at, turn.kind, turn.level, turn.since, turn.until, int(cell), back


def walk(
    whole: Judged, delays: tuple[Delays, ...], cuts: list[int], step: int, through_json: bool = False
) -> tuple[list[tuple[Any, ...]], tuple[Episode, ...]]:
    """All turns, subject by subject, and the last state."""
    state, turns = tuple(Episode() for _ in delays), []
    n = whole.level.shape[1]
    for first, last in itertools.pairwise([0, *sorted(min(cut, n) for cut in cuts), n]):
        state, said = episodes.advance(state, part(whole, first, last), delays, T0 + first * step, step)
        turns += [plain(turn) for turn in said]
        if through_json:
            state = load_state(dump_state(state))
    return [turn for subject in range(len(delays)) for turn in turns if turn[0] == subject], state


def oracle(whole: Judged, delays: tuple[Delays, ...], step: int) -> list[tuple[Any, ...]]:
    turns = []
    for subject, one in enumerate(delays):
        machine = OneCellAtATime(subject, one, T0, step)
        for number in range(whole.level.shape[1]):
            machine.cell(number, int(whole.level[subject, number]), float(whole.score[subject, number]))
        turns += machine.turns
    return turns


RUNS = st.lists(st.tuples(st.sampled_from([-2, -1, -1, 0, 0, 1, 1, 1, 2, 3]), st.integers(1, 9)), max_size=14)
LEVELS = RUNS.map(lambda runs: [level for level, length in runs for _ in range(length)])
SCORES = st.lists(st.sampled_from([NAN, -1.0, 0.0, 0.0, 1.0, 2.5, 7.0]), min_size=130, max_size=130)
DELAYS = st.builds(
    Delays, st.integers(1, 5), st.integers(1, 5), st.integers(1, 8), st.sampled_from([None, 2, 3]), st.integers(1, 3),
    st.sampled_from([0, 0, 4, 12]),
)  # fmt: skip
STEPS = st.sampled_from([10 * S, 60 * S, 70 * S, 300 * S])


@settings(deadline=None, max_examples=250)
@given(LEVELS, LEVELS, SCORES, SCORES, DELAYS, DELAYS, STEPS, st.lists(st.integers(0, 130), max_size=6))
def test_same_as_one_cell_at_a_time(a, b, score_a, score_b, delay_a, delay_b, step, cuts) -> None:  # type: ignore[no-untyped-def]
    n = min(len(a), len(b))
    whole = judged([a[:n], b[:n]], [score_a[:n], score_b[:n]])
    delays = (delay_a, delay_b)

    turns, state = walk(whole, delays, [], step)

    assert turns == oracle(whole, delays, step)
    assert walk(whole, delays, cuts, step) == (turns, state)
    assert walk(whole, delays, list(range(1, n)), step, through_json=True) == (turns, state)


@settings(deadline=None, max_examples=100)
@given(LEVELS, SCORES, DELAYS, STEPS)
def test_turns_alternate_and_never_look_ahead(levels, scores, delays, step) -> None:  # type: ignore[no-untyped-def]
    whole = judged([levels], [scores[: len(levels)]])
    turns, _ = walk(whole, (delays,), [], step)

    is_open = False
    for before, turn in itertools.pairwise([None, *turns]):
        _, decided_at, kind, level, since, until, cell, _ = turn
        assert (kind == "opened") == (not is_open)
        is_open = kind in ("opened", "revised")
        assert level >= 1 and since < decided_at
        assert T0 + (cell + 1) * step <= decided_at, "facts of a cell that had not ended"
        assert before is None or before[1] <= decided_at
        assert (until is None) == is_open
        assert until is None or since < until <= decided_at


def said(levels: list[int], delays: Delays, scores: list[float] | None = None) -> list[tuple[Any, ...]]:
    """(kind, level, decided, since, until, cell) in cells of 60 s from T0."""
    turns, _ = walk(judged([levels], [scores or [1.0] * len(levels)]), (delays,), [], 60 * S)

    def cells(at: int | None) -> int | None:
        return None if at is None else (at - T0) // (60 * S)

    return [(kind, level, cells(at), cells(since), cells(until), c) for _, at, kind, level, since, until, c, _ in turns]


def test_on_delay_starts_anew_after_one_clear_cell() -> None:
    assert said([1, 1, 0, 1, 1, 1], Delays(3, 1, 9)) == [("opened", 1, 6, 3, None, 5)]


def test_off_delay_starts_anew_after_one_met_cell_and_the_end_is_where_it_cleared() -> None:
    turns = said([1, 0, 0, 1, 0, 0, 0], Delays(1, 3, 9))

    assert [turn[:5] for turn in turns if turn[0] != "revised"] == [
        ("opened", 1, 1, 0, None),
        ("closed", 1, 7, 0, 4),
    ]


def test_what_comes_back_soon_is_kept_open_until_it_has_been_away_for_long() -> None:
    delays = Delays(1, 1, 9, again=3)

    assert [turn[:5] for turn in said([1, 0, 0, 1, 0, 0, 1, 0, 0, 0, 1, 0], delays) if turn[0] != "revised"] == [
        ("opened", 1, 1, 0, None),
        ("closed", 1, 2, 0, 1),
        ("opened", 1, 4, 3, None),
        ("closed", 1, 10, 3, 7),
        ("opened", 1, 11, 10, None),
    ]
    assert [turn[0] for turn in said([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0], delays)] == ["opened", "closed"] * 3


def test_what_comes_and_goes_counts_how_often_it_came_back_and_tells_it_as_it_doubles() -> None:
    levels = [1, 0, *([1, 0] * 5), 0, 0, 0]
    turns, _ = walk(judged([levels], [[1.0] * len(levels)]), (Delays(1, 1, 9, again=3),), [], 600 * S)

    assert [(turn[2], turn[-1]) for turn in turns][2:] == [
        ("opened", 1),
        ("revised", 1),
        ("revised", 2),
        ("revised", 4),
        ("closed", 5),
    ]


def test_what_cannot_be_judged_neither_starts_nor_ends_it() -> None:
    assert said([1, -1, 1], Delays(2, 1, 9)) == [("opened", 1, 3, 0, None, 2)]
    assert said([1, 0, -1, -1, 0], Delays(1, 2, 9))[-1] == ("closed", 1, 5, 0, 1, 0)


def test_blind_too_long_is_cut_off_from_where_sight_was_lost() -> None:
    assert said([1, -1, -1, -1, 1], Delays(1, 2, 3)) == [
        ("opened", 1, 1, 0, None, 0),
        ("cut off", 1, 4, 0, 1, 0),
        ("opened", 1, 5, 4, None, 4),
    ]


def test_cut_off_while_already_clear_ends_where_it_cleared() -> None:
    assert said([1, 0, -1, -1, -1], Delays(1, 9, 3))[-1] == ("cut off", 1, 5, 0, 1, 0)


def test_nothing_pending_outlives_a_long_blindness() -> None:
    """Else an episode would be said to have begun hours ago, from two cells with hours of silence between."""
    assert said([1, -1, -1, -1, 1, 1], Delays(2, 1, 3)) == [("opened", 1, 6, 4, None, 5)]


def test_disarmed_closes_at_once_and_drops_what_is_pending() -> None:
    assert said([1, 1, -2, 1], Delays(2, 5, 9)) == [("opened", 1, 2, 0, None, 1), ("closed", 1, 3, 0, 2, 0)]


def test_disarmed_while_clearing_ends_where_it_cleared() -> None:
    assert said([1, 0, -2], Delays(1, 5, 9))[-1] == ("closed", 1, 3, 0, 1, 0)


def test_escalation_waits_for_the_on_delay_too_and_never_steps_down() -> None:
    assert said([1, 1, 2, 1, 2, 2, 1], Delays(2, 1, 9)) == [
        ("opened", 1, 2, 0, None, 1),
        ("revised", 2, 6, 0, None, 5),
        ("revised", 2, 7, 0, None, 0),
    ]


def test_an_urgent_level_waits_less() -> None:
    delays = Delays(4, 1, 9, urgent_level=3, urgent=2)
    assert said([3, 3, 0], delays)[0] == ("opened", 3, 2, 0, None, 1)
    assert said([2, 2, 2, 2], delays)[0] == ("opened", 2, 4, 0, None, 3)
    assert said([2, 2, 3], delays)[0] == ("opened", 3, 3, 0, None, 2), "it was pending long enough for that"


def test_revised_once_five_minutes_after_it_was_said() -> None:
    turns = said([1] * 20, Delays(2, 1, 9), [float(i % 7) for i in range(20)])

    assert turns == [("opened", 1, 2, 0, None, 1), ("revised", 1, 7, 0, None, 6)]


def test_the_worst_cell_is_kept_its_first_if_there_are_two() -> None:
    assert said([1, 1, 1, 1, 0], Delays(1, 1, 9), [1.0, 5.0, 5.0, 2.0, 9.0])[-1] == ("closed", 1, 5, 0, 4, 1)


@pytest.mark.parametrize("cuts", [[], [1], [1, 2, 3, 4], [2]])
def test_without_a_score_the_first_cell_is_kept_at_any_cut(cuts: list[int]) -> None:
    """A torque-limited screw before anything is expected of it has no score."""
    whole = judged([[1, 1, 1, 1, 0]], [[NAN] * 5])

    turns, _ = walk(whole, (Delays(1, 1, 9),), cuts, 60 * S)

    assert [turn[-2] for turn in turns] == [0, 0]


def test_no_cells_change_nothing() -> None:
    state = (replace(Episode(), level=2, since=5), Episode())
    empty = judged([[], []], [[], []])

    assert episodes.advance(state, empty, (Delays(1, 1, 1),) * 2, T0, S) == (state, [])
