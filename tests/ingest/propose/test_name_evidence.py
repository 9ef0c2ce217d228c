"""From names to roles and subjects."""

from __future__ import annotations

import pytest

from ingest.propose.name_evidence import forms, roles_named, says_no_role, unit_agrees
from ingest.propose.names import read_names
from ingest.roles import ROLES


@pytest.mark.parametrize(
    ("tag", "role", "subject"),
    [
        ("Zone 3 Soll", "zone_setpoint", "Z3"),
        ("adapter_temp", "zone_temperature", "ADAPTER"),
        ("Salida calefacción Zona 2", "zone_output", "Z2"),
        ("Consigne_Debit_Doseur2", "feeder_setpoint", "F2"),
        ("Dosatore1.Peso", "feeder_weight", "F1"),
        ("Rosca_Rotacao", "screw_speed", ""),
        ("Koppel", "torque", ""),
        ("Taupunkt Trockner", "dew_point", ""),
    ],
)
def test_the_likeliest_role_of_a_name(tag: str, role: str, subject: str) -> None:
    best = roles_named(read_names([tag])[0])[0]

    assert (best.role, best.subject) == (role, subject)
    assert best.strength >= 0.85


def test_every_role_can_be_named_and_every_form_is_of_a_role() -> None:
    assert {form.role for form in forms()} == set(ROLES)


def test_what_a_form_does_not_explain_speaks_against_it() -> None:
    """A melt pressure's set-point is no melt pressure; there is no role for it."""
    assert roles_named(read_names(["Melt pressure setpoint"])[0])[0].strength < 0.6


def test_a_unit_of_something_else_rules_a_role_out() -> None:
    (name,) = read_names(["Zone 1 temperature"], {"Zone 1 temperature": "bar"})

    assert not unit_agrees("zone_temperature", name)
    assert all(one.role != "zone_temperature" for one in roles_named(name))


def test_a_number_in_a_word_that_says_nothing_is_no_zone() -> None:
    (name,) = read_names(["tag_953938"], {"tag_953938": "C"})

    assert all(ROLES[one.role].per not in ("zone", "feeder") for one in roles_named(name))


@pytest.mark.parametrize("tag", ["Zone 1 alarm", "Temp_max", "RawMaterial.Property2", "Störung Antrieb"])
def test_limits_alarms_and_properties_are_no_roles(tag: str) -> None:
    assert says_no_role(read_names([tag])[0])


def test_where_a_melt_pressure_stands() -> None:
    positions = [roles_named(read_names([f"Massedruck {where} Sieb"])[0])[0].position for where in ("vor", "nach")]

    assert positions == ["before_screen", "after_screen"]
