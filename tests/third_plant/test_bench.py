"""The third plant's bench: one seed gives one set of logs, another seed another, and a handful of cases is judged."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from monitor.conditions.registry import CONDITIONS
from tests.benchmarks.third_plant.answers import ANSWERS
from tests.benchmarks.third_plant.bench import run_case, write_case
from tests.benchmarks.third_plant.cases import SCENARIOS, case_names, draw_case
from tests.benchmarks.third_plant.draw_machine import draw_machine
from tests.benchmarks.third_plant.judge import Said, judge
from tests.benchmarks.third_plant.knobs import minute
from tests.benchmarks.third_plant.plant import simulate
from tests.benchmarks.third_plant.tables import print_all, wilson
from tests.benchmarks.third_plant.truth import Truth


def _bytes(seed: int, name: str, folder: Path) -> dict[str, bytes]:
    folder.mkdir()
    write_case(seed, name, folder)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_one_seed_gives_one_log_and_another_seed_another(tmp_path: Path) -> None:
    once, again, other = (_bytes(seed, "heater_dead.1", tmp_path / at) for at, seed in (("a", 3), ("b", 3), ("c", 4)))
    assert once == again
    assert all(once[file] != other[file] for file in ("line.toml", "recipe.toml", "truth.json"))


def test_answers_name_conditions_that_exist() -> None:
    named = {condition.name for condition in CONDITIONS}
    for fault, answer in ANSWERS.items():
        assert answer.found | answer.harm <= named, fault
        assert answer.named <= answer.found, fault


def test_every_case_of_a_seed_can_be_drawn() -> None:
    names = case_names(5)
    assert len(names) == len(set(names))
    assert {name.rpartition(".")[0] for name in names} == {s.name for s in SCENARIOS} | {"clean"}
    for name in case_names(5, "feeder") + case_names(5, "together"):
        case = draw_case(5, name)
        assert all(0 <= t.start_min < t.end_min <= case.minutes for t in case.truths)


def test_mass_is_kept_and_a_blocked_chute_starves_the_die() -> None:
    machine = draw_machine(np.random.default_rng(2), "twin")
    blocked = simulate(machine, [minute(20, "path", 0.5, 10)], 35, 1).values
    calm = simulate(machine, [], 35, 1).values
    fed = calm["true"].sum(axis=1)
    assert fed.mean() == pytest.approx(machine.rate_kg_h, rel=0.03)
    last = len(calm["bar"]) - 50
    expected = (1 - 0.5 * machine.throat_part) ** machine.index
    assert blocked["bar"][last:].mean() / calm["bar"][last:].mean() == pytest.approx(expected, rel=0.1)
    assert blocked["load"][last:].mean() < 0.9 * calm["load"][last:].mean()


def _said(condition: str, family: str, **more: object) -> Said:
    usual = {"channel": "net_torque", "priority": 2, "since": 61.0, "until": 70.0, "decided": 62.0, "summary": ""}
    rest = {"causes": ("path blocked",), "evidence": "", "folded": False, "root": -1}
    return Said(condition=condition, family=family, **{**usual, **rest, **more})  # type: ignore[arg-type]


def test_the_opposite_said_alone_is_harmful_and_both_said_is_found() -> None:
    case = draw_case(3, "chute_blocked.1")
    case.truths, case.allowed = [Truth("chute_blocked", (), 60, 80, known_min=61)], set()
    flooded = _said("flooded", "flooded", causes=("flooded at the intake",))
    both = _said("flooded", "flooded", summary="flooded or path blocked, both fit", causes=("intake", "path blocked"))
    early = _said("heater_dead", "heater", since=30.0, decided=31.0, channel="zone_temperature:Z9")
    wrong, right, missed = (judge(case, said, 0.0).verdicts[0] for said in ([flooded], [both], []))
    assert (wrong.found, bool(wrong.harm)) == (False, True)
    assert (right.found, right.cause_right, bool(right.harm), right.delay_min) == (True, True, False, 1.0)
    assert (missed.found, bool(missed.harm), math.isnan(missed.delay_min)) == (False, False, True)
    assert judge(case, [early], 0.0).false == (early,)


def test_a_slug_that_comes_down_is_truly_over_fed() -> None:
    case = draw_case(3, "chute_blocked.1")
    case.truths = [Truth("chute_blocked", (), 60, 80, known_min=61)]
    slug = _said("flooded", "flooded", since=80.2, decided=80.5, until=81.0)
    lasting = _said("flooded", "flooded", since=80.2, decided=80.5, until=200.0)
    harmful = [bool(judge(case, [said], 0.0).verdicts[0].harm) for said in (slug, lasting)]
    assert harmful == [False, True]


def test_a_handful_of_cases_is_simulated_judged_and_printed(capsys: pytest.CaptureFixture[str]) -> None:
    logs = [run_case((3, name, "")) for name in ("couple_open.1", "burst_disc.1")]
    assert not any(log.broke for log in logs)
    assert [v.visible for log in logs for v in log.verdicts] == [True, True]
    assert all(v.found for log in logs for v in log.verdicts)
    print_all(logs)
    assert "missed: 0" in capsys.readouterr().out


def test_wilson_interval_of_a_known_case() -> None:
    low, high = wilson(81, 263)
    assert (round(low, 4), round(high, 4)) == (0.2553, 0.3662)  # Newcombe 1998, Statistics in Medicine 17, table I
