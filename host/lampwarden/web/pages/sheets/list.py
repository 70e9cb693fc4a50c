"""The sheets there are: describe a new one, copy one, take one in from a file, remove one and bring it back."""

from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.events import GenericEventArguments
from starlette.concurrency import run_in_threadpool

from ....domain.program_file import parse_as
from ....domain.sheet import Sheet
from ....errors import LampwardenError, ProgramError, StoreError
from ....planning.place import changed
from ....service import SavedSheet
from ... import sheets_view
from ... import wording as w
from ..elements import Field, Labelled, Rows, Text, attribute, box, order_button, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .edits import copy_title, slug

FILE_BYTES_MAX = 200_000
"""Longest sheet file that is taken in; 60 cells make some 12 kB."""


class SheetsPage:
    """One open page."""

    def __init__(self, site: Site, reader: Reader, chamber_id: str) -> None:
        self._service, self._reader, self._chamber_id = site.service, reader, chamber_id
        self._saved: list[SavedSheet] = []
        self._removed: Sheet | None = None
        self._title = ""
        frame(site, reader, chamber_id, "sheets", self._show)
        with box("div", "top"):
            Text("h1", "Sheets", "title")
            Text(
                "p",
                "A sheet is what you treat: its paper, its inks, and the cells on it that get different light or"
                " baths. Describe it once; plans and records refer to it.",
                "lead",
            )
        with box("div", "page one"):
            with box("section", "part", aria_label="New sheet"):
                Text("h2", "Describe a new sheet")
                with box("div", "sh-new"):
                    with Labelled("What do you call it?", "You can change it later.") as self._labelled:
                        self._field = Field("text", "", self._typed, at_once=True, maxlength="40")
                    with box("div", "actions"):
                        order_button("Describe it", "main", self._new)
                        with box("label", "button sh-file"):
                            Text("span", "From a file…")
                            self._file = box(
                                "input", "said-only", type="file", accept=".toml", aria_label="Sheet file (TOML)"
                            )
                self._file_wrong = Text("p", "", "answer-said sh-lines", role="alert")
            with box("section", "part", aria_label="Sheets described"):
                Text("h2", "Sheets described")
                self._empty = Text(
                    "p", "No sheet has been described yet. Give it a name above to begin.", "empty", hidden=""
                )
                self._undo = box("p", "sh-undo", role="status")
                with self._undo:
                    self._undo_text = Text("span")
                    order_button("Bring it back", "quiet", self._bring_back)
                self._said = Text("p", "", "answer-said", role="alert")
                self._rows: Rows[sheets_view.SheetRow] = Rows(box("ul", "sh-sheets"), self._row)
        shown(self._undo, False)
        self._file.on("change", self._from_file, js_handler=_READ_FILE)
        ui.timer(0, self._load, once=True)

    async def _load(self) -> None:
        try:
            self._saved = await run_in_threadpool(self._service.sheets)
        except StoreError as error:
            self._said.text = f"The sheets cannot be read: {error}"
            return
        shown(self._empty, not self._saved)
        self._show()

    def _show(self) -> None:
        now = w.moment(self._service.snapshot(self._chamber_id).utc)
        self._rows.show(
            [
                sheets_view.row(saved.sheet, saved.revision, saved.saved_utc, now, self._reader.taste)
                for saved in self._saved
            ]
        )

    def _typed(self, text: str) -> None:
        self._title = text.strip()
        if self._title:
            self._labelled.mended()

    async def _new(self) -> None:
        if not self._title:
            self._labelled.wrong("Give the sheet a name first, such as “Ferry timetable 1912”.")
            return
        await self._keep(Sheet(id=self._free_id(self._title), title=self._title), self._labelled.wrong)

    async def _from_file(self, event: GenericEventArguments) -> None:
        name, text = (str(part) for part in event.args)
        self._file_wrong.text = ""
        try:
            if not text:
                raise ProgramError(f"{name}: empty, or longer than {FILE_BYTES_MAX // 1000} kB. Choose a sheet's file.")
            sheet = parse_as(Sheet, text, name)
        except ProgramError as error:
            self._file_wrong.text = str(error)
            return
        taken = [saved.sheet.id for saved in self._saved]
        if sheet.id in taken:
            sheet = changed(sheet, id=slug(sheet.id, taken))
        await self._keep(sheet, lambda wrong: setattr(self._file_wrong, "text", wrong))

    async def _copy(self, sheet_id: str) -> None:
        sheet = self._sheet(sheet_id)
        title = copy_title(sheet.title)
        copy = changed(sheet, id=self._free_id(title), title=title)
        await self._keep(copy, lambda wrong: setattr(self._said, "text", wrong))

    async def _remove(self, sheet_id: str) -> None:
        sheet, self._said.text = self._sheet(sheet_id), ""
        if await self._asked(self._service.remove_sheet, sheet_id, self._reader.name):
            self._removed = sheet
            self._undo_text.text = f"“{sheet.title}” was removed."
            shown(self._undo, True)
            await self._load()

    async def _bring_back(self) -> None:
        assert self._removed is not None
        if await self._asked(self._service.save_sheet, self._removed, self._reader.name, None):
            shown(self._undo, False)
            await self._load()

    async def _asked(self, order: Callable[..., object], *arguments: object) -> bool:
        try:
            await run_in_threadpool(order, *arguments)
        except LampwardenError as error:
            self._said.text = str(error)
            return False
        return True

    async def _keep(self, sheet: Sheet, wrong: Callable[[str], None]) -> None:
        """Saves a new sheet and opens it."""
        try:
            await run_in_threadpool(self._service.save_sheet, sheet, self._reader.name, None)
        except LampwardenError as error:
            wrong(str(error))
            return
        ui.navigate.to(f"/sheets/{self._chamber_id}/{sheet.id}")

    def _sheet(self, sheet_id: str) -> Sheet:
        return next(saved.sheet for saved in self._saved if saved.sheet.id == sheet_id)

    def _free_id(self, title: str) -> str:
        return slug(title, self._ids())

    def _ids(self) -> Sequence[str]:
        return [saved.sheet.id for saved in self._saved]

    def _row(self) -> tuple[ui.element, Callable[[sheets_view.SheetRow], None]]:
        of = {"id": ""}
        with box("li") as row:
            with box("div", "what"):
                link, about = Text("a", "", "name"), Text("span", "", "about")
            cells, saved = Text("span", "", "cells"), Text("span", "", "saved")
            with box("span", "do"):
                copy = order_button("Copy", "quiet", lambda: self._copy(of["id"]))
                remove = order_button("Remove", "quiet", lambda: self._remove(of["id"]))

        def fill(shows: sheets_view.SheetRow) -> None:
            of["id"] = shows.id
            link.text, about.text, cells.text, saved.text = shows.title, shows.about, shows.cells, shows.saved
            attribute(link, "href", f"/sheets/{self._chamber_id}/{shows.id}")
            attribute(copy, "aria-label", f"Copy {shows.title}")
            attribute(remove, "aria-label", f"Remove {shows.title}")

        return row, fill


_READ_FILE = f"""async (e) => {{
  const file = e.target.files[0];
  if (!file) return;
  const text = file.size > {FILE_BYTES_MAX} ? "" : await file.text();
  e.target.value = "";
  emit(file.name, text);
}}"""
"""The file is read in the browser: a sheet is text, and a page takes no uploads."""
