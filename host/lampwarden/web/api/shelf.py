"""Sheets and plans: listed, read, saved as objects or as files, removed."""

from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Path, Query
from fastapi.responses import PlainTextResponse
from pydantic import BaseModel

from ...domain.chamber import Chamber, Key
from ...domain.file_schema import schema
from ...domain.plan import Plan
from ...domain.program import Program
from ...domain.program_file import parse_as, render
from ...domain.sheet import Sheet
from ...errors import ChangedMeanwhile, NotNow, ProgramError, StoreError, UnknownName
from ...service import SavedPlan, SavedSheet, Service
from . import planning_models as m
from .problems import responses
from .reading import ChamberId

SheetId = Annotated[Key, Path(description="Short name of the sheet.", examples=["ferry-timetable"])]
PlanId = Annotated[Key, Path(description="Short name of the plan.", examples=["ferry-trial"])]
By = Annotated[str, Query(min_length=1, max_length=60, description="Who asks for it.", examples=["Wilma"])]
Old = Annotated[int | None, Query(ge=1, description="An earlier revision; without it the newest.")]
READ = responses(UnknownName, StoreError)
SAVED = responses(UnknownName, NotNow, ChangedMeanwhile, ProgramError, StoreError)
FILE: dict[int | str, dict[str, Any]] = {200: {"description": "The file."}, **READ}
FILES: dict[str, type[BaseModel]] = {"program": Program, "sheet": Sheet, "plan": Plan, "chamber": Chamber}

M = TypeVar("M", bound=BaseModel)


def routes(service: Service) -> APIRouter:
    """The routes of sheets, plans and the schema of their files."""
    router = APIRouter()
    _sheets(router, service)
    _plans(router, service)

    @router.get("/program-schema", tags=["Plans"], summary="Schema of a program file")
    def program_schema() -> dict[str, Any]:
        """JSON Schema (2020-12) of the TOML file of a program, with its own keys."""
        return schema(Program)

    @router.get("/file-schemas/{kind}", tags=["Plans"], summary="Schema of any file", responses=responses(UnknownName))
    def file_schema(kind: Annotated[str, Path(max_length=20, examples=["sheet"])]) -> dict[str, Any]:
        """JSON Schema of the TOML file of a program, sheet, plan or chamber."""
        if kind not in FILES:
            raise UnknownName(f"There is no file of kind '{kind}'; kinds are {', '.join(FILES)}.")
        return schema(FILES[kind])

    return router


def _sheets(router: APIRouter, service: Service) -> None:
    @router.get("/sheets", tags=["Sheets"], summary="All sheets", responses=responses(StoreError))
    def sheets() -> list[m.SheetOut]:
        """The last saved first."""
        return [_sheet(saved) for saved in service.sheets()]

    @router.get("/sheets/{sheet_id}", tags=["Sheets"], summary="One sheet", responses=READ)
    def sheet(sheet_id: SheetId, revision: Old = None) -> m.SheetOut:
        """Every revision is kept, those of removed sheets too."""
        return _sheet(service.sheet(sheet_id, revision))

    @router.get(
        "/sheets/{sheet_id}/toml",
        tags=["Sheets"],
        summary="A sheet as a file",
        response_class=PlainTextResponse,
        responses=FILE,
    )
    def sheet_file(sheet_id: SheetId, revision: Old = None) -> PlainTextResponse:
        """TOML text that can be saved again."""
        return PlainTextResponse(render(service.sheet(sheet_id, revision).sheet))

    @router.put("/sheets/{sheet_id}", tags=["Sheets"], summary="Save a sheet", responses=SAVED)
    def save_sheet(sheet_id: SheetId, order: m.SaveSheet) -> m.Kept:
        """Refused if somebody saved another revision than the one that was changed."""
        sheet = _given(Sheet, order.sheet, order.toml, sheet_id)
        return m.Kept(id=sheet_id, revision=service.save_sheet(sheet, order.by, order.revision))

    @router.delete("/sheets/{sheet_id}", tags=["Sheets"], summary="Remove a sheet", status_code=204, responses=SAVED)
    def remove_sheet(sheet_id: SheetId, by: By) -> None:
        """It leaves the list; its revisions stay. Refused while a plan or a session uses it."""
        service.remove_sheet(sheet_id, by)


def _plans(router: APIRouter, service: Service) -> None:
    def plan_of(chamber_id: str, plan_id: str, revision: int | None = None) -> SavedPlan:
        return saved_plan(service, chamber_id, plan_id, revision)

    @router.get("/chambers/{chamber_id}/plans", tags=["Plans"], summary="Plans for a chamber", responses=READ)
    def plans(chamber_id: ChamberId) -> list[m.PlanOut]:
        """The last saved first."""
        return [_plan(saved) for saved in service.plans(chamber_id)]

    @router.get("/chambers/{chamber_id}/plans/{plan_id}", tags=["Plans"], summary="One plan", responses=READ)
    def plan(chamber_id: ChamberId, plan_id: PlanId, revision: Old = None) -> m.PlanOut:
        """Every revision is kept, those of removed plans too."""
        return _plan(plan_of(chamber_id, plan_id, revision))

    @router.get(
        "/chambers/{chamber_id}/plans/{plan_id}/toml",
        tags=["Plans"],
        summary="A plan as a file",
        response_class=PlainTextResponse,
        responses=FILE,
    )
    def plan_file(chamber_id: ChamberId, plan_id: PlanId, revision: Old = None) -> PlainTextResponse:
        """TOML text that can be saved again."""
        return PlainTextResponse(render(plan_of(chamber_id, plan_id, revision).plan))

    @router.get(
        "/chambers/{chamber_id}/plans/{plan_id}/program",
        tags=["Plans"],
        summary="A plan's program as a file",
        response_class=PlainTextResponse,
        responses=FILE,
    )
    def program_file(chamber_id: ChamberId, plan_id: PlanId, revision: Old = None) -> PlainTextResponse:
        """TOML text for `lampwarden rehearse` and for the order `start`."""
        return PlainTextResponse(render(plan_of(chamber_id, plan_id, revision).plan.program))

    @router.put("/chambers/{chamber_id}/plans/{plan_id}", tags=["Plans"], summary="Save a plan", responses=SAVED)
    def save_plan(chamber_id: ChamberId, plan_id: PlanId, order: m.SavePlan) -> m.Kept:
        """Refused if somebody saved another revision than the one that was changed, or while a start waits for it."""
        plan = _given(Plan, order.plan, order.toml, plan_id)
        if plan.chamber != chamber_id:
            raise ProgramError(f"The plan is for chamber '{plan.chamber}', the address says '{chamber_id}'.")
        return m.Kept(id=plan_id, revision=service.save_plan(plan, order.by, order.revision))

    @router.delete(
        "/chambers/{chamber_id}/plans/{plan_id}",
        tags=["Plans"],
        summary="Remove a plan",
        status_code=204,
        responses=SAVED,
    )
    def remove_plan(chamber_id: ChamberId, plan_id: PlanId, by: By) -> None:
        """It leaves the list; its revisions stay. Refused while a start waits for it or a session runs it."""
        plan_of(chamber_id, plan_id)
        service.remove_plan(plan_id, by)


def saved_plan(service: Service, chamber_id: str, plan_id: str, revision: int | None = None) -> SavedPlan:
    """A plan of this chamber. Raises UnknownName."""
    service.snapshot(chamber_id)
    saved = service.plan(plan_id, revision)
    if saved.plan.chamber != chamber_id:
        raise UnknownName(f"Plan '{plan_id}' is for chamber '{saved.plan.chamber}', not '{chamber_id}'.")
    return saved


def _given(model: type[M], thing: M | None, toml: str | None, name: str) -> M:
    kind = model.__name__.lower()
    if (thing is None) == (toml is None):
        raise ProgramError(f"Give either '{kind}' (an object) or 'toml' (the text of a file), and not both.")
    given = thing if thing is not None else parse_as(model, toml or "", "toml")
    if given.id != name:  # type: ignore[attr-defined]
        raise ProgramError(f"The {kind} is called '{given.id}', the address says '{name}'.")  # type: ignore[attr-defined]
    return given


def _sheet(saved: SavedSheet) -> m.SheetOut:
    return m.SheetOut(sheet=saved.sheet, revision=saved.revision, saved_utc=saved.saved_utc, saved_by=saved.saved_by)


def _plan(saved: SavedPlan) -> m.PlanOut:
    return m.PlanOut(
        chamber_id=saved.plan.chamber,
        plan=saved.plan,
        revision=saved.revision,
        saved_utc=saved.saved_utc,
        saved_by=saved.saved_by,
    )
