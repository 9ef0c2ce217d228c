"""What is proposed for a log: for every tag a role, how sure, why, and what else it may be."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Sure = Literal["sure", "likely", "a guess", "cannot tell"]


@dataclass(frozen=True)
class Candidate:
    """A role a tag may play. score: about 1 where one full witness speaks for it. reasons: likeliest first."""

    role: str
    subject: str
    score: float
    reasons: tuple[str, ...]
    position: str = ""


@dataclass(frozen=True)
class TagProposal:
    """One tag. role, subject: '' where it cannot be told. unit: '' where there is none to say.

    candidates: what it may be, best first, also where the best is not good enough.
    position: of a melt pressure, as in the line file. hold_s: how long a reading must stand for the log's own steps
        between readings, 0 where the role's own time is enough.
    why: in words; for what cannot be told, why not. seen: what its readings are like, '' where there are none.
    """

    tag: str
    role: str
    subject: str
    unit: str
    sure: Sure
    unit_sure: Sure
    why: str
    candidates: tuple[Candidate, ...] = ()
    position: str = ""
    unit_why: str = ""
    hold_s: float = 0.0
    seen: str = ""

    @property
    def told(self) -> bool:
        """Whether a role is proposed."""
        return bool(self.role)


@dataclass(frozen=True)
class LineProposal:
    """One line of the log, ready to be written as a line file.

    kind_why: empty where the kind can be told. zones: throat to die. notes: what to look at before it is used.
    """

    name: str
    kind: Literal["twin-screw", "single-screw"]
    kind_why: str
    tags: tuple[TagProposal, ...]
    zones: tuple[str, ...]
    feeders: tuple[str, ...]
    vents: tuple[str, ...]
    line_value: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class LogKeys:
    """The [log] table and the clock. time_guessed: time_format leaves day and month open."""

    layout: str = "wide"
    time_columns: tuple[str, ...] = ()
    time_format: str = ""
    tag_column: str = ""
    value_column: str = ""
    quality_column: str = ""
    line_column: str = ""
    lot_column: str = ""
    recipe_column: str = ""
    cadence_s: float = 1.0
    zoned: bool = True
    time_guessed: bool = False


@dataclass(frozen=True)
class Proposal:
    """All lines of a log. left_out: tags that belong to none of them. notes: about the log as a whole."""

    log: LogKeys
    lines: tuple[LineProposal, ...]
    left_out: tuple[TagProposal, ...] = ()
    notes: tuple[str, ...] = field(default=())
