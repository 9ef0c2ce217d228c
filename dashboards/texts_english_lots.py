"""English texts of the pages about lots."""

from __future__ import annotations

LOTS: dict[str, str] = {
    "lots.title": "Lots",
    "lots.beside": "Compare",
    "lots.choose": "lay lot {lot} beside others",
    "lots.unchoose": "leave lot {lot} out",
    "lots.chosen": "{count} chosen.",
    "lots.lay": "Lay them over each other",
    "lots.find": "Number, product, finding, raw lot",
    "lots.from": "From day",
    "lots.to": "To day",
    "lots.find_hint": "for example 4417, talc",
    "lots.from_hint": "for example 2026-03-01",
    "lots.to_hint": "for example 2026-03-31",
    "lots.none": "No lot fits.",
    "lots.lot": "Lot",
    "lots.touched": "Touched",
    "lots.untouched": "nothing",
    "lots.containers": "Containers",
    "lots.status": "{status}: {count}",
    "lots.all_after": "all after {number}",
    "lots.no_containers": "none written down",
    "lots.in_none": "in none of them",
    "lots.line": "Line",
    "lots.product": "Product",
    "lots.began": "Began",
    "lots.lasted": "Lasted",
    "lots.over_time": "Over and under its windows",
    "lots.findings": "Findings",
    "lots.no_findings": "none",
    "lots.not_judged": "never judged",
    "lots.running": ", running",
    "lots.count": "{count}, worst: {worst}",
    "lot.title": "Lot {lot} on {line}",
    "lot.title_none": "The whole log of {line}",
    "lot.unknown": "No lot {lot} on {line}",
    "lot.to_list": "To all lots",
    "lot.running": "still running",
    "lot.part": "PART OF LOT: {what}",
    "lot.touched": "{kg} {u_kg} touched",
    "lot.at_least": "at least {kg}",
    "lot.untouched": "Nothing touched",
    "lot.not_judged": "Never judged",
    "lot.not_judged_why": "Its readings are kept, but nothing looked for findings in them.",
    "lot.touched_unknown": "Touched, mass not known",
    "lot.touched_times": "Touched in {count} stretches at the die, {interval}.",
    "lot.touched_times_one": "Touched in one stretch at the die, {interval}.",
    "lot.touched_of": "of {total} {u_kg} fed ({percent} %), in {count} stretches at the die, {interval}.",
    "lot.touched_of_one": "of {total} {u_kg} fed ({percent} %), in one stretch at the die, {interval}.",
    "lot.began_with": "First, from {at} on: {summary} (its figures at their worst).",
    "lot.most_pressing": "Most pressing, from {at} on: {summary}.",
    "lot.hold": " Hold: {names}.",
    "lot.check": " Check: {names}.",
    "lot.and": " and ",
    "lot.all_after": "all packed after {number} until {at}, not yet named ones too ({kg} {u_kg} of it touched)",
    "lot.all_after_unknown": "all packed after {number} until {at}, not yet named ones too",
    "lot.some_in_no_container": " Some of what is touched is in no container; how much is not known.",
    "lot.in_no_container": " {kg} {u_kg} of what is touched is in no container.",
    "lot.unheld": (
        "Also outside an outer limit, without a finding that holds it: {names}, about {mass}; look before release."
    ),
    "lot.unheld_unknown": (
        "Also outside an outer limit, without a finding that holds it: {names}, {mass}; look before release."
    ),
    "lot.unheld_in": " It is in: {names}.",
    "lot.untouched_of": "{total} {u_kg} fed, no finding that counts for product.",
    "lot.untouched_unknown_kg": "No finding that counts for product. How many kilograms were fed is not known: this "
    "line logs no rate in a unit that is known.",
    "lot.unknown_kg_why": "This line logs no rate in a unit that is known, so findings are given as times only.",
    "lot.blind": "For {time} of steady running at least one reading with a window was not watched.",
    "lot.all_watched": "All readings with a window were watched throughout steady running.",
    "lot.no_windows": "No window was judged, as no recipe with windows is known for it: findings go by {ways}.",
    "lot.never_steady": "It was never steady, so no window was judged.",
    "lot.part_windows": "For {time} of steady running no recipe with windows is known: there findings go by {ways}.",
    "judged.limits": "the machine's limits",
    "judged.setpoints": "set-points",
    "judged.physics": "physics",
    "judged.usual": "what was usual earlier in the run",
    "judged.good_runs": "what is normal in good runs",
    "judged.and": " and ",
    "lot.drag": "The whole lot. Drag across the map or the chart to look closer.",
    "lot.stretch": "Only {interval}; all that follows is about this stretch.",
    "lot.whole": "Show the whole lot",
    "lot.no_findings": "None in this stretch.",
    "lot.link": "Link to exactly this view",
    "lot.notes": "Notes",
    "lot.note_text": "Note about this lot",
    "lot.note_no_text": "Write the note first.",
    "lot.note_long": "A note is at most 2000 letters long.",
    "overlay.title": "Beside other lots",
    "overlay.no_others": "There is no other lot to lay beside.",
    "overlay.pick": "Lay other lots beside this one, at most {most}",
    "overlay.lot": "{lot}, {day}",
    "overlay.by_time": "by time since start",
    "overlay.by_kg": "by {u_kg} since start",
    "overlay.by_steady": "by time since steady",
    "overlay.axis_time": "hours since the lot began",
    "overlay.axis_kg": "{u_kg} fed since the lot began",
    "overlay.axis_steady": "hours since the line was first steady",
    "overlay.unit_kg": "{u_kg}",
    "overlay.how": "Means of {seconds} s.",
    "overlay.band": " The band is the window of this lot's recipe.",
    "overlay.left_out_time": "Nothing was read of this channel in {lots}.",
    "overlay.left_out_kg": "Left out, no reading or no rate logged: {lots}.",
    "overlay.left_out_steady": "Left out, no reading or never steady: {lots}.",
    "different.title": "What was different",
    "different.too_few": (
        "Too few other lots of this recipe on this line were steady: {count}, and it takes {fewest} to compare."
    ),
    "different.no_recipe": "No recipe is known for this lot, so no other lot of the same recipe to compare with.",
    "different.never_steady": "This lot was never steady, so its channels are not compared with other lots.",
    "different.some": (
        "{count} of {of} comparisons lie beyond all {lots} other lots of this recipe, by {least} spreads or more."
    ),
    "different.none": (
        "Nothing lies beyond all {lots} other lots of this recipe by {least} spreads. Of {of} comparisons "
        "those farthest beyond them are below."
    ),
    "different.within": (
        "Nothing stands out: none of {of} comparisons lies beyond all {lots} other lots of this recipe by more than "
        "its sensor can tell."
    ),
    "different.as_of": " The newest of the others began {at}; lots that come later may change this.",
    "different.how": (
        "▲ higher, ▼ lower than in the others. "
        "Medians while steady, and scatter of one-minute means. A spread is how far lots of this recipe usually lie "
        "from one another, never less than a quarter of the scatter inside a lot. Different is not wrong: it says "
        "where to look, and one in many comparisons stands out by chance."
    ),
    "different.over_others": "higher",
    "different.under_others": "lower",
    "different.what": "What",
    "different.this": "This lot",
    "different.usual": "Median of others",
    "different.range": "Others",
    "different.apart": "Spreads apart",
    "different.rank": "Place",
    "different.scatter": "{title}, scatter",
    "different.over": "over {most}",
    "different.highest": "highest of {lots}",
    "different.lowest": "lowest of {lots}",
    "composition.title": "Composition",
    "composition.none": "Feeder rates are not logged, so shares are not known.",
    "composition.unknown_unit": "Feeder rates are logged in a unit that is not known, so shares are not known.",
    "composition.ingredient": "Ingredient",
    "composition.recipe": "Recipe, target %",
    "composition.delivered": "Fed, mean %",
    "composition.difference": "Fed less target",
    "composition.lowest": "Fed, lowest 5 min %",
    "composition.highest": "Fed, highest 5 min %",
    "composition.kg": "Fed, {u_kg}",
    "composition.at": "{share} at {at}",
    "composition.how": (
        "Fed: as the feeders report it, weighted by kilograms, over all of the stretch; ±: two standard deviations, as "
        "far as the hoppers' scales can tell. A scale that lies is not seen "
        "here but in its finding. At the die: what leaves it, mixed and delayed along the screw; only findings tell "
        "it, for the minutes they are about."
    ),
    "touched.title": "Product touched",
    "touched.contents": "Product touched",
    "touched.none": "No finding that says act now, act soon or look this shift counts for product.",
    "touched.finding": "Finding",
    "touched.priority": "Priority",
    "touched.interval": "At the die",
    "touched.kg": "{u_kg}",
    "touched.before": "ended {at}, before this; what it touched came to the die later",
    "touched.span": "stretch, counted once",
    "touched.sum": "Sum of stretches",
    "touched.sum_how": (
        "The line of a finding has its own kilograms. A stretch runs from the first to the last of all findings that "
        "overlap at the die, those that only follow from another with them, and has each kilogram once: so it may be "
        "more than the line of one finding and less than all of them together."
    ),
    "touched.how": (
        "Touched is what left the die while a finding that counts for product may have been in it. "
        "From {first} mean residence times after it began to {last} after it ended, plus the full volume behind "
        "the screw. Residence time {residence} s ({known}), volume {volume} l of {density} kg/m³, "
        "{seconds}{rate}. Water bath, conveying and silo are not in it; notes do not count, nor do sensor findings, "
        "but for couples that leave a zone without control."
    ),
    "touched.not_known": "not known",
    "touched.mass_not_known": "mass not known",
    "touched.time_not_known": "which takes a time that is not known and not counted",
    "touched.at_recipe_rate": " at the recipe's rate",
    "touched.residence_known": "of this run",
    "touched.residence_start": "a plain start, not known for this line",
    "balance.title": "Mass balance",
    "balance.none": "No hopper's weight is logged beside its rate, so it cannot be told from the log.",
    "balance.closes": (
        "It closes: by their scales the hoppers lost {lost} {u_kg}, the feeders report {fed} {u_kg}, {percent} % ± "
        "{error} %."
    ),
    "balance.open": (
        "It does not close for {names}: in all, the hoppers lost {lost} {u_kg} by their scales, the feeders report "
        "{fed} {u_kg}, {percent} % ± {error} %."
    ),
    "balance.feeder": "Hopper",
    "balance.fed": "Reported, {u_kg}",
    "balance.lost": "By its scale, {u_kg}",
    "balance.off": "Apart, %",
    "balance.word": "Closes",
    "balance.yes": "yes",
    "balance.no": "no",
    "balance.compared": "Compared, %",
    "balance.how": (
        "Without refills and touched scales; ± two standard deviations. It closes within its ± or {limit} %. Rate and "
        "weight come from one load cell: a scale that is wrong agrees with itself. Against that stand the kilograms "
        "that were packed, which a person must compare."
    ),
    "container.title": "Containers",
    "container.number": "Container",
    "container.after": "all after {number} until {at}",
    "container.filled": "Filled",
    "container.kg": "{u_kg} fed",
    "container.touched": "{u_kg} touched",
    "container.word": "Status",
    "container.hold": "■ hold",
    "container.check": "□ check",
    "container.none": "None was written down in this stretch.",
    "container.untouched": "Untouched: {count}",
    "container.clear": "no finding touches it",
    "container.outside": ": beyond an outer limit without a finding, {mass}",
    "container.how": (
        "Hold: touched by a finding that says act now or act soon. Check: by one that says look this shift, "
        "or by none and made beyond an outer limit. Supposes pellets are packed as they leave the die. "
        "“All after”: everything that left the die after that container was full and until the time given, also in "
        "containers whose numbers nobody has written down yet."
    ),
    "raw.title": "Raw-material lots",
    "raw.none": "None was written down for this stretch.",
    "raw.no_feeders": "The line file names no feeder, so no raw-material lot can be followed into the product.",
    "raw.form": "Write down which lot was filled in",
    "raw.rows": "Time; feeder; raw-material lot. One row each, also as copied from a spreadsheet.",
    "raw.feeder": "feeder",
    "raw.example": "R-101",
    "raw.write": "Write down",
    "raw.done": "Written down: {count}.",
    "raw.no_rows": "Give at least one row: time; feeder; lot.",
    "raw.too_many": "At most {most} rows at a time.",
    "raw.three": "Row {row}: three parts are wanted, time; feeder; lot.",
    "raw.no_time": "Row {row}: '{text}' is no time; write it as 2026-03-02 06:00.",
    "raw.to_come": "Row {row}: {text} is still to come.",
    "raw.no_feeder": "Row {row}: there is no one feeder '{text}'; there are {known}.",
    "raw.no_number": "Row {row}: the lot is missing or longer than {most} letters.",
    "raw.ingredient": "Ingredient",
    "raw.number": "Raw-material lot",
    "raw.filled": "In its hopper",
    "raw.fed": "Fed here, {u_kg}",
    "raw.touched": "In touched product",
    "raw.touched_product": "{mass} of product",
    "raw.not_known": "lot not known",
    "raw.clear": "{name}",
    "raw.hold": "■ {name}",
    "raw.check": "□ {name}",
    "raw.containers": "In containers, ■ hold, □ check",
    "raw.find": "All lots with {lot}",
    "raw.rest": "the rest of it until {at}",
    "raw.how": (
        "Kilograms: by the feeder's rate from one filling to the next. Containers: from the filling on, as material "
        "may run through the middle of a hopper, until what was in it at the next filling has run out at its rate and "
        "left the die. A hopper that empties unevenly may hold some longer. A lot written as - ends the one before. "
        "Lot not known: fed while no lot was written down for that feeder. In touched product: all that left the die, "
        "touched, while some of the lot may have been in it; it says where the lot went, not that the lot is to blame."
    ),
    "watch.title": "Not watched",
    "watch.of": "Windows were judged for {judged} of {total}.",
    "watch.no_windows": "No window was judged in these {total}: no recipe with windows is known for them.",
    "watch.part_windows": "For {time} of steady running no recipe with windows is known.",
    "watch.phases": "Not judged while {phases}.",
    "watch.no reading": "{title}: no reading for {time}, first at {at}",
    "watch.volumetric": ("{title}: volumetric for {time}, first at {at}; its reported rate is not a weighed one"),
    "watch.sensor": "{title}: its sensor at fault for {time}, first at {at}; what it read in that time is no reading",
    "watch.many": "{count} channels together",
    "account.title": "Reading account",
    "account.none": "Nothing is noted about how the log was read.",
    "account.rows_read": "rows read",
    "account.rows_accepted": "rows accepted",
    "account.aside": "set aside: {reason}",
    "account.duplicates": "rows that repeat an earlier time",
    "account.out_of_order": "rows out of order, sorted in",
    "account.clock_step_count": "steps of the log's clock",
    "account.gaps": "gaps without rows",
    "account.gap_length": "{n}, {time} in all",
    "account.values_missing": "values that say 'no reading'",
    "account.values_unreadable": "values that are no numbers",
    "account.conversions": "units turned into ours",
    "account.silent_tags": "tags without one reading; nothing is judged by them",
    "account.assumed": "assumed",
    "account.noticed": "noticed",
    "account.values_sentinel": "numbers taken as 'no reading'",
    "account.values_out_of_range": "values outside the range of the sensor",
    "account.more": " and {count} more",
    "account.what": "What",
    "account.count": "Count",
}
