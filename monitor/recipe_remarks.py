"""What a practitioner would say on reading a recipe beside its line: remarks, never limits, never findings."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from monitor.line import Line
from monitor.materials import CAUTIONS, Material, MaterialError, material, must_never_meet
from monitor.recipe import Recipe

BARREL_OVER_MELTING_C = 50.0
"""A barrel is usually set some 50 C over the crystalline melting point; common practice, no source."""

LEAST_OVER_C, MOST_OVER_C = 15.0, 110.0
"""Outside this the set-points are worth a second look; common practice, no source."""

COUPLE_TOLERANCE_C = 2.5
"""Class 2 thermocouples of types J and K may be off by 2.5 C (IEC 60584-1:2013, below 333 C)."""

MELT_ZONES = ("barrel", "adapter", "screen", "die")


def recipe_remarks(line: Line, recipe: Recipe) -> tuple[str, ...]:
    """Sentences, the weightiest first. Parts of the recipe that this line cannot use are named too."""
    return (*_materials_together(recipe), *_temperatures(line, recipe), *_windows(recipe), *_unused(line, recipe))


def _known(recipe: Recipe) -> list[Material]:
    known = []
    for code in recipe.recipe.materials:
        try:
            known.append(material(code))
        except MaterialError:
            continue
    return known


def _materials_together(recipe: Recipe) -> Iterator[str]:
    codes = [item.code for item in _known(recipe)]
    if any(must_never_meet(first, second) for first, second in itertools.combinations(codes, 2)):
        yield CAUTIONS["never_with_pom"]


def _temperatures(line: Line, recipe: Recipe) -> Iterator[str]:
    known = _known(recipe)
    base = known[0] if known else None
    melting = recipe.recipe.melting_point_c or (base.transition_c.high if base and base.kind == "crystalline" else None)
    ceiling = recipe.recipe.ceiling_c or (base.ceiling_c if base else None)
    hot = [
        (zone.name, recipe.zones[zone.name])
        for zone in line.zone
        if zone.kind in MELT_ZONES and zone.name in recipe.zones
    ]
    late = hot[len(hot) // 2 :]
    if melting is not None and late:
        low = [f"{name} {wanted:g}" for name, wanted in late if wanted < melting + LEAST_OVER_C]
        if low:
            yield (
                f"set less than {LEAST_OVER_C:g} C over the melting point of {melting:g} C: {', '.join(low)} C; "
                "melt may set in there"
            )
        mean = sum(wanted for _, wanted in late) / len(late)
        if mean > melting + MOST_OVER_C:
            yield (
                f"the zones toward the die are set to {mean:.0f} C on average, {mean - melting:.0f} C over the melting "
                f"point; usual are some {BARREL_OVER_MELTING_C:g} C"
            )
        if ceiling is not None and melting + BARREL_OVER_MELTING_C > ceiling:
            yield (
                f"the usual {BARREL_OVER_MELTING_C:g} C over the melting point would pass the ceiling of "
                f"{ceiling:g} C; this material is run nearer its melting point"
            )
    if ceiling is not None:
        over = [
            f"{window.key} {edge:g}"
            for window in recipe.window
            if window.role in ("zone_temperature", "melt_temperature")
            and (edge := window.high_outer or window.high) is not None
            and edge > ceiling
        ]
        if over:
            yield (
                f"windows reach above the ceiling of {ceiling:g} C ({', '.join(over)}): the ceiling is judged all the "
                "same"
            )


def _windows(recipe: Recipe) -> Iterator[str]:
    narrow = [
        window.at
        for window in recipe.window
        if window.role == "zone_temperature"
        and window.low is not None
        and window.high is not None
        and window.high - window.low < 2 * COUPLE_TOLERANCE_C
    ]
    if narrow:
        yield (
            f"temperature windows narrower than a thermocouple's own tolerance of {COUPLE_TOLERANCE_C:g} C either way: "
            f"{', '.join(narrow)}"
        )


def _unused(line: Line, recipe: Recipe) -> Iterator[str]:
    channels = set(line.channels)
    lost = [window.key for window in recipe.window if window.key not in channels]
    if lost:
        yield f"windows on what this line does not log, not judged: {', '.join(lost)}"
    zones = [name for name in recipe.zones if name not in line.zone_names]
    if zones:
        yield f"zones this line does not have: {', '.join(zones)}; it has {', '.join(line.zone_names) or 'none'}"
    unset = [zone.name for zone in line.zone if zone.kind in MELT_ZONES and zone.name not in recipe.zones]
    if recipe.zones and unset:
        yield f"no temperature wanted for {', '.join(unset)}"
    feeders = {feeder.name for feeder in line.feeder}
    strange = [name for name in recipe.shares if name not in feeders]
    if strange:
        have = ", ".join(sorted(feeders)) or "none"
        yield f"shares of feeders this line does not have: {', '.join(strange)}; it has {have}"
