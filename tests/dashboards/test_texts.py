"""Every text the pages ask for is there, and nothing is there that nobody asks for."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboards
from dashboards.names import signed
from dashboards.texts import say
from dashboards.texts_english import ENGLISH

ROOT = Path(dashboards.__file__).parent
SOURCES = [p for p in ROOT.rglob("*.py") if "command_line" not in p.parts and not p.name.startswith("texts")]
ASKED = re.compile(r"\bsay\(\s*(f?)\"([^\"]+)\"")
JOINED = re.compile(r"\bsay\(\s*[\"']([^\"']+)[\"'] \+")
QUOTED = re.compile(r"\"([a-z_]+\.[a-z_ .]+)\"")


def asked() -> tuple[set[str], set[str]]:
    """Keys asked for as they stand, and the fixed beginnings of keys that are put together."""
    plain: set[str] = set()
    begun: set[str] = set()
    for path in SOURCES:
        text = path.read_text(encoding="utf-8")
        begun |= set(JOINED.findall(text))
        for composed, key in ASKED.findall(text):
            (begun if composed else plain).add(key.split("{")[0])
        plain |= {key for key in QUOTED.findall(text) if key in ENGLISH}
    return plain - begun, begun


def test_every_plain_key_has_a_text() -> None:
    missing = sorted(key for key in asked()[0] if key not in ENGLISH)
    assert not missing


def test_every_text_is_asked_for() -> None:
    plain, begun = asked()
    unused = sorted(key for key in ENGLISH if key not in plain and not any(key.startswith(b) for b in begun if b))
    assert not unused


def test_missing_text_is_a_mistake_unless_a_name_stands_in() -> None:
    with pytest.raises(KeyError, match="no text"):
        say("no.such.text")
    assert say("condition.feeder_off_set", "feeder_off_set") == "feeder off set"


def test_a_difference_of_nothing_has_no_sign() -> None:
    assert [signed(v, 2) for v in (1.624, -0.782, -0.004, 0.004)] == ["+1.62", "−0.78", "0.00", "0.00"]
