"""Free cross-section of a closely intermeshing co-rotating twin screw, and drag flow of a single screw."""

from __future__ import annotations

import math


def free_area_m2(outer_mm: float, diameter_ratio: float, starts: int = 2) -> float:
    """Barrel bore less both screws, zero clearance (Booy, Polym. Eng. Sci. 18, 973 (1978)).

    diameter_ratio is outer over root diameter; raises ValueError where no flight tip is left.
    """
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


def drag_flow_m3_s(diameter_m: float, depth_m: float, helix_deg: float, speed_rps: float) -> float:
    """What a full metering channel drags forward: pi^2/2 D^2 N h sin(phi) cos(phi) (Groover, Fundamentals of Modern
    Manufacturing, ch. 13)."""
    phi = math.radians(helix_deg)
    return 0.5 * math.pi**2 * diameter_m**2 * speed_rps * depth_m * math.sin(phi) * math.cos(phi)
