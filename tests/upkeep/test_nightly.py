"""A backup a night, the newest kept, and what goes wrong said."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from lampwarden.store import Batch, Line, Store
from lampwarden.store.verify import verify
from lampwarden.upkeep.nightly import STAMP, Nightly

from .conftest import until


class Nights:
    """Nightly backups of a store, and what they said."""

    def __init__(self, store: Store, folder: Path) -> None:
        self.store, self.folder = store, folder
        self.said: list[tuple[str, str]] = []
        self.started: list[Nightly] = []

    def nightly(self, keep: int = 3, soon_s: float = 0.0, hour: int = 4) -> Nightly:
        say = lambda kind, text: self.said.append((kind, text))  # noqa: E731
        made = Nightly(self.store.path, self.folder, hour=hour, keep=keep, say=say, soon_s=soon_s)
        self.started.append(made)
        return made

    def old(self, days: float, text: str = "old") -> Path:
        """A backup of some days ago."""
        self.folder.mkdir(exist_ok=True)
        file = self.folder / f"nightly-{(datetime.now(UTC) - timedelta(days=days)).strftime(STAMP)}.db"
        file.write_text(text)
        return file


@pytest.fixture
def nights(store: Store, tmp_path: Path) -> Iterator[Nights]:
    nights = Nights(store, tmp_path / "backups")
    yield nights
    for each in nights.started:
        each.close()


def test_a_backup_is_made_whole(nights: Nights) -> None:
    nights.nightly().run()
    ((when, file),) = nights.nightly().backups().items()
    assert abs(when - datetime.now(UTC)) < timedelta(minutes=1)
    assert (verify(file).lines, verify(file).faults, nights.said) == (3, (), [])


def test_only_the_newest_are_kept_and_nothing_else_is_touched(nights: Nights) -> None:
    old = [nights.old(days) for days in (5, 1, 3, 2)]
    others = [nights.folder / name for name in ("backup-20200101T000000Z.db", "nightly-notes.db", "nightly.txt")]
    for other in others:
        other.write_text("mine")
    nights.nightly(keep=3).run()
    left = {file.name for file in nights.folder.iterdir()} - {file.name for file in others}
    assert {old[1].name, old[3].name} < left
    assert len(left) == 3
    assert [other.read_text() for other in others] == ["mine"] * 3


def test_a_clock_that_ran_ahead_does_not_cost_the_backup_just_made(nights: Nights) -> None:
    ahead = [nights.old(days) for days in (-300, -301)]
    nights.nightly(keep=2).run()
    backups = nights.nightly().backups().values()
    assert len(backups) == 2
    assert len([file for file in backups if file not in ahead]) == 1


def test_a_failure_is_said_and_older_backups_stay(nights: Nights) -> None:
    old = [nights.old(days) for days in (9, 8, 7)]
    nights.store.close()
    nights.store.path.write_bytes(b"wreck" * 2000)
    nights.nightly(keep=1).run()
    ((kind, text),) = nights.said
    assert kind == "backup_failed"
    assert text.startswith("The nightly backup failed. ")
    assert "lampwarden.db" in text
    assert sorted(nights.folder.iterdir()) == sorted(old)


def test_a_changed_journal_is_said_and_no_older_witness_deleted(nights: Nights) -> None:
    old = [nights.old(days) for days in (9, 8, 7)]
    with closing(sqlite3.connect(nights.store.path)) as conn:
        conn.execute("DROP TRIGGER journal_refuses_update")
        conn.execute("UPDATE journal SET text = 'All well.' WHERE seq = 2")
        conn.commit()
    nights.nightly(keep=1).run()
    ((kind, text),) = nights.said
    assert kind == "journal_changed"
    assert "Line 2 does not say what it said" in text
    assert all(file.exists() for file in old)
    assert len(nights.nightly().backups()) == 4


def test_what_a_power_cut_left_half_written_goes_in_time(nights: Nights) -> None:
    nights.folder.mkdir()
    stale, fresh = nights.folder / ".nightly-1.db.7.part", nights.folder / ".nightly-2.db.8.part"
    for part in (stale, fresh):
        part.write_text("half")
    os.utime(stale, (0, 0))
    nights.nightly().run()
    assert (stale.exists(), fresh.exists()) == (False, True)


def test_a_missed_night_is_made_up_for_soon_after_the_start(nights: Nights) -> None:
    nights.old(2)
    nightly = nights.nightly()
    nightly.start()
    until(lambda: len(nightly.backups()) == 2, "the backup that was due")


def test_a_fresh_backup_is_not_repeated_at_every_start(nights: Nights) -> None:
    nights.old(0.5)
    nightly = nights.nightly()
    nightly.start()
    assert [job.id for job in nightly._scheduler.get_jobs()] == ["nightly"]


def test_it_is_made_at_its_hour_however_late(nights: Nights) -> None:
    nightly = nights.nightly(hour=23)
    nightly.start()
    job = nightly._scheduler.get_job("nightly")
    assert (job.next_run_time.hour, job.next_run_time.minute) == (23, 0)
    assert job.next_run_time - datetime.now(UTC) <= timedelta(hours=25)
    assert job.misfire_grace_time is None


def test_none_are_made_when_none_are_kept(nights: Nights) -> None:
    nightly = nights.nightly(keep=0)
    nightly.start()
    nightly.close()
    assert not nights.folder.exists()


def test_closing_gives_up_a_backup_under_way(nights: Nights) -> None:
    line = Line("noted", 0.0, "", {"pad": "x" * 100_000}, "", "bench", None)
    nights.store.commit(Batch(None, [line] * 300))  # 30 MB: thirty steps with a pause after each
    nightly = nights.nightly()
    nightly.start()
    until(lambda: list(nights.folder.glob(".nightly-*.part")), "a backup under way")
    nightly.close()
    assert list(nights.folder.iterdir()) == []
    assert nights.said == []
