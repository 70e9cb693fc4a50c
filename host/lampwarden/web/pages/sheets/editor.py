"""One sheet on the desk."""

from nicegui import app, ui
from starlette.concurrency import run_in_threadpool

from ....domain.chamber import Chamber
from ....domain.program_file import render
from ....domain.sheet import Sheet
from ....errors import ChangedMeanwhile, LampwardenError
from ....planning.place import changed
from ....service import SavedSheet
from ... import sheets_view
from ... import wording as w
from ..elements import Text, attribute, box, button, order_button, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .describe import DescribePart
from .desk import Desk
from .draft import Draft
from .edits import copy_title, slug
from .layout import LayoutPart
from .prove import AdvicePart, ControlsPart, MaskPart
from .treat import TreatPart


class SheetPage:
    """One open page. The draft lives as long as the browser's tab: a reload loses nothing."""

    @staticmethod
    def fetch(site: Site, chamber_id: str, sheet_id: str) -> tuple[SavedSheet, Chamber]:
        """What the page shows. Raises UnknownName."""
        return site.service.sheet(sheet_id), site.service.chamber(chamber_id)

    def __init__(
        self, site: Site, reader: Reader, chamber_id: str, sheet_id: str, opened: tuple[SavedSheet, Chamber]
    ) -> None:
        self._service, self._reader = site.service, reader
        self._chamber_id, self._sheet_id = chamber_id, sheet_id
        self._saved_words = ""
        self._chosen: tuple[str, ...] = ()
        saved, chamber = opened
        self._desk = desk = Desk(chamber, Draft(saved.sheet, saved.revision), self._show)
        frame(site, reader, chamber_id, "sheets", self._show)
        ui.page_title(f"{saved.sheet.title} · Sheets")
        with box("div", "top sh-top"):
            with box("div", "sh-name"):
                Text("a", "All sheets", "up", href=f"/sheets/{chamber_id}")
                self._title = Text("h1", "", "title")
                self._about = Text("p", "", "sh-about")
            with box("div", "sh-bar"):
                self._state = Text("p", "", "sh-state", role="status")
                with box("div", "sh-buttons"):
                    self._save = order_button("Save", "main", lambda: self._save_over(desk.draft.revision))
                    self._undo = button("Undo", "quiet", desk.undo)
                    self._redo = button("Redo", "quiet", desk.redo)
                    order_button("Copy", "quiet", self._copy)
                    button("As a file", "quiet", self._export)
            attribute(self._undo, "data-key", "undo")
            attribute(self._redo, "data-key", "redo")
            self._said = Text("p", "", "answer-said", role="alert")
            with box("div", "sh-conflict", role="alert") as self._conflict:
                self._conflict_text = Text("p")
                with box("div", "actions"):
                    button("Take theirs", "", self._theirs)
                    order_button("Save mine over it", "grave", self._mine)
            self._back = Text("p", "Your unsaved changes are here again.", "notice", hidden="")
        shown(self._conflict, False)
        with box("div", "page sh-page"):
            self._describe = DescribePart(desk)
            with box("div", "sh-column"):
                self._layout = LayoutPart(desk)
                with box("div", "sh-below"):
                    self._treat = TreatPart(desk)
                    with box("div", "sh-column"):
                        self._controls = ControlsPart(desk)
                        self._mask = MaskPart(desk)
                        self._advice = AdvicePart(desk)
        self._note(saved)
        self._show()
        ui.timer(0, self._take_up, once=True)

    async def _take_up(self) -> None:
        """Goes on with what this tab had not saved yet, if there is such a thing."""
        await ui.context.client.connected()
        key, desk = f"sheet {self._sheet_id}", self._desk
        kept = app.storage.tab.get(key)
        if isinstance(kept, Draft) and kept.dirty and not desk.draft.can_undo:
            if kept.revision != desk.draft.revision:
                self._ask("Somebody saved this sheet while your changes waited here.")
            desk.draft = kept
            shown(self._back, True)
            self._show()
        app.storage.tab[key] = desk.draft

    def _show(self) -> None:
        desk = self._desk
        sheet = desk.sheet
        self._title.text, self._about.text = sheet.title, sheets_view.about(sheet)
        self._state.text = "Not saved yet" if desk.draft.dirty else self._saved_words
        attribute(self._state, "data-dirty", "yes" if desk.draft.dirty else "no")
        attribute(self._save, "disabled", None if desk.draft.dirty else True)
        attribute(self._undo, "disabled", None if desk.draft.can_undo else True)
        attribute(self._redo, "disabled", None if desk.draft.can_redo else True)
        if desk.chosen != self._chosen:
            self._chosen = desk.chosen
            self._treat.chosen()
        for part in (self._layout, self._treat, self._describe, self._controls, self._mask, self._advice):
            part.show()

    def _note(self, saved: SavedSheet) -> None:
        now = w.moment(self._service.snapshot(self._chamber_id).utc)
        at = w.clock_text(w.moment(saved.saved_utc), now, self._reader.taste)
        self._saved_words = f"Saved as version {saved.revision}, {at}, by {saved.saved_by}"

    async def _save_over(self, revision: int) -> None:
        sheet, self._said.text = self._desk.sheet, ""
        try:
            new = await run_in_threadpool(self._service.save_sheet, sheet, self._reader.name, revision)
            saved = await run_in_threadpool(self._service.sheet, self._sheet_id, new)
        except ChangedMeanwhile as error:
            self._ask(str(error))
            return
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self._desk.draft.kept(new, sheet)
        shown(self._back, False)
        shown(self._conflict, False)
        self._note(saved)
        self._show()

    def _ask(self, text: str) -> None:
        self._conflict_text.text = f"{text} Yours is still here, unsaved."
        shown(self._conflict, True)

    async def _theirs(self) -> None:
        """Undo still leads back to one's own."""
        saved = await self._newest()
        if saved is not None:
            self._desk.draft.change(saved.sheet)
            self._desk.draft.kept(saved.revision, saved.sheet)
            shown(self._conflict, False)
            self._note(saved)
            self._show()

    async def _mine(self) -> None:
        saved = await self._newest()
        if saved is not None:
            await self._save_over(saved.revision)

    async def _newest(self) -> SavedSheet | None:
        try:
            return await run_in_threadpool(self._service.sheet, self._sheet_id)
        except LampwardenError as error:
            self._said.text = str(error)
            return None

    async def _copy(self) -> None:
        sheet, self._said.text = self._desk.sheet, ""
        title = copy_title(sheet.title)
        try:
            taken = [saved.sheet.id for saved in await run_in_threadpool(self._service.sheets)]
            copy: Sheet = changed(sheet, id=slug(title, taken), title=title)
            await run_in_threadpool(self._service.save_sheet, copy, self._reader.name, None)
        except LampwardenError as error:
            self._said.text = str(error)
            return
        ui.navigate.to(f"/sheets/{self._chamber_id}/{copy.id}")

    def _export(self) -> None:
        ui.download.content(render(self._desk.sheet).encode(), f"{self._desk.sheet.id}.toml")
