"""What people set aside: out of the list, named in a line, back by itself; and what waits to be reset."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dashboards.alarm_states import out_spans
from dashboards.data import JournalData
from dashboards.memory_data import MemoryData, MemoryLine
from dashboards.pages import live, live_actions, lot_watch, upkeep, upkeep_form
from dashboards.pages.lines import line_block
from dashboards.upkeep_item import UpkeepItem
from monitor import cautions
from monitor.journal import Journal
from monitor.records import Cause, Evidence, Finding, finding_id
from tests.dashboards.lines import _record, single, twin
from tests.dashboards.plant import END, HOUR, SECOND
from tests.monitor.journal_cases import LINE_TOML, T0, S, a_block, a_line, a_record, judged

MINUTE = 60 * SECOND
FEEDER = "feeder_rate:F4"


class Clock:
    """This moment, which a test can move."""

    def __init__(self, now: int = END + SECOND // 2) -> None:
        self.now = now

    def __call__(self) -> int:
        return self.now


def plant(clock: Clock, *more: Finding) -> MemoryData:
    held = twin()
    return MemoryData([replace(held, findings=[*held.findings, *more]), single()], clock=clock)


def short(data: JournalData) -> Finding:
    return next(f for f in data.source.findings("Line 3") if f.last.channel == FEEDER)


P1 = "melt_pressure:P1"


def pressed(held: MemoryLine, until: int = END) -> MemoryLine:
    """The screen blinds within the hour: P1 from its target to 109 bar, 20 min before the end; there until `until`."""
    values, t = held.block.values.copy(), held.block.t0 + SECOND * np.arange(held.block.n, dtype=np.int64)
    rise = np.clip((t - END + 45 * MINUTE) / (25 * MINUTE), 0, 1) * 52 * (t < until)
    values[held.block.channels.index(P1)] += rise
    return replace(held, block=replace(held.block, values=values))


def harm(kind: str = "opened", until: int | None = None) -> Finding:
    since = END - 20 * MINUTE
    record = _record(
        P1, "toward_over_pressure", since, family="pressure", priority=1, kind=kind, until=until,
        decided_at=until or since + SECOND,
        summary="melt pressure P1 109 bar, 91 % of the machine's limit of 120",
        evidence=(Evidence("melt pressure P1", 109.0, "bar", 56.0, None, P1),),
        causes=(Cause("die or screen blocked", ("P2 behind the screen as usual",)), Cause("melt too cold")),
        checks=("stop the feed and lower the speed, by site procedure", "stand clear of die and burst disc"),
        caution=cautions.PRESSURE,
    )  # fmt: skip
    return Finding(since + SECOND, record)


def page_text(data: JournalData, **state: str) -> str:
    return str(live.answer(data, "Line 3", state, "light", 1384, {}, 1.0))


def test_set_aside_is_out_of_the_way_but_named_and_comes_back_by_itself() -> None:
    clock = Clock()
    data = plant(clock)
    finding = short(data).last.finding
    assert live_actions.about_of(data.line_now("Line 3"), FEEDER).can == ("seen", "note", "aside")
    assert len(data.line_now("Line 3").findings) == 3 and "set aside" not in page_text(data)

    said, left = live_actions.done(data, "Line 3", finding, "shelved", " Ana ", "hopper is being cleaned", "30")
    now = data.line_now("Line 3")

    assert said == "Set aside; it comes back by itself at 07:59." and left == ""
    assert [f.last.condition for f in now.findings] == ["zone_drift"], "what it explains goes with it"
    assert [(i.who, i.why, i.until_ns - clock.now) for i in now.set_aside] == [
        ("Ana", "hopper is being cleaned", 30 * MINUTE)
    ]
    text = page_text(data)
    assert "1 set aside until 07:59, by Ana" in text and "hopper is being cleaned" in text and "Bring back" in text
    assert "1 set aside until 07:59, by Ana" in str(line_block(data, "Line 3", 1384)), "on the page of all lines, too"
    assert "Ul(children=[Li" not in str(line_block(data, "Line 3", 1384)), "no finding is left to list there"
    clock.now += 30 * MINUTE - 1
    assert data.line_now("Line 3").set_aside
    clock.now += 1
    assert data.line_now("Line 3").set_aside == () and short(data) in data.line_now("Line 3").findings


def test_two_people_and_one_finding() -> None:
    data = plant(Clock())
    finding = short(data).last.finding
    live_actions.done(data, "Line 3", finding, "shelved", "Ana", "cleaning", "60")

    said, left = live_actions.done(data, "Line 3", finding, "shelved", "Ben", "me too", "120")
    assert said == "Ana has set it aside already, until 08:29." and left == "me too"
    said, _ = live_actions.done(data, "Line 3", finding, "unshelved", "Ben", "")
    assert said.startswith("Written down at") and data.line_now("Line 3").set_aside == ()
    said, _ = live_actions.done(data, "Line 3", finding, "unshelved", "Ana", "")
    assert said == "It is not set aside any more."
    assert [(a.kind, a.who) for a in data.actions("Line 3")] == [("shelved", "Ana"), ("unshelved", "Ben")]
    assert "Brought back by Ben" in page_text(data) and "Set aside until 08:29 by Ana" in page_text(data)


@pytest.mark.parametrize(
    ("who", "text", "said"), [(" ", "why", "Please give a name."), ("Ana", " ", "Please write why it is set aside.")]
)
def test_a_name_and_a_reason_are_needed(who: str, text: str, said: str) -> None:
    data = plant(Clock())
    assert live_actions.done(data, "Line 3", short(data).last.finding, "shelved", who, text)[0] == said
    assert not data.actions("Line 3")


def test_what_the_invented_plant_calls_act_now_is_near_its_limit_and_says_what_to_do() -> None:
    """Else no picture of it can be judged."""
    data = MemoryData([replace(pressed(twin()), findings=[harm()])], clock=Clock())
    now, told = data.line_now("Line 3"), harm().last
    limit = now.line.limits.melt_pressure_bar
    assert limit is not None and 0.9 * limit < now.readings[P1] < limit
    assert told.evidence[0].value == pytest.approx(now.readings[P1], abs=2) and f"{limit:.0f}" in told.summary
    assert told.checks and told.causes and told.caution
    eased = MemoryData([pressed(twin(), END - MINUTE)], clock=Clock()).line_now("Line 3")
    assert eased.readings[P1] == pytest.approx(58, abs=2)


def test_priority_1_is_never_set_aside_and_the_page_says_why() -> None:
    data = plant(Clock(), harm())
    finding = harm().last.finding
    about = live_actions.about_of(data.line_now("Line 3"), "melt_pressure:P1")

    assert about.can == ("seen", "note") and "may come to harm" in about.why_not
    assert "may come to harm" in live_actions.done(data, "Line 3", finding, "shelved", "Ana", "why")[0]
    assert not data.actions("Line 3") and data.line_now("Line 3").findings[-1].last.finding == finding


def test_a_more_pressing_consequence_stays_when_its_cause_is_set_aside() -> None:
    held = twin()
    cause = next(f for f in held.findings if f.last.channel == FEEDER)
    part = next(f for f in held.findings if f.last.part_of)
    data = MemoryData(
        [replace(held, findings=[replace(cause, last=replace(cause.last, priority=3)),
                                 replace(part, last=replace(part.last, priority=2))])],
        clock=Clock(),
    )  # fmt: skip
    live_actions.done(data, "Line 3", cause.last.finding, "shelved", "Ana", "why")

    assert [f.last.condition for f in data.line_now("Line 3").findings] == ["share_off"]


def test_what_was_act_now_stays_until_seen_and_reset() -> None:
    clock = Clock()
    gone = harm("closed", END - 5 * MINUTE)
    data, finding = plant(clock, gone), gone.last.finding

    assert [f.last.finding for f in data.line_now("Line 3").latched] == [finding]
    assert "Ended, still to be seen and reset" in page_text(data) and "Not seen yet" in page_text(data)
    assert live_actions.about_of(data.line_now("Line 3"), "melt_pressure:P1").can == ("seen", "note")
    assert live_actions.done(data, "Line 3", finding, "reset", "Ana", "")[0].startswith("It does not wait for a reset")

    live_actions.done(data, "Line 3", finding, "acknowledged", "Ana", "")
    clock.now += SECOND
    assert "Seen, waits for its reset." in page_text(data) and "in this lot, 4417" in page_text(data)
    assert (
        "Ended, still to be seen and reset: melt pressure P1 109 bar, 91 % of the machine's limit of 120, 07:24."
        in str(line_block(data, "Line 3", 1384))
    )
    assert live_actions.about_of(data.line_now("Line 3"), "melt_pressure:P1").can == ("note", "reset")
    live_actions.done(data, "Line 3", finding, "reset", "Ben", "")

    assert data.line_now("Line 3").latched == () and "Ended, still to be seen and reset" not in page_text(data)
    assert [a.kind for a in data.actions("Line 3")] == ["acknowledged", "reset"]


def test_nothing_to_look_at_is_said_only_where_it_is_so() -> None:
    gone = harm("closed", END - 5 * MINUTE)
    calm = MemoryData([replace(twin(), findings=[])], clock=Clock())
    latched = MemoryData([replace(twin(), findings=[gone])], clock=Clock())
    assert "Nothing to look at." in page_text(calm)
    assert "Nothing to look at." not in page_text(latched) and "Nothing else is open." in page_text(latched)


def test_out_of_service_is_off_the_list_counted_and_named_until_somebody_puts_it_back() -> None:
    clock = Clock()
    data = plant(clock)
    finding = short(data).last.finding
    assert live_actions.done(data, "Line 3", finding, "out of service", "Ana", " ")[0].startswith("Please write why")
    said, left = live_actions.done(data, "Line 3", finding, "out of service", " Ana ", "load cell is being changed")
    assert said.startswith("Out of service until somebody puts it back") and left == ""

    now = data.line_now("Line 3")
    assert [f.last.condition for f in now.findings] == ["zone_drift"], "what it explains goes with it"
    assert [(o.who, o.why, o.at_ns) for o in now.out_of_service] == [("Ana", "load cell is being changed", clock.now)]
    assert live_actions.about_of(now, FEEDER).can == ("note", "away")
    for text in (page_text(data), str(line_block(data, "Line 3", 1384))):
        assert "1 out of service: talc T4 rate, since 07:29, by Ana" in text
    assert "load cell is being changed" in page_text(data) and "Put back in service" in page_text(data)
    said, left = live_actions.done(data, "Line 3", finding, "shelved", "Ben", "why", "30")
    assert said == "Ana has taken it out of service already, 07:29." and left == "why"

    clock.now += 20 * HOUR
    assert data.line_now("Line 3").out_of_service, "it has no end"
    live_actions.done(data, "Line 3", finding, "back in service", "Ben", "")
    assert data.line_now("Line 3").out_of_service == () and short(data) in data.line_now("Line 3").findings
    assert (
        live_actions.done(data, "Line 3", finding, "back in service", "Ana", "")[0]
        == "It is not out of service any more."
    )
    assert "Put back in service by Ben" in page_text(data)


def test_priority_1_is_never_taken_out_of_service_nor_what_it_latched() -> None:
    data = plant(Clock(), harm())
    assert "may come to harm" in live_actions.done(data, "Line 3", harm().last.finding, "out of service", "A", "why")[0]
    gone = harm("closed", END - 5 * MINUTE)
    data = plant(Clock(), gone)
    assert (
        "stays in view until" in live_actions.done(data, "Line 3", gone.last.finding, "out of service", "A", "why")[0]
    )
    assert not data.actions("Line 3") and data.line_now("Line 3").latched


def test_what_is_out_of_service_is_counted_however_long_ago_it_was_said() -> None:
    clock = Clock()
    old = END - 50 * 24 * HOUR
    record = _record(
        "zone_temperature:Z4", "zone_hunting", old, family="heater", priority=3, kind="closed", until=old + HOUR,
        summary="Z4 swings", decided_at=old + HOUR,
    )  # fmt: skip
    data = plant(clock, Finding(old + SECOND, record))
    data.source.act("Line 3", record.finding, "out of service", "Ana", "new valve", old + 2 * HOUR)

    now = data.line_now("Line 3")
    assert [o.finding.last.summary for o in now.out_of_service] == ["Z4 swings"]
    assert now.alarms.letters[record.finding] == "I" and "Z4 swings (gone" not in page_text(data)
    data.source.act("Line 3", record.finding, "back in service", "Ana", "", clock.now)
    clock.now += SECOND
    assert data.line_now("Line 3").out_of_service == ()


def test_a_lot_says_what_was_out_of_service_during_it() -> None:
    clock = Clock()
    data = plant(clock)
    finding = short(data).last.finding
    data.source.act("Line 3", finding, "out of service", "Ana", "new load cell", END - 14 * MINUTE)
    data.source.act("Line 3", finding, "back in service", "Ben", "", END - 12 * MINUTE)
    data.source.act("Line 3", finding, "out of service", "Cem", "once more", END - 10 * MINUTE)

    spans = out_spans(data.source, "Line 3", END - HOUR, END)
    assert [(s.start_ns, s.end_ns, s.who, s.why) for s in spans] == [
        (END - 14 * MINUTE, END - 12 * MINUTE, "Ana", "new load cell"), (END - 10 * MINUTE, None, "Cem", "once more"),
    ]  # fmt: skip
    assert out_spans(data.source, "Line 3", END - 2 * HOUR, END - HOUR) == ()
    assert [s.who for s in out_spans(data.source, "Line 3", END - 12 * MINUTE, END - 11 * MINUTE)] == []
    told = str(lot_watch.out_in_lot(data.run("Line 3", END - HOUR, END), data))
    assert "from 07:15 to 07:17, by Ana: new load cell" in told and "from 07:19 on, by Cem: once more" in told


def out_list(data: JournalData, item: UpkeepItem) -> list:
    return upkeep_form.out_list(data, [item], upkeep_form.away_on(data, [item]))


def test_upkeep_takes_out_of_service_and_puts_back() -> None:
    clock = Clock()
    data = plant(clock)
    item = next(i for i in upkeep.all_items(data, {}) if i.name == "Line 3/feeder:F4")
    assert upkeep_form.form_class(data, item) == "act can-out" and out_list(data, item) == []
    upkeep_form.done(data, item, "out of service", "Ana", "new load cell")
    assert upkeep_form.form_class(data, item) == "act can-in"
    assert "Out of service: 1" in str(out_list(data, item)) and "new load cell" in str(
        upkeep.answer(data, {"item": item.name}, "light", 1384)
    )
    upkeep_form.done(data, item, "back in service", "Ben", "")
    assert upkeep_form.form_class(data, item) == "act can-out" and data.line_now("Line 3").out_of_service == ()
    upkeep_form.done(data, item, "repaired", "Ben", "cell changed")
    assert [a.kind for a in data.actions("Line 3")] == ["out of service", "back in service", "repaired"]


def test_to_the_end_of_the_shift_and_never_longer_than_a_shift() -> None:
    data = plant(Clock())
    now, clock = data.line_now("Line 3"), data.clock("Line 3")

    assert clock.time(live_actions.until_of(now, clock, "shift")) == "14:00:00"
    twelve = now.line.model_copy(update={"line": now.line.line.model_copy(update={"shift_starts": ("06:30", "18:30")})})
    assert live_actions.until_of(replace(now, line=twelve), clock, "shift") == now.now + 8 * HOUR


def test_a_finished_log_has_nothing_to_set_aside_or_reset() -> None:
    held: MemoryLine = replace(twin(), source="finished log")
    data = MemoryData([replace(held, findings=[*held.findings, harm("closed", END - HOUR)])], clock=lambda: END + HOUR)
    now = data.line_now("Line 3")

    assert now.finished and now.latched == () and "aside" not in live_actions.about_of(now, FEEDER).can


def test_the_fold_follows_a_real_journal_and_a_log_read_anew(tmp_path: Path) -> None:
    """New records are read one by one; after the log was read again, none of the old ones counts."""
    clock = Clock(T0 + 2000 * S)
    with Journal(tmp_path / "j.sqlite") as journal, Journal(tmp_path / "j.sqlite") as other:
        journal.register_line(a_line(), LINE_TOML, [])
        journal.begin("Line 3", source="live", fingerprint="f")
        data, beside = JournalData(journal, clock=clock), JournalData(other, clock=clock)
        name = finding_id("Line 3", "slow_drift", "torque", T0)
        first = a_block(T0, 500)
        journal.commit("Line 3", position="1", block=first, step=judged(first, a_record(1, name, "opened", T0)))
        assert data.alarms.states("Line 3", clock.now).letters == {name: "B"}
        assert beside.alarms.states("Line 3", clock.now).letters == {name: "B"}

        beside.act("Line 3", name, "shelved", "Ben", "why", clock.now + 900 * S)
        assert data.alarms.states("Line 3", clock.now).letters == {name: "G"}, "another process did it"
        later = a_block(first.end, 500)
        worse = replace(a_record(2, name, "revised", T0), priority=2, decided_at=clock.now + 60 * S)
        journal.commit("Line 3", position="2", block=later, step=judged(later, worse))
        assert data.alarms.states("Line 3", clock.now + 59 * S).letters == {name: "G"}
        assert data.alarms.states("Line 3", clock.now + 60 * S).letters == {name: "B"}, "more pressing: back at once"

        journal.begin("Line 3", source="finished log", fingerprint="f")
        journal.clear("Line 3")
        journal.begin("Line 3", source="live", fingerprint="f")
        assert data.alarms.states("Line 3", clock.now).letters == {}
        again = replace(a_record(1, "other", "opened", T0), decided_at=clock.now)
        journal.commit("Line 3", position="1", block=first, step=judged(first, again))
        assert data.alarms.states("Line 3", clock.now).letters == {"other": "B"}


def test_a_thousand_findings_are_folded_once_and_not_at_every_tick(monkeypatch: pytest.MonkeyPatch) -> None:
    many = [
        Finding(
            END - HOUR + i, _record("torque", f"c{i % 50}", END - HOUR + i, family="drift", priority=3, summary="s")
        )
        for i in range(1000)
    ]
    data = plant(Clock(), *many)
    before = data.alarms.states("Line 3", END)
    monkeypatch.setattr("dashboards.alarm_states.alarm_book", lambda *_: pytest.fail("folded again"))
    assert data.alarms.states("Line 3", END + SECOND) is before
    assert len(before.letters) == 50 + 3
