"""What is written comes back; what cannot be kept is refused with nothing changed."""

import math
import sqlite3
from contextlib import closing
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from lampwarden.errors import NotNow, UnknownName
from lampwarden.store import Batch, Ended, Line, Sample, Store
from lampwarden.store.store import JSON_BYTES_MAX


def test_a_line_comes_back_exactly(store: Store, path: Path) -> None:
    written = [
        Line(
            "held", 0.1 + 0.2, "2026-03-01T09:30:00+00:00", {"limits": (1, 2.5), "why": None}, "Für °C\n", "attic", None
        ),
        Line("held", 1e9, "", {"b": {"z": 1, "a": 1 / 3}, "a": True}, "", "attic", "ferries"),
    ]
    store.commit(Batch(None, written))
    read = store.journal(None, "attic")
    assert [line.seq for line in read] == [1, 2]
    for before, after in zip(written, read, strict=True):
        fields = asdict(after)
        del fields["seq"]
        expected = asdict(before)
        expected["data"] = {**expected["data"], **({"limits": [1, 2.5]} if "limits" in expected["data"] else {})}
        assert fields == expected
    with closing(sqlite3.connect(path)) as conn:
        (text,) = conn.execute("SELECT data FROM journal WHERE seq = 2").fetchone()
    assert text == '{"a":true,"b":{"a":0.3333333333333333,"z":1}}'  # canonical: what the chain's hash covers


@pytest.mark.parametrize(
    "order",
    [
        "UPDATE journal SET text = 'nothing happened' WHERE seq = 2",
        "DELETE FROM journal WHERE seq = 2",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal SELECT * FROM journal",
        "REPLACE INTO journal SELECT 2, chamber_id, session_id, kind, run_s, utc, 'x', data, hash, hash FROM journal",
        "INSERT INTO journal SELECT * FROM journal WHERE true ON CONFLICT (seq) DO UPDATE SET text = 'x'",
    ],
)
def test_the_journal_is_append_only(store: Store, path: Path, line, order: str) -> None:
    store.commit(Batch("ferries", [line(1), line(2), line(3)]))
    before = store.journal(None, "attic")
    with closing(sqlite3.connect(path)) as conn, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        conn.execute(order)
    assert store.journal(None, "attic") == before


def test_a_session_is_on_record_at_once(store: Store, path: Path) -> None:
    with closing(sqlite3.connect(path)) as conn:
        assert conn.execute("SELECT id, chamber_id FROM sessions").fetchall() == [("ferries", "attic")]
    session = store.session("ferries")
    assert session == store.open_session("attic")
    assert (session.title, session.program, session.ended) == ("Summer timetable", {"zones": [1, 2]}, None)


def test_a_chamber_has_one_open_session(store: Store, begin) -> None:
    with pytest.raises(NotNow, match="'ferries' of chamber 'attic' has not ended"):
        begin(store, "second")
    begin(store, "elsewhere", "cellar")
    store.commit(Batch("ferries", ended=Ended("completed", "all lit", "2026")))
    with pytest.raises(NotNow, match="already"):
        begin(store, "ferries")
    begin(store, "second")
    assert [session.id for session in store.sessions("attic")] == ["second", "ferries"]


def test_the_first_end_stands(store: Store) -> None:
    first = Ended("cut off", "air 61.0 °C over 60.0 °C", "2026-03-01T10:00:00+00:00")
    store.commit(Batch("ferries", ended=first))
    store.commit(Batch("ferries", ended=Ended("completed", "", "later")))
    assert store.session("ferries").ended == first
    assert store.open_session("attic") is None


def test_progress_is_replaced(store: Store) -> None:
    assert store.progress("ferries") is None
    for lit_ms in (1000, 2000):
        store.commit(Batch("ferries", progress={"lit_ms": lit_ms}))
    assert store.progress("ferries") == {"lit_ms": 2000}


def test_the_first_reading_of_an_instant_stays(store: Store, sample) -> None:
    store.commit(Batch("ferries", samples=[sample(1.0, 30.0), sample(1.0004, 31.0), sample(2.0, 32.0)]))
    assert [stretch.air_temp_c_mean for stretch in store.readings("ferries")] == [30.0, 32.0]


def test_sessions_survive_a_restart(store: Store, path: Path, line) -> None:
    store.close()
    again = Store.open(path)
    again.commit(Batch("ferries", [line(1)], {"a": 1}))
    assert again.progress("ferries") == {"a": 1}
    again.close()


def bad_batches():
    line = Line("noted", 1.0, "2026", {}, "text", "attic", "ferries")
    sample = Sample(1.0, 30.0, 45.0, (), False)
    yield "an unknown session", Batch("nobody", [line]), UnknownName
    yield "a line of an unknown session", Batch("ferries", [line, replace(line, session_id="nobody")]), UnknownName
    yield "progress without a session", Batch(None, [line], {"a": 1}), ValueError
    yield "samples without a session", Batch(None, samples=[sample]), ValueError
    yield "an end without a session", Batch(None, ended=Ended("completed", "", "")), ValueError
    for number in (math.nan, math.inf, -math.inf, -1e-9, 1e300):
        yield f"a line at {number} s", Batch("ferries", [replace(line, run_s=number)]), ValueError
        yield f"a sample at {number} s", Batch("ferries", samples=[replace(sample, run_s=number)]), ValueError
        data = {"at": {"depth": [number]}}
        if not math.isfinite(number):
            yield f"{number} in a line", Batch("ferries", [line, replace(line, data=data)]), ValueError
            yield f"{number} in progress", Batch("ferries", [line], data), ValueError
    for reading in (math.nan, math.inf, 1000.01, -1e300):
        yield f"{reading} °C", Batch("ferries", [line], samples=[replace(sample, air_temp_c=reading)]), ValueError
        yield (
            f"a bank at {reading} °C",
            Batch("ferries", samples=[replace(sample, bank_temps_c=(reading,))]),
            ValueError,
        )
    yield "nine banks", Batch("ferries", samples=[replace(sample, bank_temps_c=(1.0,) * 9)]), ValueError
    yield "no JSON", Batch("ferries", [replace(line, data={"a": object()})]), TypeError
    yield "a broken letter", Batch("ferries", [replace(line, text="\ud800")]), ValueError
    yield "too much", Batch("ferries", [replace(line, data={"a": "x" * JSON_BYTES_MAX})]), ValueError


@pytest.mark.parametrize(("batch", "error"), [pytest.param(b, e, id=name) for name, b, e in bad_batches()])
def test_what_cannot_be_kept_is_refused_whole(store: Store, batch: Batch, error: type[Exception]) -> None:
    with pytest.raises(error):
        store.commit(batch)
    assert store.journal(None, "attic") == []
    assert store.progress("ferries") is None
    assert store.readings("ferries") == []
