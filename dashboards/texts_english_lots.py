"""English texts of the pages about lots."""

from __future__ import annotations

LOTS: dict[str, str] = {
    "lots.title": "Lots",
    "lots.beside": "Beside",
    "lots.choose": "lay lot {lot} beside others",
    "lots.unchoose": "leave lot {lot} out",
    "lots.chosen": "{count} chosen.",
    "lots.lay": "Lay them over each other",
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
    "lot.touched": "{kg} {u_kg} touched",
    "lot.untouched": "Nothing touched",
    "lot.unknown_kg": "Mass not known",
    "lot.touched_of": "of {total} {u_kg} fed ({percent} %), in {count} stretches at the die, {interval}.",
    "lot.touched_of_one": "of {total} {u_kg} fed ({percent} %), in one stretch at the die, {interval}.",
    "lot.hold": " Hold: {names}.",
    "lot.check": " Check: {names}.",
    "lot.and": " and ",
    "lot.all_after": "all packed after {number} ({kg} {u_kg} of it touched)",
    "lot.in_no_container": " {kg} {u_kg} of what is touched is in no container.",
    "lot.untouched_of": "{total} {u_kg} fed, no finding that counts for product.",
    "lot.unknown_kg_why": "This line logs no rate in a unit that is known, so findings are given as times only.",
    "lot.blind": "For {time} of steady running at least one reading with a window was not watched.",
    "lot.all_watched": "All readings with a window were watched throughout steady running.",
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
    "overlay.how": "Means of {seconds} s. The band is the window of this lot's recipe.",
    "overlay.left_out_time": "Nothing was read of this channel in {lots}.",
    "overlay.left_out_kg": "Left out, no reading or no rate logged: {lots}.",
    "overlay.left_out_steady": "Left out, no reading or never steady: {lots}.",
    "different.title": "What was different",
    "different.too_few": (
        "Too few lots: {count} other lots of this recipe on this line were steady, {fewest} are needed to compare."
    ),
    "different.never_steady": "This lot was never steady, so its channels are not compared with other lots.",
    "different.some": (
        "{count} of {of} comparisons stand out from {lots} other lots of this recipe by {least} spreads or more."
    ),
    "different.none": (
        "Nothing stands out from {lots} other lots of this recipe by {least} spreads; the farthest of {of} "
        "comparisons are:"
    ),
    "different.how": (
        "Medians while steady, and scatter of one-minute means. A spread is how far lots of this recipe usually lie "
        "from one another, never less than a quarter of the scatter inside a lot. Different is not wrong: it says "
        "where to look, and one in many comparisons stands out by chance."
    ),
    "different.what": "What",
    "different.this": "This lot",
    "different.usual": "Median of others",
    "different.range": "Others",
    "different.apart": "Spreads apart",
    "different.rank": "Place",
    "different.scatter": "{title}, scatter",
    "different.over": "over {most}",
    "different.of": "{rank} of {lots}",
    "different.highest": "highest of {lots}",
    "different.lowest": "lowest of {lots}",
    "composition.title": "Composition",
    "composition.none": "Feeder rates are not logged, so shares are not known.",
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
    "touched.none": "No finding of priority 1 to 3 that counts for product.",
    "touched.finding": "Finding",
    "touched.priority": "Priority",
    "touched.interval": "At the die",
    "touched.kg": "{u_kg}",
    "touched.span": "stretch, counted once",
    "touched.sum": "Sum of stretches",
    "touched.how": (
        "From {first} mean residence times after it began to {last} after it ended, plus the full volume behind "
        "the screw. Residence time {residence} s ({known}), volume {volume} l of {density} kg/m³, "
        "{seconds} s. Water bath, conveying and silo are not in it; notes do not count, nor do sensor findings, but "
        "for couples that leave a zone without control."
    ),
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
    "container.after": "all after {number}",
    "container.filled": "Filled",
    "container.kg": "{u_kg} fed",
    "container.touched": "{u_kg} touched",
    "container.word": "Word",
    "container.hold": "■ hold",
    "container.check": "□ check",
    "container.clear": "no finding touches it",
    "container.how": (
        "Hold: touched by priority 1 or 2. Check: by priority 3. Supposes pellets are packed as they leave the die."
    ),
    "watch.title": "Not watched",
    "watch.of": "Windows were judged for {judged} of {total}.",
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
