"""Which signals each line logs and under which tags, each in its plant's own way."""

from __future__ import annotations

from tests.benchmarks.second_plant.lines import LINES
from tests.benchmarks.second_plant.sensing import Signal

S = Signal
FEEDER_PARTS = ("rate", "set", "drive", "weight", "refill")


def _zone(name: str, tags: str, parts: str, step: float = 0.1, band: float = 0.0) -> list[Signal]:
    """Zone signals of a line; parts: t temperature, s set, o output, a heater current. tags: with {z} and {p}."""
    kinds = {
        "t": ("zone_temperature", 0.05, step, ""), "s": ("zone_setpoint", 0.0, 0.1, ""),
        "o": ("zone_output", 0.0, 0.1, ""), "a": ("zone_current", 0.05, 0.01, ""),
    }  # fmt: skip
    words = {"t": "t", "s": "sp", "o": "out", "a": "amp"}
    found = []
    for zone in LINES[name].zones:
        for part in parts:
            role, noise, grain, unit = kinds[part]
            tag = tags.replace("{z}", zone.name).replace("{p}", part)
            keep = band if part == "t" else 0.0
            found.append(S(tag, f"{words[part]}:{zone.name}", role, zone.name, noise, 3, grain, keep, unit=unit))
    return found


def _feeders(name: str, tags: dict[str, str], rate_step: float, noise: float) -> list[Signal]:
    """Feeder signals; tags: part (rate, set, drive, weight, refill) to a tag with {f}."""
    roles = {"rate": "feeder_rate", "set": "feeder_setpoint", "drive": "feeder_drive", "weight": "feeder_weight"}
    roles["refill"] = "feeder_refill"
    found = []
    for feeder in LINES[name].feeders:
        small = feeder.step_kg if feeder.step_kg < 0.01 else 0.01
        steps = {
            "rate": rate_step if feeder.share_pct > 5 else 0.01,
            "set": 0.01,
            "drive": 0.1,
            "weight": small,
            "refill": 1,
        }
        for part, tag in tags.items():
            relative = noise if part == "rate" else 0.0
            found.append(
                S(tag.replace("{f}", feeder.name), f"{part}:{feeder.name}", roles[part], feeder.name, step=steps[part],
                  relative_noise=relative)
            )  # fmt: skip
    return found


def _north() -> tuple[Signal, ...]:
    return (
        *_zone("north", "EX1.{z}.{p}", "tso"),
        S("EX1.SCREW.N", "rpm", "screw_speed", noise=0.4, step=0.1),
        S("EX1.SCREW.SP", "set:speed", "screw_speed_setpoint"),
        S("EX1.DRIVE.TQ", "torque", "torque", noise=0.9, memory=3, step=0.1),
        S("EX1.MP.PRE", "before", "melt_pressure", "head in", 0.8, 3, 0.1, position="before_screen"),
        S("EX1.MP.POST", "die", "melt_pressure", "head out", 0.7, 3, 0.1, position="after_screen"),
        S("EX1.MT", "melt", "melt_temperature", "head", 0.4, 20, 0.1, lag_s=20),
        *_feeders("north", {p: "LIW.{f}." + p.upper() for p in FEEDER_PARTS}, 0.1, 0.006),
        S("EX1.SIDE.LOAD", "stuffer", "stuffer_load", "TALC", 0.8, 4, 0.1, offset=0),
        S("EX1.VAC", "vacuum", "vacuum", "V6", 1.5, 6, 1.0),
        S("EX1.OIL.T", "oil", "gearbox_oil_temperature", noise=0.1, step=0.1),
        S("EX1.HALL", "hall", "ambient_temperature", step=0.1),
    )  # fmt: skip


def _sued() -> tuple[Signal, ...]:
    return (
        *_zone("sued", "{z}_Temp_Ist", "t", 1.0), *_zone("sued", "{z}_Temp_Soll", "s"),
        S("Drehzahl_Ist", "rpm", "screw_speed", noise=0.5, step=1),
        S("Drehmoment", "torque", "torque", noise=1.1, memory=4, step=1),
        S("Massedruck", "before", "melt_pressure", "Duese", 0.9, 3, 1.0),
        S("Massetemperatur", "melt", "melt_temperature", "Duese", 0.4, 20, 1.0, lag_s=30),
        *_feeders("sued", {"rate": "Dos_{f}_Ist", "set": "Dos_{f}_Soll"}, 0.1, 0.008),
    )  # fmt: skip


def _ouest() -> tuple[Signal, ...]:
    return (
        *_zone("ouest", "{z}_{p}", "tso", 0.1, band=0.3),
        S("VIS_TRMIN", "rpm", "screw_speed", noise=0.3, step=0.1),
        S("PRESSION_AV_FILTRE", "before", "melt_pressure", "av", 1.0, 3, 0.1, unit="bar", position="before_screen"),
        S("PRESSION_AP_FILTRE", "die", "melt_pressure", "ap", 0.9, 3, 0.1, position="after_screen"),
        S("TEMP_MATIERE", "melt", "melt_temperature", "tete", 0.5, 20, 0.1, lag_s=25),
        *_feeders("ouest", {"rate": "DEB_{f}", "set": "CONS_{f}", "drive": "VIT_{f}"}, 0.1, 0.008),
    )  # fmt: skip


def _colle() -> tuple[Signal, ...]:
    return (
        S("giri_vite", "rpm", "screw_speed", noise=0.5, step=1),
        S("press_prefiltro", "before", "melt_pressure", "pre", 1.0, 3, 0.5, position="before_screen"),
        S("press_testa", "die", "melt_pressure", "testa", 0.8, 3, 0.5, position="after_screen"),
    )


def _norte() -> tuple[Signal, ...]:
    return (
        *_zone("norte", "ZONA_{z}_{p}", "tso", 0.1),
        S("HUSILLO_RPM", "rpm", "screw_speed", noise=0.15, step=0.1),
        S("RPM_CONSIGNA", "set:speed", "screw_speed_setpoint"),
        S("MOTOR_A", "amps", "motor_current", noise=1.4, memory=3, step=0.5),
        S("P_FILTRO", "before", "melt_pressure", "antes", 1.4, 4, 0.5, position="before_screen"),
        S("P_BOQUILLA", "die", "melt_pressure", "boquilla", 1.2, 4, 0.5, position="after_screen"),
        S("T_MASA", "melt", "melt_temperature", "boquilla", 0.4, 20, 0.1, lag_s=30),
        S("TOLVA_NIVEL", "level", "hopper_level", noise=0.5, step=0.5),
        S("ACEITE_T", "oil", "gearbox_oil_temperature", noise=0.1, step=0.5),
    )  # fmt: skip


def _wschod() -> tuple[Signal, ...]:
    return (
        *_zone("wschod", "{z}.{p}", "tso", 0.1),
        S("SLIMAK_OBR", "rpm", "screw_speed", noise=0.15, step=0.1),
        S("SLIMAK_MOMENT", "torque", "torque", noise=0.7, memory=3, step=0.1),
        S("CISN_SITO", "before", "melt_pressure", "sito", 1.2, 4, 0.1, position="before_screen"),
        S("CISN_SSANIE", "suction", "melt_pressure", "ssanie", 1.0, 4, 0.1, position="pump_suction"),
        S("CISN_TLOCZ", "die", "melt_pressure", "tlocz", 0.8, 4, 0.1, position="pump_discharge"),
        S("POMPA_OBR", "pump", "melt_pump_speed", noise=0.02, step=0.01, scale=32.0),
        S("POMPA_OBC", "pump_load", "melt_pump_load", noise=0.4, step=0.1),
        S("TEMP_MASY", "melt", "melt_temperature", "dysza", 0.3, 20, 0.1, lag_s=25),
    )


def _hav() -> tuple[Signal, ...]:
    return (
        *_zone("hav", "sone_{z}_{p}", "to", 0.1),
        S("turtall", "rpm", "screw_speed", noise=0.4, step=0.1), S("turtall_bor", "set:speed", "screw_speed_setpoint"),
        S("effekt_kw", "kw", "drive_power", noise=0.8, memory=3, step=0.1),
        S("massetrykk", "before", "melt_pressure", "dyseplate", 0.9, 3, 0.1),
        S("massetemp", "melt", "melt_temperature", "dyseplate", 0.4, 20, 0.1, lag_s=20),
        *_feeders("hav", {"rate": "dos_{f}_kgh", "set": "dos_{f}_bor", "weight": "dos_{f}_kg"}, 0.1, 0.006),
        S("vann_temp", "water", "bath_temperature", noise=0.2, memory=40, step=0.1),
        S("kniv_rpm", "cutter", "cutter_speed", noise=5, step=1),
    )  # fmt: skip


SIGNALS = {
    "north": _north(), "sued": _sued(), "ouest": _ouest(), "colle": _colle(), "norte": _norte(), "wschod": _wschod(),
    "hav": _hav(),
}  # fmt: skip
