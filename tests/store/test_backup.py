"""Backups are whole or not there; restoring never loses what was there."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest

from lampwarden.errors import StoreDamaged, StoreError, StoreNewer
from lampwarden.store import Batch, Ended, Store
from lampwarden.store.backup import back_up, restore
from lampwarden.store.opening import read_only
from lampwarden.store.verify import verify

STAMP, UTC = "20260504T040000Z", "2026-05-04T04:00:00.000Z"


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "elsewhere" / "copy.db"


@pytest.fixture
def filled(store: Store, line, sample) -> Store:
    """An open store with lines, samples and an unfinished session; nothing of it is folded into the file yet."""
    store.commit(Batch("ferries", [line(n) for n in range(20)], {"run_s": 5.0}, [sample(n) for n in range(500)]))
    return store


def put_back(backup: Path, database: Path, **more):
    return restore(backup, database, stamp=STAMP, utc=UTC, **more)


def names(folder: Path) -> set[str]:
    return {file.name for file in folder.iterdir()}


def test_a_backup_is_one_file_with_all_that_was_durable(filled: Store, target: Path) -> None:
    made = back_up(filled.path, target)
    assert names(target.parent) == {"copy.db"}
    assert made.verdict is not None
    assert (made.path, made.bytes, made.verdict.lines) == (target, target.stat().st_size, 20)
    assert made.verdict == verify(filled.path)
    copy = Store.open(target)
    assert copy.session("ferries") == filled.session("ferries")
    assert copy.journal(None, "attic") == filled.journal(None, "attic")
    assert copy.readings("ferries") == filled.readings("ferries")
    assert copy.progress("ferries") == {"run_s": 5.0}
    copy.close()


def test_a_backup_beside_a_busy_writer_is_one_moment_and_holds_nobody_up(filled: Store, target: Path, line, sample):
    """Many commits fall into the copying; it neither begins anew nor sees any of them, nor do they wait for it."""
    for start in range(1000, 61_000, 20_000):  # some 4 MB, copied in steps
        filled.commit(Batch("ferries", samples=[sample(n) for n in range(start, start + 20_000)]))
    steps = []

    def commit() -> None:
        steps.append(len(filled.journal(None, "attic")))
        filled.commit(Batch("ferries", [line(99)]))

    made = back_up(filled.path, target, on_step=commit)
    assert made.verdict is not None
    assert made.verdict.lines == 20
    assert steps == list(range(20, 20 + len(steps)))
    size_mb = made.bytes / (256 * 4096)
    assert 3 <= len(steps) <= size_mb + 2


def test_a_backup_overwrites_only_when_told_to(filled: Store, target: Path) -> None:
    target.parent.mkdir()
    target.write_bytes(b"precious")
    with pytest.raises(StoreError, match="overwrite it with --replace"):
        back_up(filled.path, target)
    assert target.read_bytes() == b"precious"
    back_up(filled.path, target, replace=True)
    assert verify(target).lines == 20
    assert names(target.parent) == {"copy.db"}


def test_a_backup_never_overwrites_the_database(filled: Store, tmp_path: Path) -> None:
    alias = tmp_path / "alias.db"
    alias.symlink_to(filled.path)
    for name in (filled.path, alias):
        with pytest.raises(StoreError, match="is the database itself"):
            back_up(filled.path, name, replace=True)
    assert len(filled.journal(None, "attic")) == 20


def test_a_backup_of_nothing_is_refused(tmp_path: Path, target: Path) -> None:
    with pytest.raises(StoreError, match="There is no database"):
        back_up(tmp_path / "nothing.db", target)
    assert not target.parent.exists()


def test_a_backup_that_ends_half_way_leaves_nothing(filled: Store, target: Path) -> None:
    def stop() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        back_up(filled.path, target, on_step=stop)
    assert names(target.parent) == set()


def test_a_damaged_database_gives_no_backup(filled: Store, target: Path) -> None:
    filled.close()
    whole = bytearray(filled.path.read_bytes())
    whole[5 * 4096 : 5 * 4096 + 200] = b"\xa5" * 200
    filled.path.write_bytes(whole)
    with pytest.raises(StoreDamaged, match="was not made"):
        back_up(filled.path, target)
    assert names(target.parent) == set()


def test_a_changed_journal_is_backed_up_and_told(filled: Store, target: Path) -> None:
    """What happened may not keep the rest from being saved."""
    forge(filled.path)
    made = back_up(filled.path, target)
    assert made.verdict is not None
    assert [fault.seq for fault in made.verdict.faults] == [5]
    assert target.exists()


def forge(path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("DROP TRIGGER journal_refuses_update")
        conn.execute("UPDATE journal SET text = 'All well.' WHERE seq = 5")
        conn.commit()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
def test_a_full_disk_leaves_the_older_backup(filled: Store, target: Path) -> None:
    back_up(filled.path, target)
    before = target.read_bytes()
    script = f"""
import resource, signal
from pathlib import Path
from lampwarden.errors import StoreError
from lampwarden.store.backup import back_up
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
try:
    back_up(Path({str(filled.path)!r}), Path({str(target)!r}), replace=True)
except StoreError as error:
    print(error)
"""
    shown = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "The disk" in shown.stdout
    assert target.read_bytes() == before
    assert names(target.parent) == {"copy.db"}


def test_a_kill_at_any_moment_leaves_whole_backups_only(filled: Store, target: Path) -> None:
    script = f"""
from pathlib import Path
from lampwarden.store.backup import back_up
while True:
    back_up(Path({str(filled.path)!r}), Path({str(target)!r}), replace=True)
    print("done", flush=True)
"""
    draw = random.Random(3)
    child = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    for _ in range(draw.randrange(2, 6)):
        child.stdout.readline()
    threading.Event().wait(draw.uniform(0, 0.02))
    child.kill()
    child.wait()
    child.stdout.close()
    assert verify(target).lines == 20
    assert [name for name in names(target.parent) if name.endswith(".db")] == ["copy.db"]


# --- the way back -----------------------------------------------------------------------------------------------------


def test_what_was_backed_up_comes_back(filled: Store, target: Path, line) -> None:
    back_up(filled.path, target)
    filled.commit(Batch("ferries", [line(50)], {"run_s": 9.0}, ended=Ended("completed", "", UTC)))
    filled.tick("ferries", {"run_s": 10.0})
    filled.close()
    before = filled.path.read_bytes()
    done = put_back(target, filled.path)

    kept = filled.path.with_name(f"lampwarden.replaced-{STAMP}.db")
    assert (done.kept, done.lines, done.open_sessions) == (kept, 20, ("ferries",))
    assert kept.read_bytes() == before
    assert names(filled.path.parent) == {
        "elsewhere",
        "lampwarden.db",
        kept.name,
        f"{kept.name}-tick-attic",
    }
    again = Store.open(filled.path)
    *lines, last = again.journal(None, "attic")
    assert [each.text for each in lines] == [f"Line {n}." for n in range(20)]
    assert (last.kind, last.session_id, last.utc, last.data["head"]) == ("restored", None, UTC, verify(target).head)
    assert last.text.endswith(f"Those they replaced are kept as {kept.name}.")
    assert again.progress("ferries") == {"run_s": 5.0}  # not the newer totals of what was replaced
    assert verify(filled.path, verify(target).head).kept_seq == 20
    again.close()
    old = Store.open(kept)
    assert old.session("ferries").ended is not None
    assert old.progress("ferries") == {"run_s": 10.0}
    old.close()


def test_the_log_of_a_killed_daemon_goes_aside_with_its_database(filled: Store, target: Path) -> None:
    back_up(filled.path, target)
    folder = target.parent / "killed"
    folder.mkdir()
    database = folder / "lampwarden.db"
    for suffix in ("", "-wal", "-shm"):  # as kill -9 leaves them
        shutil.copy(f"{filled.path}{suffix}", f"{database}{suffix}")
    assert Path(f"{database}-wal").stat().st_size > 0
    done = put_back(target, database)
    assert not Path(f"{database}-wal").exists()
    assert done.kept is not None
    for path, lines in ((database, 21), (done.kept, 20)):
        store = Store.open(path)
        assert len(store.journal(None, "attic")) == lines
        store.close()


def test_a_damaged_database_can_be_replaced(filled: Store, target: Path) -> None:
    back_up(filled.path, target)
    filled.close()
    filled.path.write_bytes(b"wreck" * 3000)
    done = put_back(target, filled.path)
    assert done.kept is not None
    assert done.kept.read_bytes() == b"wreck" * 3000
    Store.open(filled.path).close()


def test_a_lost_database_comes_back(filled: Store, target: Path, tmp_path: Path) -> None:
    back_up(filled.path, target)
    fresh = tmp_path / "fresh" / "lampwarden.db"
    fresh.parent.mkdir()
    done = put_back(target, fresh)
    assert done.kept is None
    assert names(fresh.parent) == {"lampwarden.db"}
    assert verify(fresh).lines == 21


def test_a_backup_of_an_older_version_climbs_the_ladder(path: Path) -> None:
    old = path.with_name("old.db")
    shutil.copy(Path(__file__).parent / "data" / "v1.db", old)
    made = back_up(old, path.with_name("copy.db"))
    assert made.verdict is None
    put_back(made.path, path)
    assert (verify(path).lines, verify(path).faults) == (4, ())


def newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("INSERT INTO _sqlite_migrations (migration_set, name) VALUES ('lampwarden', 'm999_later')")
        conn.commit()


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-4096])


def scratch(path: Path) -> None:
    whole = bytearray(path.read_bytes())
    whole[5 * 4096 : 5 * 4096 + 200] = b"\xa5" * 200
    path.write_bytes(whole)


def empty(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("VACUUM")


def foreign(path: Path) -> None:
    path.unlink()
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("CREATE TABLE recipes (name TEXT)")


@pytest.mark.parametrize(
    ("spoil", "error"),
    [
        (newer, StoreNewer),
        (cut, StoreDamaged),
        (scratch, StoreDamaged),
        (empty, StoreDamaged),
        (foreign, StoreDamaged),
        (forge, StoreDamaged),
        (Path.unlink, StoreError),
    ],
)
def test_what_cannot_be_trusted_replaces_nothing(filled: Store, target: Path, spoil, error) -> None:
    back_up(filled.path, target)
    filled.close()
    spoil(target)
    before = {file.name: file.read_bytes() for file in filled.path.parent.iterdir() if file.is_file()}
    with pytest.raises(error):
        put_back(target, filled.path)
    assert {file.name: file.read_bytes() for file in filled.path.parent.iterdir() if file.is_file()} == before


def test_a_changed_journal_comes_back_when_asked_for(filled: Store, target: Path) -> None:
    back_up(filled.path, target)
    filled.close()
    forge(target)
    put_back(target, filled.path, changed_too=True)
    assert [fault.seq for fault in verify(filled.path).faults] == [5]


def test_the_database_is_no_backup_of_itself(filled: Store) -> None:
    with pytest.raises(StoreError, match="is the database itself"):
        put_back(filled.path, filled.path)


@pytest.mark.skipif(sys.platform != "linux" or os.geteuid() != 0, reason="only the administrator gives files away")
def test_what_the_administrator_makes_belongs_to_the_folders_owner(filled: Store, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    os.chown(home, 1234, 1234)
    made = back_up(filled.path, home / "backups" / "copy.db")
    put_back(made.path, home / "lampwarden.db")
    for file in (made.path.parent, made.path, home / "lampwarden.db"):
        assert file.stat().st_uid == 1234


def test_reading_a_closed_database_leaves_it_fit_to_open(filled: Store, target: Path) -> None:
    filled.close()
    back_up(filled.path, target)
    with closing(read_only(filled.path, 1.0)) as conn:
        assert conn.execute("SELECT count(*) FROM journal").fetchone() == (20,)
    Store.open(filled.path).close()
