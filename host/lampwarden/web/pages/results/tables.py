"""A table of texts, in a frame that scrolls sideways by itself."""

from collections.abc import Callable, Sequence

from nicegui import ui

from ..elements import Rows, Text, attribute, box


class Table:
    """Rows of texts under a head; the first column names the row."""

    def __init__(self, title: str, head: Sequence[str] = (), classes: str = "") -> None:
        with box("div", "rs-wide", tabindex="0", role="region", aria_label=title):
            self.element = box("table", f"rs-table {classes}")
            with self.element:
                with box("thead"):
                    self._head: Rows[str] = Rows(box("tr"), _head)
                self._rows: Rows[Sequence[str]] = Rows(box("tbody"), _row)
        self._head.show(head)

    def show(self, rows: Sequence[Sequence[str]], head: Sequence[str] | None = None) -> None:
        if head is not None:
            self._head.show(head)
        self._rows.show(rows)


def _head() -> tuple[ui.element, Callable[[str], None]]:
    cell = Text("th", "", scope="col")

    def fill(text: str) -> None:
        cell.text = text

    return cell, fill


def _row() -> tuple[ui.element, Callable[[Sequence[str]], None]]:
    row = box("tr")
    with row:
        first = Text("th", "", scope="row")
    rest: Rows[str] = Rows(row, _cell)

    def fill(texts: Sequence[str]) -> None:
        first.text = texts[0]
        rest.show(texts[1:])

    return row, fill


def _cell() -> tuple[ui.element, Callable[[str], None]]:
    cell = Text("td")

    def fill(text: str) -> None:
        cell.text = text
        attribute(cell, "data-empty", None if text else "yes")

    return cell, fill
