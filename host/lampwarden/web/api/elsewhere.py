"""Records from other hosts: taken in, listed, shown."""

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Path, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from ...errors import NotNow, ProgramError, StoreError, StoreFull, UnknownName
from ...record.archive import Archive, Taken
from ...record.gather import Record
from ...record.html import to_html
from ...record.telling import document
from ...service import Service
from .problems import responses
from .records import STANDS_ALONE

Key = Annotated[str, Path(pattern="^[0-9a-f]{16}$", description="As the list names it.", examples=["0" * 16])]
PhotoHash = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the photo.", examples=["0" * 64])]
By = Annotated[str, Form(min_length=1, max_length=60, description="Who takes it in.", examples=["Wilma"])]
SHOWN = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp"}
"""What browsers show; anything else is given as a file."""
KNOWN = responses(UnknownName, ProgramError, StoreError)
FILE: dict[int | str, dict[str, Any]] = {200: {"description": "The file."}}


class TakenOut(BaseModel):
    """One record from elsewhere."""

    key: str = Field(examples=["0" * 16])
    chamber: str = Field(examples=["attic"])
    session: str = Field(examples=["2031-03-03-1"])
    title: str = Field(examples=["Two strips"])
    sheet: str = Field(examples=["Summer timetable"], description="Empty: none was described.")
    began_utc: str = Field(examples=["2031-03-03T08:00:00.000Z"])
    ended_utc: str = Field(examples=["2031-03-04T08:00:00.000Z"], description="Empty: it had not ended.")
    outcome: str = Field(examples=["completed"])
    made_utc: str = Field(examples=["2031-03-05T08:00:00.000Z"], description="When the record was packed.")
    photos: list[str] = Field(examples=[["0" * 64]], description="SHA-256 of each photo and picture.")


class DeleteOrder(BaseModel):
    """Deletes a record from elsewhere."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    typed: str = Field(max_length=80, examples=["2031-03-03-1"], description="Id of its session, typed by a person.")


def routes(service: Service, archive: Archive) -> APIRouter:
    """All routes about records from elsewhere."""
    router = APIRouter(tags=["Record"])

    @router.get("/elsewhere", summary="Records from elsewhere", responses=responses(StoreError))
    def listed() -> list[TakenOut]:
        """The newest session first."""
        return [_out(taken) for taken in archive.all()]

    @router.post(
        "/elsewhere", summary="Take a record in", status_code=201,
        responses=responses(ProgramError, NotNow, StoreError, StoreFull),
    )  # fmt: skip
    def take(
        by: By, file: Annotated[UploadFile, File(description="A bag (BagIt, RFC 8493) in a zip file.")]
    ) -> TakenOut:
        """Checks each file of a bag against its hash, and keeps it. Nothing of it is run or changed."""
        taken = archive.take(file.file, (file.filename or "The bag")[:80])
        record = taken.record
        service.report(
            "record_taken",
            f"The record of session {record.id} of chamber '{record.chamber_id}' came from elsewhere, taken in by {by}"
            f" (key {taken.key}).",
        )
        return _out(taken)

    @router.post(
        "/elsewhere/{key}/delete", summary="Delete one", responses=responses(UnknownName, ProgramError, StoreError)
    )
    def delete(key: Key, order: DeleteOrder) -> TakenOut:
        """Here; it is still where it came from."""
        out = _out(archive.one(key))
        if order.typed.strip() != out.session:
            raise ProgramError(f"Type '{out.session}' to delete it. Nothing was deleted.")
        archive.remove(key)
        text = f"Deleted by {order.by}: the record of session {out.session} of '{out.chamber}' from elsewhere."
        service.report("record_deleted", text)
        return out

    @router.get("/elsewhere/{key}/record.json", summary="Its data", responses=KNOWN)
    def as_json(key: Key) -> Record:
        """As they were where it was made."""
        return archive.one(key).record

    @router.get(
        "/elsewhere/{key}/record.html", summary="Its page", response_class=Response,
        responses={**FILE, **KNOWN},
    )  # fmt: skip
    def as_html(key: Key) -> Response:
        """Told anew from its data, not the page that came in the bag; no script, pictures inside."""
        taken = archive.one(key)

        def picture(name: str) -> bytes | None:
            found = archive.photo(taken, name)
            return found[0] if found is not None else None

        page = to_html(document(taken.record), picture)
        return Response(page, media_type="text/html; charset=utf-8", headers=STANDS_ALONE)

    @router.get(
        "/elsewhere/{key}/photos/{photo}", summary="One of its photos", response_class=Response,
        responses={**FILE, **KNOWN},
    )  # fmt: skip
    def photo(key: Key, photo: PhotoHash) -> Response:
        """As it came, by its SHA-256."""
        found = archive.photo(archive.one(key), photo)
        if found is None:
            raise UnknownName(f"This record has no photo '{photo}'.")
        content, ending = found
        if ending in SHOWN:
            return Response(content, media_type=SHOWN[ending], headers=STANDS_ALONE)
        named = {"content-disposition": f'attachment; filename="{photo[:16]}.{_ENDINGS.get(ending, "bin")}"'}
        return Response(content, media_type="application/octet-stream", headers=STANDS_ALONE | named)

    return router


_ENDINGS = {".tif": "tif", ".heic": "heic"}


def _out(taken: Taken) -> TakenOut:
    record = taken.record
    return TakenOut(
        key=taken.key,
        chamber=record.chamber_id,
        session=record.id,
        title=record.title,
        sheet=record.sheet.title if record.sheet else "",
        began_utc=record.began_utc,
        ended_utc=record.ended_utc,
        outcome=record.outcome,
        made_utc=record.made_utc,
        photos=list(record.photos()),
    )
