"""The tables, and the road to them from every earlier version."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from lampwarden.store import Ended, Store
from lampwarden.store.calibrations import Calibrations
from lampwarden.store.drafts import Drafts
from lampwarden.store.starts import PlannedStarts
from lampwarden.store.verify import verify

OLD = sorted((Path(__file__).parent / "data").glob("v*.db"))
"""One file for each released step of the ladder, made by the version of that time. Never made anew."""


def schema(path: Path) -> list[tuple[str, str]]:
    with closing(sqlite3.connect(path)) as conn:
        return conn.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").fetchall()


@pytest.mark.parametrize("old", OLD, ids=lambda old: old.stem)
def test_an_old_database_opens_twice_with_all_it_held(old: Path, path: Path) -> None:
    shutil.copy(old, path)
    for _ in range(2):
        store = Store.open(path)
        done, running = store.sessions("attic")[::-1]
        assert (done.id, done.title, done.program) == ("ferries-1", "Summer timetable", {"zones": [1, 2]})
        assert done.ended == Ended("completed", "every zone had its light", "2026-03-01T12:00:00+00:00")
        assert store.open_session("attic") == running
        assert running.id == "ferries-2"
        assert [(line.seq, line.text) for line in store.journal(None, "attic")] == [
            (1, "Started."),
            (2, "Ended: 41.25 °C held."),
            (3, "The board was restarted."),
        ]
        assert store.journal("ferries-1", "attic")[1].run_s == 0.1 + 0.2
        assert store.progress("ferries-1") == {"lit_ms": [7_200_000, 0]}
        (stretch,) = store.readings("ferries-1", 1)
        assert stretch.air_temp_c_max == 41.25
        assert stretch.bank_temps_c_max == (52.5, None)
        store.close()
        assert (verify(path).lines, verify(path).faults) == (3, ())


def test_old_databases_were_found() -> None:
    assert [old.stem for old in OLD] == ["v1", "v2", "v3"]


def test_sheets_plans_calibrations_and_starts_of_version_3_are_kept(path: Path) -> None:
    shutil.copy(OLD[2], path)
    store = Store.open(path)
    sheets = Drafts(store, "sheet")
    assert sheets.one("timetable").data["title"] == "Summer timetable"
    assert sheets.one("timetable", 1).by == "Wilma"
    assert [draft.id for draft in Drafts(store, "plan").newest("attic")] == ["strips"]
    assert Calibrations(store).newest("attic")["A1"].irradiance_w_m2 == 93.5
    (start,) = PlannedStarts(store).waiting()
    assert (start.plan_id, start.state) == ("strips", "waiting")
    store.close()


@pytest.mark.parametrize("old", OLD, ids=lambda old: old.stem)
def test_an_old_database_ends_with_the_same_tables_as_a_new_one(old: Path, path: Path, tmp_path: Path) -> None:
    migrated = tmp_path / "migrated.db"
    shutil.copy(old, migrated)
    for each in (path, migrated):
        Store.open(each).close()
    assert schema(migrated) == schema(path)


def test_a_journal_is_chained_alike_whenever_it_was_written(path: Path) -> None:
    heads = set()
    for old in OLD:
        shutil.copy(old, path)
        Store.open(path).close()
        heads.add(verify(path).head)
    assert len(heads) == 1


def test_every_table_is_strict_and_names_the_chamber(store: Store, path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        tables = conn.execute(
            "SELECT name, strict FROM pragma_table_list WHERE type = 'table' AND name NOT LIKE '%sqlite_%'"
        ).fetchall()
        assert {name for name, _ in tables} >= {"sessions", "journal", "progress", "samples"}
        for name, strict in tables:
            columns = {column for (column,) in conn.execute("SELECT name FROM pragma_table_info(?)", (name,))}
            of_all = name in ("outbox_place", "published_place", "choices")
            assert (name, strict, "chamber_id" in columns) == (name, 1, not of_all)
