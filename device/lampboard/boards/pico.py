"""Board layer for an RP2040 board: pins, PWM, I2C, ADC, watchdog, and the serial line on USB or on a UART.

Everything a builder changes stands first. Outputs are active high and every lamp output needs a pull-down at the
driver (10 kOhm): after a reset the pins are inputs, and lamps must be off by the wiring, not by the program. Inputs are
contacts to ground that are closed when all is well, so that a broken wire reads as an open door or a pressed button.
"""

import select
import sys
import time

import machine

from lampboard.node import run
from lampboard.registers import (
    RESET_FIRMWARE_ERROR,
    RESET_POWER_ON,
    RESET_REQUESTED,
    RESET_UNKNOWN,
    RESET_WATCHDOG,
)
from lampboard.sensors.sht3x import Sht3x as AirSensor  # or: from lampboard.sensors.sht4x import Sht4x as AirSensor

# --- what is fitted --------------------------------------------------------------------------------------------------
ZONE_PINS = (2, 3, 4, 5, 6, 7)  # PWM to the driver of each zone, 1 to 8 of them
INSPECTION_PIN = 8  # PWM of the white inspection bank; None if there is none
FAN_PIN = 10  # PWM; not the other pin of a lamp's pair (2n, 2n + 1), which share one frequency
ENABLE_PIN = 12  # high only while a lamp is lit: enable input common to all lamp drivers
DOOR_PIN = 14
STOP_PIN = 15
BANK_COUNT = 6  # NTCs, 1 to 8, 10 kOhm each to ground under 10 kOhm to 3.3 V
BANK_PINS = (26,)  # one ADC pin per NTC, or one pin behind a multiplexer
SELECT_PINS = (16, 17, 18)  # address lines of an 8 to 1 analog multiplexer, lowest first; () if there is none
I2C_BUS, SDA_PIN, SCL_PIN = 0, 20, 21
AIR_ADDRESS = 0x44
LINK = "usb"  # "usb": the USB console; "uart": the pins below, for an isolated or RS-485 line
UART_BUS, TX_PIN, RX_PIN = 0, 0, 1
DIRECTION_PIN = None  # driver enable of an RS-485 transceiver, high while sending; None if it is not needed
# The escape pin, which keeps the prompt at boot, is in main.py.

# --- ceilings: the host may only go below them -----------------------------------------------------------------------
AIR_CEILING_CENTI_C = 4500  # proposal: in published practice paper is held near 30 C
BANK_CEILING_CENTI_C = 6500  # keep it, and the sensor's error, under the lowest trip point of the thermal cutout
LIT_CEILING_S = 30 * 3600  # per zone and arming

# --- choices ---------------------------------------------------------------------------------------------------------
# A shutter at 1/4000 s sees five whole periods of 20 kHz, so photos have no bands; it is above hearing and leaves 6250
# steps. Lower it if the driver's dimming input is slower, but stay above 3 kHz.
LAMP_HZ = 20000
FAN_HZ = 25000  # what four-wire fans expect (common practice)
# A host that holds the USB port open without reading blocks a write for 500 ms, and a long reply may take three.
WATCHDOG_MS = 2000
WAIT_MS = 5  # longest wait for a first byte; paces the loop
READ_MAX = 512
SETTLE_US = 50  # for the multiplexer: put filter capacitors at its inputs, none behind it
BAUD = 115200
STATE_PATH = "board_state"
ERROR_PATH = "last_error"
SERVICE = 100  # in the state file: the next boot gives the prompt instead of starting


class State:
    """Boot count and the reason of the last reset we caused, in one small file.

    Written once per boot and once per error, never while it runs: flash wears, and a write stalls the loop.
    """

    def __init__(self):
        try:
            with open(STATE_PATH) as file:
                boots, note = file.read().split()
            self.boot_count, self.note = int(boots), int(note)
        except (OSError, ValueError):
            self.boot_count, self.note = 0, RESET_UNKNOWN

    def keep(self, note):
        with open(STATE_PATH, "w") as file:
            file.write(f"{self.boot_count} {note}")

    def reset_cause(self):
        if machine.reset_cause() == machine.PWRON_RESET:
            return RESET_POWER_ON
        # machine.reset() works through the watchdog on this chip, so only the note tells the two apart.
        return self.note or RESET_WATCHDOG


class UsbLink:
    def __init__(self):
        self.poll = select.poll()
        self.poll.register(sys.stdin, select.POLLIN)

    def read(self):
        data = b""
        wait_ms = WAIT_MS
        # read(n) would wait for all n bytes; one at a time, as long as there is one, never waits.
        while len(data) < READ_MAX and self.poll.poll(wait_ms):
            byte = sys.stdin.buffer.read(1)
            if not byte:
                break
            data += byte
            wait_ms = 0
        return data

    def write(self, data):
        sys.stdout.buffer.write(data)  # sys.stdout itself would turn 0x0A into two bytes


class UartLink:
    def __init__(self):
        self.uart = machine.UART(
            UART_BUS, BAUD, tx=machine.Pin(TX_PIN), rx=machine.Pin(RX_PIN), rxbuf=READ_MAX, txbuf=READ_MAX, timeout=0
        )
        self.direction = None if DIRECTION_PIN is None else machine.Pin(DIRECTION_PIN, machine.Pin.OUT, value=0)

    def read(self):
        if not self.uart.any():
            time.sleep_ms(WAIT_MS)
        return self.uart.read() or b""

    def write(self, data):
        if self.direction:
            self.direction(1)
        self.uart.write(data)
        if self.direction:
            self.uart.flush()  # 11 ms for the longest live block; the transceiver must not be turned round before
            self.direction(0)


class Pico:
    zone_count = len(ZONE_PINS)
    bank_count = BANK_COUNT
    has_inspection = INSPECTION_PIN is not None
    air_ceiling_centi_c = AIR_CEILING_CENTI_C
    bank_ceiling_centi_c = BANK_CEILING_CENTI_C
    lit_ceiling_s = LIT_CEILING_S

    def __init__(self, state):
        # Outputs first, so that no pin floats longer than it must.
        self.enable = machine.Pin(ENABLE_PIN, machine.Pin.OUT, value=0)
        pins = ZONE_PINS if INSPECTION_PIN is None else ZONE_PINS + (INSPECTION_PIN,)
        self.lamps = [machine.PWM(machine.Pin(pin), freq=LAMP_HZ, duty_u16=0) for pin in pins]
        self.levels = [0] * len(pins)
        self.fan = machine.PWM(machine.Pin(FAN_PIN), freq=FAN_HZ, duty_u16=0)
        self.door = machine.Pin(DOOR_PIN, machine.Pin.IN, machine.Pin.PULL_UP)
        self.stop = machine.Pin(STOP_PIN, machine.Pin.IN, machine.Pin.PULL_UP)
        self.adcs = [machine.ADC(pin) for pin in BANK_PINS]
        self.selects = [machine.Pin(pin, machine.Pin.OUT, value=0) for pin in SELECT_PINS]
        bus = machine.I2C(I2C_BUS, sda=machine.Pin(SDA_PIN), scl=machine.Pin(SCL_PIN), freq=100000, timeout=20000)
        self.air = AirSensor(bus, AIR_ADDRESS)
        self.link = UartLink() if LINK == "uart" else UsbLink()
        self.read = self.link.read
        self.write = self.link.write
        self.ticks_ms = time.ticks_ms
        self.ticks_diff = time.ticks_diff
        self.unique_id = machine.unique_id()
        self.state = state
        self.boot_count = state.boot_count
        self.reset_cause = state.reset_cause()
        self.watchdog = machine.WDT(timeout=WATCHDOG_MS)
        self.feed = self.watchdog.feed

    def door_open(self):
        return self.door() == 1

    def stop_pressed(self):
        return self.stop() == 1

    def bank_adc(self, bank):
        if not self.selects:
            return self.adcs[bank].read_u16()
        for line in range(len(self.selects)):
            self.selects[line](bank >> line & 1)
        time.sleep_us(SETTLE_US)
        return self.adcs[0].read_u16()

    def set_zone(self, zone, permille):
        self.levels[zone] = permille
        if not any(self.levels):
            self.enable(0)
        self.lamps[zone].duty_u16(permille * 65535 // 1000)
        if permille:
            self.enable(1)

    def set_inspection(self, permille):
        self.set_zone(self.zone_count, permille)

    def set_fan(self, permille):
        self.fan.duty_u16(permille * 65535 // 1000)

    def record_error(self, reset_cause):
        self.state.keep(reset_cause)

    def leave(self):
        """Gives the prompt back by a restart that does not start the board: a running watchdog cannot be stopped."""
        self.record_error(SERVICE)
        machine.reset()


def start():
    """Runs the board. Returns only if the last boot asked for the prompt."""
    state = State()
    if state.note == SERVICE:
        state.keep(RESET_REQUESTED)  # for the boot after this one
        return
    state.boot_count += 1
    state.keep(RESET_UNKNOWN)
    run(Pico(state))


def fail(error):
    """Remembers an error, with its traceback for whoever comes to look. The lamps are off already, see node.run."""
    State().keep(RESET_FIRMWARE_ERROR)
    with open(ERROR_PATH, "w") as file:
        sys.print_exception(error, file)
