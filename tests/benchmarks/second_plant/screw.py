"""Melt through the screw: part-filled tanks in a row, then a filled length that builds what die and screen take.

Part-filled channels convey in proportion to speed and hold what passes (Kohlgruber, Co-Rotating Twin-Screw Extruders);
the filled length builds pressure as drag minus pressure flow (Rauwendaal, Polymer Extrusion, ch. 7), the die takes
P ~ viscosity x Q^n. Drive power is melting work (in proportion to rate) and viscous work (viscosity x speed^(1+n) x
filled volume). All figures are relative to the nominal point, so that viscosity shared by screw and die cancels.
"""

from __future__ import annotations

import math

import numpy as np

from tests.benchmarks.second_plant.spec import LineSpec

TANKS = 6


class Screw:
    """State. What faults change: die, screen, worn (drag left), bulk (of what the throat takes), supply (single
    screws: how much of the throat is fed), thick (ln viscosity added by the lot), leak (part of the melt lost ahead of
    the sensor), broken (shaft).
    """

    def __init__(self, spec: LineSpec) -> None:
        self.spec = spec
        self.q0 = spec.rate_kg_h / 3600
        self.mass = np.full(TANKS, self.q0 * spec.transit_s / TANKS)
        self.ln_mass = np.zeros(TANKS)
        self.filled = spec.filled_kg
        self.ln_filled = 0.0
        self.q = self.q0
        self.chute = 0.0
        self.die = self.screen = self.bulk = self.supply = 1.0
        self.worn = 1.0
        self.thick = self.leak = 0.0
        self.broken = False
        self.ln_base = 0.0
        self.t_base: tuple[float, float] | None = None
        self.suction = spec.pump_suction_bar
        self.drop_die = self.drop_screen = 0.0
        self.net = spec.torque_pct - 8
        self._mass0 = float(self.mass.sum())
        self.over_throat = False
        self.melting = 1.0
        self.flows = [self.q0] * TANKS
        self.melt_part = 0.5

    def step(
        self, feeds: list[tuple[int, float, float]], rpm: float, mid_c: float, end_c: float, pump_kg_s: float
    ) -> None:
        """One second. feeds: tank, kg/s, ln viscosity of what enters; mid_c, end_c: melt half-way and at the end."""
        spec, q0 = self.spec, self.q0
        turn = rpm / spec.rpm if not self.broken else 0.0
        if spec.screw == "twin":
            offered = sum(kg_s for tank, kg_s, _ in feeds if tank == 0)
            part = self._take(offered, turn) / offered if offered > 0 else 0.0
            for tank, kg_s, ln in feeds:
                taken = kg_s * part if tank == 0 else kg_s
                self.mass[tank] += taken
                self.ln_mass[tank] += taken * ln
        else:
            taken = self._bite(turn)
            self.mass[0] += taken
        stay = math.exp(-turn * TANKS / spec.transit_s)
        out, ln_out = self.mass * (1 - stay), self.ln_mass * (1 - stay)
        self.mass -= out
        self.ln_mass -= ln_out
        self.mass[1:] += out[:-1]
        self.ln_mass[1:] += ln_out[:-1]
        arrives, ln_arrives = float(out[-1]), float(ln_out[-1])
        self.melting = float(out[2]) / q0
        self.flows = out.tolist()
        base_mid, base_end = self.t_base or (mid_c, end_c)
        mix = self.ln_filled / max(self.filled, 1e-6) - self.ln_base + self.thick
        thin = spec.melt.b_per_c
        seen = math.exp(max(-2.5, min(2.5, mix - thin * (end_c - base_end))))
        inside = math.exp(max(-2.5, min(2.5, mix - thin * (mid_c - base_mid))))
        self.q = self._outflow(arrives, turn, seen, pump_kg_s)
        share = self.ln_filled / max(self.filled, 1e-6)
        self.filled = max(1e-4, self.filled + arrives - self.q)
        self.ln_filled = max(-3.0, self.ln_filled + ln_arrives - self.q * share)
        self._power(turn, inside)

    def _take(self, kg_s: float, turn: float) -> float:
        room = self.spec.intake * self.bulk * self.q0 * turn
        if self.filled > 6 * self.spec.filled_kg:
            room = min(room, self.q)
        taken = min(kg_s + self.chute, room)
        self.chute = min(4.0, self.chute + kg_s - taken)
        self.over_throat = self.chute > 2.0
        return taken

    def _bite(self, turn: float) -> float:
        spec = self.spec
        could = self.q0 * turn * self.supply * self.bulk
        if spec.screw == "grooved":
            return could * (1 - 0.04 * ((self.drop_die + self.drop_screen) / (spec.die_bar + spec.screen_bar) - 1))
        held = float(self.mass.sum()) + self.filled - self._mass0 - spec.filled_kg
        return min(1.6 * could, max(0.0, self.q - held / 20))

    def _outflow(self, arrives: float, turn: float, seen: float, pump_kg_s: float) -> float:
        """Implicit in the rate: drops over screen and die against what the filled length builds at that rate."""
        spec, q0 = self.spec, self.q0
        n = spec.melt.n
        built0 = (spec.screen_bar + (spec.pump_suction_bar if spec.pump else spec.die_bar)) / (1 - 1 / spec.drag)
        full = built0 / spec.filled_kg * max(turn, 1e-6) ** n * seen
        drag = max(spec.drag * self.worn * q0 * turn, 1e-9)
        have = self.filled + arrives
        stiff = 400.0
        low, high = 0.0, min(have, drag)
        q = min(max(self.q, 1e-6), high)
        for _ in range(6):
            rel = max(q / q0, 1e-9) ** n
            screen = spec.screen_bar * self.screen * rel * seen
            if spec.pump:
                ahead, slope = self.suction + stiff * (q - pump_kg_s), stiff
            else:
                ahead = spec.die_bar * self.die * rel * seen * (1 - self.leak)
                slope = n * ahead / max(q, 1e-9)
            short = screen + ahead - full * (have - q) * (1 - q / drag)
            low, high = (q, high) if short < 0 else (low, q)
            slope += n * screen / max(q, 1e-9) + full * (1 - q / drag) + full * (have - q) / drag
            q = q - short / max(slope, 1e-9)
            q = q if low <= q <= high else (low + high) / 2
        rel = max(q / q0, 1e-9) ** n
        self.drop_screen = spec.screen_bar * self.screen * rel * seen
        if spec.pump:
            self.suction = max(0.0, self.suction + stiff * (q - pump_kg_s))
            if turn < 0.02:
                self.suction *= 0.985  # a standing screw lets melt back
            rel = max(min(pump_kg_s, q if self.suction <= 0 else pump_kg_s) / q0, 1e-9) ** n
        self.drop_die = spec.die_bar * self.die * rel * seen * (1 - self.leak)
        return q

    def _power(self, turn: float, inside: float) -> None:
        spec = self.spec
        held = float(self.mass.sum()) / self._mass0
        work = 0.55 if spec.screw == "twin" else 0.42
        viscous = inside * turn ** (1 + spec.melt.n)
        knead = min(1.6, (float(self.mass[2]) * TANKS / self._mass0)) ** 0.5
        rest = 0.4 * knead + 0.35 * min(4.0, self.filled / spec.filled_kg) + 0.25 * held
        power = work * self.melting * inside**0.3 + (1 - work) * viscous * rest
        self.melt_part = work * self.melting * inside**0.3 / max(power, 1e-6)
        self.net = (spec.torque_pct - 8) * power / max(turn, 0.02) if turn > 0.005 else 0.0
