"""The cells: drawn true to proportion, listed, and one's numbers beside them."""

import json
from collections.abc import Callable, Mapping

from nicegui import ui
from nicegui.events import GenericEventArguments

from ....domain.chamber import Place
from ....domain.sheet import Sheet
from ....errors import ProgramError
from ... import sheets_view
from ...typed import number, whole
from ..elements import Rows, Text, attribute, box, button, sentence, shown
from . import edits
from .desk import Desk
from .edits import Box
from .entry import Choice, Entry
from .photo import PhotoPart

HOW = (
    "Drag on the sheet to draw a cell; drag a cell to move it, a corner to size it. By keyboard: arrows move a cell by"
    " 1 mm, with Shift they size it, with Ctrl they go 10 mm; Delete removes it. Shift and a click choose several."
)
HOW_BY_FINGER = "By finger: tap a cell to choose it, then drag it; press “Draw a cell” before you draw."


class LayoutPart:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._board_shown = ""
        with box("section", "part sh-layout", aria_label="Cells"):
            with box("h2"):
                Text("span", "Cells")
                self._caption = Text("small")
            Text(
                "p",
                "A cell is a named area of the sheet that gets one treatment. The mask is cut along its edges.",
                "lead",
            )
            with box("div", "sh-tools"):
                button("Add a cell", "quiet", self._add)
                button("One cell in each zone", "quiet", self._one_to_a_zone)
                self._draw = button("Draw a cell", "quiet sh-draw", self._drawing)
                self._photo = PhotoPart(desk)
            self._said = Text("p", "", "answer-said", role="alert")
            self._board = box("sheet-board", "sh-board")
            self._board.on("lay", self._laid, js_handler="(e) => emit(e.detail)")
            self._board.on("draw", self._drawn, js_handler="(e) => emit(e.detail)")
            self._board.on("choose", self._chosen, js_handler="(e) => emit(e.detail)")
            self._board.on("discard", lambda: self._remove(), js_handler="() => emit()")
            self._zones_said = Text("p", "", "hint")
            with box("details", "sh-how"):
                Text("summary", "How to draw, by mouse, finger and keyboard")
                Text("p", HOW)
                Text("p", HOW_BY_FINGER)
            self._cell = CellPart(desk, self._say)
            self._table = TablePart(desk)

    def show(self) -> None:
        desk, sheet = self._desk, self._desk.sheet
        zones = edits.places(desk.chamber, sheet)
        count = len(sheet.cells)
        self._caption.text = f"{count} on {sheet.width_mm:g} × {sheet.height_mm:g} mm"
        attribute(self._draw, "aria-pressed", "true" if desk.drawing else "false")
        shows = sheets_view.board(sheet, zones, desk.chosen, self._photo.address, drawing=desk.drawing, seq=desk.heard)
        text = json.dumps(shows, ensure_ascii=False, separators=(",", ":"))
        if text != self._board_shown:
            self._board_shown = text
            attribute(self._board, "data-board", text)
        self._zones_said.text = sheets_view.zones_words(desk.chamber, zones)
        self._photo.show()
        self._cell.show()
        self._table.show(zones)

    def _say(self, wrong: str) -> None:
        self._said.text = wrong

    def _add(self) -> None:
        made = {"name": ""}

        def add(sheet: Sheet) -> Sheet:
            new, made["name"] = edits.add(sheet, self._desk.chamber)
            return new

        self._say(self._desk.do(add))
        if made["name"]:
            self._desk.choose([made["name"]])

    def _one_to_a_zone(self) -> None:
        self._say(self._desk.do(lambda sheet: edits.one_to_a_zone(sheet, self._desk.chamber)))

    def _drawing(self) -> None:
        self._desk.drawing = not self._desk.drawing
        self.show()

    def _laid(self, event: GenericEventArguments) -> None:
        """A cell was moved or sized on the drawing."""
        about = event.args
        name, area, self._desk.heard = str(about["name"]), _box(about), int(about["seq"])
        self._say(
            self._desk.do(
                lambda sheet: edits.put(sheet, self._desk.chamber, name, area),
                strand=f"lay {name} {about['gesture']}",
                chosen=[name],
            )
        )

    def _drawn(self, event: GenericEventArguments) -> None:
        made = {"name": ""}
        self._desk.heard, self._desk.drawing = int(event.args["seq"]), False

        def add(sheet: Sheet) -> Sheet:
            new, made["name"] = edits.add(sheet, self._desk.chamber, _box(event.args))
            return new

        self._say(self._desk.do(add))
        if made["name"]:
            self._desk.choose([made["name"]])

    def _chosen(self, event: GenericEventArguments) -> None:
        name = str(event.args["name"])
        if event.args["more"]:
            self._desk.toggle(name)
        else:
            self._desk.choose([name] if name else [])

    def _remove(self) -> None:
        names = self._desk.chosen
        if names:
            self._say(self._desk.do(lambda sheet: edits.remove(sheet, names), chosen=[]))


class CellPart:
    """The chosen cell in numbers."""

    def __init__(self, desk: Desk, say: Callable[[str], None]) -> None:
        self._desk, self._say = desk, say
        self._of = ""
        self._none = Text("p", "Choose a cell on the drawing or in the list to see its numbers.", "hint")
        with box("fieldset", "sh-cell") as self._holder:
            self._legend = Text("legend")
            with box("div", "sh-numbers"):
                self._entries = [
                    self._name(),
                    *(self._measure(*about) for about in _MEASURES),
                ]
                self._zone = Choice(
                    desk,
                    "Zone",
                    lambda sheet: {zone.name: zone.name for zone in desk.chamber.zones} | self._stray(),
                    lambda sheet: self._shows("zone"),
                    lambda sheet, value: edits.with_cell(sheet, self._of, zone=value),
                )
                self._role = Choice(
                    desk,
                    "Role",
                    lambda sheet: sheets_view.ROLES,
                    lambda sheet: self._shows("role"),
                    self._set_role,
                )
                self._role.element.classes("sh-two")
                self._ink = Choice(
                    desk,
                    "Ink it watches",
                    lambda sheet: {"": "not chosen"} | {ink.name: ink.name for ink in sheet.inks},
                    lambda sheet: self._shows("ink"),
                    lambda sheet, value: edits.with_cell(sheet, self._of, ink=value),
                )
                for key, label, hint in _COUNTS:
                    self._entries.append(self._count(key, label, hint))
            with box("div", "actions"):
                button("Copy this cell", "quiet", self._copy)
                button("Remove this cell", "quiet", self._remove)

    def show(self) -> None:
        cell = self._desk.cell
        shown(self._holder, cell is not None)
        several = len(self._desk.chosen) > 1
        shown(self._none, cell is None and bool(self._desk.sheet.cells))
        self._none.text = (
            f"{len(self._desk.chosen)} cells chosen: give them a treatment below, or press Delete to remove them."
            if several
            else "Choose a cell on the drawing or in the list to see its numbers."
        )
        if cell is None:
            self._of = ""
            return
        other, self._of = cell.name != self._of, cell.name
        self._legend.text = f"Cell {cell.name}"
        for entry in self._entries:
            entry.anew() if other else entry.show()
        self._zone.show()
        self._role.show()
        self._ink.show()
        shown(self._ink.element, cell.role == "ink watch")

    def _shows(self, field: str) -> str:
        """A field of the chosen cell; empty without one."""
        value = getattr(self._desk.cell, field, "")
        return f"{value:g}" if isinstance(value, float) else str(value)

    def _stray(self) -> dict[str, str]:
        zone, known = self._shows("zone"), {known.name for known in self._desk.chamber.zones}
        return {} if not zone or zone in known else {zone: f"{zone} (not in this chamber)"}

    def _name(self) -> Entry:
        def write(sheet: Sheet, text: str) -> Sheet:
            new = edits.rename(sheet, self._of, text)
            self._desk.follow(self._of, text)
            self._of = text
            return new

        return Entry(self._desk, "Name", lambda sheet: self._shows("name"), write, maxlength="8")

    def _measure(self, key: str, label: str, field: str) -> Entry:
        def write(sheet: Sheet, text: str) -> Sheet:
            value = number(text, label.lower(), 0, 2000)
            old = edits.box_of(edits.cell_named(sheet, self._of))
            new = Box(**{name: value if name == key else getattr(old, name) for name in ("x", "y", "width", "height")})
            return edits.put(sheet, self._desk.chamber, self._of, new)

        return Entry(self._desk, label, lambda sheet: self._shows(field), write, unit="mm", inputmode="decimal")

    def _count(self, key: str, label: str, hint: str) -> Entry:
        return Entry(
            self._desk,
            label,
            lambda sheet: self._shows(key),
            lambda sheet, text: edits.with_cell(sheet, self._of, **{key: whole(text, label.lower(), 1, 99)}),
            hint=hint,
            inputmode="numeric",
        )

    def _set_role(self, sheet: Sheet, value: str) -> Sheet:
        if value == "ink watch" and not sheet.inks:
            raise ProgramError("Add an ink to the sheet's description first; then choose which one this cell watches.")
        ink = self._shows("ink") or (sheet.inks[0].name if sheet.inks else "")
        return edits.with_cell(sheet, self._of, role=value, ink=ink if value == "ink watch" else "")

    def _copy(self) -> None:
        made = {"name": ""}

        def copy(sheet: Sheet) -> Sheet:
            new, made["name"] = edits.copy_cell(sheet, self._desk.chamber, self._of)
            return new

        self._say(self._desk.do(copy))
        if made["name"]:
            self._desk.choose([made["name"]])

    def _remove(self) -> None:
        names = [self._of]
        self._say(self._desk.do(lambda sheet: edits.remove(sheet, names), chosen=[]))


_MEASURES = (
    ("x", "From the left", "x_mm"),
    ("y", "From the top", "y_mm"),
    ("width", "Width", "width_mm"),
    ("height", "Height", "height_mm"),
)
_COUNTS = (
    ("block", "Block", "Cells that are alike but for their treatment, such as one strip, share a block."),
    ("replicate", "Replicate", "Counts the cells with the same treatment."),
)


class TablePart:
    """All cells as a table; the drawing for those who do not see it."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._empty = Text(
            "p", "No cells yet. Drag one on the sheet above, or let each zone have one.", "empty", hidden=""
        )
        with box("div", "sh-wide", tabindex="0", role="region", aria_label="All cells") as self._holder, box("table"):
            with box("thead"), box("tr"):
                with box("th", scope="col"):
                    Text("span", "Choose", "said-only")
                for head in ("Cell", "Zone", "Size", "Treatment", "Role", "Block / replicate"):
                    Text("th", head, scope="col")
            self._rows: Rows[sheets_view.CellRow] = Rows(box("tbody"), self._row)
        self._cautions: Rows[str] = Rows(box("ul", "sh-cautions"), sentence)

    def show(self, zones: Mapping[str, Place]) -> None:
        rows = [sheets_view.cell_row(cell, zones, self._desk.chosen) for cell in self._desk.sheet.cells]
        shown(self._empty, not rows)
        shown(self._holder, bool(rows))
        self._rows.show(rows)
        self._cautions.show([row.caution for row in rows if row.caution])

    def _row(self) -> tuple[ui.element, Callable[[sheets_view.CellRow], None]]:
        of = {"name": ""}
        with box("tr") as row:
            with box("td"):
                tick = box("input", "sh-tick", type="checkbox")
                tick.on("change", lambda: self._desk.toggle(of["name"]), js_handler="() => emit()")
            name = Text("th", "", "", scope="row")
            cells = [Text("td") for _ in range(5)]

        def fill(shows: sheets_view.CellRow) -> None:
            of["name"] = shows.name
            name.text = shows.name
            for cell, text in zip(
                cells, (shows.zone, shows.size, shows.treatment, shows.role, shows.group), strict=True
            ):
                cell.text = text
            attribute(tick, "aria-label", f"Choose cell {shows.name}")
            attribute(tick, "checked", True if shows.chosen else None)
            attribute(row, "data-chosen", "yes" if shows.chosen else "no")

        return row, fill


def _box(about: dict[str, float]) -> Box:
    """Whole mm, as the drawing snaps."""
    return Box(*(float(round(about[key])) for key in ("x", "y", "width", "height")))
