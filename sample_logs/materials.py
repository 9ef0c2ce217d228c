"""Invented polymers and fillers: numbers inside the ranges of public tables (values from memory), names of our own."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Polymer:
    """soften_c: melting point (crystalline) or glass transition + 50 C (amorphous), the cold-start limit."""

    name: str
    crystalline: bool
    soften_c: float
    barrel_c: tuple[float, float]
    ceiling_c: float
    melt_density: float
    bulk_density: float
    cp_j_kg_k: float
    fusion_j_kg: float
    activation_j_mol: tuple[float, float]
    hot_hold_min: float


POLYMERS: tuple[Polymer, ...] = (
    Polymer("carrier PX", True, 168.0, (195, 220), 290.0, 745, 545, 2550, 95e3, (38e3, 46e3), 60.0),
    Polymer("carrier LX", True, 114.0, (165, 195), 280.0, 765, 555, 2500, 110e3, (28e3, 36e3), 90.0),
    Polymer("amid AX", True, 221.0, (240, 262), 300.0, 975, 660, 2650, 80e3, (45e3, 58e3), 30.0),
    Polymer("ester BX", True, 225.0, (238, 256), 290.0, 1110, 780, 2150, 60e3, (45e3, 58e3), 20.0),
    Polymer("styrol SX", False, 150.0, (195, 225), 275.0, 945, 620, 2250, 0.0, (48e3, 60e3), 40.0),
)

FILLER = "talc T4"
FILLER_CP_J_KG_K, FILLER_DENSITY = 880.0, 2700.0
ADDITIVES = ("masterbatch M7", "masterbatch M2", "impact aid K3")
STABILISERS = ("stabiliser S2", "stabiliser S5")
