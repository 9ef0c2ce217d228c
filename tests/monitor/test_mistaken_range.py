"""A range in another unit than its sensor shuts out what is read: said with the key to correct."""

from __future__ import annotations

import numpy as np
import pytest

from ingest.account import ReadingAccount
from ingest.block import BAD, FRESH, GOOD, Block
from monitor.line import Line
from monitor.mistaken_unit import MistakenUnits
from tests.monitor.scripted_world import NS, T0, scripted_line

ROW = "melt_pressure:P1"


def line_with_range() -> Line:
    data = scripted_line().model_dump()
    sensors = [{**s, "unit": "psi", "range": (0.0, 345.0)} if s["tag"] == "P1" else s for s in data["sensor"]]
    return Line.model_validate({**data, "sensor": sensors, "version": "range of P1"})


@pytest.mark.parametrize(("outside", "said"), [(0, False), (50, False), (500, False), (900, True), (1000, True)])
def test_it_is_said_where_most_of_a_sensors_readings_are_outside(outside: int, said: bool) -> None:
    line, account = line_with_range(), ReadingAccount()
    if outside == 50:
        line = scripted_line()
    values = np.full((len(line.channels), 1000), 60.0)
    status = np.full(values.shape, FRESH | GOOD, np.uint8)
    status[line.channels.index(ROW), :outside] = FRESH | BAD
    account.out_of_range("P1", outside if outside != 500 else 499)
    units = MistakenUnits(line, [], ())
    units.add(Block(T0, NS, line.channels, values, status, ()))
    units.close(account)

    assert units.said == bool(account.noticed) == said
    if said:
        assert "'P1'" in account.noticed[0] and "0 to 345 psi" in account.noticed[0] and "`range`" in account.noticed[0]
