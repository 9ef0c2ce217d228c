"""The truth of a run: its faults in words and times, for judging what a monitor says. A monitor never reads it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from sample_logs.faults import FAULTS
from sample_logs.plant import Plant
from sample_logs.scenario import Scenario

NS = 1_000_000_000


@dataclass(frozen=True)
class Truth:
    """One fault: `fault` is its key in the catalogue, `condition` what an engineer calls it.

    start_ns, end_ns: UTC; the end is cut at the end of the run (`goes_on` then). severity: see severity_means.
    moves: what physically moves.
    """

    fault: str
    family: str
    condition: str
    subject: str
    start_ns: int
    end_ns: int
    goes_on: bool
    severity: float
    severity_means: str
    moves: str

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON."""
        return asdict(self)


def truths(plant: Plant, scenario: Scenario, seconds: float) -> list[Truth]:
    """The scenario's faults that begin within the run, by start."""
    step = round(plant.cadence_s * NS)
    t0 = scenario.start_ns - scenario.start_ns % step
    found: list[Truth] = []
    for fault in sorted(scenario.faults, key=lambda f: (f.start_s, f.kind)):
        kind = FAULTS[fault.kind]
        if fault.start_s >= seconds:
            continue
        end = min(fault.end_s, seconds)
        found.append(
            Truth(
                fault.kind, kind.family, kind.words, fault.subject, t0 + round(fault.start_s * NS),
                t0 + round(end * NS), fault.end_s > seconds, fault.severity, kind.severity, kind.moves,
            )
        )  # fmt: skip
    return found
