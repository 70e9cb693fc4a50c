"""What a person types into the fields of a plan, turned into numbers, and numbers as the fields show them."""

import math
import re

from ...domain.units import duration_text, fahrenheit, seconds
from ...errors import ProgramError
from ..wording import Taste

_HOURS = re.compile(r"\d+(?:[.,]\d+)?")
_CLOCK = re.compile(r"(\d+):([0-5]?\d)(?::([0-5]?\d))?\s*h?")
_NUMBER = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*(.*)")


def time_s(text: str) -> float:
    """Seconds of a session time or length: '2 h 30 min', '2:30', '90 s', or a plain number of hours, '2.5'.

    Raises ProgramError with a sentence.
    """
    text = text.strip()
    clock = _CLOCK.fullmatch(text)
    if clock:
        return int(clock[1]) * 3600.0 + int(clock[2]) * 60.0 + int(clock[3] or 0)
    if _HOURS.fullmatch(text):
        return round(float(text.replace(",", ".")) * 3600.0, 3)
    try:
        return float(seconds(text.replace(",", ".")))  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise ProgramError(
            f"'{text}' is no time. Write it like 2 h 30 min, 2:30 or 2.5 (hours)."
            if text
            else "Write a time, like 2 h 30 min, 2:30 or 2.5 (hours)."
        ) from None


def clock_field(seconds_: float) -> str:
    """A session time as its field shows it, in hours and minutes: '2:30'; with seconds if it has some: '1:59:30'."""
    hours, rest = divmod(round(seconds_), 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{secs:02}" if secs else f"{hours}:{minutes:02}"


def time_text(seconds_: float) -> str:
    """A session time or length in words, to the second: '2 h 30 min'."""
    whole = round(seconds_)
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    if hours and secs:
        return f"{hours} h {minutes} min {secs} s"
    return "0 h" if whole == 0 else duration_text(whole)


def number(text: str, unit: str) -> float:
    """A number, with or without its unit behind it: '60', '60,5', '60 J/cm²'. Raises ProgramError with a sentence."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None or _plain(found[2]) not in ("", _plain(unit)):
        raise ProgramError(f"Write a number of {unit}, like 60." if unit else "Write a number.")
    return float(found[1].replace(",", "."))


def level(text: str) -> float:
    """A level as a share of full drive from its per cent: '50', '50 %'. Raises ProgramError outside 0.1 to 100 %."""
    share = number(text, "%") / 100
    if not 0.001 <= share <= 1:
        raise ProgramError("A level lies between 0.1 and 100 % of full drive.")
    return round(share, 3)


def level_text(share: float) -> str:
    """A level as its field shows it: '100', '33.3'."""
    return f"{100 * share:.4g}"


def dose_text(dose: float) -> str:
    """A dose as its field shows it, J/cm2: '60.5'."""
    return f"{dose:.1f}" if dose >= 10 else f"{dose:.3g}"


def temp_c(text: str, taste: Taste) -> float:
    """A temperature in the person's scale as degrees C, to 0.01. Raises ProgramError with a sentence."""
    value = number(text, f"°{taste.scale}")
    return round((value - 32) / 1.8 if taste.scale == "F" else value, 2)


def step_c(text: str, taste: Taste) -> float:
    """A difference of temperatures in the person's scale, as K."""
    value = number(text, f"°{taste.scale}")
    return round(value / 1.8 if taste.scale == "F" else value, 2)


def temp_field(value_c: float, taste: Taste) -> str:
    """A temperature as its field shows it: '35', '95'."""
    return f"{round(fahrenheit(value_c) if taste.scale == 'F' else value_c, 1):g}"


def step_field(value_k: float, taste: Taste) -> str:
    """A difference of temperatures as its field shows it."""
    return f"{round(value_k * 1.8 if taste.scale == 'F' else value_k, 1):g}"


def whole(text: str, unit: str) -> int:
    """A whole number, not negative. Raises ProgramError with a sentence."""
    value = number(text, unit)
    if value < 0 or not math.isclose(value, round(value)):
        raise ProgramError(f"Write a whole number of {unit}, 0 or more.")
    return round(value)


def within(text: str, unit: str, low: float, high: float) -> float:
    """A number from low to high. Raises ProgramError with a sentence."""
    value = number(text, unit)
    if not low <= value <= high:
        raise ProgramError(f"Give {low:g} to {high:g} {unit}.")
    return value


def _plain(unit: str) -> str:
    """A unit as it may be typed: 'j/cm2' for 'J/cm²'."""
    return unit.strip().lower().replace("²", "2").replace("°", "").replace(" ", "")
