"""What the trial lacks, what to mind, and the mask."""

from collections.abc import Callable

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....errors import ProgramError
from ....mask.layout import PAPERS, lay_out
from ... import sheets_view
from ...sheets_view import Said
from ..elements import Labelled, Rows, Select, Text, attribute, box, button, sentence, shown
from .desk import Desk


class ControlsPart:
    """Missing controls, live."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        with box("section", "part sh-missing", aria_label="Missing controls"):
            with box("h2"):
                Text("span", "What is missing to conclude anything")
                self._count = Text("small")
            self._fine = Text("p", "", "hint")
            self._rows: Rows[Said] = Rows(box("ul", "sh-said", aria_live="polite"), _sourced)

    def show(self) -> None:
        missing = sheets_view.missing(self._desk.sheet)
        self._count.text = f"{len(missing)}" if missing else ""
        self._fine.text = sheets_view.missing_words(self._desk.sheet, missing)
        shown(self._fine, bool(self._fine.text))
        self._rows.show(missing)


class AdvicePart:
    """Cautions for this paper, these inks and treatments."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        with box("section", "part sh-advice", aria_label="Cautions"):
            Text("h2", "Cautions for this sheet")
            self._empty = Text("p", "They depend on paper, inks and treatments: describe these first.", "hint")
            self._groups: Rows[tuple[str, tuple[Said, ...]]] = Rows(box("div", "sh-groups"), _group)

    def show(self) -> None:
        groups = sheets_view.advice(self._desk.sheet, self._desk.chamber)
        shown(self._empty, not groups)
        self._groups.show(groups)


class MaskPart:
    """The mask to print and cut: whether it can be made, and both its files."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._paper = ""
        self._shown: object = None
        with box("section", "part sh-mask", aria_label="Mask"):
            Text("h2", "Mask")
            Text(
                "p",
                "A white page to print in true size and cut: openings where the cells are, corner marks by which photos"
                " are read, and places for the colour chart. Check its ruler after printing: 100 mm.",
                "lead",
            )
            self._says = Text("p", "", "sh-mask-says")
            self._wrong: Rows[str] = Rows(box("ul", "sh-cautions"), sentence)
            with box("div", "sh-mask-do") as self._do:
                with Labelled("Paper"):
                    self._select = Select({}, "", self._choose)
                with box("div", "actions"):
                    button("Download the mask (PDF)", "main", lambda: self._download("pdf"))
                    button("SVG, for a cutter", "", lambda: self._download("svg"))
            self._said = Text("p", "", "answer-said", role="alert")

    def show(self) -> None:
        sheet = self._desk.sheet
        about = (sheet.id, sheet.title, sheet.cells, sheet.width_mm, sheet.height_mm)
        if about == self._shown:
            return
        self._shown = about
        mask = sheets_view.mask_view(sheet)
        self._says.text = mask.says
        self._wrong.show(mask.wrong)
        shown(self._do, bool(mask.papers))
        if mask.papers:
            if self._paper not in mask.papers:
                self._paper = next(iter(mask.papers))
            self._select.show(mask.papers, self._paper)

    def _choose(self, value: str) -> None:
        self._paper = value

    async def _download(self, kind: str) -> None:
        sheet, paper, self._said.text = self._desk.sheet, PAPERS[self._paper], ""

        def drawn() -> bytes:
            from ....mask.pdf import to_pdf  # late: what is behind it makes the daemon larger
            from ....mask.svg import to_svg

            mask = lay_out(sheet, paper)
            return to_pdf(mask) if kind == "pdf" else to_svg(mask).encode()

        try:
            content = await run_in_threadpool(drawn)
        except ProgramError as error:
            self._said.text = str(error)
            return
        ui.download.content(content, f"{sheet.id}-mask.{kind}")


def _group() -> tuple[ui.element, Callable[[tuple[str, tuple[Said, ...]]], None]]:
    with box("details", "sh-group") as row:
        title = Text("summary")
        rows: Rows[Said] = Rows(box("ul", "sh-said"), _sourced)

    def fill(item: tuple[str, tuple[Said, ...]]) -> None:
        title.text = f"{item[0]} ({len(item[1])})"
        attribute(row, "data-count", str(len(item[1])))
        rows.show(item[1])

    return row, fill


def _sourced() -> tuple[ui.element, Callable[[Said], None]]:
    """A sentence, and where it is from."""
    with box("li") as row:
        text, source = Text("span"), Text("small")

    def fill(said: Said) -> None:
        text.text, source.text = said.text, said.source

    return row, fill
