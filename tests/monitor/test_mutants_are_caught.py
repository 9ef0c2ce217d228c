"""The check-suite bites: one broken condition for each failure it is there to find."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np
import pytest

from monitor.conditions.toward_over_pressure import TowardOverPressure
from monitor.contract import Judged, setting
from tests.monitor import check_suite
from tests.monitor.scripted_world import World, eventful_twin


@dataclass(frozen=True)
class SaysItsFactsAnywhere(TowardOverPressure):
    """The sound rule, its facts also where nothing is near a limit, so that a mutant can speak there."""

    @staticmethod
    def _far_below(state: Any, view: Any, value: Any, limit: Any, armed: Any) -> Any:
        after, judged = TowardOverPressure._far_below(state, view, value, limit, armed)
        unknown = np.full(value.shape, np.nan)
        facts = {"value": value, "limit": np.broadcast_to(limit, value.shape), "bar_s": unknown, "left_s": unknown}
        return after, replace(judged, facts=facts)


@dataclass(frozen=True)
class RestartsWithEachBlock(SaysItsFactsAnywhere):
    """Forgets what it carried when a new block comes."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        return super().advance(self.start(subjects, ctx), view, subjects, ctx)


@dataclass(frozen=True)
class UsesTheBlocksOwnMean(SaysItsFactsAnywhere):
    """Judges against the mean of whatever block it was handed."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        state, judged = super().advance(state, view, subjects, ctx)
        value = judged.facts["value"]
        high = value > 1.05 * np.nanmean(value, axis=1, keepdims=True)
        return state, replace(judged, level=np.where(high, np.int8(1), np.int8(0)).astype(np.int8))


@dataclass(frozen=True)
class AddsUpAfterwards(SaysItsFactsAnywhere):
    """A running sum with the carry added after the block's own sum: not the same bits."""

    def start(self, subjects: Any, ctx: Any) -> Any:
        return {**super().start(subjects, ctx), "sum": np.zeros(len(subjects))}

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        value = np.nan_to_num(judged.facts["value"]) * 0.1
        return {**after, "sum": state["sum"] + value.sum(axis=1)}, judged


class _Memory:
    """Hidden state outside the state."""

    count = 0


@dataclass(frozen=True)
class RemembersOutsideItsState(SaysItsFactsAnywhere):
    """Counts its calls in a class variable."""

    memory: ClassVar[type[_Memory]] = _Memory

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        self.memory.count += 1
        after, judged = super().advance(state, view, subjects, ctx)
        flipped = np.full(judged.level.shape, self.memory.count % 2, np.int8)
        return after, replace(judged, level=flipped)


@dataclass(frozen=True)
class WritesIntoItsState(SaysItsFactsAnywhere):
    """Changes the state it was given."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        state["past"] += 1.0
        return after, judged


@dataclass(frozen=True)
class ReadsAhead(SaysItsFactsAnywhere):
    """Judges a cell by the readings after it."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        ahead = np.roll(judged.level, -40, axis=1)
        return after, replace(judged, level=ahead)


@dataclass(frozen=True)
class KnowsTheTimeOfDay(SaysItsFactsAnywhere):
    """Speaks by the clock, not by the readings."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        by_clock = (view.ends() // (3600 * 10**9)) % 5 == 0
        return after, replace(judged, level=np.where(by_clock, np.int8(1), judged.level).astype(np.int8))


@dataclass(frozen=True)
class TakesNothingForZero(SaysItsFactsAnywhere):
    """Takes a missing reading for a pressure of zero, and zero for a finding."""

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        low = np.nan_to_num(judged.facts["value"]) < 1.0
        return after, Judged(np.where(low, np.int8(1), judged.level).astype(np.int8), judged.score, judged.facts)


@dataclass(frozen=True)
class GrowsForEver(SaysItsFactsAnywhere):
    """Keeps every pressure it has seen."""

    def start(self, subjects: Any, ctx: Any) -> Any:
        return {**super().start(subjects, ctx), "all": []}

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance(state, view, subjects, ctx)
        return {**after, "all": state["all"] + judged.facts["value"][0].tolist()}, judged


@dataclass(frozen=True)
class LosesItsKindInJson(SaysItsFactsAnywhere):
    """Keeps a set, which no checkpoint can."""

    def start(self, subjects: Any, ctx: Any) -> Any:
        return {**super().start(subjects, ctx), "seen": {1, 2}}

    def advance(self, state: Any, view: Any, subjects: Any, ctx: Any) -> Any:
        after, judged = super().advance({k: v for k, v in state.items() if k != "seen"}, view, subjects, ctx)
        return {**after, "seen": state["seen"]}, judged


@dataclass(frozen=True)
class UnboundedSetting(SaysItsFactsAnywhere):
    """Declares bounds its own default does not meet."""

    near_share: float = setting(1.5, 0.5, 1.0, "of the limit")


@functools.cache
def world() -> World:
    """Made once; nothing may write into it."""
    made = eventful_twin()
    made.block.values.setflags(write=False)
    made.block.status.setflags(write=False)
    return made


def cuts(condition: Any) -> None:
    check_suite.check_cuts(world(), (condition,))


def purity(condition: Any) -> None:
    check_suite.check_purity(world(), (condition,))


MUTANTS: list[tuple[Any, Callable[[Any], None]]] = [
    (RestartsWithEachBlock(), cuts),
    (UsesTheBlocksOwnMean(), cuts),
    (AddsUpAfterwards(), cuts),
    (RemembersOutsideItsState(), purity),
    (WritesIntoItsState(), purity),
    (ReadsAhead(), lambda c: check_suite.check_no_reading_ahead(world(), (c,))),
    (KnowsTheTimeOfDay(), lambda c: check_suite.check_time_shift(world(), (c,))),
    (TakesNothingForZero(), lambda c: check_suite.check_missing_data(world(), (c,))),
    (GrowsForEver(), lambda c: check_suite.check_bounded_state(world(), (c,))),
    (LosesItsKindInJson(), lambda c: check_suite.check_checkpoints(world(), (c,))),
    (UnboundedSetting(), check_suite.check_settings),
]


@pytest.mark.parametrize(("mutant", "check"), MUTANTS, ids=[type(m).__name__ for m, _ in MUTANTS])
def test_mutant_is_caught(mutant: Any, check: Callable[[Any], None]) -> None:
    with pytest.raises((AssertionError, TypeError)):
        check(mutant)


def test_a_condition_without_words_is_caught() -> None:
    class Silent:
        """Says nothing."""

        name, title = "silent", "silent"

    with pytest.raises(AssertionError, match="An operator would say"):
        check_suite.check_documented(Silent())  # type: ignore[arg-type]


def test_the_sound_original_passes_all_of_them() -> None:
    for sound in (TowardOverPressure(), SaysItsFactsAnywhere()):
        for check in dict.fromkeys(check for _, check in MUTANTS):
            check(sound)
