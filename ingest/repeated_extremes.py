"""Numbers at the very edge of a channel that come again and again, far from all its other readings: 'no reading'?

They are noticed and left as they are: `missing_values` (or `zero_is_missing`) of the line file says what they are.
Looked for in cells, so a number is missed where a cell is the mean of several rows. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ingest.account import GUESS, LIKELY, ReadingAccount
from ingest.cell_samples import CellSamples
from ingest.channel_values import ChannelValues
from ingest.roles import ROLES, split_key
from ingest.sentinel_numbers import is_known
from ingest.written_number import written_number

FEWEST_TIMES, FEWEST_OTHERS = 3, 30
_APART_KNOWN, _APART_OTHER = 1.0, 5.0
"""How many times the spread of all other readings such a number must be off them."""


def notice_repeated_extremes(samples: CellSamples, channels: Sequence[ChannelValues], account: ReadingAccount) -> None:
    """Says which numbers look like 'no reading', tag by tag."""
    table = samples.samples()
    for i, channel in enumerate(channels):
        role = ROLES[split_key(channel.source.key)[0]]
        if role.unit == "1" or role.name.endswith(("setpoint", "total")):
            continue  # these stand still and jump by nature
        values = table[i][~np.isnan(table[i])]
        for number, count in sorted(samples.extremes(i).items()):
            written = (number - channel.conversion.offset) / channel.conversion.scale
            others = values[np.abs(values - number) > 1e-9 * max(1.0, abs(number))]
            if count < FEWEST_TIMES or len(others) < FEWEST_OTHERS or (role.unit == "%" and abs(number) == 100):
                continue
            apart = max(number - others.max(), others.min() - number)
            known = is_known(float(f"{written:.10g}"))  # converted there and back, it may be a little off
            spread = max(float(np.ptp(others)), 0.01 * float(np.abs(others).max()))
            if apart <= (_APART_KNOWN if known else _APART_OTHER) * spread:
                continue
            if abs(written) < 1e-9:
                if role.unit == "C":  # a speed, a rate, a pressure may well be nothing; a warm zone not
                    account.notice(
                        f"'{channel.source.tag}' is exactly 0 in {count:,} cells, far from all its other readings; if "
                        "that means 'no reading', name the tag in zero_is_missing of the line file",
                        GUESS,
                    )
                continue
            if known or apart > float(np.median(np.abs(others))):
                account.notice(
                    f"'{channel.source.tag}' is exactly {written_number(written)} in {count:,} cells, far from all "
                    "its other readings; if that means 'no reading', name it in missing_values of the line file",
                    LIKELY if known else GUESS,
                )
