"""What the records take on the disk, what is deleted on purpose, what is thinned."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from ...errors import ChangedMeanwhile, NotNow, ProgramError, StoreError, UnknownName
from ...service import Service
from ...service.kept import DiskUse, Going, Retention, ThinningAhead, What
from .problems import responses
from .reading import ChamberId

WhatQuery = Annotated[What, Query(description="photos: of a session; sheet: a sheet with its sessions.")]
Name = Annotated[str, Query(min_length=1, max_length=40, description="Id of the session, or of the sheet.")]
KNOWN = responses(UnknownName, NotNow, StoreError)
DONE = responses(UnknownName, NotNow, ChangedMeanwhile, ProgramError, StoreError)


class DeleteOrder(BaseModel):
    """Deletes what was looked at before."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    what: What = Field(examples=["photos"])
    name: str = Field(min_length=1, max_length=40, examples=["2031-03-03-1"])
    typed: str = Field(max_length=80, examples=["2031-03-03-1"], description="The name once more, typed by a person.")
    mark: str = Field(max_length=40, examples=["0" * 16], description="As looking gave it.")


class RetentionOrder(BaseModel):
    """What is made less by itself from now on."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    thin_after_days: float | None = Field(examples=[90.0], description="Null: nothing is.")


def routes(service: Service) -> APIRouter:
    """All routes about what is kept."""
    router = APIRouter(tags=["What is kept"])
    base = "/chambers/{chamber_id}"

    @router.get(f"{base}/kept", summary="What the records take", responses=responses(UnknownName, StoreError))
    def kept(chamber_id: ChamberId) -> DiskUse:
        """Bytes of database, photos, pictures, records from elsewhere and backups; by session and by sheet."""
        return service.disk_use(chamber_id)

    @router.get(f"{base}/kept/going", summary="What a deletion would take away", responses=KNOWN)
    def going(chamber_id: ChamberId, what: WhatQuery, name: Name) -> Going:
        """In sentences, with its size. Changes nothing."""
        return service.going(what, name, chamber_id)

    @router.post(f"{base}/kept/delete", summary="Delete it", responses=DONE)
    def delete(chamber_id: ChamberId, order: DeleteOrder) -> Going:
        """Only what looking told, and only with its name typed. The journal keeps the fact."""
        return service.delete(order.what, order.name, order.typed, order.mark, chamber_id, order.by)

    @router.get(
        f"{base}/retention", summary="What is made less by itself", responses=responses(UnknownName, StoreError)
    )
    def retention(chamber_id: ChamberId) -> Retention:
        """Nothing, unless somebody said so."""
        service.snapshot(chamber_id)
        return service.retention()

    @router.get(
        f"{base}/retention/ahead", summary="What thinning would touch now",
        responses=responses(UnknownName, ProgramError, StoreError),
    )  # fmt: skip
    def ahead(
        chamber_id: ChamberId,
        days: Annotated[float, Query(description="Days after the end of a session.", examples=[90.0])],
    ) -> ThinningAhead:
        """Sessions, their readings and about how many bytes they take. Changes nothing."""
        service.snapshot(chamber_id)
        return service.thinning_ahead(days)

    @router.put(f"{base}/retention", summary="Set what is made less by itself", responses=DONE)
    def set_retention(chamber_id: ChamberId, order: RetentionOrder) -> Retention:
        """For all chambers of this host."""
        service.set_retention(order.thin_after_days, chamber_id, order.by)
        return service.retention()

    return router
