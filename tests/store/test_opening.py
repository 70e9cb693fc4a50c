"""What is opened, and what is refused untouched."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlite_utils import Database, Migrations

from lampwarden.errors import StoreDamaged, StoreError, StoreNewer
from lampwarden.store import Batch, Store
from lampwarden.store.migrations import LADDER
from lampwarden.store.opening import open_database


def contents(folder: Path) -> dict[str, bytes]:
    """All files with something in them but the shared-memory index, which only says where in the log what lies."""
    data = {file.name: file.read_bytes() for file in folder.iterdir() if not file.name.endswith("-shm")}
    return {name: content for name, content in data.items() if content}


def next_ladder(fails: bool = False) -> Migrations:
    """The ladder with one step more, as a later version would have it."""
    ladder = Migrations(LADDER.name)
    for step in LADDER.pending(Database(memory=True)):
        ladder(name=step.name)(step.fn)

    @ladder()
    def m999_later(db: Database) -> None:
        db.execute("CREATE TABLE later (chamber_id TEXT NOT NULL) STRICT")
        if fails:
            raise KeyError("half way")

    return ladder


@pytest.fixture
def filled(path: Path, begin, line, sample) -> Path:
    """A closed database with 200 lines and 2,000 samples, some 200 kB."""
    store = Store.open(path)
    begin(store, "ferries")
    store.commit(Batch("ferries", [line(n) for n in range(200)], samples=[sample(n) for n in range(2000)]))
    store.close()
    return path


def test_a_new_database_is_made_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "a folder" / "with # and ?" / "lampwarden.db"
    store = Store.open(path)
    assert store.sessions("attic") == []
    store.close()
    Store.open(path).close()


def test_each_commit_is_flushed_to_the_disk(path: Path) -> None:
    db = open_database(path, 1.0)
    assert db.journal_mode == "wal"
    assert db.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    assert db.execute("PRAGMA foreign_keys").fetchone() == (1,)
    db.close()


@pytest.mark.parametrize("killed", [False, True], ids=["closed", "killed"])
def test_a_newer_database_is_refused_untouched(path: Path, killed: bool) -> None:
    db = open_database(path, 1.0, next_ladder())
    db.execute("INSERT INTO later VALUES ('attic')")
    db.conn.commit()
    if not killed:
        db.close()
    before = contents(path.parent)
    assert bool(before.get("lampwarden.db-wal")) == killed
    with pytest.raises(StoreNewer, match=r"m999_later.*left untouched.*Update this program"):
        Store.open(path)
    assert contents(path.parent) == before
    db.close()


def test_a_step_that_fails_leaves_neither_its_tables_nor_its_record(filled: Path) -> None:
    with pytest.raises(KeyError):
        open_database(filled, 1.0, next_ladder(fails=True))
    store = Store.open(filled)
    assert len(store.journal("ferries", "attic")) == 200
    store.close()
    db = open_database(filled, 1.0, next_ladder())
    assert db["later"].exists()
    db.close()


def refused_untouched(path: Path, match: str) -> None:
    before = contents(path.parent)
    with pytest.raises(StoreDamaged, match=match):
        Store.open(path)
    assert contents(path.parent) == before


@pytest.mark.parametrize("text", [b"x", b"no database\n" * 1000, b"SQLite format 3\0", bytes(8192)])
def test_a_file_that_is_no_database_is_refused(path: Path, text: bytes) -> None:
    path.write_bytes(text)
    refused_untouched(path, "damaged or is no database")


@pytest.mark.parametrize("kept", [1, 99, 100, 4096, 5000, 0.5, -4096, -1])
def test_a_file_cut_short_is_refused(filled: Path, kept: float) -> None:
    whole = filled.read_bytes()
    filled.write_bytes(whole[: int(kept * len(whole)) if isinstance(kept, float) else kept])
    refused_untouched(filled, "damaged")


@pytest.mark.parametrize("page", [0, 1, 5, 20, -1])
def test_an_overwritten_page_is_refused(filled: Path, page: int) -> None:
    whole = bytearray(filled.read_bytes())
    start = page * 4096 % len(whole) + (100 if page == 0 else 0)
    whole[start : start + 200] = b"\xa5" * 200
    filled.write_bytes(whole)
    refused_untouched(filled, "damaged")


def test_a_database_of_another_program_is_refused(path: Path) -> None:
    conn = sqlite3.connect(path)
    conn.execute("CREATE TABLE recipes (name TEXT)")
    conn.close()
    refused_untouched(path, "another program")


@pytest.mark.parametrize("emptied", [False, True], ids=["missing", "empty"])
def test_a_log_without_its_database_is_kept(path: Path, begin, emptied: bool) -> None:
    store = Store.open(path)
    begin(store, "ferries")
    log = Path(f"{path}-wal").read_bytes()
    store.close()
    path.unlink()
    if emptied:
        path.touch()
    Path(f"{path}-wal").write_bytes(log)
    refused_untouched(path, "Put the database back")


def test_an_empty_file_becomes_a_database(path: Path) -> None:
    path.touch()
    Store.open(path).close()
    assert path.stat().st_size > 0


def test_a_folder_in_its_place_is_named(path: Path) -> None:
    path.mkdir()
    with pytest.raises(StoreError, match=r"lampwarden\.db"):
        Store.open(path)


def test_a_folder_that_cannot_be_made_is_named(path: Path) -> None:
    path.write_text("in the way")
    with pytest.raises(StoreError, match="Name another place"):
        Store.open(path / "lampwarden.db")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has other rights")
def test_a_file_that_may_not_be_written_is_refused_at_the_start(filled: Path) -> None:
    filled.chmod(0o444)
    script = f"""
from lampwarden.errors import StoreError
from lampwarden.store import Store
try:
    Store.open({str(filled)!r})
except StoreError as error:
    print(error)
"""
    # The administrator may write anything; in a user namespace of its own the process is none.
    humbly = ["unshare", "--user"] if os.getuid() == 0 else []
    shown = subprocess.run([*humbly, sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert "lampwarden.db cannot be written. Give this user the right" in shown


def test_an_interrupted_first_write_is_undone(path: Path) -> None:
    """Before WAL is on, SQLite keeps a rollback journal; the process dies with it half used."""
    script = f"""
import os, signal, sqlite3
conn = sqlite3.connect({str(path)!r})
conn.execute("PRAGMA cache_size = 1")
conn.execute("BEGIN")
conn.execute("CREATE TABLE half_made (text)")
conn.executemany("INSERT INTO half_made VALUES (?)", [("x" * 1000,)] * 200)
os.kill(os.getpid(), {int(signal.SIGTERM)})
"""
    subprocess.run([sys.executable, "-c", script], check=False)
    assert path.stat().st_size > 0
    assert Path(f"{path}-journal").stat().st_size > 0
    store = Store.open(path)
    assert store.sessions("attic") == []
    store.close()


@pytest.mark.parametrize("after_ms", [0, 1, 2, 4, 8])
def test_a_kill_while_the_file_is_made_leaves_one_that_opens(tmp_path: Path, after_ms: int) -> None:
    script = f"""
import sys
from pathlib import Path
from lampwarden.store import Store
print("ready", flush=True)
for number in range(1000):
    Store.open(Path({str(tmp_path)!r}) / f"{{number}}.db")
"""
    child = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    child.stdout.readline()
    time.sleep(after_ms / 1000)
    child.kill()
    child.wait()
    child.stdout.close()
    for file in sorted(tmp_path.glob("*.db")):
        store = Store.open(file)
        assert store.sessions("attic") == []
        store.close()
