"""Screw, screen and die: what is taken in, how long it travels, load, pressure and melt temperature.

Starve-fed: the screw carries what is fed up to what its intake takes. Flood-fed: drag flow less pressure flow, nearly
in proportion to speed. Pressure: power law over screen and die, Q^n. Load: conveying, melting and mixing work per turn
with the degree of fill, and pumping (Tadmor & Gogos, Principles of Polymer Processing; constants chosen).
"""

from __future__ import annotations

from collections import deque

from tests.benchmarks.third_plant.knobs import Knobs
from tests.benchmarks.third_plant.machine import Machine

CHUTE_S = 30.0
"""Seconds of feed a chute holds over a blockage; what comes on top of it falls over the edge."""

LEAKS_BACK_S = 25.0
"""What stands ahead of a pump that stands goes back along the screw."""


class Delay:
    """A transport delay."""

    def __init__(self, seconds: float, dt: float, value: float) -> None:
        self._row = deque([value] * max(2, round(seconds / dt)))

    def through(self, value: float) -> float:
        """Put one in, take the oldest out."""
        self._row.append(value)
        return self._row.popleft()


class Screw:
    """State of the filled and part-filled screw. Flows over nominal; bar; C; load in percent."""

    def __init__(self, machine: Machine, dt: float, running: bool) -> None:
        m, on = machine, 1.0 if running else 0.0
        self.m, self.dt, self.throat_part = m, dt, m.throat_part
        self.speed = m.speed_rpm * on
        self.taken = self.carried = m.throat_part * on
        self.smeared, self.side_in = m.throat_part * on, (1 - m.throat_part) * on
        self.out = self.delivered = on
        self._far, self._near = Delay(0.4 * m.residence_s, dt, self.taken), Delay(0.2 * m.residence_s, dt, self.side_in)
        self._mix, self.mixed = Delay(0.4 * m.residence_s, dt, 0.0), 0.0
        self.bar, self.suction = m.pressure_bar * on, m.suction_bar * (on if running else 0.02)
        self.before_pump = (m.suction_bar + m.screen_part * m.pressure_bar) * on
        self.pump, self._trim = m.pump_rpm * on, 0.0
        self.melt_c = m.melt_c if running else sum(z.set_c for z in m.zones[-3:]) / 3
        self.work, self.chute_kg, self.over_chute_kg, self.net = on, 0.0, 0.0, m.net_pct * on
        self.asked = self.speed
        self.hopper_kg, self._loading_s = 0.6 * m.hopper_kg, 0.0
        self.after_screen = (1 - m.screen_part) * m.pressure_bar * on
        half = len(m.zones) // 2
        self._hot0 = sum(z.set_c for z in m.zones[half:]) / len(m.zones[half:])
        first = m.zones[1 : max(3, half)]
        self._melting0, self._melting = sum(z.set_c for z in first) / len(first), (1, max(3, half))

    def step(
        self, knobs: Knobs, throat: float, side: float, thickens: float, steel: list[float], shake: list[float]
    ) -> None:
        """Advance. throat, side: kg/h fed. thickens: by composition, ln. steel: zones, C. shake: noise and waves."""
        m, line, dt = self.m, knobs.line, self.dt
        self._turn(line)
        turn = max(self.speed / m.speed_rpm, 0.0)
        running = turn > 0.02
        low, high = self._melting
        melting = sum(steel[low:high]) / (high - low) - self._melting0
        thick = line["viscosity"] * 2.718281828 ** (
            self._through_mix(thickens) - m.thins_per_c * min(max(self.melt_c - m.melt_c, -60), 60)
        )
        works = line["viscosity"] * 2.718281828 ** (0.8 * self.mixed - 0.006 * min(max(melting, -60), 60))
        if m.starve_fed:
            arriving, beside = self._take(line, throat, side, turn)
        else:
            arriving, beside = self._flooded(line, turn, thick, shake), 0.0
        self._carry(arriving if running else 0.0, beside if running else 0.0, turn, running)
        self._press(line, thick, running)
        self._load(line, turn, thick, works, running, shake)
        half = len(m.zones) // 2
        hot = sum(steel[half:]) / len(steel[half:]) - self._hot0
        per_kg = min(max(self.net / m.net_pct * turn / max(self.out, 0.05), 0.4), 1.8) if running else 1.0
        if running and self.out > 0.1:
            goal, slow = m.melt_c + 0.5 * hot + m.heat_c * (per_kg - 1) * line["shear"], 70.0
        else:
            goal, slow = m.melt_c + 0.5 * hot - 0.9 * (m.melt_c - self._hot0), 500.0
        self.melt_c += (goal - self.melt_c) * dt / slow
        self._hopper(line, arriving if running else 0.0)

    def _through_mix(self, thickens: float) -> float:
        self.mixed += (self._mix.through(thickens) - self.mixed) * min(1.0, self.dt / (0.3 * self.m.residence_s))
        return self.mixed

    def _turn(self, line: dict[str, float]) -> None:
        m, dt, wanted = self.m, self.dt, line["speed"]
        if m.kind == "single_pump" and wanted > 1:
            miss = (m.suction_bar - self.suction) / m.suction_bar
            self._trim = min(max(self._trim + miss * dt * 0.005 * m.speed_rpm, -0.6 * m.speed_rpm), 0.9 * m.speed_rpm)
            wanted = min(max(wanted + self._trim + 0.35 * miss * m.speed_rpm, 0.0), m.speed_max)
        self.asked = wanted
        self.speed += (wanted * line["speed_part"] - self.speed) * min(1.0, dt / 2)

    def _take(self, line: dict[str, float], throat: float, side: float, turn: float) -> tuple[float, float]:
        m, dt, holds = self.m, self.dt, self.m.rate_kg_h * CHUTE_S / 3600
        through = throat * line["path"]
        self.over_chute_kg = min(holds, self.over_chute_kg + (throat - through) * dt / 3600)
        if line["path"] >= 0.995 and self.over_chute_kg > 0:
            slug = self.over_chute_kg * min(1.0, dt / 8)
            self.over_chute_kg -= slug
            through += slug * 3600 / dt
        most = m.room * m.rate_kg_h * self.throat_part * turn * line["bulk"]
        waiting = through + self.chute_kg * 3600 / 8
        taken = min(waiting, most)
        self.chute_kg = min(max(self.chute_kg + (through - taken) * dt / 3600, 0.0), holds)
        return taken / m.rate_kg_h, side * line["side_path"] / m.rate_kg_h

    def _flooded(self, line: dict[str, float], turn: float, thick: float, shake: list[float]) -> float:
        m = self.m
        dip = max(0.0, shake[2] - 0.3) / 0.7
        falls = line["throat"] * (1 - line["surge"] * dip + 0.008 * shake[1])
        ahead = self.bar / m.pressure_bar
        if m.kind == "single_pump":
            ahead = self.before_pump / (m.suction_bar + m.screen_part * m.pressure_bar)
        back = 0.12 * ahead
        holds = 1.0 if self.hopper_kg > 0.01 * m.hopper_kg else 0.0
        return max(0.0, turn * falls * (1.12 - back / max(thick * turn**m.index, 0.05)) * holds)

    def _carry(self, arriving: float, beside: float, turn: float, running: bool) -> None:
        m, dt, slow = self.m, self.dt, self.m.residence_s
        self.taken += (arriving - self.taken) * min(1.0, dt / 4)
        # A full screw moves what stands in it at once with its speed; a part-filled one passes on what was fed.
        scale = 1.0 if m.starve_fed else max(turn, 0.02)
        self.smeared += (self._far.through(self.taken / scale) - self.smeared) * min(1.0, dt / (0.25 * slow))
        self.side_in += (self._near.through(beside) - self.side_in) * min(1.0, dt / (0.15 * slow))
        self.carried = self.smeared * scale
        if running:
            self.out += (self.carried + self.side_in - self.out) * min(1.0, dt / (0.15 * slow if m.starve_fed else 3.0))
        else:
            self.out -= self.out * min(1.0, dt / 3)

    def _press(self, line: dict[str, float], thick: float, running: bool) -> None:
        m, dt = self.m, self.dt
        flow = max(self.out, 0.0) ** m.index
        if m.kind == "single_pump":
            self.pump += (line["pump"] - self.pump) * min(1.0, dt / 2)
            part = min(1.0, max(self.suction, 0.0) / 3)
            given = self.pump / m.pump_rpm * (1 - line["pump_slip"] - 0.03 * (self.bar / m.pressure_bar - 1)) * part
            self.suction = min(
                max(self.suction + (self.out - given) * dt * 0.1 * m.suction_bar, 0.0), 3.5 * m.suction_bar
            )
            if not running:
                self.suction -= self.suction * min(1.0, dt / LEAKS_BACK_S)
            drop = m.screen_part * m.pressure_bar * line["screen"] * thick * flow
            self.before_pump += (self.suction + drop - self.before_pump) * min(1.0, dt / 2)
            goal = m.pressure_bar * thick * max(given, 0.0) ** m.index * line["die"] * line["leak"]
            self.delivered = given
        else:
            whole = m.pressure_bar * thick * flow * line["leak"]
            die = whole * (1 - m.screen_part) * line["die"]
            goal, self.delivered = die + whole * m.screen_part * line["screen"], self.out
            self.after_screen += (die - self.after_screen) * min(1.0, dt / 2)
        self.bar += (goal - self.bar) * min(1.0, dt / 2)

    def _load(
        self, line: dict[str, float], turn: float, thick: float, works: float, running: bool, shake: list[float]
    ) -> None:
        m, slow_turn = self.m, max(turn, 1e-3)
        if m.kind == "single_pump":
            pressed = self.before_pump / (m.suction_bar + m.screen_part * m.pressure_bar)
        else:
            pressed = self.bar / m.pressure_bar
        if not running:
            load = 0.0
        elif m.starve_fed:
            fill = (0.4 * self.taken + 0.6 * self.carried + 0.7 * self.side_in) / slow_turn
            full = self.throat_part + 0.7 * (1 - self.throat_part)
            load = 0.15 * min(self.taken / slow_turn / self.throat_part, 2.2)
            load += works * 0.55 * max(fill / full, 0.0) ** 0.75 * turn**0.25 + 0.30 * pressed
        else:
            load = works * 0.72 * turn**0.35 * (0.25 + 0.75 * min(1.05, self.taken / slow_turn)) + 0.28 * pressed
        load *= 1 + line["load_swing"] * shake[3]
        self.net = load * m.net_pct * line["clutch"] + (line["load_add"] if running else 0.0)
        self.work = load * turn

    def _hopper(self, line: dict[str, float], arriving: float) -> None:
        m, dt = self.m, self.dt
        if m.hopper_kg <= 0:
            return
        if self._loading_s <= 0 and self.hopper_kg < 0.45 * m.hopper_kg and line["loader"] > 0:
            self._loading_s = 20.0
        if self._loading_s > 0:
            self._loading_s -= dt
            self.hopper_kg += 0.35 * m.hopper_kg * dt / 20 * line["loader"]
        self.hopper_kg = max(0.0, self.hopper_kg - arriving * m.rate_kg_h * dt / 3600)
