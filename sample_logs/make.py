"""Makes the committed sample logs: `python -m sample_logs.make [FOLDER]`. Equal code gives equal logs."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import zoneinfo
from pathlib import Path
from typing import Any

from ingest.block import Block
from sample_logs.dialects import DIALECTS
from sample_logs.draw_plant import relogged
from sample_logs.plant import Plant
from sample_logs.sample_runs import (
    RUN_SEED,
    SINGLE_PRODUCT,
    TIME_ZONE,
    TWIN_PRODUCT,
    SampleRun,
    sample_plants,
    sample_runs,
)
from sample_logs.simulate import simulate
from sample_logs.toml_text import toml_text
from sample_logs.truth import truths
from sample_logs.write_logs import line_in_dialect, write_log

NUISANCES = ("hall", "spike", "hopper_touched", "lot", "gap", "screen_half", "screen_change", "catch_sample")


PACKED = ("twin_clean", "twin_bridged", "twin_path_blocked", "twin_heaters", "single_clean", "single_starved")
CONTAINER_S = 900
"""On these a container is full every so many seconds."""


def make(folder: Path) -> list[Path]:
    """Writes every sample log below `folder`; the files written."""
    plants = sample_plants()
    runs = sample_runs(plants)
    written: list[Path] = []
    for kind in ("twin", "single"):
        ours = [run for run in runs if run.plant == kind]
        product = TWIN_PRODUCT if kind == "twin" else SINGLE_PRODUCT
        logged = [relogged(plants[kind], plain=run.plain, cadence_s=run.cadence_s, product=product) for run in ours]
        simulated = simulate(logged, [run.scenario for run in ours], max(run.seconds for run in ours), RUN_SEED)
        for i, run in enumerate(ours):
            cells = round(run.seconds / run.cadence_s)
            written += write_run(folder / run.name, run, logged[i], simulated.block(i).cut(0, cells))
    return written


def write_run(folder: Path, run: SampleRun, plant: Plant, block: Block) -> list[Path]:
    """Writes log, line, recipe, schedule and truth of one run into its folder; the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    dialect = DIALECTS[run.dialect]
    write_log(block, plant, dialect, folder / run.file, TIME_ZONE)
    line = line_in_dialect(plant, dialect, TIME_ZONE)
    title = f"Line '{plant.name}' of the invented plant, as log '{run.name}' is written."
    (folder / "line.toml").write_text(toml_text(line, title), encoding="utf-8")
    recipe = toml_text(plant.recipe, "Invented product; windows written from the plant's own steady state.")
    (folder / "recipe.toml").write_text(recipe, encoding="utf-8")
    (folder / "schedule.csv").write_text(_schedule(run, plant, dialect.local), encoding="utf-8")
    (folder / "truth.json").write_text(json.dumps(truth_of(run, plant), indent=1) + "\n", encoding="utf-8")
    return [folder / name for name in (run.file, "line.toml", "recipe.toml", "schedule.csv", "truth.json")]


def truth_of(run: SampleRun, plant: Plant) -> dict[str, Any]:
    """The truth file of a log: what happens when, in UTC."""
    faults = truths(plant, run.scenario, run.seconds)
    return {
        "log": run.name,
        "line": plant.name,
        "story": run.story,
        "start": _iso(run.start),
        "end": _iso(run.start + dt.timedelta(seconds=run.seconds)),
        "faults": [
            {**fault.as_dict(), "start": _iso_ns(fault.start_ns), "end": _iso_ns(fault.end_ns)} for fault in faults
        ],
        "nuisances": [
            {"at": _iso(run.start + dt.timedelta(seconds=event.at_s)), "what": event.kind, "subject": event.subject,
             "value": event.value, "for_s": event.duration_s}
            for event in run.scenario.events
            if event.kind in NUISANCES and event.at_s < run.seconds
        ],
    }  # fmt: skip


def _schedule(run: SampleRun, plant: Plant, local: bool) -> str:
    """Lots and recipe, and on lines that make product throughout the containers as they were full."""

    def row(at_s: float, rest: str) -> tuple[float, str]:
        at = run.start + dt.timedelta(seconds=at_s)
        text = at.astimezone(zoneinfo.ZoneInfo(TIME_ZONE)).strftime("%Y-%m-%d %H:%M:%S") if local else _iso(at)
        return at_s, f"{text},{rest}"

    rows = [row(at_s, f"{lot},{plant.recipe['recipe']['name']},") for at_s, lot in run.lots]
    if run.name in PACKED:
        full = range(CONTAINER_S, int(run.seconds) + 1, CONTAINER_S)
        rows += [row(at_s, f",,B{number}") for number, at_s in enumerate(full, start=101)]
    return "\n".join(["start,lot,recipe,container", *(text for _, text in sorted(rows))]) + "\n"


def _iso(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _iso_ns(at_ns: int) -> str:
    return _iso(dt.datetime.fromtimestamp(at_ns / 1e9, dt.UTC))


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m sample_logs.make", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent / "logs")
    for path in make(parser.parse_args().folder):
        print(f"{path.stat().st_size:>9,}  {path}")


if __name__ == "__main__":
    main()
