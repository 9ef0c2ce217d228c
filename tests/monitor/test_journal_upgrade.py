"""A journal of the format before is opened without losing a row, whoever opens it first."""

from __future__ import annotations

import importlib.util
import os
import threading
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import create_engine, inspect, text
from sqlalchemy.exc import OperationalError

from monitor.journal import Journal, upgrade
from monitor.journal.errors import JournalError
from monitor.journal.schema import FORMAT, metadata
from tests.monitor.journal_cases import LINE_TOML, RECIPE_TOML, T0, S, a_block, a_line, a_record, judged, same

ACTION_OF_FORMAT_1 = ["id", "line", "finding", "kind", "who", "text", "at_ns"]


def url_of(place: Any) -> str:
    return str(place) if "://" in str(place) else f"sqlite:///{place}"


def table_rows(place: Any) -> dict[str, list[dict]]:
    engine = create_engine(url_of(place))
    with engine.connect() as connection:
        found = {
            table.name: [dict(row) for row in connection.execute(text(f"select * from {table.name}")).mappings()]
            for table in metadata.sorted_tables
            if inspect(connection).has_table(table.name)
        }
    engine.dispose()
    return found


def filled(place: Any) -> dict[str, list[dict]]:
    """A journal with something in every table, taken back to format 1; gives its rows."""
    with Journal(place) as journal:
        journal.register_line(a_line(), LINE_TOML, [RECIPE_TOML])
        journal.begin("Line 3", source="live", fingerprint="f1")
        block = a_block(T0, 4000)
        quantities = {"sme": (T0 + 10 * S * np.arange(3), np.ones(3))}
        step = judged(block, a_record(1, "aa", "opened", T0), quantities=quantities)
        journal.commit("Line 3", position="7", block=block, step=step, snapshot="s")
        journal.act("Line 3", "aa", "acknowledged", "Ada", "", T0 + S)
        journal.act("Line 3", "aa", "note", "Ben", "screen looked at; ä ≥ 5", T0 + 2 * S)
        journal.act("Line 3", f"lot@{T0}", "note", "Ben", "colour change", T0 + 3 * S)
    engine = create_engine(url_of(place))
    with engine.begin() as connection:
        connection.execute(text("alter table action drop column until_ns"))
        connection.execute(text("drop table used_file"))
        connection.execute(text("update journal_format set format = 1"))
        assert [column["name"] for column in inspect(connection).get_columns("action")] == ACTION_OF_FORMAT_1
    engine.dispose()
    return table_rows(place)


def as_format_2(place: Any) -> dict[str, list[dict]]:
    """The same, with somebody's shelving in it, taken back to format 2; gives its rows."""
    filled(place)
    with Journal(place, create=False) as journal:
        journal.act("Line 3", "aa", "shelved", "Ada", "screen change", T0, T0 + S)
    engine = create_engine(url_of(place))
    with engine.begin() as connection:
        connection.execute(text("drop table used_file"))
        connection.execute(text("update journal_format set format = 2"))
    engine.dispose()
    return table_rows(place)


def check_upgrade_from_2(place: Any) -> None:
    before = as_format_2(place)
    assert len(before["action"]) == 4 and before["journal_format"] == [{"format": 2}]

    with Journal(place, create=False) as journal:
        journal.act("Line 3", "aa", "out of service", "Ben", "new band", T0 + S)
        assert (journal.actions("Line 3")[-1].kind, journal.actions("Line 3")[-2].until_ns) == (
            "out of service", T0 + S,
        )  # fmt: skip

    after = table_rows(place)
    assert after.pop("journal_format") == [{"format": FORMAT}] and before.pop("journal_format")
    assert after.pop("action")[:-1] == before.pop("action")
    check_used_files(after)
    assert after == before


def check_used_files(rows: dict[str, list[dict]]) -> None:
    """What judged all there is until now are the newest files, for no earlier ones are known. Takes the table out."""
    used = sorted(rows.pop("used_file"), key=lambda row: row["kind"])
    (line,), (recipe,) = rows["line"], rows["recipe"]
    assert [(u["kind"], u["name"], u["version"], u["toml"], u["since_ns"], u["until_ns"]) for u in used] == [
        ("line", line["name"], line["version"], line["toml"], 0, None),
        ("recipe", recipe["name"], recipe["version"], recipe["toml"], 0, None),
    ]


def check_upgrade(place: Any) -> None:
    before = filled(place)
    assert len(before["action"]) == 3 and before["journal_format"] == [{"format": 1}]

    with Journal(place, create=False) as journal:
        assert [(a.who, a.text, a.until_ns) for a in journal.actions("Line 3")] == [
            ("Ada", "", None), ("Ben", "screen looked at; ä ≥ 5", None), ("Ben", "colour change", None),
        ]  # fmt: skip
        assert same(journal.blocks("Line 3", T0, T0 + 4000 * S), a_block(T0, 4000))
        journal.act("Line 3", "aa", "shelved", "Ada", "screen change", T0, T0 + S)
        assert journal.actions("Line 3")[-1].until_ns == T0 + S

    after = table_rows(place)
    assert after.pop("journal_format") == [{"format": FORMAT}] and before.pop("journal_format")
    assert [{**row, "until_ns": None} for row in before.pop("action")] == after.pop("action")[:-1]
    check_used_files(after)
    assert after == before


def check_many_open_at_once(place: Any) -> None:
    filled(place)
    wrong: list[BaseException] = []

    def open_it() -> None:
        try:
            with Journal(place, create=False) as journal:
                assert len(journal.actions("Line 3")) == 3
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert wrong == [] and table_rows(place)["journal_format"] == [{"format": FORMAT}]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    """A real PostgreSQL from a wheel; left out where the wheel is not installed, but not with CI=true."""
    missing = [name for name in ("pgserver", "psycopg") if importlib.util.find_spec(name) is None]
    if missing and os.environ.get("CI") != "true":
        pytest.skip(f"needs {' and '.join(missing)}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what it says of the machine's folders while it is imported
        import pgserver

    running = pgserver.get_server(tmp_path / "cluster")  # pyright: ignore[reportPrivateImportUsage]
    try:
        yield running.get_uri().replace("postgresql://", "postgresql+psycopg://")
    finally:
        running.cleanup()


def test_an_earlier_journal_is_opened_whole(tmp_path: Path) -> None:
    check_upgrade(tmp_path / "j.sqlite")


def test_a_journal_of_format_2_is_opened_whole(tmp_path: Path) -> None:
    check_upgrade_from_2(tmp_path / "j.sqlite")


def test_a_journal_of_format_2_on_postgresql(server: str) -> None:
    check_upgrade_from_2(server)


def test_many_that_open_it_at_once(tmp_path: Path) -> None:
    check_many_open_at_once(tmp_path / "j.sqlite")


def test_the_same_on_postgresql(server: str) -> None:
    check_upgrade(server)


def test_many_that_open_it_at_once_on_postgresql(server: str) -> None:
    check_many_open_at_once(server)


def test_a_step_that_fails_leaves_the_earlier_journal_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "j.sqlite"
    before = filled(place)
    monkeypatch.setitem(upgrade.STEPS, 1, (*upgrade.STEPS[1], "ALTER TABLE no_such_table ADD COLUMN x BIGINT"))

    with pytest.raises((JournalError, OperationalError), match="no such table"):
        Journal(place, create=False)

    assert table_rows(place) == before


def test_a_later_format_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "j.sqlite"
    filled(place)
    engine = create_engine(url_of(place))
    with engine.begin() as connection:
        connection.execute(text(f"update journal_format set format = {FORMAT + 1}"))
    engine.dispose()

    with pytest.raises(JournalError, match=f"has format {FORMAT + 1}"):
        Journal(place)
