"""How full the screws run and how long the melt stays: rate, speed, free volume and density.

A starve-fed screw is partly filled: its feeders set the rate and its speed only the fill. Rate over speed
is the natural number for fill. Factor and forms are common practice for two-lobed screws.
"""

from __future__ import annotations

from monitor.physics.values import Values, ratio

CONVEYED_SHARE_TWO_LOBED = 0.5
"""Share of its free volume that a two-lobed conveying element moves one lead a turn, about half."""


def specific_throughput_kg_h_rpm(*, rate_kg_h: Values, speed_rpm: Values) -> Values:
    """Rate over screw speed; NaN at standstill."""
    return ratio(rate_kg_h, speed_rpm)


def swept_volume_l_turn(*, free_area_mm2: Values, lead_mm: Values) -> Values:
    """Free volume over one lead, which a full element would displace in a turn if nothing slipped."""
    return free_area_mm2 * lead_mm / 1e6


def full_rate_kg_h(
    *,
    speed_rpm: Values,
    swept_volume_l_turn: Values,
    density_kg_m3: Values,
    conveyed_share: Values = CONVEYED_SHARE_TWO_LOBED,
) -> Values:
    """Rate at which a conveying element is full.

    density_kg_m3: bulk density at the intake, melt density further down.
    """
    kg_turn = swept_volume_l_turn / 1000 * conveyed_share * density_kg_m3
    return kg_turn * speed_rpm * 60


def degree_of_fill(
    *,
    rate_kg_h: Values,
    speed_rpm: Values,
    swept_volume_l_turn: Values,
    density_kg_m3: Values,
    conveyed_share: Values = CONVEYED_SHARE_TWO_LOBED,
) -> Values:
    """Filled share of a conveying element, 0 to 1.

    Above about 0.9 at the throat the screw is feed-limited; above 1 it can't take the feed, which backs up.
    """
    full = full_rate_kg_h(
        speed_rpm=speed_rpm,
        swept_volume_l_turn=swept_volume_l_turn,
        density_kg_m3=density_kg_m3,
        conveyed_share=conveyed_share,
    )
    return ratio(rate_kg_h, full)


def mean_residence_s(*, rate_kg_h: Values, volume_l: Values, melt_density_kg_m3: Values, fill: Values = 1.0) -> Values:
    """Time the melt needs, on average, through a volume filled to `fill`.

    With `fill` 1 it is the plug-flow delay of what is always full: adapter, screen changer, die.
    """
    return ratio(filled_kg(volume_l=volume_l, melt_density_kg_m3=melt_density_kg_m3, fill=fill), rate_kg_h / 3600)


def filled_kg(*, volume_l: Values, melt_density_kg_m3: Values, fill: Values = 1.0) -> Values:
    """Melt in a volume filled to `fill`: the kilograms that must pass before what goes in comes out."""
    return fill * volume_l / 1000 * melt_density_kg_m3
