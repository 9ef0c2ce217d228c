"""A line that runs for ever, for the demonstration: lots come and go, now and then something fails and is mended."""

from __future__ import annotations

import pickle

import numpy as np

from ingest.block import FRESH, GOOD, Block, Note
from ingest.roles import split_key
from sample_logs.draw_plant import relogged
from sample_logs.draw_scenario import draw_fault, draw_nuisances, possible_faults
from sample_logs.faults import Fault
from sample_logs.plant import Plant
from sample_logs.runner import Runner
from sample_logs.sample_runs import TWIN_PRODUCT, sample_plants
from sample_logs.scenario import DEFAULT_START_NS, Event, Scenario
from sample_logs.truth import Truth, truths

NS = 1_000_000_000
HOUR_S = 3600.0
SHOWN_FAULTS = (
    "feeder_bridged", "path_blocked", "heater_dead", "thermocouple_open", "screen_blinding", "feeder_off_target",
    "vacuum_lost", "zone_hunting", "refill_flushing", "wrong_setpoint", "flooded_intake", "scale_span",
    "melt_over_temperature", "thermocouple_loose", "feeder_empty",
)  # fmt: skip
LASTS_S: dict[str, tuple[int, int]] = {
    "heater_dead": (900, 1800), "screen_blinding": (2400, 3000), "zone_hunting": (1800, 2700),
    "thermocouple_loose": (1500, 2400), "scale_span": (1200, 2400), "melt_over_temperature": (1200, 1800),
    "refill_flushing": (1800, 2700), "feeder_empty": (1200, 2000),
}  # fmt: skip
SHORT_S = (300, 720)
FAULT_EVERY_H = 2


class LivePlant:
    """One line that is stepped on in real time or faster. Equal seed, equal readings at every time index.

    seed: of everything. speed_up: simulated seconds per second of `step`. start_ns: UTC of the first reading.
    plant: None = the twin-screw line of the sample logs, with all its channels, at 1 s.
    faults: whether anything fails at all.
    """

    def __init__(
        self,
        seed: int = 1,
        speed_up: float = 1.0,
        *,
        start_ns: int = DEFAULT_START_NS,
        plant: Plant | None = None,
        faults: bool = True,
    ) -> None:
        chosen = plant or relogged(sample_plants()["twin"], plain=False, cadence_s=1.0, product=TWIN_PRODUCT)
        step = round(chosen.cadence_s * NS)
        self.plant, self.seed, self.speed_up = chosen, seed, speed_up
        self.start_ns = start_ns - start_ns % step
        self.index = 0
        self._step_ns, self._faults = step, faults
        self._runner = Runner([chosen], [Scenario(start_ns=self.start_ns)], [(seed, 0)], min(1.0, chosen.cadence_s))
        self._waiting = np.empty((0, len(chosen.channels)), np.float32)
        self._hours_planned, self._owed = 0, 0.0
        self._planned_faults: list[Fault] = []
        self._notes: list[Note] = [Note(self.start_ns, "recipe", chosen.recipe["recipe"]["name"])]

    def step(self, seconds: float) -> Block:
        """What the plant logs in the next `seconds` (times speed_up), with lot notes; may hold no cell."""
        self._owed += seconds * self.speed_up
        cells = int(self._owed / self.plant.cadence_s + 1e-9)
        self._owed -= cells * self.plant.cadence_s
        while len(self._waiting) < cells:
            self._plan(self._runner.time_s + 2.0 * HOUR_S)
            self._waiting = np.concatenate([self._waiting, self._runner.advance()[0]])
        shown, self._waiting = self._waiting[:cells], self._waiting[cells:]
        t0 = self.start_ns + self.index * self._step_ns
        self.index += cells
        end = t0 + cells * self._step_ns
        due = tuple(note for note in self._notes if t0 <= note.at_ns < end)
        self._notes = [note for note in self._notes if note.at_ns >= end]
        values = self._rounded(np.ascontiguousarray(shown.T.astype(np.float64)))
        status = np.full(values.shape, GOOD | FRESH, np.uint8)
        return Block(t0, self._step_ns, self.plant.channels, values, status, due)

    def skip(self, seconds: float) -> None:
        """Lets simulated time pass unread."""
        left = round(seconds / self.plant.cadence_s)
        speed, self.speed_up = self.speed_up, 1.0
        while left > 0:
            left -= self.step(min(left * self.plant.cadence_s, HOUR_S)).n
        self.speed_up = speed

    def truth(self) -> list[Truth]:
        """Faults that have begun so far."""
        seconds = max(self.index * self.plant.cadence_s, 1.0)
        return truths(self.plant, Scenario(tuple(self._planned_faults), start_ns=self.start_ns), seconds)

    def snapshot(self) -> bytes:
        """Everything needed to go on exactly from here."""
        return pickle.dumps(self)

    @staticmethod
    def resume(snapshot: bytes) -> LivePlant:
        """Goes on from a snapshot of one's own (never one from elsewhere: it is a pickle)."""
        plant = pickle.loads(snapshot)
        if not isinstance(plant, LivePlant):
            raise TypeError(f"not a snapshot of a live plant: {type(plant).__name__}")
        return plant

    def _rounded(self, values: np.ndarray) -> np.ndarray:
        for c, key in enumerate(self.plant.channels):
            step = self.plant.logger.resolution.get(split_key(key)[0], 0.0)
            if step > 0:
                values[c] = np.round(np.round(values[c] / step) * step, 6)
        return values

    def _plan(self, until_s: float) -> None:
        while self._hours_planned * HOUR_S < until_s:
            self._plan_hour(self._hours_planned)
            self._hours_planned += 1

    def _plan_hour(self, hour: int) -> None:
        """Events of one hour; depends on the seed and the hour only, and on nothing simulated."""
        rng = np.random.default_rng([self.seed, 99, hour])
        begin = hour * HOUR_S
        for event in draw_nuisances(rng, self.plant, HOUR_S):
            if event.kind not in ("gap", "spike", "lot"):
                self._runner.agenda.add(0, _moved(event, begin))
        if hour % 3 == 0:
            at = begin + float(rng.integers(0, 1800)) if hour else 0.0
            self._notes.append(Note(self.start_ns + round(at) * NS, "lot", f"L{3000 + hour}"))
            self._runner.agenda.add(0, Event(at, "lot", value=float(rng.normal(0.0, 0.012))))
        if self._faults and hour % FAULT_EVERY_H == 0:
            self._plan_fault(rng, begin, hour // FAULT_EVERY_H)

    def _plan_fault(self, rng: np.random.Generator, begin: float, turn: int) -> None:
        """The first kind first, then all of them in an order of the seed's own."""
        kinds = [k for k in SHOWN_FAULTS if k in possible_faults(self.plant)]
        order = [0, *(1 + np.random.default_rng([self.seed, 98]).permutation(len(kinds) - 1)).tolist()]
        kind = kinds[order[turn % len(kinds)]]
        lasts = float(rng.integers(*LASTS_S.get(kind, SHORT_S)))
        fault = draw_fault(rng, self.plant, kind, begin + float(rng.integers(600, 1500)), lasts)
        self._planned_faults.append(fault)
        self._runner.agenda.add(0, fault)
        if kind == "screen_blinding":
            self._runner.agenda.add(0, Event(fault.end_s, "screen_change"))
        self._runner.agenda.add(0, Event(fault.end_s + 60.0, "reset"))


def _moved(event: Event, by_s: float) -> Event:
    return Event(event.at_s + by_s, event.kind, event.subject, event.value, event.duration_s, event.text)
