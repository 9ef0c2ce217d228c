"""Draws a line: machine, recipe point, tuning, noise, what it logs and how it writes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.benchmarks.third_plant.machine import Dialect, Feeder, Kind, Logged, Machine, Zone

Rng = np.random.Generator
# kind: screw diameters mm, rpm, bar, mean residence s, zones of the barrel, n, load scatter, kg/h of a 50 mm screw
_RANGES: dict[Kind, tuple] = {
    "twin": ((18, 26, 35, 40, 50, 58, 70, 92, 130), (260, 480), (25, 110), (28, 75), (6, 11), (0.3, 0.5), 1.0, 190),
    "pvc": ((68, 75, 88, 92), (18, 40), (140, 260), (60, 110), (4, 5), (0.33, 0.45), 1.0, 75),
    "single": ((45, 60, 75, 90, 120), (50, 110), (110, 240), (50, 110), (4, 6), (0.3, 0.5), 1.6, 85),
    "single_pump": ((60, 75, 90), (50, 110), (100, 200), (60, 110), (4, 6), (0.32, 0.5), 1.2, 85),
    "single_starved": ((45, 63, 75), (70, 130), (70, 150), (50, 90), (4, 6), (0.33, 0.45), 1.2, 75),
    "twin_flooded": ((60, 90, 110), (30, 70), (80, 160), (60, 110), (5, 7), (0.33, 0.45), 1.3, 75),
}
_MATERIALS = ("resin N1", "pellet V", "base R7", "carrier K", "regrind T", "blend 12")
_EXTRAS = ("chalk M", "talc B", "additive W", "colour 9", "fibre H", "masterbatch 4", "rubber D")
# language: time zone, time formats, decimal comma
_LANGUAGES = {
    "de": ("Europe/Berlin", ("%d.%m.%Y %H:%M:%S",), True),
    "us": ("America/Chicago", ("%m/%d/%Y %I:%M:%S %p", "%m/%d/%Y %H:%M:%S"), False),
    "en": ("UTC", ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M:%S.000"), False),
    "es": ("Europe/Madrid", ("%d/%m/%Y %H:%M:%S",), True),
    "fr": ("Europe/Paris", ("%d/%m/%Y %H:%M:%S",), True),
    "it": ("Europe/Rome", ("%d/%m/%y %H.%M.%S", "%d/%m/%Y %H:%M:%S"), True),
    "nl": ("Europe/Amsterdam", ("%d-%m-%Y %H:%M:%S",), True),
    "loop": ("UTC", ("%Y-%m-%dT%H:%M:%SZ", ""), False),
    "dots": ("UTC", ("%Y-%m-%d %H:%M:%S", ""), False),
}


def draw_machine(
    rng: Rng, kind: Kind, rich: bool | None = None, big: bool = False, needs: tuple[str, ...] = ()
) -> Machine:
    """A line of a kind. rich: log drives, weights and outputs (None: drawn). big: filler, glass and a liquid.

    needs: names in `Logged` that must be logged.
    """
    diameters, rpm, bar, residence, barrel, flow, scatter, at_50 = _RANGES[kind]
    diameter = int(rng.choice(diameters[5:] if big else diameters))
    rich = bool(rng.random() < 0.5) if rich is None else rich
    speed, amorphous = float(np.round(rng.uniform(*rpm))), kind == "pvc" or bool(rng.random() < 0.15)
    rate = at_50 * (diameter / 50) ** 2.6 * float(rng.uniform(0.75, 1.3))
    rate = float(np.round(rate, 1 if rate < 10 else 0))
    melting = (
        125.0 if kind == "pvc" else float(rng.uniform(110, 168)) if not amorphous else float(rng.uniform(130, 150))
    )
    wanted = 178.0 if kind == "pvc" else melting + float(rng.uniform(35, 60))
    count = int(rng.integers(barrel[0], barrel[1] + 1)) if not big else 11
    limit = float(rng.choice((60.0, 80.0, 100.0, 100.0)))
    zones = _zones(rng, kind, count, wanted, diameter, limit)
    melt = wanted + float(rng.uniform(4, 30) if kind != "pvc" else rng.uniform(5, 14))
    pressure, index = float(rng.uniform(*bar)), float(rng.uniform(*flow))
    net = float(rng.uniform(40, 66))
    feeders = _feeders(rng, kind, rate, zones, big)
    return Machine(
        kind=kind, diameter_mm=diameter, length_d=int(rng.choice((24, 28, 32, 36, 40, 44))), rate_kg_h=rate,
        speed_rpm=speed, speed_max=float(np.ceil(speed * rng.uniform(1.2, 1.6) / 10) * 10),
        rated_kw=float(np.ceil(rate * rng.uniform(0.25, 0.4) * 1.6)), pressure_bar=pressure,
        limit_bar=float(np.ceil(pressure * rng.uniform(1.7, 2.6) / 10) * 10), index=index,
        thins_per_c=float(rng.uniform(0.007, 0.02)), residence_s=float(rng.uniform(*residence)),
        screen_part=float(rng.uniform(0.15, 0.45)) if kind not in ("pvc",) else 0.0, idle_pct=float(rng.uniform(4, 10)),
        net_pct=net, melt_c=melt, heat_c=float(rng.uniform(18, 36)) * (0.6 if kind == "pvc" else 1.0),
        room=float(rng.uniform(1.35, 1.8)), scatter=scatter * float(rng.uniform(0.7, 1.5)),
        melting_c=melting, amorphous=amorphous, ceiling_c=melt + float(rng.uniform(30, 60)) if kind != "pvc" else 205.0,
        cadence_s=float(rng.choice((1, 2, 3, 5, 10) if not amorphous or kind == "pvc" else (1, 2, 5))), zones=zones,
        feeders=feeders, output_limit=limit,
        hopper_kg=max(25.0, float(np.round(rate * rng.uniform(0.25, 0.5)))) if kind in
        ("single", "single_pump", "twin_flooded") else 0.0,
        vent=kind in ("twin", "pvc") and bool(rng.random() < 0.75), underwater=big,
        suction_bar=float(rng.uniform(35, 70)),
        pump_rpm=float(np.round(rng.uniform(18, 45), 1)), zone_tolerance_c=float(rng.choice((4.0, 5.0, 6.0))),
        target_error=float(rng.uniform(-0.03, 0.03)), dialect=_dialect(rng, kind),
        logged=_logged(rng, kind, rich, needs),
    )  # fmt: skip


def _zones(rng: Rng, kind: Kind, count: int, wanted: float, diameter: int, limit: float) -> tuple[Zone, ...]:
    style = ("Z{}", "B{}", "H{}", "ZONE{}", "BBL{:02d}")[int(rng.integers(5))]
    size = float(np.clip((diameter / 60) ** 0.5, 0.5, 1.5))
    ends = [("adapter", "ADAPTER"), ("screen", "SCREEN"), ("die", "DIE")]
    if kind == "pvc" or rng.random() < 0.4:
        ends = [("adapter", "ADAPTER"), ("die", "DIE")] if kind != "pvc" else [("adapter", "FLANGE"), ("die", "DIE")]
    if rng.random() < 0.2 and kind != "pvc":
        ends = ends[-1:]
    found, kneading = [], set(rng.choice(np.arange(2, count), size=min(2, count - 2), replace=False).tolist())
    for i in range(count):
        feed = kind == "twin" and i == 0
        ramp = min(1.0, 0.72 + 0.28 * i / max(1, count // 2))
        set_c = float(rng.integers(45, 80)) if feed else 5 * round(wanted * ramp / 5)
        gain = float(rng.uniform(3.3, 4.6)) * 100
        if kind in ("twin", "twin_flooded"):
            shear = (
                0.0
                if feed
                else (set_c - 24) * float(rng.uniform(0.5, 0.8) if i in kneading else rng.uniform(0.1, 0.45))
            )
            element = "conveying" if i not in kneading else "kneading"
        else:
            shear = (set_c - 24) * float(rng.uniform(0.1, 0.5)) * (0.4 if i == 0 else 1.0)
            element = "conveying" if i == 0 else "compression" if i <= count // 2 else "metering"
            element = "conveying" if kind == "pvc" else element
        barrel = "feed" if feed else "barrel"
        found.append(_zone(rng, style.format(i + 1), set_c, barrel, element, gain, shear, True, 4000 * size, limit))
    for part, name in ends:
        set_c = 5.0 * round(wanted / 5) + float(rng.choice((0, 0, 5, 10)))
        gain = float(rng.uniform(3.2, 4.4)) * 100
        found.append(_zone(rng, name, set_c, part, "none", gain, float(rng.uniform(3, 10)), False, 3000 * size, limit))
    return tuple(found)


def _zone(
    rng: Rng,
    name: str,
    set_c: float,
    kind: str,
    element: str,
    gain: float,
    shear: float,
    cooled: bool,
    tau: float,
    limit: float,
) -> Zone:
    # Heaters are chosen so that the zone holds its set-point without shear at two thirds of the limit, at most.
    gain = max(gain, (set_c - 24) / (0.0066 * limit))
    tau = tau * float(rng.uniform(0.75, 1.35))
    kp = float(rng.uniform(2.8, 5.5)) * min(1.0, tau / 4000) ** 0.5
    band = min(50.0, tau / 60)
    return Zone(name, set_c, kind, element, gain, shear, cooled, tau, band, kp, float(rng.uniform(450, 900)))  # type: ignore[arg-type]


def _feeders(rng: Rng, kind: Kind, rate: float, zones: tuple[Zone, ...], big: bool) -> tuple[Feeder, ...]:
    if kind not in ("twin", "pvc", "single_starved"):
        return ()
    names = ("F{}", "D{}", "LIW{}", "W{}", "K{}")[int(rng.integers(5))]
    throat, side = zones[0].name, zones[min(4, len(zones) - 3)].name
    drive = lambda: float(rng.uniform(32, 58))  # noqa: E731
    hopper = lambda share: float(np.round(rate * share / 100 * rng.uniform(0.25, 0.45) + 0.8, 1))  # noqa: E731
    main = str(rng.choice(_MATERIALS))
    if kind != "twin":
        weighed = kind == "single_starved"
        return (Feeder(names.format(1), 100.0, main, hopper(100), throat, drive(), weighed=weighed),)
    extras = list(rng.permutation(_EXTRAS))
    parts: list[tuple[float, bool, bool, float]] = [(float(rng.uniform(1, 8)), False, False, -0.02)]
    if big or rng.random() < 0.6:
        parts.append((float(rng.uniform(12, 32)), True, False, float(rng.uniform(0.03, 0.08))))
    if big:
        parts.append((float(rng.uniform(8, 14)), True, False, float(rng.uniform(0.03, 0.07))))
    if big or rng.random() < 0.15:
        parts.append((float(rng.uniform(1.5, 4)), False, True, -0.1))
    rest = 100 - sum(part[0] for part in parts)
    found = [Feeder(names.format(1), rest, main, hopper(rest), throat, drive())]
    for i, (share, beside, liquid, torque) in enumerate(parts):
        found.append(
            Feeder(names.format(i + 2), share, str(extras[i]), hopper(share), side if beside or liquid else throat,
                   drive(), beside, liquid, True, torque)
        )  # fmt: skip
    found = [replace(f, share_pct=round(f.share_pct, 2)) for f in found]
    others = sum(f.share_pct for f in found[1:])
    return (replace(found[0], share_pct=round(100 - others, 2)), *found[1:])


def _dialect(rng: Rng, kind: Kind) -> Dialect:
    language = str(rng.choice(list(_LANGUAGES)))
    zone, formats, comma = _LANGUAGES[language]
    us = language == "us"
    shape = str(rng.choice(("wide", "wide", "wide", "parquet", "long")))
    if shape == "parquet":
        zone = "UTC"
    loads = ("%", "%", "A", "N m") if kind in ("twin", "single", "single_pump") else ("%", "%", "A")
    pressure = "psi" if us else str(rng.choice(("bar", "bar", "bar", "MPa")))
    return Dialect(
        language, zone, str(rng.choice(formats)), ";" if comma else str(rng.choice((",", ";", "\t"))), comma,
        "degF" if us else "C", pressure, "lb/h" if us else "kg/h", str(rng.choice(loads)),
        not us and pressure != "MPa" and bool(rng.random() < 0.12), shape,
        bool(rng.random() < 0.5),
    )  # fmt: skip


def _logged(rng: Rng, kind: Kind, rich: bool, needs: tuple[str, ...]) -> Logged:
    often = lambda name, p: name in needs or bool(rng.random() < p)  # noqa: E731
    return Logged(
        outputs=often("outputs", 0.9 if rich else 0.0), currents=often("currents", 0.3 if rich else 0.0),
        drives=often("drives", 0.9 if rich else 0.0), weights=often("weights", 0.9 if rich else 0.0),
        melt=often("melt", 0.85), speed_setpoint=often("speed_setpoint", 0.85),
        zone_setpoints=often("zone_setpoints", 0.9), two_pressures=often("two_pressures", 0.35),
        oil=often("oil", 0.4 if rich else 0.1), throat=often("throat", 0.4 if rich else 0.1),
        hall=often("hall", 0.4 if rich else 0.1), stuffer=often("stuffer", 0.6 if rich else 0.0),
        refill=often("refill", 0.6 if rich else 0.0),
    )  # fmt: skip
