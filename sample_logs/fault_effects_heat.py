"""What faults of heaters, cooling, couples and set-points do to the plant (fault_catalogue_heat.toml)."""

from __future__ import annotations

from sample_logs.fault_hit import Effect, Hit, puts

PHASES = 3
"""Zones hang on the phases in turn; the first one is lost."""
HARDLY_COOLED = 0.0
WATER_C = 25.0
"""How much warmer the water gets when all of it stands; own choice."""


def _in_manual(h: Hit) -> None:
    """Zones of even place too hot, of odd place too cold."""
    sign = 1.0 if h.index % 2 == 0 else -1.0
    output = float(h.plant.settled.control.output_pct[h.index, 0]) + sign * h.size
    h.put("manual", 1.0)
    h.put("manual_pct", min(max(output, -100.0), 100.0))


def _swapped(h: Hit) -> None:
    h.put("swapped", 1.0)
    h.upset.swapped[h.index + 1, h.run] = -1.0


def _phase_lost(h: Hit) -> None:
    h.upset.heater[::PHASES, h.run] = 0.0


def _cooling_all_lost(h: Hit) -> None:
    h.put_all("cooler", 1.0 - h.size)
    h.put("water_c", WATER_C * h.size)


def _shear(h: Hit) -> None:
    """What its heater gave comes from the screw, and more; neighbours and melt carry part of it away."""
    p, z = h.plant.parameters, h.index
    heating = max(float(h.plant.settled.control.output_pct[z, 0]), 0.0)
    coupling, loss = p.zone.coupling, p.zone.loss_w_k
    paths = coupling[z] + 0.5 * (coupling[z - 1] * loss[z - 1] + coupling[z + 1] * loss[z + 1]) / loss[z]
    if h.plant.kind == "twin-screw":
        wetted = p.barrel.wall_w_k[z] * min(float(p.barrel.nominal_kg[z] / p.barrel.capacity_kg[z]), 1.0)
    else:
        wetted = p.channel.wall_w_k[z]
    lift = float(p.zone.gain_c_pct[z] / (1.0 + paths + wetted / loss[z]))
    h.put("shear_pct", h.grown * heating + h.size / lift)
    h.put("cooler", HARDLY_COOLED)
    h.times("dissipation", 1.0 + 0.01 * h.grown)


HEAT: dict[str, Effect] = {
    "zone_in_manual": _in_manual,
    "couple_wrong_type": puts("couple_gain", lambda s: 1.0 - s),
    "couples_swapped": _swapped,
    "phase_lost": _phase_lost,
    "heater_supply_lost": lambda h: h.put_all("heater", 0.0),
    "cooling_all_lost": _cooling_all_lost,
    "steam_flash": puts("flash_pct", lambda s: 100.0 * s),
    "shear_overheats_zone": _shear,
    "speed_setpoint_wrong": puts("speed_gain", lambda s: 1.0 + s),
}
