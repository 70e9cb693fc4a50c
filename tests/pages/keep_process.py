"""A dashboard over three sheets of one series, each read by an instrument, and a record packed elsewhere."""

import tempfile
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from lampwarden.domain.finding import HandFinding
from lampwarden.domain.plan import Plan
from lampwarden.domain.reading import CellColour, Reading, Way
from lampwarden.domain.sheet import Sheet
from lampwarden.record.bag import pack
from lampwarden.record.gather import gather
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended, Planned

from .past import Past, as_json

HOURS = 8.0
YELLOWER_BY = {"A1": 2.0, "A2": 3.5, "A3": 6.0, "B1": 9.0, "B2": 4.0, "B3": 0.1}
"""How much b* falls on the first sheet, by cell."""


class Host(Past):
    """One chamber, and sheets treated in it."""

    def treat(self, number: int, times: float, *, series: str = "") -> str:
        """Treats one more sheet, whose cells gain so many times as much as the first one's; returns the session."""
        session, began_h = f"2031-03-0{number + 2}-1", 24.0 * (number - 1)
        title = f"Summer timetable, copy {number}"
        sheet = self.sheet.model_copy(update={"id": f"copy-{number}", "title": title, "series": series})
        self.service.save_sheet(sheet, "Wilma", None)
        plan = Plan(id="ladder", title="Light ladder", chamber="demo", sheet=sheet.id, program=self.program)
        program, chamber = as_json(self.program), as_json(self.chamber)
        planned = Planned("ladder", as_json(plan), as_json(sheet))
        self.store.begin_session(
            session, "demo", f"Light ladder, copy {number}", program, chamber, self.at(began_h), planned
        )
        self.line(session, "began", began_h, {"by": "Wilma"}, "Session begun by Wilma.")
        for checkpoint, hours in (("baseline", 0.0), ("8 h", HOURS)):
            lit_s = [min(hours, of) * 3600 for of in (2.0, 4.0, 8.0, 8.0, 0.0, 0.0)]
            data: dict[str, Any] = {"checkpoint": checkpoint, "session_s": hours * 3600, "lit_s": lit_s}
            self.line(session, "checkpoint_reached", began_h + hours, data, f"Checkpoint '{checkpoint}' reached.")
            self.read(sheet, session, checkpoint, times if hours else 0.0)
        end = {"lit_s": lit_s, "outcome": "completed", "cause": "All exposures are given."}
        utc = self.line(session, "ended", began_h + HOURS, end, "Session completed: All exposures are given.")
        self.store.commit(Batch(session, ended=Ended("completed", "All exposures are given.", utc)))
        return session

    def read(self, sheet: Sheet, session: str, checkpoint: str, times: float) -> None:
        cells = tuple(
            CellColour(
                cell=cell.name,
                lab_d50=(80.0 + 0.4 * fell, 2.0 - 0.1 * fell, 24.0 - fell),
                u_lab=(0.1, 0.1, 0.1),
                u_abs_de00=0.3,
            )
            for cell in sheet.cells
            for fell in (times * YELLOWER_BY.get(cell.name, 0.0),)
        )
        reading = Reading(
            id="x", sheet=sheet.id, taken_utc=self.service.utc(), way=Way.INSTRUMENT, cells=cells,
            detection_limit_de00=0.4,
        )  # fmt: skip
        self.service.add_reading(reading, "Wilma", chamber_id="demo", session_id=session, checkpoint=checkpoint)

    def line(self, session: str, kind: str, at_h: float, data: dict[str, Any], text: str) -> str:
        utc = self.at(at_h)
        self.store.commit(Batch(session, [Line(kind, 0.0, utc, data, text, "demo", session)]))
        return utc


def elsewhere(folder: Path, bag: Path) -> None:
    """Another host, which packs the record of its session and is gone."""
    host = Host(folder, "Ida's chamber")
    session = host.treat(1, 1.3)
    host.at(72)
    pack(gather(host.service, session), lambda name: host.service.photo(name), bag)
    host.service.close()
    host.store.close()


def run(line: Connection, bag: Path) -> None:
    """The process: writes the record of another host to `bag`, and shows this one."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "other").mkdir()
        elsewhere(Path(folder) / "other", bag)
        here = Path(folder) / "here"
        here.mkdir()
        host = Host(here, "Attic chamber")
        for number, times in ((1, 1.0), (2, 1.25), (3, 0.9)):
            session = host.treat(number, times, series="Summer timetables")
        found = HandFinding(cell="A3", aspect="stiffness", value=3, found_utc=host.service.utc())
        host.service.add_finding(found, "Wilma", chamber_id="demo", session_id=session)
        host.service.read_photos([("shaken.jpg", b"no photo" * 9000)], "Wilma", chamber_id="demo", session_id=session)
        host.show(line)
