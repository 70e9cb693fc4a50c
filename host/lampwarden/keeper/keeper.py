"""The keeper of one chamber: the only owner of its board and of its running session.

Theory of operation. Each turn: take the orders that arrived, exchange with the board (heartbeat and demand out,
readings in), let the engine decide, send what it decided, hand the facts to the writer, publish a snapshot.
- An order that only darkens goes to the board before anything else; one that brightens waits until the facts that
  led to it are on disk, so that no light ever falls that the journal does not know of.
- People are shown a session only as far as its journal is on disk.
- The board is asked for the whole light every turn, so a lost write mends itself.
Faults this survives: a silent or rebooted board, a full or slow disk (the session is held, the heartbeat goes on),
a killed daemon (`adopt` folds the journal), a wall clock that jumps (only `Clock.now_s` rules exposures).
"""

import logging
import queue
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import datetime

from lampboard import registers as reg

from ..domain.chamber import Chamber
from ..domain.program import Limits, Program
from ..engine import Demand, Fact, Outcome, Session, fact_from_data, fact_to_data, planned, replay, step, totals
from ..engine import events as e
from ..errors import BoardRefused, LampwardenError, LinkError, NotNow, StoreError
from ..link.board import Board, Identity, Live
from ..link.board import Demand as BoardDemand
from ..store.records import BESIDE, Batch, Ended, Line, Sample
from ..store.writer import Writer
from .clock import Clock, utc_text
from .preflight import preflight
from .snapshot import BoardView, Kept, Snapshot

log = logging.getLogger(__name__)

PERIOD_S = 1.0
"""Control period, s."""
HEARTBEAT_TIMEOUT_S = 3.0
"""The board goes dark this long after the last heartbeat, s: three periods, so that one lost frame harms nothing."""
FLUSH_S = 10.0
"""Readings and totals reach the disk at least this often, s: 8,640 commits a day."""
DURABLE_POLL_S = 0.05
"""How soon to look again while light or an answer waits for the disk, s."""
DISK_S_MAX = 5.0
"""A journal that is not on disk after this long holds the session, s."""
NEVER = 2**63
"""A ticket that no writer reaches."""
ORDERS_MAX = 100
"""Orders that may wait for the next turn; more than a person and a few scripts can give in a second."""
HEAT_TRIPS = (reg.TRIP_AIR_OVER, reg.TRIP_BANK_OVER)
"""Trips that mean a hard temperature limit was passed."""

EventOf = Callable[[float], e.Event]


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A session found in the store that has not ended."""

    session_id: str
    program: Program
    chamber: Chamber
    began_utc: str
    facts: list[Fact]
    """Its journal, oldest first, and the newest totals last."""
    last_utc: datetime | None
    """When it was last minded; None: never."""


@dataclass(slots=True)
class _Order:
    make: EventOf | None
    """Makes the engine's event of the run time; None: an order to the board itself."""
    act: Callable[[], None] | None
    done: "Future[None]"


@dataclass(slots=True)
class _Start:
    session_id: str
    program: Program
    by: str
    began_utc: str
    done: "Future[None]"


@dataclass(slots=True)
class _Unsaved:
    """A state whose facts are on their way to the disk, and who waits for that."""

    ticket: int
    since_s: float
    session: Session
    waiters: "list[Future[None]]"


class Keeper:
    """Minds one chamber. `run` is its thread; everything public but `run` and `turn` may be called from any thread."""

    def __init__(
        self,
        chamber: Chamber,
        board: Board,
        clock: Clock,
        writer: Writer,
        *,
        period_s: float = PERIOD_S,
        unproved: Callable[[Identity], str | None] = lambda identity: None,
    ) -> None:
        """`unproved` says what is missing of a board's commissioning; it is asked once after each connect."""
        self.chamber = chamber
        self._board = board
        self._clock = clock
        self._writer = writer
        self._period_s = period_s
        self._unproved_of = unproved
        self._unproved: str | None = None
        self._orders: queue.Queue[_Order | _Start] = queue.Queue(ORDERS_MAX)
        self._wake = threading.Event()
        self._stop_by: str | None = None
        self._quit = False
        self._session: Session | None = None
        self._session_id: str | None = None
        self._began_utc: str | None = None
        self._zero_s = 0.0
        self._identity: Identity | None = None
        self._known = False  # the board was identified since it was last lost
        self._live: Live | None = None
        self._board_trouble: str | None = "it was not reached yet"
        self._kept: Kept | None = None
        self._asked = _dark(chamber)
        self._sent = _dark(chamber)
        self._bright_ticket = 0
        self._flushed_s = clock.now_s()
        self._utc = utc_text(clock.utc())
        """The wall clock at the start of this turn."""
        self._unsaved = False
        self._wake_s: float | None = None
        self._obeyed: list[Future[None]] = []
        """Orders of this turn, to be answered once all facts up to its reading are on disk."""
        self._pending: deque[_Unsaved] = deque()
        self._shown: Session | None = None
        self._number = 0
        self.snapshot = self._picture()

    # --- from any thread ----------------------------------------------------------------------------------------------

    def order(self, make: EventOf) -> "Future[None]":
        """Hands an order to the engine. The future is done once its facts are on disk, or holds NotNow."""
        return self._enqueue(_Order(make, None, Future()))

    def start(self, session_id: str, program: Program, by: str, began_utc: str) -> "Future[None]":
        """Begins a session whose row is in the store already. The future holds NotNow if preflight forbids it."""
        return self._enqueue(_Start(session_id, program, by, began_utc, Future()))

    def clear_trip(self) -> "Future[None]":
        """Asks the board to clear the trip that stands, outside any session."""
        return self._enqueue(_Order(None, self._clear_trip_now, Future()))

    def try_limits(self, limits: Limits) -> "Future[None]":
        """Writes a program's limits to the board at rest and reads them back; what came of it is in `board.kept`."""
        return self._enqueue(_Order(None, lambda: self._try_limits(limits), Future()))

    @property
    def board(self) -> BoardView:
        """The board as seen at this moment; the snapshot's is from the end of the last turn."""
        return BoardView(self._identity, self._live, self._board_trouble, self._unproved, self._kept)

    def describe(self, chamber: Chamber) -> "Future[None]":
        """Takes a new description of the same chamber, such as after a calibration; refused during a session."""
        return self._enqueue(_Order(None, lambda: self._describe(chamber), Future()))

    def stop(self, by: str) -> "Future[None]":
        """Darkens the board before anything else, then holds the session if there is one."""
        self._stop_by = by
        return self._enqueue(_Order(lambda run_s: e.AskHold(run_s, by, stop=True), None, Future()))

    def close(self) -> None:
        """Ends `run` after its present turn."""
        self._quit = True
        self._wake.set()

    def _enqueue(self, order: _Order | _Start) -> "Future[None]":
        try:
            self._orders.put_nowait(order)
        except queue.Full:
            order.done.set_exception(NotNow(f"{ORDERS_MAX} orders wait already; try again in a moment"))
        self._wake.set()
        return order.done

    # --- the thread ---------------------------------------------------------------------------------------------------

    def adopt(self, saved: Unfinished) -> None:
        """Takes up an unfinished session from its journal. Call before `run`."""
        session = replay(planned(saved.program, saved.chamber), saved.facts)
        now_s, gap_s = self._clock.now_s(), None
        if saved.last_utc is not None:
            passed_s = (self._clock.utc() - saved.last_utc).total_seconds()
            gap_s = passed_s if passed_s >= 0 else None  # a clock that went backwards cannot tell
        self._session, self._session_id, self._began_utc = session, saved.session_id, saved.began_utc
        self._shown = session
        self._zero_s = now_s - session.run_s - (gap_s or 0.0)
        if session.phase.value == "planned":  # killed between its row and its first fact
            self._step(e.Begin(self._run_s(), "the program"))
        self._step(e.Restarted(self._run_s(), gap_s))

    def run(self, watch: Callable[[Snapshot], None] = lambda snapshot: None) -> None:
        """Turns until closed; then darkens and disarms the board. A session stays open for the next start.

        `watch` sees each snapshot, in this thread: it must be quick.
        """
        next_s = self._clock.now_s()
        try:
            while not self._quit:
                self._wake.clear()
                self.turn()
                watch(self.snapshot)
                now_s = self._clock.now_s()
                next_s = max(next_s + self._period_s, now_s) if now_s >= next_s else next_s
                self._clock.wait(min(next_s, now_s + self._next_look_s()), self._wake)
        finally:
            self._shut_down()

    def turn(self) -> None:
        """One pass: orders, board, engine, disk, snapshot."""
        self._utc = utc_text(self._clock.utc())
        if self._stop_by is not None:
            self._stop_by = None
            self._darken_at_once()
        while True:
            try:
                order = self._orders.get_nowait()
            except queue.Empty:
                break
            self._take(order)
        self._observe()
        self._wait_for_disk()
        self._mind_storage()
        self._flush_if_due()
        self._publish()

    def _next_look_s(self) -> float:
        if self._pending or self._writer.durable < self._bright_ticket:
            return DURABLE_POLL_S
        return self._period_s if self._wake_s is None else self._wake_s

    def _run_s(self) -> float:
        return max(self._clock.now_s() - self._zero_s, self._session.run_s if self._session else 0.0)

    # --- orders -------------------------------------------------------------------------------------------------------

    def _take(self, order: "_Order | _Start") -> None:
        if not order.done.set_running_or_notify_cancel():
            return
        try:
            if isinstance(order, _Start):
                self._begin(order)
                self._obeyed.append(order.done)
            elif order.make is None:
                assert order.act is not None
                order.act()
                order.done.set_result(None)
            elif self._session is None:
                raise NotNow("no session has begun in this chamber")
            else:
                self._step(order.make(self._run_s()))
                self._obeyed.append(order.done)
        except LampwardenError as error:
            order.done.set_exception(error)

    def _begin(self, order: _Start) -> None:
        if self._session is not None and self._session.active:
            raise NotNow("a session is under way in this chamber; end it first")
        self._try_limits(order.program.limits)
        wrong = preflight(order.program, self.chamber, self.board, self._writer.trouble)
        if wrong:
            raise NotNow("\n".join(wrong))
        self._session, self._session_id = planned(order.program, self.chamber), order.session_id
        self._began_utc, self._shown = order.began_utc, None
        self._zero_s = self._clock.now_s()
        self._step(e.Begin(0.0, order.by))

    def _try_limits(self, limits: Limits) -> None:
        if self._session is not None and self._session.active:
            raise NotNow("a session is under way in this chamber; its limits stand")
        wanted = Kept(limits.air_hard_c, limits.bank_hard_c)
        if self._board_trouble is not None or self._kept == wanted:
            return
        try:
            self._board.set_limits(wanted.air_c, wanted.bank_c, HEARTBEAT_TIMEOUT_S)
            self._kept = wanted
        except BoardRefused as error:
            self._kept = replace(wanted, trouble=str(error))
        except LinkError as error:
            self._lost(error)

    def _describe(self, chamber: Chamber) -> None:
        if self._session is not None and self._session.active:
            raise NotNow("a session is under way in this chamber; end it first")
        self.chamber = chamber

    def _clear_trip_now(self) -> None:
        if self._session is not None and self._session.active:
            raise NotNow("a session is under way; continue it to clear the trip")
        if self._live is None or self._board_trouble is not None:
            raise NotNow(f"the board does not answer: {self._board_trouble}")
        if self._live.trip_cause == 0:
            raise NotNow("no trip stands")
        self._board.clear_trip(self._live.trip_cause)

    def _darken_at_once(self) -> None:
        try:
            self._board.demand(_board_demand(_dark(self.chamber)))
            self._board.disarm()
        except LinkError as error:
            # Nothing more can be done from here: the board goes dark by itself when the heartbeat stops.
            self._lost(error)
        self._sent = _dark(self.chamber)

    # --- the board ----------------------------------------------------------------------------------------------------

    def _observe(self) -> None:
        try:
            if not self._known:
                self._identity = self._board.identify()
                self._unproved = self._unproved_of(self._identity)
                self._known = True
            self._sent = self._allowed()
            live = self._board.exchange(_board_demand(self._sent))
        except LinkError as error:
            self._lost(error)
            if self._session is not None:
                self._step(e.BoardLost(self._run_s(), f"The board does not answer: {error}"))
            return
        if self._live is not None and live.boot_count != self._live.boot_count:
            self._kept = None
        self._live, self._board_trouble = live, None
        if self._session is None or not self._session.active:
            if live.board_state in ("ready", "lit"):
                self._order_board(self._board.disarm)
            return
        self._step(_reading(self._run_s(), self._identity, live, self.chamber.bank_count))

    def _lost(self, error: LinkError) -> None:
        self._known, self._kept = False, None
        self._board_trouble = str(error)

    def _allowed(self) -> Demand:
        """The light that may be asked for now: never more than the disk knows of."""
        if self._writer.durable >= self._bright_ticket:
            return self._asked
        levels = tuple(map(min, self._asked.zone_levels, self._sent.zone_levels))
        return replace(self._asked, zone_levels=levels)

    def _order_board(self, order: Callable[[], None]) -> None:
        """Gives the board an order whose refusal or loss the next reading will show anyway."""
        try:
            order()
        except BoardRefused as error:
            log.info("the board refused: %s", error)
        except LinkError as error:
            self._lost(error)

    def _arm(self) -> None:
        assert self._session is not None
        limits = self._session.program.limits
        self._board.set_limits(limits.air_hard_c, limits.bank_hard_c, HEARTBEAT_TIMEOUT_S)
        self._kept = Kept(limits.air_hard_c, limits.bank_hard_c)
        self._board.arm()

    # --- the engine ---------------------------------------------------------------------------------------------------

    def _step(self, event: e.Event) -> None:
        assert self._session is not None
        outcome = step(self._session, event)
        was_active, self._session = self._session.active, outcome.session
        self._asked, self._wake_s = outcome.demand, outcome.wake_s
        brighter = any(map(float.__gt__, self._asked.zone_levels, self._sent.zone_levels))
        if any(map(float.__lt__, self._asked.zone_levels, self._sent.zone_levels)) and self._known:
            self._sent = replace(
                self._asked, zone_levels=tuple(map(min, self._asked.zone_levels, self._sent.zone_levels))
            )
            self._order_board(lambda: self._board.demand(_board_demand(self._sent)))
        ticket = self._journal(event, outcome)
        # Facts only: readings come every second, and light that waited for the newest would never come.
        if brighter and ticket > self._bright_ticket and any(fact.KIND != "progress" for fact in outcome.facts):
            self._bright_ticket = ticket
        if was_active and not outcome.session.active:
            self._order_board(self._board.disarm)
        elif self._known:
            self._follow(outcome)

    def _follow(self, outcome: Outcome) -> None:
        if outcome.clear_trip and self._live is not None and self._live.trip_cause:
            cause = self._live.trip_cause
            self._order_board(lambda: self._board.clear_trip(cause))
        if outcome.arm:
            self._order_board(self._arm)
        allowed = self._allowed()
        if allowed != self._sent:
            self._sent = allowed
            self._order_board(lambda: self._board.demand(_board_demand(allowed)))

    # --- the disk -----------------------------------------------------------------------------------------------------

    def _journal(self, event: e.Event, outcome: Outcome) -> int:
        """Hands the facts of a step to the writer. Returns their ticket, 0 if nothing had to be said."""
        utc = self._utc
        session_id = self._session_id
        lines, ended = [], None
        for fact in outcome.facts:
            if fact.KIND == "progress":
                continue
            kind, data = fact_to_data(fact)
            lines.append(Line(kind, fact.run_s, utc, data, fact.text, self.chamber.id, session_id))
            if kind == "ended":
                ended = Ended(outcome.session.outcome, outcome.session.cause, utc)
        samples = (_sample(event),) if isinstance(event, e.Reading) else ()
        if not lines and not samples:
            return 0
        progress = {"utc": utc} | fact_to_data(totals(outcome.session))[1]
        try:
            ticket = self._writer.put(
                Batch(session_id, lines, progress, samples, ended, tick=any(outcome.session.levels))
            )
        except StoreError as error:
            # A line is missing from now on, so the journal no longer tells the state: no more light from this daemon.
            log.error("the journal takes no more, the chamber stays dark until a restart: %s", error)
            self._bright_ticket = NEVER
            return 0
        self._unsaved = True
        if lines:
            self._flush()
            self._pending.append(_Unsaved(ticket, self._clock.now_s(), outcome.session, []))
        return ticket

    def _wait_for_disk(self) -> None:
        """The orders of this turn wait for all facts so far; so an end waits for its last reading as well."""
        waiting, self._obeyed = self._obeyed, []
        if self._pending:
            self._pending[-1].waiters.extend(waiting)
        else:
            for future in waiting:
                future.set_result(None)

    def _flush(self) -> None:
        self._writer.flush()
        self._unsaved = False
        self._flushed_s = self._clock.now_s()

    def _flush_if_due(self) -> None:
        due = self._unsaved and self._clock.now_s() - self._flushed_s >= FLUSH_S
        if due or self._writer.trouble is not None:
            self._flush()

    def _mind_storage(self) -> None:
        """Holds the session while the journal does not reach the disk."""
        session = self._session
        if session is None or not session.active:
            return
        trouble = self._writer.trouble
        if trouble is None and self._pending:
            waited_s = self._clock.now_s() - self._pending[0].since_s
            if waited_s > DISK_S_MAX:
                trouble = f"The disk has not taken the journal for {waited_s:.0f} s. Is it failing or very busy?"
        held = any(hold.reason.value == "storage" for hold in session.holds)
        if (trouble is not None) != held:
            self._step(e.StorageState(self._run_s(), trouble))

    # --- showing ------------------------------------------------------------------------------------------------------

    def _publish(self) -> None:
        durable, answered = self._writer.durable, []
        while self._pending and self._pending[0].ticket <= durable:
            saved = self._pending.popleft()
            self._shown = saved.session
            answered += saved.waiters
        if not self._pending:
            self._shown = self._session
        self.snapshot = self._picture()
        for future in answered:  # whoever waited sees the new picture
            future.set_result(None)

    def _picture(self) -> Snapshot:
        self._number += 1
        return Snapshot(
            chamber=self.chamber,
            number=self._number,
            utc=self._utc,
            run_s=self._run_s() if self._shown is not None and self._shown.active else 0.0,
            board=self.board,
            demand=self._sent,
            session_id=self._session_id,
            session=self._shown,
            began_utc=self._began_utc,
            storage_trouble=self._writer.trouble,
        )

    def _shut_down(self) -> None:
        """Leaves the chamber dark; an unfinished session is taken up by the next daemon."""
        try:
            self._board.demand(_board_demand(_dark(self.chamber)))
            self._board.disarm()
        except LinkError as error:
            log.warning("could not darken the board at shut-down, it goes dark by itself: %s", error)
        self._flush()
        while not self._orders.empty():
            self._orders.get_nowait().done.set_exception(NotNow("the daemon is shutting down"))


def facts_of(lines: list[tuple[str, dict[str, object]]], progress: dict[str, object] | None) -> list[Fact]:
    """The facts to fold, from journal lines (kind, data) and the newest totals."""
    facts = [fact_from_data(kind, data) for kind, data in lines if kind not in BESIDE]
    if progress is not None:
        facts.append(fact_from_data("progress", progress))
    return facts


def _dark(chamber: Chamber) -> Demand:
    return Demand((0.0,) * len(chamber.zones))


def _board_demand(demand: Demand) -> BoardDemand:
    return BoardDemand(demand.zone_levels, demand.inspection, demand.fan_min)


def _reading(run_s: float, identity: Identity | None, live: Live, banks: int) -> e.Reading:
    return e.Reading(
        run_s=run_s,
        board_state=live.board_state,
        trip=live.trip_text if live.trip_cause else "",
        heat_trip=live.trip_cause in HEAT_TRIPS,
        door_open=live.door_open,
        door_openings=live.door_openings,
        air_temp_c=live.air_temp_c,
        humidity_pct=live.humidity_pct,
        bank_temps_c=live.bank_temps_c[:banks],
        boot_count=live.boot_count,
        uptime_s=live.uptime_s,
        # A boot too quick to be noticed leaves the identity as it was: then the board was not away for long.
        power_returned=identity is not None
        and identity.boot_count == live.boot_count
        and identity.reset_cause == reg.RESETS[reg.RESET_POWER_ON],
        zone_lit_ms=live.zone_lit_ms,
        zone_applied=live.zone_applied,
    )


def _sample(reading: e.Reading) -> Sample:
    return Sample(reading.run_s, reading.air_temp_c, reading.humidity_pct, reading.bank_temps_c, reading.door_open)
