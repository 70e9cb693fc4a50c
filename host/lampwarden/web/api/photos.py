"""Photos of sheets: sent or taken, read, looked at, and what follows of them."""

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Path, Query, Request, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from ...domain.reading import Reading, Way
from ...errors import LampwardenError, NotNow, PhotoRefused, ProgramError, StoreError, StoreFull, UnknownName
from ...findings.conclude import Conclusions
from ...imaging.instrument import LETTERS_MAX, REPEAT_DE00, decoded, parse_instrument_file
from ...service import Service
from ...service.seen import Look
from ..auth.calls import check_request
from .problems import responses
from .reading import ChamberId, SessionId

PhotoHash = Annotated[str, Path(pattern="^[0-9a-f]{64}$", description="SHA-256 of the photo.", examples=["0" * 64])]
By = Annotated[str, Form(min_length=1, max_length=60, description="Who sends it.", examples=["Wilma"])]
MEDIA = {"JPEG": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff", "HEIC": "image/heic", "WebP": "image/webp"}
TAKEN = responses(UnknownName, NotNow, ProgramError, PhotoRefused, StoreError, StoreFull, LampwardenError)
LOOKED = responses(UnknownName, StoreError)


class PictureOut(BaseModel):
    """One photo of a reading."""

    photo: str = Field(examples=["0" * 64], description="SHA-256 of the photo as it came.")
    drawn: str = Field(examples=["0" * 64], description="Of the same with what was read drawn on it; empty: none.")


class LookOut(BaseModel):
    """One reading: the colours, and what they belong to."""

    reading: Reading
    saved_utc: str = Field(examples=["2031-03-03T14:00:09.000Z"])
    saved_by: str = Field(examples=["Wilma"])
    doses_j_cm2: dict[str, float] = Field(examples=[{"A1": 60.5}], description="Dose of each cell by then, J/cm².")
    pictures: list[PictureOut]


class CameraOrder(BaseModel):
    """Asks the chamber's camera for a photo."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    session: str | None = Field(default=None, max_length=40, examples=["2031-03-03-1"])
    sheet: str | None = Field(default=None, max_length=32, examples=["ferry-timetable"])
    checkpoint: str = Field(default="", max_length=40, examples=["4 h"], description="Empty: the one that waits.")


class InstrumentOrder(BaseModel):
    """A reading by an instrument."""

    model_config = ConfigDict(extra="forbid")

    by: str = Field(min_length=1, max_length=60, examples=["Wilma"])
    checkpoint: str = Field(default="", max_length=40, examples=["4 h"])
    reading: Reading


def routes(service: Service) -> APIRouter:
    """All routes about photos."""
    router = APIRouter(tags=["Photos"])

    @router.post("/chambers/{chamber_id}/photos", summary="Send photos of one moment", status_code=201, responses=TAKEN)
    def send(
        request: Request,
        chamber_id: ChamberId,
        by: By,
        files: Annotated[list[UploadFile], File(description="One photo, or several of the same moment (a bracket).")],
        session: Annotated[str | None, Form(max_length=40, description="The session it belongs to.")] = None,
        sheet: Annotated[str | None, Form(max_length=32, description="The sheet, outside a session.")] = None,
        checkpoint: Annotated[str, Form(max_length=40, description="Empty: the one that waits.")] = "",
        way: Annotated[Way, Form(description="phone, or fixed for a camera that stays in its place.")] = Way.PHONE,
    ) -> LookOut:
        """Reads them and answers within seconds. A photo that cannot be read is kept, and the reading says why."""
        named = {"chamber_id": chamber_id, "session_id": session, "sheet_id": sheet, "checkpoint": checkpoint}
        check_request(request, service, "read_photos", **named)
        photos = [(file.filename or "photo", file.file.read()) for file in files]
        return _look(
            service.read_photos(
                photos,
                by,
                chamber_id=chamber_id,
                session_id=session or None,
                sheet_id=sheet or None,
                checkpoint=checkpoint,
                way=way,
            )
        )

    @router.post("/chambers/{chamber_id}/camera", summary="Take a photo now", status_code=201, responses=TAKEN)
    def camera(chamber_id: ChamberId, order: CameraOrder, request: Request) -> LookOut:
        """With the chamber's own camera, and reads it like one that was sent."""
        named = {"session_id": order.session, "sheet_id": order.sheet, "checkpoint": order.checkpoint}
        check_request(request, service, "take_photo", chamber_id=chamber_id, **named)
        return _look(service.take_photo(chamber_id, order.by, order.session, order.sheet, order.checkpoint))

    @router.get(
        "/chambers/{chamber_id}/photos/{photo}", summary="A photo as it came", response_class=Response,
        responses={200: {"content": {"image/jpeg": {}}, "description": "The photo."}, **LOOKED},
    )  # fmt: skip
    def photo(chamber_id: ChamberId, photo: PhotoHash) -> Response:
        """Byte for byte; or a picture with the cells drawn on it, by its own SHA-256."""
        service.snapshot(chamber_id)
        content, kind = service.photo(photo)
        return Response(content, media_type=MEDIA.get(kind, "application/octet-stream"), headers=_FOREVER)

    @router.get(
        "/chambers/{chamber_id}/sessions/{session_id}/looks",
        summary="All readings of a session",
        responses=responses(UnknownName, NotNow, StoreError),
    )
    def looks(chamber_id: ChamberId, session_id: SessionId) -> list[LookOut]:
        """The first saved first; refused ones and those that another took the place of say so."""
        return [_look(look) for look in service.looks(session_id)]

    @router.get(
        "/chambers/{chamber_id}/sessions/{session_id}/conclusions", summary="What the readings say",
        responses=responses(UnknownName, NotNow, StoreError),
    )  # fmt: skip
    def conclusions(
        chamber_id: ChamberId,
        session_id: SessionId,
        way: Annotated[Way | None, Query(description="Of which way.")] = None,
    ) -> Conclusions:
        """Changes, courses, comparisons and advice, as numbers and in sentences, and what they cannot show."""
        return service.conclusions(session_id, way)

    @router.post(
        "/chambers/{chamber_id}/sessions/{session_id}/instrument", summary="Keep an instrument's reading",
        status_code=201, responses=TAKEN,
    )  # fmt: skip
    def instrument(chamber_id: ChamberId, session_id: SessionId, order: InstrumentOrder) -> LookOut:
        """CIELAB of cells, kept as a source of its own beside photos."""
        return _look(
            service.add_reading(
                order.reading, order.by, chamber_id=chamber_id, session_id=session_id, checkpoint=order.checkpoint
            )
        )

    @router.post(
        "/chambers/{chamber_id}/sessions/{session_id}/instrument-file", summary="Keep an instrument's file",
        status_code=201, responses=TAKEN,
    )  # fmt: skip
    def instrument_file(
        chamber_id: ChamberId,
        session_id: SessionId,
        by: By,
        file: Annotated[UploadFile, File(description="CSV (cell, L, a, b), or CGATS.17 text with CIELAB or spectra.")],
        checkpoint: Annotated[str, Form(max_length=40, description="Empty: the one that waits.")] = "",
        repeat_de00: Annotated[
            float, Form(gt=0, le=10, description="How far readings of one place scatter, ΔE, if no row says.")
        ] = REPEAT_DE00,
    ) -> LookOut:
        """CIELAB of cells under D50, 2° observer; names that are no cell are left out and told as warnings."""
        name, data = (file.filename or "file")[:80], file.file.read(2 * LETTERS_MAX + 1)
        sheet = service.sheet_of(session_id)
        cells = [cell.name for cell in sheet.cells]
        reading = parse_instrument_file(decoded(data), name, sheet.id, cells, repeat_de00)
        return _look(
            service.add_reading(reading, by, chamber_id=chamber_id, session_id=session_id, checkpoint=checkpoint)
        )

    return router


_FOREVER: dict[str, Any] = {"cache-control": "private, max-age=31536000, immutable"}


def _look(look: Look) -> LookOut:
    return LookOut(
        reading=look.reading,
        saved_utc=look.saved_utc,
        saved_by=look.saved_by,
        doses_j_cm2=dict(look.doses_j_cm2),
        pictures=[PictureOut(photo=each.hash, drawn=each.drawn) for each in look.pictures],
    )
