"""The items of each kind of part: zones, feeders, pressures, the drive, and the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dashboards.cells import Means
from dashboards.charts import limit_of
from dashboards.machine import place_machine, subject_title
from dashboards.names import channel_title
from dashboards.said_forecast import forecast_now
from dashboards.sensor_checks import SensorCheck
from dashboards.texts import say
from dashboards.trend_ahead import Trend, to_limit
from dashboards.upkeep_item import Kind, UpkeepItem, Usual, told_cells, usual_of
from dashboards.upkeep_parts import Part, one_pressure, path_part, screen_alone
from dashboards.upkeep_words import drive_words, feeder_words, plain_words, pressure_words, zone_words
from dashboards.views import stands
from ingest.roles import channel_key, split_key
from monitor.line import Line
from monitor.recipe import Window
from monitor.records import Finding

IDLE_SHARE = 0.02
"""Of the usual rate of a feeder: less is the noise of its scale."""

DRIVE_KEYS = (
    "torque",
    "motor_current",
    "drive_power",
    "screw_speed",
    "net_torque",
    "shaft_power",
    "sme",
    "specific_throughput",
)
FEEDER_ROLES = (
    "feeder_rate",
    "feeder_setpoint",
    "feeder_drive",
    "feeder_weight",
    "feeder_refill",
    "feeder_gravimetric",
    "stuffer_load",
    "share",
)
ZONE_ROLES = ("zone_temperature", "zone_setpoint", "zone_output", "zone_current")
OTHER_ROLES: dict[Kind, tuple[str, ...]] = {
    "vent": ("vacuum", "vacuum_setpoint"),
    "pump": ("melt_pump_load", "melt_pump_speed"),
    "gearbox": ("gearbox_oil_temperature", "gearbox_oil_pressure", "gearbox_filter_drop"),
    "cooling": ("cooling_water_temperature", "throat_temperature", "zone_cooling", "zone_output"),
    "couple": ("zone_temperature", "zone_output"),
    "sensor": ("melt_pressure", "melt_temperature"),
}
"""Channels of the parts that have no words of their own, the main one first."""

SHOWN_ALWAYS: tuple[Kind, ...] = ("vent", "pump", "gearbox")
"""Of these, the parts that are listed even where nothing was found."""


def last_of(y: np.ndarray) -> float | None:
    """The newest cell that was read."""
    known = y[np.isfinite(y)]
    return float(known[-1]) if len(known) else None


@dataclass(frozen=True)
class Parts:
    """What is known of a line, from which each kind of part makes its items."""

    line: Line
    cells: Means
    newest: Means
    steady: np.ndarray
    landed: dict[Part, list[Finding]]
    folded: dict[str, tuple[Finding, ...]]
    trends: dict[str, Trend | None]
    checks: Sequence[SensorCheck]
    end: int
    live: bool
    back: dict[str, int]
    windows: dict[str, Window]
    running: bool
    stood: bool
    findings: Sequence[Finding]

    def _usual(self, key: str) -> Usual | None:
        return self._usual_of(key, self.cells.row(key)) if key in self.cells.keys else None

    def _usual_of(self, key: str, y: np.ndarray) -> Usual | None:
        return usual_of(y, self.steady, self.cells.step, told_cells(self.findings, key, self.cells, self.end))

    def _latest(self, key: str) -> float | None:
        if key not in self.newest.keys:
            return None
        y = self.newest.row(key)
        y = y[np.isfinite(y)]
        return float(y.mean()) if len(y) else None

    def _about(self, part: Part) -> tuple[Finding, ...]:
        return tuple(
            sorted(
                self.landed.get(part, ()),
                key=lambda f: (not f.open, not stands(f, self.end), f.last.priority, -f.last.since),
            )
        )

    def _stop(self, key: str, findings: Sequence[Finding]) -> tuple[float, float, float | None] | None:
        """What a standing finding forecast goes before the plain trend of the last hours."""
        said = [self._said(f) for f in findings if stands(f, self.end)]
        told = min((s for s in said if s is not None), default=None, key=lambda s: s[0])
        if told is not None:
            return told
        limit, line = limit_of(self.line, key), self.trends.get(key)
        return to_limit(line, limit) if line is not None and limit is not None else None

    def _said(self, finding: Finding) -> tuple[float, float, float | None] | None:
        key = finding.last.channel
        high = self.windows[key].high if key in self.windows else None
        return forecast_now(
            finding, self.end, running=self.running, back=self.back, reading=self._latest(key), high=high
        )

    def _item(self, kind: Kind, subject: str, key: str, keys: Sequence[str], words: str, strain: float) -> UpkeepItem:
        title = subject_title(self.line, key) if subject else ""
        if kind == "link":
            title = channel_title(self.line, key)
        findings = self._about((kind, subject))
        at_part = kind in ("couple", "sensor")
        return UpkeepItem(
            self.line.name,
            kind,
            subject,
            title or subject,
            words,
            key,
            tuple(keys),
            findings,
            self._stop(key, findings),
            strain,
            self.trends.get(key),
            limit_of(self.line, key),
            tuple(check for check in self.checks if at_part and check.key in keys),
            self.line.line.time_zone,
            self.end,
            self.live,
            tuple((f.last.finding, self.folded[f.last.finding]) for f in findings if f.last.finding in self.folded),
            kind != "screen" or screen_alone(self.line),
            tuple((f.last.finding, self.back[f.last.finding]) for f in findings if f.last.finding in self.back),
            line_stands=self.stood,
        )

    def zones(self) -> list[UpkeepItem]:
        found = []
        for zone in self.line.zone:
            keys = [channel_key(role, zone.name) for role in ZONE_ROLES]
            keys = [key for key in keys if key in self.line.channels]
            if not keys:
                continue
            output = channel_key("zone_output", zone.name)
            usual, now = self._usual(output), self._latest(output)
            temperature = self._latest(channel_key("zone_temperature", zone.name))
            wanted = self._latest(channel_key("zone_setpoint", zone.name))
            off = temperature - wanted if temperature is not None and wanted is not None else None
            strain = max(
                abs(usual.shift) / 3 if usual else 0.0,
                abs(off) / 5 if off is not None else 0.0,
                (now or 0.0) / zone.output_limit_pct,
            )
            main = output if output in keys else keys[0]
            found.append(
                self._item("zone", zone.name, main, keys, zone_words(zone, now, usual, off, temperature), strain)
            )
        return found

    def feeders(self) -> list[UpkeepItem]:
        found = []
        for feeder in self.line.feeder:
            keys = [channel_key(role, feeder.name) for role in FEEDER_ROLES]
            logged = [key for key in keys if key in self.line.channels]
            if not logged:
                continue
            rate_key, drive_key = (
                channel_key("feeder_rate", feeder.name),
                channel_key("feeder_drive", feeder.name),
            )
            rate, wanted = self._latest(rate_key), self._latest(channel_key("feeder_setpoint", feeder.name))
            drive, usual = self._latest(drive_key), self._usual(drive_key)
            factor = None
            if rate_key in logged and drive_key in logged:
                with np.errstate(invalid="ignore", divide="ignore"):
                    per_drive = self.cells.row(rate_key) / np.where(
                        self.cells.row(drive_key) > 1, self.cells.row(drive_key), np.nan
                    )
                factor = self._usual_of(rate_key, per_drive * 100)
            off = (rate - wanted) / wanted * 100 if rate is not None and wanted else None
            strain = max((drive or 0.0) / feeder.drive_limit_pct, abs(off) / 3 if off is not None else 0.0)
            words = feeder_words(off, drive, feeder.drive_limit_pct, usual, factor)
            if self._idle(feeder.name):
                # Of one that is not asked to feed, neither drive nor distance from set tells anything.
                strain, words = 0.0, say("upkeep.feeder_stands")
            main = drive_key if drive_key in logged else logged[0]
            found.append(self._item("feeder", feeder.name, main, keys, words, strain))
        return found

    def _idle(self, feeder: str) -> bool:
        """Whether it feeds nothing because the screws stand or its set rate is 0."""
        rate, wanted = (self._newest(channel_key(role, feeder)) for role in ("feeder_rate", "feeder_setpoint"))
        if not self.stood and (wanted is None or wanted > 0):
            return False
        usual = self._usual_rate(channel_key("feeder_rate", feeder))
        return rate is None or usual is None or rate <= IDLE_SHARE * usual

    def _newest(self, key: str) -> float | None:
        return last_of(self.newest.row(key)) if key in self.newest.keys else None

    def _usual_rate(self, key: str) -> float | None:
        y = self.cells.row(key)[self.steady] if key in self.cells.keys else np.array([])
        y = y[np.isfinite(y)]
        return float(np.median(y)) if len(y) else None

    def pressures(self) -> list[UpkeepItem]:
        places = place_machine(self.line)
        keys = [s.key for s in self.line.sensor if s.role == "melt_pressure"]
        found = []
        for key in sorted(keys, key=lambda k: places.place(k) or 0):
            kind, subject = path_part(self.line, split_key(key)[1])
            if subject != split_key(key)[1]:
                continue
            group = [channel_key("melt_pressure", at) for at in one_pressure(self.line, subject)]
            titles, told = [subject_title(self.line, k) for k in group], [self._pressure(k) for k in group]
            words = (
                told[0][0] if len(group) == 1 else "; ".join(f"{t} {w}" for t, (w, _) in zip(titles, told, strict=True))
            )
            # One that does not read now leaves the chart and the trend to the other.
            main = next((k for k in group if self._latest(k) is not None), key)
            item = self._item(kind, subject, main, group, words, max(strain for _, strain in told))
            found.append(replace(item, title=", ".join(titles)))
        return found

    def _pressure(self, key: str) -> tuple[str, float]:
        """What is said of one sensor, and its strain."""
        now, limit, usual = self._latest(key), limit_of(self.line, key), self._usual(key)
        strain = max((now or 0.0) / limit if limit else 0.0, abs(usual.shift) / 4 if usual else 0.0)
        return pressure_words(now, limit, self.trends.get(key), key in self.line.relative_channels), strain

    def drive(self) -> list[UpkeepItem]:
        keys = [key for key in DRIVE_KEYS if key in self.line.channels]
        if not keys:
            return []
        key = next((k for k in ("torque", "motor_current", "drive_power") if k in keys), keys[0])
        now, limit, usual = self._latest(key), limit_of(self.line, key), self._usual(key)
        words = drive_words(self.line, key, now, limit, usual)
        return [self._item("drive", "", key, list(DRIVE_KEYS), words, (now or 0.0) / limit if limit else 0.0)]

    def others(self, there: set[tuple[str, str]]) -> list[UpkeepItem]:
        """Vents, pump and gearbox; and every other part that something was found at or a sensor check failed for."""
        wanted: dict[Part, None] = {}
        for kind in SHOWN_ALWAYS:
            for key in self.line.channels:
                if split_key(key)[0] in OTHER_ROLES[kind]:
                    wanted[(kind, split_key(key)[1])] = None
        for check in self.checks:
            role, at = split_key(check.key)
            wanted[("couple" if role.startswith("zone_") else "sensor", at)] = None
        wanted |= dict.fromkeys(self.landed)
        return [self._other(*part) for part in wanted if part not in there]

    def _other(self, kind: Kind, subject: str) -> UpkeepItem:
        keys = [channel_key(role, subject) for role in OTHER_ROLES.get(kind, ())]
        if kind == "cooling" and subject == "throat":
            keys = ["throat_temperature"]
        if kind == "link":
            keys = [subject]
        keys = [key for key in keys if key in self.line.channels]
        about = self._about((kind, subject))
        main = keys[0] if keys else next((f.last.channel for f in about), "")
        words = plain_words(self.line, [(key, self._latest(key)) for key in keys])
        return self._item(kind, subject, main, keys or [main], words, 0.0)
