"""Screen and die: pressure from the flow of a power-law melt, and the filled screw length that makes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass
class DieParameters:
    """die_bar, screen_bar: pressure drop at `rate_kg_s` with nominal melt and a clean screen.
    blinding_per_kg: relative growth of the screen's resistance per kilogram passed.
    trip_bar: where the machine's own cut-out stops it."""

    die_bar: np.ndarray
    screen_bar: np.ndarray
    rate_kg_s: np.ndarray
    blinding_per_kg: np.ndarray
    trip_bar: np.ndarray


def pressure_and_flow(
    mass_kg: np.ndarray,
    bar_per_kg: np.ndarray,
    resistance_bar: np.ndarray,
    rate_kg_s: np.ndarray,
    index: np.ndarray,
    step_s: float,
    rounds: int = 4,
) -> tuple[np.ndarray, np.ndarray]:
    """Pressure ahead of the screen (bar) and mass through the die in one step (kg).

    The filled length ahead of the die holds `mass_kg` (what came in this step included) and makes
    `bar_per_kg` of pressure for each kilogram; the die passes rate_kg_s * (P / resistance)^(1/n).
    Implicit in time, because filling takes well under a second. Both starting guesses are above the root of a
    rising convex function, so Newton comes down to it without overshoot.
    """
    gain = np.maximum(bar_per_kg, 1e-9)
    power = 1.0 / index
    through = rate_kg_s * step_s
    pressure = np.minimum(gain * mass_kg, resistance_bar * (mass_kg / through) ** index)
    pressure = np.maximum(pressure, 1e-12)
    for _ in range(rounds):
        flow = through * (pressure / resistance_bar) ** power
        slope = 1.0 / gain + power * flow / pressure
        pressure = np.maximum(pressure - (pressure / gain + flow - mass_kg) / slope, 1e-12)
    out = np.clip(mass_kg - pressure / gain, 0.0, mass_kg)
    return pressure, out
