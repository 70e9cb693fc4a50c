"""The demo: a session on the simulated chamber, faster than real, with the daemon's own keeper, store and pages.

The scenario's sheet lies in it: its paper follows the simulated lamps, and the simulated camera photographs it.
"""

import logging
import re
import threading
from datetime import datetime
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

from .domain.plan import Plan
from .domain.program import Program
from .domain.program_file import parse_as
from .domain.sheet import Sheet
from .engine import Phase
from .errors import LampwardenError
from .keeper import Keeper, Snapshot
from .rehearsal import Person, Rig, chamber_for
from .rig.camera.mounted import SimCamera
from .service import Service
from .service.seen import masks_of
from .starts import Confirmed
from .starts.lines import CAUTION, plan_lines
from .store.store import Store
from .store.writer import DirectWriter

log = logging.getLogger(__name__)

BOOT_S = 10.0
"""Virtual time given to the simulated board before its session begins, s."""
BY = "the demo"


class Demo:
    """One simulated chamber with its service. Call `begin` once the keepers run."""

    def __init__(
        self, program: Program, database: Path, *, seed: int, speed: float, hands_off: bool, start_utc: datetime
    ) -> None:
        self._program, self._speed, self._hands_off = program, speed, hands_off
        self.chamber = chamber_for(program)
        self.store = Store.open(database)
        # Virtual time ran ahead in an earlier demo over this record: the clock goes on from there, not from before it.
        for newest in self.store.last_lines(None, None, 1):
            start_utc = max(start_utc, datetime.fromisoformat(newest.utc))
        self.rig = Rig.build(self.chamber, program, seed, None, start_utc)
        self.rig.world.advance(BOOT_S)
        self.rig.clock.speed = speed
        # Virtual time stands still during a commit, as it must: a slow disk is no slow chamber.
        self._writer = DirectWriter(self.store)
        self.keeper = Keeper(self.chamber, self.rig.board, self.rig.clock, self._writer)
        self._person = Person(self.keeper, program.rehearsal.answer_after_s)
        self.service = Service(self.store, self.rig.clock)
        self.service.add(self.keeper, self._watch)
        self.ended = threading.Event()
        """Set once the session has ended."""
        self._photographing: threading.Thread | None = None
        self._photographed: set[tuple[str, str]] = set()
        self._washed = False
        self.camera: SimCamera | None = None
        sheet = demo_sheet()
        self._sheet = sheet if not sheet.fits(self.chamber) else None
        if self._sheet is not None and find_spec("cv2") and find_spec("PIL"):
            self.camera = SimCamera(self.rig.world, self.rig.clock, self._sheet, masks_of(self._sheet)[0], seed)
            self.service.set_camera(self.chamber.id, self.camera)

    def begin(self) -> None:
        """Starts the session, unless one was taken up from the database. Raises what Service.start_plan raises."""
        session = self.keeper.snapshot.session
        if session is not None and session.active:
            return
        plan = self._planned()
        asked = self.service.preflight(self.chamber.id, plan).lines
        yes = [Confirmed(line.key.removeprefix(CAUTION), BY, line.confirm) for line in asked if line.confirm]
        self.service.start_plan(plan.id, BY, yes)

    def _planned(self) -> Plan:
        """The demo's plan, saved with its sheet if they are not there yet.

        A program that contradicts the scenario's sheet, such as one that leaves a cell's zone dark, runs without it.
        """
        key = re.sub(r"[^a-z0-9]+", "-", self._program.title.lower()).strip("-")[:32].strip("-") or "demo"
        plan = Plan(id=key, title=self._program.title, chamber=self.chamber.id, program=self._program)
        if self._sheet is not None:
            if self._sheet.id not in {saved.sheet.id for saved in self.service.sheets()}:
                self.service.save_sheet(self._sheet, BY, None)
            with_sheet = plan.model_copy(update={"sheet": self._sheet.id})
            lines = plan_lines(with_sheet, self.chamber, self._sheet, self.rig.clock.utc())
            if all(line.verdict != "fail" or line.confirm for line in lines):
                plan = with_sheet
        saved = next((each for each in self.service.plans(self.chamber.id) if each.plan.id == key), None)
        if saved is None or saved.plan != plan:
            self.service.save_plan(plan, BY, saved.revision if saved is not None else None)
        return plan

    def outcome(self) -> str:
        """How the session ended; empty if it has not."""
        session = self.keeper.snapshot.session
        return session.outcome if session else ""

    def _watch(self, snapshot: Snapshot) -> None:
        session = snapshot.session
        if session is None:
            self.rig.clock.speed = 1.0  # an idle chamber has no reason to hurry
            return
        if session.checkpoints_passed and not self._washed and self.camera is not None:
            self._washed = True  # baths follow the baseline photo: wet paper looks darker
            with self.rig.world.lock:
                self.camera.paper.wet()
        if self._hands_off and self._has_photo(snapshot):
            self._person.mind(snapshot)
        called = session.waiting is not None and session.waiting.called_s is not None
        waits = any(hold.needs_person for hold in session.holds) and (called or session.waiting is None)
        # A real person needs real time to read and answer.
        taking = self._photographing is not None and self._photographing.is_alive()
        slow = session.phase is Phase.ENDED or taking or (waits and not self._hands_off)
        self.rig.clock.speed = 1.0 if slow else self._speed
        if session.phase is Phase.ENDED:
            self.ended.set()

    def _has_photo(self, snapshot: Snapshot) -> bool:
        """True once the simulated person has the photo of the checkpoint that calls, or if none can be taken."""
        session, session_id = snapshot.session, snapshot.session_id
        if self.camera is None or session is None or session_id is None or session.waiting is None:
            return True
        if session.waiting.called_s is None or session.open_checkpoint is None:
            return True
        moment = (session_id, session.open_checkpoint.name)
        if moment not in self._photographed:
            self._photographed.add(moment)
            self._photographing = threading.Thread(target=self._take, args=moment, name="demo-photo", daemon=True)
            self._photographing.start()
        return self._photographing is None or not self._photographing.is_alive()

    def _take(self, session_id: str, checkpoint: str) -> None:
        try:
            self.service.take_photo(self.chamber.id, BY, session_id, None, checkpoint)
        except LampwardenError as error:
            log.warning("the demo's photo at '%s' failed: %s", checkpoint, error)


def demo_sheet() -> Sheet:
    """The scenario's sheet."""
    text = files("lampwarden.rig").joinpath("scenario/sheet.toml").read_text(encoding="utf-8")
    return parse_as(Sheet, text, "sheet.toml")
