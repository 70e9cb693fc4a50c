"""What scripts may order. Each answers once the order's journal lines are on disk, or with a problem.

Plain functions: the framework runs them in its worker threads, for orders wait for keeper and disk.
"""

from typing import Annotated

from fastapi import APIRouter, Body, Request

from ...domain.program import Program
from ...domain.program_file import parse
from ...errors import BoardRefused, BoardSilent, NotNow, ProgramError, StoreError, StoreFull, UnknownName
from ...service import Service
from ..auth.calls import check_request
from . import models as m
from .problems import responses
from .reading import ChamberId

ORDERED = responses(NotNow, UnknownName, StoreError, StoreFull)
PLANNED = ORDERED | responses(ProgramError)


def routes(service: Service) -> APIRouter:
    """All POST routes over this service."""
    router = APIRouter(tags=["Orders"])

    def receipt(chamber_id: str, request: Request, session_id: str | None = None) -> m.Receipt:
        session_id = session_id or service.snapshot(chamber_id).session_id
        return m.Receipt(chamber_id=chamber_id, session_id=session_id, order=request.url.path.rsplit("/", 1)[-1])

    @router.post("/chambers/{chamber_id}/stop", summary="Stop: all lamps dark at once", responses=ORDERED)
    def stop(chamber_id: ChamberId, request: Request, order: m.Order | None = None) -> m.Receipt:
        """Darkens the board before anything else; a session is held and can go on later.

        Possible without a session, and without a body: a stop should fail for no form.
        """
        service.stop(chamber_id, order.by if order else "a script")
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/start", summary="Begin a session", status_code=201, responses=PLANNED)
    def start(chamber_id: ChamberId, order: m.Start, request: Request) -> m.Receipt:
        """Refused with everything that forbids it: an open door, a missing sensor, a program that does not fit."""
        return receipt(chamber_id, request, service.start(chamber_id, _program(order), order.by))

    @router.post("/chambers/{chamber_id}/hold", summary="Pause in the dark", responses=ORDERED)
    def hold(chamber_id: ChamberId, order: m.Order, request: Request) -> m.Receipt:
        """Session time stands still until somebody continues."""
        service.hold(chamber_id, order.by)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/continue", summary="Go on after a hold", responses=ORDERED)
    def go_on(chamber_id: ChamberId, order: m.Order, request: Request) -> m.Receipt:
        """Lifts the holds that wait for a person; a trip of the board is cleared if its cause is gone.

        A checkpoint needs its answer instead.
        """
        service.go_on(chamber_id, order.by)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/answer", summary="Answer the checkpoint", responses=ORDERED)
    def answer(chamber_id: ChamberId, order: m.Answer, request: Request) -> m.Receipt:
        """The photos are taken; the session goes on. Name the checkpoint, so that a late answer harms nothing."""
        check_request(request, service, "answer", chamber_id=chamber_id, checkpoint=order.checkpoint)
        service.answer(chamber_id, order.checkpoint, order.by, order.note)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/inspection", summary="Light the inspection light again", responses=ORDERED)
    def inspection(chamber_id: ChamberId, order: m.Order, request: Request) -> m.Receipt:
        """The white light goes off when a checkpoint has waited for half an hour; this lights it for as long again."""
        check_request(request, service, "light_inspection", chamber_id=chamber_id)
        service.light_inspection(chamber_id, order.by)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/end", summary="End the session for good", responses=ORDERED)
    def end(chamber_id: ChamberId, order: m.End, request: Request) -> m.Receipt:
        """The lamps go dark and the record is closed. It cannot be taken up again."""
        service.end(chamber_id, order.by, order.why)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/note", summary="Add a line to the journal", responses=ORDERED)
    def note(chamber_id: ChamberId, order: m.Note, request: Request) -> m.Receipt:
        """During a session, and after its end until the next one."""
        service.annotate(chamber_id, order.text, order.by)
        return receipt(chamber_id, request)

    @router.post("/chambers/{chamber_id}/plan", summary="Change what is still to come", responses=PLANNED)
    def plan(
        chamber_id: ChamberId, order: Annotated[m.Plan, Body(description="The whole program.")], request: Request
    ) -> m.Receipt:
        """Give the whole program; exposures and checkpoints that have begun must stay as they were."""
        service.change_plan(chamber_id, _program(order), order.by)
        return receipt(chamber_id, request)

    @router.post(
        "/chambers/{chamber_id}/clear-trip",
        summary="Clear the board's trip outside a session",
        responses=ORDERED | responses(BoardRefused, BoardSilent),
    )
    def clear_trip(chamber_id: ChamberId, request: Request) -> m.Receipt:
        """The board refuses while the cause lasts or the chamber is warm. During a session use continue."""
        service.clear_trip(chamber_id)
        return receipt(chamber_id, request)

    return router


def _program(order: m.Start) -> Program:
    if (order.program is None) == (order.toml is None):
        raise ProgramError("Give either 'program' (an object) or 'toml' (the text of a program file), and not both.")
    return order.program if order.program is not None else parse(order.toml or "", "toml")
