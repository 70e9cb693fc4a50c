"""Disks that are full, locked or broken, under the real daemon: dark lamps, clear words, nothing overwritten."""

import os
import random
import shutil
import signal
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest

from lampwarden.store.verify import verify

from .daemon import Daemon, eventually, now_ms
from .disks import Disk, LockedFile, ShortFiles, SmallDisk, small_disks_are_here
from .truth import HEARTBEAT_MS, PERIOD_S, Lamps, unlawful_light


def program(seconds: int) -> str:
    return f"""
title = "Vermilion rule"
zones = [{{ zone = "A1", exposures = [{{ end = "{seconds} s" }}] }}]
[rules]
after_restart = "continue"
"""


TROUBLE_S = 3.2
"""Longer than a heartbeat: what is dark then is dark by the host's will, with the heartbeat going on."""


KINDS = [SmallDisk, ShortFiles, LockedFile]
LONG = bool(os.environ.get("LAMPWARDEN_LONG"))


@pytest.fixture(params=KINDS if LONG else KINDS[:1] if small_disks_are_here() else KINDS[1:2])
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Disk]:
    if request.param is SmallDisk and not small_disks_are_here():
        pytest.skip("this machine lets no user mount a file system of his own")
    disk = request.param(tmp_path / "data")
    yield disk
    disk.close()


def bench(daemon: Daemon) -> Any:
    return daemon.get("chambers/bench")


def lit(daemon: Daemon) -> bool:
    view = bench(daemon)
    return view["board"]["answers"] and view["board"]["readings"]["zone_levels"][0] == 1.0


def check_completed(desk_board: Any, daemon: Daemon, seconds: int, kills_ms: list[float]) -> None:
    """The light recorded is the true one and the planned one; the journal is whole."""
    eventually(lambda: bench(daemon)["session"]["phase"] == "ended")
    lamps, lines = Lamps(desk_board.lamps()), daemon.journal("bench")
    (ended,) = [line["data"] for line in lines if line["kind"] == "ended"]
    true_s = lamps.lit_s(0, 0.0, now_ms())
    assert ended["outcome"] == "completed"
    assert ended["lit_s"][0] == pytest.approx(true_s, abs=0.05)
    unminded_s = (PERIOD_S + HEARTBEAT_MS / 1000) * len(kills_ms)
    assert seconds - 0.05 <= true_s <= seconds + 0.1 + unminded_s
    assert unlawful_light(lamps, lines, kills_ms) == []
    assert [line["seq"] for line in lines] == list(range(1, len(lines) + 1))
    assert "Traceback" not in daemon.errors()


def test_disk_trouble_in_mid_session(
    desk_board: Any, daemon_for: Callable[..., Daemon], disk: Disk, tell: Callable[..., None]
) -> None:
    daemon = daemon_for(disk.before, bench=desk_board.port)
    daemon.start()
    daemon.start_session("bench", program(disk.noticed_s + 6))
    eventually(lambda: lit(daemon))
    time.sleep(1.0)
    shown = daemon.journal("bench")
    disk.refuse(daemon)
    refused_ms = now_ms()
    answers: list[httpx.Response] = []
    note = threading.Thread(target=lambda: answers.append(daemon.post("chambers/bench/note", by="Wilma", text="Odd.")))
    note.start()

    eventually(lambda: not any(desk_board.lamps()[-1][1]))
    dark_ms = desk_board.lamps()[-1][0]
    tell(lit_after_trouble_ms=round(dark_ms - refused_ms))
    # Two periods more for a busy machine; the plan itself would leave the lamps lit for another three.
    assert dark_ms - refused_ms < 1000 * (disk.noticed_s + 2 * PERIOD_S)
    first = bench(daemon)["number"]
    time.sleep(TROUBLE_S)
    view = bench(daemon)
    assert disk.says in view["storage_trouble"], view["storage_trouble"]
    assert view["board"]["answers"]
    assert view["board"]["readings"]["heartbeat_left_s"] > 0
    assert view["board"]["readings"]["state"] == "ready"  # armed and minded: its heartbeat goes on
    assert view["number"] - first >= TROUBLE_S - 1
    assert daemon.page("/").status_code == 200
    assert desk_board.lamps()[-1][0] == dark_ms
    assert daemon.journal("bench")[: len(shown)] == shown

    disk.relent()
    note.join()
    assert answers[0].status_code == 200, answers[0].text
    check_completed(desk_board, daemon, disk.noticed_s + 6, [])
    lines = daemon.journal("bench")
    assert lines[: len(shown)] == shown
    assert "annotated" in [line["kind"] for line in lines]
    holds = [line["kind"] for line in lines if line["data"].get("reason") == "storage"]
    assert holds == ["hold_began", "hold_ended"]


def test_killed_while_the_disk_takes_nothing(desk_board: Any, daemon_for: Callable[..., Daemon], disk: Disk) -> None:
    """What was shown before is there after; what was never acknowledged may be gone; the next life goes on."""
    daemon = daemon_for(disk.before, bench=desk_board.port)
    daemon.start()
    session_id = daemon.start_session("bench", program(4))
    eventually(lambda: lit(daemon))
    time.sleep(1.0)
    daemon.order("chambers/bench/note", by="Wilma", text="All well.")
    shown = daemon.journal("bench")
    disk.refuse(daemon)
    refused = threading.Thread(target=_note_in_vain, args=(daemon,))
    refused.start()
    eventually(lambda: bench(daemon)["storage_trouble"] is not None)
    killed_ms = now_ms()
    daemon.kill()
    refused.join()
    disk.relent()
    daemon.start()
    assert daemon.journal("bench")[: len(shown)] == shown
    assert bench(daemon)["session"]["session_id"] == session_id
    check_completed(desk_board, daemon, 4, [killed_ms])


def _note_in_vain(daemon: Daemon) -> None:
    with pytest.raises(httpx.TransportError):
        daemon.post("chambers/bench/note", by="Wilma", text="Odd.")


def test_started_on_a_full_disk(desk_board: Any, daemon_for: Callable[..., Daemon], tmp_path: Path) -> None:
    if not small_disks_are_here():
        pytest.skip("this machine lets no user mount a file system of his own")
    disk = SmallDisk(tmp_path / "data")
    daemon = daemon_for(disk.before, bench=desk_board.port)
    disk.refuse(daemon)
    daemon.launch()
    assert daemon.wait() == 1
    assert "full" in daemon.errors()
    assert "Traceback" not in daemon.errors()
    disk.relent()
    daemon.start()
    daemon.start_session("bench", program(4))
    eventually(lambda: lit(daemon))
    daemon.signal(signal.SIGTERM)
    assert daemon.wait() == 0
    before = contents(disk.data)
    disk.refuse(daemon)
    daemon.launch()
    assert daemon.wait() == 1
    disk.relent()
    assert not any(desk_board.lamps()[-1][1])
    assert contents(disk.data) == before
    daemon.start()
    check_completed(desk_board, daemon, 4, [])
    disk.close()


# --- databases that cannot be used ------------------------------------------------------------------------------------
def corrupt(database: Path) -> None:
    """Every page but the first is noise, as after a failing card."""
    size = database.stat().st_size
    database.write_bytes(database.read_bytes()[:4096] + random.Random(5).randbytes(size - 4096))


def truncate_page(database: Path) -> None:
    with database.open("r+b") as file:
        file.truncate(database.stat().st_size - 4096)


def truncate_within_a_page(database: Path) -> None:
    with database.open("r+b") as file:
        file.truncate(database.stat().st_size - 1000)


def truncate_to_nothing_beside_a_log(database: Path) -> None:
    """The log still holds commits; SQLite itself would delete it for a new, empty database."""
    with database.open("r+b") as file:
        file.truncate(0)


def from_the_future(database: Path) -> None:
    with closing(sqlite3.connect(database, isolation_level=None)) as other:
        (table,) = other.execute("SELECT name FROM sqlite_master WHERE name LIKE '%migrations%'").fetchone()
        columns = [row[1] for row in other.execute(f"PRAGMA table_info({table})")]
        row = dict(zip(columns, other.execute(f"SELECT * FROM {table}").fetchone(), strict=True))
        row = {name: value for name, value in row.items() if name != "id"} | {"name": "m999_a_later_step"}
        marks = ", ".join("?" * len(row))
        other.execute(f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})", list(row.values()))
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def no_database(database: Path) -> None:
    database.write_text("Shopping list: lamp oil, blotting paper.\n" * 300)


def contents(folder: Path) -> dict[str, bytes]:
    """All files that hold data: not the lock, not the index of the log, which is made anew by any reader."""
    data = {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix not in (".lock", ".db-shm")}
    return {name: content for name, content in data.items() if content}


HARMS = (
    # what is done to the database, what must be said of it, and whether the daemon before was killed or asked to end
    (corrupt, "is damaged or is no database", "asked"),
    (truncate_page, "is damaged or is no database", "asked"),
    (truncate_within_a_page, "ends in the middle of a page", "asked"),
    (truncate_to_nothing_beside_a_log, "beside it holds data", "killed"),
    (from_the_future, "was written by a newer version", "asked"),
    (from_the_future, "was written by a newer version", "killed"),
    (no_database, "it does not begin like one", "asked"),
)


def test_a_database_that_cannot_be_used_at_start(desk_board: Any, daemon: Daemon, tmp_path: Path) -> None:
    """A session's daemon ends; its database is harmed; the next daemon refuses it and touches nothing."""
    daemon.start()
    session_id = daemon.start_session("bench", program(6))
    eventually(lambda: lit(daemon))
    shown = daemon.journal("bench")
    killed_ms = now_ms()
    daemon.kill()
    shutil.copytree(daemon.data, tmp_path / "killed")
    daemon.start()
    eventually(lambda: lit(daemon))
    daemon.signal(signal.SIGTERM)
    assert daemon.wait() == 0
    shutil.copytree(daemon.data, tmp_path / "asked")

    for harm, says, ended in HARMS if LONG else HARMS[1:6:2]:
        lay(tmp_path / ended, daemon.data)
        harm(daemon.database)
        harmed, said = contents(daemon.data), len(daemon.errors())
        daemon.launch()
        assert daemon.wait() == 1, harm
        words = daemon.errors()[said:]
        assert says in words, (harm, words)
        assert str(daemon.database) in words
        assert contents(daemon.data) == harmed, harm
        assert not any(desk_board.lamps()[-1][1])

    lay(tmp_path / "asked", daemon.data)
    daemon.start()
    assert daemon.journal("bench")[: len(shown)] == shown
    assert bench(daemon)["session"]["session_id"] == session_id
    check_completed(desk_board, daemon, 6, [killed_ms])
    assert verify(daemon.database).faults == ()


def lay(source: Path, target: Path) -> None:
    shutil.rmtree(target)
    shutil.copytree(source, target)
