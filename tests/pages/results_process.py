"""A dashboard over a finished trial: photos rendered by the simulated camera, and read."""

import tempfile
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from lampwarden.domain.plan import Plan
from lampwarden.domain.reading import CellColour, Reading, Way
from lampwarden.domain.sheet import Cell, Sheet, Treatment
from lampwarden.rig.camera.photo import photograph
from lampwarden.rig.paper.sheet import SimPaper
from lampwarden.service.seen import masks_of
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended, Planned

from .past import Past, as_json

HOUR_S = 3600.0
WATCH = Cell(
    name="V1", zone="A3", x_mm=206, y_mm=58, width_mm=22, height_mm=22, treatment=Treatment(light=True),
    role="ink watch", ink="vermilion",
)  # fmt: skip
MOMENTS = {"baseline": 0.0, "2 h": 2.0, "8 h": 8.0}
"""Checkpoints that are photographed, and the light's hours by then."""
LIT_H = {"A1": 2.0, "A2": 4.0, "A3": 8.0, "B1": 8.0}
"""Hours of light in all, by zone; the others stay dark."""
LATER_DAYS = 8
SIZE = (1600, 1200)


class Trial(Past):
    """The scenario's sheet with one ink watched, treated for eight hours and looked at again a week later."""

    def __init__(self, folder: Path, photos: Path) -> None:
        super().__init__(folder)
        if not any(cell.role == "ink watch" for cell in self.sheet.cells):
            self.sheet = self.sheet.model_copy(update={"cells": (*self.sheet.cells, WATCH)})
        self.photos = photos
        self.truth: dict[str, dict[str, tuple[float, float, float]]] = {}
        """True colour of each cell of bare paper, by moment."""
        self.service.save_sheet(self.sheet, "Wilma", None)

    def session(self, name: str, title: str, at_h: float, sheet: Sheet | None) -> None:
        plan = Plan(id="ladder", title=title, chamber="demo", sheet=sheet.id if sheet else None, program=self.program)
        planned = Planned("ladder", as_json(plan), None if sheet is None else as_json(sheet))
        program, chamber = as_json(self.program), as_json(self.chamber)
        self.store.begin_session(name, "demo", title, program, chamber, self.at(at_h), planned)

    def line(self, name: str, kind: str, hours: float, at_h: float, text: str, **data: Any) -> None:
        lit_s = [min(hours, LIT_H.get(zone.name, 0.0)) * HOUR_S for zone in self.chamber.zones]
        utc = self.at(at_h + hours)
        line = Line(kind, hours * HOUR_S, utc, {"lit_s": lit_s, **data}, text, "demo", name)
        ended = Ended("completed", "All exposures are given.", utc) if kind == "ended" else None
        self.store.commit(Batch(name, [line], ended=ended))

    def reached(self, name: str, checkpoint: str, hours: float, at_h: float) -> None:
        text = f"Checkpoint '{checkpoint}' reached."
        self.line(name, "checkpoint_reached", hours, at_h, text, checkpoint=checkpoint, session_s=hours * HOUR_S)

    def play(self) -> None:
        """All that happened, in order."""
        self.session("s0", "Trial by instrument", -72.0, self.sheet)
        for checkpoint, hours in (("baseline", 0.0), ("8 h", 8.0)):
            self.reached("s0", checkpoint, hours, -72.0)
            self.by_instrument("s0", checkpoint)
        self.line("s0", "ended", 8.0, -72.0, "Session completed.", outcome="completed", cause="All is given.")
        self.session("s1", "Bare program", -24.0, None)
        self.line("s1", "ended", 0.0, -24.0, "Session completed.", outcome="completed", cause="All is given.")
        self.session("s2", "Ferry timetable, light ladder", 0.0, self.sheet)
        for checkpoint, hours in MOMENTS.items():
            self.reached("s2", checkpoint, hours, 0.0)
            if checkpoint == "2 h":
                self.service.read_photos(
                    [("shaken.jpg", b"no photo at all")], "Wilma", chamber_id="demo", session_id="s2"
                )
            self.read(checkpoint)
        for checkpoint in ("baseline", "8 h"):
            self.by_instrument("s2", checkpoint)
        self.line("s2", "ended", 8.0, 0.0, "Session completed.", outcome="completed", cause="All is given.")
        self.at(8 + 24 * LATER_DAYS)
        self.read("later", session=False)

    def read(self, moment: str, *, session: bool = True) -> None:
        where = {"session_id": "s2", "checkpoint": moment} if session else {"sheet_id": self.sheet.id}
        photo = (self.photos / f"{moment}.jpg").read_bytes()
        self.service.read_photos([(f"{moment}.jpg", photo)], "Wilma", chamber_id="demo", way=Way.FIXED, **where)

    def by_instrument(self, name: str, checkpoint: str) -> None:
        cells = [
            CellColour(cell=name, lab_d50=lab, u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
            for name, lab in self.truth[checkpoint].items()
        ]
        reading = Reading(
            id="x", sheet=self.sheet.id, taken_utc=self._clock.utc().strftime("%Y-%m-%dT%H:%M:%S.000Z"),
            way=Way.INSTRUMENT, cells=tuple(cells), detection_limit_de00=0.4,
        )  # fmt: skip
        self.service.add_reading(reading, "Wilma", chamber_id="demo", session_id=name, checkpoint=checkpoint)

    def render(self) -> None:
        """Photos of the sheet at each moment, if they are not there yet."""
        mask, paper, done_h = masks_of(self.sheet)[0], SimPaper(self.sheet, self.chamber, seed=7), 0.0
        for shot, (moment, hours) in enumerate([*MOMENTS.items(), ("later", 8.0)]):
            for end in sorted({h for h in (*LIT_H.values(), hours) if done_h < h <= hours}):
                lamps = {zone: 1.0 for zone, h in LIT_H.items() if h >= end}
                paper.step((end - done_h) * HOUR_S, lamps, air_temp_c=27.0)
                done_h = end
            if moment == "later":
                paper.rest(LATER_DAYS)
            state = paper.state()
            self.truth[moment] = {cell.name: state.lab_d50(cell.name) for cell in self.sheet.cells if not cell.ink}
            path = self.photos / f"{moment}.jpg"
            if not path.exists():
                (photo,) = photograph(self.sheet, mask, state, camera_seed=3, kind="fixed", shot=shot, size=SIZE)
                path.write_bytes(photo)
            if moment == "baseline":
                paper.wet()


def run(line: Connection, photos: Path) -> None:
    """The process; rendered photos are kept in that folder."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Trial(Path(folder), photos)
        trial.render()
        trial.play()
        trial.show(line)
