"""The cells as swatches and numbers, sorted by whatever column a person presses."""

from collections.abc import Callable

from nicegui import ui

from ....domain.reading import Reading
from ....domain.sheet import Sheet
from ....findings.conclude import Conclusions
from ...photos_view import CellRow
from ...results_view.cells import HEADS, rows
from ..elements import Rows, Text, attribute, box, style


class CellsPart:
    def __init__(self, csv_href: str) -> None:
        self._key, self._down = "cell", False
        self._seen: tuple[Reading, Sheet, Conclusions | None] | None = None
        self._heads: dict[str, tuple[ui.element, Text]] = {}
        with box("section", "part", aria_label="Cells"):
            with box("h2"):
                Text("span", "Cells")
                self._what = Text("small")
            with (
                box("div", "rs-wide", tabindex="0", role="region", aria_label="Colours by cell"),
                box("table", "cells rs-cells"),
            ):
                with box("thead"), box("tr"):
                    for key in ("cell", "lab"):
                        self._head(key)
                    Text("th", "Colour", scope="col")
                    for key in ("change", "control", "verdict"):
                        self._head(key)
                self._rows: Rows[CellRow] = Rows(box("tbody"), cell_row)
            self._none = Text("p", "", "empty")
            with box("p", "rs-files"):
                Text("a", "All numbers as CSV", "button quiet", href=csv_href, download="")
            Text("p", "Before and now: the left half is the baseline, the right half this reading.", "hint")

    def show(self, reading: Reading | None, sheet: Sheet, found: Conclusions | None, label: str) -> None:
        self._what.text = f"{label}, against the baseline" if label else ""
        self._seen = None if reading is None else (reading, sheet, found)
        self._none.text = "" if reading is not None else "No reading yet."
        self._again()

    def _again(self) -> None:
        self._rows.show(rows(*self._seen, self._key, down=self._down) if self._seen else ())
        for key, (head, arrow) in self._heads.items():
            sort = "none" if key != self._key else "descending" if self._down else "ascending"
            attribute(head, "aria-sort", sort)
            arrow.text = {"none": "", "ascending": "▲", "descending": "▼"}[sort]

    def _head(self, key: str) -> None:
        with box("th", scope="col") as head, box("button", "rs-sort", type="button") as press:
            Text("span", HEADS[key])
            arrow = Text("span", "", "rs-arrow", aria_hidden="true")
        press.on("click", lambda: self._sort(key))
        self._heads[key] = (head, arrow)

    def _sort(self, key: str) -> None:
        # Numbers are wanted from the greatest down at first, names from A.
        first_down = key in ("change", "control")
        self._key, self._down = key, not self._down if key == self._key else first_down
        self._again()


def cell_row() -> tuple[ui.element, Callable[[CellRow], None]]:
    """A row of the table of cells."""
    row = box("tr")
    with row:
        with box("th", scope="row"):
            name = Text("b")
            about = Text("small")
        with box("td"), box("span", "cell-pair", aria_hidden="true"):
            before, now = box("i"), box("i")
        lab, change, control, verdict = Text("td"), Text("td"), Text("td"), box("td")
        with verdict:
            said = Text("b")
            marks = Text("small")

    def fill(cell: CellRow) -> None:
        name.text, about.text, lab.text = cell.cell, cell.about, cell.lab
        change.text, control.text = cell.change, cell.control
        said.text, marks.text = cell.verdict, " ".join(cell.marks)
        style(before, "background", cell.before or "none")
        style(now, "background", cell.now or "none")

    return row, fill
