"""The page of what is kept: how much the records take, what is deleted on purpose, what is thinned by itself."""

from collections.abc import Callable
from dataclasses import dataclass

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ...errors import LampwardenError, ProgramError
from ...record.archive import Archive, Taken
from ...service.kept import DiskUse, Going, Retention
from ..kept_view import KeptRow, ahead_text, record_rows, session_rows, sheet_rows, size_text, totals
from ..typed import number
from .elements import (
    OFF,
    Field,
    Labelled,
    Rows,
    Text,
    attribute,
    box,
    button,
    order_button,
    pair,
    paper,
    sentence,
    shown,
)
from .reader import Reader, ordered
from .shell import frame
from .site import Site


@dataclass(frozen=True, slots=True)
class Opened:
    """What is read before the page is shown."""

    use: DiskUse
    taken: list[Taken]
    retention: Retention


class KeptPage:
    """One open page."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> Opened:
        """Raises UnknownName, StoreError."""
        return _read(site, chamber_id)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: Opened) -> None:
        self._site, self._service, self._reader, self._chamber_id = site, site.service, reader, chamber_id
        self._opened = opened
        frame(site, reader, chamber_id, "results", self._show)
        ui.page_title("What is kept")
        with box("div", "top"):
            Text("a", "All results", "up", href=f"/results/{chamber_id}")
            Text("h1", "What is kept", "title")
            Text(
                "p",
                "How much the records take, and how to delete some of them. Nothing is deleted by itself unless you say"
                " so here.",
                "lead",
            )
        with box("div", "page one"):
            with box("section", "part", aria_label="On this disk"):
                Text("h2", "On this disk")
                self._totals: Rows[tuple[str, str]] = Rows(box("dl", "kp-totals"), pair)
                self._said = Text("p", "", "answer-said", role="alert")
                self._done = Text("p", "", "rs-kept", role="status")
            self._sessions = self._list("Photos by session", "The photos go; what was read of them stays.")
            self._sheets = self._list(
                "Sheets with their sessions", "Everything about a sheet goes, but for the journal’s lines."
            )
            self._records = self._list("Records from elsewhere", "They are still where they came from.")
            self._thinning()
        self._dialog = DeleteDialog(self._delete)
        self._show()

    def _list(self, title: str, about: str) -> tuple[Rows[KeptRow], Text]:
        with box("section", "part", aria_label=title):
            Text("h2", title)
            Text("p", about, "lead")
            rows: Rows[KeptRow] = Rows(box("ul", "kp-rows"), self._row)
            return rows, Text("p", "There are none.", "empty")

    def _thinning(self) -> None:
        days = self._opened.retention.thin_after_days
        self._days = "" if days is None else f"{days:g}"
        with box("section", "part", aria_label="Thinned by itself"):
            Text("h2", "Thinned by itself")
            Text(
                "p",
                "A session writes its temperatures each second, some 4 MB a day. Long after its end the first of each"
                " minute may be enough, with the highest and lowest: peaks stay. Empty: all are kept.",
                "lead",
            )
            with box("div", "kp-days"), Labelled("Thin sessions that ended more than", unit="days ago") as self._wanted:
                Field("text", self._days, self._type_days, at_once=True, inputmode="decimal", placeholder="never")
            self._ahead = Text("p", "", "hint", aria_live="polite")
            with box("div", "actions"):
                button("Show what that would do now", "quiet", self._foresee)
                order_button("Use this", "", self._keep_retention)
            self._retained = Text("p", "", "rs-kept", role="status")

    def _row(self) -> tuple[ui.element, Callable[[KeptRow], None]]:
        at: dict[str, KeptRow] = {}
        with box("li") as row:
            with box("div"):
                name, about = Text("b"), Text("span", "", "rs-about")
            size = Text("span", "", "kp-size")
            press = order_button("Delete…", "quiet", lambda: self._ask(at["row"]))

        def fill(one: KeptRow) -> None:
            at["row"] = one
            name.text, about.text, size.text = one.name, one.about, one.size
            attribute(press, "aria-label", f"Delete {one.name}, {one.about}")
            if OFF not in press.props:
                attribute(press, "disabled", None if one.may else True)
            attribute(row, "data-kept", one.key)

        return row, fill

    # --- deleting -----------------------------------------------------------------------------------------------------

    async def _ask(self, row: KeptRow) -> None:
        self._said.text = self._done.text = ""
        try:
            going = await run_in_threadpool(self._going, row)
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self._dialog.open(row, going)

    def _going(self, row: KeptRow) -> Going:
        if row.what == "record":
            return _record_going(self._archive, row.key)
        return self._service.going("photos" if row.what == "photos" else "sheet", row.key, self._chamber_id)

    async def _delete(self, row: KeptRow, going: Going, typed: str) -> str:
        said = await ordered(self._delete_now, row, going, typed)
        if not said:
            self._done.text = f"Deleted: {going.title}. {size_text(going.bytes)} are free again."
            await self._again()
        return said.removeprefix("Not done. ")

    def _delete_now(self, row: KeptRow, going: Going, typed: str) -> None:
        by = self._reader.name
        if row.what != "record":
            self._service.delete(going.what, row.key, typed, going.mark, self._chamber_id, by)
            return
        if typed.strip() != going.id:
            raise ProgramError(f"Type '{going.id}' to delete it. Nothing was deleted.")
        self._archive.remove(row.key)
        self._service.report("record_deleted", f"Deleted by {by}: {going.title}.")

    @property
    def _archive(self) -> Archive:
        assert self._site.archive is not None
        return self._site.archive

    # --- thinning -----------------------------------------------------------------------------------------------------

    def _type_days(self, text: str) -> None:
        self._days = text
        self._wanted.wrong("")
        self._ahead.text = self._retained.text = ""

    def _days_typed(self) -> float | None:
        return number(self._days, "number of days", 7, 36_525) if self._days.strip() else None

    async def _foresee(self) -> None:
        try:
            days = self._days_typed()
            if days is None:
                self._ahead.text = "Nothing: all readings are kept."
                return
            self._ahead.text = ahead_text(await run_in_threadpool(self._service.thinning_ahead, days))
        except LampwardenError as error:
            self._wanted.wrong(str(error))

    async def _keep_retention(self) -> None:
        try:
            days = self._days_typed()
        except ProgramError as error:
            self._wanted.wrong(str(error))
            return
        said = await ordered(self._service.set_retention, days, self._chamber_id, self._reader.name)
        self._wanted.wrong(said.removeprefix("Not done. "))
        if not said:
            self._retained.text = (
                "Kept: nothing is thinned." if days is None else f"Kept: thinned {days:g} days after a session’s end."
            )

    # --- showing ------------------------------------------------------------------------------------------------------

    async def _again(self) -> None:
        try:
            self._opened = await run_in_threadpool(_read, self._site, self._chamber_id)
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self._show()

    def _show(self) -> None:
        use, taste = self._opened.use, self._reader.taste
        self._totals.show(totals(use))
        for (rows, empty), items in (
            (self._sessions, session_rows(use, taste)),
            (self._sheets, sheet_rows(use)),
            (self._records, record_rows(self._opened.taken, taste)),
        ):
            rows.show(items)
            shown(empty, not items)


class DeleteDialog:
    """Says what goes and what stays, and asks for the name."""

    def __init__(self, delete: Callable[..., object]) -> None:
        self._delete, self._typed = delete, ""
        self._asked: tuple[KeptRow, Going] | None = None
        with paper("Delete", classes="kp-dialog", alert=True) as self._dialog:
            self._title = Text("h2")
            Text("h3", "This goes, for good")
            self._goes: Rows[str] = Rows(box("ul", "rs-limits"), sentence)
            Text("h3", "This stays")
            self._stays: Rows[str] = Rows(box("ul", "rs-limits"), sentence)
            self._name = Text("p", "", "kp-name")
            with Labelled("Type it to delete") as self._label:
                self._field = Field("text", "", self._take, at_once=True, autocomplete="off", spellcheck="false")
            with box("div", "actions"):
                button("Delete it for good", "grave", self._press)
                button("Keep it", "main", self._dialog.close)

    def open(self, row: KeptRow, going: Going) -> None:
        self._asked = (row, going)
        self._title.text = f"Delete {going.title}?"
        self._goes.show(going.goes)
        self._stays.show(going.stays)
        self._name.text = f"Its name is {going.id}"
        self._typed = ""
        self._field.set("")
        self._label.wrong("")
        self._dialog.open()

    def _take(self, text: str) -> None:
        self._typed = text
        self._label.wrong("")

    async def _press(self) -> None:
        if self._asked is None:
            return
        said = await self._delete(*self._asked, self._typed)  # type: ignore[misc]
        self._label.wrong(str(said))
        if not said:
            self._dialog.close()


def _read(site: Site, chamber_id: str) -> Opened:
    taken = site.archive.all() if site.archive is not None else []
    return Opened(site.service.disk_use(chamber_id), taken, site.service.retention())


def _record_going(archive: Archive, key: str) -> Going:
    taken = archive.one(key)
    photos = len(taken.record.photos())
    return Going(
        what="sheet",
        id=taken.record.id,
        title=f"the record of session {taken.record.id} of “{taken.record.chamber.title}”",
        goes=(f"Everything that came in its bag: its data, its page, photos and pictures: {photos}.",),
        stays=("The record where it was made, and the bag it came in.", "The journal, which will say it."),
        bytes=taken.size_bytes,
        mark=key,
    )
