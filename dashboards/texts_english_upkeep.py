"""English texts of the upkeep page."""

from __future__ import annotations

UPKEEP: dict[str, str] = {
    "upkeep.title": "Upkeep",
    "upkeep.none": "Nothing is logged yet.",
    "upkeep.all_lines": "All lines",
    "upkeep.order": (
        "What will stop a line first stands first: open findings, then what failed within a day and came "
        "back, then what a trend carries to its limit, then what is farthest from its own usual. Figures "
        "are means of the last half hour."
    ),
    "upkeep.kind.zone": "zone {subject}",
    "upkeep.kind.feeder": "feeder {subject}",
    "upkeep.kind.pressure": "pressure {subject}",
    "upkeep.kind.drive": "drive {subject}",
    "upkeep.kind.sensor": "sensor {subject}",
    "upkeep.heats": "heats {percent} %",
    "upkeep.cools": "cools {percent} %",
    "upkeep.usually": "usually {low} to {high}",
    "upkeep.usually_one": "usually {value}",
    "upkeep.off_set": "{off} {u_c} from its set-point",
    "upkeep.of_limit": "limit {limit} %",
    "upkeep.nothing": "no recent reading",
    "upkeep.on_rate": "on its set rate",
    "upkeep.off_rate": "{percent} % from its set rate",
    "upkeep.drive": "drive {drive} of {limit} %",
    "upkeep.factor": "rate per drive {percent} % from usual",
    "upkeep.machine_limit": "machine limit {limit} {u_bar}",
    "upkeep.rises": "rises {rate} {u_bar} an hour",
    "upkeep.falls": "falls {rate} {u_bar} an hour",
    "upkeep.level": "level",
    "upkeep.hours_high": "{hours} h above 90 % of its limit in the last fortnight",
    "upkeep.never_high": "never above 90 % of its limit in the last fortnight",
    "upkeep.check_couple": "its couple stood {off} {u_c} off the others on the cold machine, {at}",
    "upkeep.check_zero": "read {off} {u_bar} at the end of the last stop, {at}: zero drift, or trapped melt",
    "upkeep.gone": "came and went, {when}: {summary}",
    "upkeep.gone_often": "came and went {count} times in a day, longest {when}: {summary}",
    "upkeep.as_usual": "As usual: {count} parts",
    "upkeep.stood": "{line} as it stood at {at}. Touch a part to see its evidence.",
    "upkeep.before_after": "Repaired {at}: before {before}, after {after} in steady running.",
    "upkeep.before_only": "Repaired {at}: before {before}; no steady running since.",
    "upkeep.stop": "Meets its limit in {time} if it goes on so ({low} to {high}).",
    "upkeep.stop_short": "limit in {time}",
    "upkeep.much_later": "much later",
    "upkeep.since": "since {at}, {time}",
    "upkeep.usual_band": "usual",
    "upkeep.limit_mark": "limit {limit}",
    "upkeep.repaired_mark": "repaired",
    "upkeep.running": "Can be checked running",
    "upkeep.stopped": "Needs the stop",
    "upkeep.running.zone": (
        "Output against temperature in the chart; neighbours' outputs; heater current if it is logged; "
        "cooling valve and flow by hand and ear; the couple's plug and cable from outside."
    ),
    "upkeep.stopped.zone": (
        "Band resistance one by one; contactor; the couple out of its bore and in ice or boiling water; "
        "all couples after a cold weekend: they should read the hall."
    ),
    "upkeep.running.feeder": (
        "Weight curve over a refill; agitator, vent sock and flexible joints; a catch sample against the "
        "reported rate; refill valve tight."
    ),
    "upkeep.stopped.feeder": (
        "Screw and tube for wear and build-up; scale with a test weight, free of touching; drive and coupling."
    ),
    "upkeep.running.pressure": (
        "Sensors before and behind the screen against each other; melt temperature and rate at the same "
        "time; change the screen if the changer works in run."
    ),
    "upkeep.stopped.pressure": (
        "Screen and die; sensor zero while hot and open; its bore for a plug. A closed valve or a frozen "
        "die holds real pressure."
    ),
    "upkeep.running.drive": (
        "Torque at the same rate, speed and zones as before; gearbox oil temperature and pressure; noise."
    ),
    "upkeep.stopped.drive": ("Coupling and torque limiter; screw pulled and gauged; oil filter and oil sample."),
    "upkeep.running.sensor": "Its neighbours at the same time; cable and plug from outside.",
    "upkeep.stopped.sensor": "The sensor against a reference; its bore.",
    "upkeep.caution.zone": (
        "Heater bands carry mains voltage: qualified staff only, isolated and locked out. A heater stuck "
        "on is not cured by a lower set-point. A couple that reads low makes its zone overheat."
    ),
    "upkeep.caution.feeder": (
        "Feeder screws and agitators start by themselves. No hands, no metal rods; isolate and lock out first."
    ),
    "upkeep.caution.pressure": (
        "A sensor at zero does not mean no pressure. Never loosen a sensor, bolt or screen changer that "
        "may hold melt under pressure; stand aside; follow the maker's manual."
    ),
    "upkeep.caution.drive": ("Isolate and lock out before any guard is opened; screws can turn from stored load."),
    "upkeep.caution.sensor": "The sensor may stand in hot melt under pressure; follow the maker's manual.",
    "upkeep.repair_about": "Did you repair it? Then before and after can be compared:",
    "upkeep.repair_text": "What was done",
    "upkeep.repaired": "It is repaired",
}
