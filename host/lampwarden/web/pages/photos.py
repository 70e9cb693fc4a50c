"""Photos at the checkpoint that waits: sent by phone or file, or taken by the camera, and what was read."""

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ...domain.reading import Reading
from ...errors import LampwardenError, NotNow
from ...findings.conclude import Conclusions
from ...keeper import Snapshot
from ...service.seen import Look
from .. import photos_view
from ..photos_view import CellRow, ReadingView
from .elements import Rows, Text, attribute, box, gives_orders, order_button, sentence, shown
from .reader import Reader, ordered
from .results.cells import cell_row
from .results.curves import CurvesPart
from .site import Site


class PhotosPart:
    """Hidden while no checkpoint waits, or if the session has no sheet to read."""

    def __init__(self, site: Site, chamber_id: str, reader: Reader) -> None:
        self._service, self._chamber_id, self._reader = site.service, chamber_id, reader
        self._moment: tuple[str, str] | None = None
        self._holder = box("section", "part photos-part", aria_label="Photo of this pause", hidden="")
        with self._holder:
            Text("h2", "Photo and colours")
            self._none = Text("p", "", "notice")
            self._ask = box("div", "photos-ask")
            with self._ask:
                with box("label", "button main photos-file"):
                    Text("span", "Photograph or choose photos")
                    self._file = box(
                        "input", type="file", accept="image/*,.heic,.tif,.tiff", multiple="", data_photos=chamber_id
                    )
                    gives_orders(self._file, answers=True)
                    self._file.on("sent", self._sent, js_handler="(e) => emit(e.detail || '')")
                self._camera = order_button("Let the chamber's camera take it", "", self._take, answers=True)
                Text("p", "All of the mask in the picture, from straight above, without flash.", "hint")
            self._said = Text("p", "", "answer-said", role="alert")
            self._working = Text("p", "", "photos-working", aria_live="polite", id="photos-working")
            self._found = box("div", "photos-found", hidden="")
            with self._found:
                self._picture = box("img", "photos-picture", alt="The photo with the cells that were read drawn on it")
                with box("div"):
                    self._advice = Text("p", "", "photos-advice")
                    self._reason = Text("p")
                    self._warnings: Rows[str] = Rows(box("ul", "wrong"), sentence)
                    self._limit = Text("p", "", "hint")
                with (
                    box("div", "wide", tabindex="0", role="region", aria_label="Colours by cell"),
                    box("table", "cells rs-cells"),
                ):
                    with box("thead"), box("tr"):
                        for title in (
                            "Cell",
                            "Before and now",
                            "Colour now",
                            "Change ΔE00",
                            "Whiter than control",
                            "Verdict",
                        ):
                            Text("th", title, "", scope="col")
                    self._rows: Rows[CellRow] = Rows(box("tbody"), cell_row)
                self._course = box("div")
            self._curves: CurvesPart | None = None
            """Made with the first curve: a chart is heavy, and most of the time there is no pause."""

    def show(self, snapshot: Snapshot) -> None:
        """Follows the checkpoint that waits."""
        session = snapshot.session
        waits = session is not None and session.waiting is not None and session.open_checkpoint is not None
        moment = None
        if waits and session is not None and session.open_checkpoint is not None and snapshot.session_id is not None:
            moment = (snapshot.session_id, session.open_checkpoint.name)
        if moment == self._moment:
            return
        self._moment = moment
        shown(self._holder, moment is not None)
        shown(self._camera, bool(snapshot.chamber.camera) or self._service.has_camera(self._chamber_id))
        if moment is not None:
            attribute(self._file, "data-session", moment[0])
            attribute(self._file, "data-checkpoint", moment[1])
            self._said.text = self._working.text = ""
            shown(self._found, False)
            ui.timer(0, self._look, once=True)

    async def _sent(self, event: object) -> None:
        self._working.text = ""
        said = str(getattr(event, "args", "") or "")
        self._said.text = f"Not read. {said}" if said else ""
        await self._look()

    async def _take(self) -> None:
        if self._moment is None:
            return
        self._said.text, self._working.text = "", "The camera takes the photo, then it is read…"
        session, checkpoint = self._moment
        self._said.text = await ordered(
            self._service.take_photo, self._chamber_id, self._reader.name, session, None, checkpoint
        )
        self._working.text = ""
        await self._look()

    async def _look(self) -> None:
        """Shows the newest reading of this pause."""
        if self._moment is None:
            return
        try:
            seen = await run_in_threadpool(self._seen, *self._moment)
        except NotNow as error:
            self._none.text = str(error)
            shown(self._ask, False)
            return
        except LampwardenError as error:
            self._said.text = str(error)
            return
        self._none.text = ""
        shown(self._ask, True)
        shown(self._found, seen is not None)
        if seen is None:
            return
        look, view, found, readings = seen
        drawn = next((picture.drawn for picture in look.pictures if picture.drawn), "")
        shown(self._picture, bool(drawn))
        attribute(self._picture, "src", f"/api/chambers/{self._chamber_id}/photos/{drawn}" if drawn else None)
        self._advice.text = "This photo cannot be read. Take another." if view.refused else view.advice.capitalize()
        self._reason.text = view.refused or view.reason
        self._warnings.show(view.warnings)
        self._limit.text = "" if view.refused else view.limit
        self._rows.show(view.rows)
        some = found is not None and len(readings) > 1
        shown(self._course, some)
        if some and self._curves is None:
            with self._course:
                self._curves = CurvesPart("The course so far", "h3")
        if self._curves is not None:
            self._curves.show(found, readings)

    def _seen(
        self, session_id: str, checkpoint: str
    ) -> tuple[Look, ReadingView, Conclusions | None, dict[str, Reading]] | None:
        looks = self._service.looks(session_id)
        here = [look for look in looks if look.reading.checkpoint == checkpoint and not look.reading.superseded]
        if not here:
            return None
        newest = here[-1]
        sheet = self._service.sheet_of(session_id)
        found = None if newest.reading.refused else self._service.conclusions(session_id, newest.reading.way)
        readings = {look.reading.id: look.reading for look in looks if not look.reading.refused}
        return newest, photos_view.reading_view(newest.reading, sheet, found), found, readings
