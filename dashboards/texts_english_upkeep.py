"""English texts of the upkeep page."""

from __future__ import annotations

UPKEEP: dict[str, str] = {
    "upkeep.title": "Upkeep",
    "upkeep.none": "Nothing is logged yet.",
    "upkeep.none_next": "Bring a log of a line.",
    "upkeep.all_lines": "All lines",
    "upkeep.contents.parts": "What asks for a look",
    "upkeep.contents.evidence": "Evidence of the chosen part",
    "upkeep.contents.checks": "What can be checked",
    "upkeep.contents.repair": "Repaired, or out of service",
    "upkeep.contents.usual": "Parts as usual",
    "upkeep.order_of": "In which order, and from when the figures are",
    "upkeep.back_to_list": "back to the list of parts",
    "upkeep.order": (
        "First what is so now, and of that what will stop a line first: open findings by how pressing they are, a "
        "trend that meets its limit within the hour or the shift among them, then sensors in doubt and what is "
        "farthest from its own usual. Then what was found of a part that only a running line or its next stop can tell "
        "of, what is due though nothing failed, and what began and ended within a day; last what stood where a "
        "finished log ends. Figures are means of five minutes, what is usual of all before the last half hour in which "
        "no finding told of the part."
    ),
    "upkeep.kind.zone": "zone {subject}",
    "upkeep.kind.feeder": "feeder {subject}",
    "upkeep.kind.pressure": "pressure {subject}",
    "upkeep.kind.drive": "drive and screw {subject}",
    "upkeep.kind.sensor": "pressure sensor {subject}",
    "upkeep.kind.couple": "couple of {subject}",
    "upkeep.kind.cooling": "cooling of {subject}",
    "upkeep.kind.screen": "screen, pressure {subject}",
    "upkeep.kind.die": "die, pressure {subject}",
    "upkeep.kind.vent": "vent {subject}",
    "upkeep.kind.pump": "melt pump {subject}",
    "upkeep.kind.gearbox": "gearbox {subject}",
    "upkeep.kind.link": "controller or logger, {subject}",
    "upkeep.cooling.water": "cooling water",
    "upkeep.cooling.throat": "cooling of the feed throat",
    "upkeep.supply": "heating supply",
    "upkeep.screen_or_die": "screen or die, pressure {subject}",
    "upkeep.heats": "heats {percent} %",
    "upkeep.cools": "cools {percent} %",
    "upkeep.usually": "usually {low} to {high}",
    "upkeep.usually_one": "usually {value}",
    "upkeep.off_set": "{off} {u_c} from its set-point",
    "upkeep.of_limit": "limit {limit} %",
    "upkeep.nothing": "no recent reading",
    "upkeep.feeder_stands": "stands, nothing is fed",
    "upkeep.on_rate": "on its set rate",
    "upkeep.off_rate": "{percent} % from its set rate",
    "upkeep.drive": "drive {drive} of {limit} %",
    "upkeep.factor": "rate per drive {percent} % from usual",
    "upkeep.machine_limit": "machine limit {limit} {u_bar}",
    "upkeep.rises": "rises {rate} {u_bar} an hour",
    "upkeep.falls": "falls {rate} {u_bar} an hour",
    "upkeep.level": "level",
    "upkeep.hours_high": "above 90 % of its limit: {hours} h",
    "upkeep.never_high": "never above 90 % of its limit for a minute",
    "upkeep.check_couple": "its couple stood {off} {u_c} off the others on the cold machine, {at}",
    "upkeep.check_zero": "read {off} {u_bar} at the end of the last stop, {at}: zero drift, or trapped melt",
    "upkeep.none_now": "Nothing asks for a look now on a line that is watched live.",
    "upkeep.none_found": "No finding of a line that is watched live asks for a look now; the readings named above do.",
    "upkeep.out.title": "Outside their windows now on {line}:",
    "upkeep.out.live": "to its live page",
    "upkeep.out.over": " over, {value}, limit {limit}",
    "upkeep.out.under": " under, {value}, limit {limit}",
    "upkeep.out.since": ", since {at}",
    "upkeep.out.just": ", just now",
    "upkeep.out.more": "and {count} more",
    "upkeep.group.now": "So now",
    "upkeep.group.stood": "As last seen: only a running line, or its next stop, can tell whether it is still so",
    "upkeep.group.due": "Due",
    "upkeep.group.back": "No longer so, the finding still open",
    "upkeep.group.gone": "Not now: began and ended within a day",
    "upkeep.group.ended": "Where a finished log ended",
    "upkeep.group.ended_count": "Where a finished log ended: {count} parts",
    "upkeep.due.screen": "Due: {kg} through this screen; the screens before it were changed at {usual}.",
    "upkeep.due.wear": "Due for a look: a sign of wear over its runs ({signs}).",
    "upkeep.state.now": "So now, since {since}, {time}.",
    "upkeep.state.stood": "Found at {since}; the line stands, so nothing tells whether it is still so.",
    "upkeep.state.back": "No longer so since {at}; open since {since}, closes when it has stayed so.",
    "upkeep.state.back_too": "Its finding, open since {since}, is no longer so since {at}.",
    "upkeep.state.at_end": "Was so until its log ended, {end}; since {since}, {time}.",
    "upkeep.state.before_one": "Once before within a day it began and ended.",
    "upkeep.state.before": "{count} times before within a day it began and ended.",
    "upkeep.state.check": "Seen at the stop that ended {at}; only another stop can tell whether it is still so.",
    "upkeep.state.trend": "So now, by its trend of the last hours.",
    "upkeep.state.trend_at_end": "Its trend when its log ended, {at}.",
    "upkeep.state.strain": "So now: near its limit or far from its usual.",
    "upkeep.state.strain_at_end": "Near its limit or far from its usual when its log ended, {at}.",
    "upkeep.state.gone_once": "Not now: was so {when}.",
    "upkeep.state.gone_many": "Not now: began and ended {count} times within a day, the last {when}.",
    "upkeep.state.gone_once_at_end": "Not when its log ended, {end}: was so {when}.",
    "upkeep.state.gone_many_at_end": (
        "Not when its log ended, {end}: began and ended {count} times in the day before, the last {when}."
    ),
    "upkeep.worst": "the most pressing, {when}: {summary}",
    "upkeep.lately": "last 5 min: {words}",
    "upkeep.lately_at_end": "last 5 min of its log: {words}",
    "upkeep.as_usual": "As usual: {count} parts",
    "upkeep.stood": "{line} as it stood at {at}. Touch a part to see its evidence.",
    "upkeep.repair_head": "Repaired {at}, says {who}.",
    "upkeep.effect": "{figure}: {verdict}. {figures}",
    "upkeep.effect_figures": "Before the finding {before}, during it {during}, since the repair {after}.",
    "upkeep.figure.reading": "Reading",
    "upkeep.figure.heat output": "Heat output",
    "upkeep.figure.off set": "Distance from set-point",
    "upkeep.figure.feed factor": "Rate for each percent of drive",
    "upkeep.figure.spread": "Spread within ten minutes",
    "upkeep.verdict.back": "back where it was",
    "upkeep.verdict.better": "better, not back",
    "upkeep.verdict.no change": "no change",
    "upkeep.verdict.worse": "worse than before the repair",
    "upkeep.verdict.past": "past where it was, to the other side",
    "upkeep.verdict.never moved": "had hardly moved, so it cannot tell",
    "upkeep.verdict.too early": "too early, under half an hour of steady running since",
    "upkeep.verdict.nothing before": "too little steady running before to compare with",
    "upkeep.weeks": "Day by day",
    "upkeep.daily": "{name}, daily median in steady running",
    "upkeep.daily_at": "{name}, daily median in steady running at a set-point of {at}",
    "upkeep.daily_factor": "rate for each percent of drive, daily median",
    "upkeep.daily_spread": "spread of the rate within ten minutes, daily median",
    "upkeep.refills": "Refills",
    "upkeep.refilled": "Refilled {count} times in the last day, the longest took {longest}.",
    "upkeep.refilled_before": "In the days before: {count} a day, the longest {longest}.",
    "upkeep.screens": "Screens",
    "upkeep.no_change": "No step down of the pressure in what is logged of the last fortnight.",
    "upkeep.last_change": "The pressure last stepped down {at}, {time} ago{carried}.",
    "upkeep.last_change_at_end": "The pressure last stepped down {at}, {time} before its log ended{carried}.",
    "upkeep.screen_kg": ", {kg} since",
    "upkeep.screens_before": "The screens before it carried {kg}.",
    "upkeep.load": "Load in the last {days}",
    "upkeep.turned": "screws turned {hours} h",
    "upkeep.trips": "stopped under load: {count}",
    "upkeep.cold_starts": "cold starts: {count}",
    "upkeep.metal": "torque spikes as of something hard: {count}",
    "upkeep.wear": "Wear over runs",
    "upkeep.wear_how": (
        "Medians of each lot's steady running, compared where material and fill, or pressure and melt temperature, "
        "were alike; 95 % interval."
    ),
    "upkeep.wear.output per turn": "Output per turn",
    "upkeep.wear.melt temperature": "Melt temperature",
    "upkeep.wear.specific energy": "Work per kilogram",
    "upkeep.wear_few": "{sign}: too few runs yet, {runs} of {of} can be compared and {least} are needed.",
    "upkeep.wear_told": (
        "{sign} {change} {unit} over {runs} of {of} runs ({low} to {high}), {per} {unit} in 1000 h of turning: "
        "{verdict}."
    ),
    "upkeep.wear_told_exact": (
        "{sign} {change} {unit} over {runs} of {of} runs, {per} {unit} in 1000 h of turning: {verdict}."
    ),
    "upkeep.wear_certain": "a sign of wear",
    "upkeep.wear_open": "no sure change",
    "upkeep.stop": "Meets its limit in {time}, {at}, if it goes on so ({low} to {high}).",
    "upkeep.left": "limit in {time}",
    "upkeep.left_reached": "limit reached",
    "upkeep.stop_reached": "The limit that was forecast should be reached by now.",
    "upkeep.left_now": "now",
    "upkeep.left_ended": "when the log ended",
    "upkeep.left_unknown": "no time to a limit known",
    "upkeep.much_later": "much later",
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
    "upkeep.running.couple": (
        "Neighbours' outputs at the same time; the controller's own display; a hand-held probe on the zone's wall; "
        "cable and plug from outside."
    ),
    "upkeep.stopped.couple": (
        "The couple out of its bore, in ice or boiling water; its seat and spring; its type against the input; all "
        "couples after a cold weekend: they should read the hall."
    ),
    "upkeep.running.cooling": "Supply and return temperature by hand or gauge; strainer; the valve's pulse by ear.",
    "upkeep.stopped.cooling": "Valve seat and coil; flow through each zone; scale in bores and hoses.",
    "upkeep.running.screen": (
        "Pressures before and behind the screen against each other; melt temperature and rate at the same time; "
        "kilograms since its change; change it if the changer works in run."
    ),
    "upkeep.stopped.screen": "Screen and breaker plate; seals of the changer; what the old screen holds.",
    "upkeep.running.die": "Pressure against rate and melt temperature; strands or pellets: thick, thin, missing.",
    "upkeep.stopped.die": "Holes and land; die heaters. A frozen die holds real pressure.",
    "upkeep.running.pressure": "Melt temperature and rate at the same time; the other pressures beside it.",
    "upkeep.stopped.pressure": "Sensor zero while hot and open; its bore for a plug.",
    "upkeep.running.sensor": "The other pressures at the same time; cable and plug from outside.",
    "upkeep.stopped.sensor": (
        "Zero while hot and open; bore and diaphragm. A closed valve or a frozen die holds real pressure."
    ),
    "upkeep.running.vent": "Gauge against set-point; seal water, condensate pot, filter; the sight glass from outside.",
    "upkeep.stopped.vent": "Dome, seal and line for melt and condensate; pump.",
    "upkeep.running.pump": "Suction and discharge pressure against speed; load; kilograms against turns.",
    "upkeep.stopped.pump": "Gears, bearings and seals to the maker's wear limits.",
    "upkeep.running.gearbox": "Oil level, temperature, pressure and filter drop at the same load; oil sample; noise.",
    "upkeep.stopped.gearbox": "Oil filter and cooler; magnet and what is on it; backlash to the maker's limits.",
    "upkeep.running.drive": "Torque at the same rate, speed and zones as before; noise of barrel and thrust bearing.",
    "upkeep.stopped.drive": "Coupling and torque limiter; screw pulled and gauged; barrel bore measured.",
    "upkeep.running.link": "The controller's own display against what is logged; network and logger.",
    "upkeep.stopped.link": "Plugs, cards and supply of the controller; never switched off while it holds the line.",
    "upkeep.caution.zone": (
        "Heater bands carry mains voltage: qualified staff only, isolated and locked out. A heater stuck "
        "on is not cured by a lower set-point. A couple that reads low makes its zone overheat."
    ),
    "upkeep.caution.couple": (
        "A couple that reads low makes its zone overheat. Heaters beside it carry mains voltage: qualified staff only, "
        "isolated and locked out."
    ),
    "upkeep.caution.cooling": (
        "Water on a hot zone flashes to steam: stand aside of its outlets. Open no hose or coil that may hold pressure."
    ),
    "upkeep.caution.feeder": (
        "Feeder screws and agitators start by themselves. No hands, no metal rods; isolate and lock out first."
    ),
    "upkeep.caution.screen": (
        "A sensor at zero does not mean no pressure. Never loosen a sensor, bolt or screen changer that "
        "may hold melt under pressure; stand aside; follow the maker's manual."
    ),
    "upkeep.caution.die": (
        "A sensor at zero does not mean no pressure. Never loosen a sensor, bolt or screen changer that "
        "may hold melt under pressure; stand aside; follow the maker's manual."
    ),
    "upkeep.caution.pressure": (
        "A sensor at zero does not mean no pressure. Never loosen a sensor, bolt or screen changer that "
        "may hold melt under pressure; stand aside; follow the maker's manual."
    ),
    "upkeep.caution.sensor": (
        "A sensor at zero does not mean no pressure. Never loosen a sensor, bolt or screen changer that "
        "may hold melt under pressure; stand aside; follow the maker's manual."
    ),
    "upkeep.caution.vent": "Melt and hot vapour can come out of an open vent: stand aside, gloves and face shield.",
    "upkeep.caution.pump": "A pump without melt wears in minutes. Isolate and lock out; melt stays under pressure.",
    "upkeep.caution.gearbox": "Hot oil; isolate and lock out before any cover is opened.",
    "upkeep.caution.drive": "Isolate and lock out before any guard is opened; screws can turn from stored load.",
    "upkeep.caution.link": "What is not logged is not watched: count on no finding about these readings meanwhile.",
    "upkeep.repair_about": ("Did you repair it? Then before and after can be compared."),
    "upkeep.out_about": (
        "While you work on it, its finding can be taken out of service: off the supervisor's list, but still counted "
        "and named."
    ),
    "upkeep.repair_text": "What was done or found",
    "upkeep.out_count": "Out of service: {count}",
    "upkeep.repaired": "It is repaired",
}
