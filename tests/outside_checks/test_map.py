"""`evenmelt map` against the committed line files: on every sample log, scrambled, and on a real extruder line.

A wrong role counts worse than 'cannot tell': the floor for wrong is none at all with own names, and one in a hundred
with half of the names scrambled. `python -m tests.outside_checks.map_table` prints the whole table.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from ingest.propose import propose
from ingest.propose.opened import open_any
from ingest.propose.propose_log import propose_sample
from ingest.propose.sample import take_sample
from tests.outside_checks.map_table import verdict
from tests.outside_checks.map_truth import Kind, drawn, judge, log_of, sample_names, told_by, truth_of
from tests.outside_checks.open_data import folder, needs

HERE = Path(__file__).parent


@pytest.mark.parametrize("name", sample_names())
def test_sample_logs_with_their_own_names(name: str) -> None:
    proposal = propose([log_of(name)])
    found = judge(told_by(proposal), truth_of(log_of(name).parent / "line.toml"))

    assert len(proposal.lines) == 1
    assert (found.wrong, found.extra) == ((), ())
    assert len(found.cannot_tell) <= 0.05 * len(found.right)


@pytest.mark.parametrize("shuffle", [False, True], ids=["in place", "columns in any order"])
@pytest.mark.parametrize("name", sample_names())
def test_sample_logs_with_half_of_the_names_scrambled(name: str, shuffle: bool) -> None:
    opened = open_any([log_of(name)])
    sample, truth = take_sample(opened), truth_of(log_of(name).parent / "line.toml")
    found = verdict(sample, opened[0].log.units, truth, 0.5, shuffle, seed=11)

    assert len(found.wrong) <= 0.01 * len(truth)
    assert len(found.right) >= (0.5 if shuffle else 0.6) * len(truth)


@pytest.mark.parametrize("name", sample_names())
def test_sample_logs_with_no_name_left(name: str) -> None:
    opened = open_any([log_of(name)])
    sample, truth = take_sample(opened), truth_of(log_of(name).parent / "line.toml")

    assert verdict(sample, opened[0].log.units, truth, 1.0, False, seed=11).wrong == ()


@pytest.mark.parametrize("kind", ["twin-screw", "single-screw"])
def test_a_drawn_plant_that_no_sample_log_is_of(kind: Kind) -> None:
    """Its tags and most of its roles are in no sample log; `map_table --drawn N` judges more of them."""
    sample, truth = drawn(kind, 301, hours=0.5)
    whole, half = (verdict(sample, {}, truth, share, False, 301) for share in (0.0, 0.5))

    assert whole.wrong == ()
    assert len(whole.right) >= 0.95 * len(truth)
    assert len(half.wrong) <= 0.01 * len(truth)


@needs("multistage_line")
def test_three_extruders_in_one_log() -> None:
    """Machines 4 and 5 have no screw drive; the unit of the feeder reading is not stated, nor what it feeds."""
    proposal = propose([folder("multistage_line") / "line.parquet"])

    assert [line.name for line in proposal.lines] == ["Machine 1", "Machine 2", "Machine 3"]
    for number in range(3):
        found = judge(told_by(proposal, number), truth_of(HERE / f"multistage_m{number + 1}.toml"))
        assert found.wrong == ()
        assert len(found.right) == 7
        assert found.cannot_tell == (f"Machine{number + 1}.RawMaterialFeederParameter.U.Actual",)
    left = {one.tag: one.why for one in proposal.left_out}
    assert "no screw drive" in left["Machine4.Temperature1.C.Actual"]


@needs("multistage_line")
@pytest.mark.parametrize("seed", range(3))
def test_an_extruder_of_it_with_half_of_the_names_scrambled(seed: int) -> None:
    sample = take_sample(open_any([folder("multistage_line") / "line.parquet"]))
    tags = [tag for tag in sample.tags if tag.startswith("Machine1.")]
    truth = truth_of(HERE / "multistage_m1.toml")

    assert verdict(sample.of(tags), {}, truth, 0.5, False, seed).wrong == ()


def test_the_same_log_is_proposed_the_same_twice() -> None:
    sample = take_sample(open_any([log_of("single_clean")]))

    assert propose_sample(sample) == propose_sample(sample)
