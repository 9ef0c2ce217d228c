"""What faults of feeders, hoppers and throat do to the plant (fault_catalogue_feeding.toml)."""

from __future__ import annotations

import numpy as np

from sample_logs.fault_hit import Effect, Hit, puts

SIDE = 3
"""Slot of the side feeder."""
STIFFER_THAN_LIGHTER = 4.0
"""A wrong material stiffens the melt by so many times its loss of feed factor, by its share; own choice."""
BRIDGES_FROM_C, BRIDGES_PER_C = 40.0, 0.02
"""A jacket so much too hot begins to close the throat; own choice."""


def _rate_echoed(h: Hit) -> None:
    drive = float(h.plant.settled.feeder.drive_pct[h.index, 0])
    limit = float(h.plant.parameters.feeder.drive_limit_pct[h.index])
    h.put("factor_gain", (1.0 - h.size) * drive / limit)
    h.put("rate_echo", 1.0)


def _wrong_material(h: Hit) -> None:
    """The refill is called at once; the new stuff is in the flights when its hold ends, at the die later."""
    h.put("recall", float(h.since_s < 3.0))
    h.put("factor_gain", 1.0 - h.full * min(max(h.since_s - 15.0, 0.0) / 15.0, 1.0))
    share = float(h.plant.nominal.feeder_kg_h[h.index] / h.plant.nominal.feeder_kg_h.sum())
    arrived = min(max(h.since_s - 60.0, 0.0) / 60.0, 1.0)
    h.add("ln_lot", float(np.log1p(STIFFER_THAN_LIGHTER * h.full * share)) * arrived)


def _left_in_volumetric(h: Hit) -> None:
    h.put("volumetric", 1.0)
    h.put("factor_gain", 1.0 - h.size)


def _nozzle(h: Hit) -> None:
    """A displacement pump holds its flow against a narrow nozzle until it slips."""
    h.put("nozzle", h.size)
    h.put("outlet", 1.0 - 0.7 * h.size**2)


def _filler_first(h: Hit) -> None:
    for slot in h.plant.facts["slots"]:
        if slot != SIDE:
            h.upset.tripped[slot, h.run] = 1.0


def _light_feed(h: Hit) -> None:
    """What the feed section drags, over what the line needs, falls short by the fault's size."""
    p = h.plant.parameters
    needed = float(p.die.rate_kg_s / p.channel.speed_rps)
    h.put("intake", 1.0 - h.grown + h.grown * needed * (1.0 - h.full) / float(p.channel.drag_kg_rev[0]))


def _throat_warm(h: Hit) -> None:
    h.put("throat_c", h.size)
    closed = max(h.size - BRIDGES_FROM_C, 0.0) * BRIDGES_PER_C
    if h.plant.kind == "single-screw":
        h.put("throat_open", 1.0 - closed)
    elif closed > 0:
        h.put("path", 1.0 - closed)


FEEDING: dict[str, Effect] = {
    "rate_echoed": _rate_echoed,
    "feeder_runs_through": puts("through", lambda s: s),
    "rat_holing": puts("holes", lambda s: s),
    "feed_factor_drift": lambda h: h.put("factor_gain", max(1.0 - h.size * h.hours, 0.1)),
    "wrong_material": _wrong_material,
    "refill_valve_leaks": puts("inflow", lambda s: s),
    "scale_hung_up": puts("span", lambda s: 1.0 - s),
    "left_in_volumetric": _left_in_volumetric,
    "side_feeder_backs_up": puts("side_path", lambda s: 1.0 - s),
    "liquid_prime_lost": puts("outlet", lambda s: 0.0),
    "liquid_nozzle_plugged": _nozzle,
    "liquid_overdosed": puts("setpoint_gain", lambda s: 1.0 + s),
    "filler_first": _filler_first,
    "hopper_low_bulk_density": _light_feed,
    "throat_warm": _throat_warm,
}
