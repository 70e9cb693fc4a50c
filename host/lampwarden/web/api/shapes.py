"""Snapshots and records as the API's models. Pure."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from ...engine import Session
from ...keeper import Snapshot
from ...store import records
from ..figures import outlook, zone_figures
from ..states import state
from ..wording import Taste
from . import models as m


def brief(snapshot: Snapshot) -> m.Brief:
    return m.Brief(
        chamber_id=snapshot.chamber.id,
        title=snapshot.chamber.title,
        href=f"/api/chambers/{snapshot.chamber.id}",
        state=state(snapshot, Taste()).headline,
        session_id=snapshot.session_id if snapshot.session else None,
    )


def chamber(snapshot: Snapshot) -> m.ChamberOut:
    return m.ChamberOut(
        chamber_id=snapshot.chamber.id,
        title=snapshot.chamber.title,
        number=snapshot.number,
        utc=snapshot.utc,
        state=state(snapshot, Taste()).headline,
        zones=snapshot.chamber.zones,
        inspection=snapshot.chamber.inspection,
        board=_board(snapshot),
        asked_levels=snapshot.demand.zone_levels,
        session=current(snapshot),
        storage_trouble=snapshot.storage_trouble,
    )


def current(snapshot: Snapshot) -> m.Current | None:
    """The session shown; None without one."""
    session = snapshot.session
    if session is None or snapshot.session_id is None or snapshot.began_utc is None:
        return None
    ahead = outlook(session) if session.active else None
    return m.Current(
        chamber_id=snapshot.chamber.id,
        session_id=snapshot.session_id,
        title=session.program.title,
        phase=session.phase.value,
        outcome=session.outcome,
        cause=session.cause,
        began_utc=snapshot.began_utc,
        run_s=session.run_s,
        session_s=session.session_s,
        end_left_s=ahead.end_left_s if ahead else None,
        next_checkpoint=ahead.checkpoint if ahead else None,
        next_checkpoint_left_s=ahead.checkpoint_left_s if ahead else None,
        holds=tuple(
            m.HoldOut(reason=hold.reason.value, since_s=hold.since_s, why=hold.why, needs_person=hold.needs_person)
            for hold in session.holds
        ),
        checkpoint=_checkpoint(session),
        zones=_zones(session),
        program=session.program,
    )


def saved(session: records.Session) -> m.Saved:
    return m.Saved(**_saved(session))


def saved_in_full(session: records.Session) -> m.SavedInFull:
    return m.SavedInFull(
        **_saved(session),
        program=session.program,
        chamber=session.chamber,
        plan_id=session.plan_id,
        plan=session.plan,
        sheet=session.sheet,
    )


def journal(chamber_id: str, lines: Sequence[records.SavedLine], after_seq: int) -> m.Journal:
    return m.Journal(
        chamber_id=chamber_id,
        lines=tuple(m.LineOut(**asdict(line)) for line in lines),
        next_after_seq=lines[-1].seq if lines else after_seq,
    )


def course(chamber_id: str, session_id: str, stretches: Sequence[records.Stretch]) -> m.Course:
    return m.Course(
        chamber_id=chamber_id,
        session_id=session_id,
        stretches=tuple(m.Stretch(**asdict(stretch)) for stretch in stretches),
    )


def _board(snapshot: Snapshot) -> m.BoardOut:
    identity, live = snapshot.board.identity, snapshot.board.live
    readings = None
    if live is not None:
        readings = m.Readings(
            state=live.board_state,
            trip=live.trip_text if live.trip_cause else None,
            air_temp_c=live.air_temp_c,
            humidity_pct=live.humidity_pct,
            bank_temps_c=live.bank_temps_c,
            zone_levels=live.zone_applied,
            inspection=live.inspection,
            fan=live.fan,
            door_open=live.door_open,
            stop_pressed=live.stop_pressed,
            uptime_s=live.uptime_s,
            heartbeat_left_s=live.heartbeat_left_s,
        )
    return m.BoardOut(
        answers=snapshot.board.trouble is None,
        trouble=snapshot.board.trouble,
        unique_id=identity.unique_id if identity else None,
        firmware=identity.firmware if identity else None,
        readings=readings,
    )


def _checkpoint(session: Session) -> m.CheckpointOut | None:
    checkpoint, waiting = session.open_checkpoint, session.waiting
    if checkpoint is None or waiting is None:
        return None
    return m.CheckpointOut(
        name=checkpoint.name,
        look_at=checkpoint.look_at,
        attended=checkpoint.attended,
        reached_s=waiting.reached_s,
        called_s=waiting.called_s,
    )


def _zones(session: Session) -> tuple[m.ZoneOut, ...]:
    return tuple(
        m.ZoneOut(
            name=about.name,
            asked_level=level,
            lit_s=figures.lit_s,
            planned_s=figures.planned_s,
            left_s=figures.left_s,
            dose_j_cm2=figures.dose_j_cm2,
            planned_j_cm2=figures.planned_j_cm2,
            done=figures.done,
        )
        for about, level, figures in zip(session.chamber.zones, session.levels, zone_figures(session), strict=True)
    )


def _saved(session: records.Session) -> dict[str, Any]:
    ended = session.ended
    return {
        "chamber_id": session.chamber_id,
        "session_id": session.id,
        "title": session.title,
        "began_utc": session.began_utc,
        "ended_utc": ended.utc if ended else None,
        "outcome": ended.outcome if ended else None,
        "cause": ended.cause if ended else None,
    }
