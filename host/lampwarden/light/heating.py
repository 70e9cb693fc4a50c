"""How much warmer than the air the light makes the sheet. No sensor touches it."""

from dataclasses import dataclass

from ..domain.units import temp_text
from .defaults import (
    ABSORBED,
    ABSORBED_HIGH,
    ABSORBED_LOW,
    COOLING_HIGH_W_M2_K,
    COOLING_LOW_W_M2_K,
    COOLING_W_M2_K,
    SHEET_TARGET_C,
    SHEET_WARN_C,
)
from .evidence import Statement, Status


@dataclass(frozen=True, slots=True)
class SheetRise:
    """Sheet above air, K, for a dry sheet; a wet one stays cooler."""

    low_k: float
    likely_k: float
    high_k: float


def rise_k(irradiance_w_m2: float, absorbed_share: float, cooling_w_m2_k: float) -> float:
    """Sheet above air, K: dT = a E / h, with a 0..1, E in W/m2, h in W/(m2 K).

    Balance of absorbed light and heat given off. Example: 0.5 of 200 W/m2 at 12 W/(m2 K) = 8.3 K.
    """
    return absorbed_share * irradiance_w_m2 / cooling_w_m2_k


def sheet_rise(irradiance_w_m2: float) -> SheetRise:
    """The same with the default shares. Example: 200 W/m2 = 4.0, 8.3, 12.0 K."""
    return SheetRise(
        rise_k(irradiance_w_m2, ABSORBED_LOW.value, COOLING_HIGH_W_M2_K.value),
        rise_k(irradiance_w_m2, ABSORBED.value, COOLING_W_M2_K.value),
        rise_k(irradiance_w_m2, ABSORBED_HIGH.value, COOLING_LOW_W_M2_K.value),
    )


def sheet_statement(irradiance_w_m2: float, air_temp_c: float, scale: str = "C") -> Statement:
    """How warm the sheet gets at this air temperature (C), and what to do if that is too warm.

    `scale` is C or F, for the temperatures shown.
    """
    rise = sheet_rise(irradiance_w_m2)
    sheet_c = air_temp_c + rise.likely_k
    target, warn = SHEET_TARGET_C.value, SHEET_WARN_C.value
    if sheet_c <= target:
        verdict = f"That keeps to the {temp_text(target, scale, 0)} of the classic experiments."
    elif sheet_c <= warn:
        verdict = (
            f"That is above the {temp_text(target, scale, 0)} of the classic experiments: a lower level is better."
        )
    else:
        verdict = (
            f"That is above {temp_text(warn, scale, 0)}, too warm. Lower the level, move more air,"
            " or lower the program's air limit by the sheet's rise."
        )
    return Statement(
        f"At {irradiance_w_m2:.0f} W/m² and {temp_text(air_temp_c, scale)} of air the dry sheet gets about"
        f" {temp_text(sheet_c, scale)} ({temp_text(air_temp_c + rise.low_k, scale)} to"
        f" {temp_text(air_temp_c + rise.high_k, scale)}). {verdict}",
        "a E / h with a = 0.3 to 0.6, h = 10 to 15 W/(m² K)",
        Status.PROPOSAL,
    )
