"""The page Now: what is happening, in one glance, and what a person may do about it."""

import time
from collections.abc import Callable

from nicegui import ui

from ...errors import StoreError
from ...keeper import Snapshot
from .. import charts, views
from ..states import lit_zones
from .actions import ActionsPart
from .afar import AfarPart, afar_button
from .climate import ClimatePart
from .course import CoursePart
from .elements import Rows, Text, box, shown
from .first_steps import FirstStepsPart
from .journal import JournalPart
from .photos import PhotosPart
from .prompt import PromptPart
from .reader import Reader
from .shell import frame
from .site import Site
from .start import StartPart
from .state import MomentsPart, StatePart
from .zones import ZonesPart

LOOK_S = 0.5
"""How often a page looks at the snapshot, in memory, s: half of what "live within a second" allows."""
RECORD_S = 1.0
"""How often it asks for journal and readings, s."""


class NowPage:
    """One open page."""

    def __init__(self, site: Site, reader: Reader, chamber_id: str) -> None:
        service, watch = site.service, site.watch(chamber_id)
        self._service, self._chamber_id, self._reader, self._watch = service, chamber_id, reader, watch
        self._seen: object = None
        self._fresh_s = self._stray_from_s = time.monotonic()
        self._number = -1
        self._course_seen: object = None
        self._headline = ""
        snapshot = service.snapshot(chamber_id)
        frame(site, reader, chamber_id, "now", self.again)
        with box("div", "news"):
            self._trouble = Text("p", "", "warning", role="alert", hidden="")
            self._warnings: Rows[str] = Rows(box("div", aria_live="assertive"), _warning)
        with box("div", "page"):
            with box("div", "column"):
                self._state = StatePart()
                with self._state.below:
                    self._actions = ActionsPart(service, chamber_id, reader)
                self._prompt = PromptPart(service, chamber_id, reader)
                self._photos = PhotosPart(site, chamber_id, reader)
                self._steps = FirstStepsPart(site, chamber_id, reader)
                self._start = StartPart(service, chamber_id, reader, site.programs)
                self._zones = ZonesPart()
                self._course = CoursePart()
            with box("div", "column"):
                self._moments = MomentsPart()
                afar_button(lambda: self._afar.use())
                self._climate = ClimatePart()
                self._journal = JournalPart()
        self._afar = AfarPart(snapshot.chamber.title, reader)
        self.look()
        self._show_record(snapshot)
        ui.timer(LOOK_S, self.look)
        ui.timer(RECORD_S, self.record)

    def look(self) -> None:
        """Shows the newest snapshot, if it is new."""
        snapshot, at_s = self._service.snapshot(self._chamber_id), time.monotonic()
        if snapshot.number != self._number:
            self._fresh_s, self._number = at_s, snapshot.number
        stale_s = at_s - self._fresh_s
        if not (snapshot.demand.dark and lit_zones(snapshot)):
            self._stray_from_s = at_s
        stray_s = at_s - self._stray_from_s
        seen = (snapshot.number, self._reader.taste, round(stale_s) if stale_s > views.STALE_S else 0)
        if seen == self._seen:
            return
        self._seen = seen
        now = views.now(snapshot, self._reader.taste, stale_s, stray_s)
        if now.state.headline != self._headline:
            self._headline = now.state.headline
            ui.page_title(f"{self._headline} · {snapshot.chamber.title}")
        self._warnings.show(now.warnings)
        self._state.show(now)
        self._actions.show(now)
        self._moments.show(now)
        self._afar.show(now)
        self._prompt.show(now)
        self._photos.show(snapshot)
        self._steps.show(now.actions.start)
        self._start.show(snapshot, now.actions.start)
        self._zones.show(now)
        self._climate.show(now)

    async def record(self) -> None:
        """Shows journal and readings, if there are new ones."""
        try:
            await self._watch.look()
        except StoreError as error:
            self._trouble.text = f"The record cannot be read: {error}"
            shown(self._trouble, True)
            return
        shown(self._trouble, False)
        self._show_record(self._service.snapshot(self._chamber_id))

    def again(self) -> None:
        """Shows everything anew, in the reader's present taste."""
        self.look()
        self._show_record(self._service.snapshot(self._chamber_id))

    def _show_record(self, snapshot: Snapshot) -> None:
        watch, taste = self._watch, self._reader.taste
        self._journal.show(views.lines(watch.lines, snapshot.utc, taste))
        seen = (watch.course_number, taste)
        if seen == self._course_seen:
            return
        self._course_seen = seen
        session = snapshot.session
        if session is None or snapshot.began_utc is None or not watch.stretches:
            self._course.show(None)
            return
        zones = [zone.name for zone in snapshot.chamber.zones]
        self._course.show(
            charts.course(
                watch.stretches,
                watch.levels,
                snapshot.began_utc,
                session.run_s,
                session.program.limits,
                zones,
                taste,
            )
        )


def _warning() -> tuple[ui.element, Callable[[str], None]]:
    row = Text("p", "", "warning")

    def fill(text: str) -> None:
        row.text = text

    return row, fill
