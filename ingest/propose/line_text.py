"""The text of a line file for what was proposed: to be read, corrected and kept by a person."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator

from ingest.propose.name_evidence import HOPPER
from ingest.propose.names import tokens_of
from ingest.propose.proposal import LineProposal, LogKeys, Proposal, TagProposal
from ingest.propose.vocabulary import vocabulary
from ingest.roles import ROLES

_ZONE_KINDS = {"ADAPTER": "adapter", "PUMP": "adapter", "SCREEN": "screen", "HEAD": "die", "DIE": "die", "EXIT": "die"}
_WIDTH = 90


def line_text(proposal: Proposal, line: LineProposal) -> str:
    """The whole line file, commented."""
    return "\n".join(_lines(proposal, line)) + "\n"


def _lines(proposal: Proposal, line: LineProposal) -> Iterator[str]:
    told = [one for one in line.tags if one.told]
    yield "# Proposed from the log alone. Read it through, correct it, and take out what is wrong."
    others = "; the others stand at the end, commented out" if len(told) < len(line.tags) else ""
    yield f"# {len(told)} of {len(line.tags)} tags have a role{others}."
    if not told:
        yield "# Nothing can be judged yet: take the '# ' off the tags you know and say their role, and `at` where it"
        yield "# needs one; a zone, feeder or vent named there needs a [[zone]], [[feeder]] or [[vent]] of that name."
    for note in (*line.notes, *proposal.notes):
        yield f"# To look at: {_plain(note)}."
    yield from ("", "format = 1", "", "[line]", f"name = {_text(line.name)}")
    yield f'kind = "{line.kind}"' + (
        f"  # CANNOT TELL: {line.kind_why}. Choose: twin-screw or single-screw" * bool(line.kind_why)
    )
    zone = (
        "stamps carry their own offset; this is for times shown"
        if proposal.log.zoned
        else "stamps carry no zone: put the plant's own, such as Europe/Madrid"
    )
    yield f'time_zone = "UTC"  # {zone}'
    yield f"cadence_s = {proposal.log.cadence_s}  # usual step between stamps"
    yield '# shift_starts = ["06:00", "14:00", "22:00"]  # when shifts change, on the plant\'s clock'
    yield from _unknown_machine()
    yield from _log(proposal.log, line)
    yield from _parts(line)
    yield from ("", "# Every tag of the log and the role it plays.")
    for one in told:
        yield from _sensor(one)
    left = [one for one in line.tags if not one.told]
    if left:
        yield from ("", "# Tags that could not be told. Complete the role, and `at`, of those that matter. Roles:")
        yield from textwrap.wrap(
            ", ".join(ROLES), 110, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False
        )
    for one in left:
        yield from _left(one)


def _unknown_machine() -> Iterator[str]:
    yield from (
        "",
        "# No log tells the machine: complete these from its drawing, nameplate and manual.",
        "# [geometry]",
    )
    yield from ("# screw_diameter_mm = ", "# length_over_diameter = ", "# [drive]", "# rated_power_kw = ")
    yield from ("# rated_speed_rpm = ", "# no_load_torque_pct = ", "# [limits]", "# melt_pressure_bar = ")


def _log(log: LogKeys, line: LineProposal) -> Iterator[str]:
    yield from ("", "[log]", f'layout = "{log.layout}"')
    yield f"time_columns = [{', '.join(_text(name) for name in log.time_columns)}]"
    if log.time_format:
        guess = "  # a guess: day and month cannot be told apart" if log.time_guessed else ""
        yield f"time_format = {_text(log.time_format)}{guess}"
    if log.layout == "long":
        for key in ("tag_column", "value_column", "quality_column"):
            if getattr(log, key):
                yield f"{key} = {_text(getattr(log, key))}"
    if line.line_value:
        yield f"line_column = {_text(log.line_column)}"
        yield f"line_value = {_text(line.line_value)}"
    for key in ("lot_column", "recipe_column"):
        if getattr(log, key):
            yield f"{key} = {_text(getattr(log, key))}"


def _parts(line: LineProposal) -> Iterator[str]:
    if line.zones:
        yield from ("", "# Zones in machine order, throat to die: put them in the order of the machine.")
    for zone in line.zones:
        kind = _zone_kind(zone)
        unknown = "" if kind else "  # CANNOT TELL. Choose: barrel, adapter, screen or die"
        yield from ("[[zone]]", f"name = {_text(zone)}", f'kind = "{kind or "barrel"}"{unknown}')
    if line.feeders:
        yield from ("", "# Feeders: say what each holds, and `at`, the zone where it enters.")
    for feeder in line.feeders:
        yield from ("[[feeder]]", f"name = {_text(feeder)}")
        if feeder == HOPPER:
            yield from ('kind = "hopper"  # over a flood-fed throat; else correct it', "# hopper_kg = ")
        yield from ('# material = ""', '# at = ""')
    if line.vents:
        yield ""
    for vent in line.vents:
        yield from ("[[vent]]", f"name = {_text(vent)}", '# at = ""')


def _zone_kind(zone: str) -> str:
    """What the name of a zone says it is, '' where it is no word that is known."""
    letters = zone.rstrip("0123456789")
    if letters in ("Z", *_ZONE_KINDS):
        return _ZONE_KINDS.get(letters, "barrel")
    said = [concept for word in tokens_of(zone) for meaning in vocabulary().meanings(word)[:1] for concept in meaning]
    return next((_ZONE_KINDS[one.upper()] for one in said if one.upper() in _ZONE_KINDS), "")


def _sensor(one: TagProposal) -> Iterator[str]:
    yield "[[sensor]]"
    yield f"tag = {_text(one.tag)}"
    yield f'role = "{one.role}"  # {one.sure}: {_short(one.why)}'
    if one.subject:
        yield f"at = {_text(one.subject)}"
    if one.unit:
        how = "" if one.unit_sure == "sure" else f"  # {one.unit_sure}: {_short(one.unit_why)}"
        yield f"unit = {_text(one.unit)}{how}"
    if one.position:
        yield f'position = "{one.position}"'
    if one.hold_s:
        yield f"hold_s = {one.hold_s}  # readings stand up to so far apart in the log"


def _left(one: TagProposal) -> Iterator[str]:
    yield f"# {_short(one.why)}"
    if one.seen:
        yield f"# {_short(one.seen)}"
    yield "# [[sensor]]"
    yield f"# tag = {_text(one.tag)}"
    likely = ", ".join(
        candidate.role + (f" of {candidate.subject}" if candidate.subject else "") for candidate in one.candidates[:3]
    )
    yield "# role = " + (f'""  # may be {_short(likely)}' if likely else '""')
    yield from ('# at = ""', '# unit = ""')


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _short(text: str) -> str:
    return textwrap.shorten(_plain(text), _WIDTH, placeholder=" ...")


def _plain(text: str) -> str:
    """Fit for a comment: one line, no control characters, which TOML forbids."""
    return " ".join("".join(mark if mark.isprintable() else " " for mark in text).split())
