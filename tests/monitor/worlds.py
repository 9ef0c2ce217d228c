"""Every scripted world by name. Together they make every registered condition speak.

A group of conditions keeps its worlds in a module of its own beside this one and lists them here. Worlds are short:
three hours do for most, and every check runs over them many times.
"""

from __future__ import annotations

from collections.abc import Callable

from tests.monitor.conditions.heated_zones import heated_twice
from tests.monitor.scripted_world import World, eventful_single, eventful_twin
from tests.monitor.world_feeders import troubled_feeders
from tests.monitor.world_fill import fill_twin, surging_single
from tests.monitor.world_heat import heat_running, heat_stopping
from tests.monitor.world_lots import other_material
from tests.monitor.world_path import path_creep, path_pump, path_slow, path_stops, path_upsets, path_wet
from tests.monitor.world_soak import started_in_haste
from tests.monitor.world_statistics import out_of_pattern_twin
from tests.monitor.world_stops import stopping_twin

WORLDS: dict[str, Callable[[], World]] = {
    "twin": eventful_twin,
    "single": eventful_single,
    "feeders": troubled_feeders,
    "other material": other_material,
    "fill": fill_twin,
    "surging": surging_single,
    "heat running": heat_running,
    "heat stopping": heat_stopping,
    "heated twice": heated_twice,
    "stops": stopping_twin,
    "started in haste": started_in_haste,
    "out of pattern": out_of_pattern_twin,
    "path creep": path_creep,
    "path upsets": path_upsets,
    "path slow": path_slow,
    "path stops": path_stops,
    "path pump": path_pump,
    "path wet": path_wet,
}
