"""The sessions of a chamber with what each of them did, the newest first."""

from collections.abc import Callable

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....errors import LampwardenError
from ....service import Service
from ....store.records import Session
from ...results_view.listing import Result, SessionLine, session_line
from ..elements import Rows, Text, attribute, box, button, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .elsewhere import ElsewherePart

AT_ONCE = 25
"""Sessions read at a time."""


class ResultsPage:
    """One open list."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> list[Session]:
        """Raises UnknownName, StoreError."""
        return site.service.sessions(chamber_id, AT_ONCE)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: list[Session]) -> None:
        self._service, self._reader, self._chamber_id = site.service, reader, chamber_id
        self._sessions = opened
        self._results: dict[str, Result] = {}
        frame(site, reader, chamber_id, "results", self._show)
        ui.page_title("Results")
        with box("div", "top"):
            Text("h1", "Results", "title")
            Text("p", "What each session did to its sheet, as its photos and instruments tell it.", "lead")
            with box("p", "rs-links"):
                Text("a", "Series: one treatment over several sheets", href=f"/series/{chamber_id}")
                Text("a", "What is kept, and deleting", href=f"/kept/{chamber_id}")
        with box("div", "page one"):
            with box("section", "part", aria_label="Sessions"):
                with box("h2"):
                    Text("span", "Sessions")
                    Text("small", "the newest first")
                self._said = Text("p", "", "answer-said", role="alert")
                with box("p", "empty") as self._empty:
                    Text("span", "No session has been run in this chamber yet. Begin on the page ")
                    Text("a", "Plan", href=f"/plan/{chamber_id}")
                    Text("span", ": describe a sheet, plan its light, and photograph it at the first checkpoint.")
                self._rows: Rows[SessionLine] = Rows(box("ul", "rs-sessions"), self._row)
                self._older = button("Older sessions", "quiet", self._more)
            self._elsewhere = ElsewherePart(site.archive, reader) if site.archive is not None else None
        self._show()
        ui.timer(0, self._work_out, once=True)

    def _show(self) -> None:
        taste = self._reader.taste
        self._rows.show([session_line(s, self._results.get(s.id), taste) for s in self._sessions])
        shown(self._empty, not self._sessions)
        shown(self._older, bool(self._sessions) and len(self._sessions) % AT_ONCE == 0)
        if self._elsewhere is not None:
            self._elsewhere.show()

    async def _work_out(self) -> None:
        """One session after the other: the list is there at once, what they did follows."""
        for session in list(self._sessions):
            if session.sheet is not None and session.id not in self._results:
                self._results[session.id] = await run_in_threadpool(result_of, self._service, session)
                self._show()
        self._show()
        if self._elsewhere is not None:
            await self._elsewhere.read()

    async def _more(self) -> None:
        self._said.text = ""
        try:
            self._sessions += await run_in_threadpool(
                self._service.sessions, self._chamber_id, AT_ONCE, self._sessions[-1].id
            )
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self._show()
        await self._work_out()

    def _row(self) -> tuple[ui.element, Callable[[SessionLine], None]]:
        with box("li") as row:
            with box("div"):
                title, about = Text("a", "", "rs-name"), Text("p", "", "rs-about")
            with box("div"):
                result, advice = Text("p", "", "rs-result"), Text("p")
                readings = Text("p", "", "rs-about")

        def fill(line: SessionLine) -> None:
            title.text, about.text, readings.text = line.title, line.about, line.readings
            result.text, advice.text = line.result, line.advice
            attribute(title, "href", f"/results/{self._chamber_id}/{line.id}")
            attribute(row, "data-session", line.id)

        return row, fill


def result_of(service: Service, session: Session) -> Result:
    """What a session's readings say. Blocks."""
    try:
        looks = service.looks(session.id)
        refused = sum(bool(look.reading.refused) for look in looks)
        read = sum(not look.reading.refused and not look.reading.superseded for look in looks)
        return Result(read, refused, service.conclusions(session.id) if read else None)
    except LampwardenError as error:
        return Result(0, 0, None, str(error))
