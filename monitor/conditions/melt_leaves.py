"""Most of the melt leaves ahead of the die, or a pump draws its suction down: what tells the two, and from a screen."""

from __future__ import annotations

import numpy as np

from monitor import pressure_path
from monitor.contract import Context
from monitor.exact import Bools, Floats
from monitor.statistics.robust import median
from monitor.view import Readings

LEAK_SHARE, LEAK_ALONE_SHARE, LEAK_FOR_S, LEAK_BACK = 0.5, 0.3, 30.0, 0.75
"""Flow goes with P^(1/0.35): at half the pressure a seventh of the melt still takes the way through the die, the rest
leaves before it. So for half a minute, longer than a changed screen takes to fill, until pressure is back at the last
share. A pressure ahead of a screen that nothing is measured behind has to lose more: a torn screen leaves what the die
needs. Common practice, no source."""

LEAK_LOAD, LEAK_RAW_LOAD = 0.8, 0.9
"""Of the highest load lately: for half the pressure by less feed, six sevenths of the feed would have to be missing,
and the load with it. Common practice, no source."""

DRAWN_FASTER, DRAWN_STANDS = 1.1, 0.8
"""A melt pump that lately turned so much faster than its middle of the last minutes draws its suction down; what it
delivers against then stands at so much of the highest lately, as it does not where melt comes out ahead of a pump.
Common practice, no source."""


def draws(speed: Floats, behind: Floats, slow: int, few: int) -> bool:
    """Whether a pump turned fast lately and delivers against what it did; both up to the cell that is judged."""
    if not np.isfinite(speed).any() or not np.isfinite(behind).any():
        return False
    faster = np.fmax.reduce(speed[-2 * slow :]) >= DRAWN_FASTER * median(speed)
    return bool(faster and median(behind[-few:]) >= DRAWN_STANDS * np.fmax.reduce(behind[-2 * slow :]))


def pump(view: Readings, ctx: Context) -> tuple[Floats, Floats]:
    """Speed of a melt pump and the pressure it delivers against; NaN where one is not logged."""
    behind = next(iter(pressure_path.groups(ctx, "pump_discharge").values()), ())
    return view.get("melt_pump_speed"), pressure_path.pressure(view, behind)


def shares(subjects: tuple[str, ...], ctx: Context) -> Floats:
    """Share of each pressure under which most of the melt leaves before the die, [k, 1].

    None of the suction of a pump: its own control moves it.
    """
    alone = {"pump_suction": -1.0, "before_screen": LEAK_ALONE_SHARE}
    found = [
        alone.get(pressure_path.place(subject, ctx), LEAK_SHARE) if behind is None else LEAK_SHARE
        for subject, behind in zip(subjects, _rows(subjects, ctx), strict=True)
    ]
    return np.array(found).reshape(-1, 1)


def falls_too(low: Bools, subjects: tuple[str, ...], ctx: Context) -> Bools:
    """Where the pressure on the other side of the screen, if there is one, is lower as well, [k, n]."""
    every = np.ones(low.shape[1], bool)
    return np.array([every if row is None else low[row] for row in _rows(subjects, ctx)]).reshape(low.shape)


def _rows(subjects: tuple[str, ...], ctx: Context) -> list[int | None]:
    """Row of the pressure on the other side of the screen, by pressure."""
    names = [partner(subject, subjects, ctx) for subject in subjects]
    return [None if name is None else subjects.index(name) for name in names]


def partner(subject: str, subjects: tuple[str, ...], ctx: Context) -> str | None:
    """The pressure on the other side of the screen, where nothing that drives the melt stands between the two."""
    if ctx.has("melt_pump_speed"):
        return None
    where = {pressure_path.place(other, ctx): other for other in reversed(subjects)}
    opposite = {"before_screen": "after_screen", "after_screen": "before_screen"}
    return where.get(opposite.get(pressure_path.place(subject, ctx), ""))
