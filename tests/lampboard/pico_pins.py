"""boards/pico.py and main.py over a `machine` that notes what is done to its pins. Runs on MicroPython's unix port.

No RP2040 is here: this shows that the layer asks for the right things in the right order, not what silicon makes of it.
Each function is one check, run by test_micropython.py in a process and folder of its own.
"""
# ruff: noqa: RUF005 - MicroPython has no unpacking in displays

import os
import sys

noted = []
levels = {14: 0, 15: 0, 22: 1}  # door closed, button up, no escape jumper
adc_codes = {}
started = {"cause": 1, "watchdog": None}


class ResetNow(Exception):
    """What machine.reset() does here: nothing after it runs."""


class Pin:
    IN, OUT, PULL_UP = 0, 1, 2

    def __init__(self, number, mode=None, pull=None, value=None):
        self.number = number
        if value is not None:
            self(value)
        if mode == Pin.IN:
            noted.append(("input", number, pull))

    def __call__(self, value=None):
        if value is None:
            return levels[self.number]
        levels[self.number] = value
        noted.append(("pin", self.number, value))
        return None

    value = __call__


class PWM:
    def __init__(self, pin, freq, duty_u16):
        self.number = pin.number
        noted.append(("pwm", self.number, freq))
        self.duty_u16(duty_u16)

    def duty_u16(self, duty):
        levels[self.number] = duty
        noted.append(("duty", self.number, duty))


class ADC:
    def __init__(self, number):
        self.number = number

    def read_u16(self):
        return adc_codes.get((levels[16], levels[17], levels[18]), 32768)


class I2C:
    def __init__(self, bus, sda, scl, freq, timeout):
        self.sent = []

    def writeto(self, address, data):
        self.sent.append((address, data))

    def readfrom_into(self, address, buffer):
        buffer[:] = b"\x66\x66\x93\x80\x00\xa2"


class UART:
    def __init__(self, bus, baud, tx, rx, rxbuf, txbuf, timeout):
        self.arrived = b""

    def any(self):
        return len(self.arrived)

    def read(self):
        data = self.arrived or None
        self.arrived = b""
        return data

    def write(self, data):
        noted.append(("sent", bytes(data)))

    def flush(self):
        noted.append(("flushed",))


class WDT:
    def __init__(self, timeout):
        started["watchdog"] = timeout

    def feed(self):
        noted.append(("fed",))


class Machine:
    Pin, PWM, ADC, I2C, UART, WDT = Pin, PWM, ADC, I2C, UART, WDT
    PWRON_RESET, WDT_RESET = 1, 3

    def reset_cause(self):
        return started["cause"]

    def unique_id(self):
        return b"\x01\x02\x03\x04\x05\x06\x07\x08"

    def reset(self):
        noted.append(("reset",))
        raise ResetNow


sys.modules["machine"] = Machine()


def check(truth, what="not so"):
    if not truth:
        raise ValueError(what, noted[-5:])


def raises(kind, call):
    try:
        call()
    except kind:
        return True
    return False


def boots():
    from lampboard import registers
    from lampboard.boards import pico

    def boot(cause):
        """Starts the board as far as its first pass, and gives it; the state file is real."""
        started["cause"] = cause
        boards = []

        def run(board):
            boards.append(board)

        pico.run = run
        pico.start()
        return boards[0] if boards else None

    board = boot(Machine.PWRON_RESET)
    check((board.boot_count, board.reset_cause) == (1, registers.RESET_POWER_ON))
    board = boot(Machine.WDT_RESET)
    check((board.boot_count, board.reset_cause) == (2, registers.RESET_WATCHDOG))
    pico.fail(ValueError("a broken wire"))
    board = boot(Machine.WDT_RESET)
    check((board.boot_count, board.reset_cause) == (3, registers.RESET_FIRMWARE_ERROR))
    with open(pico.ERROR_PATH) as file:
        check("a broken wire" in file.read())
    board = boot(Machine.WDT_RESET)
    check((board.boot_count, board.reset_cause) == (4, registers.RESET_WATCHDOG))
    check(raises(ResetNow, board.leave))
    check(boot(Machine.WDT_RESET) is None, "the boot after a service request must give the prompt")
    board = boot(Machine.WDT_RESET)
    check((board.boot_count, board.reset_cause) == (5, registers.RESET_REQUESTED))
    with open(pico.STATE_PATH, "w") as file:
        file.write("torn")
    check(boot(Machine.PWRON_RESET).boot_count == 1)


def lamps():
    from lampboard.boards import pico
    from lampboard.node import Node
    from lampboard.sensors import ntc

    board = pico.Pico(pico.State())
    check(noted[0] == ("pin", pico.ENABLE_PIN, 0), "the common enable must be low before any PWM starts")
    check(all(entry[2] == 0 for entry in noted if entry[0] == "duty"))
    frequencies = [entry[2] for entry in noted if entry[0] == "pwm" and entry[1] != pico.FAN_PIN]
    check(len(frequencies) == len(pico.ZONE_PINS) + 1 and min(frequencies) >= 1000)
    fan_pair = pico.FAN_PIN // 2
    check(fan_pair not in [pin // 2 for pin in pico.ZONE_PINS + (pico.INSPECTION_PIN,)])
    pins = pico.ZONE_PINS + (pico.INSPECTION_PIN, pico.FAN_PIN, pico.ENABLE_PIN, pico.DOOR_PIN, pico.STOP_PIN, 22)
    pins += pico.BANK_PINS + pico.SELECT_PINS + (pico.SDA_PIN, pico.SCL_PIN, pico.TX_PIN, pico.RX_PIN)
    check(len(pins) == len(set(pins)), "a pin is used twice")
    for pin in (pico.DOOR_PIN, pico.STOP_PIN):
        check(("input", pin, Pin.PULL_UP) in noted, "a broken wire must read open or pressed")
    check(500 < started["watchdog"] <= 8388)

    board.set_zone(1, 1000)
    check(levels[pico.ZONE_PINS[1]] == 65535 and levels[pico.ENABLE_PIN] == 1)
    board.set_inspection(500)
    board.set_zone(1, 0)
    check(levels[pico.ZONE_PINS[1]] == 0 and levels[pico.ENABLE_PIN] == 1)
    del noted[:]
    board.set_inspection(0)
    check(noted[0] == ("pin", pico.ENABLE_PIN, 0), "the enable goes first when the last lamp goes dark")
    check(levels[pico.INSPECTION_PIN] == 0)
    board.set_fan(1000)
    check(levels[pico.FAN_PIN] == 65535)

    check(not board.door_open() and not board.stop_pressed())
    levels[pico.DOOR_PIN] = levels[pico.STOP_PIN] = 1
    check(board.door_open() and board.stop_pressed())
    levels[pico.DOOR_PIN] = levels[pico.STOP_PIN] = 0

    for bank in range(6):
        adc_codes[(bank & 1, bank >> 1 & 1, bank >> 2)] = ntc.adc_code(2000 + 100 * bank)
    node = Node(board)
    while not node.measuring:
        node.step()
    check([abs(node.guard.bank_temp_centi_c[bank] - 2000 - 100 * bank) <= 1 for bank in range(6)] == [True] * 6)
    while node.measuring:
        node.step()
    check((node.guard.air_temp_centi_c, node.guard.humidity_centi_pct) == (2500, 5000))
    check(node.guard.trip_cause == 0)


def links():
    from lampboard.boards import pico

    pico.LINK = "uart"
    pico.DIRECTION_PIN = 9
    board = pico.Pico(pico.State())
    check(levels[9] == 0)
    check(board.read() == b"")
    board.link.uart.arrived = b"abc"
    check(board.read() == b"abc")
    del noted[:]
    board.write(b"xyz")
    check(noted == [("pin", 9, 1), ("sent", b"xyz"), ("flushed",), ("pin", 9, 0)])


def service():
    """A service request over the wire ends in a restart with every lamp pin low."""
    from lampboard import registers
    from lampboard.boards import pico
    from lampboard.rtu import sealed

    pico.LINK = "uart"
    uarts = []

    class Asking(UART):
        def __init__(self, *arguments, **named):
            super().__init__(*arguments, **named)
            self.arrived = sealed(b"\x01\x06\x00\x10" + registers.SERVICE_KEY.to_bytes(2, "big"))
            uarts.append(self)

    Machine.UART = Asking
    check(raises(ResetNow, pico.start))
    check(noted[-1] == ("reset",))
    check([levels[pin] for pin in pico.ZONE_PINS + (pico.INSPECTION_PIN, pico.ENABLE_PIN)] == [0] * 8)


def main():
    """main.py: Ctrl-C off first, a stray interrupt ignored, an error remembered and followed by a restart."""
    import micropython

    from lampboard.boards import pico

    class Micropython:
        def __init__(self):
            self.calls = []

        def kbd_intr(self, char):
            self.calls.append(char)

    for root in sys.path + os.getenv("MICROPYPATH").split(":"):
        try:
            with open(root + "/root/main.py") as file:
                text = file.read()
            break
        except OSError:
            pass
    lines = [line for line in text.split("\n") if line]
    check(lines[0] == "import micropython")
    check(lines[1].startswith("micropython.kbd_intr(-1)"), "Ctrl-C must be off before anything else")

    def play(start, escape=1):
        """What main.py did: calls of kbd_intr, and whether it restarted the board."""
        levels[22] = escape
        pico.start = start
        console = sys.modules["micropython"] = Micropython()
        try:
            exec(text, {"__name__": "__main__"})
        except ResetNow:
            return console.calls, True
        return console.calls, False

    times = []

    def interrupted_once():
        times.append(1)
        if len(times) == 1:
            raise KeyboardInterrupt

    def broken():
        raise ValueError("broken")

    check(play(interrupted_once) == ([-1, 3], False))
    check(len(times) == 2)
    check(play(broken) == ([-1], True))
    check(pico.State().note == 3)
    check(play(broken, escape=0) == ([-1, 3], False), "the jumper must keep the prompt")
    for name in list(sys.modules):
        if name.startswith("lampboard"):
            del sys.modules[name]
    sys.path[:] = ["nowhere"]
    check(play(broken)[1], "a board whose firmware cannot be imported restarts too")
    sys.modules["micropython"] = micropython
