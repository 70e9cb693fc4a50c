"""Sheets, plans, calibrations and planned starts on disk: kept wholly, or not at all."""

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from lampwarden.errors import ChangedMeanwhile, NotNow, UnknownName
from lampwarden.store import Batch, Line, Store
from lampwarden.store.backup import back_up
from lampwarden.store.calibrations import Calibrations
from lampwarden.store.drafts import Drafts
from lampwarden.store.records import Ended, Planned
from lampwarden.store.starts import PlannedStarts
from lampwarden.store.verify import verify

UTC = "2026-03-01T09:30:00.000Z"


def said(kind: str, session_id: str | None = None) -> Line:
    return Line(kind, 0.0, UTC, {"by": "Wilma"}, "Said.", "attic", session_id)


@pytest.fixture
def starts(store: Store) -> PlannedStarts:
    """One start that waits, in a chamber at rest."""
    store.commit(Batch("ferries", ended=Ended("completed", "done", UTC)))
    starts = PlannedStarts(store)
    assert starts.add("attic", ("strips", 1), UTC, "Wilma", UTC, [{"key": "eyes"}], said("start_set")) == 1
    return starts


def begin(store: Store, planned: Planned | None, *lines: Line) -> None:
    store.begin_session("ferries-2", "attic", "Strips", {}, {}, UTC, planned, lines)


def test_a_session_its_first_lines_and_its_start_are_one_transaction(store: Store, starts: PlannedStarts) -> None:
    planned = Planned("strips", {"id": "strips"}, {"id": "timetable"}, start=1)
    begin(store, planned, said("caution_confirmed", "ferries-2"))
    session = store.session("ferries-2")
    assert (session.plan_id, session.plan, session.sheet) == ("strips", planned.plan, planned.sheet)
    assert [line.kind for line in store.journal("ferries-2", "attic")] == ["caution_confirmed"]
    start = starts.one(1)
    assert (start.state, start.session_id, start.confirmed) == ("started", "ferries-2", ({"key": "eyes"},))
    assert verify(store.path).faults == ()


def test_a_start_that_does_not_wait_begins_nothing(store: Store, starts: PlannedStarts) -> None:
    starts.settle(1, "cancelled", "By Ida.", said("start_cancelled"))
    lines = verify(store.path).lines
    with pytest.raises(NotNow, match="nothing was started"):
        begin(store, Planned("strips", {}, None, start=1), said("caution_confirmed", "ferries-2"))
    with pytest.raises(UnknownName):
        store.session("ferries-2")
    with pytest.raises(NotNow, match="cancelled"):
        starts.settle(1, "missed", "Late.", said("start_missed"))
    assert verify(store.path).lines == lines
    begin(store, None)  # the id is still free


def test_what_was_saved_cannot_be_changed_or_taken_away(store: Store) -> None:
    Drafts(store, "sheet").save("timetable", {"id": "timetable"}, "Wilma", UTC, None)
    Calibrations(store).add("attic", {"A1": (93.5, {"how": "estimated"})}, "Wilma", UTC, said("calibrated"))
    with closing(sqlite3.connect(store.path)) as conn:
        for table, column in (("drafts", "data"), ("calibrations", "zone")):
            for statement in (f"UPDATE {table} SET {column} = 'x'", f"DELETE FROM {table}"):
                with pytest.raises(sqlite3.IntegrityError, match="kept"):
                    conn.execute(statement)


def test_of_two_who_change_the_same_revision_one_is_told(store: Store) -> None:
    drafts = Drafts(store, "sheet")
    drafts.save("timetable", {"n": 0}, "Wilma", UTC, None)
    told: list[str] = []

    def change(number: int) -> None:
        try:
            drafts.save("timetable", {"n": number}, f"P{number}", UTC, 1)
        except ChangedMeanwhile as error:
            told.append(str(error))

    both = [threading.Thread(target=change, args=(number,)) for number in range(1, 7)]
    for each in both:
        each.start()
    for each in both:
        each.join()
    assert len(told) == 5
    assert drafts.one("timetable").revision == 2


def test_plans_and_sheets_may_share_a_name(store: Store) -> None:
    sheets, plans = Drafts(store, "sheet"), Drafts(store, "plan")
    sheets.save("strips", {"is": "sheet"}, "Wilma", UTC, None)
    plans.save("strips", {"is": "plan"}, "Wilma", UTC, None, "attic")
    plans.save("far", {"is": "plan"}, "Wilma", UTC, None, "cellar")
    assert [draft.data for draft in sheets.newest()] == [{"is": "sheet"}]
    assert [draft.id for draft in plans.newest("attic")] == ["strips"]
    assert [draft.id for draft in plans.newest()] == ["far", "strips"]


def test_the_newest_calibration_of_each_zone_counts(store: Store) -> None:
    made = Calibrations(store)
    for value in (90.0, 91.0):
        made.add("attic", {"A1": (value, {}), "A2": (2 * value, {})}, "Wilma", UTC, said("calibrated"))
    made.add("attic", {"A2": (50.0, {})}, "Ida", UTC, said("calibrated"))
    made.add("cellar", {"A2": (1.0, {})}, "Ida", UTC, said("calibrated"))
    assert {zone: saved.irradiance_w_m2 for zone, saved in made.newest("attic").items()} == {"A1": 91.0, "A2": 50.0}
    assert len(made.history("attic")) == 5


def test_light_adds_up_over_sessions_by_zone_and_bank(store: Store) -> None:
    chamber = {"zones": [{"name": "A1", "bank": 1}, {"name": "A2", "bank": 2}]}
    store.commit(Batch("ferries", ended=Ended("completed", "done", UTC)))  # has no zones and no progress
    for number, lit_s in enumerate(([10.5, 0.0], [20.0, 5.0])):
        session_id = f"lit-{number}"
        store.begin_session(session_id, "attic", "t", {}, chamber, UTC)
        store.commit(Batch(session_id, progress={"lit_s": lit_s}, ended=Ended("completed", "done", UTC)))
    assert store.lit_s("attic") == [("A1", 1, 30.5), ("A2", 2, 5.0)]
    assert store.lit_s("cellar") == []


def test_a_backup_holds_all_of_it(store: Store, starts: PlannedStarts, tmp_path: Path) -> None:
    Drafts(store, "sheet").save("timetable", {"id": "timetable"}, "Wilma", UTC, None)
    made = back_up(store.path, tmp_path / "backup.db")
    assert made.verdict is not None
    assert made.verdict.faults == ()
    copy = Store.open(made.path)
    assert Drafts(copy, "sheet").one("timetable").data == {"id": "timetable"}
    assert PlannedStarts(copy).waiting() == starts.waiting()
    copy.close()
