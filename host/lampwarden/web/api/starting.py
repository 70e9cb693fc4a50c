"""From a saved plan to a session: checks, start, start later, rehearsals, and what was measured of the chamber."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Path

from ...errors import NotNow, ProgramError, StoreError, StoreFull, UnknownName
from ...service import Confirmed, PlannedStart, Preflight, Rehearsal, Service
from . import planning_models as m
from .models import Order, Receipt
from .problems import responses
from .reading import ChamberId
from .shelf import PlanId, saved_plan

StartId = Annotated[int, Path(ge=1, le=2**53, examples=[7])]
RehearsalId = Annotated[str, Path(max_length=20, examples=["r1"])]
READ = responses(UnknownName, StoreError)
ORDERED = responses(UnknownName, NotNow, ProgramError, StoreError, StoreFull)
HERE = "/chambers/{chamber_id}"
PLAN = f"{HERE}/plans/{{plan_id}}"


def routes(service: Service) -> APIRouter:
    """The routes of starts, rehearsals and calibrations."""
    router = APIRouter()
    _starts(router, service)
    _rehearsals(router, service)
    _measured(router, service)
    return router


def _starts(router: APIRouter, service: Service) -> None:
    @router.post(f"{PLAN}/preflight", tags=["Starts"], summary="All checks before a start", responses=ORDERED)
    def preflight(chamber_id: ChamberId, plan_id: PlanId, order: m.Check) -> m.PreflightOut:
        """Writes the plan's limits to the board at rest and reads them back. Nothing is lit."""
        plan = saved_plan(service, chamber_id, plan_id).plan
        return _preflight(chamber_id, plan_id, service.preflight(chamber_id, plan, _yes(order)))

    @router.post(f"{PLAN}/start", tags=["Starts"], summary="Begin a session", status_code=201, responses=ORDERED)
    def start(chamber_id: ChamberId, plan_id: PlanId, order: m.StartPlan) -> Receipt:
        """Refused with everything that forbids it. The session keeps plan, sheet and what was confirmed."""
        saved_plan(service, chamber_id, plan_id)
        session_id = service.start_plan(plan_id, order.by, _yes(order))
        return Receipt(chamber_id=chamber_id, session_id=session_id, order="start")

    @router.post(
        f"{PLAN}/start-later", tags=["Starts"], summary="Set a start for later", status_code=201, responses=ORDERED
    )
    def start_later(chamber_id: ChamberId, plan_id: PlanId, order: m.StartLater) -> m.PlannedStartOut:
        """At its time the checks are made anew. A start that fails them, or is too late, lights nothing and says so."""
        saved_plan(service, chamber_id, plan_id)
        return _start(service.start_later(plan_id, order.at, order.by, _yes(order)))

    @router.get(f"{HERE}/starts", tags=["Starts"], summary="Starts set for later", responses=READ)
    def starts(chamber_id: ChamberId) -> list[m.PlannedStartOut]:
        """With what came of them, the latest set first."""
        return [_start(start) for start in service.planned_starts(chamber_id)]

    @router.post(f"{HERE}/starts/{{start_id}}/cancel", tags=["Starts"], summary="Cancel a start", responses=ORDERED)
    def cancel(chamber_id: ChamberId, start_id: StartId, order: Order) -> m.PlannedStartOut:
        """Possible until it begins."""
        service.snapshot(chamber_id)
        if service.planned_start(start_id).chamber_id != chamber_id:
            raise UnknownName(f"There is no planned start {start_id} in chamber '{chamber_id}'.")
        service.cancel_start(start_id, order.by)
        return _start(service.planned_start(start_id))


def _rehearsals(router: APIRouter, service: Service) -> None:
    def one(chamber_id: str, rehearsal_id: str) -> Rehearsal:
        service.snapshot(chamber_id)
        found = service.rehearsal(rehearsal_id)
        if found.chamber_id != chamber_id:
            raise UnknownName(f"There is no rehearsal '{rehearsal_id}' for chamber '{chamber_id}'.")
        return found

    @router.post(f"{PLAN}/rehearse", tags=["Rehearsals"], summary="Rehearse a plan", status_code=202, responses=ORDERED)
    def rehearse(chamber_id: ChamberId, plan_id: PlanId, order: Order) -> m.RehearsalOut:
        """On a simulated chamber, in the background, one at a time. Ask for it until it is done."""
        saved_plan(service, chamber_id, plan_id)
        return _rehearsal(service.rehearse(plan_id, order.by))

    @router.get(f"{HERE}/rehearsals/{{rehearsal_id}}", tags=["Rehearsals"], summary="A rehearsal", responses=READ)
    def rehearsal(chamber_id: ChamberId, rehearsal_id: RehearsalId) -> m.RehearsalOut:
        """As far as it has got; the last twenty since the daemon started are kept."""
        return _rehearsal(one(chamber_id, rehearsal_id))

    @router.post(
        f"{HERE}/rehearsals/{{rehearsal_id}}/cancel", tags=["Rehearsals"], summary="End a rehearsal", responses=READ
    )
    def cancel(chamber_id: ChamberId, rehearsal_id: RehearsalId, order: Order) -> m.RehearsalOut:
        """One that is over stays as it is."""
        one(chamber_id, rehearsal_id)
        service.cancel_rehearsal(rehearsal_id)
        return _rehearsal(service.rehearsal(rehearsal_id))


def _measured(router: APIRouter, service: Service) -> None:
    def measured(chamber_id: str) -> m.MeasuredOut:
        return m.MeasuredOut(
            chamber_id=chamber_id,
            chamber=service.chamber(chamber_id),
            banks=tuple(m.BankAgeOut(**asdict(age)) for age in service.lit_hours(chamber_id)),
        )

    @router.get(f"{HERE}/described", tags=["Chamber"], summary="The chamber as described", responses=READ)
    def described(chamber_id: ChamberId) -> m.MeasuredOut:
        """With its newest calibrations, and how long its banks have been lit."""
        return measured(chamber_id)

    @router.get(f"{HERE}/calibrations", tags=["Chamber"], summary="All calibrations", responses=READ)
    def calibrations(chamber_id: ChamberId) -> list[m.CalibrationOut]:
        """The newest first. The newest of a zone counts."""
        return [
            m.CalibrationOut(
                zone=saved.zone,
                irradiance_w_m2=saved.irradiance_w_m2,
                how=saved.calibration["how"],
                instrument=saved.calibration["instrument"],
                on=saved.calibration.get("on"),
                at_lit_h=saved.calibration["at_lit_h"],
                saved_utc=saved.utc,
                saved_by=saved.by,
            )
            for saved in service.calibrations(chamber_id)
        ]

    @router.post(
        f"{HERE}/calibrations", tags=["Chamber"], summary="Calibrate zones", status_code=201, responses=ORDERED
    )
    def calibrate(chamber_id: ChamberId, order: m.Calibrate) -> m.MeasuredOut:
        """Sessions begun from now on reckon with it. Refused during a session."""
        service.calibrate(chamber_id, order.zones, order.by)
        return measured(chamber_id)


def _yes(order: m.Check) -> Sequence[Confirmed]:
    return tuple(Confirmed(yes.key, order.by, yes.text) for yes in order.confirmed)


def _preflight(chamber_id: str, plan_id: str, found: Preflight) -> m.PreflightOut:
    lines = tuple(m.CheckLine(**asdict(line)) for line in found.lines)
    return m.PreflightOut(chamber_id=chamber_id, plan_id=plan_id, may_start=found.may_start, lines=lines)


def _start(start: PlannedStart) -> m.PlannedStartOut:
    return m.PlannedStartOut(**{name: getattr(start, name) for name in m.PlannedStartOut.model_fields})


def _rehearsal(rehearsal: Rehearsal) -> m.RehearsalOut:
    return m.RehearsalOut.model_validate(asdict(rehearsal))
