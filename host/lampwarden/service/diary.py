"""The journal as people read it: searched, checked, and added to."""

from collections.abc import Sequence

from ..errors import ProgramError
from ..store.records import Batch, Line, SavedLine
from ..store.verify import Verdict, verify
from .base import Base

REMARK_MAX = 2000


class Diary(Base):
    """The part of the service that searches the journal."""

    def search_journal(
        self,
        chamber_id: str,
        words: str = "",
        session_id: str | None = None,
        kinds: Sequence[str] = (),
        before_seq: int | None = None,
        limit: int = 200,
    ) -> list[SavedLine]:
        """Lines of a chamber's journal, the newest first. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._store.search(chamber_id, words.strip()[:200], session_id, kinds, before_seq, limit)

    def verify_journal(self) -> Verdict:
        """Walks the whole chain; a journal of a year takes a second. Raises StoreError."""
        return verify(self._store.path)

    def remark(self, chamber_id: str, text: str, by: str, session_id: str | None = None) -> None:
        """Adds a line to the journal, about a session or about the chamber; nothing that stands there is changed.

        Raises UnknownName, ProgramError for an empty text, StoreError.
        """
        keeper, said = self._keeper(chamber_id), text.strip()
        if not 0 < len(said) <= REMARK_MAX:
            raise ProgramError(f"A remark has 1 to {REMARK_MAX} letters; this has {len(said)}.")
        run_s = 0.0
        if session_id is not None:
            self._store.session(session_id)
            snapshot = keeper.snapshot
            run_s = snapshot.run_s if snapshot.session_id == session_id else 0.0
        line = Line("remark", run_s, self.utc(), {"by": by}, f"{by}: {said}", chamber_id, session_id)
        self._store.commit(Batch(session_id, [line]))
