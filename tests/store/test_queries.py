"""Answers are right, bounded, and take nothing from the writer."""

import random
import sqlite3
import statistics
import threading
from contextlib import closing
from pathlib import Path

import pytest

from lampwarden.errors import StoreError, UnknownName
from lampwarden.store import Batch, Ended, Queries, Sample, Store
from lampwarden.store.drafts import Drafts
from lampwarden.store.opening import read_only
from lampwarden.store.queries import LINES_MAX, POINTS_MAX
from lampwarden.store.starts import PlannedStarts


def test_readings_agree_with_plain_arithmetic(store: Store) -> None:
    """Against the same stretches worked out here, from irregular times with gaps and missing values."""
    draw = random.Random(2)
    times_ms = sorted(draw.sample(range(5_000, 90_000), 400) + draw.sample(range(400_000, 500_000), 400))

    def value(low: float, high: float) -> float | None:
        return None if draw.random() < 0.3 else round(draw.uniform(low, high), 2)

    samples = [
        Sample(ms / 1000, value(-5, 60), value(0, 100), (value(20, 90), None, value(20, 90)), draw.random() < 0.01)
        for ms in times_ms
    ]
    store.commit(Batch("ferries", samples=samples))

    points, first_ms, span_ms = 50, times_ms[0], times_ms[-1] - times_ms[0] + 1
    stretches: dict[int, list[Sample]] = {}
    for ms, sample in zip(times_ms, samples, strict=True):
        stretches.setdefault((ms - first_ms) * points // span_ms, []).append(sample)

    def of(function, values):
        present = [value for value in values if value is not None]
        return pytest.approx(function(present)) if present else None

    read = store.readings("ferries", points)
    assert len(read) == len(stretches) < points  # the gap has none
    for got, members in zip(read, stretches.values(), strict=True):
        air = [sample.air_temp_c for sample in members]
        assert got.run_s == pytest.approx(statistics.mean(sample.run_s for sample in members))
        assert got.air_temp_c_min == of(min, air)
        assert got.air_temp_c_mean == of(statistics.mean, air)
        assert got.air_temp_c_max == of(max, air)
        assert got.humidity_pct_mean == of(statistics.mean, [sample.humidity_pct for sample in members])
        banks = list(zip(*(sample.bank_temps_c for sample in members), strict=True))
        assert list(got.bank_temps_c_mean) == [of(statistics.mean, bank) for bank in banks]
        assert list(got.bank_temps_c_max) == [of(max, bank) for bank in banks]
        assert got.door_open == any(sample.door_open for sample in members)


def test_readings_come_back_to_a_hundredth(store: Store) -> None:
    store.commit(Batch("ferries", samples=[Sample(0.0, -0.004, 45.678, (1.23, None, 99.99, None), True)]))
    (read,) = store.readings("ferries")
    assert (read.run_s, read.air_temp_c_min, read.air_temp_c_mean, read.air_temp_c_max) == (0.0, 0.0, 0.0, 0.0)
    assert read.humidity_pct_mean == 45.68
    assert read.bank_temps_c_mean == read.bank_temps_c_max == (1.23, None, 99.99, None)
    assert read.door_open


def test_readings_of_a_part(store: Store, sample) -> None:
    store.commit(Batch("ferries", samples=[sample(second) for second in range(100)]))
    assert [read.run_s for read in store.readings("ferries", from_s=90.0, to_s=95.0)] == [90, 91, 92, 93, 94, 95]
    assert [read.run_s for read in store.readings("ferries", 2)] == [24.5, 74.5]
    assert store.readings("ferries", from_s=100.0) == []
    assert len(store.readings("ferries", from_s=-1e300, to_s=1e300)) == 100


def test_readings_are_bounded(store: Store, sample) -> None:
    store.commit(Batch("ferries", samples=[sample(second) for second in range(3 * POINTS_MAX)]))
    assert len(store.readings("ferries", 10**9)) == POINTS_MAX
    for points in (1, 0, -1):
        assert len(store.readings("ferries", points)) == 1


def test_lines_are_paged_and_bounded(store: Store, begin, line) -> None:
    begin(store, "cups", "cellar")
    mine = [line(n) for n in range(LINES_MAX)]
    store.commit(Batch("ferries", [*mine, line(5, "cups", "cellar"), line(6, None), line(LINES_MAX)]))

    first = store.journal("ferries", "attic", limit=10**9)
    rest = store.journal("ferries", "attic", after_seq=first[-1].seq)
    assert [read.data["number"] for read in first + rest] == list(range(LINES_MAX + 1))
    assert [read.data["number"] for read in store.last_lines("ferries", "attic", 2)] == [LINES_MAX - 1, LINES_MAX]
    assert [read.data["number"] for read in store.last_lines(None, "attic", 2)] == [6, LINES_MAX]
    assert [read.data["number"] for read in store.journal(None, "cellar")] == [5]
    assert len(store.last_lines(None, "attic", 10**9)) == LINES_MAX
    assert store.journal("ferries", "attic", limit=0) == store.last_lines("ferries", "attic", -1) == []


def test_sessions_are_paged_newest_first(store: Store, begin) -> None:
    store.commit(Batch("ferries", ended=Ended("completed", "", "")))
    for number in range(5):
        begin(store, f"s{number}")
        store.commit(Batch(f"s{number}", ended=Ended("completed", "", "")))
    begin(store, "other", "cellar")
    assert [session.id for session in store.sessions("attic", limit=2)] == ["s4", "s3"]
    assert [session.id for session in store.sessions("attic", limit=2, before="s3")] == ["s2", "s1"]
    assert [session.id for session in store.sessions("attic", before="s0")] == ["ferries"]
    assert store.sessions("nowhere") == []


def test_unknown_names(store: Store) -> None:
    for ask in (store.session, store.progress, store.readings):
        with pytest.raises(UnknownName, match="'nobody'"):
            ask("nobody")
    with pytest.raises(UnknownName, match="'nobody'"):
        store.sessions("attic", before="nobody")
    assert store.journal("nobody", "attic") == []


def test_a_reading_connection_cannot_write(store: Store, path: Path) -> None:
    with closing(read_only(path, 1.0)) as conn, pytest.raises(sqlite3.OperationalError, match="readonly"):
        conn.execute("DELETE FROM samples")


def test_a_missing_file_is_not_made(path: Path) -> None:
    with pytest.raises(StoreError, match=r"lampwarden\.db"):
        Queries(path).sessions("attic")
    assert not path.exists()


def test_readers_in_threads_see_whole_commits_while_the_writer_works(store: Store, path: Path, line, sample) -> None:
    done = threading.Event()
    wrong: list[object] = []

    def read() -> None:
        queries = Queries(path)
        try:
            while not done.is_set():
                lines = queries.journal("ferries", "attic")
                if len(lines) % 2 or [each.seq for each in lines] != list(range(1, len(lines) + 1)):
                    wrong.append(lines)
        except Exception as error:
            wrong.append(error)

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    for number in range(0, 200, 2):
        store.commit(Batch("ferries", [line(number), line(number + 1)], {"number": number}, [sample(number)]))
    done.set()
    for reader in readers:
        reader.join()
    assert wrong == []


def test_a_number_that_no_row_can_have_is_unknown(store: Store) -> None:
    huge = 2**63
    for ask in (
        lambda: store.journal(None, "attic", huge),
        lambda: Drafts(store, "sheet").one("timetable", huge),
        lambda: PlannedStarts(store).one(huge),
    ):
        with pytest.raises(UnknownName, match="nothing of so large a number"):
            ask()
