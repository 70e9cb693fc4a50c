"""How quantities and moments read on a page, as the person prefers. Pure."""

import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from ..domain.units import duration_text, fahrenheit, mj_m2, mw_cm2, temp_text

_CELSIUS = re.compile(r"(-?\d+(?:\.\d+)?) °C")


@dataclass(frozen=True, slots=True)
class Taste:
    """What one person prefers to read."""

    scale: str = "C"
    """C or F."""
    hours: int = 24
    """24 or 12."""
    zone: tzinfo = UTC
    """The reader's own time zone."""


def moment(utc: str) -> datetime:
    """The aware moment of a record's text, such as 2031-03-03T08:00:00.000Z."""
    return datetime.fromisoformat(utc)


def clock_text(at: datetime, now: datetime, taste: Taste, *, seconds: bool = False) -> str:
    """A clock time; with the weekday when it is not today, with the date beyond six days.

    Examples: '14:20', '2:20 pm', 'Tue 02:10', '9 Mar 02:10'.
    """
    local, today = at.astimezone(taste.zone), now.astimezone(taste.zone)
    tail = ":%S" if seconds else ""
    if taste.hours == 12:
        text = f"{local.hour % 12 or 12}{local.strftime(f':%M{tail}')} {'am' if local.hour < 12 else 'pm'}"
    else:
        text = local.strftime(f"%H:%M{tail}")
    days = (local.date() - today.date()).days
    if days == 0:
        return text
    if abs(days) < 7:
        return f"{local.strftime('%a')} {text}"
    return f"{local.day} {local.strftime('%b')} {text}"


def after(now: datetime, seconds: float) -> datetime:
    """The moment some seconds from now."""
    return now + timedelta(seconds=seconds)


def rough_text(seconds: float) -> str:
    """A length of time without needless detail: seconds only below 10 minutes."""
    return duration_text(seconds if seconds < 600 else 60 * round(seconds / 60))


def minutes_text(seconds: float) -> str:
    """A length of time in whole minutes, rounded up; in seconds below one. For narrow places."""
    return duration_text(seconds if seconds <= 60 else 60 * math.ceil(seconds / 60))


def temp(temp_c: float | None, taste: Taste) -> str:
    """A temperature in the person's scale."""
    return temp_text(temp_c, taste.scale)


def temp_number(temp_c: float | None, taste: Taste) -> float | None:
    """The same as a number for a chart, to 0.01."""
    if temp_c is None:
        return None
    return round(fahrenheit(temp_c) if taste.scale == "F" else temp_c, 2)


def in_scale(sentence: str, taste: Taste) -> str:
    """A sentence of the journal with its temperatures in the person's scale. Example: '38.2 °C' to '100.8 °F'."""
    if taste.scale == "C":
        return sentence
    return _CELSIUS.sub(lambda found: temp_text(float(found[1]), taste.scale), sentence)


def dose_texts(dose: float) -> tuple[str, str]:
    """A dose in both customary units. Example: 60.5 -> ('60.5 J/cm²', '0.605 MJ/m²')."""
    return f"{dose:.1f} J/cm²", f"{mj_m2(dose):.3f} MJ/m²"


def of_texts(part: float, whole: float) -> tuple[str, str]:
    """A dose out of a planned one, in both units. Example: ('12.1 of 60.5 J/cm²', '0.121 of 0.605 MJ/m²')."""
    return f"{part:.1f} of {whole:.1f} J/cm²", f"{mj_m2(part):.3f} of {mj_m2(whole):.3f} MJ/m²"


def irradiance_text(irradiance_w_m2: float) -> str:
    """An irradiance in both customary units. Example: 84 -> '8.4 mW/cm² (84 W/m²)'."""
    return f"{mw_cm2(irradiance_w_m2):.1f} mW/cm² ({irradiance_w_m2:g} W/m²)"


def listed(names: list[str]) -> str:
    """Names in a sentence: 'A1', 'A1 and A2', 'A1, A2 and A3'."""
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1] if names else ""]))
