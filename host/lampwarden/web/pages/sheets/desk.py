"""The sheet being worked on, what is chosen on it, and whom to tell of a change."""

from collections.abc import Callable, Sequence

from ....domain.chamber import Chamber
from ....domain.sheet import Cell, Sheet
from ....errors import ProgramError
from .draft import Draft


class Desk:
    """Shared by the parts of one open page. `changed` is called after each change of draft or choice."""

    def __init__(self, chamber: Chamber, draft: Draft, changed: Callable[[], None]) -> None:
        self.chamber, self.draft = chamber, draft
        self._changed = changed
        self._chosen: tuple[str, ...] = ()
        self.drawing = False
        """The next drag on the drawing makes a cell, also by finger."""
        self.heard = 0
        """Number of the drawing's last change that was heard."""

    @property
    def sheet(self) -> Sheet:
        return self.draft.sheet

    @property
    def chosen(self) -> tuple[str, ...]:
        """Names of the chosen cells that there are, in the sheet's order."""
        return tuple(cell.name for cell in self.sheet.cells if cell.name in self._chosen)

    @property
    def cell(self) -> Cell | None:
        """The chosen cell, if it is one alone."""
        found = [cell for cell in self.sheet.cells if cell.name in self._chosen]
        return found[0] if len(found) == 1 else None

    def choose(self, names: Sequence[str]) -> None:
        """Chooses these cells and no others."""
        self._chosen = tuple(names)
        self._changed()

    def toggle(self, name: str) -> None:
        """Adds a cell to the choice, or takes it out."""
        self.choose([n for n in self._chosen if n != name] if name in self._chosen else [*self._chosen, name])

    def follow(self, name: str, new: str) -> None:
        """A chosen cell is about to get another name."""
        self._chosen = tuple(new if n == name else n for n in self._chosen)

    def do(self, edit: Callable[[Sheet], Sheet], strand: str = "", chosen: Sequence[str] | None = None) -> str:
        """Changes the sheet. Returns why it cannot be; empty if it was done. `chosen`: the choice afterwards."""
        try:
            sheet = edit(self.sheet)
        except ProgramError as error:
            self._changed()  # the drawing may show what was refused
            return str(error)
        self.draft.change(sheet, strand)
        if chosen is not None:
            self._chosen = tuple(chosen)
        self._changed()
        return ""

    def undo(self) -> None:
        self.draft.undo()
        self._changed()

    def redo(self) -> None:
        self.draft.redo()
        self._changed()
