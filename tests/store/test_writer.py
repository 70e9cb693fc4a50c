"""The queue: never waits, keeps order, loses no line, says what is wrong."""

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from lampwarden.errors import StoreError, StoreFull, UnknownName
from lampwarden.store import Batch, DirectWriter, Ended, Store, ThreadWriter
from lampwarden.store.writer import WAITING_LINES_MAX, WAITING_SAMPLES_MAX


def until(condition: Callable[[], bool]) -> None:
    deadline_s = time.monotonic() + 10
    while not condition():
        assert time.monotonic() < deadline_s, "waited 10 s in vain"
        time.sleep(0.001)


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Another program writes, for as long as it likes."""
    with closing(sqlite3.connect(path)) as conn:
        conn.execute("BEGIN IMMEDIATE")
        yield


def numbers(store: Store) -> list[int]:
    return [line.data["number"] for line in store.journal("ferries", "attic")]


@pytest.fixture(params=[DirectWriter, ThreadWriter])
def writer(request, store: Store):
    writer = request.param(store)
    yield writer
    writer.close()


def test_what_was_flushed_is_durable(writer, store: Store, line, sample) -> None:
    assert [writer.put(Batch("ferries", [line(n)], {"n": n}, [sample(n)])) for n in range(3)] == [1, 2, 3]
    assert (writer.durable, numbers(store)) == (0, [])
    writer.flush()
    until(lambda: writer.durable == 3)
    assert numbers(store) == [0, 1, 2]
    assert store.progress("ferries") == {"n": 2}
    assert len(store.readings("ferries")) == 3
    assert writer.trouble is None


def test_close_saves_the_rest_and_takes_no_more(writer, store: Store, line) -> None:
    ticket = writer.put(Batch("ferries", [line(1)], ended=Ended("completed", "", "")))
    writer.close()
    assert writer.durable == ticket
    assert store.open_session("attic") is None
    with pytest.raises(StoreError, match="closed"):
        writer.put(Batch("ferries", [line(2)]))


def test_a_flush_without_work_is_no_commit(writer, store: Store, path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        before = conn.execute("PRAGMA data_version").fetchone()
        writer.flush()
        writer.close()
        assert conn.execute("PRAGMA data_version").fetchone() == before


def test_a_bad_batch_is_refused_at_once_and_harms_no_other(writer, store: Store, line) -> None:
    writer.put(Batch("ferries", [line(1)]))
    with pytest.raises(UnknownName):
        writer.put(Batch("ferries", [line(2), line(3, "nobody")]))
    assert writer.put(Batch("ferries", [line(4)])) == 2
    writer.close()
    assert numbers(store) == [1, 4]


def test_what_changes_after_put_changes_nothing(writer, store: Store, line) -> None:
    batch = Batch("ferries", [line(1)], {"lit_ms": [1]})
    writer.put(batch)
    batch.lines[0].data["number"] = 99
    batch.progress["lit_ms"].append(2)
    writer.close()
    assert numbers(store) == [1]
    assert store.progress("ferries") == {"lit_ms": [1]}


def test_a_locked_database_is_told_and_waited_out_in_order(writer, store: Store, path: Path, line, sample) -> None:
    writer.put(Batch("ferries", [line(0)], {"n": 0}))
    writer.flush()
    until(lambda: writer.durable == 1)
    with locked(path):
        for n in range(1, 5):
            writer.put(Batch("ferries", [line(n)], {"n": n}, [sample(n)]))
            writer.flush()
            until(lambda: writer.trouble is not None)
        until(lambda n=n: f"wait in memory: {n}." in (writer.trouble or ""))
        assert "Another program keeps" in writer.trouble
        assert (writer.durable, numbers(store)) == (1, [0])
    writer.put(Batch("ferries", [line(5)]))
    writer.flush()
    until(lambda: writer.durable == 6)
    assert writer.trouble is None
    assert numbers(store) == [0, 1, 2, 3, 4, 5]
    assert store.progress("ferries") == {"n": 4}
    assert len(store.readings("ferries")) == 4
    assert [line.seq for line in store.journal(None, "attic")] == [1, 2, 3, 4, 5, 6]


def test_put_does_not_wait_for_the_disk(path: Path, begin, line) -> None:
    """The lock is given up only after all was put: a put that waited for it would never return."""
    store = Store.open(path, busy_wait_s=60)
    begin(store, "ferries")
    writer = ThreadWriter(store)
    count = 0
    with locked(path):
        deadline_s = time.monotonic() + 0.1
        while count < 100 or time.monotonic() < deadline_s:
            count = writer.put(Batch("ferries", progress={"n": count + 1}))
            writer.flush()
        assert writer.durable == 0
    writer.close()
    assert writer.durable == count
    assert store.progress("ferries") == {"n": count}
    store.close()


class Gated(Store):
    """A store whose commits wait at a gate, so that a test can act while one is under way."""

    def __init__(self, *args) -> None:
        super().__init__(*args)
        self.arrived, self.gate = threading.Semaphore(0), threading.Semaphore(0)

    def write(self, rows) -> None:
        self.arrived.release()
        self.gate.acquire()
        super().write(rows)


def test_what_is_put_during_a_commit_waits_for_the_next(path: Path, begin, line) -> None:
    store = Gated.open(path, busy_wait_s=0.05)
    begin(store, "ferries")
    writer = ThreadWriter(store)

    def flush_and_put_meanwhile(number: int) -> None:
        writer.flush()
        store.arrived.acquire()
        writer.put(Batch("ferries", [line(number)], {"n": number}))
        store.gate.release()

    writer.put(Batch("ferries", [line(1)], {"n": 1}))
    with locked(path):
        flush_and_put_meanwhile(2)
        until(lambda: "wait in memory: 2." in (writer.trouble or ""))
        assert writer.durable == 0
    flush_and_put_meanwhile(3)
    until(lambda: writer.durable > 0)
    assert (writer.durable, numbers(store), store.progress("ferries")) == (2, [1, 2], {"n": 2})
    store.gate.release()
    writer.close()
    assert (writer.durable, numbers(store), store.progress("ferries")) == (3, [1, 2, 3], {"n": 3})
    store.close()


def test_the_oldest_samples_go_first_and_lines_stay(writer, store: Store, path: Path, line, sample) -> None:
    with locked(path):
        for n in range(3):
            first = n * WAITING_SAMPLES_MAX // 2
            samples = [sample(first + k) for k in range(WAITING_SAMPLES_MAX // 2)]
            writer.put(Batch("ferries", [line(n)], samples=samples))
            writer.flush()
        left_out = WAITING_SAMPLES_MAX // 2
        until(lambda: f"Readings left out so far: {left_out}." in (writer.trouble or ""))
    assert writer.samples_dropped == left_out
    writer.flush()
    until(lambda: writer.durable == 3)
    assert numbers(store) == [0, 1, 2]
    assert store.readings("ferries", to_s=left_out - 1) == []
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT count(*), min(run_ms) FROM samples").fetchone() == (
            WAITING_SAMPLES_MAX,
            left_out * 1000,
        )


def test_lines_are_refused_at_their_bound_and_none_is_lost(writer, store: Store, path: Path, line, sample) -> None:
    writer.put(Batch("ferries", [line(0)]))
    writer.put(Batch("ferries", [line(1)] * (WAITING_LINES_MAX - 1)))
    with pytest.raises(StoreFull, match="10001 journal lines wait for the disk, at most 10000"):
        writer.put(Batch("ferries", [line(2)], {"n": 2}))
    assert writer.put(Batch("ferries", samples=[sample(1)])) == 3  # what is no line still passes
    writer.close()
    assert writer.durable == 3
    assert store.progress("ferries") is None
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT count(*), max(run_s) FROM journal").fetchone() == (WAITING_LINES_MAX, 1 / 7)


def test_close_with_a_bad_disk_returns_and_tells(writer, path: Path, line) -> None:
    with locked(path):
        writer.put(Batch("ferries", [line(1)]))
        writer.close()
    assert writer.durable == 0
    assert "wait in memory: 1." in writer.trouble
