"""Zones and their light: the picture, how each irradiance is known, leakage, hours, and what a person enters. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from ...domain.chamber import Calibration, Chamber, Place, Zone
from ...domain.units import mw_cm2
from ...errors import ProgramError
from ...light.estimate import Estimate, irradiance
from ...service import BankAge, Calibrated
from ...store.records import SavedCalibration
from .. import wording as w
from ..typed import number
from ..wording import Taste

UNITS = {"mW/cm²": 10.0, "W/m²": 1.0}
"""Units an instrument may show, and what makes W/m² of them."""
GRID_MM = 60.0
"""Edge of a zone in the picture if the chamber's file does not say where its light falls."""
IRRADIANCE_W_M2_MAX = 5000.0
"""What a chamber's file takes."""
ESTIMATE: Mapping[str, tuple[str, float, float, str]] = {
    "flux": ("radiant flux", 0.001, 1000, "W"),
    "distance": ("distance", 5, 2000, "mm"),
    "width": ("width", 5, 3000, "mm"),
    "height": ("height", 5, 3000, "mm"),
    "angle": ("viewing angle", 5, 170, "°"),
    "window": ("share", 1, 100, "%"),
}
"""What an estimate needs: its name, lowest and highest value, unit."""


@dataclass(frozen=True, slots=True)
class ZoneRow:
    """One zone."""

    name: str
    bank: str
    mw_cm2: str
    w_m2: str
    known: str
    """How its irradiance is known."""
    measured: bool
    caution: str
    """Why not to trust it, or what to do; empty: nothing."""
    light: str
    """Peak and width of its band."""
    lamp: str
    place: Place
    """Where it is in the picture, mm."""
    share: float
    """Its irradiance as a share of the strongest zone's, 0..1."""


@dataclass(frozen=True, slots=True)
class BankRow:
    """One bank's age."""

    name: str
    zones: str
    lit: str
    since: str
    due: bool
    says: str


@dataclass(frozen=True, slots=True)
class Leaks:
    """Light that falls from one zone into another."""

    head: tuple[str, ...]
    """Zones that receive."""
    rows: tuple[tuple[str, ...], ...]
    """First the zone that gives, then what each other gets."""
    says: str


@dataclass(frozen=True, slots=True)
class OldCalibration:
    """A line of the history."""

    at: str
    zone: str
    value: str
    known: str
    by: str


def zone_rows(chamber: Chamber, ages: Sequence[BankAge]) -> tuple[ZoneRow, ...]:
    """All zones in the chamber's order."""
    due = {age.bank for age in ages if age.due}
    strongest = max(zone.irradiance_w_m2 for zone in chamber.zones)
    places = _places(chamber)
    return tuple(
        _zone(zone, places[zone.name], zone.irradiance_w_m2 / strongest, zone.bank in due) for zone in chamber.zones
    )


def picture_size(chamber: Chamber) -> tuple[float, float]:
    """Width and height that the picture must show, mm, with a margin all around."""
    places = _places(chamber).values()
    left, top = min(p.x_mm for p in places), min(p.y_mm for p in places)
    return max(p.x_mm + p.width_mm for p in places) + left, max(p.y_mm + p.height_mm for p in places) + top


def bank_rows(chamber: Chamber, ages: Sequence[BankAge]) -> tuple[BankRow, ...]:
    """How long each bank has been lit."""
    rows = []
    for age in ages:
        names = [zone.name for zone in chamber.zones if zone.bank == age.bank]
        left_h = chamber.remeasure_after_h - age.since_h
        says = (
            f"Measure zone {w.listed(names)} again: LEDs fade, and the last value is {age.since_h:.0f} h of light old."
            if age.due
            else f"Measure again after another {left_h:.0f} h."
        )
        rows.append(BankRow(f"Bank {age.bank}", w.listed(names), _hours(age.lit_h), _hours(age.since_h), age.due, says))
    return tuple(rows)


def leaks(chamber: Chamber) -> Leaks:
    """The leakage as a table."""
    known = {(leak.from_zone, leak.to_zone): leak.share for leak in chamber.leaks}
    names = [zone.name for zone in chamber.zones]
    rows = tuple(
        (giver, *("—" if giver == taker else _share(known.get((giver, taker))) for taker in names)) for giver in names
    )
    pairs = len(names) * (len(names) - 1)
    missing = pairs - len(known)
    if len(names) == 1:
        says = "One zone alone leaks into no other."
    elif not known:
        says = "No leak was measured, so none is counted. hardware_notes/calibration.md says how to measure them."
    elif missing:
        says = f"{missing} of {pairs} pairs were not measured and count as none."
    else:
        says = f"All {pairs} pairs were measured. Doses of dark cells take them into account."
    return Leaks(tuple(names), rows, says)


def history(saved: Sequence[SavedCalibration], now: datetime, taste: Taste) -> tuple[OldCalibration, ...]:
    """Earlier calibrations, the newest first."""
    return tuple(
        OldCalibration(
            w.clock_text(w.moment(one.utc), now, taste),
            one.zone,
            w.irradiance_text(one.irradiance_w_m2),
            known_words(Calibration.model_validate(one.calibration)),
            one.by,
        )
        for one in saved
    )


def known_words(calibration: Calibration) -> str:
    """How an irradiance is known: 'measured on 3 March 2031 with ...', 'estimated: ...'."""
    on = f" on {calibration.on.day} {calibration.on:%B %Y}" if calibration.on else ""
    if calibration.how == "measured":
        unsure = f", ± {calibration.expanded_u_pct:g} %" if calibration.expanded_u_pct else ""
        return f"measured{on} with {calibration.instrument}{unsure}"
    return f"estimated{on}" + (f": {calibration.instrument}" if calibration.instrument else "")


def measured(
    values: Mapping[str, str], unit: str, level: str, instrument: str, unsure: str, on: str, today: date
) -> dict[str, Calibrated]:
    """What was measured, by zone; zones left empty are left out. Raises FormWrong with a sentence for each field.

    `unsure`: expanded uncertainty in per cent as typed, empty where it is not known.
    """
    wrong: dict[str, str] = {}
    share, day = 1.0, today
    try:
        share = number(level, "level", 1, 100, "%") / 100
    except ProgramError as error:
        wrong["level"] = str(error)
    try:
        day = date.fromisoformat(on)
        if day > today:
            wrong["on"] = "This day is still to come. Give the day it was measured."
    except ValueError:
        wrong["on"] = "Give the day it was measured."
    expanded_u_pct = None
    if unsure.strip():
        try:
            expanded_u_pct = number(unsure, "uncertainty", 0.1, 100, "%")
        except ProgramError as error:
            wrong["unsure"] = str(error)
    if not instrument.strip():
        wrong["instrument"] = "Say what it was measured with, and when that was calibrated."
    found: dict[str, float] = {}
    for zone, text in values.items():
        if text.strip():
            try:
                shown = number(text, "irradiance", 0.01, IRRADIANCE_W_M2_MAX / UNITS[unit], unit)
                found[zone] = shown * UNITS[unit] / share
            except ProgramError as error:
                wrong[f"zone {zone}"] = str(error)
    if not any(text.strip() for text in values.values()):
        wrong["zones"] = "Give a value for at least one zone."
    over = [zone for zone, value in found.items() if value > IRRADIANCE_W_M2_MAX]
    if over and "level" not in wrong:
        wrong["level"] = f"At this level {over[0]} would give {found[over[0]]:.0f} W/m² in full. Check level and unit."
    if wrong:
        raise FormWrong(wrong)
    how = Calibration(how="measured", instrument=instrument.strip(), on=day, expanded_u_pct=expanded_u_pct)
    return {zone: Calibrated(irradiance_w_m2=round(value, 3), calibration=how) for zone, value in found.items()}


def estimated(zones: Sequence[str], typed: Mapping[str, str], on: date) -> tuple[Estimate, dict[str, Calibrated]]:
    """The estimate of what was typed (its keys are those of ESTIMATE), and what to keep for these zones.

    Raises FormWrong with a sentence for each field.
    """
    wrong: dict[str, str] = {}
    given: dict[str, float] = {}
    for key, (what, low, high, unit) in ESTIMATE.items():
        try:
            given[key] = number(typed[key], what, low, high, unit)
        except ProgramError as error:
            wrong[key] = str(error)
    if wrong:
        raise FormWrong(wrong)
    found = irradiance(
        given["flux"],
        given["distance"] / 1000,
        given["width"] * given["height"] * 1e-6,
        viewing_angle_deg=given["angle"],
        window_share=given["window"] / 100,
    )
    if not 0 < found.mean_w_m2 <= IRRADIANCE_W_M2_MAX:
        raise FormWrong({"flux": f"That would be {found.mean_w_m2:.0f} W/m². Check flux, distance and area."})
    rests_on = (
        f"{given['flux']:g} W of light at {given['distance']:g} mm on {given['width']:g} × {given['height']:g} mm,"
        f" {given['angle']:g}° viewing angle, {given['window']:g} % through the window"
    )
    how = Calibration(how="estimated", instrument=rests_on, on=on)
    return found, {zone: Calibrated(irradiance_w_m2=round(found.mean_w_m2, 1), calibration=how) for zone in zones}


def estimate_words(found: Estimate) -> tuple[str, ...]:
    """The estimate in sentences."""
    mean, most = (w.irradiance_text(round(value, 1)) for value in (found.mean_w_m2, found.highest_w_m2))
    return (
        f"Mean over the zone: {mean} if the walls send nothing back, at most {most} if they send everything back.",
        f"Middle {mw_cm2(found.centre_w_m2):.1f} mW/cm², edge {mw_cm2(found.edge_w_m2):.1f} mW/cm².",
        *found.assumptions,
    )


class FormWrong(Exception):
    """Fields that cannot be taken, each with a sentence."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        super().__init__(" ".join(fields.values()))
        self.fields = fields


def _zone(zone: Zone, place: Place, share: float, due: bool) -> ZoneRow:
    how = zone.calibration
    caution = ""
    if how.how == "estimated":
        caution = "An estimate can be off by half. Measure before a dose goes into a record."
    elif due:
        caution = "Measured long ago: its lamps have faded since. Measure again."
    return ZoneRow(
        name=zone.name,
        bank=f"bank {zone.bank}",
        mw_cm2=f"{mw_cm2(zone.irradiance_w_m2):.1f} mW/cm²",
        w_m2=f"{zone.irradiance_w_m2:g} W/m²",
        known=known_words(how),
        measured=how.how == "measured",
        caution=caution,
        light=f"{zone.peak_nm:g} nm, {zone.width_nm:g} nm wide",
        lamp="not given" if zone.lamp_w is None else f"{zone.lamp_w:g} W",
        place=place,
        share=share,
    )


def _places(chamber: Chamber) -> dict[str, Place]:
    """Where the zones are in the picture; in rows of three if the chamber's file does not say it for all."""
    if all(zone.place is not None for zone in chamber.zones):
        return {zone.name: zone.place for zone in chamber.zones if zone.place is not None}
    step, rim = GRID_MM * 1.1, GRID_MM * 0.2
    return {
        zone.name: Place(
            x_mm=rim + index % 3 * step,
            y_mm=rim + index // 3 * step,
            width_mm=GRID_MM,
            height_mm=GRID_MM,
        )
        for index, zone in enumerate(chamber.zones)
    }


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours < 100 else f"{hours:.0f} h"


def _share(share: float | None) -> str:
    return "not measured" if share is None else f"{100 * share:.2g} %"
