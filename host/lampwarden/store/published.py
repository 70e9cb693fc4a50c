"""Up to which line the journal was published, so that nothing is left out or told out of order after an outage.

The place lies in the database beside the journal: whoever goes back to a backup goes back to its place as well.
"""

from lampwarden.store.store import Store


class Published:
    """The place of one store. Raises StoreError like the store itself."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def place(self) -> int | None:
        """Number of the last line that was taken; None before anything was ever published."""
        with self._store.reading() as conn:
            row = conn.execute("SELECT seq FROM published_place").fetchone()
        return None if row is None else int(row[0])

    def keep(self, seq: int) -> None:
        """Lines up to this one need not be published again; on disk when it returns."""
        with self._store.writing() as conn:
            conn.execute(
                "INSERT INTO published_place (one, seq) VALUES (1, ?)"
                " ON CONFLICT (one) DO UPDATE SET seq = excluded.seq",
                (seq,),
            )
