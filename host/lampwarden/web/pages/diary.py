"""The page Journal: everything that happened, searched, checked, and added to."""

from collections.abc import Callable
from dataclasses import dataclass

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ...errors import LampwardenError
from ...store.records import SavedLine
from .. import wording as w
from .elements import Field, Labelled, Rows, Select, Text, attribute, box, button, order_button, sentence, shown
from .reader import Reader, ordered
from .shell import frame
from .site import Site

SHOWN = 50
KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "all": ("Everything", ()),
    "light": ("Light", ("levels_set", "exposure_done", "hold_began", "hold_ended", "began", "ended")),
    "people": (
        "What people did",
        ("began", "checkpoint_answered", "annotated", "remark", "plan_changed", "caution_confirmed",
         "peroxide_confirmed", "found_by_hand", "finding_withdrawn", "photos_deleted",
         "sheet_deleted", "trip_clear_asked", "inspection_asked"),
    ),
    "photos": (
        "Photos and readings",
        ("photo_read", "photo_refused", "reading_typed", "found_by_hand", "follow_up_due"),
    ),
    "trouble": (
        "Holds and trouble",
        ("hold_began", "hold_waits", "hold_ended", "board_rebooted", "backup_failed", "journal_changed",
         "start_refused", "start_missed"),
    ),
}  # fmt: skip
"""What to show: a name for people, and kinds of lines."""


@dataclass(frozen=True, slots=True)
class Opened:
    """What must be read from the records."""

    lines: list[SavedLine]
    sessions: dict[str, str]


class DiaryPage:
    """One open page."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> Opened:
        """Raises UnknownName, StoreError."""
        sessions = {saved.id: f"{saved.id} {saved.title}" for saved in site.service.sessions(chamber_id, 50)}
        return Opened(site.service.search_journal(chamber_id, limit=SHOWN + 1), sessions)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: Opened) -> None:
        self._service, self._reader, self._chamber_id = site.service, reader, chamber_id
        self._words, self._kind, self._session, self._remark = "", "all", "", ""
        self._lines, self._more_there = opened.lines[:SHOWN], len(opened.lines) > SHOWN
        frame(site, reader, chamber_id, "journal", self._show)
        ui.page_title("Journal")
        with box("div", "top"):
            Text("h1", "Journal", "title")
            Text("p", "Everything that happened in this chamber, line by line, as it was written then.", "lead")
        with box("div", "page diary"):
            with box("div", "column"), box("section", "part", aria_label="Lines"):
                with box("h2"):
                    Text("span", "Lines")
                    Text("small", "the newest first")
                with box("div", "diary-find", role="search"):
                    with Labelled("Words"):
                        Field("search", "", self._find_words, at_once=True, maxlength="200")
                    with Labelled("What"):
                        Select({key: name for key, (name, _) in KINDS.items()}, "all", self._find_kind)
                    with Labelled("Session"):
                        Select({"": "All, and between them"} | opened.sessions, "", self._find_session)
                self._trouble = Text("p", "", "answer-said", role="alert")
                self._count = Text("p", "", "hint", aria_live="polite")
                self._rows: Rows[SavedLine] = Rows(box("ol", "diary-lines"), self._line)
                with box("div", "actions"):
                    self._older = button("Older lines", "", self._more)
            with box("div", "column"):
                with box("section", "part", aria_label="Add a remark"):
                    Text("h2", "Add a remark")
                    Text("p", "It becomes a new line; nothing that stands in the journal is ever changed.", "hint")
                    with Labelled("Remark"):
                        self._field = Field("textarea", "", self._typed, at_once=True, maxlength="2000", rows="3")
                    with box("div", "actions"):
                        order_button("Add it", "main", self._add)
                    self._said = Text("p", "", "answer-said", role="alert")
                with box("section", "part", aria_label="Is it as it was written?"):
                    Text("h2", "Is it as it was written?")
                    Text(
                        "p",
                        "Each line carries a check number made of itself and of the line before it. Whoever changes or"
                        " removes a line breaks the chain.",
                        "hint",
                    )
                    with box("div", "actions"):
                        button("Check the whole journal", "", self._verify)
                    self._verdict = Text("p", "", "diary-verdict", role="status")
                    self._faults: Rows[str] = Rows(box("ul", "wrong"), sentence)
        self._show()

    async def _find_words(self, words: str) -> None:
        self._words = words
        await self._find()

    async def _find_kind(self, kind: str) -> None:
        self._kind = kind
        await self._find()

    async def _find_session(self, session_id: str) -> None:
        self._session = session_id
        await self._find()

    async def _find(self, before_seq: int | None = None) -> None:
        asked = (self._words, self._kind, self._session)
        try:
            found = await run_in_threadpool(
                self._service.search_journal,
                self._chamber_id,
                self._words,
                self._session or None,
                KINDS[self._kind][1],
                before_seq,
                SHOWN + 1,
            )
        except LampwardenError as error:
            self._trouble.text = str(error)
            return
        if asked != (self._words, self._kind, self._session):
            return  # something else was asked meanwhile
        self._trouble.text = ""
        self._more_there = len(found) > SHOWN
        self._lines = (self._lines if before_seq is not None else []) + found[:SHOWN]
        self._show()

    async def _more(self) -> None:
        if self._lines:
            await self._find(self._lines[-1].seq)

    def _typed(self, text: str) -> None:
        self._remark = text

    async def _add(self) -> None:
        self._said.text = await ordered(
            self._service.remark, self._chamber_id, self._remark, self._reader.name, self._session or None
        )
        if not self._said.text:
            self._remark = ""
            self._field.set("")
            await self._find()

    async def _verify(self) -> None:
        self._verdict.text = "Checking…"
        self._faults.show(())
        try:
            verdict = await run_in_threadpool(self._service.verify_journal)
        except LampwardenError as error:
            self._verdict.text = str(error)
            return
        if verdict.faults:
            self._verdict.text = f"Not as it was written. {verdict.lines} lines were looked at."
            self._faults.show([fault.text for fault in verdict.faults])
            return
        self._verdict.text = (
            f"All {verdict.lines} lines are as they were written. Note the last check number elsewhere, to prove it"
            f" later: {verdict.head[:16]}"
        )

    def _show(self) -> None:
        self._rows.show(self._lines)
        number = len(self._lines)
        everything = not self._words and not self._session and self._kind == "all"
        self._count.text = (
            "Nothing has been written yet. The first session writes the first lines."
            if not number and everything
            else "No line fits. Look for fewer words, or for everything."
            if not number
            else f"The newest {number} lines."
            if self._more_there
            else f"{number} line{'' if number == 1 else 's'}."
        )
        shown(self._older, self._more_there)

    def _line(self) -> tuple[ui.element, Callable[[SavedLine], None]]:
        with box("li") as row:
            at, text, number = Text("time"), Text("span"), Text("small")

        def fill(line: SavedLine) -> None:
            when, taste = w.moment(line.utc), self._reader.taste
            local = when.astimezone(taste.zone)
            at.text = f"{local:%Y-%m-%d} {w.clock_text(when, when, taste, seconds=True)}"
            text.text = w.in_scale(line.text, taste)
            number.text = f"{line.seq}"
            attribute(row, "title", f"Line {line.seq}{f', session {line.session_id}' if line.session_id else ''}")

        return row, fill
