"""What the operators and the recipe tell the line: the set-points of every run, with ramps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass
class Commands:
    """feeder_kg_h [feeder, run] moves toward feeder_aim at feeder_slew (kg/h per s); zone_c [zone, run]; rest [run].

    ln_lot, bulk: consistency (ln) and feed factor of the raw-material lot in use.
    hall_c: mean of the hall.
    """

    feeder_kg_h: np.ndarray
    feeder_aim: np.ndarray
    feeder_slew: np.ndarray
    zone_c: np.ndarray
    speed_rpm: np.ndarray
    feed_on: np.ndarray
    screw_on: np.ndarray
    heat_on: np.ndarray
    vacuum_on: np.ndarray
    ln_lot: np.ndarray
    bulk: np.ndarray
    hall_c: np.ndarray

    def ramp(self, step_s: float) -> None:
        """Feeder set-points one step toward their aim."""
        most = self.feeder_slew * step_s
        self.feeder_kg_h = self.feeder_kg_h + np.clip(self.feeder_aim - self.feeder_kg_h, -most, most)
