"""The person of a case: looks now and then, answers what waits, and gives orders at the worst moments."""

import math
import random
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.engine import Phase
from lampwarden.engine import events as e
from lampwarden.errors import LampwardenError, NotNow, StoreError
from lampwarden.keeper import Snapshot
from lampwarden.keeper.clock import utc_text
from lampwarden.store.records import Batch, Ended

if TYPE_CHECKING:
    from .stage import Stage

PROMPT_S = 5.0
"""Time the person takes in phase two, s."""
NOWHERE = Program(title="Nowhere", zones=(ZonePlan(zone="nowhere", exposures=(Exposure(start=0, end=10),)),))
"""Refused even if the session that forbids it ends in the very turn in which it is ordered."""
TRY_AGAIN_S = 15.0
"""Between two tries to begin a session, or to let it go on, s."""


@dataclass(slots=True)
class Order:
    """One order that was given, and what it should have left in the journal if it was taken."""

    at_s: float
    kind: str
    mark: str
    done: "Future[None]"

    @property
    def taken(self) -> bool:
        """Its facts are on disk: the person was told so."""
        return self.done.done() and not self.done.cancelled() and self.done.exception() is None


class Person:
    def __init__(self, stage: "Stage", seed: int, patience_s: float) -> None:
        self.patience_s = patience_s
        self.orders: list[Order] = []
        self.surprises: list[str] = []
        """Orders that failed with anything but an error meant for people."""
        self._stage = stage
        self._rng = random.Random(f"{seed} person")
        self._needed_s: float | None = None
        self._next_start_s = 0.0
        self._starts = 0
        self._lengthened = False
        self._start: tuple[str, Future[None]] | None = None

    # --- the ordinary day ---------------------------------------------------------------------------------------------
    def mind(self, snapshot: Snapshot) -> None:
        """Looks at the newest snapshot."""
        now_s, session = self._stage.world.now_s, snapshot.session
        self._settle_start()
        if session is None or session.phase is Phase.PLANNED:
            if self._stage.ended:
                return  # one session a case
            if snapshot.board.live is not None and self._start is None and now_s >= self._next_start_s:
                self.start()
            return
        checkpoint = session.open_checkpoint
        waits = checkpoint is not None and checkpoint.attended and session.waiting.called_s is not None
        held = any(hold.needs_person and hold.reason.value != "checkpoint" for hold in session.holds)
        if session.phase is Phase.ENDED or not (waits or held):
            self._needed_s = None
            return
        if self._needed_s is None:
            self._needed_s = now_s
        if now_s - self._needed_s >= self.patience_s:
            self._needed_s = now_s + TRY_AGAIN_S - self.patience_s if math.isfinite(self.patience_s) else None
            self.order("continue" if held else "answer", 0.0)

    def start(self) -> None:
        """As lampwarden.service.Service.start does, which waits for the keeper and so needs another thread."""
        stage, self._starts = self._stage, self._starts + 1
        self._next_start_s = stage.world.now_s + TRY_AGAIN_S
        session_id, program, utc = f"session-{self._starts}", stage.case.program, utc_text(stage.clock.utc())
        try:
            stage.disk.store.begin_session(
                session_id,
                stage.case.chamber.id,
                program.title,
                program.model_dump(mode="json", by_alias=True, exclude_none=True),
                stage.case.chamber.model_dump(mode="json"),
                utc,
            )
        except (NotNow, StoreError):
            return
        self._start = (session_id, stage.keeper.start(session_id, program, "person-start", utc))

    def _settle_start(self) -> None:
        if self._start is None or not self._start[1].done():
            return
        session_id, done = self._start
        self._start = None
        error = done.exception()
        if isinstance(error, NotNow):
            try:
                end = Ended("not begun", str(error), utc_text(self._stage.clock.utc()))
                self._stage.disk.store.commit(Batch(session_id, ended=end))
            except StoreError:
                pass  # as in Service.start: the row stays open
        elif error is not None:
            self.surprises.append(f"start failed with {error!r}")

    def forget(self) -> None:
        """The daemon died: nobody answers the start that was under way."""
        self._start = None
        self._needed_s = None

    # --- orders -------------------------------------------------------------------------------------------------------
    def order(self, kind: str, value: float) -> None:
        """Gives an order now, whatever the moment. Nothing happens while the host is down."""
        stage = self._stage
        if stage.keeper is None:
            return
        by = f"person-{len(self.orders) + 1}."
        keeper, session = stage.keeper, stage.keeper.snapshot.session
        mark = by
        if kind == "hold":
            done = keeper.order(lambda run_s: e.AskHold(run_s, by))
        elif kind == "stop":
            done = keeper.stop(by)
        elif kind == "continue":
            done = keeper.order(lambda run_s: e.AskContinue(run_s, by))
        elif kind == "note":
            mark = f"note by {by}"
            done = keeper.order(lambda run_s: e.Annotate(run_s, "person", mark))
        elif kind == "inspection":
            done = keeper.order(lambda run_s: e.AskInspection(run_s, by))
        elif kind == "end":
            done = keeper.order(lambda run_s: e.AskEnd(run_s, by))
        elif kind == "clear trip":
            done = keeper.clear_trip()
        elif kind == "start":
            if session is None or not session.active:
                return
            done = keeper.start("never", NOWHERE, by, "")
        elif kind == "answer":
            waiting = session.open_checkpoint if session is not None else None
            checkpoint = waiting.name if waiting is not None and value < 0.9 else "C0"
            done = keeper.order(lambda run_s: e.Answer(run_s, by, checkpoint))
        else:
            program = self._changed(session.program if session is not None else stage.case.program)
            if program is None:
                return
            done = keeper.order(lambda run_s: e.ChangePlan(run_s, by, program))
        self.orders.append(Order(stage.world.now_s, kind, mark, done))

    def lengthen(self) -> None:
        """Makes whatever is not finished three times as long; once a case."""
        keeper = self._stage.keeper
        session = keeper.snapshot.session if keeper is not None else None
        if keeper is None or session is None or not session.active or self._lengthened:
            return
        self._lengthened = True
        open_zones = {
            zone.name
            for zone, done, plan in zip(session.chamber.zones, session.exposure, session.plans, strict=True)
            if done < len(plan)
        }
        program, by = _scaled(3.0, open_zones)(session.program), f"person-{len(self.orders) + 1}."
        done = keeper.order(lambda run_s: e.ChangePlan(run_s, by, program))
        self.orders.append(Order(self._stage.world.now_s, "change plan", by, done))

    def _changed(self, program: Program) -> Program | None:
        """Another plan: longer, shorter, cooler, fewer or more checkpoints; may well ask for what may not be."""
        rng = self._rng
        changes: list[Callable[[Program], Program]] = [_tighter, _looser, _fewer, _more, _scaled(rng.uniform(0.3, 2))]
        try:
            return Program.model_validate(rng.choice(changes)(program).model_dump(by_alias=True, exclude_none=True))
        except ValueError:
            return None

    def check(self) -> list[str]:
        """What is wrong with how orders were answered, at the end of all."""
        wrong = list(self.surprises)
        for order in self.orders:
            if order.done.done() and not isinstance(order.done.exception(), LampwardenError | None):
                wrong.append(f"order '{order.kind}' at {order.at_s:.3f} s failed with {order.done.exception()!r}")
        return wrong


def _tighter(program: Program) -> Program:
    limits = program.limits
    lower = {"air_soft_c": limits.air_soft_c - 1, "bank_soft_c": limits.bank_soft_c - 1}
    return program.model_copy(update={"limits": limits.model_copy(update=lower)})


def _looser(program: Program) -> Program:
    """Hard limits the board was armed with: refused."""
    limits = program.limits
    return program.model_copy(update={"limits": limits.model_copy(update={"air_hard_c": limits.air_hard_c + 2})})


def _fewer(program: Program) -> Program:
    return program.model_copy(update={"checkpoints": program.checkpoints[:-1]})


def _more(program: Program) -> Program:
    at_s = max([0.0, *(c.at_s for c in program.checkpoints)]) + 30
    extra = Checkpoint(name=f"X{len(program.checkpoints)}", at=at_s, pause=5.0)
    return program.model_copy(update={"checkpoints": (*program.checkpoints, extra)})


def _scaled(factor: float, only: set[str] | None = None) -> Callable[[Program], Program]:
    """The last exposure of each zone, or of these, longer or shorter."""

    def scale(program: Program) -> Program:
        zones = []
        for plan in program.zones:
            if not plan.exposures or (only is not None and plan.zone not in only):
                zones.append(plan)
                continue
            last = plan.exposures[-1]
            if last.end_s is not None:
                last = Exposure(start=last.start_s, end=last.start_s + (last.end_s - last.start_s) * factor,
                                level=last.level)  # fmt: skip
            else:
                last = Exposure(start=last.start_s, dose_j_cm2=last.dose_j_cm2 * factor, level=last.level)
            zones.append(ZonePlan(zone=plan.zone, exposures=(*plan.exposures[:-1], last)))
        return program.model_copy(update={"zones": tuple(zones)})

    return scale
