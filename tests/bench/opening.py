"""How long does the server take to open each page of a full record? Against plain reading of its rows, in one run.

`python -m tests.bench.opening` prints the figures, `--json` for programs. The record: one session of 24 hours at one
reading a second, with its journal, and a thousand sessions in the list, all written by the real store.
"""

import json
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from math import sin
from pathlib import Path
from time import process_time, sleep

import httpx
import uvicorn

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program import Program
from lampwarden.domain.program_file import parse, parse_as
from lampwarden.keeper import Keeper
from lampwarden.rehearsal import MemoryWriter, Rig
from lampwarden.service import Service
from lampwarden.store import Batch, Line, Store
from lampwarden.store.opening import read_only
from lampwarden.store.records import Ended, Sample
from lampwarden.web.app import create_app

SCENARIO = Path(__file__).parents[2] / "host" / "lampwarden" / "rig" / "scenario"
BEGAN = datetime(2030, 3, 4, 8, 0, tzinfo=UTC)
DAY_S = 86_400
SESSIONS = 1000
LINE_EACH_S = 60
"""A line of the journal each minute: a day with pauses to cool has some hundreds."""
AT_ONCE = 600
"""Readings of one commit."""
LONG = "day"
KEPT_TURNS = 3
"""Turns of the keeper before it is measured: then it knows its board."""


@dataclass(frozen=True)
class Opened:
    """What it took to open one page or to answer one question."""

    name: str
    took_s: float
    ratio: float
    """Over one plain SELECT of a day's readings, which takes some 0.1 s on a small computer at rest."""


@dataclass(frozen=True)
class Report:
    samples_s: float
    """All readings of the day's session by one plain SELECT, s."""
    opened: tuple[Opened, ...]

    def __str__(self) -> str:
        rows = (f"{each.name:40} {1000 * each.took_s:6.0f} ms  {each.ratio:5.2f}" for each in self.opened)
        return "\n".join((f"{DAY_S} readings by a plain SELECT {1000 * self.samples_s:12.0f} ms   1.00", *rows))


class Record:
    """The store, filled."""

    def __init__(self, folder: Path, day_s: int = DAY_S, sessions: int = SESSIONS) -> None:
        self.chamber = parse_as(Chamber, (SCENARIO / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")
        self.program = parse((SCENARIO / "ferry_timetable.toml").read_text(encoding="utf-8"))
        self.store = Store.open(folder / "lampwarden.db")
        for number in range(sessions - 1):
            self._short(number)
        self._day(day_s)

    def _begin(self, name: str, began: datetime) -> None:
        program, chamber = _json(self.program), _json(self.chamber)
        self.store.begin_session(name, self.chamber.id, f"Session {name}", program, chamber, _utc(began))

    def _line(self, name: str, kind: str, run_s: float, began: datetime, text: str, **data: object) -> Line:
        return Line(kind, run_s, _utc(began + timedelta(seconds=run_s)), data, text, self.chamber.id, name)

    def _short(self, number: int) -> None:
        name, began = f"s{number}", BEGAN - timedelta(hours=SESSIONS - number)
        self._begin(name, began)
        line = self._line(name, "ended", 1800.0, began, "Completed.", outcome="completed", cause="All is given.")
        self.store.commit(Batch(name, [line], ended=Ended("completed", "All is given.", line.utc)))

    def _day(self, day_s: int) -> None:
        self._begin(LONG, BEGAN)
        levels = [1.0] * len(self.chamber.zones)
        for start_s in range(0, day_s, AT_ONCE):
            samples = [
                Sample(float(s), 27 + 3 * sin(s / 900), 44 + sin(s / 5000), (31 + sin(s / 700),) * 3, False)
                for s in range(start_s, min(day_s, start_s + AT_ONCE))
            ]
            lines = [
                self._line(LONG, "levels_set", float(s), BEGAN, "Light on: A1 100 %.", levels=levels)
                for s in range(start_s, min(day_s, start_s + AT_ONCE), LINE_EACH_S)
            ]
            self.store.commit(Batch(LONG, lines, samples=samples, progress={"lit_s": [0.0] * len(levels)}))
        line = self._line(LONG, "ended", float(day_s), BEGAN, "Session completed.", outcome="completed", cause="Given.")
        self.store.commit(Batch(LONG, [line], ended=Ended("completed", "All is given.", line.utc)))

    def plain(self, sql: str) -> float:
        """Time of one plain question, s."""

        def ask() -> None:
            with closing(read_only(self.store.path, 1.0)) as conn:
                conn.execute(sql).fetchall()

        return _quickest(ask)


@contextmanager
def dashboard(record: Record) -> Iterator[str]:
    """The real dashboard over the record, at this address."""
    rig = Rig.build(record.chamber, record.program, seed=1)
    rig.clock.speed = 1.0
    service = Service(record.store, rig.clock)
    service.add(Keeper(record.chamber, rig.board, rig.clock, MemoryWriter()))
    server = uvicorn.Server(uvicorn.Config(create_app(service), port=0, log_level="warning"))
    service.run()
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started or service.snapshot(record.chamber.id).number < KEPT_TURNS:
        sleep(0.01)
    service.close()  # the simulated chamber would be measured too; pages go on showing its last turn
    yield f"http://localhost:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(10)


PAGES = {
    "page Now": "/now/{c}",
    "page Plan": "/plan/{c}",
    "page Sheets": "/sheets/{c}",
    "page Results, the list": "/results/{c}",
    "page Results, a session": "/results/{c}/day",
    "page Chamber": "/chamber/{c}",
    "page Journal": "/journal/{c}",
    "page Messages": "/messages/{c}",
}
QUESTIONS = {
    "API: a day's readings, 500 stretches": "/api/chambers/{c}/sessions/day/readings",
    "API: a day's readings, 2000 stretches": "/api/chambers/{c}/sessions/day/readings?points=2000",
    "API: a day's journal, 1000 lines": "/api/chambers/{c}/journal?session_id=day&limit=1000",
    "API: the newest 200 sessions": "/api/chambers/{c}/sessions?limit=200",
    "API: one session": "/api/chambers/{c}/sessions/day",
}


def measure(folder: Path, day_s: int = DAY_S, sessions: int = SESSIONS) -> Report:
    """Fills a record and opens everything a few times; the quickest counts."""
    record = Record(folder, day_s, sessions)
    samples_s = record.plain("SELECT * FROM samples")
    opened = []
    with dashboard(record) as address, httpx.Client(base_url=address, timeout=60) as client:
        for name, path in (PAGES | QUESTIONS).items():

            def get(path: str = path.format(c=record.chamber.id)) -> None:
                client.get(path).raise_for_status()

            took_s = _quickest(get)
            opened.append(Opened(name, took_s, took_s / samples_s))
    record.store.close()
    return Report(samples_s, tuple(opened))


def _quickest(work: Callable[[], object], rounds: int = 5) -> float:
    """Processor time, s: of server and client, which live in this process; whatever else the machine does stays out."""
    best_s = float("inf")
    for _ in range(rounds):
        before_s = process_time()
        work()
        best_s = min(best_s, process_time() - before_s)
    return best_s


def _json(model: Chamber | Program) -> dict[str, object]:
    return model.model_dump(mode="json", by_alias=True, exclude_none=True)


def _utc(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%S.000Z")


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        report = measure(Path(name))
    sys.stdout.write((json.dumps(asdict(report)) if "--json" in sys.argv else str(report)) + "\n")


if __name__ == "__main__":
    main()
