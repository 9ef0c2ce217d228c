"""Gathers what speaks for every (tag, role, subject): the name, the numbers, the company it keeps, its place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ingest.propose.die_neighbours import DieNeighbours, die_neighbours
from ingest.propose.header_pattern import UNNAMED, Key, votes_of_place
from ingest.propose.loop_stems import same_loop
from ingest.propose.loop_zones import LoopZones, loop_zones
from ingest.propose.name_evidence import PLACES, Named, roles_named, says_otherwise, unit_agrees
from ingest.propose.names import TagName
from ingest.propose.ranges import can_be
from ingest.propose.relations import Relations
from ingest.propose.tag_numbers import TagNumbers
from ingest.propose.zone_power import ZonePower, zone_power
from ingest.roles import ROLES

SETPOINT_OF = {
    "zone_temperature": "zone_setpoint", "screw_speed": "screw_speed_setpoint", "feeder_rate": "feeder_setpoint",
    "line_rate": "line_rate_setpoint", "vacuum": "vacuum_setpoint",
}  # fmt: skip
ACTUAL_OF = {setpoint: actual for actual, setpoint in SETPOINT_OF.items()}

# How far each witness goes, where 1 is a name that says it in full.
_FITS, _CANNOT = 0.1, -1.0
_SERIES, _LOOP, _SEVERAL = 0.2, 0.25, -0.6
_FULL = 0.9
_LOOPS = (
    frozenset({"zone_temperature", "zone_setpoint", "zone_output"}),
    frozenset({"feeder_rate", "feeder_setpoint", "feeder_weight"}),
)
_CLEAR, _ALONE, _ALONE_STILL, _FALLS, _REFILLS = 0.75, 0.75, 0.45, 0.7, 0.8
_UNNAMED, _SAYS_OTHER = 0.65, 0.5
_TWO_PLACES, _ONE_PLACE = 0.65, 0.35
_AT_SETPOINT = 0.2
_SEVERAL_ZONES = 3
_ZONE = ("zone_temperature", "")
_LEAST_BESIDE, _SHARE_BESIDE = 4, 0.7
_SUM = 0.8
_SAME_LOOP = 0.8
_NEXT_TO = 0.65
_PERCENT = 0.75
_OF_THE_DRIVE = frozenset({"drive_power", "motor_current"})


@dataclass
class Case:
    """What speaks for one (role, subject) of one tag. never_sure: what speaks for it is one thing seen several ways."""

    score: float = 0.0
    witnesses: list[tuple[float, str]] = field(default_factory=list)
    position: str = ""
    never_sure: bool = False

    def add(self, weight: float, reason: str) -> None:
        """One more witness."""
        self.score += weight
        self.witnesses.append((weight, reason))

    @property
    def reasons(self) -> tuple[str, ...]:
        """What speaks for it, the weightiest first, then what speaks against it."""
        return tuple(dict.fromkeys(reason for _, reason in sorted(self.witnesses, key=lambda one: -one[0])))


Cases = dict[str, dict[Key, Case]]


@dataclass(frozen=True)
class Witnesses:
    """All there is to go by, tags in the order of the log. numbers, relations: empty where only names are known."""

    names: Sequence[TagName]
    numbers: Mapping[str, TagNumbers]
    relations: Relations

    @property
    def order(self) -> list[str]:
        """Tags as the log lists them."""
        return [name.tag for name in self.names]


def gather(witnesses: Witnesses, known: Mapping[str, Key]) -> Cases:
    """The case for every role of every tag. known: roles that are certain enough to lean on."""
    cases: Cases = {name.tag: {} for name in witnesses.names}
    loops = loop_zones(witnesses.names, witnesses.numbers, witnesses.relations, known)
    _by_name(witnesses, cases)
    _by_loop(loops, cases)
    dies = die_neighbours(witnesses.names, witnesses.numbers, witnesses.relations, known)
    _by_neighbours(dies, cases)
    powers = zone_power(witnesses.names, witnesses.numbers, known)
    _by_power(powers, cases)
    _by_company(witnesses, known, cases)
    _by_place(witnesses, known, cases)
    _no_other_than(loops, cases)
    _no_feeders(dies, cases)
    _not_of_the_line(powers, cases)
    _only_one(witnesses, cases)
    _merge_unnamed(cases)
    _by_numbers(witnesses, cases)
    return cases


def _case(cases: Cases, tag: str, key: Key) -> Case:
    return cases[tag].setdefault(key, Case())


def _by_name(witnesses: Witnesses, cases: Cases) -> None:
    named: dict[str, list[Named]] = {name.tag: roles_named(name) for name in witnesses.names}
    words = {name.tag: _words(name) for name in witnesses.names}
    series: dict[tuple[str, tuple[str, ...]], set[str]] = defaultdict(set)
    alike: dict[tuple[str, tuple[str, ...]], set[str]] = defaultdict(set)
    loops: dict[str, set[str]] = defaultdict(set)
    for tag, found in named.items():
        for one in found:
            series[one.role, words[tag]].add(one.subject)
            alike[one.role, words[tag]].add(tag)
            if one.subject:
                loops[one.subject].add(one.role)
    whole = {family: {s for s, roles in loops.items() if len(roles & family) >= 2} for family in _LOOPS}
    for tag, found in named.items():
        for one in found:
            case = _case(cases, tag, (one.role, one.subject))
            case.position = one.position
            case.add(one.strength, "the name says it" if one.strength >= _FULL else "the name may mean it")
            if ROLES[one.role].per == "line" and len(alike[one.role, words[tag]]) > 1:
                case.add(_SEVERAL, "but several tags differ from it by a number only")
            if not one.subject or one.strength >= _FULL:
                continue
            count = len(series[one.role, words[tag]])
            if count >= 3:
                case.add(_SERIES, f"one of {count} names of a series")
            for family, subjects in whole.items():
                if one.role in family and one.subject in subjects and len(subjects) >= 2:
                    beside = set[str]().union(*(loops[subject] & family for subject in subjects)) - {one.role}
                    case.add(_LOOP, f"{len(subjects)} such names come with {' and '.join(sorted(beside))}")


def _words(name: TagName) -> tuple[str, ...]:
    """The words of a name without its numbers: 'Zone D1' is of the series of 'Zone 1'."""
    concepts = name.readings[0].concepts if name.readings else frozenset[str]()
    placed = "zone" in concepts and bool(concepts & set(PLACES))
    return tuple(token for token in name.tokens if not token.isdigit() and not (placed and len(token) == 1))


def _only_one(witnesses: Witnesses, cases: Cases) -> None:
    """Of tags that differ by a word only that is not understood none is the line's: 'FA set kg/h', 'FB set kg/h'."""
    alike: dict[tuple[str, ...], list[TagName]] = defaultdict(list)
    for name in witnesses.names:
        unknown = name.readings[0].unknown if name.readings else ()
        if unknown:
            alike[(name.unit, *("*" if token in unknown else token for token in _words(name)))].append(name)
    for names in alike.values():
        for name in names if len(names) > 1 else ():
            said = {one.role for one in roles_named(name) if ROLES[one.role].per == "line"}
            cases[name.tag] = {key: case for key, case in cases[name.tag].items() if key[0] not in said}


def _by_loop(loops: LoopZones, cases: Cases) -> None:
    """A loop like those of the zones is a zone, and what its name says of the role goes over to it."""
    for tag, key in loops.zones.items():
        named = [case for (role, subject), case in cases[tag].items() if role == key[0] and subject != key[1]]
        case = _case(cases, tag, key)
        if named and not case.witnesses:
            best = max(named, key=lambda one: one.score)
            case.score, case.witnesses = best.score, list(best.witnesses)
        # Company at a set-point is what made it a zone, and makes it no surer.
        case.never_sure = not case.witnesses
        case.add(_SAME_LOOP, f"has the same tags, level and stillness as a zone, as '{loops.like[tag]}'")


def _no_other_than(loops: LoopZones, cases: Cases) -> None:
    """A loop that is told is no zone of another name, and what is as still as the zones is no feeder by a letter."""
    for tag, key in loops.zones.items():
        cases[tag] = {k: case for k, case in cases[tag].items() if k == key or ROLES[k[0]].per != "zone"}
    for tag in loops.no_feeder:
        cases[tag] = {k: case for k, case in cases[tag].items() if ROLES[k[0]].per != "feeder"}


def _by_neighbours(dies: DieNeighbours, cases: Cases) -> None:
    for tag, zone in dies.dies.items():
        case = _case(cases, tag, ("zone_temperature", zone))
        case.never_sure = True
        case.add(_NEXT_TO, "stands right behind the zones, named as they are but for a D, and as warm and still")


def _by_power(powers: ZonePower, cases: Cases) -> None:
    for tag, key in powers.outputs.items():
        case = _case(cases, tag, key)
        case.never_sure = True
        case.add(_PERCENT, powers.why[tag])


def _not_of_the_line(powers: ZonePower, cases: Cases) -> None:
    """What stands beside the temperature and set-point of a zone is no current or power of the main drive."""
    for tag in powers.beside:
        cases[tag] = {key: case for key, case in cases[tag].items() if key[0] not in _OF_THE_DRIVE}


def _no_feeders(dies: DieNeighbours, cases: Cases) -> None:
    for tag in dies.no_feeder:
        cases[tag] = {key: case for key, case in cases[tag].items() if ROLES[key[0]].per != "feeder"}


def _by_company(witnesses: Witnesses, known: Mapping[str, Key], cases: Cases) -> None:
    relations = witnesses.relations
    _by_heating(relations, known, cases)
    _by_stillness(relations, known, cases)
    _by_setpoint(relations, known, cases)
    _by_setpoint_beside(witnesses, known, cases)
    _by_weight(witnesses, known, cases)
    _by_sum(witnesses, known, cases)


def _by_heating(relations: Relations, known: Mapping[str, Key], cases: Cases) -> None:
    several = len(relations.heats) >= _SEVERAL_ZONES
    for pair in relations.heats:
        zone = _subject(known, pair.second, "zone_temperature") or _subject(known, pair.first, "zone_output")
        if not zone and not several:
            continue  # a feeder's drive answers its rate in the same way; zones come in numbers
        weight = _CLEAR if zone else _UNNAMED
        zone = zone or UNNAMED + pair.second
        _case(cases, pair.first, ("zone_output", zone)).add(weight, f"goes back when '{pair.second}' rises")
        _case(cases, pair.second, ("zone_temperature", zone)).add(weight, f"'{pair.first}' goes back when it rises")
    for pair in relations.draws:
        zone = _subject(known, pair.first, "zone_output")
        if zone:
            _case(cases, pair.second, ("zone_current", zone)).add(_CLEAR, f"goes with the output '{pair.first}'")


def _by_stillness(relations: Relations, known: Mapping[str, Key], cases: Cases) -> None:
    for tag in relations.steady:
        if any(case.score >= _SAYS_OTHER for case in cases[tag].values()) or tag in known:
            continue  # what a name says goes before
        reason = "stands still at a set-point, as several others do at their own"
        _case(cases, tag, ("zone_temperature", UNNAMED + tag)).add(_UNNAMED, reason)


def _subject(known: Mapping[str, Key], tag: str, role: str) -> str:
    key = known.get(tag)
    return key[1] if key and key[0] == role else ""


def _by_setpoint(relations: Relations, known: Mapping[str, Key], cases: Cases) -> None:
    for one in relations.follows:
        actual, wanted = known.get(one.actual), known.get(one.wanted)
        # A pair that both names speak of is borne out by sitting at one level, even where others sit there too.
        for key in list(cases[one.actual]):
            partner = SETPOINT_OF.get(key[0])
            if partner and (partner, key[1]) in cases[one.wanted]:
                _case(cases, one.actual, key).add(_AT_SETPOINT, f"sits at '{one.wanted}'")
                _case(cases, one.wanted, (partner, key[1])).add(_AT_SETPOINT, f"'{one.actual}' sits at it")
        if not one.alone:
            continue
        weight = _ALONE if one.moved else _ALONE_STILL
        if actual and actual[0] in SETPOINT_OF:
            key = (SETPOINT_OF[actual[0]], actual[1])
            _case(cases, one.wanted, key).add(weight, f"'{one.actual}' and nothing else sits at it")
        if wanted and wanted[0] in ACTUAL_OF:
            key = (ACTUAL_OF[wanted[0]], wanted[1])
            _case(cases, one.actual, key).add(weight, f"sits at '{one.wanted}', and nothing else does")


def _by_setpoint_beside(witnesses: Witnesses, known: Mapping[str, Key], cases: Cases) -> None:
    """Many zones sit at one level; their set-points are told by standing equally far from the temperature."""
    place = {tag: i for i, tag in enumerate(witnesses.order)}
    zones = {pair.second: UNNAMED + pair.second for pair in witnesses.relations.heats}
    zones |= {tag: UNNAMED + tag for tag in witnesses.relations.steady}
    zones |= {tag: key[1] for tag, key in known.items() if key[0] == "zone_temperature"}
    zones = {tag: zone for tag, zone in zones.items() if known.get(tag, _ZONE)[0] == _ZONE[0]}
    pairs = [one for one in witnesses.relations.follows if one.actual in zones and one.wanted not in zones]
    steps: dict[int, set[str]] = defaultdict(set)
    for one in pairs:
        steps[place[one.wanted] - place[one.actual]].add(one.actual)
    if not steps:
        return
    ranked = sorted(steps, key=lambda step: -len(steps[step]))
    count = len(steps[ranked[0]])
    clear = len(ranked) == 1 or count >= 1.5 * len(steps[ranked[1]])
    if count < _LEAST_BESIDE or count < _SHARE_BESIDE * len(zones) or not clear:
        return
    for one in pairs:
        if place[one.wanted] - place[one.actual] == ranked[0]:
            reason = f"'{one.actual}' sits at it, {count} zones have theirs in that place"
            _case(cases, one.wanted, ("zone_setpoint", zones[one.actual])).add(_UNNAMED, reason)


def _by_weight(witnesses: Witnesses, known: Mapping[str, Key], cases: Cases) -> None:
    relations, numbers = witnesses.relations, witnesses.numbers
    tokens = {name.tag: name.tokens for name in witnesses.names}
    for pair in relations.falls:
        if pair.lead <= 0 and not same_loop(tokens[pair.first], tokens[pair.second]):
            continue
        role = "feeder_setpoint" if numbers[pair.second].stepped else "feeder_rate"
        feeder = (
            _subject(known, pair.first, "feeder_weight")
            or _subject(known, pair.second, "feeder_rate")
            or _subject(known, pair.second, "feeder_setpoint")
        )
        if not feeder and pair.lead < 1.0:
            continue  # one match without a set-point may be chance
        weight = _FALLS if feeder else _UNNAMED
        feeder = feeder or UNNAMED + pair.first
        _case(cases, pair.first, ("feeder_weight", feeder)).add(weight, f"falls as '{pair.second}' says")
        if role == "feeder_rate" or feeder[0] != UNNAMED:
            _case(cases, pair.second, (role, feeder)).add(weight, f"is how fast '{pair.first}' falls")
    for pair in relations.refills:
        feeder = _subject(known, pair.second, "feeder_weight") or _subject(known, pair.first, "feeder_refill")
        weight = _REFILLS if feeder else _UNNAMED
        feeder = feeder or UNNAMED + pair.second
        _case(cases, pair.first, ("feeder_refill", feeder)).add(weight, f"is on while '{pair.second}' goes up")
        _case(cases, pair.second, ("feeder_weight", feeder)).add(weight, f"goes up while '{pair.first}' is on")


def _by_sum(witnesses: Witnesses, known: Mapping[str, Key], cases: Cases) -> None:
    """A set-point that is the sum of those of two or more feeders is that of the line."""
    numbers = witnesses.numbers
    parts = [tag for tag, key in known.items() if key[0] == "feeder_setpoint" and tag in numbers]
    total = sum(numbers[tag].middle for tag in parts)
    if len(parts) < 2 or not total > 0:
        return
    for tag, one in numbers.items():
        if one.stepped and not one.switch and tag not in parts and abs(one.middle - total) <= 0.005 * total:
            _case(cases, tag, ("line_rate_setpoint", "")).add(_SUM, "is the sum of the feeders' set-points")


def _by_place(witnesses: Witnesses, known: Mapping[str, Key], cases: Cases) -> None:
    for tag, votes in votes_of_place(witnesses.order, known).items():
        if len({key for key, _ in votes.items()}) > 1 and votes.most_common(2)[0][1] == votes.most_common(2)[1][1]:
            continue
        key, count = votes.most_common(1)[0]
        weight = _TWO_PLACES if count >= 2 else _ONE_PLACE
        _case(cases, tag, key).add(weight, f"stands where the log lists that ({count} of its neighbours agree)")


def _merge_unnamed(cases: Cases) -> None:
    """Where a name or a place tells which zone or feeder an unnamed one is, all its cases move there."""
    names: dict[str, str] = {}
    for found in cases.values():
        for role, subject in list(found):
            if not subject.startswith(UNNAMED):
                continue
            named = [(case.score, key[1]) for key, case in found.items() if key[0] == role and key[1][:1] != UNNAMED]
            if named:
                names.setdefault(subject, max(named)[1])
    for found in cases.values():
        for key in list(found):
            if key[1] in names:
                case = found.pop(key)
                into = found.setdefault((key[0], names[key[1]]), Case())
                into.score += case.score
                into.witnesses += case.witnesses


def _by_numbers(witnesses: Witnesses, cases: Cases) -> None:
    for name in witnesses.names:
        numbers = witnesses.numbers.get(name.tag)
        if numbers is None or not numbers.count:
            continue
        for key, case in cases[name.tag].items():
            if name.unit_firm and not unit_agrees(key[0], name):
                case.add(_CANNOT, f"but its unit is {name.unit}")
            elif says_otherwise(key[0], name):
                case.add(_CANNOT, "but its name speaks of something else")
            elif can_be(key[0], numbers, name.unit if name.unit_firm else ""):
                case.add(_FITS, "its numbers can be that")
            else:
                case.add(_CANNOT, f"but {numbers.low:.4g} to {numbers.high:.4g} cannot be that")
