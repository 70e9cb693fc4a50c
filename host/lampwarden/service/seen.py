"""What was seen of a sheet: photos and their readings, instrument readings, and what follows of them."""

import hashlib
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..domain.chamber import Chamber
from ..domain.finding import FOLLOW_UP, FollowUpPlan, HandFinding
from ..domain.plan import Plan
from ..domain.reading import Reading, Way
from ..domain.sheet import Sheet
from ..engine import events as e
from ..errors import LampwardenError, NotNow, ProgramError, UnknownName
from ..findings.conclude import Conclusions, conclude
from ..findings.defaults import Settings
from ..imaging.found import Measured as MeasuredPhotos
from ..imaging.found import PhotoFound
from ..keeper import Clock, Snapshot
from ..keeper.clock import utc_text
from ..mask.geometry import Mask
from ..mask.layout import PAPERS, lay_out
from ..photos.camera import shoot
from ..photos.doses import cell_doses_j_cm2
from ..photos.pool import Made, Order, Pool
from ..photos.vault import Vault
from ..store.choices import Choices
from ..store.gallery import Gallery, SavedPhoto, SavedReading
from ..store.records import Batch, Line
from ..store.records import Session as SavedSession
from ..store.store import Store
from .base import certain, log
from .shelf import Shelf

PHOTOS_MAX = 12
"""Photos of one moment: a bracket has five."""
WHITE_S = 3.0
"""Time for the white light to come on and be even before the camera has its turn, s."""
LIT_WITHIN_S = 5.0
"""So long a photo waits for the white light that was asked for; with the door open it stays off, s."""
CAMERA = "the camera"
"""Who stands in the journal for a photo that nobody took."""
FOLLOW_UP_DAYS = "follow_up_days"
"""Name of the choice of days, see follow_up.py."""
PHOTO_BYTES_MAX = 80_000_000
"""Largest photo; imaging looks closer."""


@dataclass(frozen=True, slots=True)
class Picture:
    """One photo that came in for a reading."""

    hash: str
    drawn: str
    """Hash of the picture with the cells drawn on it; empty: none."""
    flat: str
    """Hash of the picture laid flat, to lie on others of the sheet; empty: none."""


@dataclass(frozen=True, slots=True)
class Look:
    """One reading, as it is kept."""

    reading: Reading
    saved_utc: str
    saved_by: str
    doses_j_cm2: Mapping[str, float]
    """Dose of each cell by then; empty where it is not known."""
    pictures: tuple[Picture, ...]


class Seen(Shelf):
    """The part of the service that looks at sheets."""

    def __init__(self, store: Store, clock: Clock) -> None:
        super().__init__(store, clock)
        self._gallery = Gallery(store)
        self._choices = Choices(store)
        self._vault = Vault(store.path.parent / "originals")
        self._reading_photos = Pool()
        self._keeping = threading.Lock()
        """Held while photos are kept with their reading, and while files are deleted."""
        self._cameras: dict[str, Callable[[], list[bytes]]] = {}
        """Cameras that are no command: the demo's, which looks at a simulated sheet."""
        self._turns: dict[str, tuple[str, str]] = {}
        """By chamber the checkpoint at which its camera had its last turn by itself."""

    # --- taking -------------------------------------------------------------------------------------------------------

    def read_photos(
        self,
        photos: Sequence[tuple[str, bytes]],
        by: str,
        *,
        chamber_id: str,
        session_id: str | None = None,
        sheet_id: str | None = None,
        checkpoint: str = "",
        way: Way = Way.PHONE,
    ) -> Look:
        """Keeps photos of one moment (name, bytes), reads them and keeps what was read; waits for the result.

        Within a session the sheet is the one it was started with, and `checkpoint` the one that waits unless another is
        named. Refused photos are kept too: the reading says why and what to do. A reading that succeeds takes the place
        of earlier ones by the same way at the same checkpoint. Raises UnknownName for what there is not, ProgramError
        for too many or too large photos, NotNow for a session without a sheet, StoreError if the disk refuses.
        """
        if not photos or len(photos) > PHOTOS_MAX:
            raise ProgramError(f"{len(photos)} photos were sent; send one to {PHOTOS_MAX} of the same moment.")
        for name, data in photos:
            if not 0 < len(data) <= PHOTO_BYTES_MAX:
                raise ProgramError(f"'{name[:80]}' has {len(data)} bytes; give up to {PHOTO_BYTES_MAX // 10**6} MB.")
        moment = self._moment(chamber_id, session_id, sheet_id, checkpoint)
        earlier = [saved for saved in self._of(moment) if saved.reading.refused == "" and not saved.reading.superseded]
        before = next((saved.reading for saved in earlier), None)
        order = Order(tuple(data for _, data in photos), masks_of(moment.sheet), way, before, self._utc())
        measured, made = self._reading_photos.read(order)
        with self._keeping:
            return self._keep(moment, measured, photos, made, by, earlier)

    def take_photo(
        self, chamber_id: str, by: str, session_id: str | None = None, sheet_id: str | None = None, checkpoint: str = ""
    ) -> Look:
        """Takes a photo with the chamber's camera and reads it, like `read_photos`. Raises NotNow without a camera.

        If the inspection light has gone off meanwhile, it is lit for the photo.
        """
        if session_id is not None:
            self._light_for(chamber_id, by, session_id)
        return self.read_photos(
            self.try_camera(chamber_id), by, chamber_id=chamber_id, session_id=session_id, sheet_id=sheet_id,
            checkpoint=checkpoint, way=Way.FIXED,
        )  # fmt: skip

    def light_inspection(self, chamber_id: str, by: str) -> None:
        """Lights the white inspection light anew at a checkpoint that waits. Raises NotNow if none does."""
        certain(self._keeper(chamber_id).order(lambda run_s: e.AskInspection(run_s, by)))

    def _light_for(self, chamber_id: str, by: str, session_id: str) -> None:
        keeper = self._keeper(chamber_id)
        snapshot = keeper.snapshot
        waiting = snapshot.session.waiting if snapshot.session is not None else None
        if snapshot.session_id != session_id or waiting is None or not waiting.inspection_over:
            return
        self.light_inspection(chamber_id, by)
        deadline_s = time.monotonic() + LIT_WITHIN_S
        while time.monotonic() < deadline_s:
            board = keeper.snapshot.board
            if board.trouble is None and board.live is not None and board.live.inspection > 0:
                time.sleep(WHITE_S)
                return
            time.sleep(0.1)

    def set_camera(self, chamber_id: str, camera: Callable[[], list[bytes]]) -> None:
        """Gives a chamber a camera that is no command; called in worker threads. Raises UnknownName."""
        self._keeper(chamber_id)
        self._cameras[chamber_id] = camera

    def has_camera(self, chamber_id: str) -> bool:
        """True if the chamber's camera can be asked for a photo."""
        return chamber_id in self._cameras or bool(self._keeper(chamber_id).chamber.camera)

    def try_camera(self, chamber_id: str) -> list[tuple[str, bytes]]:
        """What the chamber's camera command writes now. Raises NotNow without one, LampwardenError if it fails."""
        command = self._keeper(chamber_id).chamber.camera
        camera = self._cameras.get(chamber_id)
        if camera is None and not command:
            raise NotNow("No camera command is set. Name one as 'camera' in the chamber's file.")
        photos = camera() if camera is not None else shoot(command)
        return [(f"camera-{number}", data) for number, data in enumerate(photos, start=1)]

    def mind_camera(self, snapshot: Snapshot) -> None:
        """Gives the chamber's camera its turn at a checkpoint that needs nobody. Called at each turn of a keeper."""
        session, session_id, chamber_id = snapshot.session, snapshot.session_id, snapshot.chamber.id
        if session is None or session_id is None or session.waiting is None or session.open_checkpoint is None:
            return
        called_s, checkpoint = session.waiting.called_s, session.open_checkpoint
        if checkpoint.attended or called_s is None or snapshot.run_s - called_s < WHITE_S:
            return
        moment = (session_id, checkpoint.name)
        if self._turns.get(chamber_id) == moment or not self.has_camera(chamber_id):
            return
        self._turns[chamber_id] = moment
        threading.Thread(target=self._turn, args=(chamber_id, *moment), name="camera", daemon=True).start()

    def _turn(self, chamber_id: str, session_id: str, checkpoint: str) -> None:
        try:
            self.take_photo(chamber_id, CAMERA, session_id, None, checkpoint)
        except LampwardenError as error:
            text = f"The camera's photo at '{checkpoint}' failed: {error}"
            try:
                self._store.commit(
                    Batch(session_id, [Line("photo_refused", 0.0, self.utc(), {}, text, chamber_id, session_id)])
                )
            except LampwardenError:
                log.error("%s This could not be journaled.", text)

    def add_reading(
        self, reading: Reading, by: str, *, chamber_id: str, session_id: str | None = None, checkpoint: str = ""
    ) -> Look:
        """Keeps an instrument's reading: typed, or from a file. Raises like `read_photos`."""
        moment = self._moment(chamber_id, session_id, reading.sheet, checkpoint)
        unknown = {cell.cell for cell in reading.cells} - {cell.name for cell in moment.sheet.cells}
        if unknown:
            raise UnknownName(f"The sheet has no cell '{min(unknown)}'. Correct the name.")
        measured = MeasuredPhotos(reading=reading.model_copy(update={"way": Way.INSTRUMENT, "photos": ()}), photos=())
        with self._keeping:
            return self._keep(moment, measured, (), (), by, [])

    # --- looking ------------------------------------------------------------------------------------------------------

    def sheet_of(self, session_id: str) -> Sheet:
        """The sheet a session was started with, as it was described then. Raises UnknownName or NotNow."""
        return self._moment_of(self._store.session(session_id)).sheet

    def looks(self, session_id: str) -> list[Look]:
        """All readings of a session, refused and superseded ones too, the first saved first. Raises UnknownName."""
        return self._of(self._moment_of(self._store.session(session_id)))

    def looks_of_sheet(self, sheet_id: str) -> list[Look]:
        """All readings of a sheet, in any session or outside one. Raises UnknownName."""
        sheet = self.sheet(sheet_id).sheet
        return [self._look(saved, sheet, None) for saved in self._gallery.readings(sheet_id=sheet_id)]

    def followed(self, session_id: str) -> list[Look]:
        """Readings of a session's sheet outside any session, after its end and before the sheet was treated again.

        Refused ones too. Raises like `looks`.
        """
        session = self._store.session(session_id)
        return self._followed(session, self._moment_of(session))

    def sessions_with(self, sheet_id: str) -> list[str]:
        """Sessions in which a sheet was read, the first read first."""
        found = (each.session_id for each in self._gallery.readings(sheet_id=sheet_id))
        return list(dict.fromkeys(each for each in found if each))

    def findings(self, session_id: str) -> list[HandFinding]:
        """What was found by hand and eye in a session and stands, see by_hand.py for the rest."""
        saved = self._gallery.findings(session_id=session_id)
        return [HandFinding.model_validate(each.data) for each in saved if each.withdrawn is None]

    def photo(self, name: str) -> tuple[bytes, str]:
        """A photo or picture by its hash, as it came, and its format. Raises UnknownName or StoreError."""
        data = self._vault.photo(name)
        try:
            return data, str(self._gallery.photo(name).found.get("format", ""))
        except UnknownName:
            return data, "JPEG"

    def conclusions(self, session_id: str, way: Way | None = None) -> Conclusions:
        """What the readings of a session say, with later readings of the sheet outside any session.

        Raises UnknownName, NotNow for a session without a sheet.
        """
        session = self._store.session(session_id)
        moment = self._moment_of(session)
        looks = [
            look
            for look in (*self._of(moment), *self._followed(session, moment))
            if not look.reading.superseded and not look.reading.refused
        ]
        plan = Plan.model_validate(session.plan) if session.plan is not None else None
        return conclude(
            moment.sheet,
            plan,
            [look.reading for look in looks],
            {look.reading.id: look.doses_j_cm2 for look in looks},
            self.findings(session_id),
            chamber=moment.chamber,
            way=way,
            settings=Settings(follow_up=self.follow_up_plan()),
        )

    def follow_up_plan(self) -> FollowUpPlan:
        """The days after a treatment's end on which its sheet is looked at again."""
        chosen = self._choices.get(FOLLOW_UP_DAYS)
        return FOLLOW_UP if chosen is None else FollowUpPlan.model_validate(chosen)

    # --- inside -------------------------------------------------------------------------------------------------------

    def _moment(self, chamber_id: str, session_id: str | None, sheet_id: str | None, checkpoint: str) -> "_Moment":
        keeper = self._keeper(chamber_id)
        if session_id is None:
            if sheet_id is None:
                raise ProgramError("Say which sheet was photographed, or in which session.")
            return _Moment(chamber_id, keeper.chamber, self.sheet(sheet_id).sheet, None, "", None, None)
        session = self._store.session(session_id)
        if session.chamber_id != chamber_id:
            raise UnknownName(f"Chamber '{chamber_id}' has no session '{session_id}'.")
        live = keeper.snapshot.session if keeper.snapshot.session_id == session_id else None
        if not checkpoint and live is not None and live.waiting is not None and live.open_checkpoint is not None:
            checkpoint = live.open_checkpoint.name
        moment = self._moment_of(session, checkpoint)
        if live is not None and moment.lit_s is None:
            return _Moment(chamber_id, moment.chamber, moment.sheet, session_id, checkpoint, live.lit_s, live.session_s)
        return moment

    def _moment_of(self, session: SavedSession, checkpoint: str = "") -> "_Moment":
        """A session's sheet and chamber, and the light that had fallen at a checkpoint, or at its end."""
        if session.sheet is None:
            raise NotNow(f"Session {session.id} was started without a sheet, so its photos have no cells to be read.")
        chamber, sheet = Chamber.model_validate(session.chamber), Sheet.model_validate(session.sheet)
        lit_s: tuple[float, ...] | None = None
        session_s: float | None = None
        for line in self._lines_of(session):
            reached = line.kind == "checkpoint_reached" and line.data["checkpoint"] == checkpoint
            if reached or (line.kind == "ended" and lit_s is None):
                lit_s, session_s = tuple(line.data["lit_s"]), line.data.get("session_s")
        if checkpoint and checkpoint not in {c["name"] for c in session.program.get("checkpoints", ())}:
            raise UnknownName(f"The session has no checkpoint '{checkpoint}'.")
        return _Moment(session.chamber_id, chamber, sheet, session.id, checkpoint, lit_s, session_s)

    def _lines_of(self, session: SavedSession) -> Sequence[Line]:
        return self._gallery.lines(session.id, ("checkpoint_reached", "ended"))

    def _of(self, moment: "_Moment") -> list[Look]:
        if moment.session_id is None:
            saved = self._gallery.readings(sheet_id=moment.sheet.id)
        else:
            saved = self._gallery.readings(session_id=moment.session_id)
        return [self._look(each, moment.sheet, moment) for each in saved]

    def _followed(self, session: SavedSession, moment: "_Moment") -> list[Look]:
        if session.ended is None:
            return []
        later = []
        for saved in self._gallery.readings(sheet_id=moment.sheet.id):
            if saved.saved_utc <= session.ended.utc or saved.session_id == session.id:
                continue
            if saved.session_id is not None:
                break  # treated again: from here on it is another session's
            later.append(self._look(saved, moment.sheet, moment))
        return later

    def _look(self, saved: SavedReading, sheet: Sheet, moment: "_Moment | None") -> Look:
        reading = Reading.model_validate(saved.data | {"superseded": saved.superseded})
        doses: dict[str, float] = {}
        chamber = moment.chamber if moment is not None else self._chamber_of(saved)
        lit_s = saved.lit_s
        if lit_s is None and moment is not None and saved.session_id is None:
            lit_s = moment.lit_s  # long after the session: all its light
        if lit_s is not None and chamber is not None and len(lit_s) == len(chamber.zones):
            doses = cell_doses_j_cm2(sheet, chamber, lit_s)
        pictures = tuple(Picture(*hashes) for hashes in saved.photos)
        return Look(reading, saved.saved_utc, saved.saved_by, doses, pictures)

    def _chamber_of(self, saved: SavedReading) -> Chamber | None:
        if saved.session_id is None:
            return None
        return Chamber.model_validate(self._store.session(saved.session_id).chamber)

    def _keep(
        self,
        moment: "_Moment",
        measured: MeasuredPhotos,
        photos: Sequence[tuple[str, bytes]],
        made: Sequence[Made],
        by: str,
        earlier: Sequence[Look],
    ) -> Look:
        utc = self._utc()
        found = dict(zip([photo.hash for photo in measured.photos], measured.photos, strict=True))
        kept: list[tuple[str, str, str]] = []
        rows: list[SavedPhoto] = []
        for (name, data), pictures in zip(photos, made, strict=True):
            key = hashlib.sha256(data).hexdigest()
            if key in {known for known, *_ in kept}:
                continue
            about = found.get(
                key, PhotoFound(hash=key, format="unknown", size_bytes=len(data), width_px=0, height_px=0)
            )
            sidecar = about.model_dump(mode="json")
            self._vault.keep(data, sidecar)
            drawn, flat = (self._vault.keep(one) if one else "" for one in (pictures.drawn, pictures.flat))
            kept.append((key, drawn, flat))
            rows.append(SavedPhoto(key, moment.chamber_id, name[:200], utc, by, sidecar))
        number = len(self._gallery.readings(session_id=moment.session_id, sheet_id=moment.sheet.id)) + 1
        reading = measured.reading.model_copy(
            update={
                "id": f"{moment.session_id or moment.sheet.id}-{utc_text(datetime.fromisoformat(utc))[:10]}-r{number}",
                "session": moment.session_id or "",
                "sheet": moment.sheet.id,
                "checkpoint": moment.checkpoint,
                "session_s": moment.session_s,
                "taken_utc": measured.reading.taken_utc or utc,
            }
        )
        replaced = [
            look.reading.id
            for look in earlier
            if moment.session_id
            and not reading.refused
            and look.reading.checkpoint == moment.checkpoint
            and (look.reading.way is Way.PHONE) == (reading.way is Way.PHONE)
            and moment.checkpoint
        ]
        saved = SavedReading(
            reading.id, moment.chamber_id, moment.session_id, moment.sheet.id, moment.checkpoint, utc, by, moment.lit_s,
            False, reading.model_dump(mode="json", exclude={"superseded"}), tuple(kept),
        )  # fmt: skip
        kind = "photo_refused" if reading.refused else "reading_typed" if not photos else "photo_read"
        line = self._beside(
            moment, kind, _said(reading, by), utc, {"reading": reading.id, "photos": [each[0] for each in kept]}
        )
        self._gallery.add_reading(saved, rows, line, replaced)
        return self._look(saved, moment.sheet, moment)

    def _beside(self, moment: "_Moment", kind: str, text: str, utc: str, data: Mapping[str, object]) -> Line:
        run_s = 0.0
        snapshot = self._keeper(moment.chamber_id).snapshot
        if moment.session_id is not None and snapshot.session_id == moment.session_id:
            run_s = snapshot.run_s
        return Line(kind, run_s, utc, dict(data), text, moment.chamber_id, moment.session_id)


@dataclass(frozen=True, slots=True)
class _Moment:
    """What a photo belongs to."""

    chamber_id: str
    chamber: Chamber
    sheet: Sheet
    session_id: str | None
    checkpoint: str
    lit_s: tuple[float, ...] | None
    session_s: float | None


def masks_of(sheet: Sheet) -> tuple[Mask, ...]:
    """The masks that may lie over a sheet when it is photographed: all cells open, by the paper they are printed on.

    Raises ProgramError if no paper is large enough.
    """
    found: list[Mask] = []
    trouble: ProgramError | None = None
    for paper in PAPERS.values():
        try:
            mask = lay_out(sheet, paper, open_all=True)
        except ProgramError as error:
            trouble = error
            continue
        if all(mask.markers != other.markers or mask.apertures != other.apertures for other in found):
            found.append(mask)
    if not found and trouble is not None:
        raise trouble
    return tuple(found)


def _said(reading: Reading, by: str) -> str:
    at = f" at '{reading.checkpoint}'" if reading.checkpoint else ""
    if reading.refused:
        return f"Photo{at} by {by} could not be read: {reading.refused}"
    cells = f"{len(reading.cells)} cell{'' if len(reading.cells) == 1 else 's'}"
    if reading.way is Way.INSTRUMENT:
        return f"Instrument reading{at} by {by}: {cells}."
    return (
        f"Photo{at} by {by}: {cells} read; a change of {reading.detection_limit_de00:.1f} ΔE00 or more can be told"
        " from none."
    )
