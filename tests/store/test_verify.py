"""A journal that is as it was written passes; every other is told, with the line, its time and what happened to it."""

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lampwarden.errors import StoreError
from lampwarden.store import Batch, Line, Store
from lampwarden.store.chain import GENESIS, content_of, link
from lampwarden.store.verify import FAULTS_MAX, verify

LINES = 12


def utc(number: int) -> str:
    return f"2026-03-01T09:{number:02d}:00.000Z"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with twelve lines in several commits, some of them about no session; its triggers are off."""
    path = tmp_path_factory.mktemp("written") / "lampwarden.db"
    store = Store.open(path)
    store.begin_session("ferries", "attic", "Summer timetable", {}, {}, utc(0))
    numbers = iter(range(1, LINES + 1))
    for count in (1, 5, 2, 4):
        made = [
            Line("noted", n / 7, utc(n), {"n": n}, f"Line {n}: 41 °C.", "attic", "ferries" if n % 3 else None)
            for n in (next(numbers) for _ in range(count))
        ]
        store.commit(Batch("ferries", made))
    store.close()
    with closing(sqlite3.connect(path)) as conn:
        for verb in ("update", "delete", "replace"):
            conn.execute(f"DROP TRIGGER journal_refuses_{verb}")
        conn.commit()
    return path


@pytest.fixture
def copy(written: Path, path: Path) -> Path:
    shutil.copy(written, path)
    return path


def tamper(path: Path, *orders: str) -> None:
    with closing(sqlite3.connect(path)) as conn:
        for order in orders:
            conn.execute(order)
        conn.commit()


def found(path: Path) -> list[tuple[str, int, str]]:
    return [(fault.what, fault.seq, fault.utc) for fault in verify(path).faults]


def renumber(by: int, first: int) -> list[str]:
    """Orders that move the numbers of all lines from `first` on."""
    return [
        f"UPDATE journal SET seq = seq + 1000 WHERE seq >= {first}",
        f"UPDATE journal SET seq = seq - 1000 + {by} WHERE seq >= 1000",
    ]


def test_the_recipe_can_be_followed_by_hand(written: Path) -> None:
    """The words of chain.py, without its code: old hashes must be right forever."""
    previous = bytes(32)
    with closing(sqlite3.connect(written)) as conn:
        for *content, before, own in conn.execute(
            "SELECT chamber_id, session_id, kind, run_s, utc, text, data, previous_hash, hash FROM journal ORDER BY seq"
        ):
            assert before == previous
            said = "[" + ",".join(json.dumps(value, ensure_ascii=False) for value in content) + "]"
            previous = hashlib.sha256(before + said.encode()).digest()
            assert own == previous


def test_a_pinned_hash() -> None:
    """Computed once with `sha256sum` over 32 zero bytes and this array; it must never change."""
    said = '["attic",null,"noted",5.0,"2026-03-01T09:30:00Z","41 °C \\"warm\\"","{\\"a\\":1}"]'
    content = content_of("attic", None, "noted", 5, "2026-03-01T09:30:00Z", '41 °C "warm"', '{"a":1}')
    assert link(GENESIS, content) == hashlib.sha256(bytes(32) + said.encode()).digest()
    assert link(GENESIS, content).hex() == "ee80fcf014b3cbef88b45448ebc2ac03ecc4284e7fc3b5984f1c27c392496a99"


def test_what_was_written_passes(written: Path) -> None:
    verdict = verify(written)
    assert (verdict.lines, verdict.last_utc, verdict.faults) == (LINES, utc(LINES), ())
    with closing(sqlite3.connect(written)) as conn:
        (head,) = conn.execute("SELECT hash FROM journal WHERE seq = ?", (LINES,)).fetchone()
    assert verdict.head == head.hex()


def test_an_empty_journal_passes(path: Path) -> None:
    Store.open(path).close()
    assert verify(path).faults == ()
    assert verify(path).head == "0" * 64


@pytest.mark.parametrize("run_s", [0, -0.0, 5, 0.1 + 0.2, 1e9, 123456789.125])
def test_numbers_come_back_as_they_were_hashed(store: Store, path: Path, run_s: float) -> None:
    store.commit(Batch(None, [Line("noted", run_s, "", {"a": run_s}, "", "attic", None)]))
    assert verify(path).faults == ()


def test_the_chain_goes_on_after_a_restart_and_after_a_failed_commit(store: Store, path: Path, line) -> None:
    store.commit(Batch("ferries", [line(1)]))
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        conn.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreError, match="Another program keeps"):
            store.commit(Batch("ferries", [line(2)]))
    store.commit(Batch("ferries", [line(2), line(3)]))
    store.close()
    again = Store.open(path)
    again.commit(Batch("ferries", [line(4)]))
    again.close()
    assert (verify(path).lines, verify(path).faults) == (4, ())


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("text", "'Line 5: 31 °C.'"),
        ("data", "'{\"n\": 5}'"),
        ("run_s", "run_s + 1e-9"),
        ("utc", "'2026-03-01T09:05:00.001Z'"),
        ("kind", "'ended'"),
        ("chamber_id", "'cellar'"),
        ("session_id", "NULL"),
        ("hash", "zeroblob(32)"),
        ("previous_hash", "randomblob(32)"),
        ("text", "CAST(x'ff' AS TEXT)"),
    ],
)
def test_a_changed_line_is_told(copy: Path, column: str, value: str) -> None:
    tamper(copy, f"UPDATE journal SET {column} = {value} WHERE seq = 5")
    (what, seq, _), *more = found(copy)
    assert (what, seq, more) == ("changed", 5, [])


def test_a_changed_line_whose_hash_was_reckoned_anew_is_told(copy: Path) -> None:
    with closing(sqlite3.connect(copy)) as conn:
        *content, before = conn.execute(
            "SELECT chamber_id, session_id, kind, run_s, utc, 'All well.', data, previous_hash"
            " FROM journal WHERE seq = 5"
        ).fetchone()
        own = link(before, content_of(*content))
        conn.execute("UPDATE journal SET text = 'All well.', hash = ? WHERE seq = 5", (own,))
        conn.commit()
    assert found(copy) == [("missing", 6, utc(5))]
    assert "What stood before line 6 was taken out or replaced" in verify(copy).faults[0].text


@pytest.mark.parametrize(("first", "last"), [(1, 1), (5, 5), (5, 7), (1, LINES - 1)])
def test_a_missing_line_is_told(copy: Path, first: int, last: int) -> None:
    tamper(copy, f"DELETE FROM journal WHERE seq BETWEEN {first} AND {last}")
    assert found(copy) == [("missing", first, utc(first - 1) if first > 1 else "")]
    (fault,) = verify(copy).faults
    assert (f"Line {first} is" if first == last else f"Lines {first} to {last} are") in fault.text
    assert utc(last + 1) in fault.text


def test_a_missing_line_is_told_though_the_rest_was_numbered_anew(copy: Path) -> None:
    tamper(copy, "DELETE FROM journal WHERE seq = 5", *renumber(-1, 6))
    assert found(copy) == [("missing", 5, utc(4))]


def insert(seq: int, previous: bytes, text: str = "All well.") -> list[str]:
    content = content_of("attic", None, "noted", 1.0, utc(30), text, "{}")
    own = link(previous, content).hex()
    said = f"'attic', NULL, 'noted', 1.0, '{utc(30)}', '{text}', '{{}}'"
    return [*renumber(1, seq), f"INSERT INTO journal VALUES ({seq}, {said}, x'{previous.hex()}', x'{own}')"]


def hash_of(path: Path, seq: int) -> bytes:
    with closing(sqlite3.connect(path)) as conn:
        return conn.execute("SELECT hash FROM journal WHERE seq = ?", (seq,)).fetchone()[0]


@pytest.mark.parametrize("previous", ["right", "wrong"])
def test_an_inserted_line_is_told(copy: Path, previous: str) -> None:
    tamper(copy, *insert(5, hash_of(copy, 4) if previous == "right" else bytes(range(32))))
    if previous == "right":
        assert found(copy) == [("inserted", 5, utc(30))]
        assert verify(copy).faults[0].text == "Line 5 was put in: line 6 was written right after line 4."
    else:  # its predecessor is nowhere, and line 6 says that it follows line 4
        assert ("missing", 5, utc(4)) in found(copy)


def test_two_inserted_lines_are_told(copy: Path) -> None:
    tamper(copy, *insert(5, hash_of(copy, 4)))
    tamper(copy, *insert(6, hash_of(copy, 5), "Very well."))
    assert found(copy) == [("inserted", 5, utc(30))]
    assert verify(copy).faults[0].text == "Lines 5 to 6 were put in: line 7 was written right after line 4."


def test_a_line_put_at_the_end_under_an_earlier_one_is_told(copy: Path) -> None:
    tamper(copy, *insert(LINES + 1, hash_of(copy, 4)))
    assert found(copy) == [("inserted", LINES + 1, utc(30))]


def test_a_copied_line_is_told(copy: Path) -> None:
    tamper(
        copy,
        *renumber(1, 8),
        "INSERT INTO journal SELECT 8, chamber_id, session_id, kind, run_s, utc, text, data, previous_hash, hash"
        " FROM journal WHERE seq = 3",
    )
    assert found(copy) == [("inserted", 8, utc(3))]


def test_swapped_lines_are_told(copy: Path) -> None:
    tamper(
        copy,
        "UPDATE journal SET seq = 100 WHERE seq = 5",
        "UPDATE journal SET seq = 5 WHERE seq = 6",
        "UPDATE journal SET seq = 6 WHERE seq = 100",
    )
    assert found(copy) == [("moved", 5, utc(6)), ("moved", 6, utc(5)), ("moved", 7, utc(7))]
    assert verify(copy).faults[0].text == "Line 5 is out of place: it was written right after what is now line 6."


def test_a_line_moved_to_the_end_is_told(copy: Path) -> None:
    tamper(copy, "UPDATE journal SET seq = 100 WHERE seq = 5", *renumber(-1, 6))
    assert [what for what, _, _ in found(copy)] == ["moved", "missing", "moved"]


def test_a_shortened_journal_needs_a_kept_head(copy: Path) -> None:
    head = verify(copy).head
    middle = hash_of(copy, 5).hex()
    tamper(copy, f"DELETE FROM journal WHERE seq > {LINES - 2}")
    assert verify(copy).faults == ()
    assert verify(copy, head).kept_seq is None
    assert verify(copy, middle).kept_seq == 5


def test_a_journal_reckoned_anew_needs_a_kept_head(copy: Path) -> None:
    head = verify(copy).head
    previous = GENESIS
    with closing(sqlite3.connect(copy)) as conn:
        conn.execute("UPDATE journal SET text = 'All well.' WHERE seq = 5")
        rows = conn.execute("SELECT seq, chamber_id, session_id, kind, run_s, utc, text, data FROM journal").fetchall()
        for seq, *content in rows:
            own = link(previous, content_of(*content))
            conn.execute("UPDATE journal SET previous_hash = ?, hash = ? WHERE seq = ?", (previous, own, seq))
            previous = own
        conn.commit()
    assert verify(copy).faults == ()
    assert verify(copy, head).kept_seq is None


def test_the_first_digits_of_a_head_are_enough(written: Path) -> None:
    head = verify(written).head
    assert verify(written, f"{head[:8].upper()} {head[8:16]}").kept_seq == LINES
    for bad in (head[:15], head + "0", "g" * 64, ""):
        with pytest.raises(StoreError, match="no head of a journal"):
            verify(written, bad)


def test_faults_that_are_told_are_bounded(store: Store, line) -> None:
    store.commit(Batch("ferries", [line(n) for n in range(3 * FAULTS_MAX)]))
    store.close()
    with closing(sqlite3.connect(store.path)) as conn:
        conn.execute("DROP TRIGGER journal_refuses_update")
        conn.execute("UPDATE journal SET text = 'x'")
        conn.commit()
    assert len(verify(store.path).faults) == FAULTS_MAX


def test_lines_that_were_never_chained_are_told_apart(path: Path) -> None:
    shutil.copy(Path(__file__).parent / "data" / "v1.db", path)
    with pytest.raises(StoreError, match="before its lines were chained"):
        verify(path)
    Store.open(path).close()
    assert (verify(path).lines, verify(path).faults) == (3, ())


TAMPERING = st.one_of(
    st.tuples(st.just("delete"), st.integers(1, LINES - 1), st.booleans()),
    st.tuples(st.just("change"), st.integers(1, LINES), st.sampled_from(["text", "utc", "kind", "data", "hash"])),
    st.tuples(st.just("swap"), st.integers(1, LINES), st.integers(1, LINES)).filter(lambda t: t[1] != t[2]),
    st.tuples(st.just("insert"), st.integers(1, LINES), st.integers(0, LINES)),
)


def holds(path: Path) -> bool:
    """The chain's law in three lines, to hold the walk against."""
    previous = GENESIS
    with closing(sqlite3.connect(path)) as conn:
        conn.text_factory = lambda text: text.decode(errors="surrogateescape")
        for number, (seq, *content, before, own) in enumerate(conn.execute("SELECT * FROM journal ORDER BY seq"), 1):
            if (seq, before, own) != (number, previous, link(previous, content_of(*content))):
                return False
            previous = own
    return True


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=st.lists(TAMPERING, min_size=1, max_size=4))
def test_whatever_is_done_to_it_is_told(written: Path, path: Path, acts) -> None:
    shutil.copy(written, path)
    for what, a, b in acts:
        if what == "delete":
            tamper(path, f"DELETE FROM journal WHERE seq = {a}", *(renumber(-1, a + 1) if b else []))
        elif what == "change":
            new = "randomblob(32)" if b == "hash" else f"{b} || 'x'"
            tamper(path, f"UPDATE journal SET {b} = {new} WHERE seq = {a}")
        elif what == "swap":
            order = "UPDATE journal SET seq = {} WHERE seq = {}"
            tamper(path, order.format(999, a), order.format(a, b), order.format(b, 999))
        else:
            with closing(sqlite3.connect(path)) as conn:
                row = conn.execute("SELECT hash FROM journal WHERE seq = ?", (b,)).fetchone()
            tamper(path, *insert(a, row[0] if row else GENESIS))
    assert (verify(path).faults == ()) == holds(path)
