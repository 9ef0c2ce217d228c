"""The material table.

Outside anchors: usual temperatures of the melt-flow test (ISO 1133 family; values from memory), the rule of
thumb that a barrel is about 50 C above the crystalline melting point (common practice, no source),
residence limits of a POM producer's moulding guide.
"""

import dataclasses
import typing

import pytest

from monitor.materials import (
    ALWAYS,
    CAUTIONS,
    SOURCES,
    Kind,
    Material,
    MaterialError,
    Span,
    caution_for,
    codes,
    cold_start_limit_c,
    hot_hold_min,
    material,
    must_never_meet,
)

every_material = pytest.mark.parametrize("code", codes())

# Melt-flow test temperature, ISO 1133 family, value from memory.
MELT_FLOW_C = {
    "PE-LD": 190, "PE-LLD": 190, "PE-HD": 190, "PP": 230, "PS": 200, "ABS": 220, "SAN": 220, "PMMA": 230, "PC": 300,
    "POM-C": 190, "POM-H": 190, "PA6": 235, "PA66": 275, "PBT": 250, "PLA": 190,
}  # fmt: skip


def spans(found: Material) -> dict[str, Span]:
    values = {field.name: getattr(found, field.name) for field in dataclasses.fields(found)}
    return {name: value for name, value in values.items() if isinstance(value, Span)}


def test_thirty_one_families() -> None:
    assert len(codes()) == 31
    assert len(set(codes())) == 31


@every_material
def test_a_row_makes_sense(code: str) -> None:
    found = material(code)

    assert found.kind in typing.get_args(Kind)
    for name, span in spans(found).items():
        assert 0 < span.low <= span.high, name
    assert found.transition_c.low < found.melt_c.high <= found.ceiling_c
    assert found.melt_density_kg_m3.high < found.solid_density_kg_m3.high
    assert 1 < found.cp_melt_kj_kg_k.middle < 3
    assert found.dry_to_pct is None or 0 < found.dry_to_pct <= 0.2


@every_material
def test_sources_and_cautions_are_known(code: str) -> None:
    found = material(code)
    tags = [*found.transition_source.split("+"), found.hot_hold_source]

    assert set(tags) <= set(SOURCES)
    assert (found.moulding_melt_c is None) == (found.moulding_source == "")
    assert set(found.cautions) <= set(CAUTIONS)


def test_every_caution_is_used() -> None:
    assert {key for code in codes() for key in material(code).cautions} == set(CAUTIONS)


@pytest.mark.parametrize("code", MELT_FLOW_C)
def test_melt_flow_temperature_lies_in_the_window(code: str) -> None:
    window = material(code).melt_c

    assert window.low - 5 <= MELT_FLOW_C[code] <= window.high + 5


@pytest.mark.parametrize(
    ("code", "melting_c", "fits"),
    [
        ("PP", 165, True), ("PE-HD", 137, True), ("PE-LD", 115, True), ("PA6", 220, True), ("PEEK", 334, True),
        ("PA66", 265, False), ("PET", 265, False), ("POM-C", 165, False), ("POM-H", 178, False),
    ],
)  # fmt: skip
def test_fifty_above_the_melting_point_is_no_limit(code: str, melting_c: float, fits: bool) -> None:
    """Common practice, no source: it fits some polymers and overshoots the window of PA66, PET and POM."""
    window = material(code).melt_c

    assert (window.low <= melting_c + 50 <= window.high) is fits


@every_material
def test_cold_start_is_above_the_transition_and_not_above_the_window(code: str) -> None:
    found = material(code)
    limit = cold_start_limit_c(found, margin_c=10)

    assert limit <= found.melt_c.low
    assert limit >= (found.transition_c.low if found.kind != "amorphous" else found.transition_c.high + 40)


def test_cold_start_limits() -> None:
    assert cold_start_limit_c(material("PP"), margin_c=10) == 185
    assert cold_start_limit_c(material("PC"), margin_c=10) == 200
    # 268 + 10 is above the low end of the window, where the line may well run.
    assert cold_start_limit_c(material("PA66"), margin_c=10) == 270


@pytest.mark.parametrize(
    ("temperature_c", "minutes"), [(200, 60), (201, 30), (210, 30), (230, 10), (231, 0), (None, 30)]
)
def test_pom_copolymer_residence_limits(temperature_c: float | None, minutes: float) -> None:
    """A producer's moulding guide: at most 60 min at 200, 30 min at 210, 10 min at 230 C, and never 250 C."""
    assert hot_hold_min(material("POM-C"), temperature_c) == minutes


@every_material
def test_nothing_may_stand_above_its_ceiling(code: str) -> None:
    found = material(code)

    assert hot_hold_min(found) > 0
    assert hot_hold_min(found, found.ceiling_c + 1) == 0


@pytest.mark.parametrize(
    ("written", "code"),
    [("pp", "PP"), ("HDPE", "PE-HD"), ("pe hd", "PE-HD"), ("PA 6.6", "PA66"), ("PC+ABS", "PC/ABS"), ("hips", "PS-I"),
     ("POM copolymer", "POM-C"), ("PP+30-40% mineral", "PP-mineral")],
)  # fmt: skip
def test_other_names(written: str, code: str) -> None:
    assert material(written).code == code


def test_no_two_materials_share_a_name() -> None:
    names = [name for code in codes() for name in (code, *material(code).also)]

    assert [material(name).code for name in names] == [code for code in codes() for _ in (code, *material(code).also)]


@pytest.mark.parametrize(
    ("written", "hint"),
    [("PVC", "'PVC-U' or 'PVC-P'"), ("POM", "'POM-C' or 'POM-H'"), ("PA67", "'PA6"), ("PBTT", "'PBT'")],
)
def test_an_unknown_material_says_what_is_near_and_what_is_known(written: str, hint: str) -> None:
    with pytest.raises(MaterialError, match=rf"'{written}' is not known \(did you mean {hint}.*known are PP, PP-m"):
        material(written)


def test_nothing_near() -> None:
    with pytest.raises(MaterialError, match="'ZZZ' is not known; known are PP"):
        material("ZZZ")


@every_material
def test_every_caution_defers_to_the_manual_and_the_site(code: str) -> None:
    text = caution_for(code)

    assert text.endswith(ALWAYS)
    assert all(word in text for word in ("maker's manual", "site's procedure", "local codes"))


@pytest.mark.parametrize(
    ("code", "word"),
    [("PVC-U", "hydrogen chloride"), ("POM-C", "formaldehyde"), ("PVDF", "hydrogen fluoride"), ("PET", "Water"),
     ("EVA", "acetic acid"), ("PPS", "sulphur"), ("PMMA", "monomer"), ("TPU", "isocyanate"), ("PA6", "caprolactam")],
)  # fmt: skip
def test_cautions_name_the_hazard(code: str, word: str) -> None:
    assert word in caution_for(code)


def test_pvc_and_pom_never_meet() -> None:
    met = {frozenset((first, second)) for first in codes() for second in codes() if must_never_meet(first, second)}

    assert met == {frozenset((pvc, pom)) for pvc in ("PVC-U", "PVC-P") for pom in ("POM-C", "POM-H")}
