"""A sheet on the desk: what it is now, what it was before, and which revision it was taken from. Pure."""

from ....domain.sheet import Sheet

STEPS_MAX = 100
"""Changes that can be undone."""


class Draft:
    """Kept for a browser tab, so that a reload loses nothing."""

    def __init__(self, sheet: Sheet, revision: int) -> None:
        self.sheet = sheet
        self.saved = sheet
        """As it was saved last, or taken from the record."""
        self.revision = revision
        """The number of that."""
        self._past: list[Sheet] = []
        self._future: list[Sheet] = []
        self._strand = ""

    @property
    def dirty(self) -> bool:
        """There is something to save."""
        return self.sheet != self.saved

    @property
    def can_undo(self) -> bool:
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        return bool(self._future)

    def change(self, sheet: Sheet, strand: str = "") -> None:
        """Takes the changed sheet. Changes in a row of the same strand (not empty) are undone together."""
        if sheet == self.sheet:
            return
        if not strand or strand != self._strand or not self._past:
            self._past = [*self._past, self.sheet][-STEPS_MAX:]
        self.sheet, self._strand = sheet, strand
        self._future.clear()

    def undo(self) -> None:
        """Back by one change."""
        if self._past:
            self._future.append(self.sheet)
            self.sheet, self._strand = self._past.pop(), ""

    def redo(self) -> None:
        """Forward by one change that was undone."""
        if self._future:
            self._past.append(self.sheet)
            self.sheet, self._strand = self._future.pop(), ""

    def kept(self, revision: int, sheet: Sheet) -> None:
        """This was saved as that revision."""
        self.saved, self.revision, self._strand = sheet, revision, ""
