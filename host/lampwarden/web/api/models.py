"""What the API takes and gives. Units stand in the names; a missing value is null."""

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from ...domain.chamber import Zone
from ...domain.program import Program
from . import examples

Who = Annotated[
    str,
    Field(min_length=1, max_length=60, examples=["Wilma"], description="Who gives the order; stands in the journal."),
]


class Out(BaseModel):
    """Base of all answers."""

    model_config = ConfigDict(frozen=True)


class In(BaseModel):
    """Base of all request bodies: unknown keys are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")


# --- orders ---------------------------------------------------------------------------------------------------------


class Start(In):
    """Begin a session. Give the program either as an object or as the text of a program file."""

    by: Who
    program: Program | None = Field(default=None, examples=[examples.PROGRAM])
    toml: str | None = Field(default=None, max_length=200_000, examples=[examples.PROGRAM_TOML])


class Order(In):
    """An order that needs no more than a name."""

    by: Who


class End(In):
    """End the session for good."""

    by: Who
    why: str = Field(default="", max_length=500, examples=["The sheet curls at A2."])


class Answer(In):
    """Answer the checkpoint that waits."""

    by: Who
    checkpoint: str = Field(min_length=1, max_length=40, examples=["4 h"])
    note: str = Field(default="", max_length=500, examples=["A1 a little lighter than the control."])


class Note(In):
    """A line for the journal."""

    by: Who
    text: str = Field(min_length=1, max_length=2000, examples=["Fan cleaned before the start."])


class Plan(Start):
    """Replace what is still to come. What lies in the past must stay as it was."""


class Receipt(Out):
    """The order was carried out, and its journal lines are on disk."""

    chamber_id: str = Field(examples=["demo"])
    session_id: str | None = Field(examples=["2031-03-03-1"], description="The session it concerned, if any.")
    order: str = Field(examples=["hold"])


# --- the chamber ----------------------------------------------------------------------------------------------------


class Health(Out):
    """That all is well."""

    at_work: bool = Field(examples=[True], description="Every chamber is minded, and the journal reaches the disk.")


class Brief(Out):
    """One chamber in a list."""

    chamber_id: str = Field(examples=["demo"])
    title: str = Field(examples=["Demo chamber"])
    href: str = Field(examples=["/api/chambers/demo"])
    state: str = Field(examples=["Lamps are lit"], description="The state in words, as the page says it.")
    session_id: str | None = Field(examples=["2031-03-03-1"])


class Readings(Out):
    """What the board reported last."""

    state: str = Field(examples=["lit"], description="dark, ready, lit or tripped.")
    trip: str | None = Field(examples=[None], description="The trip that is latched, in words.")
    air_temp_c: float | None = Field(examples=[28.4])
    humidity_pct: float | None = Field(examples=[31.2])
    bank_temps_c: tuple[float | None, ...] = Field(examples=[(41.2, 40.7, 39.9)], description="One entry a bank.")
    zone_levels: tuple[float, ...] = Field(
        examples=[(1.0, 1.0, 1.0, 1.0, 0.0, 0.0)], description="Light of each zone now, share of full drive."
    )
    inspection: float = Field(examples=[0.0])
    fan: float = Field(examples=[1.0])
    door_open: bool = Field(examples=[False])
    stop_pressed: bool = Field(examples=[False])
    uptime_s: float = Field(examples=[4212.0])
    heartbeat_left_s: float = Field(examples=[2.9], description="Time left until it goes dark without the host, s.")


class BoardOut(Out):
    """The board as last seen."""

    answers: bool = Field(examples=[True])
    trouble: str | None = Field(examples=[None], description="Why it does not answer, as a sentence.")
    unique_id: str | None = Field(examples=["e661640843856b2f"])
    firmware: str | None = Field(examples=["0.01"])
    readings: Readings | None = Field(description="Null: never read. Old while `answers` is false.")


class HoldOut(Out):
    """One reason that keeps the session dark."""

    reason: str = Field(examples=["cooling"])
    since_s: float = Field(examples=[5213.0], description="Run time at which it began, s.")
    why: str = Field(examples=["Air is 35.1 °C; the lamps wait until it is below 32.0 °C."])
    needs_person: bool = Field(examples=[False])


class CheckpointOut(Out):
    """The checkpoint that waits."""

    name: str = Field(examples=["4 h"])
    look_at: str = Field(examples=["The whole sheet through the mask, from straight above."])
    attended: bool = Field(examples=[True])
    reached_s: float = Field(examples=[14763.0], description="Run time, s.")
    called_s: float | None = Field(
        examples=[14764.0], description="Null while the air is too warm to handle the sheet."
    )


class ZoneOut(Out):
    """One zone in this session."""

    name: str = Field(examples=["A2"])
    asked_level: float = Field(examples=[1.0])
    lit_s: float = Field(examples=[7200.0], description="Level-weighted light so far, s.")
    planned_s: float = Field(examples=[14400.0])
    left_s: float = Field(examples=[7200.0], description="Time its lamps will still be on, s.")
    dose_j_cm2: float = Field(examples=[63.4])
    planned_j_cm2: float = Field(examples=[126.7])
    done: bool = Field(examples=[False])


class Current(Out):
    """The session of a chamber: under way, or the last one since the daemon started."""

    chamber_id: str = Field(examples=["demo"])
    session_id: str = Field(examples=["2031-03-03-1"])
    title: str = Field(examples=["Ferry timetable, light ladder"])
    phase: str = Field(examples=["held"], description="planned, running, held or ended.")
    outcome: str = Field(examples=[""], description="completed, ended by person, cut off; empty before the end.")
    cause: str = Field(examples=[""])
    began_utc: str = Field(examples=["2031-03-03T08:00:00.000Z"])
    run_s: float = Field(examples=[15010.0], description="Since it began, holds included, s.")
    session_s: float = Field(examples=[14400.0], description="Session time: runs only while nothing holds, s.")
    end_left_s: float | None = Field(examples=[72000.0], description="Session time still to come, s; null at the end.")
    next_checkpoint: str | None = Field(examples=["8 h"])
    next_checkpoint_left_s: float | None = Field(examples=[14400.0])
    holds: tuple[HoldOut, ...]
    checkpoint: CheckpointOut | None
    zones: tuple[ZoneOut, ...]
    program: Program = Field(description="The program as it stands now, changes included.")


class ChamberOut(Out):
    """Everything about a chamber at one moment."""

    chamber_id: str = Field(examples=["demo"])
    title: str = Field(examples=["Demo chamber"])
    number: int = Field(examples=[4821], description="Rises with every look at the board.")
    utc: str = Field(examples=["2031-03-03T12:10:10.000Z"])
    state: str = Field(examples=["Your turn: photo “4 h”"])
    zones: tuple[Zone, ...] = Field(description="The zones as fitted.")
    inspection: bool = Field(examples=[True], description="A white inspection bank is fitted.")
    board: BoardOut
    asked_levels: tuple[float, ...] = Field(examples=[(0.0,) * 6], description="Light asked of the board.")
    session: Current | None
    storage_trouble: str | None = Field(examples=[None])


# --- the record -----------------------------------------------------------------------------------------------------


class Saved(Out):
    """A session in the record."""

    chamber_id: str = Field(examples=["demo"])
    session_id: str = Field(examples=["2031-03-03-1"])
    title: str = Field(examples=["Ferry timetable, light ladder"])
    began_utc: str = Field(examples=["2031-03-03T08:00:00.000Z"])
    ended_utc: str | None = Field(examples=["2031-03-04T08:13:07.000Z"])
    outcome: str | None = Field(examples=["completed"])
    cause: str | None = Field(examples=["All exposures and checkpoints are done."])


class SavedInFull(Saved):
    """A session in the record with its program, chamber, plan and sheet as they were when it began."""

    program: dict[str, Any] = Field(examples=[examples.PROGRAM])
    chamber: dict[str, Any] = Field(examples=[{"id": "demo", "title": "Demo chamber"}])
    plan_id: str | None = Field(examples=["ferry-trial"], description="Null: begun from a bare program.")
    plan: dict[str, Any] | None = Field(examples=[examples.PLAN])
    sheet: dict[str, Any] | None = Field(examples=[examples.SHEET])


class LineOut(Out):
    """One line of the journal."""

    chamber_id: str = Field(examples=["demo"])
    session_id: str | None = Field(examples=["2031-03-03-1"])
    seq: int = Field(examples=[118], description="Place in the journal, from 1, without gaps.")
    kind: str = Field(examples=["exposure_done"])
    run_s: float = Field(examples=[7442.0])
    utc: str = Field(examples=["2031-03-03T10:04:02.000Z"])
    text: str = Field(examples=["Zone A1: exposure 1 done after 2 h of full light."])
    data: dict[str, Any] = Field(examples=[{"zone": 0, "name": "A1", "exposure": 0, "lit_s": 7200.0}])


class Journal(Out):
    """Lines of the journal, oldest first."""

    chamber_id: str = Field(examples=["demo"])
    lines: tuple[LineOut, ...]
    next_after_seq: int = Field(examples=[118], description="Ask again with this as after_seq for what came later.")


class Stretch(Out):
    """Readings of one short stretch of a session."""

    run_s: float = Field(examples=[3601.5], description="Mean run time of its readings, s.")
    air_temp_c_min: float | None = Field(examples=[27.8])
    air_temp_c_mean: float | None = Field(examples=[27.9])
    air_temp_c_max: float | None = Field(examples=[28.0])
    humidity_pct_mean: float | None = Field(examples=[31.4])
    bank_temps_c_mean: tuple[float | None, ...] = Field(examples=[(40.9, 40.5, 39.8)])
    bank_temps_c_max: tuple[float | None, ...] = Field(examples=[(41.2, 40.7, 39.9)])
    door_open: bool = Field(examples=[False], description="The door stood open at any reading of the stretch.")


class Course(Out):
    """The readings of a session, thinned for a chart."""

    chamber_id: str = Field(examples=["demo"])
    session_id: str = Field(examples=["2031-03-03-1"])
    stretches: tuple[Stretch, ...]
