"""What is published, as plain data. Names carry quantity and unit; what is not known is null. Pure."""

from typing import Any

from ..domain.units import dose_j_cm2
from ..engine import Session
from ..keeper import Snapshot
from ..link.board import Live
from ..store.records import SavedLine

Json = dict[str, Any]


def of_snapshot(snapshot: Snapshot) -> Json:
    """A chamber at one moment. Readings are null while the board does not answer."""
    board, session = snapshot.board, snapshot.session
    live = board.live if board.trouble is None else None
    return {
        "chamber_id": snapshot.chamber.id,
        "chamber": snapshot.chamber.title,
        "utc": snapshot.utc,
        "board": {
            "answers": board.trouble is None,
            "trouble": board.trouble,
            "unique_id": board.identity.unique_id if board.identity else None,
        },
        "readings": _readings(snapshot, live) if live is not None else None,
        "session": _session(snapshot, session) if session is not None else None,
        "storage_trouble": snapshot.storage_trouble,
    }


def of_line(line: SavedLine) -> Json:
    """A journal line. `seq` counts the lines of all chambers of this host without gaps and orders them; a line that
    comes a second time after an outage has the same."""
    return {
        "seq": line.seq,
        "chamber_id": line.chamber_id,
        "session_id": line.session_id,
        "utc": line.utc,
        "run_s": line.run_s,
        "kind": line.kind,
        "text": line.text,
        "data": line.data,
    }


def news(snapshot: Snapshot) -> tuple[object, ...]:
    """What makes a snapshot worth telling at once when it changes; readings and doses can wait."""
    board, session = snapshot.board, snapshot.session
    live = board.live if board.trouble is None else None
    seen = (live.board_state, live.door_open, live.stop_pressed) if live is not None else None
    if session is None:
        return (seen, snapshot.storage_trouble is None)
    holds = tuple((hold.reason, hold.needs_person) for hold in session.holds)
    called = session.waiting is not None and session.waiting.called_s is not None
    return (seen, snapshot.storage_trouble is None, snapshot.session_id, session.phase, holds, called)


def _readings(snapshot: Snapshot, live: Live) -> Json:
    applied = live.zone_applied[: len(snapshot.chamber.zones)]
    return {
        "board_state": live.board_state,
        "trip": live.trip_text if live.trip_cause else None,
        "air_temp_c": live.air_temp_c,
        "humidity_pct": live.humidity_pct,
        "bank_temps_c": list(live.bank_temps_c[: snapshot.chamber.bank_count]),
        "zone_levels": {zone.name: level for zone, level in zip(snapshot.chamber.zones, applied, strict=False)},
        "inspection_level": live.inspection,
        "fan_level": live.fan,
        "door_open": live.door_open,
        "stop_pressed": live.stop_pressed,
        "uptime_s": live.uptime_s,
    }


def _session(snapshot: Snapshot, session: Session) -> Json:
    checkpoint = session.open_checkpoint
    return {
        "session_id": snapshot.session_id,
        "title": session.program.title,
        "phase": session.phase.value,
        "outcome": session.outcome or None,
        "cause": session.cause or None,
        "began_utc": snapshot.began_utc,
        "run_s": session.run_s,
        "session_s": session.session_s,
        "holds": [
            {"reason": hold.reason.value, "why": hold.why, "needs_person": hold.needs_person} for hold in session.holds
        ],
        "checkpoint": checkpoint.name if checkpoint is not None else None,
        "zones": {
            zone.name: {"lit_s": lit_s, "dose_j_cm2": dose_j_cm2(zone.irradiance_w_m2, lit_s)}
            for zone, lit_s in zip(session.chamber.zones, session.lit_s, strict=True)
        },
    }
