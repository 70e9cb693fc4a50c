"""Plays seeds: a case, its run, its checks, and its twin if the wall clock jumped. One result per seed."""

import logging
import signal
import tempfile
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from .checkers import check
from .draw import Case, draw
from .stage import Run, Stage

MEMORY_DISK = Path("/dev/shm")
"""Where a commit waits for no real disk, if there is such a place; the files and SQLite are real all the same."""


@dataclass(slots=True)
class Result:
    """What one seed gave."""

    seed: int
    wrong: list[str]
    figures: dict[str, float] = field(default_factory=dict)
    strikes: list[str] = field(default_factory=list)
    outcome: str = ""
    virtual_s: float = 0.0
    lives: int = 0
    digest: str = ""
    cpu_s: float = 0.0


def quieten() -> None:
    """For a worker process: it logs nothing, and leaves Ctrl-C to its parent."""
    logging.disable(logging.CRITICAL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def stage_run(case: Case, *, jumps: bool = True) -> Run:
    """One run of a case in a folder of its own, which is gone afterwards."""
    root = MEMORY_DISK if MEMORY_DISK.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="campaign-", dir=root) as folder:
        return Stage(case, Path(folder), jumps=jumps).run()


def play(seed: int, only: Sequence[str] = ()) -> Result:
    """Plays one seed and checks everything."""
    began_s = time.process_time()
    try:
        case = draw(seed, only)
        run = stage_run(case)
        wrong, figures = check(run)
        if run.jumped and not run.deaths():
            wrong += _twin_differs(case, run)
    except Exception:
        return Result(seed, [f"the program failed:\n{traceback.format_exc()}"], cpu_s=time.process_time() - began_s)
    return Result(
        seed,
        wrong,
        figures,
        [strike.name for _, strike in run.struck],
        run.outcome or "not ended" if run.began_s is not None else "never begun",
        run.end_s,
        len(run.lives),
        run.digest,
        time.process_time() - began_s,
    )


def _twin_differs(case: Case, run: Run) -> list[str]:
    """Promise 6: without the jumps of the wall clock the lamps do the very same, to the millisecond."""
    twin = stage_run(case, jumps=False)
    if twin.witness.lit() != run.witness.lit():
        return ["6 wall clock: the lamps did otherwise in the twin run without the jump"]
    return []


def story(seed: int, only: Sequence[str] = ()) -> str:
    """What happened in a seed, line by line in virtual time: for finding out why."""
    case = draw(seed, only)
    run = stage_run(case)
    truth = run.witness.world.truth
    told = [(at_s, f"TROUBLE {s.name}, {s.lasts_s:.2f} s, {s.value:.3f}") for at_s, s in run.struck]
    told += [(run.line_s(line), f"  {line.kind}: {line.text}") for line in run.lines]
    told += [(lit.from_s, f"    lit {lit.zone + 1} {lit.permille} until {lit.to_s:.3f}") for lit in run.witness.lit()]
    told += [(life.born_s, "HOST STARTS") for life in run.lives]
    told += [(life.died_s, "HOST DIES") for life in run.lives if life.died_s is not None]
    told += [(change.t_s, "BOARD BOOTS") for change in truth.changes if change.what == "boot"]
    told += [(trip.from_s, f"TRIP {trip.cause} until {trip.to_s:.3f}") for trip in run.witness.trips]
    told += [(order.at_s, f"ORDER {order.kind} {order.mark} {order.done}") for order in run.person.orders]
    about = [f"{zone}" for zone in case.program.zones] + [f"{c}" for c in case.program.checkpoints]
    about += [f"{case.program.limits}", f"{case.program.rules}", f"{case.design}", f"calm from {case.calm_s:.1f} s"]
    wrong, figures = check(run)
    end = [*(f"{name}: {value:.3f}" for name, value in figures.items()), *wrong]
    return "\n".join([*about, *(f"{at_s:10.3f} {text}" for at_s, text in sorted(told, key=lambda x: x[0])), *end])
