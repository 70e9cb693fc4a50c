"""Conversions between units, and text for quantities. Every conversion of the program lives here."""

import re
from typing import Annotated

from pydantic import BeforeValidator

_SECONDS = {"s": 1.0, "sec": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_PART = re.compile(r"\s*(\d+(?:\.\d+)?)\s*([a-z]+)")


def dose_j_cm2(irradiance_w_m2: float, lit_s: float) -> float:
    """Dose in J/cm2 of an irradiance in W/m2 over a level-weighted lit time in s.

    H = E t, and 1 J/m2 = 1e-4 J/cm2. Example: 100 W/m2 for 3600 s = 36.0 J/cm2.
    """
    return irradiance_w_m2 * lit_s * 1e-4


def lit_s_for_dose(dose: float, irradiance_w_m2: float) -> float:
    """Level-weighted lit time in s that gives a dose in J/cm2 at an irradiance in W/m2.

    Example: 36 J/cm2 at 100 W/m2 = 3600.0 s. Raises ValueError if the irradiance is not above 0.
    """
    if not irradiance_w_m2 > 0:
        raise ValueError(f"irradiance must be above 0 W/m2 to plan by dose, not {irradiance_w_m2}")
    return dose / (irradiance_w_m2 * 1e-4)


def mw_cm2(irradiance_w_m2: float) -> float:
    """Irradiance in mW/cm2. Example: 100 W/m2 = 10.0 mW/cm2."""
    return irradiance_w_m2 * 0.1


def mj_m2(dose: float) -> float:
    """Dose in MJ/m2 of a dose in J/cm2. Example: 100 J/cm2 = 1.0 MJ/m2."""
    return dose * 0.01


def fahrenheit(temp_c: float) -> float:
    """Temperature in degrees Fahrenheit. Example: 40.0 C = 104.0 F."""
    return temp_c * 9.0 / 5.0 + 32.0


def temp_text(temp_c: float | None, scale: str = "C", digits: int = 1) -> str:
    """A temperature for people, in the scale they chose: '38.2 °C', '100.8 °F'; 'no reading' for None."""
    if temp_c is None:
        return "no reading"
    value = fahrenheit(temp_c) if scale == "F" else temp_c
    return f"{value:.{digits}f} °{scale}"


def duration_text(seconds: float) -> str:
    """A length of time for people: '45 s', '12 min 5 s', '8 h', '24 h 30 min'. Negative counts as 0."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    if minutes:
        return f"{minutes} min {secs} s" if secs else f"{minutes} min"
    return f"{secs} s"


def seconds(value: object) -> object:
    """Seconds of a duration written as a number of seconds or as text: '90 s', '15 min', '1 h 30 min', '1.5 h'.

    Raises ValueError for anything else, such as a clock time or a yes.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str | None):
        raise ValueError(f"{value} is no duration; write seconds, or text like '45 s', '15 min', '8 h' or '1 h 30 min'")
    if not isinstance(value, str):
        return value
    text, total, at = value.strip().lower(), 0.0, 0
    while at < len(text):
        part = _PART.match(text, at)
        if part is None or part[2] not in _SECONDS:
            raise ValueError(f"'{value}' is no duration; write it like '45 s', '15 min', '8 h' or '1 h 30 min'")
        total += float(part[1]) * _SECONDS[part[2]]
        at = part.end()
    if not text:
        raise ValueError("a duration is empty; write it like '45 s', '15 min' or '8 h'")
    return total


Seconds = Annotated[float, BeforeValidator(seconds)]
"""A duration in s; may be written as text with units."""
