"""When a session may not go on, and why: one small rule per reason.

Each rule asks whether it is safe. A missing or impossible number is never safe, so None and NaN fall to dark by
themselves. A rule returns None when all is well, else the sentence for people with the numbers it compared.
"""

import math

from ..domain.program import Limits
from ..domain.units import duration_text
from .events import Reading
from .state import Session, Waiting

SENSOR_RANGE_C = (-20.0, 120.0)
"""Temperatures outside are no measurement of a chamber in a room; chosen inside the sensors' own ranges."""
_USABLE = f"usable are {SENSOR_RANGE_C[0]:.0f} to {SENSOR_RANGE_C[1]:.0f} °C"

CLEAR_S_MAX = 10.0
"""How long the board is asked to clear a trip before the person has to ask again, s."""

BOOT_S = 1.0
"""Time a board takes from reset to its first pass, s. Chosen: MicroPython boards take 0.5 to 2 s (common practice)."""

SILENT_LIGHT_S_MAX = 3.0
"""Longest light without a word from the host, s: the heartbeat timeout that the keeper sets."""

CLOCK_SLACK_S = 60.0
"""Light beyond the time that passed, s, which a restart may bring: totals that are 10 s old and a clock set back.
Counters that tell of more have begun anew."""

POWER_LIGHT_S = 0.5
"""Light reckoned between the last reading and a loss of power, s: readings come every second, so it is 0.5 +- 0.5."""

COUNTER_S = 0.002
"""Light that surely shows in the board's counters, s: they count ms."""

END_S_MAX = 10.0
"""How long an end waits for a last reading of the board, s: some ten tries. The lamps are dark by their heartbeat."""

INSPECTION_S_MAX = 1800.0
"""Longest white light at a checkpoint without anybody asking for it, s. Chosen: it is light on the sheet as well."""

REBOOTS_PER_HOUR_MAX = 3
"""A board that restarts more often within an hour is not lit again without a person. Chosen: a cable that was moved
makes one or two."""

UNLIT_S_MAX = 10.0
"""Longest time a zone may stay dark though asked, s; arming takes about 1 s."""

LEVEL_STEP = 0.001
"""Smallest step of a level on the wire: no zone may be brighter than asked by more than this."""

LOST_S_FORGIVEN = 60.0
"""A board that was silent for less than this goes on by itself: a cable moved, a hub reset."""

CALL_ANYWAY_S = 1800.0
"""A checkpoint calls the person after this long even if the air has not cooled to the handling temperature."""

REMINDERS_S = (300.0, 900.0, 1800.0, 3600.0)
"""Reminders come this long after the first call, then every last-named interval."""


def sane_temp(temp_c: float | None) -> bool:
    """True for a temperature that can be one."""
    return temp_c is not None and SENSOR_RANGE_C[0] <= temp_c <= SENSOR_RANGE_C[1]


def sensor_trouble(reading: Reading, banks: int) -> str | None:
    """Sentence unless all temperatures that guard the sheet are there."""
    if not sane_temp(reading.air_temp_c):
        return f"The air temperature is {shown(reading.air_temp_c)}; {_USABLE}. Check the sensor's cable."
    for number, temp_c in enumerate(reading.bank_temps_c[:banks], start=1):
        if not sane_temp(temp_c):
            return f"The temperature of bank {number} is {shown(temp_c)}; {_USABLE}. Check the sensor's cable."
    if len(reading.bank_temps_c) < banks:
        return f"The board reports {len(reading.bank_temps_c)} bank sensors, but the chamber has {banks} banks."
    return None


def heat_trouble(reading: Reading, limits: Limits, banks: int, margin_c: float = 0.0) -> str | None:
    """Sentence unless air and the chamber's banks are below their soft limits less `margin_c` (K)."""
    air_max_c, bank_max_c = limits.air_soft_c - margin_c, limits.bank_soft_c - margin_c
    if not (reading.air_temp_c is not None and reading.air_temp_c < air_max_c):
        resume = _resume(limits, limits.air_soft_c)
        return f"Air is {shown(reading.air_temp_c)}; the lamps wait until it is below {resume}."
    for number, temp_c in enumerate(reading.bank_temps_c[:banks], start=1):
        if not (temp_c is not None and temp_c < bank_max_c):
            resume = _resume(limits, limits.bank_soft_c)
            return f"Bank {number} is {shown(temp_c)}; the lamps wait until it is below {resume}."
    return None


def door_trouble(reading: Reading, session: Session) -> str | None:
    """Sentence if the door is open, or was since the last reading of the same boot."""
    if reading.door_open:
        return "The door is open."
    if reading.boot_count == session.boot_count and reading.door_openings != session.door_openings:
        return "The door was opened for a moment."
    return None


def following_trouble(reading: Reading, session: Session) -> str | None:
    """Sentence unless each zone does what it was asked: no brighter than asked, and not dark for long when lit."""
    for zone, asked, given in zip(session.chamber.zones, session.levels, reading.zone_applied, strict=False):
        if not given <= asked + LEVEL_STEP:
            return (
                f"Zone {zone.name} was lit at {100 * given:.0f} % though {100 * asked:.0f} % was asked."
                " Is another program talking to the board?"
            )
    if not session.unlit_s <= UNLIT_S_MAX:
        return (
            f"For {session.unlit_s:.0f} s not every zone has given the light asked for; {UNLIT_S_MAX:.0f} s are"
            " allowed. Check the board's supply and its state."
        )
    return None


def too_many_coolings(session: Session) -> str | None:
    """Sentence if the pauses to cool within the last hour are more than the program allows."""
    count, most = len(session.coolings_s), session.program.rules.coolings_per_hour_max
    if count <= most:
        return None
    return f"{count} pauses to cool within one hour, more than the {most} allowed. The chamber cannot shed its heat."


def inspected_enough(waiting: Waiting, run_s: float) -> bool:
    """True if the inspection light has had its time since somebody last asked for it."""
    return run_s - waiting.inspection_from_s >= INSPECTION_S_MAX


def too_many_reboots(session: Session) -> str | None:
    """Sentence if the board has restarted more often within the last hour than is put down to chance."""
    count = len(session.reboots_s)
    if count <= REBOOTS_PER_HOUR_MAX:
        return None
    return (
        f"The board has restarted {count} times within one hour; {REBOOTS_PER_HOUR_MAX} are allowed. Check its supply"
        " and its cable, then let the session go on."
    )


def reminders_due(waited_s: float) -> int:
    """How many reminders are due this long after the first call, s."""
    count = sum(1 for due_s in REMINDERS_S if waited_s >= due_s)
    if count == len(REMINDERS_S):
        count += int((waited_s - REMINDERS_S[-1]) // REMINDERS_S[-1])
    return count


def unread_light_s(since_reading_s: float, uptime_s: float, *, power_failed: bool) -> float:
    """Light that fell between the last reading and a reboot of the board, reckoned, s.

    The lamps stayed lit until the reset: wrong by as much as the board's boot differs from BOOT_S. Example: read 3.0 s
    ago, up for 1.6 s: reset 0.4 s after the reading. If the power failed, or the board was away for longer than a
    heartbeat, that was soon after the reading, most likely; how long it stayed away tells nothing.
    """
    away_s = max(0.0, since_reading_s - uptime_s - BOOT_S)
    if power_failed or away_s > SILENT_LIGHT_S_MAX:
        return min(away_s, POWER_LIGHT_S)
    return away_s


def resumes_alone(session: Session, gap_s: float | None) -> bool:
    """True if the program lets a session go on by itself after a gap of this length, s; not after an unknown one."""
    rules = session.program.rules
    return rules.after_restart == "continue" and gap_s is not None and gap_s <= rules.gap_s_max


def gap_sentence(session: Session, gap_s: float | None) -> str:
    """What happens after a gap nobody minded, in a sentence; None: of unknown length."""
    rules = session.program.rules
    if gap_s is None:
        why = "the wall clock went backwards, or the session had only just begun"
        return f"It is not known how long nobody minded the session: {why}. It waits for a person."
    gap, most = duration_text(gap_s), duration_text(rules.gap_s_max)
    if rules.after_restart == "ask":
        return f"Nobody minded the session for {gap}. It waits for a person, as the program says."
    if gap_s <= rules.gap_s_max:
        return f"Nobody minded the session for {gap}, less than the {most} allowed. It goes on."
    return f"Nobody minded the session for {gap}, more than the {most} allowed. It waits for a person."


def _resume(limits: Limits, soft_c: float) -> str:
    return f"{soft_c - limits.hysteresis_c:.1f} °C (soft limit {soft_c:.1f} °C)"


def shown(temp_c: float | None) -> str:
    """A temperature for a sentence; 'unknown' unless it is a number."""
    return f"{temp_c:.1f} °C" if temp_c is not None and math.isfinite(temp_c) else "unknown"
