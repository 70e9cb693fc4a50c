"""What people chose for the whole host: a value by name. What it was before stands in the journal."""

import json

from lampwarden.store.records import Json, Line
from lampwarden.store.store import Store, as_json


class Choices:
    """The choices of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def get(self, name: str) -> Json | None:
        """What was chosen; None: nothing yet."""
        with self._store.reading() as conn:
            row = conn.execute("SELECT data FROM choices WHERE name = ?", (name,)).fetchone()
        if row is None:
            return None
        found: Json = json.loads(row[0])
        return found

    def set(self, name: str, data: Json, line: Line) -> None:
        """Keeps a choice over the one before, and says so in the journal."""
        with self._store.writing() as conn:
            conn.execute(
                "INSERT INTO choices (name, data) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET data = excluded.data",
                (name, as_json(data)),
            )
            self._store.say(conn, line)
