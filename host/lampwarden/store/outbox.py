"""The outbox: messages that were made, and how far each has got on each of its channels.

Making messages and moving the place up to which the journal was read is one transaction: no line is told twice as
new, and none is passed over.
"""

import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from lampwarden.store.records import SavedLine
from lampwarden.store.store import Store

LINES_MAX = 500
"""Journal lines read at a time."""


@dataclass(frozen=True, slots=True)
class NewMessage:
    """A message to be kept, with the channels it goes to."""

    key: str
    kind: str
    chamber_id: str
    session_id: str | None
    urgency: int
    title: str
    body: str
    checkpoint: str
    until_utc: str
    """It is not sent after this."""
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Delivery:
    """One message on one channel."""

    number: int
    """Number of the message."""
    key: str
    kind: str
    chamber_id: str
    session_id: str | None
    urgency: int
    title: str
    body: str
    checkpoint: str
    made_utc: str
    until_utc: str
    channel: str
    """Name of the channel; empty: there was none when the message was made."""
    state: str
    """waiting, trying, delivered or needless."""
    tries: int
    next_utc: str
    changed_utc: str
    said: str
    """Why the last try failed, or why it is needless; empty: neither."""


_COLUMNS = """
    m.number, m.key, m.kind, m.chamber_id, m.session_id, m.urgency, m.title, m.body, m.checkpoint, m.made_utc,
    m.until_utc, d.channel, d.state, d.tries, d.next_utc, d.changed_utc, d.said"""
_MESSAGE = """
    INSERT INTO messages (key, kind, chamber_id, session_id, urgency, title, body, checkpoint, made_utc, until_utc)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING"""
_DELIVERY = """
    INSERT INTO deliveries (message, channel, chamber_id, state, tries, next_utc, changed_utc, said)
    VALUES (?, ?, ?, ?, 0, ?, ?, ?)"""


class Outbox:
    """The outbox of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def place(self) -> int | None:
        """Number of the journal line up to which the journal was read; None before the first time."""
        with self._store.reading() as conn:
            row = conn.execute("SELECT seq FROM outbox_place").fetchone()
        return None if row is None else int(row[0])

    def head(self) -> int:
        """Number of the journal's last line; 0 if it is empty."""
        with self._store.reading() as conn:
            return int(conn.execute("SELECT coalesce(max(seq), 0) FROM journal").fetchone()[0])

    def lines(self, after_seq: int) -> list[SavedLine]:
        """The next journal lines of all chambers."""
        return self._lines("seq > ? ORDER BY seq LIMIT ?", after_seq, LINES_MAX)

    def lines_of(self, session_id: str, after_seq: int, kinds: Sequence[str]) -> list[SavedLine]:
        """A session's journal lines of some kinds after a line."""
        marks = ", ".join("?" * len(kinds))
        return self._lines(
            f"session_id = ? AND seq > ? AND kind IN ({marks}) ORDER BY seq", session_id, after_seq, *kinds
        )

    def add(self, messages: Sequence[NewMessage], utc: str, place: int | None = None) -> None:
        """Keeps messages that are not there yet, and the place up to which the journal was read."""
        with self._store.writing() as conn:
            for m in messages:
                row = (
                    m.key, m.kind, m.chamber_id, m.session_id, m.urgency, m.title, m.body, m.checkpoint, utc,
                    m.until_utc,
                )  # fmt: skip
                made = conn.execute(_MESSAGE, row)
                if made.rowcount != 1:
                    continue
                for channel in m.channels or ("",):
                    state, said = ("waiting", "") if channel else ("needless", "no channel is set up for it")
                    conn.execute(_DELIVERY, (made.lastrowid, channel, m.chamber_id, state, utc, utc, said))
            if place is not None:
                conn.execute(
                    "INSERT INTO outbox_place (one, seq) VALUES (1, ?)"
                    " ON CONFLICT (one) DO UPDATE SET seq = excluded.seq",
                    (place,),
                )

    def open(self) -> list[Delivery]:
        """All that wait or are being tried, the most urgent and then the oldest first."""
        return self._deliveries("d.state IN ('waiting', 'trying')", "m.urgency DESC, m.number")

    def newest(self, chamber_id: str, limit: int = 50) -> list[Delivery]:
        """The newest messages of a chamber with their deliveries."""
        where = "m.number IN (SELECT number FROM messages WHERE chamber_id = ? ORDER BY number DESC LIMIT ?)"
        return self._deliveries(where, "m.number DESC, d.channel", chamber_id, max(1, min(limit, 500)))

    def last_of_channel(self, channel: str) -> Delivery | None:
        """The newest message that was tried over a channel."""
        found = self._deliveries("d.channel = ? AND d.tries > 0", "d.changed_utc DESC LIMIT 1", channel)
        return found[0] if found else None

    def settle(self, moves: Sequence[tuple[Delivery, str, int, str, str]], utc: str) -> None:
        """Sets state, tries, the time of the next try and what was said of deliveries."""
        with self._store.writing() as conn:
            conn.executemany(
                "UPDATE deliveries SET state = ?, tries = ?, next_utc = ?, said = ?, changed_utc = ?"
                " WHERE message = ? AND channel = ?",
                [(state, tries, then, said, utc, d.number, d.channel) for d, state, tries, then, said in moves],
            )

    def _lines(self, where: str, *values: Any) -> list[SavedLine]:
        sql = f"SELECT kind, run_s, utc, data, text, chamber_id, session_id, seq FROM journal WHERE {where}"
        with self._store.reading() as conn:
            return [
                SavedLine(k, s, utc, json.loads(data), *rest) for k, s, utc, data, *rest in conn.execute(sql, values)
            ]

    def _deliveries(self, where: str, order: str, *values: Any) -> list[Delivery]:
        with self._store.reading() as conn:
            return list(_rows(conn, where, order, values))


def _rows(conn: sqlite3.Connection, where: str, order: str, values: tuple[Any, ...]) -> Iterator[Delivery]:
    # Both parts are written in this file; only values come from outside.
    sql = f"SELECT {_COLUMNS} FROM messages m JOIN deliveries d ON d.message = m.number WHERE {where} ORDER BY {order}"
    for row in conn.execute(sql, values):
        yield Delivery(*row)
