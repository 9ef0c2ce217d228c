"""Why the melt may be too hot or too cold."""

from __future__ import annotations

from monitor.records import Cause

MORE_WORK = ("shear_overheating", "viscous_lot", "restricted", "flooded", "die_plugging")
"""Findings that bear witness for more work in the melt."""

THINNER = ("moisture", "wrong_material", "material_changed")
LESS_LOAD = 0.04
"""A load less by this much at the same speed is none of its scatter. Common practice, no source."""

FAR_MELT_C, SAME_LOAD_SHARE, ANSWERED_SHARE = 8.0, 0.03, 0.05
"""1 to 3 % of viscosity a C: at 8 C a load that stays within 3 % has not seen it, and a pressure that moved by 5 % the
other way has (value from memory). What heats the melt behind the screws moves the pressure alone."""


def load_words(facts: dict[str, float], side: int) -> tuple[str, ...]:
    """What load and speed say for more (+1) or less (-1) shear heat."""
    said = []
    for name, what, least in (("speed_off", "screw speed", 0.02), ("load_off", "load", 0.04)):
        if side * facts[name] >= least:
            said.append(f"{what} is {100 * abs(facts[name]):.0f} % {'above' if side > 0 else 'below'} usual")
    return tuple(said)


def hot(facts: dict[str, float]) -> tuple[Cause, ...]:
    """Causes of melt too hot, likeliest first."""
    work = Cause("more work by the screw: speed up, rate down or a stiffer lot", load_words(facts, 1), (), MORE_WORK)
    zones = Cause("zones hotter than set", (), (), ("zone_over_temperature", "thermocouple_loose"))
    return _with_probe(facts, 1, (work, zones))


def cold(facts: dict[str, float]) -> tuple[Cause, ...]:
    """Causes of melt too cold, likeliest first."""
    less = Cause("less shear: speed down or rate up", load_words(facts, -1))
    if facts["load_off"] <= -LESS_LOAD and abs(facts["speed_off"]) <= SAME_LOAD_SHARE:
        # At the same speed less load and a colder melt are one: less feed would have made it hotter.
        seen = (*load_words(facts, -1), "screw speed is as usual")
        less = Cause("thinner melt: it heats itself less (lot, water, lubricant)", seen, (), THINNER)
    zones = Cause("zones colder than set", (), (), ("zone_under_temperature", "heater_dead", "setpoint_not_recipe"))
    return _with_probe(facts, -1, (less, zones))


def _with_probe(facts: dict[str, float], side: int, causes: tuple[Cause, ...]) -> tuple[Cause, ...]:
    """A melt far hotter or colder is as much thinner or thicker: a load that does not answer accuses the probe."""
    far = side * (facts["value"] - facts["target"]) >= FAR_MELT_C
    still = abs(facts["load_off"]) <= SAME_LOAD_SHARE and not abs(facts["speed_off"]) > SAME_LOAD_SHARE
    moved = side * facts["pressure_off"] <= -ANSWERED_SHARE
    unmoved = ("load and speed are as usual: melt so far off would have moved the load",) if far and still else ()
    way, melt = ("below", "thinner") if side > 0 else ("above", "thicker")
    share = 100 * abs(facts["pressure_off"])
    answered = (f"melt pressure is {share:.0f} % {way} usual: the melt is {melt}",) if moved else ()
    unmoved = () if moved else unmoved
    probe = Cause("probe reads wrong" if side > 0 else "probe reads low", unmoved, answered)
    return (probe, *causes) if unmoved else (*causes, probe)
