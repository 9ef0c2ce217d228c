"""What happens in each of the committed sample logs: plant, dialect, cadence, people's doings and faults."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from sample_logs.draw_plant import draw_plant
from sample_logs.draw_scenario import planned_stop, start_up
from sample_logs.faults import Fault
from sample_logs.plant import Plant
from sample_logs.scenario import Event, Scenario

TWIN_SEED, SINGLE_SEED, RUN_SEED = 221, 210, 20270302
TIME_ZONE = "Europe/Madrid"
DAY = dt.datetime(2027, 3, 2, tzinfo=dt.UTC)
POSITIONS = {"melt_pressure:P1": "before_screen", "melt_pressure:P2": "after_screen"}
TWIN_PRODUCT, SINGLE_PRODUCT = "PX-T16 natural", "SX clear profile"


@dataclass(frozen=True)
class SampleRun:
    """One committed log. file: name of the log in its folder. lots: seconds from the start -> lot."""

    name: str
    plant: Literal["twin", "single"]
    dialect: str
    file: str
    plain: bool
    cadence_s: float
    hours: float
    start: dt.datetime
    scenario: Scenario
    lots: tuple[tuple[float, str], ...]
    story: str

    @property
    def seconds(self) -> float:
        """Length of the log."""
        return self.hours * 3600.0


def sample_plants() -> dict[str, Plant]:
    """The two plants of the sample logs; their line files say where along the melt each pressure stands."""
    return {
        "twin": _with_positions(
            draw_plant(np.random.default_rng(TWIN_SEED), "twin-screw", plain=False, cadence_s=2.0, name="twin 4")
        ),
        "single": _with_positions(
            draw_plant(np.random.default_rng(SINGLE_SEED), "single-screw", plain=False, cadence_s=2.0, name="single 2")
        ),
    }


def _with_positions(plant: Plant) -> Plant:
    return replace(plant, facts=plant.facts | {"positions": POSITIONS})


def sample_runs(plants: dict[str, Plant]) -> tuple[SampleRun, ...]:
    """Every sample log. plants: from `sample_plants`."""
    rng = np.random.default_rng(RUN_SEED)
    twin = plants["twin"]
    everyday = (
        Event(1500, "hall", value=1.8),
        Event(2700, "spike", "zone_temperature:Z5", 0.0),
        Event(4200, "hopper_touched", "F2", 0.15, 6.0),
        Event(5400, "lot", value=0.012),
        Event(6600, "gap", duration_s=44.0),
        Event(7800, "screen_half", duration_s=16.0),
        Event(7816, "screen_change"),
        Event(9000, "catch_sample", "F2", 1.0, 40.0),
        Event(9600, "hall", value=-1.2),
        Event(12300, "spike", "torque", 0.0),
    )
    warm = start_up(rng, twin, cold=True, screw_at_s=6000.0)

    def run(name, plant, dialect, file, plain, cadence, hours, at_hour, scenario, lots, story) -> SampleRun:
        start = DAY + dt.timedelta(hours=at_hour)
        moved = Scenario(scenario.faults, scenario.events, scenario.start, round(start.timestamp()) * 10**9, lots[0][1])
        return SampleRun(name, plant, dialect, file, plain, cadence, hours, start, moved, lots, story)

    return (
        run("twin_clean", "twin", "american", "log.parquet", False, 1.0, 4.0, 5, Scenario(events=everyday),
            ((0.0, "L2041"), (5400.0, "L2042")),
            "Four hours of a good shift with everyday disturbances: refills, a spike, a leaning elbow, a new "
            "raw-material lot, a lost connection, a screen change, a catch sample. Nothing to find."),
        run("twin_bridged", "twin", "german", "log.csv.gz", False, 1.0, 1.75, 10,
            Scenario((Fault("feeder_bridged", "F4", 3000, 4080, 0.85),)), ((0.0, "L2043"),),
            "The talc feeder bridges at 50 min and is freed 18 min later."),
        run("twin_path_blocked", "twin", "english", "log.csv", True, 1.0, 1.25, 12,
            Scenario((Fault("path_blocked", "", 2400, 2820, 1.0),)), ((0.0, "L2044"),),
            "At 40 min the chute over the throat blocks for 7 min with all feeders on set; then the slug lets go and "
            "holds the torque at its limit for ten minutes, speed and feed taken back by the limiter."),
        run("twin_cold_start", "twin", "long", "log.csv.gz", True, 5.0, 2.75, 15,
            Scenario((Fault("cold_start", "DIE", 6000, 7500, 9.0),), warm, "cold"), ((5900.0, "L2045"),),
            "A start from cold. The screw turns at 100 min while the die is held below the melting point."),
        run("twin_heaters", "twin", "american", "log.parquet", False, 2.0, 2.5, 19,
            Scenario((Fault("heater_dead", "Z7", 2400, 5100, 1.0), Fault("thermocouple_open", "Z5", 6900, 20000, 1.0))),
            ((0.0, "L2046"),),
            "The heater of Z7 is dead from 40 to 85 min; at 115 min the couple of Z5 opens, up-scale."),
        run("single_clean", "single", "english", "log.csv", True, 5.0, 2.0, 5,
            Scenario(events=(Event(2000, "hall", value=1.5), Event(4000, "lot", value=-0.01))),
            ((0.0, "L7310"), (4000.0, "L7311")),
            "Two hours of good running: loader cycles, a warmer hall, a new lot. Nothing to find."),
        run("single_starved", "single", "german", "log.csv.gz", True, 1.0, 1.75, 8,
            Scenario((Fault("throat_bridged", "", 3000, 3900, 0.65),)), ((0.0, "L7312"),),
            "The throat bridges at 50 min, two thirds closed, and is freed 15 min later."),
        run("single_hot_hold", "single", "american", "log.parquet", False, 5.0, 3.0, 11,
            Scenario((Fault("hot_hold", "", 1875, 9000, 1.0),), planned_stop(1800.0, restart_s=9000.0)),
            ((0.0, "L7313"),),
            "At 30 min the line stops at the end of an order and stays hot for two hours, three times the 40 min "
            "that the material may stand; then it turns again."),
    )  # fmt: skip
