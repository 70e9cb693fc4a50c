"""Photos of the demo's sheet, rendered once, and a service that may read them."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Program
from lampwarden.domain.program_file import parse, parse_as
from lampwarden.domain.reading import Way
from lampwarden.domain.sheet import Sheet
from lampwarden.keeper import Keeper
from lampwarden.mask.layout import PAPERS, lay_out
from lampwarden.photos.pool import Pool
from lampwarden.rehearsal import MemoryWriter, Rig
from lampwarden.service import Service
from lampwarden.service.seen import Look
from lampwarden.store import Batch, Line, Store
from lampwarden.store.records import Planned

pytest.importorskip("cv2", reason="the extra 'photos' is not installed")

SCENARIO = Path(__file__).parents[2] / "host" / "lampwarden" / "rig" / "scenario"
UTC = "2026-05-04T09:30:00.000Z"
SIZE = (2000, 1500)


@pytest.fixture(scope="session")
def sheet() -> Sheet:
    return parse_as(Sheet, (SCENARIO / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")


@pytest.fixture(scope="session")
def chamber() -> Chamber:
    return parse_as(Chamber, (SCENARIO / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")


@pytest.fixture(scope="session")
def program() -> Program:
    return parse((SCENARIO / "ferry_timetable.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def two_photos(sheet: Sheet, chamber: Chamber) -> tuple[bytes, bytes]:
    """By a fixed camera: before any light, and after eight hours of light on zone A3 alone."""
    from lampwarden.rig.camera.photo import photograph
    from lampwarden.rig.paper.sheet import SimPaper

    mask = lay_out(sheet, PAPERS["a3"], open_all=True)
    paper = SimPaper(sheet, chamber, seed=7)
    (before,) = photograph(sheet, mask, paper.state(), camera_seed=3, kind="fixed", shot=0, size=SIZE)
    paper.step(8 * 3600, {"A3": 1.0}, air_temp_c=28.0)
    (after,) = photograph(sheet, mask, paper.state(), camera_seed=3, kind="fixed", shot=1, size=SIZE)
    return before, after


def as_json(model: BaseModel) -> dict[str, Any]:
    return model.model_dump(mode="json", by_alias=True, exclude_none=True)


class Scene:
    """A service with one chamber and one session in it, whose journal is written by hand."""

    def __init__(self, folder: Path, chamber: Chamber, program: Program, sheet: Sheet, *, begun: bool = False) -> None:
        """`begun`: the folder is a copy of another scene's."""
        self.chamber, self.program = chamber, program
        self.store = Store.open(folder / "lampwarden.db")
        rig = Rig.build(chamber, program, seed=1)
        self.clock, self._sheet = rig.clock, sheet
        self.service = Service(self.store, rig.clock)
        self.service.add(Keeper(chamber, rig.board, rig.clock, MemoryWriter()))
        if not begun:
            self.service.save_sheet(sheet, "Wilma", None)
            self.begin("s")

    def begin(self, name: str) -> None:
        """One more session of the same plan."""
        chamber, program, sheet = self.chamber, self.program, self._sheet
        plan = Plan(id="p", title="Trial", chamber=chamber.id, sheet=sheet.id, program=program)
        self.store.begin_session(
            name, chamber.id, "Trial", as_json(program),
            chamber.model_dump(mode="json"), UTC, Planned("p", as_json(plan), sheet.model_dump(mode="json")),
        )  # fmt: skip

    def reached(self, checkpoint: str, session_s: float, lit_s: tuple[float, ...]) -> None:
        data = {"checkpoint": checkpoint, "session_s": session_s, "lit_s": list(lit_s)}
        line = Line("checkpoint_reached", session_s, UTC, data, "Reached.", "demo", "s")
        self.store.commit(Batch("s", [line]))

    def read(self, photo: bytes, checkpoint: str = "", *, session: bool = True) -> Look:
        """Reads a photo of the session, or of the sheet outside any."""
        where = {"session_id": "s", "checkpoint": checkpoint} if session else {"sheet_id": "ferry-timetable"}
        return self.service.read_photos([("a/../b.jpg", photo)], "Wilma", chamber_id="demo", way=Way.FIXED, **where)

    def kinds(self) -> list[str]:
        return [line.kind for line in self.store.journal("s", "demo")]

    def close(self) -> None:
        self.service.close()
        self.store.close()


class SharedPool(Pool):
    """A reading process that services hand on: each of its own would take longer to begin than to read."""

    def close(self) -> None: ...


@pytest.fixture(scope="session")
def pool() -> Iterator[Pool]:
    pool = SharedPool()
    yield pool
    Pool.close(pool)


@pytest.fixture
def scene(
    tmp_path: Path, chamber: Chamber, program: Program, sheet: Sheet, pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Scene]:
    monkeypatch.setattr("lampwarden.service.seen.Pool", lambda: pool)
    scene = Scene(tmp_path, chamber, program, sheet)
    yield scene
    scene.close()
