"""English texts of the pages about lots."""

from __future__ import annotations

LOTS: dict[str, str] = {
    "lots.title": "Lots",
    "lots.find": "Number, product, finding",
    "lots.from": "From day",
    "lots.to": "To day",
    "lots.find_hint": "4417, talc, vacuum",
    "lots.from_hint": "2026-03-01",
    "lots.to_hint": "2026-03-31",
    "lots.none": "No lot fits.",
    "lots.lot": "Lot",
    "lots.line": "Line",
    "lots.product": "Product",
    "lots.began": "Began",
    "lots.lasted": "Lasted",
    "lots.findings": "Findings",
    "lots.no_findings": "none",
    "lots.running": ", running",
    "lots.count": "{count}, worst: {worst}",
    "lot.title": "Lot {lot} on {line}",
    "lot.title_none": "The whole log of {line}",
    "lot.unknown": "No lot {lot} on {line}",
    "lot.to_list": "To all lots",
    "lot.running": "still running",
    "lot.touched": "{kg} kg touched",
    "lot.untouched": "Nothing touched",
    "lot.unknown_kg": "Kilograms not known",
    "lot.touched_of": "of {total} kg fed ({percent} %), in {count} stretches at the die.",
    "lot.touched_of_one": "of {total} kg fed ({percent} %), in one stretch at the die.",
    "lot.untouched_of": "{total} kg fed, no finding that counts for product.",
    "lot.unknown_kg_why": "This line logs no rate, so findings are given as times only.",
    "lot.blind": "For {time} of steady running at least one reading with a window was not watched.",
    "lot.all_watched": "All readings with a window were watched throughout steady running.",
    "lot.drag": "The whole lot. Drag across the map or the chart to look closer.",
    "lot.stretch": "Only {interval}; all that follows is about this stretch.",
    "lot.whole": "Show the whole lot",
    "lot.no_findings": "None in this stretch.",
    "composition.title": "Composition",
    "composition.none": "Feeder rates are not logged, so shares are not known.",
    "composition.ingredient": "Ingredient",
    "composition.recipe": "Recipe %",
    "composition.delivered": "Delivered %",
    "composition.difference": "Difference",
    "composition.lowest": "Lowest 5 min",
    "composition.highest": "Highest 5 min",
    "composition.kg": "kg",
    "composition.at": "{share} at {at}",
    "composition.how": (
        "As the feeders report it, at the feeders; weighted by kilograms. A scale that lies is not seen "
        "here but in its finding."
    ),
    "touched.title": "Product touched",
    "touched.none": "No finding of priority 1 to 3 that counts for product.",
    "touched.finding": "Finding",
    "touched.priority": "Priority",
    "touched.interval": "At the die",
    "touched.kg": "kg",
    "touched.span": "stretch, counted once",
    "touched.sum": "Sum of stretches",
    "touched.how": (
        "From 0.4 mean residence times after it began to 4 after it ended, plus the full volume behind "
        "the screw. Residence time {residence} s ({known}), volume {volume} l of {density} kg/m³, "
        "{seconds} s. Water bath, conveying and silo are not in it; sensor findings and notes do not "
        "count."
    ),
    "touched.residence_known": "of this run",
    "touched.residence_start": "a plain start, not known for this line",
    "container.title": "Containers",
    "container.number": "Container",
    "container.filled": "Filled",
    "container.kg": "kg fed",
    "container.touched": "kg touched",
    "container.word": "Word",
    "container.hold": "■ hold",
    "container.check": "□ check",
    "container.clear": "no finding touches it",
    "container.how": (
        "Hold: touched by priority 1 or 2. Check: by priority 3. Supposes pellets are packed as they "
        "leave the die."
    ),
    "watch.title": "Not watched",
    "watch.of": "Windows were judged for {judged} of {total}.",
    "watch.phases": "Not judged while {phases}.",
    "watch.no reading": "{title}: no reading for {time}, first at {at}",
    "watch.volumetric": (
        "{title}: volumetric for {time}, first at {at}; its reported rate is not a weighed one"
    ),
    "watch.many": "{count} channels together",
    "account.title": "Reading account",
    "account.none": "Nothing is noted about how the log was read.",
    "account.what": "What",
    "account.count": "Count",
}
