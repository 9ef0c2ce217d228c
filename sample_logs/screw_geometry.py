"""Free cross-section of a closely intermeshing co-rotating twin screw (Booy, Polym. Eng. Sci. 18, 973 (1978))."""

from __future__ import annotations

import math


def free_area_m2(outer_mm: float, diameter_ratio: float, starts: int = 2) -> float:
    """Barrel bore less both screws, zero clearance; diameter_ratio is outer over root diameter."""
    radius = outer_mm / 2000.0
    centre = radius * (1.0 + 1.0 / diameter_ratio)
    psi = math.acos(centre / (2.0 * radius))
    tip = math.pi / starts - 2.0 * psi
    if tip <= 0:
        raise ValueError(f"diameter ratio {diameter_ratio} leaves no flight tip")
    bore = 2.0 * (math.pi - psi) * radius**2 + centre * radius * math.sin(psi)
    screw = starts * (psi * centre**2 - centre * radius * math.sin(psi))
    screw += starts * tip / 2.0 * (radius**2 + (centre - radius) ** 2)
    return bore - 2.0 * screw
