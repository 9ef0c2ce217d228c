"""Two pressures of one channel that drain and stay as far apart: no flow makes that, one of them is off its zero.

What still flows on a standing line makes a drop over screen and pipe that shrinks with the pressure behind it, both by
the same power of the flow. What is left of a difference where that pressure would be zero is no drop. A closed place or
a frozen one between the two holds the first as it is: then it does not fall along, and nothing is said.
"""

from __future__ import annotations

import numpy as np

from monitor import pressure_path
from monitor.contract import Context
from monitor.exact import Floats

SHRINKS_BAR = 1.5
"""By so much a drop of flow would have shrunk since: less cannot be told from noise."""

OWN_SHARE, ALONG_SHARE = 0.5, 0.3
"""Part of the difference that no flow may make, at least: a drop that shrinks a little slower than the pressure behind
it leaves less. Part of the other's fall that a pressure has fallen at least. Common practice, no source."""

FALLS_BAR = 1.0
"""What falls less has drained, and tells nothing of a drop."""


def apart(now: Floats, ago: Floats, subjects: tuple[str, ...], ctx: Context) -> tuple[Floats, Floats]:
    """By how much each pressure reads more than another beyond what flow makes, bar, and the place of that
    other in `subjects`; NaN where none does. now, ago: means of a minute, some minutes apart, bar; [subject, n] each.
    """
    over, beside = np.full(now.shape, np.nan), np.full(now.shape, np.nan)
    rows = [i for i, name in enumerate(subjects) if pressure_path.place(name, ctx) in ("before_screen", "after_screen")]
    with np.errstate(invalid="ignore", divide="ignore"):
        for row in rows:
            for other in (one for one in rows if one != row):
                more, was = now[row] - now[other], ago[row] - ago[other]
                fell = ago[other] - now[other]
                own = more - np.fmax(was - more, 0.0) * now[other] / fell
                holds = (now[other] > 0) & (was * fell >= SHRINKS_BAR * ago[other]) & (own >= OWN_SHARE * more)
                holds &= (fell >= FALLS_BAR) & (ago[row] - now[row] >= ALONG_SHARE * fell)
                larger = holds & (own > 0) & ~(own <= over[row])
                over[row] = np.where(larger, own, over[row])
                beside[row] = np.where(larger, other, beside[row])
    return over, beside
