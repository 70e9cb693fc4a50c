"""What the API takes and gives around plans: sheets, plans, checks, starts, rehearsals, calibrations."""

from datetime import date, datetime
from typing import Annotated

from pydantic import Field

from ...domain.chamber import Chamber
from ...domain.plan import Plan
from ...domain.sheet import Sheet
from ...service import Calibrated
from . import examples
from .models import In, Out, Who

Revision = Annotated[int | None, Field(ge=1, examples=[3], description="The revision that was changed; null: new.")]
Utc = Annotated[str, Field(examples=["2031-03-03T08:00:00.000Z"])]
Toml = Annotated[str | None, Field(max_length=200_000, description="The same as the text of a file.")]


# --- sheets and plans -----------------------------------------------------------------------------------------------


class SaveSheet(In):
    """Save a sheet: give it either as an object or as the text of a file."""

    by: Who
    revision: Revision = None
    sheet: Sheet | None = Field(default=None, examples=[examples.SHEET])
    toml: Toml = Field(default=None, examples=[examples.SHEET_TOML])


class SavePlan(In):
    """Save a plan: give it either as an object or as the text of a file."""

    by: Who
    revision: Revision = None
    plan: Plan | None = Field(default=None, examples=[examples.PLAN])
    toml: Toml = None


class Kept(Out):
    """It is on disk."""

    id: str = Field(examples=["ferry-trial"])
    revision: int = Field(examples=[4])


class SheetOut(Out):
    """A sheet as it was saved."""

    sheet: Sheet = Field(examples=[examples.SHEET])
    revision: int = Field(examples=[3], description="Give it back when you save a change of this one.")
    saved_utc: Utc
    saved_by: str = Field(examples=["Wilma"])


class PlanOut(Out):
    """A plan as it was saved."""

    chamber_id: str = Field(examples=["demo"])
    plan: Plan = Field(examples=[examples.PLAN])
    revision: int = Field(examples=[3], description="Give it back when you save a change of this one.")
    saved_utc: Utc
    saved_by: str = Field(examples=["Wilma"])


# --- starting -------------------------------------------------------------------------------------------------------


class Yes(In):
    """A person's yes to one caution."""

    key: str = Field(min_length=1, max_length=60, examples=["eyes-light"], description="The caution's own key.")
    text: str = Field(
        default="", max_length=2000, description="What was said yes to; strong peroxide needs it in full."
    )


class Check(In):
    """Ask for all checks, as if these cautions were confirmed."""

    by: Who
    confirmed: tuple[Yes, ...] = Field(default=(), max_length=60)


class StartPlan(Check):
    """Begin a session of a plan."""


class StartLater(Check):
    """Begin a session of a plan at a time to come."""

    at: datetime = Field(examples=["2031-03-03T22:00:00+01:00"], description="With its zone.")


class CheckLine(Out):
    """One check before a start."""

    key: str = Field(examples=["door"])
    title: str = Field(examples=["Door"])
    verdict: str = Field(examples=["fail"], description="pass, caution (it may start, but look) or fail.")
    says: str = Field(examples=["The door is open."])
    remedy: str = Field(examples=["Close it."])
    confirm: str = Field(examples=[""], description="The sentence to say yes to for this line to pass; empty: none.")


class PreflightOut(Out):
    """All checks before a start."""

    chamber_id: str = Field(examples=["demo"])
    plan_id: str = Field(examples=["ferry-trial"])
    may_start: bool = Field(examples=[False])
    lines: tuple[CheckLine, ...]


class PlannedStartOut(Out):
    """A start that was set for later."""

    chamber_id: str = Field(examples=["demo"])
    id: int = Field(examples=[7])
    plan_id: str = Field(examples=["ferry-trial"])
    plan_revision: int = Field(examples=[4])
    at_utc: Utc
    by: str = Field(examples=["Wilma"])
    state: str = Field(examples=["waiting"], description="waiting, started, refused, missed or cancelled.")
    says: str = Field(examples=[""], description="Why, as a sentence.")
    session_id: str | None = Field(examples=[None])


# --- rehearsals -----------------------------------------------------------------------------------------------------


class RehearsedZoneOut(Out):
    """What one zone got in a rehearsal."""

    name: str = Field(examples=["A1"])
    lit_s: float = Field(examples=[7200.4], description="Level-weighted light on record, s.")
    true_lit_s: float = Field(examples=[7200.4], description="What the simulated lamps really gave, s.")
    planned_s: float = Field(examples=[7200.0])
    dose_j_cm2: float = Field(examples=[60.5])


class RehearsedOut(Out):
    """What a rehearsal showed."""

    outcome: str = Field(examples=["completed"])
    cause: str = Field(examples=["All exposures and checkpoints are done."])
    session_s: float = Field(examples=[86400.0])
    run_s: float = Field(examples=[87312.0], description="With all holds, s.")
    air_temp_c_max: float | None = Field(examples=[31.4])
    bank_temp_c_max: float | None = Field(examples=[47.9])
    holds_s: tuple[tuple[str, float], ...] = Field(examples=[(("checkpoint", 720.0),)], description="Longest first.")
    cooling_share: float = Field(examples=[0.0])
    zones: tuple[RehearsedZoneOut, ...]
    journal: tuple[tuple[float, str, str], ...] = Field(
        examples=[((0.0, "began", "Session begun by rehearsal."),)], description="Run time, kind and sentence."
    )


class RehearsalOut(Out):
    """A rehearsal as far as it has got."""

    chamber_id: str = Field(examples=["demo"])
    id: str = Field(examples=["r1"])
    title: str = Field(examples=["Ferry timetable, short trial"])
    by: str = Field(examples=["Wilma"])
    state: str = Field(examples=["running"], description="running, done, failed or cancelled.")
    share: float = Field(examples=[0.42], description="How much of the session is done, 0..1.")
    result: RehearsedOut | None
    error: str = Field(examples=[""], description="Why it failed, as a sentence.")


# --- what was measured ----------------------------------------------------------------------------------------------


class Calibrate(In):
    """Say what was measured or estimated for some zones."""

    by: Who
    zones: dict[str, Calibrated] = Field(
        min_length=1,
        max_length=8,
        examples=[{"A1": {"irradiance_w_m2": 84.0, "calibration": {"how": "estimated", "on": date(2031, 3, 1)}}}],
    )


class CalibrationOut(Out):
    """One calibration of one zone."""

    zone: str = Field(examples=["A1"])
    irradiance_w_m2: float = Field(examples=[84.0])
    how: str = Field(examples=["measured"], description="measured or estimated.")
    instrument: str = Field(examples=["a radiometer, calibrated in 2030"])
    on: str | None = Field(examples=["2031-03-01"])
    at_lit_h: float = Field(examples=[120.5], description="Hours its bank had been lit by then.")
    saved_utc: Utc
    saved_by: str = Field(examples=["Wilma"])


class BankAgeOut(Out):
    """How long one bank has been lit."""

    bank: int = Field(examples=[1])
    lit_h: float = Field(examples=[120.5], description="Level-weighted hours of its most used zone.")
    since_h: float = Field(examples=[20.5], description="Of these, since the oldest calibration among its zones.")
    due: bool = Field(examples=[False], description="Its zones should be measured again.")


class MeasuredOut(Out):
    """A chamber as described and calibrated, and the age of its banks."""

    chamber_id: str = Field(examples=["demo"])
    chamber: Chamber = Field(examples=[examples.CHAMBER])
    banks: tuple[BankAgeOut, ...]
