"""The register table of the board with what it last said: name, address, value, unit, meaning. Pure.

The keeper reads whole blocks and hands on decoded values; here they are turned back into the numbers on the wire. A
test compares them with the registers of a running board.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lampboard import registers as reg

from ...keeper import Snapshot
from ...keeper.keeper import HEARTBEAT_TIMEOUT_S
from ...link.board import Identity, Live
from .. import wording as w
from ..wording import Taste

UNREAD = "not read"
"""Shown for what the host writes and never asks back."""


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One row of the table."""

    space: str
    address: str
    """As numbers on the wire: '32', '54 to 61'."""
    name: str
    value: str
    unit: str
    reads: str
    """The value for people; empty: it says no more."""
    meaning: str


def rows(snapshot: Snapshot, taste: Taste) -> tuple[RegisterRow, ...]:
    """The whole table. Values are empty while the board does not answer."""
    identity, live = snapshot.board.identity, snapshot.board.live
    raw: dict[str, tuple[int, ...]] = {}
    if identity is not None and snapshot.board.trouble is None:
        raw |= _identity(identity)
    if live is not None and snapshot.board.trouble is None:
        raw |= _live(live) | _demand(snapshot, live)
    return tuple(_row(row, raw, taste) for row in reg.ROWS)


def values(identity: Identity, live: Live) -> dict[str, tuple[int, ...]]:
    """Numbers on the wire by the name of their input register, for the zones and banks there are."""
    return _identity(identity) | _live(live)


def _identity(one: Identity) -> dict[str, tuple[int, ...]]:
    major, minor = one.firmware.split(".")
    return {
        "identity_echo": (one.heartbeat,),
        "map_version": (one.map_version,),
        "firmware_version": (int(major) * 100 + int(minor),),
        "zone_count": (one.zone_count,),
        "bank_count": (one.bank_count,),
        "unique_id": tuple(int(one.unique_id[at : at + 4], 16) for at in range(0, 16, 4)),
        "boot_count": (one.boot_count,),
        "reset_cause": (reg.RESETS.index(one.reset_cause),),
        "air_ceiling_centi_c": (round(one.air_ceiling_c * 100),),
        "bank_ceiling_centi_c": (round(one.bank_ceiling_c * 100),),
        "lit_ceiling_s": (one.lit_ceiling_s,),
        "has_inspection": (int(one.has_inspection),),
    }


def _live(one: Live) -> dict[str, tuple[int, ...]]:
    return {
        "live_echo": (one.heartbeat,),
        "board_state": (reg.STATES.index(one.board_state),),
        "trip_cause": (one.trip_cause,),
        "trip_channel": (one.trip_channel,),
        "uptime_ms": (round(one.uptime_s * 1000),),
        "live_boot_count": (one.boot_count,),
        "door_open": (int(one.door_open),),
        "door_openings": (one.door_openings,),
        "stop_pressed": (int(one.stop_pressed),),
        "air_status": (reg.SENSORS.index(one.air_status),),
        "air_temp_centi_c": (_hundredths(one.air_temp_c),),
        "humidity_centi_pct": (_hundredths(one.humidity_pct),),
        "air_age_ms": (round(one.air_age_s * 1000),),
        "heartbeat_left_ms": (round(one.heartbeat_left_s * 1000),),
        "fan_permille": (round(one.fan * 1000),),
        "inspect_applied_permille": (round(one.inspection * 1000),),
        "frames_ok": (one.frames_ok,),
        "frames_bad": (one.frames_bad,),
        "exceptions": (one.exceptions,),
        "loop_gap_ms_max": (one.loop_gap_ms_max,),
        "zone_applied_permille": tuple(round(share * 1000) for share in one.zone_applied),
        "zone_lit_ms": one.zone_lit_ms,
        "bank_status": tuple(reg.SENSORS.index(status) for status in one.bank_status),
        "bank_temp_centi_c": tuple(_hundredths(temp_c) for temp_c in one.bank_temps_c),
    }


def _demand(snapshot: Snapshot, live: Live) -> dict[str, tuple[int, ...]]:
    """What the keeper wrote last, as far as it is known."""
    asked, kept = snapshot.demand, snapshot.board.kept
    found: dict[str, tuple[int, ...]] = {
        "heartbeat": (live.heartbeat,),
        "fan_min_permille": (round(asked.fan_min * 1000),),
        "inspect_level_permille": (round(asked.inspection * 1000),),
        "zone_level_permille": tuple(round(share * 1000) for share in asked.zone_levels),
        "arm": (int(live.board_state in ("ready", "lit")),),
        "clear_trip": (0,),
        "service_key": (0,),
    }
    if kept is not None and kept.trouble is None:
        found |= {
            "heartbeat_timeout_ms": (round(HEARTBEAT_TIMEOUT_S * 1000),),
            "air_limit_centi_c": (round(kept.air_c * 100),),
            "bank_limit_centi_c": (round(kept.bank_c * 100),),
        }
    return found


_WORDS: Mapping[str, Sequence[str]] = {
    "board_state": reg.STATES,
    "trip_cause": reg.TRIPS,
    "reset_cause": reg.RESETS,
    "air_status": reg.SENSORS,
    "bank_status": reg.SENSORS,
    "door_open": ("closed", "open"),
    "stop_pressed": ("released", "down"),
    "has_inspection": ("no", "yes"),
    "arm": ("disarmed", "armed"),
}


def _row(
    row: tuple[str, int, str, str, int, int, int, str, str], raw: Mapping[str, tuple[int, ...]], taste: Taste
) -> RegisterRow:
    space, address, name, code, count, _, _, unit, meaning = row
    last = address + count * reg.width(code) - 1
    numbers = raw.get(name)
    if numbers is None:
        value = UNREAD if raw else ""
        reads = ""
    else:
        value = ", ".join("no reading" if n == reg.NO_VALUE and code == "h" else str(n) for n in numbers)
        reads = ", ".join(_reads(name, unit, n, taste) for n in numbers)
    return RegisterRow(
        space=space,
        address=str(address) if last == address else f"{address} to {last}",
        name=name,
        value=value,
        unit=unit.replace("0.01 C", "0.01 °C").replace("permille", "‰"),
        reads="" if set(reads) <= {",", " "} else reads,
        meaning=meaning,
    )


def _reads(name: str, unit: str, number: int, taste: Taste) -> str:
    """One number for people; empty if it says nothing more."""
    words = _WORDS.get(name)
    if words is not None:
        return words[number] if number < len(words) else ""
    if number == reg.NO_VALUE and unit in ("0.01 C", "0.01 %"):
        return ""
    if unit == "0.01 C":
        return w.temp(number / 100, taste)
    if unit == "0.01 %":
        return f"{number / 100:.1f} %"
    if unit == "permille":
        return f"{number / 10:g} %"
    if unit == "ms" and number >= 10_000:
        return w.rough_text(number / 1000)
    if unit == "s":
        return w.rough_text(number)
    return ""


def _hundredths(value: float | None) -> int:
    return reg.NO_VALUE if value is None else round(value * 100)
