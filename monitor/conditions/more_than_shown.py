"""A feeder that shows too little while the screws get more: its scale is what lies, and no bridge.

Material that comes into a hopper unseen, or a hopper that is held up, hides what leaves it; its controller then drives
it faster, and more is fed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from monitor.conditions import feeder_signals
from monitor.contract import Context
from monitor.exact import Floats
from monitor.records import Cause
from monitor.view import CoarseView

LOADED_LN, MATTERS_PCT = 0.05, 5.0
"""ln torque over what is expected, and share of the feed, from which a loss that is shown is none. Common practice, no
source."""


def facts(wanted: Floats, view: CoarseView, subjects: Sequence[str], ctx: Context) -> dict[str, Floats]:
    """torque: ln over expected; share: percent of all that is to be fed; [subject, n] each. wanted: kg/h."""
    total = view.quantity("total_setpoint")
    return {
        "torque": feeder_signals.by_cell(feeder_signals.machine(view, ctx)[0], subjects),
        "share": 100 * wanted / np.where(total > 0, total, np.nan),
    }


def told_by(subject: str, of: dict[str, float], ctx: Context) -> bool:
    """Whether the screws get more of what is shown to be missing. of: `facts` of a cell."""
    # Into a hopper over a flood-fed screw more may be fed than goes in: its load is another matter.
    matters = (
        ctx.starve_fed and of["share"] >= MATTERS_PCT and ctx.line.feeder_named(subject).effect_on_torque == "raises"
    )
    return matters and of["torque"] >= LOADED_LN


def causes(of: dict[str, float], drive_words: tuple[str, ...]) -> tuple[Cause, ...]:
    """Why, likeliest first. drive_words: what its drive says for it."""
    seen = f"torque {100 * np.expm1(of['torque']):+.0f} % against expected: a bridge would lower it"
    return (
        Cause(
            "its scale sees less than leaves it: refill slide passing, hopper hung up or supported",
            (seen, *drive_words),
            (),
            ("refill_valve_leaking", "scale_wrong", "scale_jumped"),
        ),
        Cause("span of the load cell, or its wiring", (seen,)),
        Cause("bridged", (), (seen,)),
    )


def moved(of: dict[str, float]) -> dict[str, float]:
    """Explanation.moved of such a finding: it bounds what may follow from it."""
    return {"torque": of["torque"]}
