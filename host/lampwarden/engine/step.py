"""What a session does next. No clock, port, disk or web in here: `step` sees only its arguments.

Theory of operation. Each event is turned into facts; each fact is folded at once by `apply`, so what is decided
later in the same step already sees it. The light asked for follows from the state alone (`demand_of`), so asking
again is harmless. Session time follows the light: while lamps are asked for, it advances by what the board's lit
counters say really fell, so that a stalled host or a board that went dark by itself never shortens an exposure.
An end first darkens; the session has ended once a reading that shows the board dark has booked what fell until then.
"""

from dataclasses import dataclass, field, replace
from typing import assert_never

from ..domain.program import Program
from ..domain.units import duration_text
from ..errors import NotNow, ProgramError
from . import events as e
from . import facts as f
from . import holds as h
from . import schedule
from .state import Phase, Reason, Session, apply, totals

WAKE_S_MIN = 0.05
"""Shortest time until the engine asks to be called again, s: one pass of the board."""

COUNTER_SPAN_MS = 2**32
"""The board's lit counters wrap here, ms."""


@dataclass(frozen=True, slots=True)
class Demand:
    """The whole light asked of the board, shares of full drive; zone_levels has shape (zones,)."""

    zone_levels: tuple[float, ...]
    inspection: float = 0.0
    fan_min: float = 0.0

    @property
    def dark(self) -> bool:
        """No treatment lamp is asked for."""
        return not any(self.zone_levels)


@dataclass(frozen=True, slots=True)
class Outcome:
    """Answer of `step`."""

    session: Session
    facts: tuple[f.Fact, ...]
    """What happened, in order; folding them over the session given yields `session`."""
    demand: Demand
    """The light the board is to give from now on."""
    arm: bool = False
    """Light is wanted and the board is not armed: arm it, with the program's limits."""
    clear_trip: bool = False
    """The board is asked to clear the trip it reported."""
    wake_s: float | None = None
    """Call again within this many seconds, so that a boundary of the plan is met; None: the period will do."""


@dataclass(slots=True)
class _Turn:
    """One step in the making."""

    session: Session
    facts: list[f.Fact] = field(default_factory=list)
    may_arm: bool = False
    clear_trip: bool = False
    wake_s: float | None = None

    def note(self, fact: f.Fact) -> None:
        self.session = apply(self.session, fact)
        self.facts.append(fact)


def step(session: Session, event: e.Event) -> Outcome:
    """Fold one event into the session.

    Raises NotNow if the event means nothing in this state, ProgramError if a changed plan cannot be; the session
    given is unchanged then.
    """
    if not event.run_s >= session.run_s:
        raise NotNow(f"an event of {event.run_s:.3f} s is older than the last one, of {session.run_s:.3f} s")
    turn = _Turn(session)
    _decide(turn, event)
    if turn.session.active and turn.session.ending is None:
        _plan(turn)
    if turn.session.ending is not None:
        _end_if_read(turn, event, turn.session.ending)
    demand = demand_of(turn.session)
    arm = turn.may_arm and (not demand.dark or demand.inspection > 0)
    return Outcome(turn.session, tuple(turn.facts), demand, arm, turn.clear_trip, turn.wake_s)


def demand_of(session: Session) -> Demand:
    """The light a session asks for: its plan's levels while it runs, dark in any hold and after its end."""
    waiting = session.waiting
    inspected = waiting is not None and waiting.called_s is not None and not waiting.inspection_over
    inspected = inspected and len(session.holds) == 1 and session.ending is None
    cooling = session.hold(Reason.COOLING) is not None or (waiting is not None and waiting.called_s is None)
    return Demand(
        zone_levels=session.levels,
        inspection=session.program.inspection_level if inspected and session.chamber.inspection else 0.0,
        fan_min=1.0 if cooling else 0.0,
    )


def _decide(turn: _Turn, event: e.Event) -> None:
    match event:
        case e.Reading():
            _reading(turn, event)
        case e.BoardLost():
            _board_lost(turn, event)
        case e.Restarted():
            _restarted(turn, event)
        case e.StorageState():
            _storage(turn, event)
        case e.Begin():
            _begin(turn, event)
        case e.AskHold():
            _ask_hold(turn, event)
        case e.AskContinue():
            _ask_continue(turn, event)
        case e.Answer():
            _answer(turn, event)
        case e.AskInspection():
            _ask_inspection(turn, event)
        case e.AskEnd():
            _ask_end(turn, event)
        case e.ChangePlan():
            _change_plan(turn, event)
        case e.Annotate():
            turn.note(f.Annotated(event.run_s, event.by, event.text))
        case _:
            assert_never(event)


# --- events of the board ----------------------------------------------------------------------------------------------


def _reading(turn: _Turn, event: e.Reading) -> None:
    session = turn.session
    if not session.active:
        return
    door = h.door_trouble(event, session)
    turn.note(_progress(session, event))
    if session.ending is not None:
        return
    if event.heat_trip:
        _end(turn, event.run_s, "cut off", f"The board cut the light off: {event.trip}.")
        return
    if session.boot_count not in (None, event.boot_count):
        _rebooted(turn, event.run_s)
    _board_is_back(turn, event)
    _trip(turn, event)
    _door(turn, event, door)
    _sensor(turn, event)
    _cooling(turn, event)
    if turn.session.ending is not None:
        return
    _not_following(turn, event)
    _restart(turn, event.run_s)
    turn.may_arm = not event.trip and event.board_state == "dark"
    _checkpoint(turn, event)


def _progress(session: Session, event: e.Reading) -> f.Progress:
    """Totals after a reading: light booked from the counters, session time moved on by the light that fell."""
    fell_s = _light_since(session, event)
    elapsed_s = event.run_s - session.run_s if session.boot_count is not None else 0.0
    lit_s, advance_s, dark, late = [], 0.0, False, False
    for new_s, total_s, asked, last in zip(fell_s, session.lit_s, session.levels, session.last_levels, strict=True):
        lit_s.append(total_s + new_s)
        if last > 0:
            advance_s = max(advance_s, new_s / last)
        if asked > 0 and not new_s > 0:
            dark = True
            late |= asked * elapsed_s > h.COUNTER_S
    # A level that was lowered between two readings makes a share too large; time itself is the bound.
    advance_s = min(advance_s, event.run_s - session.read_s)
    if late:  # a zone whose light waits for the disk would else be cut short by its end
        advance_s = 0.0
    if session.phase is Phase.RUNNING and not any(session.levels) and session.ending is None:
        advance_s = max(advance_s, elapsed_s)
    # No moment of the plan is passed while nobody could act on it: a light that was due then is still owed in full.
    # Once nothing is left of the plan, session time stands.
    _, moment_s = schedule.outlook(session)
    advance_s = min(advance_s, max(0.0, moment_s or 0.0))
    return f.Progress(
        run_s=event.run_s,
        session_s=session.session_s + advance_s,
        lit_s=tuple(lit_s),
        boot_count=event.boot_count,
        zone_lit_ms=event.zone_lit_ms[: len(lit_s)],
        door_openings=event.door_openings,
        read_s=event.run_s,
        read_levels=event.zone_applied[: len(lit_s)],
        unlit_s=session.unlit_s + elapsed_s if dark else 0.0,
    )


def _light_since(session: Session, event: e.Reading) -> tuple[float, ...]:
    """Level-weighted light per zone since the last reading, s.

    The counters restart at 0 with the board, so after a reboot they hold just the light since then; what fell between
    the last reading and the reboot is reckoned from the board's uptime. A board that cannot save its boot count shows
    the reboot by counters that went back, which would else look like a wrap. Before the first reading of a session
    there is nothing to compare with: that light belongs to whatever ran before. No counter is believed beyond the time
    that passed.
    """
    zones, since_s = len(session.lit_s), event.run_s - session.read_s
    most_s = since_s + h.CLOCK_SLACK_S
    if session.boot_count is None:
        return (0.0,) * zones
    if event.boot_count == session.boot_count:
        fell_s = tuple(
            ((now - before) % COUNTER_SPAN_MS) / 1000.0
            for now, before in zip(event.zone_lit_ms[:zones], session.zone_lit_ms, strict=True)
        )
        if max(fell_s) <= most_s:
            return fell_s
    restart = session.hold(Reason.RESTART)
    power_failed = event.power_returned or (restart is not None and restart.since_s > session.read_s)
    unread_s = h.unread_light_s(since_s, event.uptime_s, power_failed=power_failed)
    return tuple(
        min(ms / 1000.0, most_s) + level * unread_s
        for ms, level in zip(event.zone_lit_ms[:zones], session.read_levels, strict=True)
    )


def _board_is_back(turn: _Turn, event: e.Reading) -> None:
    hold = turn.session.hold(Reason.BOARD_LOST)
    if hold is None:
        return
    gap_s = event.run_s - hold.since_s
    if gap_s > h.LOST_S_FORGIVEN and not h.resumes_alone(turn.session, gap_s):
        # A hold of its own keeps the need for a person, whatever the board does until one has come.
        _ask_after_restart(turn, event.run_s, h.gap_sentence(turn.session, gap_s))
    _lift(turn, event.run_s, Reason.BOARD_LOST, f"The board answers again after {duration_text(gap_s)}.")


def _rebooted(turn: _Turn, run_s: float) -> None:
    turn.note(f.BoardRebooted(run_s))
    too_many = h.too_many_reboots(turn.session)
    if too_many is not None:
        _ask_after_restart(turn, run_s, too_many)


def _ask_after_restart(turn: _Turn, run_s: float, why: str) -> None:
    hold = turn.session.hold(Reason.RESTART)
    if hold is None:
        _hold(turn, run_s, Reason.RESTART, why, needs_person=True)
    elif not hold.needs_person:
        _wait_for_person(turn, run_s, Reason.RESTART, why)


def _trip(turn: _Turn, event: e.Reading) -> None:
    hold = turn.session.hold(Reason.TRIP)
    if event.trip:
        asked_s = turn.session.clear_asked_s
        why = f"The board tripped: {event.trip}. Find and mend the cause, then let the session go on."
        if hold is None:
            _hold(turn, event.run_s, Reason.TRIP, why, needs_person=True)
        elif event.trip not in hold.why:  # a person's word was for another trip
            turn.note(f.HoldWaits(event.run_s, Reason.TRIP.value, why))
        elif asked_s is not None and event.run_s - asked_s <= h.CLEAR_S_MAX:
            turn.clear_trip = True
        elif asked_s is not None:
            why = f"The board does not clear its trip yet: {event.trip}. Mend the cause, then let the session go on."
            turn.note(f.HoldWaits(event.run_s, Reason.TRIP.value, why))
    elif hold is not None:
        if turn.session.clear_asked_s is not None:
            _lift(turn, event.run_s, Reason.TRIP, "The board's trip is cleared.")
        else:
            # Its latch went with a restart of the board; the person's word is still needed.
            why = "The board has restarted since its trip. Let the session go on when the cause is mended."
            _wait_for_person(turn, event.run_s, Reason.TRIP, why)


def _door(turn: _Turn, event: e.Reading, trouble: str | None) -> None:
    hold = turn.session.hold(Reason.DOOR)
    if trouble is not None:
        if hold is None:
            _hold(turn, event.run_s, Reason.DOOR, trouble, needs_person=False)
            hold = turn.session.hold(Reason.DOOR)
        elif event.door_open and hold.needs_person:
            _lift(turn, event.run_s, Reason.DOOR, "Opened again.")
            _hold(turn, event.run_s, Reason.DOOR, trouble, needs_person=False)
    if hold is None or event.door_open or hold.needs_person:
        return
    others = [x for x in turn.session.holds if x.reason is not Reason.DOOR and x.needs_person]
    if others:
        _lift(turn, event.run_s, Reason.DOOR, "The door is closed again.")
    else:
        _wait_for_person(
            turn, event.run_s, Reason.DOOR, "The door is closed again. Let the session go on when the sheet lies right."
        )


def _sensor(turn: _Turn, event: e.Reading) -> None:
    trouble = h.sensor_trouble(event, turn.session.chamber.bank_count)
    hold = turn.session.hold(Reason.SENSOR)
    if trouble is not None and hold is None:
        _hold(turn, event.run_s, Reason.SENSOR, trouble, needs_person=False)
    elif trouble is None and hold is not None:
        _lift(turn, event.run_s, Reason.SENSOR, "All temperatures are read again.")


def _cooling(turn: _Turn, event: e.Reading) -> None:
    limits, banks = turn.session.program.limits, turn.session.chamber.bank_count
    if turn.session.hold(Reason.SENSOR) is not None:
        return  # an impossible temperature is neither hot nor cool
    if turn.session.hold(Reason.COOLING) is not None:
        if h.heat_trouble(event, limits, banks, limits.hysteresis_c) is None:
            bank_c = max((temp_c for temp_c in event.bank_temps_c[:banks] if temp_c is not None), default=0.0)
            why = f"Air has cooled to {event.air_temp_c:.1f} °C and the banks to {bank_c:.1f} °C."
            _lift(turn, event.run_s, Reason.COOLING, why)
        return
    trouble = h.heat_trouble(event, limits, banks)
    if trouble is None:
        return
    # In other holds too, or a person who continues would get light until the next reading.
    _hold(turn, event.run_s, Reason.COOLING, trouble, needs_person=False)
    too_many = h.too_many_coolings(turn.session)
    if too_many is not None:
        _end(turn, event.run_s, "cut off", too_many)


def _not_following(turn: _Turn, event: e.Reading) -> None:
    if turn.session.hold(Reason.NOT_FOLLOWING) is None:
        trouble = h.following_trouble(event, turn.session)
        if trouble is not None:
            _hold(turn, event.run_s, Reason.NOT_FOLLOWING, trouble, needs_person=True)


def _restart(turn: _Turn, run_s: float) -> None:
    hold = turn.session.hold(Reason.RESTART)
    if hold is not None and not hold.needs_person:
        _lift(turn, run_s, Reason.RESTART, "The board answers and its light is booked.")


def _board_lost(turn: _Turn, event: e.BoardLost) -> None:
    session = turn.session
    if not session.active:
        return
    turn.note(replace(totals(session), run_s=event.run_s))
    if session.ending is not None:
        return
    if session.hold(Reason.BOARD_LOST) is None:
        _hold(turn, event.run_s, Reason.BOARD_LOST, event.why, needs_person=False)
    _call(turn, event.run_s, air_temp_c=None)


def _restarted(turn: _Turn, event: e.Restarted) -> None:
    session = turn.session
    if not session.active:
        raise NotNow(f"a session that is {session.phase.value} cannot be taken up again")
    turn.note(replace(totals(session), run_s=event.run_s))
    alone = h.resumes_alone(session, event.gap_s)
    hold = session.hold(Reason.RESTART)
    if hold is not None:
        _lift(turn, event.run_s, Reason.RESTART, "Restarted once more.")
        alone = alone and not hold.needs_person
    _hold(turn, event.run_s, Reason.RESTART, h.gap_sentence(session, event.gap_s), needs_person=not alone)
    if session.hold(Reason.BOARD_LOST) is None:
        why = "The board has not been read since the restart."
        _hold(turn, event.run_s, Reason.BOARD_LOST, why, needs_person=False)


def _storage(turn: _Turn, event: e.StorageState) -> None:
    if not turn.session.active:
        return
    hold = turn.session.hold(Reason.STORAGE)
    if event.trouble is not None and hold is None:
        _hold(turn, event.run_s, Reason.STORAGE, event.trouble, needs_person=False)
    elif event.trouble is None and hold is not None:
        _lift(turn, event.run_s, Reason.STORAGE, "The journal is written to disk again.")


# --- orders of a person -----------------------------------------------------------------------------------------------


def _begin(turn: _Turn, event: e.Begin) -> None:
    wrong = turn.session.program.fits(turn.session.chamber)
    if wrong:
        raise ProgramError(" ".join(wrong))
    turn.note(f.Began(event.run_s, event.by))


def _ask_hold(turn: _Turn, event: e.AskHold) -> None:
    _must_be_active(turn.session)
    why = f"Stopped by {event.by}; the lamps went dark at once." if event.stop else f"Paused by {event.by}."
    if turn.session.hold(Reason.OPERATOR) is None:
        _hold(turn, event.run_s, Reason.OPERATOR, why, needs_person=True)
    elif event.stop:
        _wait_for_person(turn, event.run_s, Reason.OPERATOR, why)


def _ask_continue(turn: _Turn, event: e.AskContinue) -> None:
    session = turn.session
    _must_be_active(session)
    mine = [hold for hold in session.holds if hold.needs_person and hold.reason is not Reason.CHECKPOINT]
    if not mine:
        if session.open_checkpoint is not None:
            raise NotNow(f"checkpoint '{session.open_checkpoint.name}' waits for its answer; answer it to go on")
        if session.holds:
            raise NotNow(f"the session cannot go on yet: {' '.join(hold.why for hold in session.holds)}")
        raise NotNow("the session is running; there is nothing to continue")
    for hold in mine:
        if hold.reason is Reason.TRIP:
            turn.note(f.TripClearAsked(event.run_s, event.by))
        else:
            _lift(turn, event.run_s, hold.reason, f"Continued by {event.by}.")


def _answer(turn: _Turn, event: e.Answer) -> None:
    checkpoint = turn.session.open_checkpoint
    if checkpoint is None:
        raise NotNow("no checkpoint waits for an answer")
    if checkpoint.name != event.checkpoint:
        raise NotNow(f"checkpoint '{event.checkpoint}' does not wait; '{checkpoint.name}' does")
    _pass_checkpoint(turn, event.run_s, event.by, event.note)


def _ask_inspection(turn: _Turn, event: e.AskInspection) -> None:
    session = turn.session
    _must_be_active(session)
    if session.waiting is None or session.waiting.called_s is None:
        raise NotNow("no checkpoint waits for a person; the inspection light is for those")
    if not session.chamber.inspection or session.program.inspection_level == 0:
        raise NotNow("the chamber has no inspection light, or the program leaves it dark")
    turn.note(f.InspectionAsked(event.run_s, event.by))


def _ask_end(turn: _Turn, event: e.AskEnd) -> None:
    _must_be_active(turn.session)
    why = f": {event.why}" if event.why else ""
    _end(turn, event.run_s, "ended by person", f.sentence(f"Ended by {event.by}{why}"))


def _change_plan(turn: _Turn, event: e.ChangePlan) -> None:
    session = turn.session
    _must_be_active(session)
    wrong = event.program.fits(session.chamber) + _rewritten_past(session, event.program)
    if wrong:
        raise ProgramError(" ".join(wrong))
    turn.note(f.plan_changed(event.run_s, event.by, event.program))


def _rewritten_past(session: Session, program: Program) -> list[str]:
    """Sentences for every part of the past that a changed plan would rewrite."""
    wrong = []
    for zone, done in zip(session.chamber.zones, session.exposure, strict=True):
        old, new = session.program.exposures_of(zone.name), program.exposures_of(zone.name)
        if old[:done] != new[:done]:
            wrong.append(f"Zone '{zone.name}': its {done} finished exposures must stay as they were.")
            continue
        begun = done < len(old) and session.session_s > old[done].start_s
        if begun and (len(new) <= done or (new[done].start_s, new[done].level) != (old[done].start_s, old[done].level)):
            wrong.append(f"Zone '{zone.name}': the exposure that has begun must stay; its end or dose may change.")
        wrong += [
            f"Zone '{zone.name}': the exposure starting at {exposure.start_s:g} s would begin in the past, before"
            f" {session.session_s:.0f} s of session time."
            for exposure in new[done + begun :]
            if exposure.start_s < session.session_s - schedule.DUE_S
        ]
    old_limits, new_limits = session.program.limits, program.limits
    if (new_limits.air_hard_c, new_limits.bank_hard_c) != (old_limits.air_hard_c, old_limits.bank_hard_c):
        wrong.append("The hard limits must stay: the board was armed with them. Lower the soft limits instead.")
    seen = session.checkpoints_passed + (session.waiting is not None)
    if session.program.checkpoints[:seen] != program.checkpoints[:seen]:
        wrong.append(f"The {seen} checkpoints reached so far must stay as they were.")
    wrong += [
        f"Checkpoint '{c.name}' at {c.at_s:g} s would lie in the past, before"
        f" {session.session_s:.0f} s of session time."
        for c in program.checkpoints[seen:]
        if c.at_s < session.session_s - schedule.DUE_S
    ]
    return wrong


def _must_be_active(session: Session) -> None:
    if not session.active:
        raise NotNow(f"the session is {session.phase.value}; this order needs one that has begun and not ended")
    if session.ending is not None:
        raise NotNow("the session is about to end; the lamps are dark and the board is read a last time")


# --- the plan ---------------------------------------------------------------------------------------------------------


def _plan(turn: _Turn) -> None:
    """Do what is due, set the levels, and say when to look again."""
    levels, left_s = schedule.outlook(turn.session)
    if left_s is None or left_s <= schedule.DUE_S:
        _do_what_is_due(turn)
        levels, left_s = schedule.outlook(turn.session)
    session = turn.session
    if session.ending is not None:
        return
    # Before its first reading nothing is known of the board: not the door, not the heat, not its counters.
    if session.phase is not Phase.RUNNING or session.boot_count is None:
        levels = (0.0,) * len(levels)
    if levels != session.levels:
        turn.note(f.LevelsSet(session.run_s, levels, tuple(zone.name for zone in session.chamber.zones)))
    if session.phase is Phase.RUNNING and left_s is not None:
        turn.wake_s = max(WAKE_S_MIN, left_s)


def _do_what_is_due(turn: _Turn) -> None:
    """Close exposures that are done, open a checkpoint that is due, end what is complete."""
    run_s = turn.session.run_s
    for zone, about in enumerate(turn.session.chamber.zones):
        exposure = schedule.current_exposure(turn.session, zone)
        while exposure is not None and schedule.exposure_is_done(turn.session, zone, exposure):
            lit_s = turn.session.lit_s[zone] - turn.session.exposure_from_lit_s[zone]
            settled_s = schedule.settled_lit_s(turn.session, zone, exposure)
            turn.note(f.ExposureDone(run_s, zone, about.name, turn.session.exposure[zone], lit_s, settled_s))
            exposure = schedule.current_exposure(turn.session, zone)
    if turn.session.waiting is None and schedule.checkpoint_due(turn.session):
        checkpoint = turn.session.program.checkpoints[turn.session.checkpoints_passed]
        turn.note(f.CheckpointReached(run_s, checkpoint.name, turn.session.session_s, turn.session.lit_s))
        why = f"'{checkpoint.name}' is due. " + (
            "A person looks at the sheet." if checkpoint.attended else "It passes by itself."
        )
        _hold(turn, run_s, Reason.CHECKPOINT, why, needs_person=checkpoint.attended)
    if turn.session.phase is Phase.RUNNING and schedule.all_done(turn.session):
        _end(turn, run_s, "completed", "All exposures and checkpoints are done.")


def _checkpoint(turn: _Turn, event: e.Reading) -> None:
    """Call the person, remind, or pass a checkpoint that needs nobody."""
    session = turn.session
    checkpoint, waiting = session.open_checkpoint, session.waiting
    if checkpoint is None or waiting is None:
        return
    if waiting.called_s is None or checkpoint.attended:
        _call(turn, event.run_s, event.air_temp_c)
    waiting = turn.session.waiting
    if waiting is None or waiting.called_s is None:
        return
    waited_s = event.run_s - waiting.called_s
    if demand_of(turn.session).inspection > 0 and h.inspected_enough(waiting, event.run_s):
        turn.note(f.InspectionOver(event.run_s, event.run_s - waiting.inspection_from_s))
    rules = session.program.rules
    if not checkpoint.attended:
        if waited_s >= checkpoint.pause_s and len(turn.session.holds) == 1:
            _pass_checkpoint(turn, event.run_s, "the program", "no person needed")
    elif rules.unanswered == "continue" and not waiting.opened and waited_s >= rules.answer_within_s:
        why = f"nobody answered within {rules.answer_within_s / 60:.0f} min"
        _pass_checkpoint(turn, event.run_s, "the program", why)


def _call(turn: _Turn, run_s: float, air_temp_c: float | None) -> None:
    """First call once the sheet may be handled, reminders with growing urgency after it."""
    checkpoint, waiting = turn.session.open_checkpoint, turn.session.waiting
    if checkpoint is None or waiting is None:
        return
    if waiting.called_s is not None:
        urgency = h.reminders_due(run_s - waiting.called_s)
        if checkpoint.attended and urgency >= waiting.calls:
            minutes = (run_s - waiting.called_s) / 60
            why = f"Checkpoint '{checkpoint.name}' has waited {minutes:.0f} min in the dark for an answer."
            turn.note(f.PersonCalled(run_s, checkpoint.name, urgency, why))
        return
    handling_c = turn.session.program.limits.handling_c
    if air_temp_c is not None and h.sane_temp(air_temp_c) and air_temp_c < handling_c:
        why = f"Checkpoint '{checkpoint.name}': air is {air_temp_c:.1f} °C, below the {handling_c:.1f} °C for handling."
    elif run_s - waiting.reached_s >= h.CALL_ANYWAY_S:
        warm = h.shown(air_temp_c)
        why = f"Checkpoint '{checkpoint.name}': air is {warm}, not below {handling_c:.1f} °C. Let the sheet cool first."
    else:
        return
    why += f" {checkpoint.look_at}" if checkpoint.attended else " The fixed camera has its turn."
    turn.note(f.PersonCalled(run_s, checkpoint.name, 0, why))


def _pass_checkpoint(turn: _Turn, run_s: float, by: str, note: str) -> None:
    checkpoint = turn.session.open_checkpoint
    assert checkpoint is not None
    turn.note(f.CheckpointAnswered(run_s, checkpoint.name, by, note))
    _lift(turn, run_s, Reason.CHECKPOINT, f"Answered by {by}.")


def _hold(turn: _Turn, run_s: float, reason: Reason, why: str, *, needs_person: bool) -> None:
    turn.note(f.HoldBegan(run_s, reason.value, why, needs_person))


def _wait_for_person(turn: _Turn, run_s: float, reason: Reason, why: str) -> None:
    hold = turn.session.hold(reason)
    if hold is None or hold.why != why or not hold.needs_person:
        turn.note(f.HoldWaits(run_s, reason.value, why))


def _lift(turn: _Turn, run_s: float, reason: Reason, why: str) -> None:
    turn.note(f.HoldEnded(run_s, reason.value, why))


def _end(turn: _Turn, run_s: float, outcome: str, cause: str) -> None:
    turn.note(f.Ending(run_s, outcome, cause))
    turn.wake_s = WAKE_S_MIN


def _end_if_read(turn: _Turn, event: e.Event, ending: f.Ending) -> None:
    """Ends what is to end once a reading shows the board dark, or no such reading has come for too long."""
    cause, restart = ending.cause, turn.session.hold(Reason.RESTART)
    if not isinstance(event, e.Reading | e.BoardLost):
        return
    if isinstance(event, e.BoardLost) or any(event.zone_applied):
        tried_from_s = ending.run_s if restart is None else max(ending.run_s, restart.since_s)
        if event.run_s - tried_from_s < h.END_S_MAX:
            return
        cause += " The board could not be read in the dark any more; the light after its last reading is not booked."
    turn.note(f.Ended(event.run_s, ending.outcome, cause, turn.session.lit_s))
    turn.wake_s = None
