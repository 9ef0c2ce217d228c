"""The vacuum vent: pump, valve and dome, and melt in the port."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets

PUMP_S = 25.0
ROOM_MBAR = 1000.0


@dataclass
class VentParameters:
    """wanted_mbar absolute. gauge_on_pump: 1 if the gauge is on the pump's side of the port."""

    wanted_mbar: np.ndarray
    gauge_on_pump: np.ndarray


@dataclass
class VentState:
    """dome_mbar absolute, quiet: 0..1 (1 = port closed by melt, gauge hears no process), [run]."""

    dome_mbar: np.ndarray
    quiet: np.ndarray


def advance(
    state: VentState, p: VentParameters, upset: Upsets, on: np.ndarray, flooded: np.ndarray, step_s: float
) -> None:
    """First order toward the wanted vacuum, a leak's pressure, or what a flooded port leaves.

    flooded [run], 0..1: how far melt stands in the port. A gauge on the dome then loses vacuum, one on the
    pump's side reads deeper.
    """
    reach = np.clip(np.maximum(flooded, upset.vent_flooded), 0.0, 1.0)
    lost = np.clip(upset.vacuum_leak, 0.0, 1.0)
    wanted = p.wanted_mbar + upset.vacuum_set_mbar + upset.seal_water_mbar
    open_mbar = wanted + lost * (ROOM_MBAR - wanted)
    dome_lost = open_mbar + reach * 0.5 * (ROOM_MBAR - open_mbar)
    deeper = open_mbar * (1.0 - 0.6 * reach)
    aim = np.where(p.gauge_on_pump > 0.5, deeper, dome_lost)
    aim = np.where(on, aim, ROOM_MBAR)
    state.dome_mbar = state.dome_mbar + (aim - state.dome_mbar) * (1.0 - np.exp(-step_s / PUMP_S))
    state.quiet = reach * p.gauge_on_pump
