"""Judges proposed line files against committed ones: right, wrong or 'cannot tell', tag by tag.

Right is the role, and the pairing of what belongs to one zone, feeder or sensor: subjects may be called otherwise, so
long as names and subjects go one to one. Names are scrambled in place: the log lists its columns as before.
"""

from __future__ import annotations

import random
import tomllib
from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

import sample_logs
from ingest.propose import Proposal
from ingest.propose.sample import Sample
from ingest.roles import ROLES, split_key
from sample_logs.draw_plant import draw_plants
from sample_logs.draw_scenario import clean_scenario
from sample_logs.line_file import default_tag
from sample_logs.rich_plant import enriched
from sample_logs.simulate import simulate

LOGS = Path(sample_logs.__file__).parent / "logs"
Key = tuple[str, str]
Kind = Literal["twin-screw", "single-screw"]


@dataclass(frozen=True)
class Verdict:
    """Tags by what became of them; wrong: tag, what it is, what was said. extra: told, and not in the truth."""

    right: tuple[str, ...]
    wrong: tuple[tuple[str, Key, Key], ...]
    cannot_tell: tuple[str, ...]
    extra: tuple[tuple[str, Key], ...]


def log_of(name: str) -> Path:
    """The log file of one sample log."""
    return next(path for path in sorted((LOGS / name).iterdir()) if path.name.startswith("log."))


def sample_names() -> list[str]:
    """Every committed sample log."""
    return sorted(path.name for path in LOGS.iterdir() if path.is_dir())


def truth_of(line_file: Path) -> dict[str, Key]:
    """Role and subject by tag, as a line file has them."""
    data = tomllib.loads(line_file.read_text(encoding="utf-8"))
    return {sensor["tag"]: (sensor["role"], sensor.get("at", "")) for sensor in data["sensor"]}


def told_by(proposal: Proposal, line: int = 0) -> dict[str, Key]:
    """Role and subject by tag, as proposed for one line."""
    return {one.tag: (one.role, one.subject) for one in proposal.lines[line].tags if one.told}


def judge(told: dict[str, Key], truth: dict[str, Key]) -> Verdict:
    """Every tag of the truth; subjects are matched one to one, the most tags first."""
    votes: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    for tag, (role, subject) in told.items():
        if tag in truth and truth[tag][0] == role:
            votes[ROLES[role].per][subject, truth[tag][1]] += 1
    match: dict[tuple[str, str], str] = {}
    for per, pairs in votes.items():
        for (said, real), _ in pairs.most_common():
            if (per, said) not in match and real not in {r for (p, _), r in match.items() if p == per}:
                match[per, said] = real
    right, wrong, cannot = [], [], []
    for tag, key in truth.items():
        if tag not in told:
            cannot.append(tag)
        elif told[tag][0] == key[0] and match.get((ROLES[key[0]].per, told[tag][1])) == key[1]:
            right.append(tag)
        else:
            wrong.append((tag, key, told[tag]))
    extra = tuple((tag, key) for tag, key in told.items() if tag not in truth)
    return Verdict(tuple(right), tuple(wrong), tuple(cannot), extra)


def drawn(kind: Kind, seed: int, hours: float = 1.0) -> tuple[Sample, dict[str, Key]]:
    """A shift of a well-instrumented plant drawn from a seed, under the plain tags of the simulator, and its truth."""
    rng = np.random.default_rng(seed)
    plant = enriched(rng, draw_plants([rng], kind)[0])
    block = simulate([plant], [clean_scenario(rng, plant, 3600 * hours)], 3600 * hours, seed).block(0)
    tags, n = tuple(default_tag(key) for key in block.channels), block.values.shape[1]
    each = np.full(len(tags), plant.cadence_s)
    seconds, part = np.arange(n) * plant.cadence_s, np.zeros(n, int)
    rows = Sample(tags, seconds, part, block.values.astype(float), True, each, np.zeros(len(tags)))
    return rows, {tag: split_key(key) for tag, key in zip(tags, block.channels, strict=True)}


def scrambled(
    sample: Sample, units: dict[str, str], truth: dict[str, Key], share: float, seed: int, *, shuffle: bool = False
) -> tuple[Sample, dict[str, str], dict[str, Key]]:
    """The sample, its units and the truth with a share of the names made meaningless; units below the header stay.

    shuffle: the columns stand in any order too.
    """
    chance = random.Random(seed)
    picked = set(chance.sample(list(sample.tags), round(share * len(sample.tags))))
    new = {tag: f"tag_{chance.randrange(10**6):06d}" if tag in picked else tag for tag in sample.tags}
    renamed = replace(sample, tags=tuple(new[tag] for tag in sample.tags))
    if shuffle:
        order = chance.sample(range(len(sample.tags)), len(sample.tags))
        tags = tuple(renamed.tags[i] for i in order)
        apart, uneven = renamed.apart_s[np.array(order)], renamed.uneven[np.array(order)]
        renamed = replace(renamed, tags=tags, values=renamed.values[order], apart_s=apart, uneven=uneven)
    return (
        renamed,
        {new[tag]: unit for tag, unit in units.items() if tag in new},
        {new.get(tag, tag): key for tag, key in truth.items()},
    )
