"""Proposes the line file of a log from the log alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ingest.propose.assign import Assigned, assign
from ingest.propose.behaviour import relations_of
from ingest.propose.evidence import Witnesses
from ingest.propose.header_pattern import UNNAMED, Key
from ingest.propose.holds import holds_needed
from ingest.propose.line_name import DRIVEN, names_of_line
from ingest.propose.machines import Machine, machines_in
from ingest.propose.name_evidence import HOPPER, says_no_role
from ingest.propose.names import TagName
from ingest.propose.opened import Opened, open_any
from ingest.propose.proposal import Candidate, LineProposal, LogKeys, Proposal, TagProposal
from ingest.propose.relations import Relations
from ingest.propose.sample import Sample, take_sample
from ingest.propose.seen import seen_of
from ingest.propose.standing import with_standing_readings
from ingest.propose.subject_names import subject_names, tidy, zone_rank
from ingest.propose.tag_numbers import TagNumbers, numbers_of
from ingest.propose.unit_choice import UnitChosen, choose_units
from ingest.roles import ROLES

_SURROUNDINGS = frozenset({"ambient_temperature", "cooling_water_temperature", "mains_voltage"})
"""Roles of tags outside all machines that every line may have."""
MOST_TAGS = 2000
"""Tags of one line that are compared with one another; of more only the names are read."""


def propose(paths: Sequence[Path | str], *, name: str = "", time_format: str = "") -> Proposal:
    """What a log holds, line by line. name: of the line, where the log holds one. Raises BadLog.

    time_format: how its time is written, as in a line file, where that cannot be found by looking.

    Reads a bounded number of rows from all over the log.
    """
    opened = open_any([Path(path) for path in paths], time_format)
    first = opened[0]
    units = {tag: unit for one in reversed(opened) for tag, unit in one.log.units.items()}
    lines: list[LineProposal] = []
    left_out: list[TagProposal] = []
    cadence = 0.0
    several = first.line_column and len(first.line_values) > 1
    for value in first.line_values if several else ("",):
        sample = take_sample(opened, value)
        cadence = max(cadence, sample.cadence_s)
        found, out = _lines_of(sample, units, name or value, opened)
        lines += [_with_value(one, value, first) for one in found]
        left_out += out
    notes = [note for one in opened for note in one.notes]
    if not first.zoned:
        notes.append("stamps carry no time zone: put the plant's own into time_zone")
    keys = LogKeys(
        first.layout, first.times.columns, first.time_format, first.tag_column, first.value_column,
        first.quality_column, first.line_column if several else "", first.lot_column, first.recipe_column,
        _cadence(cadence), first.zoned, bool(first.time_format) and first.time_format != time_format,
    )  # fmt: skip
    return Proposal(keys, tuple(lines), tuple(left_out), tuple(dict.fromkeys(notes)))


def propose_names(tags: Sequence[str], units: Mapping[str, str] | None = None, *, name: str = "") -> Proposal:
    """What names alone say, without one reading. units: from below the header, by tag."""
    lines, left_out = _of_tags(list(tags), dict(units or {}), None, name)
    return Proposal(LogKeys(), tuple(lines), tuple(left_out))


def propose_sample(sample: Sample, units: Mapping[str, str] | None = None, *, name: str = "") -> Proposal:
    """What rows of a log say, under the tags they have there. units: from below the header, by tag."""
    lines, left_out = _of_tags(list(sample.tags), dict(units or {}), sample, name)
    return Proposal(LogKeys(), tuple(lines), tuple(left_out))


def _with_value(line: LineProposal, value: str, first: Opened) -> LineProposal:
    if not value:
        return line
    return replace(line, line_value=value, name=tidy(value) if first.line_column else line.name)


def _cadence(step_s: float) -> float:
    """A round cell width near the usual step, within what a line file takes."""
    rounded = round(step_s) if step_s >= 1 and abs(step_s - round(step_s)) < 0.1 * step_s else round(step_s, 2)
    return float(min(60.0, max(0.1, rounded))) if step_s > 0 else 1.0


def _lines_of(
    sample: Sample, units: dict[str, str], name: str, opened: Sequence[Opened]
) -> tuple[list[LineProposal], list[TagProposal]]:
    tags = list(sample.tags)
    found, left_out = _of_tags(tags, units, sample, name)
    words = [tag for one in opened if one.layout == "wide" for tag in one.names if tag not in one.numeric]
    left_out += [_left(tag, "holds texts, not numbers") for tag in dict.fromkeys(words) if tag not in tags]
    return found, left_out


def _left(tag: str, why: str) -> TagProposal:
    return TagProposal(tag, "", "", "", "cannot tell", "cannot tell", why)


def _of_tags(
    tags: list[str], units: dict[str, str], sample: Sample | None, name: str
) -> tuple[list[LineProposal], list[TagProposal]]:
    machines, rest = machines_in(tags)
    if not machines:
        return [_line(Machine(name or "line 1", tuple(tags), True), units, sample, bool(name))], []
    lines, left_out = [], []
    around = _line(Machine("", tuple(rest), True), units, sample, True).tags if rest else ()
    shared = tuple(one for one in around if one.role in _SURROUNDINGS)
    for machine in machines:
        if machine.driven:
            line = _line(machine, units, sample, True)
            lines.append(_joined(line, shared))
        else:
            why = f"{machine.name} has no screw drive among its tags, so it is not taken for an extruder"
            left_out += [_left(tag, why) for tag in machine.tags]
    left_out += [
        _left(one.tag, f"stands outside the machines {machines[0].name} ... {machines[-1].name}")
        for one in around if one not in shared
    ]  # fmt: skip
    return lines, left_out


def _joined(line: LineProposal, shared: tuple[TagProposal, ...]) -> LineProposal:
    there = {one.role for one in line.tags}
    return replace(line, tags=(*line.tags, *(one for one in shared if one.role not in there)))


def _line(machine: Machine, units: dict[str, str], sample: Sample | None, named: bool) -> LineProposal:
    names = names_of_line(machine.tags, units)
    own = with_standing_readings(sample.of(machine.tags)) if sample is not None else None
    numbers: dict[str, TagNumbers] = {}
    relations = Relations()
    if own is not None:
        each = numbers_of(own)
        numbers = dict(zip(machine.tags, each, strict=True))
        if len(machine.tags) <= MOST_TAGS:
            relations = relations_of(own, each)
    judged = [one for one in names if not says_no_role(one)]
    assigned = assign(Witnesses(judged, numbers, relations))
    copies = {tag: other for pair in relations.same for tag, other in (pair, pair[::-1])}
    keys = {tag: one.key for tag, one in assigned.items() if one.key is not None}
    subjects = subject_names(keys, list(machine.tags))
    chosen = choose_units({tag: key[0] for tag, key in keys.items()}, names, numbers)
    tags = []
    apart = dict(zip(own.tags, own.apart_s.tolist(), strict=True)) if own is not None else {}
    holds = holds_needed({tag: key[0] for tag, key in keys.items()}, own) if own is not None else {}
    for tag_name in names:
        tag = tag_name.tag
        tags.append(
            _tag(
                tag_name,
                assigned.get(tag),
                subjects,
                chosen,
                numbers.get(tag),
                copies.get(tag, ""),
                holds.get(tag, 0.0),
            )
        )
    tags = _without_ambiguous_copies(tags, copies)
    tags = [replace(one, seen=seen_of(one.tag, numbers, relations, apart)) for one in tags]
    return _whole(machine, tuple(tags), named)


def _tag(
    name: TagName,
    one: Assigned | None,
    subjects: Mapping[tuple[str, Key], str],
    chosen: Mapping[str, UnitChosen],
    numbers: TagNumbers | None,
    copy: str,
    hold_s: float,
) -> TagProposal:
    if one is None:
        return _left(name.tag, "the name speaks of a limit, an alarm, a raw material or the like")
    if one.key is None:
        why = one.why_not
        if numbers is not None and not numbers.count:
            why += "; it holds no readings"
        return TagProposal(name.tag, "", "", "", "cannot tell", "cannot tell", why, one.candidates)
    role, subject = one.key[0], subjects[name.tag, one.key]
    unit = chosen[name.tag]
    reasons = "; ".join(one.candidates[0].reasons)
    if copy:
        reasons += f"; shows the same as '{copy}' in every row"
    position = one.candidates[0].position if role == "melt_pressure" else ""
    candidates = tuple(_named(candidate, name.tag, subjects) for candidate in one.candidates)
    return TagProposal(
        name.tag, role, subject, unit.unit, one.sure, unit.sure, reasons, candidates, position, unit.why,
        hold_s,
    )  # fmt: skip


def _named(candidate: Candidate, tag: str, subjects: Mapping[tuple[str, Key], str]) -> Candidate:
    subject = subjects.get((tag, (candidate.role, candidate.subject)), candidate.subject.removeprefix(UNNAMED))
    return replace(candidate, subject=subject)


def _without_ambiguous_copies(tags: list[TagProposal], copies: Mapping[str, str]) -> list[TagProposal]:
    """Of two tags that are one, with different roles, at least one is called wrongly, and it is not told which."""
    by_tag = {one.tag: one for one in tags}
    judged = []
    for one in tags:
        other = by_tag.get(copies.get(one.tag, ""))
        if one.told and other is not None and other.told and other.role != one.role:
            why = f"shows the same as '{other.tag}' in every row, so one of the two names is wrong"
            one = TagProposal(one.tag, "", "", "", "cannot tell", "cannot tell", why, one.candidates)
        judged.append(one)
    return judged


def _whole(machine: Machine, tags: tuple[TagProposal, ...], named: bool) -> LineProposal:
    told = [one for one in tags if one.told]
    subjects = {
        per: tuple(dict.fromkeys(one.subject for one in told if ROLES[one.role].per == per))
        for per in ("zone", "feeder", "vent")
    }
    zones = tuple(sorted(subjects["zone"], key=zone_rank))
    roles = {one.role for one in told}
    kind, why = "single-screw", ""
    feeders = [name for name in subjects["feeder"] if name != HOPPER]
    over_throat = "hopper_level" in roles or HOPPER in subjects["feeder"]
    if len(feeders) >= 2 or (feeders and not over_throat):
        kind = "twin-screw"
    elif not over_throat:
        why = "neither feeders nor a hopper are in the log, so the kind of machine cannot be told"
    notes = []
    if any(_only_by_behaviour(one) for one in told if ROLES[one.role].per == "zone"):
        notes.append("some zones are known by behaviour only: their names and their order are as the log lists them")
    if not roles & DRIVEN:
        notes.append("no screw speed, torque or motor current was found")
    if not named:
        notes.append("give the line its own name")
    return LineProposal(
        tidy(machine.name), kind, why, tags, zones, tuple(sorted(subjects["feeder"], key=zone_rank)),
        subjects["vent"], "", tuple(notes),
    )  # fmt: skip


def _only_by_behaviour(one: TagProposal) -> bool:
    return not any("name" in reason for reason in one.candidates[0].reasons)
