"""Every kind of trouble, in one table, with the reaction expected.

A row says how trouble begins and ends, how long it lasts, and what the rest of the campaign may expect of it:
`late_s` is how much later than at once the host's order to go dark may take effect while it lasts (the board's own
protection has bounds of its own, which no row can loosen), `trips` what the board must latch after `trips_after_s`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from lampboard import registers as reg
from lampwarden.keeper.keeper import HEARTBEAT_TIMEOUT_S, PERIOD_S
from lampwarden.link.transport import REPLY_S, REST_S

if TYPE_CHECKING:
    from .stage import Stage

LAPSE_S = HEARTBEAT_TIMEOUT_S + 0.35
"""Dark by the board itself, when the host's frames do not arrive: timeout, a pass of the firmware, a frame's way, s."""
DELAY_S_MAX = 1.5
"""Longest delay on the line, s; frames keep their order, as on any serial line."""
CONFUSED_S = REPLY_S + REST_S + 0.1
"""What a stray answer may cost the host before it asks again: its wait, its rest, and the exchange itself, s."""
WATCHDOG_S = 2.3
"""A board that hangs keeps its lamps as they are until its watchdog resets it: 2 s, and two passes of the world."""


@dataclass(frozen=True, slots=True)
class Strike:
    """One piece of trouble in a case."""

    number: int
    name: str
    at_s: float
    lasts_s: float
    value: float
    """0..1: what else the kind of trouble needs drawn."""

    @property
    def end_s(self) -> float:
        return self.at_s + self.lasts_s


Act = Callable[["Stage", Strike], object]


def _nothing(stage: "Stage", strike: Strike) -> None:
    """It ends by itself."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One row of the table."""

    name: str
    room: str
    reaction: str
    """What must happen, in a sentence."""
    begin: Act
    end: Act = _nothing
    lasts_s: tuple[float, float] = (0.0, 0.0)
    weight: float = 1.0
    at_start: bool = False
    """A state of the board before the session rather than an event."""
    late_s: float = 0.0
    trips: tuple[int, ...] = ()
    trips_after_s: float = 0.0


def _between(strike: Strike, low: float, high: float) -> float:
    return low + (high - low) * strike.value


# --- sensors, heat ----------------------------------------------------------------------------------------------------
def _air(mode: str) -> Act:
    return lambda stage, strike: stage.world.air_sensor(mode)


def _drift(stage: "Stage", strike: Strike) -> None:
    stage.world.board.air_chip.drift_k_h = _between(strike, -300, 300)
    stage.world.air_sensor("drift")


def _bank(stage: "Stage", strike: Strike) -> int:
    return int(strike.value * stage.case.chamber.bank_count)


def _ntc(mode: str) -> Act:
    return lambda stage, strike: stage.world.ntc(_bank(stage, strike), mode)


def _runaway(stage: "Stage", strike: Strike) -> None:
    stage.world.extra_heat_w = _between(strike, 10, 200) * stage.world.plant.loss_w_k


def _no_runaway(stage: "Stage", strike: Strike) -> None:
    stage.world.extra_heat_w = 0.0


def _hotspot(stage: "Stage", strike: Strike) -> None:
    bank, plant = _bank(stage, strike), stage.world.plant
    plant.extra_plate_w[bank] = _between(strike, 15, 150) * plant.plate_w_k[bank]


def _no_hotspot(stage: "Stage", strike: Strike) -> None:
    stage.world.plant.extra_plate_w[:] = 0.0


def _fan(dead: bool) -> Act:
    return lambda stage, strike: setattr(stage.world, "fan_dead", dead)


def _room(warmer: bool) -> Act:
    return lambda stage, strike: setattr(
        stage.world, "ambient_c", stage.case.design.ambient_c + warmer * _between(strike, 5, 25)
    )


# --- door, button, board ----------------------------------------------------------------------------------------------
def _door(is_open: bool) -> Act:
    return lambda stage, strike: stage.world.door(is_open)


def _stop(down: bool) -> Act:
    return lambda stage, strike: stage.world.press_stop(down)


def _pull_usb(stage: "Stage", strike: Strike) -> None:
    stage.wire.plugged = False
    stage.world.reboot()
    stage.world.board.left = True  # no power: it does not come up before the next power cycle


def _plug_usb(stage: "Stage", strike: Strike) -> None:
    stage.world.reboot()
    stage.wire.plugged = True


def _tick_wrap(stage: "Stage", strike: Strike) -> None:
    stage.world.board.ticks_start_ms = 2**30 - 1 - int(_between(strike, 0, 1200) * 1000)
    stage.world.reboot()


def _old_board(stage: "Stage", strike: Strike) -> None:
    """A board that has run for seven weeks: its counters are about to wrap."""
    guard = stage.world.node.guard
    guard.lit_ms = [2**32 - 1 - int(_between(strike, 0, 100_000)) * (zone + 1) % 90_001 for zone in range(8)]
    guard.door_openings = 65535
    guard.heartbeat = 65530


# --- host, power ------------------------------------------------------------------------------------------------------
def _stall(stage: "Stage", strike: Strike) -> None:
    stage.stall(strike.end_s)


def _down_s(strike: Strike) -> float:
    """How long the host stays down: mostly a restart by the service manager, sometimes a long night."""
    return 0.2 + 2000 * strike.value**6


def _die(stage: "Stage", strike: Strike) -> None:
    stage.kill(_down_s(strike))


def _die_at(door: str) -> Act:
    return lambda stage, strike: stage.kill_at(door, _down_s(strike))


def _power_cut(stage: "Stage", strike: Strike) -> None:
    stage.world.reboot()
    stage.kill(_down_s(strike))


def _power_cut_at(door: str) -> Act:
    return lambda stage, strike: stage.kill_at(door, _down_s(strike), with_board=True)


# --- line, clock, disk ------------------------------------------------------------------------------------------------
def _line(stage: "Stage", strike: Strike) -> None:
    stage.line.trouble[strike.number] = (strike.name, strike.value)


def _no_line(stage: "Stage", strike: Strike) -> None:
    stage.line.trouble.pop(strike.number, None)


def _plugged(plugged: bool) -> Act:
    return lambda stage, strike: setattr(stage.wire, "plugged", plugged)


def _second_master(stage: "Stage", strike: Strike) -> None:
    stage.second_master.speak()


def _jump(sign: int) -> Act:
    def jump(stage: "Stage", strike: Strike) -> None:
        stage.jump(timedelta(seconds=sign * 10 ** _between(strike, -1, 7)))

    return jump


def _daylight(stage: "Stage", strike: Strike) -> None:
    stage.jump(timedelta(hours=1 if strike.value < 0.5 else -1))


def _disk(stage: "Stage", strike: Strike) -> None:
    stage.disk.strike(strike.name, _between(strike, 0.05, 12.0))


def _no_disk(stage: "Stage", strike: Strike) -> None:
    stage.disk.mend(strike.name)


def _person(kind: str) -> Act:
    def order(stage: "Stage", strike: Strike) -> None:
        for _ in range(2 if strike.value < 0.4 else 1):
            stage.person.order(kind, strike.value)

    return order


HOST_DARK = "session held as board lost; dark by the board's heartbeat timeout; light booked when it answers"
KEPT = "nothing shown is lost; lamps dark by the heartbeat timeout; adopted, held as restart, light booked"
STORED = "session held as storage, heartbeat goes on; goes on when the disk does; nothing shown is lost"

FAULTS = (
    # sensors: times are the guard's own plus two sensor polls, each with its conversion
    Fault("air_silent", "sensor", "trip after 3 s", _air("silent"), _air("ok"), (0.5, 30),
          trips=(reg.TRIP_AIR_SILENT,), trips_after_s=4.3),
    Fault("air_crc", "sensor", "trip after 3 s", _air("crc"), _air("ok"), (0.5, 30),
          trips=(reg.TRIP_AIR_CRC,), trips_after_s=4.3),
    Fault("air_range", "sensor", "trip after 3 s", _air("range"), _air("ok"), (0.5, 30),
          trips=(reg.TRIP_AIR_RANGE,), trips_after_s=4.3),
    Fault("air_frozen", "sensor", "trip after 120 s", _air("frozen"), _air("ok"), (20, 300),
          trips=(reg.TRIP_AIR_FROZEN,), trips_after_s=121.5),
    Fault("air_drift", "sensor", "ruled by what is read: cooling, trip, or none", _drift, _air("ok"), (20, 300)),
    Fault("ntc_open", "sensor", "trip after 1 s", _ntc("open"), _ntc("ok"), (0.5, 30),
          trips=(reg.TRIP_BANK_RANGE,), trips_after_s=2.3),
    Fault("ntc_short", "sensor", "trip after 1 s", _ntc("short"), _ntc("ok"), (0.5, 30),
          trips=(reg.TRIP_BANK_RANGE,), trips_after_s=2.3),
    Fault("air_runaway", "heat", "cooling at the soft limit, trip at the hard one", _runaway, _no_runaway, (20, 300)),
    Fault("fan_dead", "heat", "cooling at the soft limit, trip at the hard one", _fan(True), _fan(False), (60, 900)),
    Fault("bank_hotspot", "heat", "cooling or trip by that bank", _hotspot, _no_hotspot, (20, 300)),
    Fault("hot_room", "heat", "cooling at the soft limit, trip at the hard one", _room(True), _room(False), (60, 600)),
    Fault("door", "door", "dark within 250 ms; held until a person lets it go on", _door(True), _door(False),
          (0.1, 120), 2.0),
    Fault("door_blink", "door", "if a pass sees it: dark, held", _door(True), _door(False), (0.01, 0.3), 2.0),
    Fault("stop_button", "door", "trip", _stop(True), _stop(False), (0.05, 30),
          trips=(reg.TRIP_STOP,), trips_after_s=0.25),
    # board
    Fault("board_reset", "board", "dark at once; light since the last reading reckoned; goes on or asks",
          lambda stage, strike: stage.world.reboot(), weight=1.5, late_s=LAPSE_S),
    Fault("board_hang", "board", "reset by the watchdog, then as after a reset",
          lambda stage, strike: stage.world.hang(), weight=1.5, late_s=LAPSE_S),
    Fault("board_crash", "board", "reset with the cause recorded, then as after a reset",
          lambda stage, strike: stage.world.crash(), late_s=LAPSE_S),
    Fault("usb_pulled", "board", HOST_DARK, _pull_usb, _plug_usb, (0.5, 200), late_s=LAPSE_S),
    Fault("tick_wrap", "board", "nothing: time goes on", _tick_wrap, at_start=True),
    Fault("old_board", "board", "nothing: light is booked over the wrap", _old_board, at_start=True),
    # host
    Fault("host_stall", "host", "dark by the heartbeat timeout; light booked after it", _stall, lasts_s=(0.3, 40),
          weight=1.5, late_s=LAPSE_S),
    Fault("host_dies", "host", KEPT, _die, weight=1.5, late_s=LAPSE_S),
    Fault("host_dies_before_commit", "host", KEPT, _die_at("before commit"), late_s=LAPSE_S),
    Fault("host_dies_after_commit", "host", KEPT, _die_at("after commit"), late_s=LAPSE_S),
    Fault("host_dies_before_asking", "host", KEPT, _die_at("before asking"), late_s=LAPSE_S),
    Fault("host_dies_after_answer", "host", KEPT, _die_at("after answer"), late_s=LAPSE_S),
    Fault("power_cut", "power", KEPT, _power_cut, late_s=LAPSE_S),
    Fault("power_cut_before_commit", "power", KEPT, _power_cut_at("before commit"), late_s=LAPSE_S),
    Fault("power_cut_after_commit", "power", KEPT, _power_cut_at("after commit"), late_s=LAPSE_S),
    # wire
    Fault("wire_drops", "wire", HOST_DARK, _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("wire_garbles", "wire", HOST_DARK, _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("wire_duplicates", "wire", "nothing, or as for noise", _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("wire_delays", "wire", HOST_DARK, _line, _no_line, (0.5, 60), late_s=LAPSE_S + DELAY_S_MAX),
    Fault("wire_truncates", "wire", HOST_DARK, _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("stale_replies", "wire", "not taken for fresh ones; board lost", _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("wire_noise", "wire", HOST_DARK, _line, _no_line, (0.5, 60), late_s=LAPSE_S),
    Fault("unplugged", "wire", HOST_DARK, _plugged(False), _plugged(True), (0.5, 200), late_s=LAPSE_S),
    Fault("second_master", "wire", "its light is booked and put out by the next turn; what it may not is refused",
          _second_master, weight=4.0, late_s=PERIOD_S + CONFUSED_S),
    # clock
    Fault("clock_forward", "clock", "no exposure changes", _jump(1)),
    Fault("clock_back", "clock", "no exposure changes", _jump(-1)),
    Fault("daylight_saving", "clock", "no exposure changes", _daylight),
    # disk
    Fault("disk_full", "disk", STORED, _disk, _no_disk, (0.5, 120), 1.5),
    Fault("disk_slow", "disk", "light waits for the disk; held as storage after 5 s", _disk, _no_disk, (5, 120), 1.5),
    Fault("disk_read_only", "disk", STORED, _disk, _no_disk, (0.5, 120)),
    Fault("database_locked", "disk", STORED, _disk, _no_disk, (0.5, 120)),
    # a person, at the worst moment, and often twice
    Fault("order_hold", "person", "dark at once; held until continued", _person("hold")),
    Fault("order_stop", "person", "board darkened before anything else; held", _person("stop")),
    Fault("order_continue", "person", "goes on, or is refused and nothing changes", _person("continue")),
    Fault("order_answer", "person", "the checkpoint passes once, or is refused", _person("answer")),
    Fault("order_change_plan", "person", "the rest of the plan changes; the past and its light stay",
          _person("change plan")),
    Fault("lit_ceiling", "person", "a plan made too long: trip once a zone was lit longer than the board allows",
          lambda stage, strike: stage.person.lengthen(), weight=0.0),
    Fault("order_inspection", "person", "the inspection light comes on again at a checkpoint, or is refused",
          _person("inspection"), weight=0.5),
    Fault("order_note", "person", "on record, or refused", _person("note")),
    Fault("order_clear_trip", "person", "refused while a session is under way", _person("clear trip"), weight=0.5),
    Fault("order_start", "person", "refused while a session is under way", _person("start"), weight=0.5),
    Fault("order_end", "person", "dark at once; ended for good", _person("end"), weight=0.5),
)  # fmt: skip
TABLE = {fault.name: fault for fault in FAULTS}
