"""How stiff the melt is: a power-law fluid whose consistency falls with temperature (Arrhenius)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

GAS_CONSTANT = 8.314462618
STIFFENING_PER_C = 0.06
"""Below the solidification point a melt stiffens far faster than Arrhenius; e-fold per 17 C, own choice."""
MOST_LN, LEAST_LN = np.log(40.0), np.log(0.15)


@dataclass
class MeltParameters:
    """power_law_index: n of shear stress ~ rate^n. activation_j_mol: of the consistency, 27e3 to 60e3
    (factor 0.877 to 0.748 from 220 to 230 C). solid_c: below it the melt sets.
    share_effect [feeder]: change of ln(consistency) per unit of mass share above the recipe's."""

    power_law_index: np.ndarray
    activation_j_mol: np.ndarray
    solid_c: np.ndarray
    share_effect: np.ndarray


def relative_consistency(
    melt: MeltParameters, temperature_c: np.ndarray, reference_c: np.ndarray, ln_extra: np.ndarray
) -> np.ndarray:
    """Consistency over its value at `reference_c`; `ln_extra` adds composition and lot. Clipped to 0.15..40."""
    kelvin, reference = temperature_c + 273.15, reference_c + 273.15
    ln = melt.activation_j_mol / GAS_CONSTANT * (1.0 / kelvin - 1.0 / reference) + ln_extra
    below = np.maximum(melt.solid_c - temperature_c, 0.0) - np.maximum(melt.solid_c - reference_c, 0.0)
    ln += STIFFENING_PER_C * below
    return np.exp(np.clip(ln, LEAST_LN, MOST_LN))
