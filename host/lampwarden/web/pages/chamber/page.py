"""The page Chamber, put together of its parts."""

from dataclasses import dataclass

from nicegui import ui
from starlette.concurrency import run_in_threadpool

from ....domain.commissioning import Papers
from ....errors import LampwardenError, StoreError
from ....service import BankAge
from ....store.records import SavedCalibration
from ...chamber_view import zones as view
from ..elements import Text, box
from ..reader import Reader
from ..shell import frame
from ..site import Site
from .board import BoardPart, CommissioningPart, RegistersPart
from .calibrate import CalibratePart
from .camera import CameraPart
from .heat import HeatPart
from .zones import BanksPart, LeaksPart, ZonesPart

LOOK_S = 1.0
"""How often the board's numbers are brought up to date, s: as often as it is asked."""


@dataclass(frozen=True, slots=True)
class Opened:
    """What must be read from the records."""

    ages: tuple[BankAge, ...]
    history: list[SavedCalibration]
    papers: Papers
    papers_trouble: str


class ChamberPage:
    """One open page."""

    @staticmethod
    def fetch(site: Site, chamber_id: str) -> Opened:
        """Raises UnknownName, StoreError."""
        identity, papers, trouble = site.service.snapshot(chamber_id).board.identity, Papers(), ""
        try:
            papers = site.papers(identity.unique_id) if identity else papers
        except StoreError as error:
            trouble = str(error)
        return Opened(site.service.lit_hours(chamber_id), site.service.calibrations(chamber_id), papers, trouble)

    def __init__(self, site: Site, reader: Reader, chamber_id: str, opened: Opened) -> None:
        self._site, self._service, self._reader, self._chamber_id = site, site.service, reader, chamber_id
        self._opened, self._number = opened, -1
        chamber = site.service.chamber(chamber_id)
        frame(site, reader, chamber_id, "chamber", self._again)
        ui.page_title(f"Chamber · {chamber.title}")
        with box("div", "top"):
            Text("h1", chamber.title, "title")
            Text(
                "p",
                "What the chamber is, how strong its light is and how that is known, how warm it gets, and how its"
                " board is. The calibration can be changed here; the rest stands in the chamber’s file or is measured.",
                "lead",
            )
        with box("div", "page ch-page"):
            with box("div", "ch-column"):
                self._zones = ZonesPart()
                self._calibrate = CalibratePart(chamber, self._service, reader, self._changed)
                self._leaks = LeaksPart()
                self._heat = HeatPart()
            with box("div", "ch-column"):
                self._board = BoardPart()
                self._banks = BanksPart()
                self._commissioning = CommissioningPart()
                self._camera = CameraPart(site, chamber)
            self._registers = RegistersPart()
        self._again()
        ui.timer(LOOK_S, self._look)
        ui.timer(0, self._warm, once=True)

    def _again(self) -> None:
        """Shows everything anew, in the reader's present taste."""
        chamber, taste = self._service.chamber(self._chamber_id), self._reader.taste
        snapshot = self._service.snapshot(self._chamber_id)
        self._zones.show(view.zone_rows(chamber, self._opened.ages), view.picture_size(chamber))
        self._calibrate.show(self._opened.history, snapshot.utc, taste)
        self._leaks.show(view.leaks(chamber))
        self._banks.show(view.bank_rows(chamber, self._opened.ages))
        self._commissioning.show(self._opened.papers, snapshot, taste, self._opened.papers_trouble)
        self._heat.show(taste)
        self._number = -1
        self._look()

    def _look(self) -> None:
        """Brings the board's numbers up to date, if there are new ones."""
        snapshot = self._service.snapshot(self._chamber_id)
        if snapshot.number == self._number:
            return
        self._number = snapshot.number
        self._board.show(snapshot, self._reader.taste)
        self._registers.show(snapshot, self._reader.taste)

    async def _changed(self) -> None:
        """A calibration was kept."""
        self._opened = await run_in_threadpool(self.fetch, self._site, self._chamber_id)
        self._again()

    async def _warm(self) -> None:
        """The fit takes a while, and is nothing to wait for."""
        try:
            await run_in_threadpool(self._heat.fetch, self._service, self._chamber_id)
        except LampwardenError as error:
            self._heat.refuse(str(error))
            return
        self._heat.show(self._reader.taste)
