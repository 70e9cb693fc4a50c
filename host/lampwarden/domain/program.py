"""The program of a session: what each zone gets, when it pauses, and what to do when things go wrong.

All times are session time: seconds that run only while nothing holds the session.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from .chamber import Chamber, Name
from .units import Seconds, dose_j_cm2, lit_s_for_dose

SESSION_S_MAX = 7 * 86400.0
"""Longest program, s. Chosen: a week; reported practice stays within a day or two."""

Moment = Annotated[Seconds, Field(ge=0, le=SESSION_S_MAX)]
Temp = Annotated[float, Field(ge=0, le=125)]
Level = Annotated[float, Field(ge=0.001, le=1), AfterValidator(lambda share: round(share, 3))]


class Part(BaseModel):
    """Base of the program's parts: frozen, no unknown keys, either spelling of the time keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Exposure(Part):
    """Light on one zone from a start until an end or until a dose, at one level."""

    start_s: Moment = Field(default=0.0, alias="start")
    """Session time at which the light begins, s."""
    end_s: Moment | None = Field(default=None, alias="end")
    """Session time at which it ends, s. Give either this or dose_j_cm2."""
    dose_j_cm2: Annotated[float, Field(gt=0, le=100_000)] | None = None
    """Dose that this exposure adds, J/cm2. Give either this or end."""
    level: Level = 1.0
    """Share of full drive, 0.001 to 1, in the board's steps of 0.001."""

    @model_validator(mode="after")
    def _one_end(self) -> "Exposure":
        if (self.end_s is None) == (self.dose_j_cm2 is None):
            raise ValueError("an exposure needs either 'end' or 'dose_j_cm2', and not both")
        if self.end_s is not None and self.end_s <= self.start_s:
            raise ValueError(f"the exposure ends at {self.end_s:g} s, not after its start at {self.start_s:g} s")
        return self

    def planned_lit_s(self, irradiance_w_m2: float) -> float:
        """Level-weighted lit time this exposure is to give, s, on a zone of this irradiance at full level (W/m2)."""
        if self.end_s is not None:
            return (self.end_s - self.start_s) * self.level
        assert self.dose_j_cm2 is not None
        return lit_s_for_dose(self.dose_j_cm2, irradiance_w_m2)

    def planned_end_s(self, irradiance_w_m2: float) -> float:
        """Session time at which this exposure is expected to end, s."""
        return self.end_s if self.end_s is not None else self.start_s + self.planned_lit_s(irradiance_w_m2) / self.level


class ZonePlan(Part):
    """The exposures of one zone, in order of time."""

    zone: Name
    """Name of the chamber's zone."""
    exposures: tuple[Exposure, ...] = ()
    """Not overlapping, ordered by start. Empty: the zone stays dark."""

    @model_validator(mode="after")
    def _in_order(self) -> "ZonePlan":
        for before, after in zip(self.exposures, self.exposures[1:], strict=False):
            if after.start_s < (before.end_s if before.end_s is not None else before.start_s):
                raise ValueError(
                    f"zone '{self.zone}': the exposure starting at {after.start_s:g} s begins before the one"
                    f" starting at {before.start_s:g} s has ended; order them and leave no overlap"
                )
            if before.dose_j_cm2 is not None and after.start_s <= before.start_s:
                raise ValueError(
                    f"zone '{self.zone}': two exposures start at {after.start_s:g} s; start the second after the first"
                )
        return self


class Checkpoint(Part):
    """A pause in the dark to look, measure and photograph."""

    name: Name
    at_s: Moment = Field(alias="at")
    """Session time of the pause, s. 0 is the baseline, before any light."""
    attended: bool = True
    """True: a person must answer. False: pause, allow a fixed camera its photo, and go on."""
    look_at: str = Field(default="The whole sheet through the mask, from straight above.", max_length=500)
    """What to photograph or check, as shown to the person."""
    pause_s: Annotated[Seconds, Field(ge=5, le=3600)] = Field(default=60.0, alias="pause")
    """How long an unattended checkpoint stays, s."""


class Limits(Part):
    """Temperatures that rule the session. Stored in degrees Celsius."""

    air_soft_c: Temp = 35.0
    """Air at or above this: pause to cool."""
    bank_soft_c: Temp = 55.0
    """Any bank at or above this: pause to cool."""
    hysteresis_c: float = Field(default=3.0, ge=0.5, le=30)
    """Go on once this far below the soft limit, K."""
    air_hard_c: Temp = 40.0
    """Air above this: the board cuts the light off by itself and the session ends."""
    bank_hard_c: Temp = 63.0
    """Any bank above this: the same."""
    handling_c: Temp = 32.0
    """A checkpoint calls the person once the air is below this."""

    @model_validator(mode="after")
    def _ordered(self) -> "Limits":
        for what, soft, hard in (
            ("air", self.air_soft_c, self.air_hard_c),
            ("bank", self.bank_soft_c, self.bank_hard_c),
        ):
            if not soft + 1 <= hard:
                raise ValueError(
                    f"{what}_soft_c ({soft:g} °C) must be at least 1 °C below {what}_hard_c ({hard:g} °C),"
                    " or the pause to cool could never come before the cutoff"
                )
        return self


class Rules(Part):
    """What to do without a person."""

    coolings_per_hour_max: int = Field(default=4, ge=0, le=60)
    """More pauses to cool than this within one hour end the session as cut off."""
    after_restart: Literal["ask", "continue"] = "ask"
    """After a crash, a power cut or a lost board: wait for the person, or go on if the gap was short."""
    gap_s_max: Annotated[Seconds, Field(ge=0, le=86400)] = Field(default=600.0, alias="gap_max")
    """Longest gap after which 'continue' may go on by itself, s."""
    unanswered: Literal["wait", "continue"] = "wait"
    """When nobody answers a checkpoint: stay dark, or go on after answer_within."""
    answer_within_s: Annotated[Seconds, Field(ge=60, le=7 * 86400)] = Field(default=3600.0, alias="answer_within")
    """How long to wait for an answer before 'continue' applies, s."""


class Rehearsal(Part):
    """How the simulated chamber behaves when this program is rehearsed. A real chamber ignores it."""

    ambient_c: Temp = 22.0
    """Room temperature."""
    fan_strength: Annotated[float, Field(gt=0, le=1)] = 1.0
    """What the fan still moves, as a share; 0.5 is a clogged filter."""
    fan_stops_s: Moment | None = Field(default=None, alias="fan_stops")
    """Run time at which the fan dies; left out: it does not."""
    answer_after_s: Annotated[Seconds, Field(ge=0, le=86400)] = Field(default=120.0, alias="answer_after")
    """How long the simulated person needs at each attended checkpoint, s."""


class Program(Part):
    """A whole program, as planned by a person and kept with the session."""

    title: Name
    notes: str = Field(default="", max_length=4000)
    zones: tuple[ZonePlan, ...] = Field(min_length=1, max_length=8)
    checkpoints: tuple[Checkpoint, ...] = Field(default=(), max_length=100)
    limits: Limits = Limits()
    rules: Rules = Rules()
    rehearsal: Rehearsal = Rehearsal()
    inspection_level: float = Field(default=0.3, ge=0, le=1)
    """Share of full drive of the white bank while a checkpoint waits with the door closed; 0 leaves it dark."""

    @model_validator(mode="after")
    def _consistent(self) -> "Program":
        seen: set[str] = set()
        for plan in self.zones:
            if plan.zone in seen:
                raise ValueError(f"zone '{plan.zone}' is planned twice; put all its exposures in one [[zones]] table")
            seen.add(plan.zone)
        if not any(plan.exposures for plan in self.zones):
            raise ValueError("no zone has an exposure; give at least one zone light")
        names: set[str] = set()
        last = -1.0
        for checkpoint in self.checkpoints:
            if checkpoint.name in names:
                raise ValueError(f"two checkpoints are called '{checkpoint.name}'; give each its own name")
            if checkpoint.at_s <= last:
                raise ValueError(
                    f"checkpoint '{checkpoint.name}' does not come after the one before it; order them by time"
                )
            names.add(checkpoint.name)
            last = checkpoint.at_s
        return self

    def fits(self, chamber: Chamber) -> list[str]:
        """What is wrong with running this program on that chamber, as sentences; empty if it fits."""
        known = {zone.name: zone for zone in chamber.zones}
        wrong = []
        for plan in self.zones:
            zone = known.get(plan.zone)
            if zone is None:
                wrong.append(f"The chamber has no zone '{plan.zone}'; its zones are {', '.join(known)}.")
                continue
            end_s = 0.0
            for exposure in plan.exposures:
                if exposure.start_s < end_s - 1e-6:
                    wrong.append(
                        f"Zone '{plan.zone}': the dose begun before {exposure.start_s:g} s needs until {end_s:.0f} s"
                        " at the zone's irradiance; start the next exposure later."
                    )
                end_s = exposure.planned_end_s(zone.irradiance_w_m2)
            if end_s > SESSION_S_MAX:
                wrong.append(f"Zone '{plan.zone}' would need {end_s / 3600:.0f} h; programs end within a week.")
        return wrong

    def exposures_of(self, zone: str) -> tuple[Exposure, ...]:
        """The exposures planned for a zone; empty if it is not named."""
        return next((plan.exposures for plan in self.zones if plan.zone == zone), ())

    def planned_lit_s(self, chamber: Chamber) -> tuple[float, ...]:
        """Level-weighted lit time planned per zone of the chamber, s, shape (zones,)."""
        return tuple(sum(e.planned_lit_s(z.irradiance_w_m2) for e in self.exposures_of(z.name)) for z in chamber.zones)

    def planned_dose_j_cm2(self, chamber: Chamber) -> tuple[float, ...]:
        """Dose planned per zone of the chamber, J/cm2, shape (zones,)."""
        lit = self.planned_lit_s(chamber)
        return tuple(dose_j_cm2(z.irradiance_w_m2, s) for z, s in zip(chamber.zones, lit, strict=True))

    def planned_session_s(self, chamber: Chamber) -> float:
        """Session time at which all is expected to be done, s: the last exposure's end or the last checkpoint."""
        ends = [e.planned_end_s(z.irradiance_w_m2) for z in chamber.zones for e in self.exposures_of(z.name)]
        return max([*ends, *(c.at_s for c in self.checkpoints)], default=0.0)
