"""What hangs on the line beside the process: throat jacket, gearbox oil, nameplate figures of drive and heaters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_logs.upsets import Upsets


@dataclass
class AuxiliaryParameters:
    """rated_a, magnetising (part of rated): motor. heater_a [zone]: current with all bands on.
    slide_ln: extra stiffness right after a start. feed_rise_c: raw material over the hall.
    side_kg_h: nominal side feed. melt_probe_s, melt_probe_offset_c: lag and immersion error of the probe."""

    rated_a: np.ndarray
    magnetising: np.ndarray
    heater_a: np.ndarray
    slide_ln: np.ndarray
    feed_rise_c: np.ndarray
    side_kg_h: np.ndarray
    melt_probe_s: np.ndarray
    melt_probe_offset_c: np.ndarray


@dataclass
class AuxiliaryState:
    """Throat jacket and gearbox oil, C, [run]."""

    throat_c: np.ndarray
    oil_c: np.ndarray


def advance(
    state: AuxiliaryState,
    p: AuxiliaryParameters,
    first_zone_c: np.ndarray,
    hall_c: np.ndarray,
    load: np.ndarray,
    upset: Upsets,
    step_s: float,
) -> None:
    """Jacket between hall and first zone; oil 28 C over the hall at full load. load: part of rated power."""
    jacket = hall_c + 6.0 + 0.08 * (first_zone_c - hall_c) + upset.throat_c
    state.throat_c = state.throat_c + (jacket - state.throat_c) * step_s / 400.0
    state.oil_c = state.oil_c + (hall_c + 12.0 + 28.0 * load + upset.oil_c - state.oil_c) * step_s / 2400.0
