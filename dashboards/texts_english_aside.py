"""English texts of what people do about findings: seen, noted, set aside, out of service, reset."""

from __future__ import annotations

ASIDE: dict[str, str] = {
    "action.acknowledged": "Seen by {who}, {at}.",
    "action.note": "{who}, {at}:",
    "action.repaired": "Repaired, says {who}, {at}.",
    "action.shelved": "Set aside until {until} by {who}, {at}:",
    "action.unshelved": "Brought back by {who}, {at}.",
    "action.reset": "Reset by {who}, {at}.",
    "action.out of service": "Taken out of service by {who}, {at}:",
    "action.back in service": "Put back in service by {who}, {at}.",
    "act.about": "About:",
    "act.who": "Your name",
    "act.text": "What you saw or did, or why it is taken away",
    "act.seen": "I have seen it",
    "act.note": "Write a note",
    "act.reset": "Reset",
    "act.aside_for": "Set it aside for",
    "act.for.30": "30 min",
    "act.for.60": "1 h",
    "act.for.120": "2 h",
    "act.for.shift": "the rest of the shift",
    "act.out_for": "For maintenance, without an end",
    "act.out": "Take out of service",
    "act.out_done": "Out of service until somebody puts it back; it stays counted and named.",
    "act.out_already": "{who} has taken it out of service already, {at}.",
    "act.not_out": "It is not out of service any more.",
    "act.no_out_reason": "Please write why it is taken out of service.",
    "act.latching": "It said “act now” before: it stays in view until it has gone and was seen and reset.",
    "act.never_out": (
        "“Act now” is never taken out of service: people or machine may come to harm unless somebody acts, so it "
        "stays in view."
    ),
    "act.done": "Written down at {at}.",
    "act.aside_done": "Set aside; it comes back by itself at {at}.",
    "act.aside_already": "{who} has set it aside already, until {at}.",
    "act.not_aside": "It is not set aside any more.",
    "act.ended": "It has ended meanwhile; there is nothing to set aside.",
    "act.no_reset": "It does not wait for a reset: it still holds, nobody has seen it yet, or it was reset already.",
    "act.reset_later": "It has gone by itself; once seen, it can be reset.",
    "act.never_aside": (
        "“Act now” is never set aside or taken out of service: people or machine may come to harm unless somebody "
        "acts, so it stays in view."
    ),
    "act.only_note": "A note asks nobody to act; there is nothing to take away.",
    "act.no_finding": "No open finding is about this channel.",
    "act.no_name": "Please give a name.",
    "act.no_text": "Please write what the note says.",
    "act.no_reason": "Please write why it is set aside.",
    "aside.one": "{count} set aside until {at}, by {who}",
    "aside.many": "{count} set aside, the last until {at}, by {who}",
    "aside.told": "until {at}, by {who}: {why}",
    "aside.gone": " (gone for now)",
    "aside.back": "Bring back",
    "aside.back_of": "Bring back: {summary}",
    "aside.how": (
        "Each comes back by itself at its time, and at once where it becomes more pressing. All of it is still "
        "judged and kept. To bring one back, your name must stand in the form."
    ),
    "out.one": "{count} out of service: {titles}, since {at}, by {who}",
    "out.many": "{count} out of service: {titles}; the first since {at}, by {who}",
    "out.told": "since {at}, by {who}: {why}",
    "out.back": "Put back in service",
    "out.back_of": "Put back in service: {summary}",
    "out.how": (
        "It stays out of service until somebody puts it back; only “act now” brings itself back. All of it is still "
        "judged and kept. To put one back, your name must stand in the form."
    ),
    "out.title": "Out of service",
    "out.span": "{summary}: from {start} to {end}, by {who}: {why}",
    "out.span_open": "{summary}: from {start} on, by {who}: {why}",
    "out.judged": "Off the supervisor's list for that time; all of it was still judged and kept.",
    "live.none_else": "Nothing else is open.",
    "latched.title": "Ended, still to be seen and reset",
    "latched.how": (
        "It said “act now” and has ended by itself. It goes on waiting here, through later lots too, until somebody "
        "has seen it and reset it: touch it, then the buttons of the form."
    ),
    "latched.lot_now": "in this lot, {lot}",
    "latched.lot_before": "in the earlier lot {lot}",
    "latched.seen": "Seen, waits for its reset.",
    "latched.unseen": "Not seen yet, waits for somebody to see it and then to reset it.",
    "latched.lines": "Ended, still to be seen and reset: {summary}, {at}{more}.",
    "latched.more": ", and {count} more",
}
