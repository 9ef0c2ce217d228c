"""What a condition sees of a run of cells: readings by role, phase, derived quantities, expectations."""

from __future__ import annotations

import functools
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from ingest.block import BAD, QUALITY_MASK
from ingest.roles import channel_key
from monitor.exact import Floats, cell_means
from monitor.phase_names import PHASES

Made = TypeVar("Made")


@dataclass(frozen=True)
class Readings:
    """Cells of one grid by channel. t0: start of the first, step: width, ns.

    values: [channel, n], NaN where there is no good or uncertain reading. raw: as logged, bad ones too. arrived: [n],
    cells in which any reading came from the plant and is not merely held; None where that is not told. fresh: the same
    of the channels in some rows, [row, n].
    """

    t0: int
    step: int
    index: Mapping[str, int]
    values: Floats
    raw: Floats
    arrived: NDArray[np.bool_] | None = field(default=None, kw_only=True)
    fresh: Callable[[Sequence[int]], NDArray[np.bool_]] | None = field(default=None, kw_only=True)

    @functools.cached_property
    def n(self) -> int:
        """Number of cells."""
        return self.values.shape[1]

    def ends(self) -> NDArray[np.int64]:
        """End of every cell, UTC ns: when it can be known."""
        return self.t0 + self.step * np.arange(1, self.n + 1, dtype=np.int64)

    def get(self, key: str) -> Floats:
        """One channel, [n], not to be written to; NaN throughout where the line does not log it."""
        place = self.index.get(key)
        return self._nothing if place is None else self.values[place]

    def rows(self, role: str, subjects: Sequence[str], raw: bool = False) -> Floats:
        """One role for several subjects, [subject, n], made once for all who ask and not to be written to."""
        raw = raw and self.raw is not self.values
        asked = (role, tuple(subjects), raw)
        if asked not in self._gathered:
            keys, source = _keys_of(role, asked[1]), self.raw if raw else self.values
            logged = [row for row, key in enumerate(keys) if key in self.index]
            out = source[[self.index[keys[row]] for row in logged]]
            if len(logged) < len(keys):
                found, out = out, np.full((len(keys), self.n), np.nan)
                out[logged] = found
            out.setflags(write=False)
            self._gathered[asked] = out
        return self._gathered[asked]

    @functools.cached_property
    def _gathered(self) -> dict[tuple[str, tuple[str, ...], bool], Floats]:
        return {}

    @functools.cached_property
    def _nothing(self) -> Floats:
        """What is known of a channel that is not logged, [n]."""
        out = np.full(self.n, np.nan)
        out.setflags(write=False)
        return out


@dataclass(frozen=True)
class CoarseView(Readings):
    """10 s cells. `values` are means over the cell; extremes on request.

    phase: int8 [n], index into phases.PHASES, known at the end of the cell. ages: see phases.Ages.
    quantities: derived, [n] each. expected, scatter: of the learned quantities, as known before the cell.
    leans: where an expectation comes from a reference, by quantity, [n]. asked: expectations asked for so far.
    shared: what several conditions make of these cells alone, see `once`. part_of: the cells these are some of, and
    which: conditions that judge different parts of them gather rows once.
    """

    phase: NDArray[np.int8] = field(default_factory=lambda: np.zeros(0, np.int8))
    ages: Mapping[str, Floats] = field(default_factory=dict)
    quantities: Mapping[str, Floats] = field(default_factory=dict)
    expected: Mapping[str, Floats] = field(default_factory=dict)
    scatter: Mapping[str, Floats] = field(default_factory=dict)
    extremes: Callable[[str], tuple[Floats, Floats]] | None = None
    leans: Mapping[str, NDArray[np.bool_]] = field(default_factory=dict)
    asked: set[str] = field(default_factory=set)
    shared: dict[Hashable, tuple[Any, frozenset[str]]] = field(default_factory=dict)
    part_of: tuple[CoarseView, slice] | None = None

    def rows(self, role: str, subjects: Sequence[str], raw: bool = False) -> Floats:
        """As of any readings."""
        if self.part_of is None:
            return super().rows(role, subjects, raw)
        whole, some = self.part_of
        return whole.rows(role, subjects, raw)[:, some]

    def quantity(self, name: str) -> Floats:
        """A derived quantity, [n]; NaN throughout where the line cannot give it."""
        found = self.quantities.get(name)
        return self._nothing if found is None else found

    def expectation(self, name: str) -> tuple[Floats, Floats]:
        """What a learned quantity should be in each cell, and its usual scatter, both [n]."""
        self.asked.add(name)
        return self.expected.get(name, self._nothing), self.scatter.get(name, self._nothing)

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What `make` gives of these cells, made once for all conditions that ask by the same key.

        Expectations it asked for count as asked for by each of them.
        """
        if key not in self.shared:
            before = set(self.asked)
            self.asked.clear()
            self.shared[key] = make(), frozenset(self.asked)
            self.asked.update(before)
        made, asked = self.shared[key]
        self.asked.update(asked)
        return made

    def leaned(self) -> NDArray[np.float64]:
        """1 where any expectation asked for so far comes from the reference, else 0, [n]."""
        rows = [self.leans[name] for name in sorted(self.asked) if name in self.leans]
        return np.logical_or.reduce(rows).astype(float) if rows else np.zeros(self.n)

    def low_high(self, role: str, subjects: Sequence[str]) -> tuple[Floats, Floats]:
        """Least and greatest reading inside each cell, [subject, n] each."""
        low, high = np.full((len(subjects), self.n), np.nan), np.full((len(subjects), self.n), np.nan)
        for row, subject in enumerate(subjects):
            if self.extremes is not None and channel_key(role, subject) in self.index:
                low[row], high[row] = self.extremes(channel_key(role, subject))
        return low, high

    def in_phase(self, *names: str) -> NDArray[np.bool_]:
        """Where the phase is one of these, [n]."""
        if self.part_of is not None:
            whole, some = self.part_of
            return whole.in_phase(*names)[some]
        if names not in self._in_phases:
            found = _one_of(names)[self.phase]
            found.setflags(write=False)
            self._in_phases[names] = found
        return self._in_phases[names]

    @functools.cached_property
    def _in_phases(self) -> dict[tuple[str, ...], NDArray[np.bool_]]:
        return {}


class Rows(Mapping[str, NDArray[Any]]):
    """Rows of a table by name. places: row by name, shared by all tables of the same rows."""

    def __init__(self, places: Mapping[str, int], table: NDArray[Any]) -> None:
        self.places, self.table = places, table

    def __getitem__(self, name: str) -> NDArray[Any]:
        return self.table[self.places[name]]

    def get(self, name: str, default: Any = None) -> Any:
        """The row of a name; `default` where there is none."""
        place = self.places.get(name)
        return default if place is None else self.table[place]

    def __contains__(self, name: object) -> bool:
        return name in self.places

    def __iter__(self) -> Iterator[str]:
        return iter(self.places)

    def __len__(self) -> int:
        return len(self.places)


@functools.lru_cache(maxsize=4096)
def _keys_of(role: str, subjects: tuple[str, ...]) -> tuple[str, ...]:
    """Channel keys of a role for several subjects: asked for in every tick by every condition."""
    return tuple(channel_key(role, subject) for subject in subjects)


@functools.cache
def _one_of(names: tuple[str, ...]) -> NDArray[np.bool_]:
    """By number of the phase: whether it is one of these."""
    table = np.zeros(len(PHASES), bool)
    table[[PHASES.index(name) for name in names]] = True
    return table


def usable(values: Floats, status: NDArray[np.uint8], together: NDArray[np.uint8] | None = None) -> Floats:
    """Readings fit to be judged: bad and missing ones become NaN; `values` itself where they are so already.

    together: the bits of all channels, [n], where they are known already. None of them is unfit where no bit says so.
    """
    if together is not None and not ((together & QUALITY_MASK) >= BAD).any():
        return values
    unfit = (status & QUALITY_MASK) >= BAD
    # A reading that is missing is NaN as it comes; to copy all readings takes many times longer than to look.
    return values if np.isnan(values[unfit]).all() else np.where(unfit, np.nan, values)


def coarse_readings(fine: Readings, width: int) -> tuple[Readings, Extremes]:
    """Whole coarse cells of `width` fine ones, and the extremes inside each by channel."""
    return Readings(
        fine.t0,
        fine.step * width,
        fine.index,
        cell_means(fine.values, width),
        fine.raw[:, width - 1 :: width],
    ), Extremes(fine.index, fine.values, width)


class Extremes:
    """Least and greatest reading inside each coarse cell, by channel, [n] each; made when they are asked for.

    values: fine cells, [channel, n * width]. before: the same of coarse cells before them, [channel, m] each, to be put
    in front of those `of` gives.
    """

    FEW = 6
    """Up to so many cells, all channels at once take no longer than one."""

    def __init__(
        self, index: Mapping[str, int], values: Floats, width: int, before: tuple[Floats, Floats] | None = None,
        of: Extremes | None = None,
    ) -> None:  # fmt: skip
        self.index, self.values, self.width, self.before, self.of = index, values, width, before, of
        self._made: dict[str, tuple[Floats, Floats]] = {}

    def __call__(self, key: str) -> tuple[Floats, Floats]:
        """Of one channel; several conditions ask for the same."""
        if key not in self._made:
            place = self.index[key]
            if self.values.shape[1] <= self.FEW * self.width:
                self._made[key] = self._few[0][place], self._few[1][place]
            else:
                self._made[key] = self._one(key, place)
        return self._made[key]

    def _one(self, key: str, place: int) -> tuple[Floats, Floats]:
        if self.of is not None and self.before is not None:
            low, high = self.of(key)
            return np.concatenate((self.before[0][place], low)), np.concatenate((self.before[1][place], high))
        row = self.values[place]
        cube = np.where(np.isfinite(row), row, np.nan).reshape(-1, self.width)
        low = high = cube[:, 0]
        for offset in range(1, self.width):  # numpy takes many times longer over short rows
            low, high = np.fmin(low, cube[:, offset]), np.fmax(high, cube[:, offset])
        return low + 0.0, high + 0.0

    @functools.cached_property
    def _few(self) -> tuple[Floats, Floats]:
        """Of all channels, [channel, m + n] each."""
        rows = len(self.values)
        cube = np.where(np.isfinite(self.values), self.values, np.nan).reshape(rows, -1, self.width)
        low, high = np.fmin.reduce(cube, axis=2) + 0.0, np.fmax.reduce(cube, axis=2) + 0.0
        if self.before is None:
            return low, high
        return np.concatenate((self.before[0], low), axis=1), np.concatenate((self.before[1], high), axis=1)

    def newest(self, cells: int) -> tuple[Floats, Floats]:
        """Of all channels, of the last few cells, [channel, cells] each."""
        n = self.values.shape[1] // self.width
        if n <= self.FEW:
            low, high = self._few
            return low[:, low.shape[1] - cells :].copy(), high[:, high.shape[1] - cells :].copy()
        return Extremes(self.index, self.values[:, (n - cells) * self.width :], self.width).newest(cells)
