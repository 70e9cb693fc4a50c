"""What people found by hand and eye: kept, listed, withdrawn."""

from typing import Annotated

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field

from ...domain.finding import HandFinding
from ...errors import NotNow, ProgramError, StoreError, StoreFull, UnknownName
from ...service import Service
from ...service.by_hand import KeptFinding
from .problems import responses
from .reading import ChamberId, SessionId

KEPT = responses(UnknownName, NotNow, ProgramError, StoreError, StoreFull)


class FindingOrder(BaseModel):
    """What somebody found."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    finding: HandFinding


class WithdrawOrder(BaseModel):
    """A finding does not hold."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    why: str = Field(min_length=1, max_length=500, examples=["It was another cell."])


class Kept(BaseModel):
    """It is on record."""

    session: str = Field(examples=["2031-03-03-1"])


def routes(service: Service) -> APIRouter:
    """All routes about hand findings."""
    router = APIRouter(tags=["Hand findings"])
    base = "/chambers/{chamber_id}/sessions/{session_id}/findings"

    @router.get(base, summary="What hand and eye found", responses=responses(UnknownName, StoreError))
    def listed(chamber_id: ChamberId, session_id: SessionId) -> list[KeptFinding]:
        """The first written first; those that were withdrawn say so."""
        service.snapshot(chamber_id)
        return service.hand_findings(session_id)

    @router.post(base, summary="Keep a hand finding", status_code=201, responses=KEPT)
    def finding(chamber_id: ChamberId, session_id: SessionId, order: FindingOrder) -> Kept:
        """Stiffness, surface, smell and so on of one cell, shown beside its colour."""
        service.add_finding(order.finding, order.by, chamber_id=chamber_id, session_id=session_id)
        return Kept(session=session_id)

    @router.post(f"{base}/{{number}}/withdraw", summary="Withdraw a hand finding", responses=KEPT)
    def withdraw(
        chamber_id: ChamberId,
        session_id: SessionId,
        number: Annotated[int, Path(ge=1, le=2**53, description="Its number.", examples=[1])],
        order: WithdrawOrder,
    ) -> Kept:
        """It stays as it was written, marked; conclusions leave it out."""
        service.withdraw_finding(number, order.why, order.by, chamber_id=chamber_id, session_id=session_id)
        return Kept(session=session_id)

    return router
