"""How long judging takes, in passes over the same array, with a table by node.

    python -m tests.benchmarks.speed --days 7

One pass is a scipy `lfilter` EWMA over the same channel-major array: the cheapest thing a monitor could do with every
reading. Everything runs in one process on one core, side by side. What counts is the ratio of the seconds the process
itself worked, which neighbours on the machine disturb least; seconds on the wall are printed beside them, with the
rows and the findings made, for a monitor that finds nothing is quick.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections import defaultdict
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.signal import lfilter

from dashboards.command_line.check_log import block_seconds
from ingest.block import FRESH, NONE, Block
from monitor import core, episodes, expectation, jump_guard, phases
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import findings
from tests.monitor.scripted_world import TARGETS, World, eventful_twin

CHANNELS = 64
EXTRA_ZONES = tuple(f"Z{number}" for number in range(4, 10))
ROUND_THE_LINE = {
    "vacuum:V1": (80.0, 1.0),
    "vacuum_setpoint:V1": (80.0, 0.0),
    "throat_temperature": (30.0, 0.2),
    "haul_off_load": (50.0, 0.3),
    "cutter_speed": (800.0, 1.0),
    "bath_temperature": (60.0, 0.2),
    "diverter_to_product": (1.0, 0.0),
    "gearbox_oil_temperature": (60.0, 0.1),
    "gearbox_oil_pressure": (2.5, 0.02),
    "cooling_water_temperature": (20.0, 0.1),
}
"""Level and noise of what is logged beside the plain signals of the scripted line."""
HOUR = 3600
BLOCK_CELLS = round(block_seconds(CHANNELS, 1.0))
"""As a finished log is read."""


def line_of_64() -> tuple[Line, Block, Any]:
    """The scripted twin-screw line with more zones and what stands round it, seven eventful hours of it."""
    world = eventful_twin()
    added = {**_zones(world), **_round_the_line(world)}
    data = world.line.model_dump()
    data["zone"] = [*data["zone"], *({"name": zone} for zone in EXTRA_ZONES)]
    data["vent"] = [{"name": "V1", "at": "Z3"}]
    sensors = [{**s, "position": "before_screen"} if s["role"] == "melt_pressure" else s for s in data["sensor"]]
    for key in added:
        role, _, at = key.partition(":")
        position = {"position": "after_screen"} if role == "melt_pressure" else {}
        sensors.append({"tag": key, "role": role, "at": at, **position})
    line = Line.model_validate({**data, "sensor": sensors})
    assert len(line.channels) == CHANNELS
    recipe = world.recipes[0].model_copy(update={"zones": {**TARGETS, **dict.fromkeys(EXTRA_ZONES, TARGETS["Z3"])}})
    values = np.ascontiguousarray(np.concatenate((world.block.values, list(added.values()))))
    status = np.where(np.isnan(values), NONE, FRESH).astype(np.uint8)
    return line, Block(world.block.t0, world.block.step, line.channels, values, status), recipe


def _zones(world: World) -> dict[str, np.ndarray]:
    """More zones, each like Z3 with a scatter of its own."""
    rng, rows = np.random.default_rng(5), {}
    for zone in EXTRA_ZONES:
        for role, scatter in (("zone_temperature", 0.05), ("zone_setpoint", 0.0), ("zone_output", 0.5)):
            like = world.block.values[world.line.channels.index(f"{role}:Z3")]
            rows[f"{role}:{zone}"] = like + rng.normal(0, scatter, world.block.n) if scatter else like
    return rows


def _round_the_line(world: World) -> dict[str, np.ndarray]:
    """Undisturbed signals from round the line, and a pressure behind the screen that follows the one ahead of it."""
    rng, n = np.random.default_rng(6), world.block.n
    rows = {key: level + rng.normal(0, noise, n) for key, (level, noise) in ROUND_THE_LINE.items()}
    ahead = world.block.values[world.line.channels.index("melt_pressure:P1")]
    return {**rows, "melt_pressure:P2": 0.66 * ahead + rng.normal(0, 0.3, n)}


def repeated(block: Block, days: int) -> Block:
    """The hours one after the other until the days are full."""
    cells = days * 24 * HOUR
    times = -(-cells // block.n)
    return Block(
        block.t0, block.step, block.channels,
        np.ascontiguousarray(np.tile(block.values, times)[:, :cells]),
        np.ascontiguousarray(np.tile(block.status, times)[:, :cells]),
    )  # fmt: skip


def one_pass(values: np.ndarray) -> None:
    """The yardstick."""
    lfilter([0.1], [1.0, -0.9], np.nan_to_num(values, copy=False), axis=1)


class Timed(Monitor):
    """Adds up seconds by condition."""

    seconds: dict[str, float]

    def _judge(self, item: Any, *rest: Any) -> None:
        began = time.process_time()
        super()._judge(item, *rest)
        self.seconds[item.condition.name] += time.process_time() - began


def timed(seconds: dict[str, float], name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, its seconds added up under a name."""

    def run(*given: Any, **named: Any) -> Any:
        began = time.process_time()
        try:
            return function(*given, **named)
        finally:
            seconds[name] += time.process_time() - began

    return run


def judge(monitor: Monitor, block: Block, cells: int) -> tuple[float, float, int]:
    """Seconds worked, seconds on the wall, findings of a log judged in blocks of so many cells."""
    wall, worked, records = time.perf_counter(), time.process_time(), []
    state = monitor.start()
    for first in range(0, block.n, cells):
        state, step = monitor.advance(state, block.cut(first, min(first + cells, block.n), shared=True))
        records += step.records
    found = findings([*records, *monitor.finish(state)])
    return time.process_time() - worked, time.perf_counter() - wall, len(found)


def ticks(monitor: Monitor, block: Block, count: int = 600) -> list[float]:
    """Seconds worked in single live ticks of one cell each, after an hour."""
    state, _ = monitor.advance(monitor.start(), block.cut(0, HOUR))
    out = []
    for cell in range(HOUR, HOUR + count):
        piece = block.cut(cell, cell + 1)
        began = time.process_time()
        state, _ = monitor.advance(state, piece)
        out.append(time.process_time() - began)
    return out


def pass_seconds(values: np.ndarray) -> float:
    """Seconds worked in the quickest of five passes."""
    scratch, passes = values.copy(), []
    for _ in range(5):
        began = time.process_time()
        one_pass(scratch)
        passes.append(time.process_time() - began)
    return min(passes)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--days", type=int, choices=(2, 7), default=7)
    parser.add_argument("--block-cells", type=int, default=BLOCK_CELLS, help="cells in a block; as check reads it")
    given = parser.parse_args()
    line, hours, recipe = line_of_64()
    block = repeated(hours, given.days)
    one = pass_seconds(block.values)
    whole, wall, found = judge(Monitor(line, [recipe]), block, given.block_cells)
    print(f"{block.n} rows x {len(block.channels)} channels in blocks of {given.block_cells}; one pass {one:.3f} s")
    print(f"everything on: {whole:.2f} s = {whole / one:.1f} passes (aim: at most 12), {wall:.2f} s on the wall,")
    print(f"{found} findings made")
    took = ticks(Monitor(line, [recipe]), block)
    print(
        f"live tick of one cell: median {1e3 * statistics.median(took):.2f} ms (aim: below 1), "
        f"99 % under {1e3 * sorted(took)[int(0.99 * len(took))]:.2f} ms (aim: 10), most {1e3 * max(took):.2f} ms"
    )
    _table(line, recipe, block, given.block_cells, one)


def _table(line: Line, recipe: Any, block: Block, cells: int, one: float) -> None:
    """Seconds by node, from a run of its own: keeping the time takes time."""
    seconds: dict[str, float] = defaultdict(float)
    core.coarse_readings = timed(seconds, "10 s cells", core.coarse_readings)
    core.usable = timed(seconds, "fit readings", core.usable)
    for module, name in (
        (phases, "phases"), (expectation, "expectations"), (jump_guard, "jump guard"), (episodes, "(episodes)"),
    ):  # fmt: skip
        module.advance = timed(seconds, name, module.advance)  # type: ignore[attr-defined]
    monitor = Timed(line, [recipe])
    monitor.seconds = seconds
    object.__setattr__(monitor, "plan", _TimedPlan(monitor.plan, seconds))
    total, _, _ = judge(monitor, block, cells)
    print(f"\n{'node':28} {'s':>8} {'passes':>7}   (a run with the clock on: {total / one:.1f} passes)")
    rest = total - sum(spent for name, spent in seconds.items() if not name.startswith("("))
    for name, spent in sorted(seconds.items(), key=lambda item: -item[1]):
        print(f"{name:28} {spent:8.3f} {spent / one:7.2f}")
    print(f"{'the rest':28} {rest:8.3f} {rest / one:7.2f}")
    print("(episodes) is part of the conditions' own time")


class _TimedPlan:
    """The plan of quantities with its seconds added up."""

    def __init__(self, plan: Any, seconds: dict[str, float]) -> None:
        self.plan, self.advance = plan, timed(seconds, "quantities", plan.advance)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.plan, name)


if __name__ == "__main__":
    main()
