"""One Modbus transaction at a time with the board: the seam between host and board.

Theory of operation. pymodbus makes and reads messages and frames. The ports in here carry the bytes and keep the time,
since two things about pymodbus' own do not suit a control thread: on serial ports it waits by the wall clock, which may
jump, and it takes whatever arrives as the answer. An answer may be late, and late it looks like the answer to the next
question. So:
- An answer must have the function, register count and address that were asked for; board.py also checks an echo.
- After silence or nonsense the port is closed, left alone until the slowest answer has come and gone, then opened anew,
  which throws away what arrived meanwhile. Nothing is repeated from here.
- A serial port that is gone is looked for under another name, since a system may give it one when it is plugged in
  again: only behind the same USB device, by make and serial number. Whether the same board answers, board.py checks.
- No `ask` takes longer than ASK_S_MAX, so a control period of 1 s is kept whatever the board does. (One exception: a
  host name is looked up until it was found once, at the pace of the machine's resolver.)
"""

import errno
import logging
import math
import os
import re
import socket
import struct
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

import serial
from pymodbus.client import ModbusTcpClient
from pymodbus.exceptions import ModbusException, ModbusIOException
from pymodbus.framer import FramerType
from pymodbus.pdu import ModbusPDU
from serial.tools import list_ports

from lampboard.registers import UNIT_ID
from lampboard.rtu import crc16

from ..errors import BoardConfused, BoardSilent, LinkError
from .codec import refusal

READ_HOLDING = 3
READ_INPUT = 4
WRITE_ONE = 6
WRITE_MANY = 16

REPLY_S = 0.25
"""Longest wait for a whole answer, s. The longest exchange, 137 bytes, takes 0.15 s at 9600 baud, 2 ms over USB."""
REST_S = 0.35
"""How long a port stays closed after trouble, s. REPLY_S + REST_S must exceed the slowest answer: 0.5 s that a board
may hang in a USB write, and a pass of its loop."""
CONNECT_S = 0.25
"""Longest wait for a TCP connection, s."""
ASK_S_MAX = REST_S + CONNECT_S + REPLY_S
BAUD = 115200
BAUDS = (9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600)
"""Slower ones could not answer within REPLY_S."""
ANSWER_MAX = 512
"""Bytes looked at for one answer: twice the longest frame. More is noise, which pymodbus would search at ever growing
cost."""

logging.getLogger("pymodbus").setLevel(logging.CRITICAL)  # it logs each silence; our errors say it once, and better


class Transport(Protocol):
    def ask(self, function: int, address: int, count: int = 1, values: Sequence[int] = ()) -> list[int]:
        """One transaction: 3 and 4 read `count` registers and return them, 6 and 16 write `values` and return [].

        Raises BoardSilent, BoardConfused or BoardRefused. Opens the port if it is not open.
        """

    def close(self) -> None:
        """Hang up. A later ask opens the port again, but not before late answers have died away."""


class Port(Protocol):
    """Carries bytes. Every method but `close` may raise OSError when the far end is gone."""

    name: str

    def is_open(self) -> bool: ...

    def open(self) -> None:
        """Raises BoardSilent, with what to do, if the port cannot be opened."""

    def write(self, frame: bytes) -> None:
        """Throws away what arrived unasked, sends, and starts the time for the answer."""

    def read(self) -> bytes:
        """The next bytes, b"" once the time for the answer is over."""

    def close(self) -> None: ...


class _Client(ModbusTcpClient):
    """pymodbus' transactions, messages and RTU frames over a port of ours."""

    def __init__(self, port: Port) -> None:
        super().__init__(port.name, framer=FramerType.RTU, timeout=math.inf, retries=0)  # the port keeps the time
        self.port = port
        self._room = 0

    def connect(self) -> bool:
        return True  # ask() has opened the port

    def send(self, request: bytes, addr: tuple[object, ...] | None = None) -> int:
        self._room = ANSWER_MAX
        self.port.write(request)
        return len(request)

    def recv(self, size: int | None) -> bytes:
        data = self.port.read() if self._room > 0 else b""
        self._room -= len(data)
        return data

    def close(self) -> None:
        self.port.close()


class ModbusTransport:
    """Transport over a port of any kind. Belongs to one thread."""

    def __init__(self, port: Port) -> None:
        self._port = port
        self._client = _Client(port)

    def ask(self, function: int, address: int, count: int = 1, values: Sequence[int] = ()) -> list[int]:
        """See Transport."""
        try:
            if not self._port.is_open():
                self._port.open()
            pdu = self._send(function, address, count, values)
        except ModbusException:
            self.close()
            raise BoardSilent(
                f"No intact answer from {self._port.name} in time. Is the board powered, and is its firmware on it?"
            ) from None
        except OSError as error:
            self.close()
            raise BoardSilent(
                f"The connection to {self._port.name} broke ({_bare(error)})."
                " Is the board powered and its cable in place?"
            ) from error
        if pdu.function_code == function | 0x80:
            raise refusal(function, address, count, values, pdu.exception_code)
        if values:
            belongs = pdu.address == address
            belongs &= pdu.count == len(values) if function == WRITE_MANY else list(pdu.registers) == list(values)
        else:
            belongs = len(pdu.registers) == count
        if pdu.function_code != function or not belongs:
            self.close()
            raise BoardConfused(
                f"{self._port.name} answered with function {pdu.function_code} and {len(pdu.registers)} registers when"
                f" asked for function {function}, address {address}, {len(values) or count} registers: a late answer,"
                " or another program on the same line. It is asked again after a pause."
            )
        return [] if values else list(pdu.registers)

    def _send(self, function: int, address: int, count: int, values: Sequence[int]) -> "ModbusPDU | _Answer":
        client = self._client
        if function == READ_INPUT:
            return client.read_input_registers(address, count=count, device_id=UNIT_ID)
        if function == READ_HOLDING:
            return client.read_holding_registers(address, count=count, device_id=UNIT_ID)
        if function == WRITE_ONE:
            (value,) = values
            return client.write_register(address, value, device_id=UNIT_ID)
        if function == WRITE_MANY:
            return client.write_registers(address, values, device_id=UNIT_ID)
        raise ValueError(f"function {function} is none of 3, 4, 6, 16")

    def close(self) -> None:
        """See Transport."""
        self._port.close()


# --- real ports ------------------------------------------------------------------------------------------------------
class _RealPort(ABC):
    """A port in real time. Subclasses open, send and receive."""

    def __init__(self, name: str, reply_s: float, rest_s: float) -> None:
        self.name = name
        self._reply_s = reply_s
        self._rest_s = rest_s
        self._until_s = 0.0
        self._rested_s = 0.0

    def open(self) -> None:
        time.sleep(max(0.0, self._rested_s - time.monotonic()))
        self._open()

    def write(self, frame: bytes) -> None:
        self._until_s = time.monotonic() + self._reply_s
        self._receive(0.0)
        self._send(frame)

    def read(self) -> bytes:
        return self._receive(max(0.0, self._until_s - time.monotonic()))

    def close(self) -> None:
        self._rested_s = time.monotonic() + self._rest_s
        self._close()

    @abstractmethod
    def is_open(self) -> bool: ...

    @abstractmethod
    def _open(self) -> None: ...

    @abstractmethod
    def _send(self, frame: bytes) -> None: ...

    @abstractmethod
    def _receive(self, timeout_s: float) -> bytes:
        """What has arrived, else the first bytes that come within the timeout, else b""."""

    @abstractmethod
    def _close(self) -> None: ...


UsbDevice = tuple[int, int, str | None]
"""Vendor, product and serial number; a device without a number cannot be told from others of its make."""


def usb_ports() -> dict[str, UsbDevice]:
    """The devices behind the USB serial ports that are there, by port name. Opens none."""
    return {port.device: (port.vid, port.pid, port.serial_number) for port in list_ports.comports() if port.vid}


class SerialPort(_RealPort):
    """A serial port, held alone."""

    def __init__(
        self,
        device: str,
        baud: int = BAUD,
        reply_s: float = REPLY_S,
        rest_s: float = REST_S,
        usb_ports: Callable[[], Mapping[str, UsbDevice]] = usb_ports,
    ) -> None:
        super().__init__(f"serial:{device}", reply_s, rest_s)
        self._device, self._baud = device, baud
        self._serial: serial.Serial | None = None
        self._usb_ports = usb_ports
        self._usb: UsbDevice | None = None  # was there when the port was last opened by its own name
        self._tries = 0

    def is_open(self) -> bool:
        return self._serial is not None

    def _open(self) -> None:
        try:
            self._open_as(self._device)
        except Exception as error:  # pyserial lets errors of termios through, which are no OSError
            if not (is_gone(error) and self._open_elsewhere()):
                raise BoardSilent(why_not_open(self._device, error)) from error
        else:
            ports = self._usb_ports()
            self._usb = ports.get(self._device) or ports.get(os.path.realpath(self._device))

    def _open_as(self, device: str) -> None:
        self._serial = serial.Serial(
            device, self._baud, timeout=self._reply_s, write_timeout=self._reply_s, exclusive=True
        )
        self.name = f"serial:{device}"

    def _open_elsewhere(self) -> bool:
        """Opens one of the ports behind the same USB device, another one each time. False if that cannot be."""
        found = [device for device, usb in self._usb_ports().items() if usb == self._usb]
        if not found:
            return False
        self._tries += 1
        with suppress(Exception):  # another program holds it, most likely since it is another board
            self._open_as(found[self._tries % len(found)])
        return self._serial is not None

    def _send(self, frame: bytes) -> None:
        assert self._serial is not None
        self._serial.write(frame)

    def _receive(self, timeout_s: float) -> bytes:
        port = self._serial
        assert port is not None
        waiting = port.in_waiting
        if waiting == 0:
            if timeout_s == 0:
                return b""
            port.timeout = timeout_s
            waiting = 1
        data: bytes = port.read(waiting)
        return data

    def _close(self) -> None:
        if self._serial is not None:
            with suppress(Exception):
                self._serial.reset_output_buffer()  # closing would wait for a board that takes no more bytes
            with suppress(Exception):
                self._serial.close()
            self._serial = None


def is_gone(error: Exception) -> bool:
    """There is no port of that name. On Windows pyserial gives no errno, only the name of the error in its text."""
    return getattr(error, "errno", None) == errno.ENOENT or "FileNotFoundError" in str(error)


def why_not_open(device: str, error: Exception) -> str:
    """A sentence for a person."""
    number, text = getattr(error, "errno", None), str(error)
    if is_gone(error):
        return (
            f"There is no serial port {device}. Plug the board in; 'lampwarden ports' lists the ports that are there."
        )
    if number in (errno.EAGAIN, errno.EWOULDBLOCK, errno.EBUSY) or "PermissionError" in text:
        return f"Another program uses {device}. Close it: a second Lampwarden, a serial monitor, a file tool."
    if number in (errno.EACCES, errno.EPERM):
        return (
            f"This user may not open {device}. On Linux, join the group that owns it"
            " (sudo usermod -a -G dialout $USER), then log out and in again."
        )
    return f"The serial port {device} cannot be opened: {_bare(error)}. Unplug the board, plug it in again, try again."


def _bare(error: Exception) -> str:
    """The error's text without a full stop, for the middle of a sentence."""
    return str(error).rstrip(". ")


class TcpPort(_RealPort):
    """A board behind TCP: Modbus RTU frames in the stream."""

    def __init__(self, host: str, port: int, reply_s: float = REPLY_S, rest_s: float = REST_S) -> None:
        super().__init__(f"tcp:{host}:{port}", reply_s, rest_s)
        self._host, self._port = host, port
        self._peers: Sequence[tuple[int, Any]] = ()
        self._socket: socket.socket | None = None

    def is_open(self) -> bool:
        return self._socket is not None

    def _open(self) -> None:
        try:
            if not self._peers:
                found = socket.getaddrinfo(self._host, self._port, type=socket.SOCK_STREAM)
                self._peers = [(family, address) for family, _, _, _, address in found][:2]
        except OSError as error:
            raise BoardSilent(
                f"No machine called '{self._host}' was found ({_bare(error)}). Check the name, or write its number."
            ) from error
        reasons = []
        for family, address in self._peers:
            link = socket.socket(family, socket.SOCK_STREAM)
            link.settimeout(CONNECT_S / len(self._peers))
            try:
                link.connect(address)
                link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            except OSError as error:
                link.close()
                reasons.append(_bare(error))
            else:
                self._socket = link
                return
        raise BoardSilent(
            f"Nobody answers at {self.name} ({'; '.join(reasons)}). Is that machine on, and is a board served there?"
        )

    def _send(self, frame: bytes) -> None:
        assert self._socket is not None
        self._socket.settimeout(self._reply_s)
        self._socket.sendall(frame)

    def _receive(self, timeout_s: float) -> bytes:
        assert self._socket is not None
        self._socket.settimeout(timeout_s)
        try:
            data = self._socket.recv(ANSWER_MAX)
        except (TimeoutError, BlockingIOError):
            return b""
        if not data:
            raise ConnectionResetError("closed by the other end")
        return data

    def _close(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None


# --- the simulated board's wire --------------------------------------------------------------------------------------
class Wire(Protocol):
    """What the simulated board offers, in its own time."""

    def exchange(self, frame: bytes, timeout_s: float) -> bytes:
        """Sends (b"": nothing) and returns the first bytes that come within the timeout, else b"".

        Raises ConnectionError when unplugged.
        """


_STRAYS_MAX = 8
"""Late answers that are waited out after trouble; a wire that still talks then is asked all the same."""


class _WirePort:
    """The wire as a port. Waits in the wire's time, never by the real clock, so a run repeats exactly."""

    name = "the simulated board"

    def __init__(self, wire: Wire) -> None:
        self._wire = wire
        self._frame = b""
        self._open = True  # nothing was said yet, so nothing can come late

    def is_open(self) -> bool:
        return self._open

    def open(self) -> None:
        for _ in range(_STRAYS_MAX):
            if not self._wire.exchange(b"", REST_S):
                break
        self._open = True

    def write(self, frame: bytes) -> None:
        self._frame = frame

    def read(self) -> bytes:
        frame, self._frame = self._frame, b""
        return self._wire.exchange(frame, REPLY_S)

    def close(self) -> None:
        self._open = False


class WireTransport(ModbusTransport):
    """Transport to a simulated board in the same process.

    A day's rehearsal makes 170,000 transactions; pymodbus took a fifth of its time (48 us each, 12 us here). So the
    frames of the four functions are made and read here, and all that follows is shared with the real ports. Against
    pymodbus and a foreign master the firmware is tested over real ports.
    """

    def __init__(self, wire: Wire) -> None:
        super().__init__(_WirePort(wire))

    def _send(self, function: int, address: int, count: int, values: Sequence[int]) -> "_Answer":
        if function == WRITE_MANY:
            body = struct.pack(
                f">BBHHB{len(values)}H", UNIT_ID, function, address, len(values), 2 * len(values), *values
            )
        elif function in (READ_INPUT, READ_HOLDING, WRITE_ONE):
            body = struct.pack(">BBHH", UNIT_ID, function, address, values[0] if function == WRITE_ONE else count)
        else:
            raise ValueError(f"function {function} is none of 3, 4, 6, 16")
        self._port.write(body + struct.pack("<H", crc16(body)))
        data = b""
        while len(data) < ANSWER_MAX and (more := self._port.read()):
            data += more
            if (answer := _answer_in(data)) is not None:
                return answer
        raise ModbusIOException("no whole frame in time")


@dataclass(slots=True)
class _Answer:
    """What `ask` looks at in an answer; pymodbus' own messages have the same names."""

    function_code: int
    address: int = 0
    count: int = 0
    registers: tuple[int, ...] = ()
    exception_code: int = 0


def _answer_in(data: bytes) -> _Answer | None:
    """The answer that these bytes begin with, once it is whole and its checksum right."""
    if len(data) < 5 or data[0] != UNIT_ID:
        return None
    function = data[1]
    size = 5 if function & 0x80 else 8 if function in (WRITE_ONE, WRITE_MANY) else 5 + data[2]
    if len(data) < size or crc16(data[:size]) != 0:
        return None
    if function & 0x80:
        return _Answer(function, exception_code=data[2])
    if function in (WRITE_ONE, WRITE_MANY):
        address, value = struct.unpack_from(">HH", data, 2)
        return _Answer(function, address, value if function == WRITE_MANY else 1, (value,))
    return _Answer(function, registers=struct.unpack_from(f">{data[2] // 2}H", data, 3))


# --- addresses -------------------------------------------------------------------------------------------------------
def open_transport(address: str) -> ModbusTransport:
    """Transport for "serial:/dev/ttyACM0", "serial:COM3@115200" or "tcp:host:port". The first ask opens the port.

    Raises LinkError, with what to write instead, if the address cannot be understood.
    """
    scheme, colon, rest = address.strip().partition(":")
    if colon and scheme == "serial":
        return ModbusTransport(_serial_port(address, rest))
    if colon and scheme == "tcp":
        return ModbusTransport(_tcp_port(address, rest))
    text = address.strip()
    if text.startswith("/") or re.fullmatch(r"COM\d+(@\d+)?", text, re.IGNORECASE):
        raise LinkError(f"'{address}' is no board address. Did you mean 'serial:{text}'?")
    if re.fullmatch(r"[^:/\s]+:\d+", text):
        raise LinkError(f"'{address}' is no board address. Did you mean 'tcp:{text}'?")
    raise LinkError(
        f"'{address}' is no board address. Write 'serial:/dev/ttyACM0', 'serial:COM3' or 'tcp:host:port';"
        " 'lampwarden ports' lists the serial ports that are there."
    )


def _serial_port(address: str, rest: str) -> SerialPort:
    device, at, baud = rest.partition("@")
    if not device:
        raise LinkError(f"'{address}' names no port. Write for example 'serial:/dev/ttyACM0' or 'serial:COM3'.")
    if not at:
        return SerialPort(device)
    if not (baud.isdecimal() and int(baud) in BAUDS):
        raise LinkError(f"'{baud}' in '{address}' is no usable baud rate. Use one of {', '.join(map(str, BAUDS))}.")
    return SerialPort(device, int(baud))


def _tcp_port(address: str, rest: str) -> TcpPort:
    host, _, port = rest.rpartition(":")
    host = host.removeprefix("[").removesuffix("]")
    if not host:
        raise LinkError(f"'{address}' lacks a host or a port. Write 'tcp:host:port', for example 'tcp:127.0.0.1:5020'.")
    if not (port.isdecimal() and 1 <= int(port) <= 65535):
        raise LinkError(f"'{port}' in '{address}' is no port number. Write a number from 1 to 65535 after the host.")
    return TcpPort(host, int(port))
