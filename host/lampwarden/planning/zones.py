"""What each zone gives under a plan, and how warm it gets."""

from collections.abc import Mapping
from dataclasses import dataclass

from ..domain.chamber import Chamber, Zone
from ..domain.plan import Plan
from ..domain.units import dose_j_cm2, mj_m2
from ..light.cooling import Cooling
from ..light.evidence import Statement
from ..light.forecast import AirModel, Forecast
from ..light.heating import SheetRise, sheet_rise
from ..light.leakage import Leakage, leakage
from ..light.photometry import illuminance_lx
from ..light.photons import photon_dose_mol_m2
from ..light.spectrum import Spectrum, of_band
from ..trial.compare import Course
from .power import zone_power_w


@dataclass(frozen=True, slots=True)
class ZoneReview:
    """What one zone of the chamber gives under the plan."""

    zone: str
    dose_j_cm2: float
    dose_mj_m2: float
    photon_mol_m2: float
    irradiance_w_m2: float
    """Mean while its lamps are on, W/m2; 0: it stays dark."""
    level: float
    """Highest level, share of full drive; 0: it stays dark."""
    lit_s: float
    """Level-weighted lit time, s."""
    on_s: float
    """Time its lamps are on, s."""
    first_s: float | None
    """Session time of its first light, s; None: it stays dark."""
    last_s: float | None
    """Session time of its last light, s."""
    power_w: float
    """Electrical power at its highest level, W."""
    illuminance_lx: float
    """What a lux meter would show at its highest level; see the review's lux caution."""
    stray_j_cm2: float | None
    """Light that leaks in from its neighbours, J/cm2; None: no leak of this chamber was measured."""
    rise: SheetRise
    """Sheet above air at its highest level, K."""
    sheet_c: float
    """Warmest sheet expected, C: the forecast's peak of the air and the likely rise."""
    calibration: str
    """How its irradiance is known, in a sentence."""


@dataclass(frozen=True, slots=True)
class Heat:
    """How warm it gets."""

    forecast: Forecast
    cooling: Cooling
    """Pauses to cool that the likely course needs; the timeline allows for them."""
    model: AirModel
    sheet: Statement | None
    """The sheet under the strongest light, at the forecast's peak; None: no light."""


def light_of(zone: Zone, plan: Plan, spectra: Mapping[str, Spectrum]) -> Spectrum:
    """The zone's light at the sheet at its highest level; at full level if it stays dark."""
    level = max((e.level for e in plan.program.exposures_of(zone.name)), default=1.0)
    if zone.name in spectra:
        return spectra[zone.name].with_irradiance(zone.irradiance_w_m2 * level)
    return of_band(zone.peak_nm, zone.irradiance_w_m2 * level, zone.width_nm)


def leakage_into(chamber: Chamber, home: Mapping[str, str]) -> Leakage:
    """Leakage into places: a cell gets what leaks into the middle of its zone."""
    share = {(leak.to_zone, leak.from_zone): leak.share for leak in chamber.leaks}
    measured = {(place, zone): value for place, own in home.items() for (to, zone), value in share.items() if to == own}
    return leakage(home, [zone.name for zone in chamber.zones], measured)


def zone_review(
    zone: Zone,
    plan: Plan,
    light: Spectrum,
    stray_j_cm2: float | None,
    air_peak_c: float,
    bank_lit_h: Mapping[int, float] | None,
) -> ZoneReview:
    exposures = plan.program.exposures_of(zone.name)
    full = zone.irradiance_w_m2
    lit_s = sum(e.planned_lit_s(full) for e in exposures)
    on_s = sum(e.planned_end_s(full) - e.start_s for e in exposures)
    level = max((e.level for e in exposures), default=0.0)
    dose = dose_j_cm2(full, lit_s)
    rise = sheet_rise(full * level)
    return ZoneReview(
        zone=zone.name,
        dose_j_cm2=dose,
        dose_mj_m2=mj_m2(dose),
        photon_mol_m2=photon_dose_mol_m2(dose, light.mean_nm),
        irradiance_w_m2=full * lit_s / on_s if on_s else 0.0,
        level=level,
        lit_s=lit_s,
        on_s=on_s,
        first_s=min((e.start_s for e in exposures), default=None),
        last_s=max((e.planned_end_s(full) for e in exposures), default=None),
        power_w=zone_power_w(zone) * level,
        illuminance_lx=illuminance_lx(light) if level else 0.0,
        stray_j_cm2=stray_j_cm2,
        rise=rise,
        sheet_c=air_peak_c + rise.likely_k,
        calibration=calibration_text(zone, bank_lit_h),
    )


def course_of(zone: ZoneReview) -> Course:
    """A lit zone as if it were an open, dry cell of its own arm."""
    return Course(
        zone.zone, zone.zone, zone.dose_j_cm2, zone.irradiance_w_m2, zone.on_s, zone.first_s, zone.last_s, "", False
    )


def calibration_text(zone: Zone, bank_lit_h: Mapping[int, float] | None = None) -> str:
    """How a zone's irradiance is known, in a sentence."""
    known = zone.calibration
    day = f" on {known.on.isoformat()}" if known.on else ""
    means = f", {known.instrument}" if known.instrument else ""
    age = ""
    if bank_lit_h is not None and zone.bank in bank_lit_h:
        age = f" Its bank has been lit for {max(bank_lit_h[zone.bank] - known.at_lit_h, 0):.0f} h since."
    return f"{zone.irradiance_w_m2:g} W/m² at full level, {known.how}{day}{means}.{age}"
