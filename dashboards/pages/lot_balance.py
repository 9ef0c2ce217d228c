"""Whether the mass balance of a lot closes, hopper by hopper."""

from __future__ import annotations

from dash import html

from dashboards import ids
from dashboards.data import JournalData
from dashboards.mass_balance import CLOSES_PCT, mass_balance
from dashboards.names import number, rate, signed
from dashboards.parts import row, shape_of, table
from dashboards.texts import say
from dashboards.views import Run


def balance_row(data: JournalData, run: Run) -> html.Section:
    """What the scales lost against what was reported, and what that can tell."""
    found = mass_balance(data, run.line.name, run.t0, run.t1)
    if not found:
        return row(say("balance.title"), html.P(say("balance.none"), className="quiet"), id=ids.AT_BALANCE)
    open_ = [item for item in found if not item.closes]
    lost, fed = sum(item.lost for item in found), sum(item.fed for item in found)
    error = sum(item.error**2 for item in found) ** 0.5
    words = say(
        "balance.open" if open_ else "balance.closes",
        lost=rate(lost),
        fed=rate(fed),
        percent=signed(100 * (lost - fed) / fed, 1),
        error=number(100 * error / fed, 1),
        names=", ".join(item.title for item in open_),
    )
    rows = [
        [
            item.title,
            say("balance.yes") if item.closes else html.B([*shape_of("other"), say("balance.no")]),
            f"{signed(item.off_pct, 1)} ± {number(item.error_pct, 1)}",
            rate(item.fed),
            rate(item.lost),
            number(100 * item.compared, 0),
        ]
        for item in found
    ]
    head = [say(f"balance.{name}") for name in ("feeder", "word", "off", "fed", "lost", "compared")]
    return row(
        say("balance.title"),
        html.P(html.B(words)),
        table(head, rows, numbers=(2, 3, 4, 5)),
        html.P(say("balance.how", limit=number(CLOSES_PCT, 0)), className="soft"),
        id=ids.AT_BALANCE,
    )
