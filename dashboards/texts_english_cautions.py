"""English cautions, in our own words. They defer to the maker's manual, site procedure and local codes."""

from __future__ import annotations

CAUTIONS: dict[str, str] = {
    "caution.word": "Caution.",
    "caution.short": (
        "Evenmelt watches and explains; it protects nobody. It is not a safety function and carries no "
        "safety integrity level. It can be late, wrong or silent, and it sends nothing to the machine. "
        "It never replaces burst discs, pressure and temperature cut-outs, guards, interlocks, emergency "
        "stops, lock-out or trained people. The maker's manual, site procedure and local codes come "
        "first."
    ),
    "caution.all": "Cautions at the machine",
    "caution.1": "No finding does not mean safe: sensors fail, logs stall, networks drop.",
    "caution.2": "Never wire what Evenmelt says to start, stop, bypass or reset anything.",
    "caution.3": (
        "Hot melt can burst from die, vent, flanges or screen changer. Stand aside, never in line with "
        "die, burst disc or head bolts, above all at heat-up and start."
    ),
    "caution.4": (
        "A burst disc or pressure trip that opened had a cause. Find it; fit the same rating; never plug it."
    ),
    "caution.5": (
        "Cold start: frozen melt in a hot barrel traps gas and builds pressure. Heat die and head "
        "through, soak, then turn slowly and watch pressure and torque."
    ),
    "caution.6": (
        "Melt sticks and goes on burning; barrel, die and purgings stay hot. Gloves, face shield, long sleeves."
    ),
    "caution.7": (
        "Vents and vacuum ports: face away, full shield, no hands and no metal tools; the screws turn below."
    ),
    "caution.8": (
        "Feed throat: no hands, no metal rods. Clear a bridge with the drive locked off, or with a soft rod."
    ),
    "caution.9": (
        "Over-heated polymer gives off harmful gas. Past its ceiling: stop feeding, lower heat, keep the "
        "screw emptying, ventilate, keep people out. PVC and POM never in the same equipment."
    ),
    "caution.10": (
        "Melt held hot degrades. Keep to the site's hold limits; purge in thin flat pieces, into water, ventilated."
    ),
    "caution.11": (
        "Heater bands carry mains voltage: hints about them are for qualified staff under lock-out. A "
        "heater stuck on is not cured by a lower set-point; isolate its supply."
    ),
    "caution.12": "Powders: dust and static can ignite. Follow the plant's explosion-protection rules.",
}
