"""What the sheet is: title, paper, inks, size, condition, whose it is, and its picture."""

from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from ....domain.sheet import Ink, InkKind, PaperKind, Sheet
from ....errors import ProgramError
from ....planning.place import changed
from ... import sheets_view
from ...typed import number
from ..elements import Field, Rows, Select, Text, Tick, attribute, box, button, sentence, shown
from .desk import Desk
from .entry import Entry

INKS_MAX = 20
LENGTH_MM_MAX = 2000


class DescribePart:
    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._papers: list[tuple[PaperKind, ui.element]] = []
        self._objects: list[tuple[bool, Text]] = []
        with box("section", "part sh-describe", aria_label="Description"):
            Text("h2", "What it is")
            with box("div", "sh-form"):
                self._entries = [self._title(), self._series()]
                self._paper()
                self._entries += self._size()
                self._entries.append(
                    Entry(
                        desk,
                        "Sizing",
                        lambda sheet: sheet.sizing,
                        lambda sheet, text: changed(sheet, sizing=text),
                        hint=f"What keeps ink from spreading: {', '.join(sheets_view.SIZINGS)}.",
                        maxlength="100",
                    )
                )
                self._inks = InksPart(desk)
                self._consent_shown = desk.sheet.consent
                self._original_said, self._consent = self._object()
                self._entries += [
                    Entry(
                        desk,
                        "Condition",
                        lambda sheet: sheet.condition,
                        lambda sheet, text: changed(sheet, condition=text),
                        hint="Folds, tears, stains, where it is darker.",
                        kind="textarea",
                        rows="3",
                        maxlength="2000",
                    ),
                    Entry(
                        desk,
                        "Notes",
                        lambda sheet: sheet.notes,
                        lambda sheet, text: changed(sheet, notes=text),
                        kind="textarea",
                        rows="3",
                        maxlength="4000",
                    ),
                ]

    def show(self) -> None:
        sheet = self._desk.sheet
        for entry in self._entries:
            entry.show()
        for kind, made in self._papers:
            attribute(made, "aria-checked", "true" if sheet.paper is kind else "false")
            attribute(made, "tabindex", "0" if sheet.paper is kind else "-1")
        for original, made in self._objects:
            attribute(made, "aria-pressed", "true" if sheet.original is original else "false")
        self._original_said.show(sheets_view.original_caution(sheet))
        if self._consent_shown != sheet.consent:
            self._consent_shown = sheet.consent
            self._consent.set(sheet.consent)
        self._inks.show()

    def _title(self) -> Entry:
        def write(sheet: Sheet, text: str) -> Sheet:
            if not text:
                raise ProgramError("The sheet needs a name. The one it had is kept.")
            return changed(sheet, title=text)

        return Entry(self._desk, "What you call it", lambda sheet: sheet.title, write, maxlength="40")

    def _series(self) -> Entry:
        return Entry(
            self._desk,
            "Series",
            lambda sheet: sheet.series,
            lambda sheet, text: changed(sheet, series=text),
            hint="Sheets of one series get the same treatments, and are compared under Results. Empty: none.",
            maxlength="40",
        )

    def _paper(self) -> None:
        with box("div", "field"):
            Text("span", "Paper")
            with box("div", "sh-kinds", role="radiogroup", aria_label="Kind of paper") as group:
                for kind, (name, line) in sheets_view.PAPERS.items():
                    with box("button", "sh-kind", type="button", role="radio") as made:
                        Text("b", name)
                        Text("span", line)
                    made.on("click", lambda kind=kind: self._desk.do(lambda sheet: changed(sheet, paper=kind)))
                    self._papers.append((kind, made))
            # The four arrows walk through a radio group.
            group.on("keydown", self._walk, ["key"])

    def _walk(self, event: GenericEventArguments) -> None:
        step = {"ArrowDown": 1, "ArrowRight": 1, "ArrowUp": -1, "ArrowLeft": -1}.get(str(event.args.get("key")))
        if step is None:
            return
        kinds = [kind for kind, _ in self._papers]
        chosen = kinds[(kinds.index(self._desk.sheet.paper) + step) % len(kinds)]
        self._desk.do(lambda sheet: changed(sheet, paper=chosen))
        made = next(made for kind, made in self._papers if kind is chosen)
        ui.run_javascript(f"getHtmlElement({made.id})?.focus()")

    def _size(self) -> list[Entry]:
        def write(key: str, what: str) -> Callable[[Sheet, str], Sheet]:
            return lambda sheet, text: changed(sheet, **{key: number(text, what, 10, LENGTH_MM_MAX)})

        with box("div", "sh-pair"):
            return [
                Entry(
                    self._desk,
                    "Width",
                    lambda sheet: f"{sheet.width_mm:g}",
                    write("width_mm", "width"),
                    unit="mm",
                    inputmode="decimal",
                ),
                Entry(
                    self._desk,
                    "Height",
                    lambda sheet: f"{sheet.height_mm:g}",
                    write("height_mm", "height"),
                    unit="mm",
                    inputmode="decimal",
                ),
            ]

    def _object(self) -> tuple[Rows[str], Tick]:
        with box("div", "field"):
            Text("span", "Original or test piece")
            with box("div", "choice", role="group", aria_label="Original or test piece"):
                for original, words in ((False, "Test piece"), (True, "Original")):
                    made = Text("button", words, type="button")
                    made.on("click", lambda o=original: self._desk.do(lambda sheet: changed(sheet, original=o)))
                    self._objects.append((original, made))
            Text("small", "A test piece is one that may be spoiled. Everything else is an original.", "hint")
            consent = Tick(
                "Its owner knows that it may change for good, and agrees",
                self._desk.sheet.consent,
                lambda yes: self._desk.do(lambda sheet: changed(sheet, consent=yes)),
            )
            return Rows(box("ul", "sh-cautions", aria_live="polite"), sentence), consent


class InksPart:
    """The inks and other media, a row each."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        with box("fieldset", "sh-inks"):
            Text("legend", "Inks and other media")
            self._rows: Rows[tuple[int, Ink]] = Rows(box("div", "sh-ink-rows"), self._row)
            self._add = button("Add an ink", "quiet", self._add_ink)
            self._said = Text("p", "", "entry-wrong", role="alert")

    def show(self) -> None:
        inks = self._desk.sheet.inks
        shown(self._add, len(inks) < INKS_MAX)
        self._rows.show(list(enumerate(inks)))

    def _add_ink(self) -> None:
        def add(sheet: Sheet) -> Sheet:
            names = {ink.name for ink in sheet.inks}
            name = next(f"ink {n}" for n in range(1, INKS_MAX + 2) if f"ink {n}" not in names)
            return changed(sheet, inks=(*sheet.inks, Ink(name=name)))

        self._said.text = self._desk.do(add)

    def _set(self, index: int, **fields: object) -> str:
        """Changes one ink; cells that watch it follow its name. Returns what is wrong."""

        def edit(sheet: Sheet) -> Sheet:
            old = sheet.inks[index]
            new = Ink.model_validate(old.model_dump() | fields)
            if any(ink.name == new.name for n, ink in enumerate(sheet.inks) if n != index):
                raise ProgramError(f"There is an ink '{new.name}' already.")
            inks = tuple(new if n == index else ink for n, ink in enumerate(sheet.inks))
            cells = tuple(
                cell.model_copy(update={"ink": new.name}) if cell.ink == old.name else cell for cell in sheet.cells
            )
            return changed(sheet, inks=inks, cells=cells)

        return self._desk.do(edit)

    def _remove(self, index: int) -> None:
        def edit(sheet: Sheet) -> Sheet:
            gone = sheet.inks[index].name
            watching = [cell.name for cell in sheet.cells if cell.ink == gone]
            if watching:
                raise ProgramError(f"Cell {watching[0]} watches this ink. Give the cell another role first.")
            return changed(sheet, inks=tuple(ink for n, ink in enumerate(sheet.inks) if n != index))

        self._said.text = self._desk.do(edit)

    def _row(self) -> tuple[ui.element, Callable[[tuple[int, Ink]], None]]:
        at = {"index": 0}
        now: dict[str, Ink] = {}
        kinds = {kind.value: kind.value if kind is not InkKind.UNKNOWN else "not known" for kind in InkKind}

        def name(text: str) -> None:
            text = text.strip()
            wrong.text = (
                self._set(at["index"], name=text) if text else "An ink needs a name, such as “vermilion rules”."
            )

        with box("div", "sh-ink") as row:
            field = Field("text", "", name, maxlength="40", aria_label="Name of the ink")
            kind = Select(kinds, "unknown", lambda v: self._set(at["index"], kind=v), aria_label="Kind of ink")
            tick = Tick("fugitive: known or feared to fade or run", False, lambda v: self._set(at["index"], fugitive=v))
            remove = button("Remove", "quiet", lambda: self._remove(at["index"]))
            about = Text("p", "", "hint")
            wrong = Text("p", "", "entry-wrong", role="alert")

        def fill(item: tuple[int, Ink]) -> None:
            index, ink = item
            before, at["index"], now["ink"] = now.get("ink"), index, ink
            if before is None or before.name != ink.name:
                field.set(ink.name)
                wrong.text = ""
                attribute(remove, "aria-label", f"Remove the ink {ink.name}")
            if before is None or before.kind is not ink.kind:
                kind.show(kinds, ink.kind.value)
            if before is None or before.fugitive is not ink.fugitive:
                tick.set(ink.fugitive)
            about.text = sheets_view.INKS.get(ink.kind, "")

        return row, fill
