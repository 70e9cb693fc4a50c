"""A service over the real keeper, store, link, firmware and simulated chamber, with a plan and a sheet for it."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.web.conftest import CHAMBER, Bench

from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.domain.sheet import Cell, Ink, InkKind, PaperKind, Sheet, Treatment
from lampwarden.planning import all_cautions
from lampwarden.service import Confirmed, Service

WAIT_S = 20.0
PROGRAM = Program(
    title="Two strips",
    zones=(
        ZonePlan(zone="A1", exposures=(Exposure(start_s=0, end_s=600),)),
        ZonePlan(zone="A2", exposures=(Exposure(start_s=0, end_s=300),)),
    ),
    checkpoints=(Checkpoint(name="baseline", at_s=0),),
)
SHEET = Sheet(
    id="timetable",
    title="Summer timetable",
    paper=PaperKind.RAG,
    inks=(Ink(name="black", kind=InkKind.CARBON_BLACK),),
    original=False,
    consent=True,
    cells=(
        Cell(name="A1", zone="A1", x_mm=10, y_mm=10, width_mm=30, height_mm=30, treatment=Treatment(light=True)),
        Cell(name="A2", zone="A2", x_mm=60, y_mm=10, width_mm=30, height_mm=30, treatment=Treatment(light=True)),
        Cell(name="B1", zone="B1", x_mm=10, y_mm=60, width_mm=30, height_mm=30, role="control"),
    ),
)
PLAN = Plan(id="strips", title="Two strips", chamber=CHAMBER.id, sheet=SHEET.id, program=PROGRAM)


def yes(plan: Plan = PLAN, sheet: Sheet | None = SHEET, by: str = "Wilma") -> tuple[Confirmed, ...]:
    """A yes to all cautions of a plan."""
    return tuple(Confirmed(c.key, by, c.statement.text) for c in all_cautions(plan, CHAMBER, sheet))


def until(what: Callable[[], bool]) -> None:
    """Waits for what another thread or process does in real time."""
    end = time.monotonic() + WAIT_S
    while not what():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.005)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "bench.db")
    bench.open()
    yield bench
    bench.close()


@pytest.fixture
def service(bench: Bench) -> Service:
    """The bench's service with sheet and plan saved."""
    bench.service.save_sheet(SHEET, "Wilma", None)
    bench.service.save_plan(PLAN, "Wilma", None)
    return bench.service
