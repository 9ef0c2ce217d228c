"""From what a name says to the roles it may play, each with a strength and the subject."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ingest.propose.names import Reading, TagName
from ingest.propose.unit_in_name import CONCEPT_OF, known_unit
from ingest.propose.vocabulary import table
from ingest.roles import ROLES

PLACES = ("die", "head", "adapter", "screen")
HOPPER = "HOPPER"
"""Name of a feeder that is the hopper over the throat."""
_UNEXPLAINED, _UNKNOWN, _WEAK = 0.6, 0.04, 0.15
_ZONE_LIKE = frozenset({"zone", *PLACES})
_MEASURED = frozenset({"temperature", "pressure", "speed", "rate", "weight", "current", "power", "voltage", "torque"})
_SHARES = frozenset({"torque", "speed", "power", "current"})
"""What may be shown in percent of its rated value."""
_INDEXED = frozenset({"", "temperature", "heating", "rate", "weight", "current", "setpoint", "actual", "output"})
"""What a number may stand behind to be that of a zone or feeder which the name does not mention."""
_UNIT_SPEAKS, _UNIT_ALONE = 0.15, 0.3
_OF_A_LOOP = frozenset({"output", "auto"})
LEAST = 0.15


@dataclass(frozen=True)
class Form:
    """One way in which a name can speak of a role; see role_names.toml."""

    role: str
    need: tuple[frozenset[str], ...]
    also: frozenset[str]
    strength: float
    index: bool


@dataclass(frozen=True)
class Named:
    """A role that a name may speak of. subject: for people and for telling apart, '' for the line.

    strength: 1 where the name says it in full. position: where a melt pressure stands, as in the line file.
    """

    role: str
    subject: str
    strength: float
    position: str = ""


@cache
def forms() -> tuple[Form, ...]:
    """The forms of role_names.toml."""
    found = []
    for entry in table("role_names.toml")["form"]:  # type: ignore[attr-defined]
        need = tuple(_ZONE_LIKE if word == "@zone" else frozenset(word.split("|")) for word in entry["need"])
        also = frozenset(entry.get("also", ()))
        found.append(Form(entry["role"], need, also, entry["strength"], entry.get("index", False)))
    return tuple(found)


def roles_named(name: TagName) -> list[Named]:
    """Roles that a name may speak of, likeliest first; empty where it says nothing."""
    best: dict[tuple[str, str], Named] = {}
    for place, reading in enumerate(name.readings):
        for form in forms():
            strength = _strength(form, reading) - 0.01 * place
            if strength < LEAST:
                continue
            strength += _unit_fit(form.role, name)
            if strength < LEAST:
                continue
            subject, position = _subject(form.role, reading)
            known = best.get((form.role, subject))
            if known is None or strength > known.strength:
                best[form.role, subject] = Named(form.role, subject, round(strength, 3), position)
    return sorted(best.values(), key=lambda one: -one.strength)


def says_no_role(name: TagName) -> bool:
    """Whether the name says that it is a limit, an alarm, a property of a raw material or the like."""
    return bool(name.readings) and all(reading.concepts & {"none", "raw", "humidity"} for reading in name.readings)


def _strength(form: Form, reading: Reading) -> float:
    concepts = reading.concepts
    used: set[str] = set()
    for one_of in form.need:
        there = one_of & concepts
        if not there:
            return 0.0
        used |= there
    if form.index and not any(before in _INDEXED for before, _ in reading.numbers):
        return 0.0
    if reading.by_unit and ROLES[form.role].per in ("zone", "feeder"):
        return 0.0  # a number in a word that says nothing is no number of a zone
    rest = concepts - used - form.also
    said = min(form.strength, _UNIT_ALONE) if reading.by_unit else form.strength
    strength = said - _UNEXPLAINED * len(rest) - min(0.2, _UNKNOWN * len(reading.unknown))
    return strength - _WEAK * len(reading.weak & used)


def _unit_fit(role: str, name: TagName) -> float:
    """How a unit speaks: for the role if it measures the same, firmly against it if it does not."""
    if not name.quantity:
        return 0.0
    return (
        _UNIT_SPEAKS * (1.0 if name.unit_firm else 0.5)
        if unit_agrees(role, name)
        else (-1.0 if name.unit_firm else -0.3)
    )


def unit_agrees(role: str, name: TagName) -> bool:
    """Whether the unit of a tag measures what the role needs; no unit speaks against nothing."""
    wanted = known_unit(ROLES[role].unit)
    if not name.quantity or name.quantity == wanted:
        return True
    return (
        (role == "torque" and name.quantity == "torque")
        or (role == "feeder_drive" and name.quantity == "rotational speed")
        or (ROLES[role].unit == "1" and name.quantity == "share")
    )


def says_otherwise(role: str, name: TagName) -> bool:
    """Whether a word of the name, in every reading of it, measures something that the role does not."""
    unit = ROLES[role].unit
    wanted = _SHARES if unit == "%" else {CONCEPT_OF.get(known_unit(unit), "")}
    # In 'TIC 1 OP' the temperature names the loop; what is shown is its output.
    loop = _OF_A_LOOP if role in ("zone_output", "zone_auto", "feeder_drive") else frozenset[str]()
    said = [
        (reading.concepts - reading.weak) & _MEASURED
        for reading in name.readings
        if not reading.by_unit and not reading.concepts & loop
    ]
    return bool(said) and all(one and not one & wanted for one in said)


def _number(reading: Reading, *concepts: str) -> int | None:
    """The number right behind one of the concepts, else the first that no other word claims, else the first."""
    for before, number in reading.numbers:
        if before in concepts:
            return number
    claimed = ("neutral", "drive", "screw", "pump")
    free = [number for before, number in reading.numbers if before not in claimed]
    return free[0] if free else reading.numbers[-1][1] if reading.numbers else None


def _subject(role: str, reading: Reading) -> tuple[str, str]:
    per = ROLES[role].per
    if per == "line":
        return "", ""
    concepts = reading.concepts
    if per == "zone":
        for place in PLACES:
            if place in concepts and not ("zone" in concepts and _has(reading, "zone")):
                number = _number(reading, place)
                return f"{place.upper()}{number if number is not None else ''}", ""
        number = _number(reading, "zone", "temperature", "heating")
        if number is None:
            return ("EXIT" if "outlet" in concepts else "Z"), ""
        return f"Z{number}", ""
    if per == "feeder":
        number = _number(reading, "feeder", "stuffer", "feed", "side")
        if number is None and "hopper" in concepts and not concepts & {"feeder", "stuffer", "feed", "side"}:
            return HOPPER, ""
        if number is None:
            return f"F {' '.join(reading.unknown).upper()}".strip() if reading.unknown else "F", ""
        return f"F{number}", ""
    if per == "vent":
        number = _number(reading, "vent", "vacuum")
        return f"V{number if number is not None else 1}", ""
    letter = "P" if role == "melt_pressure" else "M"
    number = _number(reading, "pressure", "melt", "temperature")
    position = _position(concepts) if role == "melt_pressure" else ""
    where = [place for place in ("before", "after", *PLACES, "pump", "inlet", "outlet") if place in concepts]
    if where and number is None:
        return f"{letter} {' '.join(where)}", position
    return f"{letter}{number if number is not None else 1}", position


def _has(reading: Reading, concept: str) -> bool:
    return any(before == concept for before, _ in reading.numbers)


def _position(concepts: frozenset[str]) -> str:
    if concepts & {"screen", "filter"}:
        return "after_screen" if "after" in concepts else "before_screen" if "before" in concepts else ""
    if "pump" in concepts:
        return (
            "pump_suction"
            if concepts & {"inlet", "before"}
            else "pump_discharge"
            if concepts & {"outlet", "after"}
            else ""
        )
    return ""
