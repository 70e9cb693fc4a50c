"""The sheet's picture: chosen, straightened by its four corners in the browser, kept by the service."""

from nicegui import ui
from nicegui.events import GenericEventArguments

from ....planning.place import changed
from ..elements import Text, attribute, box, button, paper, shown
from .desk import Desk


class PhotoPart:
    """Buttons among the drawing's tools, and the dialog they open."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._size: object = None
        self._dialog = self._make_dialog()
        with box("label", "button quiet sh-file"):
            self._words = Text("span", "Photo of the sheet…")
            self._file = box("input", "said-only", type="file", accept="image/*", aria_label="Photo of the sheet")
        self._none = button("No photo", "quiet", self._drop)
        # The photo stays in the browser until it is straightened: the dialog's element takes the file.
        self._file.on(
            "change",
            self._dialog.open,
            js_handler="(e) => { lampwardenSheets.take(e.target.files[0]); e.target.value = ''; emit(); }",
        )

    @property
    def address(self) -> str:
        """Where the picture is; empty: there is none."""
        photo = self._desk.sheet.photo
        return f"/sheet-pictures/{photo}.jpg" if photo else ""

    def show(self) -> None:
        sheet = self._desk.sheet
        shown(self._none, bool(sheet.photo))
        self._words.text = "Another photo…" if sheet.photo else "Photo of the sheet…"
        size = (sheet.width_mm, sheet.height_mm)
        if size != self._size:
            self._size = size
            attribute(self._corners, "data-size", f"{sheet.width_mm:g} {sheet.height_mm:g}")

    def _make_dialog(self) -> ui.dialog:
        with paper("Photo of the sheet", classes="sh-photo") as dialog:
            Text("h2", "Where are the sheet’s corners?")
            Text(
                "p",
                "Drag each ring onto a corner of the sheet, the one marked 1 onto its upper left. By keyboard: Tab to a"
                " ring, then arrows. The photo is straightened here, in your browser, and kept small; it is only a"
                " background to lay out cells on.",
            )
            self._corners = box("sheet-corners", "sh-corners")
            self._corners.on("photo", self._taken, js_handler="(e) => emit(e.detail)")
            self._said = Text("p", "", "answer-said", role="alert")
            self._corners.on("refused", self._refused, js_handler="(e) => emit(e.detail)")
            with box("div", "actions"):
                use = Text("button", "Use it", "button main", type="button")
                use.on("click", lambda: None, js_handler="() => lampwardenSheets.use()")
                button("Leave it", "", dialog.close)
        return dialog

    def _taken(self, event: GenericEventArguments) -> None:
        self._dialog.close()
        self._said.text = ""
        photo = str(event.args)
        self._said.text = self._desk.do(lambda sheet: changed(sheet, photo=photo))

    def _refused(self, event: GenericEventArguments) -> None:
        self._said.text = str(event.args)

    def _drop(self) -> None:
        self._desk.do(lambda sheet: changed(sheet, photo=""))
