"""Which serial ports are there, and is a board behind one."""

from dataclasses import dataclass
from pathlib import Path

from serial.tools import list_ports

from .board import Board, Identity
from .transport import open_transport

_BY_ID = Path("/dev/serial/by-id")


@dataclass(frozen=True, slots=True)
class PortFound:
    """A serial port of this machine."""

    address: str
    """What open_transport takes. Where the system has names that survive replugging, one of those."""
    device: str
    """The port's short name, for example /dev/ttyACM0 or COM3."""
    what: str
    """What the system says it is."""
    usb: bool
    """A board on a USB cable is one of these."""


def find_ports() -> list[PortFound]:
    """All serial ports, those on USB first. Opens none of them."""
    lasting = {str(link.resolve()): str(link) for link in sorted(_BY_ID.glob("*"))}
    found = []
    for port in list_ports.comports():
        what = port.description if port.description not in (None, "n/a") else "serial port"
        if port.vid is not None:
            what += f" (USB {port.vid:04x}:{port.pid:04x}{', ' + port.serial_number if port.serial_number else ''})"
        address = "serial:" + lasting.get(port.device, port.device)
        found.append(PortFound(address, port.device, what, port.vid is not None))
    return sorted(found, key=lambda port: (not port.usb, port.device))


def probe(address: str) -> Identity:
    """What the board at this address is. Raises LinkError, with what to do, if there is none.

    It sends a question to whatever is there, so probe only ports that a person has named.
    """
    transport = open_transport(address)
    try:
        return Board(transport).identify()
    finally:
        transport.close()
