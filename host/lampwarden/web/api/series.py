"""Series of sheets: one treatment over several of them."""

from collections.abc import Iterator
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, Field

from ...errors import StoreError, UnknownName
from ...record.spreadsheet import MARK, csv_text
from ...service import Service
from ...service.series import Series
from .problems import responses

Name = Annotated[str, Query(min_length=1, max_length=40, description="Of the series.", examples=["ferry timetables"])]
KNOWN = responses(UnknownName, StoreError)
HEAD = (
    "series", "treatment", "sheet", "session", "called", "dose_j_cm2", "more_than_control_de00", "u_de00", "low_de00",
    "high_de00",
)  # fmt: skip


class SeriesNames(BaseModel):
    """The series there are."""

    names: list[str] = Field(examples=[["ferry timetables"]])


def routes(service: Service) -> APIRouter:
    """All routes about series."""
    router = APIRouter(tags=["Series"])

    @router.get("/series", summary="Series of sheets", responses=responses(StoreError))
    def names() -> SeriesNames:
        """As sheets name them."""
        return SeriesNames(names=list(service.series_names()))

    @router.get("/series/effects", summary="Treatments over the sheets of a series", responses=KNOWN)
    def effects(name: Name) -> Series:
        """Each treatment's effect on each sheet against that sheet's control, and their mean: the sheet is the unit."""
        return service.series(name)

    @router.get(
        "/series/effects.csv", summary="The same as CSV", response_class=Response,
        responses={200: {"content": {"text/csv": {}}, "description": "The table."}, **KNOWN},
    )  # fmt: skip
    def as_csv(name: Name) -> Response:
        """A row a treatment and sheet, then the mean over sheets; bounds are 95 %."""
        named = {"content-disposition": 'attachment; filename="series.csv"'}
        return Response(MARK + csv_text(HEAD, _rows(service.series(name))), media_type="text/csv", headers=named)

    return router


def _rows(series: Series) -> Iterator[tuple[object, ...]]:
    sessions = {sheet.id: sheet.session_id for sheet in series.sheets}
    for of in series.treatments:
        for each in of.effects:
            yield (
                series.name, of.treatment, each.sheet, sessions[each.sheet], each.arm, each.dose_j_cm2, each.difference,
                each.u, each.low, each.high,
            )  # fmt: skip
        if of.mean is not None:
            count = f"mean of {len(of.effects)} sheets"
            yield (series.name, of.treatment, count, None, None, None, of.mean, None, of.low, of.high)
