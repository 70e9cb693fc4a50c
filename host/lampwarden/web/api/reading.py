"""What scripts may read. Plain functions: the framework runs them in its worker threads, for the disk may be slow."""

from typing import Annotated

from fastapi import APIRouter, Path, Query

from ...domain.chamber import Key
from ...errors import StoreError, UnknownName
from ...service import Service
from ...store.records import Session
from . import models as m
from . import shapes
from .problems import responses

ChamberId = Annotated[Key, Path(description="Short name of the chamber.", examples=["demo"])]
SessionId = Annotated[str, Path(min_length=1, max_length=40, examples=["2031-03-03-1"])]

UNKNOWN = responses(UnknownName)
RECORDED = responses(UnknownName, StoreError)


def session_of(service: Service, chamber_id: str, session_id: str) -> Session:
    """A session of this chamber. Raises UnknownName, also for one of another chamber; StoreError."""
    service.snapshot(chamber_id)
    session = service.session(session_id)
    if session.chamber_id != chamber_id:
        raise UnknownName(f"Session '{session_id}' belongs to chamber '{session.chamber_id}', not '{chamber_id}'.")
    return session


def routes(service: Service) -> APIRouter:
    """All GET routes over this service."""
    router = APIRouter(tags=["Reading"])

    @router.get("/health", summary="Is everything at work", responses=responses(StoreError))
    def health() -> m.Health:
        """For programs that look after this one: needs no sign-in, and names no chamber."""
        if not service.at_work():
            raise StoreError(
                "a chamber is not minded, or the journal does not reach the disk. See the page and the log."
            )
        return m.Health(at_work=True)

    @router.get("/chambers", summary="All chambers of this host")
    def chambers() -> list[m.Brief]:
        """One entry for each board this host minds, with its state in words."""
        return [shapes.brief(snapshot) for snapshot in service.chambers()]

    @router.get("/chambers/{chamber_id}", summary="One chamber now", responses=UNKNOWN)
    def chamber(chamber_id: ChamberId) -> m.ChamberOut:
        """Board, readings, light asked for, and the session with its zones, holds and open checkpoint.

        Answered from memory, so it may be asked every second. A session is shown as far as its journal is on disk.
        """
        return shapes.chamber(service.snapshot(chamber_id))

    @router.get("/chambers/{chamber_id}/session", summary="The session now", responses=UNKNOWN)
    def current(chamber_id: ChamberId) -> m.Current:
        """The session under way, or the last one since the daemon started. 404 if there was none."""
        found = shapes.current(service.snapshot(chamber_id))
        if found is None:
            raise UnknownName(f"No session has begun in chamber '{chamber_id}' since the start. See its sessions.")
        return found

    @router.get("/chambers/{chamber_id}/sessions", summary="Sessions in the record", responses=RECORDED)
    def sessions(
        chamber_id: ChamberId,
        limit: Annotated[int, Query(ge=1, le=200)] = 50,
        before: Annotated[
            str | None, Query(max_length=40, description="Only sessions begun before this one, to read on.")
        ] = None,
    ) -> list[m.Saved]:
        """The newest first."""
        if before is not None:
            session_of(service, chamber_id, before)
        return [shapes.saved(session) for session in service.sessions(chamber_id, limit, before)]

    @router.get("/chambers/{chamber_id}/sessions/{session_id}", summary="One session in full", responses=RECORDED)
    def session(chamber_id: ChamberId, session_id: SessionId) -> m.SavedInFull:
        """With program and chamber as they were when it began; later changes of the plan stand in the journal."""
        return shapes.saved_in_full(service.session(session_id))

    @router.get(
        "/chambers/{chamber_id}/sessions/{session_id}/readings", summary="Readings, thinned", responses=RECORDED
    )
    def readings(
        chamber_id: ChamberId,
        session_id: SessionId,
        points: Annotated[int, Query(ge=1, le=2000, description="At most this many stretches.")] = 500,
    ) -> m.Course:
        """Temperatures and humidity of the whole session in at most `points` stretches of equal length."""
        return shapes.course(chamber_id, session_id, service.readings(session_id, points))

    @router.get("/chambers/{chamber_id}/journal", summary="The journal", responses=RECORDED)
    def journal(
        chamber_id: ChamberId,
        session_id: Annotated[str | None, Query(max_length=40, description="Only lines of this session.")] = None,
        after_seq: Annotated[int, Query(ge=0, description="Only lines after this one.")] = 0,
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
    ) -> m.Journal:
        """Oldest first. Ask again with `after_seq` set to the answer's `next_after_seq` to read on or to follow."""
        if session_id is not None:
            session_of(service, chamber_id, session_id)
        lines = service.journal(chamber_id, session_id, after_seq, limit)
        return shapes.journal(chamber_id, lines, after_seq)

    return router
