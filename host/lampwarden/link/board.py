"""The board as the rest of the host knows it: what it is, what it sees, and what it is told.

Each exchange writes a new heartbeat number and reads it back in the live block, so that a late answer of the right
shape is not taken for a fresh one. After any trouble the next call reads the identity before all else, with function
04: function 03 is the byte of Ctrl-C, which can throw a booting board into its prompt.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from lampboard import registers as reg

from ..errors import BoardConfused, BoardRefused, LinkError, WrongBoard
from .codec import Block, ValueIllegal
from .transport import READ_HOLDING, READ_INPUT, WRITE_MANY, WRITE_ONE, Transport

_IDENTITY = Block("input", *reg.IDENTITY)
_LIVE = Block("input", *reg.LIVE)
_DEMAND = Block("holding", *reg.DEMAND)
_ADDRESS = {row[2]: row[1] for row in reg.ROWS if row[0] == "holding"}
_LIMITS = Block("holding", _ADDRESS["heartbeat_timeout_ms"], 3)
_ARM = Block("holding", _ADDRESS["arm"], 1)
_CLEAR = Block("holding", _ADDRESS["clear_trip"], 1)
_SERVICE = Block("holding", _ADDRESS["service_key"], 1)
_MAP_VERSION_AT = _IDENTITY.names.index("map_version")  # it and all before it take one register each
_HEARTBEATS = 65536


@dataclass(frozen=True, slots=True)
class Demand:
    """All the light that is wanted. Raises ValueError if a share is not within 0..1."""

    zone_levels: tuple[float, ...]
    """Share of full drive of each zone. What the board does not have is sent as 0."""
    inspection: float = 0.0
    """Share of full drive of the white inspection bank; sent as 0 to a board without one."""
    fan_min: float = 0.0
    """Least share of full fan drive; the board runs it faster when it must."""

    def __post_init__(self) -> None:
        for share in (*self.zone_levels, self.inspection, self.fan_min):
            if not 0.0 <= share <= 1.0:
                raise ValueError(f"a level of {share} is not within 0..1 in {self}")


@dataclass(frozen=True, slots=True)
class Identity:
    """What the board is; changes only with a reboot or another board."""

    unique_id: str
    """Serial number of the microcontroller, 16 hex digits."""
    firmware: str
    """Version, for example "0.01"."""
    map_version: int
    zone_count: int
    bank_count: int
    has_inspection: bool
    boot_count: int
    """Boots since the firmware was installed."""
    reset_cause: str
    """Why it last started: one of registers.RESETS."""
    air_ceiling_c: float
    bank_ceiling_c: float
    lit_ceiling_s: int
    """Longest light per zone and arming, s."""
    heartbeat: int
    """Last heartbeat number it received."""


@dataclass(frozen=True, slots=True)
class Live:
    """What the board saw and did at one moment. None: the board has no such reading."""

    heartbeat: int
    """Last heartbeat number it received."""
    board_state: str
    """One of registers.STATES."""
    trip_cause: int
    """A number of registers.TRIPS, 0: no trip."""
    trip_text: str
    """The cause in words, with bank or zone where it is known; "none" without a trip."""
    trip_channel: int
    """Bank or zone that tripped, from 1; 0: none in particular."""
    uptime_s: float
    """Time since boot, s. Less than before: the board has rebooted."""
    boot_count: int
    """Changes when the board has rebooted."""
    door_open: bool
    door_openings: int
    """Since boot, wraps at 65536; a change tells of an opening between two readings."""
    stop_pressed: bool
    air_status: str
    """One of registers.SENSORS."""
    air_temp_c: float | None
    humidity_pct: float | None
    air_age_s: float
    """Time since the last good air reading, s; stops at 65.535."""
    heartbeat_left_s: float
    """Time until the lamps go dark without a heartbeat, s."""
    fan: float
    """Fan drive, share 0..1."""
    inspection: float
    """Inspection bank, share 0..1."""
    zone_applied: tuple[float, ...]
    """Level of each zone, share 0..1."""
    zone_lit_ms: tuple[int, ...]
    """Level-weighted light of each zone since boot, ms; wraps at 2**32."""
    bank_status: tuple[str, ...]
    """One of registers.SENSORS for each bank."""
    bank_temps_c: tuple[float | None, ...]
    frames_ok: int
    """Good frames since boot; this and the next two wrap at 65536."""
    frames_bad: int
    """Frames with a wrong checksum or length since boot."""
    exceptions: int
    """Exception answers since boot."""
    loop_gap_ms_max: int
    """Longest gap between two passes of the board's loop since boot, ms."""


def version_text(number: int) -> str:
    """A firmware version for people. Example: 101 is "1.01"."""
    return f"{number // 100}.{number % 100:02}"


def decode_identity(registers: Sequence[int]) -> Identity:
    """Raises ValueIllegal if a value is outside its range in the table."""
    v = _IDENTITY.decode(registers)
    return Identity(
        unique_id="".join(f"{word:04x}" for word in v["unique_id"]),
        firmware=version_text(v["firmware_version"]),
        map_version=v["map_version"],
        zone_count=v["zone_count"],
        bank_count=v["bank_count"],
        has_inspection=v["has_inspection"] == 1,
        boot_count=v["boot_count"],
        reset_cause=reg.RESETS[v["reset_cause"]],
        air_ceiling_c=v["air_ceiling_centi_c"] / 100,
        bank_ceiling_c=v["bank_ceiling_centi_c"] / 100,
        lit_ceiling_s=v["lit_ceiling_s"],
        heartbeat=v["identity_echo"],
    )


def decode_live(registers: Sequence[int], zone_count: int, bank_count: int) -> Live:
    """Raises ValueIllegal if a value is outside its range in the table."""
    v = _LIVE.decode(registers)
    return Live(
        heartbeat=v["live_echo"],
        board_state=reg.STATES[v["board_state"]],
        trip_cause=v["trip_cause"],
        trip_text=_trip_text(v["trip_cause"], v["trip_channel"]),
        trip_channel=v["trip_channel"],
        uptime_s=v["uptime_ms"] / 1000,
        boot_count=v["live_boot_count"],
        door_open=v["door_open"] == 1,
        door_openings=v["door_openings"],
        stop_pressed=v["stop_pressed"] == 1,
        air_status=reg.SENSORS[v["air_status"]],
        air_temp_c=_hundredths(v["air_temp_centi_c"]),
        humidity_pct=_hundredths(v["humidity_centi_pct"]),
        air_age_s=v["air_age_ms"] / 1000,
        heartbeat_left_s=v["heartbeat_left_ms"] / 1000,
        fan=v["fan_permille"] / 1000,
        inspection=v["inspect_applied_permille"] / 1000,
        zone_applied=tuple([permille / 1000 for permille in v["zone_applied_permille"][:zone_count]]),
        zone_lit_ms=v["zone_lit_ms"][:zone_count],
        bank_status=tuple([reg.SENSORS[status] for status in v["bank_status"][:bank_count]]),
        bank_temps_c=tuple([_hundredths(centi_c) for centi_c in v["bank_temp_centi_c"][:bank_count]]),
        frames_ok=v["frames_ok"],
        frames_bad=v["frames_bad"],
        exceptions=v["exceptions"],
        loop_gap_ms_max=v["loop_gap_ms_max"],
    )


def encode_demand(demand: Demand, heartbeat: int, identity: Identity) -> list[int]:
    """The demand block's registers; what the board does not have is 0."""
    levels = [round(share * 1000) for share in demand.zone_levels[: identity.zone_count]]
    inspection = round(demand.inspection * 1000) if identity.has_inspection else 0
    rest = [0] * (reg.ZONES_MAX - len(levels))
    return _DEMAND.encode([heartbeat, round(demand.fan_min * 1000), inspection, *levels, *rest])


def _hundredths(value: int) -> float | None:
    return None if value == reg.NO_VALUE else value / 100


def _trip_text(cause: int, channel: int) -> str:
    text = reg.TRIPS[cause]
    if channel == 0:
        return text
    return f"{text} ({'zone' if cause == reg.TRIP_LIT_TOO_LONG else 'bank'} {channel})"


class Board:
    """One board behind a transport. Belongs to one thread; each call may raise any LinkError.

    The first board that answers is the one: if another answers later, WrongBoard is raised until a new Board is made.
    """

    def __init__(self, transport: Transport) -> None:
        self._transport = transport
        self._identity: Identity | None = None  # None: to be read before anything else is said
        self._unique_id: str | None = None
        self._heartbeat = 0

    def identify(self) -> Identity:
        """Reads what the board is. Raises WrongBoard if it is none of ours, or not the one of before."""
        try:
            registers = self._ask(READ_INPUT, _IDENTITY.first, _IDENTITY.count)
        except BoardRefused as error:
            raise WrongBoard(f"A Modbus device answers, but it is no Lampwarden board. {error}") from error
        version = registers[_MAP_VERSION_AT]
        if version != reg.MAP_VERSION:
            self._hang_up()
            raise WrongBoard(
                f"The board has register map {version}, this program needs {reg.MAP_VERSION}."
                " Install the firmware that came with this program, or the program that fits the board."
            )
        try:
            identity = decode_identity(registers)
        except ValueIllegal as error:
            self._hang_up()
            raise WrongBoard(
                f"The device that answers is no Lampwarden board, or its firmware is damaged: {error}."
                " Check the address, or install the firmware again."
            ) from error
        if self._unique_id not in (None, identity.unique_id):
            self._hang_up()
            raise WrongBoard(
                f"Another board answers: serial number {identity.unique_id}, not {self._unique_id} as before."
                " Plug the first one in again, or restart the daemon to go on with the new one."
            )
        # The next number must be new to the board, and none that was used before: its late answer could come as well.
        if self._unique_id is None or self._next_heartbeat() == identity.heartbeat:
            self._heartbeat = identity.heartbeat
        self._unique_id, self._identity = identity.unique_id, identity
        return identity

    def exchange(self, demand: Demand) -> Live:
        """Writes a new heartbeat and the demand, then reads what the board sees.

        Raises BoardConfused if the answer does not repeat the heartbeat just written.
        """
        self.demand(demand)
        return self.look()

    def look(self) -> Live:
        """Reads what the board sees and does; no heartbeat, so the time until it goes dark runs on.

        Raises BoardConfused if the answer does not repeat the last heartbeat written.
        """
        identity = self._identity or self.identify()
        registers = self._ask(READ_INPUT, _LIVE.first, _LIVE.count)
        try:
            live = decode_live(registers, identity.zone_count, identity.bank_count)
        except ValueIllegal as error:
            self._hang_up()
            raise BoardConfused(
                f"The board's answer cannot be right: {error}. It is asked again after a pause."
            ) from error
        if live.heartbeat != self._heartbeat:
            self._hang_up()
            raise BoardConfused(
                f"The board repeats heartbeat {live.heartbeat}, not {self._heartbeat} just written: a late answer, or"
                " another program drives this board too. It is asked again after a pause."
            )
        return live

    def demand(self, demand: Demand) -> None:
        """Writes a new heartbeat and the demand, no more."""
        identity = self._identity or self.identify()
        self._heartbeat = self._next_heartbeat()
        self._ask(WRITE_MANY, _DEMAND.first, values=encode_demand(demand, self._heartbeat, identity))

    def _next_heartbeat(self) -> int:
        return (self._heartbeat + 1) % _HEARTBEATS

    def set_limits(self, air_limit_c: float, bank_limit_c: float, heartbeat_timeout_s: float) -> None:
        """Writes the limits, reads them back and compares.

        Raises ValueError if one is outside its range in the table, BoardRefused if it is above the board's ceiling,
        BoardConfused if the board did not keep it.
        """
        wanted = [round(heartbeat_timeout_s * 1000), round(air_limit_c * 100), round(bank_limit_c * 100)]
        self._write(WRITE_MANY, _LIMITS, wanted)
        kept = self._ask(READ_HOLDING, _LIMITS.first, _LIMITS.count)
        if kept != _LIMITS.encode(wanted):
            self._hang_up()
            raise BoardConfused(
                f"The board did not keep its limits: {', '.join(_LIMITS.names)} were written as {wanted} and read back"
                f" as {kept}. Does another program write to this board?"
            )

    def arm(self) -> None:
        """Lets demands be obeyed. Refused until limits were set since boot, while a trip stands, or while lit."""
        self._write(WRITE_ONE, _ARM, [1])

    def disarm(self) -> None:
        """Dark until armed again."""
        self._write(WRITE_ONE, _ARM, [0])

    def clear_trip(self, cause: int) -> None:
        """Clears the trip of this cause. Refused while the cause lasts or if another stands."""
        self._write(WRITE_ONE, _CLEAR, [cause])

    def service_mode(self) -> None:
        """Ends the firmware: lamps off, and the MicroPython prompt instead. Refused while armed or lit."""
        self._write(WRITE_ONE, _SERVICE, [reg.SERVICE_KEY])

    def close(self) -> None:
        """Hang up. A later call connects again."""
        self._hang_up()

    def _write(self, function: int, block: Block, values: Sequence[int]) -> None:
        registers = block.encode(values)
        if self._identity is None:
            self.identify()
        self._ask(function, block.first, values=registers)

    def _ask(self, function: int, address: int, count: int = 1, values: Sequence[int] = ()) -> list[int]:
        try:
            return self._transport.ask(function, address, count, values)
        except BoardRefused:
            raise  # the line is well
        except LinkError:
            self._identity = None
            raise

    def _hang_up(self) -> None:
        self._identity = None
        self._transport.close()
