"""Rehearsals in the background: one at a time, in a process of its own with low priority.

A rehearsal computes for many seconds; in a thread it would take turns from the keepers. The process is spawned, so it
shares nothing with the daemon, and ends with it: its next word finds the pipe closed.
"""

import contextlib
import multiprocessing
import os
import threading
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from typing import Any, Literal

from .domain.chamber import Chamber
from .domain.program import Program
from .errors import LampwardenError, NotNow, UnknownName
from .light.forecast import stretches

KEPT_MAX = 20
"""So many of the last rehearsals can still be asked for."""
LINES_MAX = 500
"""Journal lines of a rehearsal that are kept: two days with many pauses to cool."""
NICE = 10
"""How far the process steps back behind the keepers."""

_SPAWN = multiprocessing.get_context("spawn")


@dataclass(frozen=True, slots=True)
class RehearsedZone:
    """What one zone got."""

    name: str
    lit_s: float
    """Level-weighted light on record, s."""
    true_lit_s: float
    """What the simulated lamps really gave, s."""
    planned_s: float
    dose_j_cm2: float


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """What a rehearsal showed."""

    outcome: str
    """completed, ended by person, or cut off."""
    cause: str
    session_s: float
    run_s: float
    """With all holds, s."""
    air_temp_c_max: float | None
    bank_temp_c_max: float | None
    holds_s: tuple[tuple[str, float], ...]
    """Reason and time, s, the longest first."""
    cooling_share: float
    """Pauses to cool as a share of the time planned with light, as the timeline reckons with it."""
    zones: tuple[RehearsedZone, ...]
    journal: tuple[tuple[float, str, str], ...]
    """Run time, kind and sentence of each line; at most LINES_MAX."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A rehearsal as far as it has got."""

    id: str
    chamber_id: str
    title: str
    by: str
    state: Literal["running", "done", "failed", "cancelled"]
    share: float
    """How much of the session is done, 0..1."""
    result: Rehearsed | None = None
    error: str = ""
    """Why it failed, as a sentence."""


@dataclass(slots=True)
class _Run:
    about: Rehearsal
    process: Any
    pipe: Connection


class Rehearsing:
    """The rehearsals of one host. Any thread may call any method."""

    def __init__(self) -> None:
        self._guard = threading.Lock()
        self._known: dict[str, Rehearsal] = {}
        self._running: _Run | None = None
        self._count = 0

    def begin(self, program: Program, chamber: Chamber, title: str, by: str, seed: int = 1) -> Rehearsal:
        """Begins one. Raises NotNow while another is under way."""
        with self._guard:
            if self._running is not None:
                raise NotNow(
                    f"'{self._running.about.title}' is being rehearsed for {self._running.about.by}; one at a time."
                    " Wait for it, or cancel it."
                )
            self._count += 1
            about = Rehearsal(f"r{self._count}", chamber.id, title, by, "running", 0.0)
            ours, theirs = _SPAWN.Pipe(duplex=False)
            process = _SPAWN.Process(
                target=_rehearse,
                args=(theirs, program.model_dump_json(by_alias=True), chamber.model_dump_json(by_alias=True), seed),
                name=f"rehearsal-{about.id}",
                daemon=True,
            )
            process.start()
            theirs.close()
            run = self._running = _Run(about, process, ours)
            self._keep(about)
            threading.Thread(target=self._follow, args=(run,), name="rehearsing", daemon=True).start()
        return about

    def one(self, rehearsal_id: str) -> Rehearsal:
        """A rehearsal as far as it has got. Raises UnknownName."""
        with self._guard:
            found = self._known.get(rehearsal_id)
        if found is None:
            raise UnknownName(f"There is no rehearsal '{rehearsal_id}'; the last {KEPT_MAX} since the start are kept.")
        return found

    def rehearsed(self, chamber_id: str) -> bool:
        """True if a rehearsal for this chamber has come to its end since the start."""
        with self._guard:
            return any(each.chamber_id == chamber_id and each.state == "done" for each in self._known.values())

    def cancel(self, rehearsal_id: str) -> None:
        """Ends a rehearsal that is under way; one that is over stays as it is. Raises UnknownName."""
        self.one(rehearsal_id)
        with self._guard:
            run = self._running
            if run is None or run.about.id != rehearsal_id:
                return
            self._settle(run, state="cancelled")
        run.process.terminate()

    def close(self) -> None:
        """Ends what is under way."""
        with self._guard:
            run = self._running
        if run is not None:
            self.cancel(run.about.id)
            run.process.join(timeout=5)

    def _follow(self, run: _Run) -> None:
        """Takes what the process says until it is silent."""
        with contextlib.suppress(EOFError, OSError):
            while True:
                kind, value = run.pipe.recv()
                with self._guard:
                    if run.about.state != "running":
                        break
                    if kind == "share":
                        self._put(run, share=value)
                    elif kind == "done":
                        self._settle(run, state="done", share=1.0, result=value)
                    else:
                        self._settle(run, state="failed", error=value)
        run.process.join()
        run.pipe.close()
        with self._guard:
            if run.about.state == "running":
                code = run.process.exitcode
                self._settle(
                    run, state="failed", error=f"The rehearsal broke off (exit code {code}). Please report it."
                )

    def _settle(self, run: _Run, **changes: Any) -> None:
        self._put(run, **changes)
        self._running = None

    def _put(self, run: _Run, **changes: Any) -> None:
        run.about = replace(run.about, **changes)
        self._keep(run.about)

    def _keep(self, about: Rehearsal) -> None:
        self._known[about.id] = about
        for oldest in list(self._known)[:-KEPT_MAX]:
            del self._known[oldest]


def _rehearse(pipe: Connection, program_json: str, chamber_json: str, seed: int) -> None:
    """Runs in the process of its own."""
    from .rehearsal import rehearse

    if hasattr(os, "nice"):
        os.nice(NICE)
    program, chamber = Program.model_validate_json(program_json), Chamber.model_validate_json(chamber_json)
    try:
        report = rehearse(program, chamber, seed, lambda share: pipe.send(("share", share)))
    except LampwardenError as error:
        pipe.send(("failed", str(error)))
        return
    except (BrokenPipeError, KeyboardInterrupt):
        return  # nobody listens any more
    except Exception as error:
        pipe.send(("failed", f"The rehearsal failed ({error!r}). This is a mistake in the program: please report it."))
        return
    light_s = sum(piece.end_s - piece.start_s for piece in stretches(program, chamber) if any(piece.levels))
    pipe.send(("done", _result(report.to_json(), report.journal, light_s)))


def _result(said: dict[str, Any], journal: list[tuple[float, str, str]], light_s: float) -> Rehearsed:
    holds = sorted(((hold["reason"], hold["seconds"]) for hold in said["holds"]), key=lambda hold: -hold[1])
    return Rehearsed(
        outcome=said["outcome"],
        cause=said["cause"],
        session_s=said["session_s"],
        run_s=said["run_s"],
        air_temp_c_max=said["air_temp_c_max"],
        bank_temp_c_max=said["bank_temp_c_max"],
        holds_s=tuple(holds),
        cooling_share=dict(holds).get("cooling", 0.0) / light_s if light_s else 0.0,
        zones=tuple(RehearsedZone(**zone) for zone in said["zones"]),
        journal=tuple(journal[:LINES_MAX]),
    )
