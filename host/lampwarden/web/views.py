"""What the page Now shows, made of a snapshot. Pure: texts and numbers, no markup."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ..domain.program import Limits
from ..engine import Hold, Phase, Reason, Session
from ..keeper import Snapshot
from ..store.records import SavedLine
from . import wording as w
from .figures import ZoneFigures, outlook, zone_figures
from .states import STRAY_S, THEN, State, lit_zones, reading, state
from .wording import Taste

STALE_S = 5.0
"""A snapshot older than this is called old on the page, s: five control periods."""
GAUGE_LOW_C = 10.0
"""Left end of a temperature's bar, degrees C."""


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that comes."""

    label: str
    left: str
    """Time left, or what stands in its place."""
    at: str
    """The clock time, with its condition."""


@dataclass(frozen=True, slots=True)
class Zone:
    name: str
    light: str
    """Light now, in words."""
    level: float
    """Light now as the board reports it, 0..1."""
    share: float
    """Part of the planned light that it has had, 0..1."""
    exposure: str
    dose: str
    dose_also: str
    """The same dose in the other customary unit."""
    left: str
    about: str
    """Where it sits and how strong it is."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A hold."""

    title: str
    why: str
    since: str
    then: str
    """What ends it."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """The checkpoint that waits."""

    name: str
    look_at: str
    called: bool
    """False: the air is still too warm; nobody is asked yet."""
    attended: bool
    steps: tuple[str, ...]
    waiting: str
    unlit: bool
    """True if the white light has had its time and went off; it can be lit anew."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """A temperature beside its limits."""

    label: str
    value: str
    verdict: str
    """Compares it with the limit, in words."""
    over: bool
    share: float | None
    """Place on the bar, 0..1; None: no value."""
    soft: float | None
    """Place of the soft limit on the bar; the right end is the hard limit. None: no limits without a session."""


@dataclass(frozen=True, slots=True)
class Actions:
    """What a person may do now."""

    pause: bool = False
    go_on: str = ""
    """Label of the button; empty: not possible."""
    end: bool = False
    answer: bool = False
    clear_trip: bool = False
    start: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    seq: int
    at: str
    text: str
    strong: bool
    """A line that calls for the person, or ends the session."""


@dataclass(frozen=True, slots=True)
class Now:
    state: State
    program: str
    began: str
    share: float | None
    """Part of the session that is over, 0..1; None without a session."""
    moments: tuple[Moment, ...]
    zones: tuple[Zone, ...]
    holds: tuple[Standing, ...]
    prompt: Prompt | None
    warnings: tuple[str, ...]
    gauges: tuple[Gauge, ...]
    facts: tuple[tuple[str, str], ...]
    """Humidity, door and the like: label and text."""
    actions: Actions
    updated: str


def now(snapshot: Snapshot, taste: Taste, stale_s: float = 0.0, stray_s: float = 0.0) -> Now:
    """The page at this snapshot, which is `stale_s` seconds old.

    `stray_s`: how long the board has reported light though dark was asked, s.
    """
    session, at = snapshot.session, w.moment(snapshot.utc)
    active = session is not None and session.active
    return Now(
        state=state(snapshot, taste, stray_s),
        program=session.program.title if session else "",
        began=_began(snapshot, at, taste),
        share=outlook(session).share if session is not None and active else None,
        moments=_moments(session, at, taste) if session is not None and active else (),
        zones=_zones(snapshot),
        holds=tuple(_hold(hold, session, snapshot, at, taste) for hold in session.holds) if session else (),
        prompt=_prompt(session, snapshot, taste) if session else None,
        warnings=_warnings(snapshot, stale_s, stray_s),
        gauges=_gauges(snapshot, session.program.limits if session is not None and active else None, taste),
        facts=_facts(snapshot),
        actions=_actions(snapshot),
        updated=f"Seen at {w.clock_text(at, at, taste, seconds=True)}",
    )


def lines(saved: Sequence[SavedLine], utc: str, taste: Taste) -> tuple[Line, ...]:
    """Journal lines, the newest first."""
    at = w.moment(utc)
    return tuple(
        Line(
            line.seq,
            w.clock_text(w.moment(line.utc), at, taste),
            w.in_scale(line.text, taste),
            line.kind in ("ended", "hold_waits", "person_called"),
        )
        for line in reversed(saved)
    )


def _began(snapshot: Snapshot, at: datetime, taste: Taste) -> str:
    if snapshot.session is None or snapshot.began_utc is None:
        return ""
    began = w.clock_text(w.moment(snapshot.began_utc), at, taste)
    return f"Session {snapshot.session_id}, begun {began}"


def _moments(session: Session, at: datetime, taste: Taste) -> tuple[Moment, ...]:
    ahead, held = outlook(session), session.phase is Phase.HELD
    about = "at the earliest" if held else "about"

    def moment(label: str, left_s: float, pauses: int) -> Moment:
        more = f", plus {pauses} {'pause' if pauses == 1 else 'pauses'}" if pauses else ""
        when = w.clock_text(w.after(at, left_s), at, taste)
        return Moment(label, w.rough_text(left_s), f"{about} {when}{more}")

    end = moment("End of the session", ahead.end_left_s, ahead.checkpoints_left)
    if ahead.checkpoint is None or ahead.checkpoint_left_s is None:
        return (Moment("Next photo", "none left", ""), end)
    return (moment(f"Next photo, “{ahead.checkpoint}”", ahead.checkpoint_left_s, 0), end)


def _zones(snapshot: Snapshot) -> tuple[Zone, ...]:
    session, live = snapshot.session, reading(snapshot)
    figures = zone_figures(session) if session else (None,) * len(snapshot.chamber.zones)
    zones = []
    for index, (about, numbers) in enumerate(zip(snapshot.chamber.zones, figures, strict=True)):
        level = live.zone_applied[index] if live is not None and index < len(live.zone_applied) else None
        had, total = (numbers.lit_s, numbers.planned_s) if numbers else (0.0, 0.0)
        planned = numbers is not None and total > 0
        dose = w.of_texts(numbers.dose_j_cm2, numbers.planned_j_cm2) if numbers and planned else ("", "")
        zones.append(
            Zone(
                name=about.name,
                light=_light(level, numbers, session),
                level=level or 0.0,
                share=min(1.0, had / total) if planned else 0.0,
                exposure=f"{w.rough_text(had)} of {w.rough_text(total)}" if planned else "",
                dose=dose[0],
                dose_also=dose[1],
                left=_left(numbers, session),
                about=f"Bank {about.bank}, {about.peak_nm:g} nm, full light {w.irradiance_text(about.irradiance_w_m2)}",
            )
        )
    return tuple(zones)


def _light(level: float | None, numbers: ZoneFigures | None, session: Session | None) -> str:
    if level is None:
        return "no answer"
    if level > 0:
        return f"lit, {round(100 * level)} %"
    if numbers is None or session is None:
        return "dark"
    if numbers.planned_s == 0:
        return "stays dark"
    if numbers.done:
        return "done"
    if session.phase is Phase.ENDED:
        return "dark"
    if session.phase is Phase.HELD:
        return "held"
    if numbers.starts_s is not None:
        return f"due in {w.minutes_text(numbers.starts_s - session.session_s)}"
    return "dark"


def _left(numbers: ZoneFigures | None, session: Session | None) -> str:
    if numbers is None or session is None or numbers.planned_s == 0:
        return ""
    if numbers.done:
        return "complete"
    return f"{w.rough_text(numbers.left_s)} left" if session.active else "not completed"


def _hold(hold: Hold, session: Session, snapshot: Snapshot, at: datetime, taste: Taste) -> Standing:
    began = w.clock_text(w.after(at, hold.since_s - snapshot.run_s), at, taste)
    for_s = w.rough_text(max(0.0, snapshot.run_s - hold.since_s))
    then = "Waits for you." if hold.needs_person else THEN.get(hold.reason, "Waits.")
    title = hold.reason.value
    if hold.reason is Reason.OPERATOR:
        title = "paused by a person"
    return Standing(title[:1].upper() + title[1:], w.in_scale(hold.why, taste), f"since {began}, for {for_s}", then)


def _prompt(session: Session, snapshot: Snapshot, taste: Taste) -> Prompt | None:
    checkpoint, waiting = session.open_checkpoint, session.waiting
    if checkpoint is None or waiting is None:
        return None
    live, handling = reading(snapshot), w.temp(session.program.limits.handling_c, taste)
    air = w.temp(live.air_temp_c if live else None, taste)
    rules, waited_s = session.program.rules, snapshot.run_s - (waiting.called_s or waiting.reached_s)
    if waiting.called_s is None:
        steps = [
            f"Let the sheet cool first: air is {air}, and you are called below {handling}.",
            "The treatment lamps stay dark meanwhile.",
        ]
    elif not checkpoint.attended:
        steps = ["The fixed camera has its turn. Nothing for you to do."]
    else:
        white = " The white light is on for your photo; do not look into it." if snapshot.demand.inspection > 0 else ""
        if waiting.inspection_over:
            white = " The white light went off after half an hour, to spare the sheet; light it again for your photo."
        opened = live is not None and live.door_open
        dark = live is not None and not lit_zones(snapshot)
        steps = [
            f"The treatment lamps are dark.{white}"
            if dark
            else "Wait: nobody knows yet that the lamps are dark. Keep the door closed.",
            f"Air is {air}. Touch the sheet only when it feels cool.",
            "The door is open. Close it before you go on."
            if opened
            else "Open the door only as long as you need, and lay nothing on the sheet.",
            "“Done, go on” lights the lamps again. Never look at lit lamps.",
        ]
    waiting_text = f"Waiting for {w.rough_text(waited_s)}."
    if waiting.called_s is not None and not checkpoint.attended:
        waiting_text = f"Goes on by itself in {w.rough_text(max(0.0, checkpoint.pause_s - waited_s))}."
    elif waiting.called_s is not None and rules.unanswered == "continue":
        waiting_text += f" Goes on by itself in {w.rough_text(max(0.0, rules.answer_within_s - waited_s))}."
    called = waiting.called_s is not None
    return Prompt(
        checkpoint.name,
        checkpoint.look_at,
        called,
        checkpoint.attended,
        tuple(steps),
        waiting_text,
        waiting.inspection_over and checkpoint.attended,
    )


def _warnings(snapshot: Snapshot, stale_s: float, stray_s: float) -> tuple[str, ...]:
    board, session = snapshot.board, snapshot.session
    live, active = reading(snapshot), session is not None and session.active
    found = []
    if stale_s > STALE_S:
        found.append(
            f"Nothing new has come from the chamber's keeper for {w.rough_text(stale_s)}. What you see is old."
            " If lamps are lit and you are not sure, press the stop button on the chamber."
        )
    if snapshot.storage_trouble is not None:
        found.append(f"The record does not reach the disk: {snapshot.storage_trouble}")
    if board.trouble is not None and session is not None and not active:
        found.append(f"The board does not answer: {board.trouble}")
    if live is None:
        return tuple(found)
    if live.trip_cause and not active:
        found.append(f"The board has tripped: {live.trip_text}. Mend the cause, then clear the trip.")
    elif live.stop_pressed:
        found.append("The stop button on the chamber is down. Release it when all is well.")
    lit = lit_zones(snapshot)
    if lit and stray_s > STRAY_S:
        found.append(f"Zone {w.listed(lit)} is lit though dark was asked. Switch the chamber off at the mains.")
    return tuple(found)


def _gauges(snapshot: Snapshot, limits: Limits | None, taste: Taste) -> tuple[Gauge, ...]:
    live, banks = reading(snapshot), snapshot.chamber.bank_count
    temps = list(live.bank_temps_c[:banks]) if live else []
    temps += [None] * (banks - len(temps))
    air_limits = (limits.air_soft_c, limits.air_hard_c) if limits else None
    bank_limits = (limits.bank_soft_c, limits.bank_hard_c) if limits else None
    air = ("Air at the sheet", live.air_temp_c if live else None, air_limits)
    plates = [(f"Bank {number}", temp_c, bank_limits) for number, temp_c in enumerate(temps, start=1)]
    return tuple(_gauge(*about, taste, known=live is not None) for about in (air, *plates))


def _gauge(
    label: str, temp_c: float | None, limits_c: tuple[float, float] | None, taste: Taste, *, known: bool
) -> Gauge:
    high_c = limits_c[1] if limits_c else 60.0

    def place(value_c: float) -> float:
        return min(1.0, max(0.0, (value_c - GAUGE_LOW_C) / (high_c - GAUGE_LOW_C)))

    share = place(temp_c) if temp_c is not None else None
    if limits_c is None:
        return Gauge(label, w.temp(temp_c, taste), "", False, share, None)
    soft_c, hard_c = limits_c
    below = temp_c is not None and temp_c < soft_c
    if temp_c is None:
        verdict = f"unknown; lamps pause at {w.temp(soft_c, taste)} and without a reading"
    elif below:
        verdict = f"below {w.temp(soft_c, taste)}, where lamps pause"
    elif temp_c <= hard_c:
        verdict = f"over {w.temp(soft_c, taste)}: lamps pause; cut off at {w.temp(hard_c, taste)}"
    else:
        verdict = f"over {w.temp(hard_c, taste)}: cut off"
    return Gauge(label, w.temp(temp_c, taste), verdict, known and not below, share, place(soft_c))


def _facts(snapshot: Snapshot) -> tuple[tuple[str, str], ...]:
    live = reading(snapshot)
    if live is None:
        return (("Humidity", "unknown"), ("Door", "unknown"), ("Stop button", "unknown"))
    humidity = "no reading" if live.humidity_pct is None else f"{live.humidity_pct:.0f} %"
    return (
        ("Humidity", humidity),
        ("Door", "open" if live.door_open else "closed"),
        ("Stop button", "down" if live.stop_pressed else "released"),
    )


def _actions(snapshot: Snapshot) -> Actions:
    session, live = snapshot.session, reading(snapshot)
    if session is None or not session.active:
        tripped = live is not None and live.trip_cause != 0
        return Actions(clear_trip=tripped, start=True)
    mine = [hold for hold in session.holds if hold.needs_person and hold.reason is not Reason.CHECKPOINT]
    go_on = ""
    if mine:
        go_on = "Clear the trip, go on" if any(hold.reason is Reason.TRIP for hold in mine) else "Go on"
    checkpoint, waiting = session.open_checkpoint, session.waiting
    called = checkpoint is not None and checkpoint.attended and waiting is not None and waiting.called_s is not None
    return Actions(pause=session.hold(Reason.OPERATOR) is None, go_on=go_on, end=True, answer=called)
