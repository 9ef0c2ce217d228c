"""Cross-section of co-rotating, closely intermeshing twin screws, and the torque they are rated for.

Reference: M. L. Booy, Polymer Engineering and Science 18, 973 (1978): the screws wipe each other with no
clearance, so outer diameter, root diameter and the number of starts fix the whole contour.
"""

from __future__ import annotations

import math

import numpy as np

from monitor.physics.values import Values, ratio


def centre_distance_mm(*, outer_mm: Values, root_mm: Values) -> Values:
    """Distance between the two shafts: one tip just wipes the other's root."""
    return (outer_mm + root_mm) / 2


def tip_angle_deg(*, outer_mm: Values, root_mm: Values, starts: int = 2) -> Values:
    """Angle one flight tip spans, seen along the shaft.

    Raises ValueError where the root is not inside the outer diameter, and where the flights are so deep, for
    this many starts, that no tip is left: two starts end at an outer diameter of 2.414 roots.
    """
    if np.any(np.greater_equal(root_mm, outer_mm)):
        raise ValueError(f"screw root {root_mm} mm must be smaller than its outer diameter {outer_mm} mm")
    tip = 180 / starts - 2 * np.rad2deg(_wipe_angle_rad(outer_mm, root_mm))
    if np.any(tip <= 0):
        raise ValueError(
            f"screws of outer diameter {outer_mm} mm and root {root_mm} mm can't have {starts} starts: "
            "no flight tip is left; check the two diameters"
        )
    return tip


def free_area_mm2(*, outer_mm: Values, root_mm: Values, starts: int = 2) -> Values:
    """Area of the bore less that of both screws. Raises ValueError as `tip_angle_deg` does."""
    tip = np.deg2rad(tip_angle_deg(outer_mm=outer_mm, root_mm=root_mm, starts=starts))
    wipe = _wipe_angle_rad(outer_mm, root_mm)
    centre = centre_distance_mm(outer_mm=outer_mm, root_mm=root_mm)
    radius, root_radius = outer_mm / 2, root_mm / 2
    overlap = centre * radius * np.sin(wipe)
    bore = 2 * (math.pi - wipe) * np.square(radius) + overlap
    flanks = starts * (wipe * np.square(centre) - overlap)
    tips_and_roots = starts * tip / 2 * (np.square(radius) + np.square(root_radius))
    return bore - 2 * (flanks + tips_and_roots)


def free_volume_cm3(*, outer_mm: Values, root_mm: Values, length_mm: Values, starts: int = 2) -> Values:
    """Volume open to the melt over a length of both screws."""
    return free_area_mm2(outer_mm=outer_mm, root_mm=root_mm, starts=starts) * length_mm / 1000


def specific_torque_nm_cm3(*, torque_per_screw_nm: Values, centre_distance_mm: Values) -> Values:
    """Torque of one shaft over the cube of the centre distance: how hard a gearbox of this size is rated."""
    return ratio(torque_per_screw_nm, np.power(centre_distance_mm / 10, 3))


def _wipe_angle_rad(outer_mm: Values, root_mm: Values) -> Values:
    """Half the angle over which one screw wipes the other."""
    return np.arccos(centre_distance_mm(outer_mm=outer_mm, root_mm=root_mm) / outer_mm)
