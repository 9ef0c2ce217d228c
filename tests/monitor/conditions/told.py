"""What one condition says of a scripted log: findings, in order, with the line and recipe that a test needs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from ingest.block import FRESH, NONE, Block
from monitor.contract import Condition
from monitor.core import Monitor
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, findings
from tests.monitor.check_suite import check_no_nan
from tests.monitor.scripted_world import NS, T0, Script, scripted_line, scripted_recipe

TWIN, SINGLE = scripted_line(), scripted_line("single-screw")
R1, R1_SINGLE = scripted_recipe(), scripted_recipe("single-screw")


def twin(seconds: int, seed: int = 11) -> Script:
    """A twin-screw line in undisturbed running."""
    return Script(TWIN, seconds, seed)


def single(seconds: int, seed: int = 12) -> Script:
    """A flood-fed single-screw line in undisturbed running."""
    return Script(SINGLE, seconds, seed)


def changed(model: Any, **tables: dict[str, Any]) -> Any:
    """A line or recipe with some keys of its tables changed, a table a keyword."""
    data = model.model_dump()
    for table, given in tables.items():
        data[table] = {**data[table], **given}
    return type(model).model_validate({**data, "version": str(tables)})


def without(line: Line, *roles: str) -> Line:
    """The line as if these roles were not logged."""
    kept = tuple(sensor for sensor in line.sensor if sensor.role not in roles)
    return line.model_copy(update={"sensor": kept, "version": f"{line.version} without {roles}"})


def block_of(script: Script, line: Line) -> Block:
    """The script's log with the channels of a line."""
    values = np.ascontiguousarray([script.x[key] for key in line.channels])
    status = np.where(np.isnan(values), NONE, FRESH).astype(np.uint8)
    return Block(T0, round(script.cadence * NS), line.channels, values, status, tuple(script.notes))


def told(
    script: Script, *conditions: Condition, line: Line | None = None, recipe: Recipe | None = None, recipes: bool = True
) -> list[Finding]:
    """Every finding of these conditions, as it stood last. recipes=False: none is given."""
    used = line or script.line
    default = R1 if used.line.kind == "twin-screw" else R1_SINGLE
    monitor = Monitor(used, [recipe or default] if recipes else [], conditions=conditions)
    state, step = monitor.advance(monitor.start(), block_of(script, used))
    records = [*step.records, *monitor.finish(state)]
    check_no_nan(records)
    return findings(records)


def seconds(at_ns: int | None) -> float | None:
    """Seconds since the log began."""
    return None if at_ns is None else (at_ns - T0) / NS


def only(found: list[Finding]) -> Finding:
    """The one finding there must be."""
    assert len(found) == 1, [f.last.summary for f in found]
    return found[0]


def words(finding: Finding) -> str:
    """Everything it says, in one text."""
    last = finding.last
    return " | ".join([last.summary, *(e.sentence() for e in last.evidence), *last.cause_texts, *last.checks])


Story = Callable[[Script], None]
"""Something that happens on the line."""
