"""Our files on an emulated RP2040 that runs a real MicroPython, with a door, a sensor and plates at its pins.

Needs the extra `rp2040`. The emulator runs in a thread of its own, some fourteen times slower than the chip; every time
in here is the emulated chip's own.
"""

import asyncio
import itertools
from collections.abc import Callable
from pathlib import Path

from littlefs import LittleFS, UserContext
from rp2040py.boards import FlashLayout, resolve_board_spec
from rp2040py.device import MicroPythonDevice
from rp2040py.gpio_pin import FUNCTION_PWM, GPIOPinState
from rp2040py.peripherals.i2c import RPI2C, I2CMode
from rp2040py.rp2040 import RP2040
from rp2040py.utils.firmware_retrieve import MICROPYTHON

from lampboard import registers as reg
from lampboard.rtu import sealed
from lampboard.sensors import ntc
from lampwarden.rig.sht3x import Sht3x

DEVICE = Path(__file__).parents[2] / "device"
WALL_S = 1200.0
"""Longest wait by the real clock for anything, s."""
NS_A_S = 1e9
FC03 = sealed(bytes((reg.UNIT_ID, 3, 0, 0, 0, 11)))
"""Reads the demand block; its second byte is what a console takes for Ctrl-C."""
HAMMER_NS = 10e6
DISK_VERSION = 0x00020000
"""littlefs 2.0, which every MicroPython can read."""

# Pins as in lampboard/boards/pico.py, which cannot be imported here (it needs `machine`).
ZONE_PINS = (2, 3, 4, 5, 6, 7)
ENABLE_PIN, DOOR_PIN, STOP_PIN = 12, 14, 15
BANK_CHANNEL = 0
AIR_BUS = 0


def write_files(path: Path, layout: FlashLayout) -> None:
    """A littlefs image with main.py and the firmware, as they lie on a board."""
    files = LittleFS(
        context=UserContext(buffsize=layout.fs_blocksize * layout.fs_blockcount),
        block_size=layout.fs_blocksize,
        block_count=layout.fs_blockcount,
        prog_size=256,
        disk_version=DISK_VERSION,
    )
    for source, root in ((DEVICE / "root", Path("/")), (DEVICE / "lampboard", Path("/lampboard"))):
        for file in sorted(source.rglob("*.py")):
            target = root / file.relative_to(source)
            files.makedirs(str(target.parent), exist_ok=True)
            with files.open(str(target), "wb") as out:
                out.write(file.read_bytes())
    files.unmount()
    path.write_bytes(bytes(files.context.buffer))


class AirBus:
    """The rig's SHT3x, which answers as the chip does, on an emulated I2C bus."""

    def __init__(self, bus: RPI2C, air: Sht3x) -> None:
        self._bus, self._air = bus, air
        self._address, self._written, self._answer = 0, b"", b""
        bus.on_connect, bus.on_stop = self._connect, self._stop
        bus.on_write_byte, bus.on_read_byte = self._write, self._read

    def _connect(self, address: int, mode: I2CMode) -> None:
        self._address, self._written, self._answer = address, b"", b""
        heard = address in self._air.scan()
        if heard and mode == I2CMode.READ:
            try:
                self._answer = self._air.readfrom(address, 6)
            except OSError:  # still measuring: no acknowledge
                heard = False
        self._bus.complete_connect(heard)

    def _write(self, value: int) -> None:
        self._written += bytes((value,))
        self._bus.complete_write(True)

    def _read(self, ack: bool) -> None:
        value, self._answer = (self._answer or b"\xff")[0], self._answer[1:]
        self._bus.complete_read(value)

    def _stop(self) -> None:
        if self._written:
            self._air.writeto(self._address, self._written)
            self._written = b""
        self._bus.complete_stop()


class Pins:
    """What is joined to the chip: door closed, button up, air and plates at these temperatures."""

    def __init__(self, chip: RP2040) -> None:
        self.chip = chip
        self.air_temp_c = 25.0
        air = Sht3x(lambda: int(chip.clock.nanos // 1e6), lambda: (self.air_temp_c, 45.0), itertools.cycle((0, 3, -2)))
        AirBus(chip.i2c[AIR_BUS], air)
        chip.gpio[DOOR_PIN].set_input_value(False)
        chip.gpio[STOP_PIN].set_input_value(False)
        chip.adc.channel_values[BANK_CHANNEL] = ntc.adc_code(3000) >> 4  # 12 bits; every NTC of the multiplexer alike

    @property
    def enabled(self) -> bool:
        """The enable line common to all lamp drivers."""
        return self.chip.gpio[ENABLE_PIN].value == GPIOPinState.HIGH

    def set_share(self, zone: int) -> float:
        """Share of full drive that the PWM block is set to on a zone's pin; 0 while the pin is none of its."""
        pin = ZONE_PINS[zone]
        channel = self.chip.pwm.channels[pin // 2 % 8]
        if self.chip.gpio[pin].function_select != FUNCTION_PWM or not channel.csr & 1:
            return 0.0
        compare = channel.cc >> 16 if pin % 2 else channel.cc & 0xFFFF
        return min(1.0, compare / (channel.top + 1))

    @property
    def dark(self) -> bool:
        """No lamp driver can be lit by these pins."""
        return not self.enabled and not any(self.set_share(zone) for zone in range(len(ZONE_PINS)))


class _Console(MicroPythonDevice):
    def _post_boot_handshake(self) -> None:
        """Sends nothing: the line carries Modbus."""


class EmulatedBoard:
    """A board with this MicroPython image; its `exchange` is the wire for a WireTransport."""

    def __init__(self, image: Path, folder: Path) -> None:
        board = resolve_board_spec("pico", MICROPYTHON, str(image))
        assert board.layout is not None
        filesystem = folder / "files.littlefs"
        write_files(filesystem, board.layout)
        self._device = _Console(board=board, filesystem=filesystem)
        self.chip: RP2040 = self._device.mcu
        self.pins = Pins(self.chip)
        self.watchdog_resets = 0
        self.dark_at_reset: bool | None = None
        self.fc03_answers = 0
        self._heard = bytearray()
        self._hammering = False
        self._hammer_alarm = self.chip.clock.create_alarm(self._hammer)
        self._device.cdc.on_serial_data = self._hear
        self._read_adc = self.chip.adc.on_adc_read
        self._reset = self.chip.watchdog.on_watchdog_trigger
        self.chip.watchdog.on_watchdog_trigger = self._on_watchdog

    @property
    def now_s(self) -> float:
        return float(self.chip.clock.nanos / NS_A_S)

    def start(self, *, hammer: bool) -> None:
        """Power on; returns once USB is up. `hammer`: FC03 frames come from the first moment on, every 10 ms."""
        self._hammering = hammer
        self._hammer_alarm.schedule(HAMMER_NS)
        self._device.start_async(WALL_S).result(WALL_S)

    def rest(self) -> None:
        """No more frames of the hammer."""
        self._hammering = False
        self.pass_time(0.1)
        self._heard.clear()

    def pass_time(self, seconds: float) -> None:
        self.until(lambda: False, seconds, must=False)

    def until(self, what: Callable[[], bool], limit_s: float, *, must: bool = True) -> None:
        """Lets the chip run until something is true, at most for `limit_s` of its own time."""

        async def watch() -> bool:
            end_s = self.now_s + limit_s
            while not (found := what()) and self.now_s < end_s:
                await asyncio.sleep(0.002)
            return found

        found = self._device.simulator.call(watch(), WALL_S)
        assert found or not must, f"not within {limit_s} s of the chip's time"

    def exchange(self, frame: bytes, timeout_s: float) -> bytes:
        """See link.transport.Wire."""

        async def ask() -> bytes:
            for byte in frame:
                self._device.cdc.send_serial_byte(byte)
            end_s = self.now_s + timeout_s
            while not self._heard and self.now_s < end_s:
                await asyncio.sleep(0.001)
            heard = bytes(self._heard)
            self._heard.clear()
            return heard

        return self._device.simulator.call(ask(), WALL_S)

    def measured_share(self, zone: int, window_s: float = 0.002) -> float:
        """Share of time for which a zone's pin is high, from its edges."""
        pin = self.chip.gpio[ZONE_PINS[zone]]
        edges: list[tuple[float, bool]] = []

        def note(state: GPIOPinState, _before: GPIOPinState) -> None:
            edges.append((self.now_s, state == GPIOPinState.HIGH))

        remove = pin.add_listener(note)
        self.pass_time(window_s)
        remove()
        if len(edges) < 3:
            return float(pin.value == GPIOPinState.HIGH)
        high_s = sum(later - at for (at, high), (later, _) in itertools.pairwise(edges) if high)
        return high_s / (edges[-1][0] - edges[0][0])

    def hang(self) -> None:
        """A conversion that never ends: the firmware waits for it, and its loop stands still."""
        self.chip.adc.on_adc_read = lambda channel: None

    def stop(self) -> None:
        self._device.stop()

    def _hear(self, data: bytes | bytearray) -> None:
        self._heard += data
        if self._hammering and bytes((reg.UNIT_ID, 3, 22)) in self._heard:
            self.fc03_answers += 1
            self._heard.clear()

    def _hammer(self) -> None:
        if not self._hammering:
            return
        fifo = self._device.cdc.tx_fifo
        if fifo.size - fifo.item_count >= len(FC03):
            for byte in FC03:
                self._device.cdc.send_serial_byte(byte)
        self._hammer_alarm.schedule(HAMMER_NS)

    def _on_watchdog(self) -> None:
        self.watchdog_resets += 1
        self.chip.adc.on_adc_read = self._read_adc
        self._reset()
        self.dark_at_reset = self.pins.dark
