"""What a page calls out by sound and by a notification of the browser: who is waited for, and what went wrong. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from ..engine import Phase, Reason, Session
from ..keeper import Snapshot
from .states import ENDS, HOLDS, reading


@dataclass(frozen=True, slots=True)
class Alert:
    """Something that stands now."""

    key: str
    """Changes when there is something new to call out."""
    tag: str
    """Of the chamber: a newer notification takes the place of an older one."""
    fault: bool
    """True: something went wrong; False: somebody is waited for."""
    step: int
    """How often it was called out before."""
    over: bool
    """True: nothing can be done about it any more, so it is called out once at most."""
    title: str
    body: str
    href: str
    """The page where it is seen to."""


def alerts(snapshots: Iterable[Snapshot]) -> tuple[Alert, ...]:
    """At most one for each chamber: a fault before a call."""
    return tuple(found for snapshot in snapshots if (found := _alert(snapshot)) is not None)


def _alert(snapshot: Snapshot) -> Alert | None:
    session, chamber = snapshot.session, snapshot.chamber

    def made(key: str, title: str, body: str, *, fault: bool, step: int = 0, over: bool = False) -> Alert:
        mark = f"{chamber.id}/{snapshot.session_id or ''}/{key}"
        return Alert(mark, chamber.id, fault, step, over, f"{title} · {chamber.title}", body, f"/now/{chamber.id}")

    if session is not None and session.active:
        holds = {hold.reason: hold for hold in session.holds}
        for reason in HOLDS:
            if reason in holds and HOLDS[reason][0] == "alarm":
                hold = holds[reason]
                return made(f"{reason.value}/{hold.since_s:.1f}", HOLDS[reason][1], hold.why, fault=True)
        called = _called(session)
        if called is not None:
            name, look_at, step = called
            title = f"Your turn: photo “{name}”" if step == 0 else f"Still waiting: photo “{name}”"
            return made(f"photo {name}/{step}", title, look_at, fault=False, step=step)
        for hold in session.holds:
            if hold.needs_person and hold.reason not in (Reason.OPERATOR, Reason.CHECKPOINT):
                return made(
                    f"{hold.reason.value}/{hold.since_s:.1f}", "The session waits for you", hold.why, fault=False
                )
        return None
    live = reading(snapshot)
    if session is not None and session.phase is Phase.ENDED and ENDS[session.outcome][0] == "alarm":
        return made("cut off", ENDS[session.outcome][1], session.cause, fault=True, over=True)
    if live is not None and live.trip_cause:
        return made(f"trip {live.trip_cause}", HOLDS[Reason.TRIP][1], live.trip_text, fault=True)
    return None


def _called(session: Session) -> tuple[str, str, int] | None:
    """The checkpoint a person is called to, what to look at, and how often they were reminded."""
    checkpoint, waiting = session.open_checkpoint, session.waiting
    if checkpoint is None or waiting is None or waiting.called_s is None or not checkpoint.attended:
        return None
    return checkpoint.name, checkpoint.look_at, max(0, waiting.calls - 1)
