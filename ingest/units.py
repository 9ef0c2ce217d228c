"""Unit names as plants write them, and how readings in one become readings in another.

Pressures may say what they are measured against by a suffix: `barg`, `bar(g)`, `psig` over atmosphere,
`bara`, `psi abs` absolute, `mbar vac` below atmosphere. See `to_unit` for what a plain pressure name means.
"""

from __future__ import annotations

import difflib
import functools
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

import numpy as np

from ingest.unit_table import UNITS, Unit

STANDARD_ATMOSPHERE_MBAR = 1013.25
"""Assumed where a gauge or vacuum reading must become absolute and the site's own pressure is not given.
Every 100 m above the sea takes about 12 mbar off, which matters at a vent and hardly at a die."""

RELATIVE = "relative"
"""A unit that is not known: its readings pass unchanged, and only tests relative to themselves use them."""

Readings = TypeVar("Readings", float, np.ndarray)


class UnitError(ValueError):
    """A unit name is unknown or ambiguous, or one quantity was asked to become another."""


@dataclass(frozen=True)
class Conversion:
    """`wanted = scale * given + offset`."""

    scale: float
    offset: float = 0.0

    def apply(self, readings: Readings) -> Readings:
        """Readings in the wanted unit, same shape; NaN stays NaN."""
        return self.scale * readings + self.offset

    def apply_to_difference(self, differences: Readings) -> Readings:
        """Differences (deadbands, tolerances) in the wanted unit: a band of 18 F is 10 C, no 32 in it."""
        return self.scale * differences


# Names that plants do write but that have more than one meaning: a guess would be wrong somewhere.
_THREE_TONS = "has three sizes; write 't' (1000 kg), 'short ton' or 'long ton', per hour with '/h'"
_BAROMETRIC = "may be absolute or below atmosphere; add 'abs' or 'vac'"
_AMBIGUOUS = {
    "ton": _THREE_TONS,
    "tons": _THREE_TONS,
    "ton/h": _THREE_TONS,
    "tons/h": _THREE_TONS,
    "tph": _THREE_TONS,
    "inhg": _BAROMETRIC,
    '"hg': _BAROMETRIC,
    "mmhg": _BAROMETRIC,
    "hz": "on a drive is the inverter's frequency, which motor poles and gearbox turn into a screw speed; "
    "if it really is turns per second write 'rev/s'",
}
# Written so, and only so, this is the millipascal; nobody logs one, and many mean its thousand-millionfold.
_MILLIPASCAL = "mPa"

# Suffixes that say what a pressure is measured against, and the way back to absolute pressure:
# absolute = sign * reading + atmospheres * atmosphere.
_SUFFIXES = {
    "g": "gauge",
    "gauge": "gauge",
    "ü": "gauge",
    "a": "absolute",
    "abs": "absolute",
    "absolute": "absolute",
    "vac": "vacuum",
    "vacuum": "vacuum",
}
_TO_ABSOLUTE = {"absolute": (1, 0), "gauge": (1, 1), "vacuum": (-1, 1)}

# The two plain pressures kept inside: melt pressure over atmosphere, vent pressure absolute.
_PLAIN_MEANS = {"bar": "gauge", "mbar": "absolute"}


def _tidy(name: str) -> str:
    """One spelling of a written unit: no blanks, no brackets around it, powers as plain digits."""
    # 'º' is the ordinal sign many keyboards give for '°'; 'Â°' is UTF-8 read as Latin-1.
    text = name.replace("º", "°").replace("Â°", "°")
    text = unicodedata.normalize("NFKC", text).replace("\N{MINUS SIGN}", "-").strip().rstrip(".")
    if re.fullmatch(r"\[.*\]|\([^()]*\)", text):
        text = text[1:-1]
    return re.sub(r"[\s·⋅*^]", "", text)


_BY_SPELLING = {_tidy(spelling): unit for unit in UNITS for spelling in unit.spellings}
# Plants write 'KG/H' and 'RPM' too. No two units of the table differ in case only (a test holds this).
_BY_FOLDED = {spelling.casefold(): unit for spelling, unit in _BY_SPELLING.items()}


def _find(key: str) -> Unit | None:
    return _BY_SPELLING.get(key) or _BY_FOLDED.get(key.casefold())


def _find_with_suffix(key: str) -> tuple[Unit, str] | None:
    """A pressure with a suffix such as 'barg', 'psi(a)', 'mbarvac': the unit and its reference."""
    for suffix, reference in _SUFFIXES.items():
        for ending in (f"({suffix})", suffix):
            if key.casefold().endswith(ending):
                unit = _find(key[: -len(ending)])
                if unit is not None and unit.quantity == "pressure":
                    return unit, reference
    return None


def _parse(name: str, wanted: str | None = None) -> tuple[Unit, str | None]:
    """The unit a name stands for and, for a pressure that says so, its reference.

    wanted: quantity looked for, which an error message then lists.
    """
    key = _tidy(name)
    if not key:
        raise UnitError(f"no unit is given{_possible(wanted)}")
    if key == _MILLIPASCAL:
        raise UnitError("unit 'mPa' is the millipascal; if the megapascal is meant write 'MPa'")
    if key.casefold() in _AMBIGUOUS:
        raise UnitError(f"unit '{name}' {_AMBIGUOUS[key.casefold()]}")
    unit = _find(key)
    if unit is not None:
        return unit, None
    found = _find_with_suffix(key)
    if found is not None:
        return found
    raise UnitError(f"unit '{name}' is not known{_nearest(key, wanted)}{_possible(wanted)}")


def _possible(quantity: str | None) -> str:
    return f"; units of {quantity}: {', '.join(unit_names(quantity))}" if quantity else ""


@functools.lru_cache(maxsize=1024)
def _nearest(key: str, wanted: str | None) -> str:
    names = _spellings(wanted)
    close = difflib.get_close_matches(key.casefold(), names, n=1, cutoff=0.6)
    return f" (did you mean '{names[close[0]]}'?)" if close else ""


@functools.cache
def _spellings(wanted: str | None) -> dict[str, str]:
    """By its tidied, folded form, every spelling of the units of a quantity, or of all."""
    return {
        _tidy(spelling).casefold(): spelling
        for unit in UNITS
        if wanted is None or unit.quantity == wanted
        for spelling in unit.spellings
    }


def unit_names(quantity: str) -> tuple[str, ...]:
    """Names of the units of a quantity ('pressure', 'mass rate', ...), as this module writes them."""
    return tuple(unit.name for unit in UNITS if unit.quantity == quantity)


def quantity_of(name: str) -> str:
    """The quantity a unit belongs to: `quantity_of('psi')` is 'pressure'. Raises UnitError."""
    return _parse(name)[0].quantity


def to_unit(name_from: str, name_to: str, *, atmosphere_mbar: float = STANDARD_ATMOSPHERE_MBAR) -> Conversion:
    """How readings in one unit become readings in another of the same quantity.

    name_from: as the plant writes it: '°C', 'PSI', 'kg/hr', 'U/min', 'bar(g)', 'inHg vac'. Case counts only
        where it tells units apart. 'relative' passes readings unchanged.
    name_to: likewise; usually the fixed unit of a role.
    atmosphere_mbar: air pressure at the site, used only where a pressure changes its reference.

    Plain pressure names say nothing of their reference. Where both names are plain none is assumed. Where one
    says it, plain 'bar' is taken as over atmosphere and plain 'mbar' as absolute, which is how melt pressure
    and vent pressure are kept; any other plain name is taken to mean the same as the name that says it.

    Raises UnitError for a name that is unknown or has several meanings, and for two different quantities.
    """
    if name_from == RELATIVE:
        return Conversion(1.0)
    target, target_reference = _parse(name_to)
    source, source_reference = _parse(name_from, wanted=target.quantity)
    if source.quantity != target.quantity:
        raise UnitError(
            f"unit '{name_from}' measures {source.quantity} and cannot become '{name_to}'{_possible(target.quantity)}"
        )
    scale, offset = source.scale, source.offset - target.offset
    if source_reference or target_reference:
        source_reference = source_reference or _PLAIN_MEANS.get(source.name, target_reference)
        target_reference = target_reference or _PLAIN_MEANS.get(target.name, source_reference)
        atmosphere_pa = 100 * Fraction(atmosphere_mbar)
        source_sign, source_atmospheres = _TO_ABSOLUTE[str(source_reference)]
        target_sign, target_atmospheres = _TO_ABSOLUTE[str(target_reference)]
        scale *= source_sign * target_sign
        offset = target_sign * (source_atmospheres - target_atmospheres) * atmosphere_pa
    return Conversion(float(scale / target.scale), float(offset / target.scale))
