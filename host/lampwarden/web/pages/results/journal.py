"""The session's lines of the journal, read when somebody unfolds them."""

from starlette.concurrency import run_in_threadpool

from ....errors import LampwardenError
from ....service import Service
from ....store.records import SavedLine
from ... import views
from ..elements import Rows, Text, box
from ..journal import line_row
from ..reader import Reader

LINES_MAX = 1000


class LinesPart:
    def __init__(self, service: Service, reader: Reader, chamber_id: str, session_id: str) -> None:
        self._service, self._reader = service, reader
        self._chamber_id, self._session_id = chamber_id, session_id
        self._lines: list[SavedLine] = []
        with box("section", "part", aria_label="Journal"):
            Text("h2", "Journal")
            with box("p", "rs-links"):
                Text("a", "The whole journal", href=f"/journal/{chamber_id}")
            with box("details", "rs-fold") as fold:
                Text("summary", "The lines of this session, the newest first")
                self._said = Text("p", "", "answer-said", role="alert")
                self._rows: Rows[views.Line] = Rows(box("ol", "journal"), line_row)
            fold.on("toggle", self._read, js_handler="(e) => { if (e.target.open) emit(); }")

    async def _read(self) -> None:
        try:
            self._lines = await run_in_threadpool(
                self._service.journal, self._chamber_id, self._session_id, 0, LINES_MAX
            )
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self.show()

    def show(self) -> None:
        utc = self._service.snapshot(self._chamber_id).utc
        self._rows.show(views.lines(self._lines, utc, self._reader.taste))
