"""The same log judged in two fresh processes gives the same records and the same state, to the letter."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import monitor

ROOT = Path(monitor.__file__).parent.parent

JUDGE = """
import sys
from monitor.checkpoint import dump_state
from monitor.core import Monitor
from tests.monitor.scripted_world import eventful_single, eventful_twin
for make in (eventful_twin, eventful_single):
    world = make()
    judge = Monitor(world.line, world.recipes)
    state, cells = judge.start(), int(sys.argv[1])
    for first in range(0, world.block.n, cells):
        state, step = judge.advance(state, world.block.cut(first, min(first + cells, world.block.n)))
        for record in step.records:
            print(record.as_json())
    for record in judge.finish(state):
        print(record.as_json())
    print(dump_state(state))
"""


def judged(cells: int, hash_seed: int) -> str:
    """Records and states of both scripted worlds, from a process of its own, in blocks of so many cells."""
    done = subprocess.run(
        [sys.executable, "-c", JUDGE, str(cells)],
        cwd=ROOT,
        env={**os.environ, "PYTHONHASHSEED": str(hash_seed), "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    return done.stdout


def test_two_processes_say_the_same() -> None:
    """Another seed for the order of sets, another cut: nothing may depend on either."""
    first, second = judged(3600, 1), judged(10**9, 2)

    assert first.count("\n") > 50
    assert first == second
