"""The journal's last lines, the newest first."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ..views import Line
from .elements import Rows, Text, attribute, box, shown


class JournalPart:
    def __init__(self) -> None:
        with box("section", "part journal-part", aria_label="Journal"):
            Text("h2", "Journal")
            self._empty = Text("p", "Nothing has been written yet.", "empty")
            self._rows: Rows[Line] = Rows(box("ol", "journal"), line_row)

    def show(self, lines: Sequence[Line]) -> None:
        shown(self._empty, not lines)
        self._rows.show(lines)


def line_row() -> tuple[ui.element, Callable[[Line], None]]:
    """A row of a list of lines."""
    with box("li") as row:
        at, text = Text("time"), Text("span")

    def fill(line: Line) -> None:
        at.text, text.text = line.at, line.text
        attribute(text, "class", "strong" if line.strong else None)

    return row, fill
