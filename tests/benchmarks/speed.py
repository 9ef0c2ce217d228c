"""How long judging takes, in passes over the same array, with a table by node.

    python -m tests.benchmarks.speed --days 7

One pass is a scipy `lfilter` EWMA over the same channel-major array: the cheapest thing a monitor could do with every
reading. Everything runs in one process on one core, side by side; raw seconds are printed beside the ratios, with the
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

from ingest.block import FRESH, NONE, Block
from monitor import core, expectation, jump_guard, phases
from monitor.core import Monitor
from monitor.line import Line
from monitor.records import findings
from tests.monitor.scripted_world import TARGETS, ZONES, eventful_twin

EXTRA_ZONES = tuple(f"Z{number}" for number in range(4, 13))
HOUR = 3600


def line_of_64() -> tuple[Line, Block, Any]:
    """The scripted twin-screw line with more zones, 64 channels in all, seven eventful hours of it."""
    world = eventful_twin()
    data = world.line.model_dump()
    data["zone"] = [*data["zone"], *({"name": zone} for zone in EXTRA_ZONES)]
    rows, sensors = [world.block.values], list(data["sensor"])
    for zone in EXTRA_ZONES:
        for role in ("zone_temperature", "zone_setpoint", "zone_output"):
            if len(sensors) < 64:
                sensors.append({"tag": f"{role}.{zone}", "role": role, "at": zone})
                rows.append(world.block.values[world.line.channels.index(f"{role}:Z3")][None, :])
    data["sensor"] = sensors
    recipe = world.recipes[0].model_copy(update={"zones": {**TARGETS, **dict.fromkeys(EXTRA_ZONES, TARGETS["Z3"])}})
    line = Line.model_validate(data)
    values = np.ascontiguousarray(np.concatenate(rows))
    status = np.where(np.isnan(values), NONE, FRESH).astype(np.uint8)
    assert len(ZONES) + len(EXTRA_ZONES) == 14
    return line, Block(world.block.t0, world.block.step, line.channels, values, status), recipe


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
        began = time.perf_counter()
        super()._judge(item, *rest)
        self.seconds[item.condition.name] += time.perf_counter() - began


def timed(seconds: dict[str, float], name: str, function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, its seconds added up under a name."""

    def run(*given: Any, **named: Any) -> Any:
        began = time.perf_counter()
        try:
            return function(*given, **named)
        finally:
            seconds[name] += time.perf_counter() - began

    return run


def judge(monitor: Monitor, block: Block) -> tuple[float, int]:
    """Seconds and findings of a log judged in hours."""
    began, records = time.perf_counter(), []
    state = monitor.start()
    for first in range(0, block.n, HOUR):
        state, step = monitor.advance(state, block.cut(first, min(first + HOUR, block.n)))
        records += step.records
    return time.perf_counter() - began, len(findings([*records, *monitor.finish(state)]))


def ticks(monitor: Monitor, block: Block, count: int = 600) -> list[float]:
    """Seconds of single live ticks of one cell each, after an hour."""
    state, _ = monitor.advance(monitor.start(), block.cut(0, HOUR))
    out = []
    for cell in range(HOUR, HOUR + count):
        piece = block.cut(cell, cell + 1)
        began = time.perf_counter()
        state, _ = monitor.advance(state, piece)
        out.append(time.perf_counter() - began)
    return out


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--days", type=int, default=7)
    days = parser.parse_args().days
    line, hours, recipe = line_of_64()
    block = repeated(hours, days)
    passes = []
    scratch = block.values.copy()
    for _ in range(3):
        began = time.perf_counter()
        one_pass(scratch)
        passes.append(time.perf_counter() - began)
    del scratch
    one = min(passes)
    monitor = Timed(line, [recipe])
    monitor.seconds = seconds = defaultdict(float)
    core.coarse_readings = timed(seconds, "10 s cells", core.coarse_readings)
    for module, name in ((phases, "phases"), (expectation, "expectations"), (jump_guard, "jump guard")):
        module.advance = timed(seconds, name, module.advance)  # type: ignore[attr-defined]
    object.__setattr__(monitor, "plan", _TimedPlan(monitor.plan, seconds))
    total, found = judge(monitor, block)
    print(f"{block.n} rows x {len(block.channels)} channels; one pass {one:.3f} s (of {[round(p, 3) for p in passes]})")
    print(f"everything on: {total:.2f} s = {total / one:.1f} passes (aim: at most 12), {found} findings made")
    print(f"{'node':28} {'s':>8} {'passes':>7}")
    for name, spent in sorted(seconds.items(), key=lambda item: -item[1]):
        print(f"{name:28} {spent:8.3f} {spent / one:7.2f}")
    rest = total - sum(seconds.values())
    print(f"{'the rest':28} {rest:8.3f} {rest / one:7.2f}")
    took = ticks(Monitor(line, [recipe]), block)
    print(
        f"live tick of one cell: median {1e3 * statistics.median(took):.2f} ms, "
        f"99 % under {1e3 * sorted(took)[int(0.99 * len(took))]:.2f} ms, most {1e3 * max(took):.2f} ms (aim: 10)"
    )


class _TimedPlan:
    """The plan of quantities with its seconds added up."""

    def __init__(self, plan: Any, seconds: dict[str, float]) -> None:
        self.plan, self.advance = plan, timed(seconds, "quantities", plan.advance)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.plan, name)


if __name__ == "__main__":
    main()
