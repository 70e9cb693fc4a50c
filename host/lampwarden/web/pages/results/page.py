"""One session's results, put together of the parts."""

from collections.abc import Sequence

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.reading import Way
from ....errors import LampwardenError
from ....findings.conclude import Conclusions
from ....store.records import Session
from ... import wording as w
from ...photos_view import WAYS
from ...results_view.entry import hand_rows
from ...results_view.later import later
from ...results_view.listing import ended_text
from ...results_view.moments import Moment, gallery, moments
from ...results_view.said import NOTHING, said
from ...results_view.when import date_text
from ..elements import Text, attribute, box, shown
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .cells import CellsPart
from .conclusions import ConclusionsPart, SentencesPart
from .curves import CurvesPart
from .hand import HandPart
from .instrument import InstrumentPart
from .journal import LinesPart
from .later import LaterPart
from .opened import Opened, opened, others
from .pictures import GalleryPart, PairPart
from .record import RecordPart
from .treatments import AcrossPart, ArmsPart, ChecksPart

LOOK_S = 5.0
"""How often a page looks whether something was read while its session goes on, s."""
NEWS = {"photo_read", "photo_refused", "reading_typed", "found_by_hand", "finding_withdrawn", "ended"}
"""Kinds of lines after which a session's results are others."""


class ResultPage:
    """One open page."""

    @staticmethod
    def fetch(site: Site, chamber_id: str, session_id: str) -> Opened:
        """Raises UnknownName, StoreError."""
        return opened(site.service, chamber_id, session_id)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, session_id: str, opened: Opened) -> None:
        self._service, self._reader, self._chamber_id, self._opened = site.service, reader, chamber_id, opened
        self._compared: Sequence[tuple[Session, Conclusions]] = ()
        self._way: Way | None = next(iter(opened.found), None)
        self._before = self._after = ""
        self._seq = opened.seq
        session = opened.session
        frame(site, reader, chamber_id, "results", self._show)
        ui.page_title(f"Results · {session.title}")
        with box("div", "top"):
            Text("a", "All results", "up", href=f"/results/{chamber_id}")
            Text("h1", session.title, "title")
            self._about = Text("p", "", "lead")
            self._trouble = Text("p", "", "answer-said", role="alert")
            with box("div", "rs-ways") as self._ways_holder:
                Text("span", "Read by")
                self._ways = box("div", "choice", role="group", aria_label="Read by")
                self._way_buttons: dict[Way, Text] = {}
        if opened.sheet is None:
            self._place_without_sheet(session_id)
        else:
            self._place(opened, session_id)
        self._show()
        ui.timer(0, self._compare, once=True)
        self._follow = ui.timer(LOOK_S, self._look, active=session.ended is None and opened.sheet is not None)

    def _place_without_sheet(self, session_id: str) -> None:
        with box("div", "page rs-page"):
            Text(
                "p",
                "This session was started without a sheet, so there are no cells whose colours could be read. Choose a"
                " sheet in the plan before the next one.",
                "empty rs-all",
            )
            RecordPart(self._chamber_id, session_id)
            self._lines = LinesPart(self._service, self._reader, self._chamber_id, session_id)

    def _place(self, opened: Opened, session_id: str) -> None:
        service, reader, chamber_id, sheet = self._service, self._reader, self._chamber_id, opened.sheet
        assert sheet is not None
        checkpoints = [str(each["name"]) for each in opened.session.program.get("checkpoints", ())]
        about = (service, reader, chamber_id, session_id, sheet, checkpoints, self._changed)
        with box("div", "page rs-page"):
            self._said = ConclusionsPart()
            self._checks = ChecksPart()
            self._pair = PairPart(chamber_id, self._choose)
            self._cells = CellsPart(f"/api/chambers/{chamber_id}/sessions/{session_id}/record/colours.csv")
            self._curves = CurvesPart()
            self._arms = ArmsPart()
            self._sentences = SentencesPart()
            self._later = LaterPart(service, reader, chamber_id, sheet.id, self._changed)
            self._hand = HandPart(*about)
            self._instrument = InstrumentPart(*about)
            self._gallery = GalleryPart(chamber_id)
            self._across = AcrossPart()
            RecordPart(chamber_id, session_id)
            self._lines = LinesPart(service, reader, chamber_id, session_id)

    async def _compare(self) -> None:
        """Other sessions of the sheet are no reason to wait for the page."""
        if self._opened.sheet is None:
            return
        try:
            self._compared = await run_in_threadpool(others, self._service, self._opened)
        except LampwardenError as error:
            self._trouble.text = str(error)
            return
        self._across.show(self._compared, self._reader.taste)

    async def _look(self) -> None:
        """While the session goes on: shows what was read meanwhile."""
        try:
            lines = await run_in_threadpool(self._service.journal, self._chamber_id, self._opened.session.id, self._seq)
        except LampwardenError as error:
            self._trouble.text = f"The record cannot be read: {error}"
            return
        if lines:
            self._seq = lines[-1].seq
        if NEWS & {line.kind for line in lines}:
            await self._changed()

    async def _changed(self) -> None:
        """Something was kept: reads all anew."""
        self._trouble.text = ""
        try:
            self._opened = await run_in_threadpool(opened, self._service, self._chamber_id, self._opened.session.id)
        except LampwardenError as error:
            self._trouble.text = f"The record cannot be read: {error}"
            return
        self._follow.active = self._opened.session.ended is None
        self._show()
        await self._compare()

    def _choose(self, before: str, after: str) -> None:
        self._before, self._after = before, after
        self._show_pair()

    def _choose_way(self, way: Way) -> None:
        self._way, self._before, self._after = way, "", ""
        self._show()

    # --- showing ------------------------------------------------------------------------------------------------------

    @property
    def _utc(self) -> str:
        return self._service.snapshot(self._chamber_id).utc

    @property
    def _found(self) -> Conclusions | None:
        return self._opened.found.get(self._way) if self._way is not None else None

    def _show(self) -> None:
        """Shows everything anew, in the reader's present taste."""
        one, taste, now = self._opened, self._reader.taste, w.moment(self._utc)
        session = one.session
        began = date_text(w.moment(session.began_utc), taste)
        why = w.in_scale(session.ended.cause, taste) if session.ended is not None else ""
        cause = f": {why}" if why else ""
        sheet = f" Sheet: {one.sheet.title}." if one.sheet is not None else ""
        self._about.text = f"Begun {began}, {ended_text(session)}{cause.rstrip('.')}.{sheet}"
        self._show_ways()
        self._lines.show()
        if one.sheet is None:
            return
        found = self._found
        compared = found if found is not None and found.cells else None
        words = said(found) if found is not None else NOTHING
        self._said.show(words)
        self._sentences.show(words.groups)
        self._checks.show(compared)
        self._curves.show(compared, {look.reading.id: look.reading for look in one.looks})
        self._arms.show(compared)
        by_photo = next((way for way in one.found if way is not Way.INSTRUMENT), None)
        after = later(one.ended_utc, one.followed, compared, now, taste, one.follow_up)
        self._later.show(after, by_photo, session.ended is not None)
        self._hand.show(hand_rows(one.hand, one.sheet, taste))
        self._gallery.show(gallery(one.looks, one.ended_utc, taste))
        self._across.show(self._compared, taste)
        self._show_pair()

    def _show_ways(self) -> None:
        ways = list(self._opened.found)
        if self._way not in ways:
            self._way = next(iter(ways), None)
        with self._ways:
            for way in ways:
                if way not in self._way_buttons:
                    made = Text("button", WAYS[way], type="button")
                    made.on("click", lambda way=way: self._choose_way(way))
                    self._way_buttons[way] = made
        for way, made in self._way_buttons.items():
            attribute(made, "aria-pressed", "true" if way is self._way else "false")
        shown(self._ways_holder, len(ways) > 1)

    def _show_pair(self) -> None:
        one = self._opened
        assert one.sheet is not None
        by_way = {way: moments(one.looks, way, one.ended_utc) for way in one.found}
        own = by_way.get(self._way, ()) if self._way is not None else ()
        # An instrument takes no pictures: those of the photos are shown beside its numbers.
        pictured = next((of for of in (own, *by_way.values()) if any(each.flat for each in of)), own)
        self._before, self._after = _pair(pictured, self._before, self._after)
        self._pair.show(pictured, self._before, self._after)
        wanted = next((each.label for each in pictured if each.reading == self._after), "")
        at = next((each for each in own if each.label == wanted), own[-1] if own else None)
        reading = next((look.reading for look in one.looks if at is not None and look.reading.id == at.reading), None)
        self._cells.show(reading, one.sheet, self._found, at.label if at is not None else "")


def _pair(there: Sequence[Moment], before: str, after: str) -> tuple[str, str]:
    """The two readings to show: those chosen if they are there, else the first, and the last within the session."""
    ids = [moment.reading for moment in there]
    inside = [moment.reading for moment in there if moment.inside] or ids
    first = before if before in ids else ids[0] if ids else ""
    last = after if after in ids else inside[-1] if inside else ""
    return first, last
