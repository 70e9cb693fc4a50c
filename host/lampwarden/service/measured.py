"""What is known of a chamber by measuring: its calibrations, how long its banks were lit, how its air warmed."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from pydantic import Field

from ..domain.chamber import Calibration, Chamber, Part, Zone
from ..errors import NotNow, ProgramError
from ..keeper import Clock, Keeper
from ..light.forecast import POINTS_MAX, SESSIONS_MAX, Series
from ..store.calibrations import Calibrations
from ..store.records import Batch, SavedCalibration
from ..store.records import Session as SavedSession
from ..store.store import Store
from .base import Base, certain


class Calibrated(Part):
    """What was found for one zone."""

    irradiance_w_m2: float = Field(gt=0, le=5000)
    """Irradiance at the sheet at full level, W/m2."""
    calibration: Calibration


@dataclass(frozen=True, slots=True)
class BankAge:
    """How long one bank has been lit."""

    bank: int
    lit_h: float
    """Level-weighted hours of its most used zone, over all sessions."""
    since_h: float
    """Of these, hours since the oldest calibration among its zones."""
    due: bool
    """Its zones should be measured again: more than the chamber's remeasure_after_h."""


class Measured(Base):
    """The part of the service that knows what was measured."""

    def __init__(self, store: Store, clock: Clock) -> None:
        super().__init__(store, clock)
        self._calibrations = Calibrations(store)

    def chamber(self, chamber_id: str) -> Chamber:
        """The chamber with its newest calibrations. Raises UnknownName."""
        return self._keeper(chamber_id).chamber

    def calibrations(self, chamber_id: str) -> list[SavedCalibration]:
        """All calibrations of a chamber, the newest first. Raises UnknownName."""
        self._keeper(chamber_id)
        return self._calibrations.history(chamber_id)

    def calibrate(self, chamber_id: str, found: Mapping[str, Calibrated], by: str) -> None:
        """Keeps what was found for some zones; sessions begun from now on reckon with it.

        The hours its bank was lit are filled in. Raises NotNow during a session, ProgramError for a zone the chamber
        does not have or for none at all, UnknownName.
        """
        keeper = self._keeper(chamber_id)
        unknown = sorted(set(found) - {zone.name for zone in keeper.chamber.zones})
        if unknown or not found:
            known = ", ".join(zone.name for zone in keeper.chamber.zones)
            what = f"The chamber has no zone '{unknown[0]}'" if unknown else "No zone was given"
            raise ProgramError(f"{what}; its zones are {known}.")
        with self._starting:
            if self._store.open_session(chamber_id) is not None:
                raise NotNow("A session is under way, and its doses rest on the present calibration. End it first.")
            lit_h = {age.bank: age.lit_h for age in self.lit_hours(chamber_id)}
            said, rows = [], {}
            for zone in keeper.chamber.zones:
                if zone.name not in found:
                    continue
                new = found[zone.name]
                how = new.calibration.model_copy(update={"at_lit_h": round(lit_h[zone.bank], 3)})
                rows[zone.name] = (new.irradiance_w_m2, how.model_dump(mode="json", exclude_none=True))
                said.append(f"{zone.name} {new.irradiance_w_m2:g} W/m², {how.how} (was {zone.irradiance_w_m2:g})")
            text = f"Calibration by {by}: {'; '.join(said)}."
            line = self._line(chamber_id, "calibrated", text, {"by": by, "zones": {z: v for z, (v, _) in rows.items()}})
            self._calibrations.add(chamber_id, rows, by, line.utc, line)
            certain(keeper.describe(self._with_calibrations(keeper.chamber)))

    def lit_hours(self, chamber_id: str) -> tuple[BankAge, ...]:
        """How long each bank has been lit, by number. Raises UnknownName."""
        chamber = self._keeper(chamber_id).chamber
        lit_h: dict[int, float] = {}
        for _, bank, lit_s in self._store.lit_s(chamber_id):
            lit_h[bank] = max(lit_h.get(bank, 0.0), lit_s / 3600)
        ages = []
        for bank in sorted({zone.bank for zone in chamber.zones}):
            hours = lit_h.get(bank, 0.0)
            since_h = hours - _measured_at_h(chamber, bank)
            ages.append(BankAge(bank, hours, since_h, since_h > chamber.remeasure_after_h))
        return tuple(ages)

    def remind(self, chamber_id: str) -> None:
        """A line in the journal for each bank that became due for measuring: once until it is measured."""
        chamber = self._keeper(chamber_id).chamber
        told = self._store.said(chamber_id, "remeasure_due") or {}
        banks = {int(bank): at_h for bank, at_h in told.get("banks", {}).items()}
        due = [age for age in self.lit_hours(chamber_id) if age.due]
        fresh = [age for age in due if banks.get(age.bank) != _measured_at_h(chamber, age.bank)]
        if not fresh:
            return
        each = ", ".join(f"bank {age.bank} for {age.since_h:.0f} h" for age in fresh)
        text = (
            f"Lit since the last calibration: {each}, longer than {chamber.remeasure_after_h:g} h. LEDs fade: measure"
            " these zones again."
        )
        data = {"banks": {str(age.bank): _measured_at_h(chamber, age.bank) for age in due}}
        self._store.commit(Batch(None, [self._line(chamber_id, "remeasure_due", text, data)]))

    def air_history(self, chamber_id: str, limit: int = SESSIONS_MAX) -> tuple[Series, ...]:
        """Air and levels of earlier sessions, oldest first, for the forecast; at most `limit` sessions.

        Sessions under other zones than the chamber has now are left out. Raises UnknownName.
        """
        names = [zone.name for zone in self._keeper(chamber_id).chamber.zones]
        sessions = [
            session
            for session in self._store.sessions(chamber_id, limit)
            if [zone.get("name") for zone in session.chamber.get("zones", ())] == names
        ]
        found = (self._series(session, len(names)) for session in reversed(sessions))
        return tuple(series for series in found if len(series.run_s))

    def _series(self, session: SavedSession, zones: int) -> Series:
        stretches = [s for s in self._store.readings(session.id, POINTS_MAX) if s.air_temp_c_mean is not None]
        changes = self._store.levels(session.id)
        at_s = np.array([run_s for run_s, _ in changes])
        # Before the first change, at index 0 here, all is dark.
        levels = np.array([[0.0] * zones, *(data["levels"] for _, data in changes)])
        run_s = np.array([stretch.run_s for stretch in stretches])
        return Series(
            run_s, np.array([s.air_temp_c_mean for s in stretches]), levels[np.searchsorted(at_s, run_s, side="right")]
        )

    def _take_calibrations(self, keeper: Keeper) -> None:
        """Gives a keeper that does not run yet the newest calibrations, unless its chamber's file has a later one."""
        keeper.chamber = self._with_calibrations(keeper.chamber)

    def _with_calibrations(self, chamber: Chamber) -> Chamber:
        newest = self._calibrations.newest(chamber.id)
        return chamber.model_copy(update={"zones": tuple(_calibrated(zone, newest) for zone in chamber.zones)})


def _calibrated(zone: Zone, newest: Mapping[str, SavedCalibration]) -> Zone:
    saved = newest.get(zone.name)
    if saved is None:
        return zone
    how = Calibration.model_validate(saved.calibration)
    day = how.on.isoformat() if how.on else saved.utc[:10]
    if zone.calibration.on is not None and zone.calibration.on.isoformat() > day:
        return zone  # the chamber's file was brought up to date since
    return zone.model_copy(update={"irradiance_w_m2": saved.irradiance_w_m2, "calibration": how})


def _measured_at_h(chamber: Chamber, bank: int) -> float:
    """Lit hours at the oldest calibration among a bank's zones."""
    return min(zone.calibration.at_lit_h for zone in chamber.zones if zone.bank == bank)
