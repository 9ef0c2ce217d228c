"""Melt windows, ceilings, densities and cautions of the usual polymers.

Figures are for unfilled standard grades and seed a recipe; **the supplier's sheet for the grade always
overrides them**. A ceiling is a prompt and no safety limit. Where each column comes from is said in
`SOURCES`.
"""

from __future__ import annotations

import csv
import difflib
import importlib.resources
import re
from dataclasses import dataclass
from functools import cache
from typing import Literal

Kind = Literal["crystalline", "amorphous", "block"]

AMORPHOUS_MARGIN_C = 50.0
"""How far above its glass transition an amorphous melt must be before a screw may turn in it; common
practice, no source."""

SOURCES = {
    "callister": "Callister & Rethwisch, Fundamentals of Materials Science and Engineering, appendix E",
    "crawford": "Crawford, Plastics Engineering, table 1.8; solid densities too",
    "moulding_table": "a public injection-moulding table of melt temperature ranges",
    "pom_guide": "a POM producer's moulding guide: residence limits at melt temperatures",
    "tpu_page": "a TPU producer's page on extrusion",
    "hilado": "Hilado, Flammability Handbook for Plastics: all decomposition ranges. They are short-time onsets; "
    "minutes of residence lower them by tens of degrees",
    "memory": "value from memory of Osswald, International Plastics Handbook; Rao & O'Brien, Design Data for "
    "Plastics Engineers; Rauwendaal, Polymer Extrusion. So are all melt windows, ceilings, melt densities and "
    "heat capacities",
    "practice": "common practice, no source",
}
"""Source by the tag that stands in the table."""


class MaterialError(ValueError):
    """A material that is not in the table."""


@dataclass(frozen=True)
class Span:
    """A range, both ends included."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half-way between the ends."""
        return (self.low + self.high) / 2


@dataclass(frozen=True)
class HotHold:
    """Minutes a melt may stand still at up to this temperature."""

    up_to_c: float
    minutes: float


@dataclass(frozen=True)
class Material:
    """One polymer family.

    code: after ISO 1043 where it has one. also: other names it is found by.
    transition_c: melting range of a crystalline or block polymer, glass transition of an amorphous one.
    melt_c: window of the melt in extrusion and compounding. ceiling_c: default upper limit of the melt.
    moulding_melt_c: window in injection moulding, for comparison. dry_to_pct: moisture to dry to, None
    where drying is not usual. decomposition_c: where known. hot_hold: ordered by temperature; none above
    the last.
    transition_source, moulding_source, hot_hold_source: tags of `SOURCES`, joined by '+'. cautions: keys of
        `CAUTIONS`.
    """

    code: str
    also: tuple[str, ...]
    kind: Kind
    transition_c: Span
    transition_source: str
    melt_c: Span
    ceiling_c: float
    moulding_melt_c: Span | None
    moulding_source: str
    solid_density_kg_m3: Span
    melt_density_kg_m3: Span
    cp_melt_kj_kg_k: Span
    dry_to_pct: float | None
    decomposition_c: Span | None
    hot_hold: tuple[HotHold, ...]
    hot_hold_source: str
    cautions: tuple[str, ...]


CAUTIONS = {
    "acetic_acid": "Above about 220 C EVA gives off acetic acid, which bites eyes and lungs and corrodes steel.",
    "fluorine": "Above about 350 C fluoropolymers give off fumes that make people ill, and may give off hydrogen "
    "fluoride. Overheated PVDF can react violently with glass, titanium or boron fillers.",
    "formaldehyde": "POM gives off formaldehyde. Keep it at 190 to 210 C, never at 250 C or above, and hold it "
    "hot only briefly. Acids, PVC and halogen flame retardants make it worse.",
    "hydrogen_chloride": "Overheated or held hot, PVC gives off hydrogen chloride, and its own acid drives it on: "
    "it discolours, then chars, and the gas chokes and corrodes. Never leave a hot barrel full of it; purge "
    "before a soak.",
    "hydrolysis": "Water in the melt breaks its chains. Dry it and log the dryer's dew point with the run. Signs: "
    "pressure and torque fall at the same rate and temperature, the vent foams.",
    "isocyanate": "Overheated TPU can give off traces of isocyanate, which may sensitise lungs and skin.",
    "monomer": "Above about 260 C PMMA falls back into its monomer, a flammable vapour.",
    "never_with_pom": "PVC and POM must never meet in one barrel, hopper, dryer or grinder: gas may be set free "
    "violently. No purge makes such a change-over acceptable.",
    "never_with_pvc": "POM and PVC must never meet in one barrel, hopper, dryer or grinder: gas may be set free "
    "violently. No purge makes such a change-over acceptable.",
    "polyamide": "Hot polyamide gives off caprolactam or ammonia.",
    "polyolefin": "Above about 280 C at the die it smokes and gives off aldehydes; after a hot hold expect "
    "oxidised gels.",
    "styrene": "The hot melt gives off styrene, and grades with acrylonitrile traces of that.",
    "sulphur": "Overheated PPS gives off sulphur gases that are corrosive and harmful.",
}
"""Short cautions by key."""

ALWAYS = (
    "Halogen flame retardants give off acid gas when overheated. Extract fumes at die, vent and purge. The machine "
    "maker's manual, the supplier's safety data sheet, the site's procedure and local codes come before this text."
)
"""Ends every caution."""


def material(code: str) -> Material:
    """The material of this code or other name; case, blanks, hyphens and dots do not matter.

    Raises MaterialError, which lists the codes and the nearest.
    """
    names = _by_name()
    key = _key(code)
    if key in names:
        return names[key]
    longer = [found.code for name, found in names.items() if key and name.startswith(key)]
    close = [names[name].code for name in difflib.get_close_matches(key, names, n=2)]
    nearest = list(dict.fromkeys(longer or close))[:3]
    hint = f" (did you mean {' or '.join(repr(name) for name in nearest)}?)" if nearest else ""
    raise MaterialError(f"material '{code}' is not known{hint}; known are {', '.join(codes())}")


def codes() -> tuple[str, ...]:
    """Codes of all materials, in the order of the table."""
    return tuple(found.code for found in _table())


def cold_start_limit_c(material: Material, margin_c: float = 10.0) -> float:
    """Temperature every zone from the melting length to the die must have before the screw may turn.

    margin_c: above the upper end of the melting range of a crystalline or block polymer; an amorphous one
    takes `AMORPHOUS_MARGIN_C` above its glass transition. Never above the low end of the melt window: a
    line that runs there is not cold. The supplier's sheet knows better.
    """
    margin = AMORPHOUS_MARGIN_C if material.kind == "amorphous" else margin_c
    return min(material.transition_c.high + margin, material.melt_c.low)


def hot_hold_min(material: Material, temperature_c: float | None = None) -> float:
    """Minutes the melt may stand still in a hot barrel; 0 above the last temperature that has any.

    temperature_c: of the hottest zone that holds melt; upper end of the melt window where none is given.
    """
    hottest = material.melt_c.high if temperature_c is None else temperature_c
    return next((hold.minutes for hold in material.hot_hold if hottest <= hold.up_to_c), 0.0)


def caution_for(code: str) -> str:
    """Short text on what the material does to people and machines when hot. Raises MaterialError."""
    return " ".join([*(CAUTIONS[key] for key in material(code).cautions), ALWAYS])


def must_never_meet(first: str, second: str) -> bool:
    """Whether two materials may not use the same equipment, not even one after the other.

    Raises MaterialError.
    """
    cautions = {*material(first).cautions, *material(second).cautions}
    return {"never_with_pom", "never_with_pvc"} <= cautions


@cache
def _table() -> tuple[Material, ...]:
    text = (importlib.resources.files("monitor") / "data" / "materials.csv").read_text(encoding="utf-8")
    return tuple(_material(row) for row in csv.DictReader(text.splitlines()))


@cache
def _by_name() -> dict[str, Material]:
    return {_key(name): found for found in _table() for name in (found.code, *found.also)}


def _key(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.casefold())


def _material(row: dict[str, str]) -> Material:
    def span(name: str, unit: str) -> Span | None:
        low, high = row[f"{name}_low_{unit}"], row[f"{name}_high_{unit}"]
        return Span(float(low), float(high)) if low else None

    def known(name: str, unit: str) -> Span:
        found = span(name, unit)
        if found is None:
            raise MaterialError(f"material '{row['code']}' has no {name} in the table")
        return found

    ceiling_c = float(row["ceiling_c"])
    return Material(
        code=row["code"],
        also=_parts(row["also"]),
        kind=row["kind"],  # pyright: ignore[reportArgumentType] # a test holds the table to the three kinds
        transition_c=known("transition", "c"),
        transition_source=row["transition_source"],
        melt_c=known("melt", "c"),
        ceiling_c=ceiling_c,
        moulding_melt_c=span("moulding", "c"),
        moulding_source=row["moulding_source"],
        solid_density_kg_m3=known("solid_density", "kg_m3"),
        melt_density_kg_m3=known("melt_density", "kg_m3"),
        cp_melt_kj_kg_k=known("cp_melt", "kj_kg_k"),
        dry_to_pct=float(row["dry_to_pct"]) if row["dry_to_pct"] else None,
        decomposition_c=span("decomposition", "c"),
        hot_hold=_hot_hold(row["hot_hold"], ceiling_c),
        hot_hold_source=row["hot_hold_source"],
        cautions=_parts(row["cautions"]),
    )


def _hot_hold(text: str, ceiling_c: float) -> tuple[HotHold, ...]:
    """From '200:60|210:30' by temperature, or from '30', which holds up to the ceiling."""
    steps = [part.split(":") for part in text.split("|")]
    if len(steps[0]) == 1:
        return (HotHold(ceiling_c, float(text)),)
    return tuple(HotHold(float(up_to_c), float(minutes)) for up_to_c, minutes in steps)


def _parts(text: str) -> tuple[str, ...]:
    return tuple(text.split("|")) if text else ()
