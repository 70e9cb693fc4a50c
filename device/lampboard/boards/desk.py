"""A board for the desk: the firmware on MicroPython's unix port, serial line on stdin and stdout. It has NO LAMPS.

Sensors and warmth are invented: lamps slowly warm their bank plate and the air, both cool towards the room, and a
little noise keeps the air sensor from looking frozen. Run it with the folder that holds `lampboard` on MICROPYPATH:

  micropython -m lampboard.boards.desk

Three environment variables name files; each may be absent.
  LAMPBOARD_CONTROL  read again every 50 ms, a JSON object of what a person or a fault does to the board:
                     door_open, stop_pressed, crash (true or false), air_status (registers.SENSOR_*, other than ok),
                     air_centi_c, bank_centi_c (temperatures forced from now on)
  LAMPBOARD_LOG      a line is added whenever a lamp's level changes, and at boot: tick in ms, level of each zone, level
                     of the inspection bank. Ticks are the system's monotonic clock.
  LAMPBOARD_STATE    keeps the boot count and the cause of the last reset
"""

import json
import os
import select
import sys
import time

from lampboard.node import run
from lampboard.registers import (
    NO_VALUE,
    RESET_FIRMWARE_ERROR,
    RESET_POWER_ON,
    RESET_REQUESTED,
    RESET_WATCHDOG,
    SENSOR_OK,
)
from lampboard.sensors import ntc

WATCHDOG_MS = 4000  # longer than a real board's: a busy computer may forget a process for a while
CONTROL_MS = 50
ROOM_UC = 22000000  # micro C, so that small steps of warmth are not rounded away
AIR_WARMS_UC = 8000000  # how far the air settles above the room with every zone at full
BANK_WARMS_UC = 25000000  # how far a plate settles above the air at full
AIR_SETTLES_MS = 600000
BANK_SETTLES_MS = 200000
READ_MAX = 512


class Reset(Exception):
    """The board restarts, as its microcontroller would."""


class Air:
    conversion_ms = 10

    def __init__(self, desk):
        self.desk = desk
        self.noise = 1

    def start(self):
        self.desk.pass_time()

    def fetch(self):
        status = self.desk.control.get("air_status", SENSOR_OK)
        if status != SENSOR_OK:
            return status, NO_VALUE, NO_VALUE
        self.noise = (self.noise * 1103515245 + 12345) & 0x7FFFFFFF  # the C standard's example generator
        temp = self.desk.control.get("air_centi_c", self.desk.air_uc // 10000)
        return SENSOR_OK, temp + (self.noise >> 16) % 5 - 2, 4500 + (self.noise >> 20) % 9 - 4


class Desk:
    zone_count = 6
    bank_count = 6
    has_inspection = True
    unique_id = b"\x00desk\x00\x00\x01"
    air_ceiling_centi_c = 4500
    bank_ceiling_centi_c = 6500
    lit_ceiling_s = 30 * 3600

    def __init__(self):
        state = self._state()
        self.boot_count = state.get("boot_count", 0) + 1
        self.reset_cause = state.get("reset_cause", RESET_POWER_ON)
        self._keep(RESET_POWER_ON)  # until something says otherwise: a killed process lost its power
        self.control = {}
        self.control_ms = time.ticks_ms()
        self.levels = [0] * (self.zone_count + 1)
        self.air_uc = ROOM_UC
        self.bank_uc = [ROOM_UC] * self.bank_count
        self.warmed_ms = time.ticks_ms()
        self.air = Air(self)
        self.poll = select.poll()
        self.poll.register(sys.stdin, select.POLLIN)
        self.fed_ms = time.ticks_ms()
        self._log(self.fed_ms)

    # --- files ---
    def _state(self):
        try:
            with open(os.getenv("LAMPBOARD_STATE") or "") as file:
                return json.load(file)
        except (OSError, ValueError):
            return {}

    def _keep(self, reset_cause):
        path = os.getenv("LAMPBOARD_STATE")
        if path:
            with open(path, "w") as file:
                json.dump({"boot_count": self.boot_count, "reset_cause": reset_cause}, file)

    def _log(self, tick):
        path = os.getenv("LAMPBOARD_LOG")
        if path:
            with open(path, "a") as file:
                file.write(" ".join(str(number) for number in [tick] + self.levels) + "\n")

    def _read_control(self):
        try:
            with open(os.getenv("LAMPBOARD_CONTROL") or "") as file:
                self.control = json.load(file)
        except (OSError, ValueError):
            pass  # absent, or just being written: the last one holds
        if self.control.get("crash"):
            raise RuntimeError("the control file asked for a crash")

    # --- warmth ---
    def pass_time(self):
        now = time.ticks_ms()
        passed_ms = time.ticks_diff(now, self.warmed_ms)
        self.warmed_ms = now
        zones = self.levels[: self.zone_count]
        air_goal = ROOM_UC + AIR_WARMS_UC * sum(zones) // (1000 * self.zone_count)
        self.air_uc += (air_goal - self.air_uc) * min(passed_ms, AIR_SETTLES_MS) // AIR_SETTLES_MS
        for bank in range(self.bank_count):
            goal = self.air_uc + BANK_WARMS_UC * zones[bank] // 1000
            self.bank_uc[bank] += (goal - self.bank_uc[bank]) * min(passed_ms, BANK_SETTLES_MS) // BANK_SETTLES_MS

    # --- what the node asks for ---
    def ticks_ms(self):
        return time.ticks_ms()

    def ticks_diff(self, later, earlier):
        return time.ticks_diff(later, earlier)

    def read(self):
        data = b""
        wait_ms = 5
        while len(data) < READ_MAX and self.poll.poll(wait_ms):
            byte = sys.stdin.buffer.read(1)
            if not byte:
                raise EOFError
            data += byte
            wait_ms = 0
        now = time.ticks_ms()
        if time.ticks_diff(now, self.control_ms) >= CONTROL_MS:
            self.control_ms = now
            self._read_control()
        return data

    def write(self, data):
        sys.stdout.buffer.write(data)

    def door_open(self):
        return bool(self.control.get("door_open"))

    def stop_pressed(self):
        return bool(self.control.get("stop_pressed"))

    def bank_adc(self, bank):
        return ntc.adc_code(self.control.get("bank_centi_c", self.bank_uc[bank] // 10000))

    def set_zone(self, zone, permille):
        self._set(zone, permille)

    def set_inspection(self, permille):
        self._set(self.zone_count, permille)

    def _set(self, place, permille):
        if self.levels[place] != permille:
            self.pass_time()
            self.levels[place] = permille
            self._log(time.ticks_ms())

    def set_fan(self, permille):
        pass

    def feed(self):
        now = time.ticks_ms()
        if time.ticks_diff(now, self.fed_ms) > WATCHDOG_MS:
            # The process was stopped: a microcontroller's watchdog would have darkened the board at that moment.
            self.levels = [0] * len(self.levels)
            self._log(time.ticks_add(self.fed_ms, WATCHDOG_MS))
            self.record_error(RESET_WATCHDOG)
            raise Reset
        self.fed_ms = now

    def record_error(self, reset_cause):
        self._keep(reset_cause)

    def leave(self):
        self.record_error(RESET_REQUESTED)


def main():
    sys.stderr.write("desk board: the firmware with invented sensors and no lamps\n")
    while True:
        desk = Desk()
        try:
            run(desk)
            return
        except EOFError:
            return
        except Reset:
            pass
        except Exception as error:
            desk.record_error(RESET_FIRMWARE_ERROR)
            sys.print_exception(error, sys.stderr)
            time.sleep_ms(200)  # a restart takes its time, and a lasting fault must not fill the machine


if __name__ == "__main__":
    main()
