"""Found, missed, delay and false findings on invented lines whose numbers are drawn at random.

    python -m tests.benchmarks.fault_bench --seeds 50 --first-seed 1

Every seed draws a twin-screw or single-screw plant, a fault of the catalogue with a place, a severity and a time,
and judges the whole log once with the settings as committed. A finding counts as found when its family is one that
an engineer would accept for the fault, its place fits, and it begins after the fault began and was said before
the fault had been over for two minutes. Everything else above priority 4 that no fault explains is a false finding.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from collections import defaultdict
from dataclasses import asdict, dataclass

import numpy as np

from monitor.core import Monitor
from monitor.line import Line
from monitor.recipe import Recipe
from monitor.records import Finding, findings
from sample_logs.draw_plant import draw_plant
from sample_logs.draw_scenario import fault_scenario, subjects
from sample_logs.faults import FAULTS
from sample_logs.plant import Kind, Plant
from sample_logs.scenario import Scenario
from sample_logs.simulate import simulate
from sample_logs.truth import Truth

NS = 1_000_000_000
RUN_S = 9000.0
SLOW = ("feeder_empty", "hopper_empty", "hot_hold", "melt_temperature_drift", "pressure_drift")
"""Faults that need longer than an hour to show; they last to the end of the run."""

ACCEPTED: dict[str, tuple[str, ...]] = {
    "feeder_bridged": ("feeder",), "feeder_bridged_volumetric": ("feeder", "starved"), "feeder_tripped": ("feeder",),
    "feeder_empty": ("feeder",), "feeder_off_target": ("feeder",), "wrong_setpoint": ("composition",),
    "path_blocked": ("starved",), "flooded_intake": ("flooded",), "flooded_torque": ("flooded",),
    "throat_bridged": ("starved",), "hopper_empty": ("starved",), "die_blocked": ("pressure",),
    "heater_dead": ("heater", "under_temperature"), "thermocouple_open": ("sensor",),
    "thermocouple_shorted": ("sensor",), "thermocouple_frozen": ("sensor",),
    "zone_over_temperature": ("over_temperature",), "zone_under_temperature": ("under_temperature",),
    "melt_over_temperature": ("over_temperature",), "melt_temperature_drift": ("drift", "over_temperature"),
    "pressure_drift": ("drift", "window"), "cold_start": ("cold_start",), "hot_hold": ("hot_hold",),
    "feeding_stopped_screw": ("drive",),
}  # fmt: skip
"""Faults whose conditions exist so far, and the families that answer them. The others are run by `--all`."""


@dataclass(frozen=True)
class Outcome:
    """What came of one seed. delay_s: from the fault's start to the first accepted word.

    called: families said during or after the fault. fed: starved and flooded in the order said while it lasted.
    false: what was said before it began.
    """

    seed: int
    fault: str
    kind: str
    plain: bool
    severity: float
    cadence_s: float
    found: bool
    delay_s: float | None
    first_condition: str
    called: tuple[str, ...]
    fed: tuple[str, ...]
    false: tuple[str, ...]
    hours: float


def draw(seed: int, names: tuple[str, ...]) -> tuple[Plant, Scenario]:
    """A plant and a scenario with one fault among everyday nuisances; seeds take the faults in turn.

    Plants are drawn until one has something on which the fault moves at least one channel, logged or not.
    """
    name = names[seed % len(names)]
    rng = np.random.default_rng([seed, 77])
    kind: Kind = FAULTS[name].lines[int(rng.integers(len(FAULTS[name].lines)))]  # type: ignore[assignment]
    plant = draw_plant(rng, kind)
    while not subjects(plant, name):
        plant = draw_plant(rng, kind)
    start = float(rng.uniform(3000, 4500))
    lasts = RUN_S - start if name in SLOW else float(rng.uniform(1800, 3600))
    return plant, fault_scenario(rng, plant, RUN_S, name, start_s=start, duration_s=lasts)


def judge(seed: int, names: tuple[str, ...]) -> Outcome:
    """Simulate one seed and judge its log."""
    plant, scenario = draw(seed, names)
    runs = simulate([plant], [scenario], RUN_S, seed)
    line, recipe = Line.model_validate(plant.line), Recipe.model_validate(plant.recipe)
    monitor = Monitor(line, [recipe])
    state, step = monitor.advance(monitor.start(), runs.block(0))
    said = findings([*step.records, *monitor.finish(state)])
    truth = runs.truth(0)[0]
    accepted = [f for f in said if _answers(f, truth)]
    first = min((f.first_decided_at for f in accepted), default=None)
    during = [f for f in said if f.last.since >= truth.start_ns - 30 * NS and f.last.priority < 4]
    before = [f for f in said if f.last.since < truth.start_ns - 30 * NS and f.last.priority < 4]
    return Outcome(
        seed, truth.fault, plant.kind, plant.plain, round(truth.severity, 3), plant.cadence_s,
        bool(accepted), None if first is None else (first - truth.start_ns) / NS,
        min(during, key=lambda f: f.first_decided_at).last.condition if during else "",
        tuple(sorted({f.last.family for f in during})),
        tuple(
            f.last.family
            for f in sorted(said, key=lambda f: f.first_decided_at)
            if f.last.family in ("starved", "flooded") and truth.start_ns <= f.last.since < truth.end_ns
        ),
        tuple(f"{f.last.condition} {f.last.channel}" for f in before), RUN_S / 3600,
    )  # fmt: skip


def _answers(finding: Finding, truth: Truth) -> bool:
    last = finding.last
    if last.family not in ACCEPTED.get(truth.fault, ()) or last.since < truth.start_ns - 30 * NS:
        return False
    if finding.first_decided_at > truth.end_ns + 120 * NS:
        return False
    whole_line = last.channel in ("net_torque", "screw_speed", "zone_output")
    return (
        not truth.subject
        or whole_line
        or last.channel.endswith(f":{truth.subject}")
        or (last.family in ("composition", "cold_start") and truth.fault in ("wrong_setpoint",))
    )


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson score interval of a proportion."""
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    return max(0.0, middle - half), min(1.0, middle + half)


def table(outcomes: list[Outcome]) -> str:
    """By fault: n, found, interval, median delay, missed seeds, what was said instead; then the false findings."""
    rows = [f"{'fault':26} {'n':>3} {'found':>5} {'95 % interval':>15} {'delay s':>8}  missed (seed: said)"]
    by_fault: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        by_fault[outcome.fault].append(outcome)
    for fault, of_fault in sorted(by_fault.items()):
        hits = [o for o in of_fault if o.found]
        low, high = wilson(len(hits), len(of_fault))
        delays = [o.delay_s for o in hits if o.delay_s is not None]
        missed = "; ".join(f"{o.seed}: {'+'.join(o.called) or 'nothing'}" for o in of_fault if not o.found)
        delay = f"{np.median(delays):8.0f}" if delays else f"{'-':>8}"
        rows.append(f"{fault:26} {len(of_fault):3} {len(hits):5} {f'{low:.2f}..{high:.2f}':>15} {delay}  {missed}")
    hits_all = sum(o.found for o in outcomes)
    low, high = wilson(hits_all, len(outcomes))
    rows.append(f"{'all':26} {len(outcomes):3} {hits_all:5} {f'{low:.2f}..{high:.2f}':>15}")
    fed = [(o, ACCEPTED.get(o.fault, ())) for o in outcomes]
    starved_called_flooded = [o.seed for o, wanted in fed if "starved" in wanted and o.fed[:1] == ("flooded",)]
    flooded_called_starved = [o.seed for o, wanted in fed if "flooded" in wanted and o.fed[:1] == ("starved",)]
    rows.append(f"starved called flooded: {starved_called_flooded}; flooded called starved: {flooded_called_starved}")
    false = [(o.seed, name) for o in outcomes for name in o.false]
    hours = sum(o.hours for o in outcomes) / 2
    rows.append(
        f"false findings before the fault: {len(false)} in about {hours:.0f} h "
        f"({12 * len(false) / max(hours, 1e-9):.2f} a 12 h shift): {false}"
    )
    return "\n".join(rows)


def main() -> None:
    """Run the seeds and print the table; --out writes every outcome as JSON lines."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--all", action="store_true", help="also faults whose conditions are not built yet")
    parser.add_argument("--out", default="")
    given = parser.parse_args()
    names = tuple(FAULTS) if given.all else tuple(ACCEPTED)
    outcomes, began = [], time.time()
    for seed in range(given.first_seed, given.first_seed + given.seeds):
        outcomes.append(judge(seed, names))
        print(f"\r{len(outcomes)} of {given.seeds}, {time.time() - began:.0f} s", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    if given.out:
        with open(given.out, "w", encoding="utf-8") as out:
            out.writelines(json.dumps(asdict(outcome)) + "\n" for outcome in outcomes)
    print(table(outcomes))


if __name__ == "__main__":
    main()
