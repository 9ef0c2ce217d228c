"""Which fault is put on which line, where, how large; written before any log was judged.

visible: False where the signals of that line cannot show it, for the reason given; such are told apart in the table.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Case:
    """One fault log."""

    line: str
    fault: str
    place: str
    size: Literal["small", "medium", "large"]
    x: float
    visible: bool = True

    @property
    def title(self) -> str:
        """Words for the table."""
        return f"{self.line} {self.fault} {self.place} {self.size}".replace("  ", " ")


C = Case
CASES = (
    C("north", "feeder_bridged", "PP", "large", 0.95), C("north", "feeder_bridged", "TALC", "small", 0.35),
    C("north", "feeder_tripped", "OIL", "large", 1), C("north", "scale_wrong", "PP", "medium", 0.12),
    C("north", "factor_drift", "TALC", "medium", 0.35), C("north", "side_backs_up", "TALC", "medium", 0.5),
    C("north", "vent_flooded", "V6", "medium", 1), C("north", "vacuum_leak", "V6", "medium", 150),
    C("north", "heater_dead", "B3", "large", 1), C("north", "heater_part", "B4", "medium", 0.4),
    C("north", "couple_open", "B5", "large", 400), C("north", "couple_loose", "B4", "small", 0.08),
    C("north", "cooling_open", "B6", "medium", 0.35), C("north", "screen_blinds", "", "medium", 2.5),
    C("north", "viscous_lot", "", "medium", 0.35), C("north", "chute_blocked", "PP", "medium", 0.3),
    C("north", "refill_unheard", "PP", "large", 1), C("north", "zone_set_wrong", "B6", "medium", 20),
    C("north", "hunting", "B4", "medium", 8), C("north", "wrong_set", "STAB", "medium", -0.4),
    C("north", "stuck_rate", "PP", "medium", 0.6), C("north", "wrong_material", "TALC", "medium", 0.2),
    C("sued", "feeder_bridged", "GF", "medium", 0.6), C("sued", "moisture", "", "medium", 0.3),
    C("sued", "couple_drift", "Z5", "medium", 10, visible=False), C("sued", "viscous_lot", "", "large", 0.5),
    C("sued", "die_blocked", "", "large", 1.5), C("sued", "cold_start", "", "medium", 0.45),
    C("sued", "hot_hold", "", "medium", 100), C("sued", "heater_dead", "DK", "large", 1),
    C("sued", "sensor_stuck", "before", "medium", 1), C("sued", "wrong_set", "GF", "medium", -0.2),
    C("sued", "feeder_tripped", "MB", "large", 1), C("sued", "chute_blocked", "PA6", "large", 0.8),
    C("ouest", "feeder_bridged", "PEBD", "large", 0.95), C("ouest", "couple_short", "F4", "large", 0.8),
    C("ouest", "cooling_shut", "F1", "medium", 1), C("ouest", "screen_blinds", "", "large", 1.5),
    C("ouest", "flushing", "NOIR", "medium", 0.6), C("ouest", "contactor_stuck", "F5", "large", 3500),
    C("colle", "screen_blinds", "", "medium", 1.0), C("colle", "disc_open", "", "large", 0.97),
    C("colle", "feeder_bridged", "A", "large", 0.95), C("colle", "screen_torn", "", "large", 0.2),
    C("norte", "throat_starved", "", "medium", 0.4), C("norte", "screen_blinds", "", "large", 1.0),
    C("norte", "contactor_stuck", "C4", "large", 3600), C("norte", "heater_dead", "CB", "large", 1),
    C("norte", "gearbox_hot", "", "medium", 18), C("norte", "surging", "", "medium", 0.5),
    C("norte", "viscous_lot", "", "small", 0.15),
    C("wschod", "throat_starved", "", "large", 0.6), C("wschod", "pump_worn", "", "medium", 0.08, visible=False),
    C("wschod", "hunting", "DYS2", "medium", 8), C("wschod", "screen_blinds", "", "medium", 1.5),
    C("wschod", "couple_open", "DYS1", "large", 400),
    C("hav", "freezes_off", "", "medium", 0.5), C("hav", "bulk_down", "", "large", 0.45),
    C("hav", "shaft_broken", "", "large", 1), C("hav", "stops_fed", "", "large", 40),
    C("hav", "tramp", "", "medium", 45), C("hav", "drive_limited", "", "medium", 0.12),
    C("hav", "feeder_bridged", "FR", "medium", 0.7), C("hav", "sensor_drift", "before", "medium", 30),
)  # fmt: skip
