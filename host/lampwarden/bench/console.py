"""The MicroPython prompt of a board on a serial port, by mpremote's own serial transport.

mpremote is used as a library, within one minor version since its makers announce changes: the command would need a
process for each step, hides its progress, and gives errors only as text. What is needed of it is small, and the tests
run it against a real MicroPython. A board that runs our firmware has no prompt until it is asked for service mode.
"""

import ast
import contextlib
import io
import time
from collections.abc import Iterator
from dataclasses import dataclass
from types import TracebackType

import serial
from mpremote.transport import TransportError, TransportExecError
from mpremote.transport_serial import SerialTransport

from ..errors import BoardConfused, BoardSilent, LinkError
from ..link.transport import why_not_open

READ_S = 1.0
"""Longest wait for single bytes, s."""
PROMPT_S = 3.0
"""Longest wait for the prompt, s."""
WATCHDOG_S_MAX = 10.0
"""Longest wait for a watchdog, s: an RP2040's runs out within 8.4 s at the latest."""
PIECE = 1024
"""Bytes sent to a file at a time; small against the 200 kB of memory of an RP2040."""

_LOOK = """
import os, sys, hashlib, binascii
def digest(path):
    h = hashlib.sha256()
    with open(path, 'rb') as file:
        data = file.read(512)
        while data:
            h.update(data)
            data = file.read(512)
    return binascii.hexlify(h.digest()).decode()
def walk(folder):
    for entry in os.ilistdir(folder):
        path = folder + '/' + entry[0]
        if entry[1] & 0x4000:
            walk(path)
        else:
            files[path] = digest(path)
files = {}
roots = [entry[0] for entry in os.ilistdir()]
if 'lampboard' in roots:
    walk('lampboard')
if 'main.py' in roots:
    files['main.py'] = digest('main.py')
boots = None
if 'board_state' in roots:
    with open('board_state') as file:
        boots = file.read().split()[:1]
try:
    import machine
    unique_id = binascii.hexlify(machine.unique_id()).decode()
except (ImportError, AttributeError):
    unique_id = None
print(repr((sys.implementation[0], sys.implementation[1][:3], sys.platform, sys.implementation._mpy & 255, unique_id,
    boots, 'boot.py' in roots, files)))
"""
_LET_GO = """
try:
    f.close()
except (NameError, AttributeError, OSError):
    pass
"""
"""mpremote holds the file it writes as `f`. After a transfer that broke off it is still open, and would be written over
its successor when the board's memory is swept."""
_PART = "unfinished"
_NAME_IT = """
import os
try:
    os.remove({path!r})
except OSError:
    pass
os.rename({part!r}, {path!r})
"""
_RESTART = {"rp2": "import machine; machine.reset()", "linux": "import sys; sys.exit()"}
_STALL = """
from lampboard.boards import pico
state = pico.State()
state.keep(pico.RESET_UNKNOWN)
pico.Pico(state).set_zone({zone}, {permille})
"""
"""Starts pins and watchdog as the firmware does, lights a zone, and never feeds: as a loop that stalled. The note is
taken back first, or the boot after it would name the service request and not the watchdog."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What lies on a board."""

    version: str
    """MicroPython's version, for example "1.28.0"."""
    platform: str
    mpy_version: int
    unique_id: str | None
    """None: this MicroPython has none."""
    boot_count: int | None
    """Boots that our firmware has counted; None: it never ran, or keeps no count there."""
    has_boot_py: bool
    files: dict[str, str]
    """SHA-256 of `main.py` and of each file below `lampboard`, computed by the board, hex."""


class Console:
    """The prompt, held alone until closed. Use it in a with statement.

    Raises BoardSilent if there is no prompt, BoardConfused if a command fails there.
    """

    def __init__(self, device: str) -> None:
        self.device = device
        try:
            serial.Serial(device, exclusive=True).close()  # mpremote would not say why it cannot open it
        except Exception as error:  # pyserial lets errors of termios through, which are no OSError
            raise BoardSilent(why_not_open(device, error)) from error
        with self._talking("open the prompt"):
            self._link = SerialTransport(device, timeout=READ_S)
        try:
            with self._talking("open the prompt"):
                self._link.enter_raw_repl(soft_reset=False, timeout_overall=PROMPT_S)
                try:
                    self._link.exec(_LET_GO)
                except TransportError:  # a late answer to what was sent before was taken for this one's
                    self._link.enter_raw_repl(soft_reset=False, timeout_overall=PROMPT_S)
                    self._link.use_raw_paste = True  # which that answer had made us give up
                    self._link.exec(_LET_GO)
        except BaseException:
            self.close()
            raise

    def look(self) -> Seen:
        """What lies on the board, with a hash of each file."""
        name, version, platform, mpy_version, unique_id, boots, has_boot_py, files = ast.literal_eval(self.run(_LOOK))
        if name != "micropython":
            raise BoardConfused(f"At {self.device} runs '{name}', not MicroPython. Put MicroPython on the board first.")
        count = int(boots[0]) if boots and boots[0].isdigit() else None
        return Seen(
            ".".join(map(str, version)),
            platform,
            mpy_version,
            unique_id,
            count,
            has_boot_py,
            dict(sorted(files.items())),
        )

    def read(self, path: str) -> bytes:
        """The bytes of a file."""
        with self._talking(f"read {path}"):
            return bytes(self._link.fs_readfile(path, chunk_size=PIECE))

    def write(self, path: str, data: bytes) -> None:
        """Writes a file, its folders made if need be. It gets its name when it is whole: a torn one has none."""
        parts = path.split("/")[:-1]
        with self._talking(f"write {path}"):
            for depth in range(len(parts)):
                folder = "/".join(parts[: depth + 1])
                if not self._link.fs_isdir(folder):
                    self._link.fs_mkdir(folder)
            self._link.fs_writefile(_PART, data, chunk_size=PIECE)
            self._link.exec(_NAME_IT.format(part=_PART, path=path))

    def remove(self, path: str) -> None:
        """Removes a file."""
        with self._talking(f"remove {path}"):
            self._link.fs_rmfile(path)

    def run(self, code: str) -> str:
        """What the code prints."""
        with self._talking("run a command"):
            return str(self._link.exec(code).decode())

    def restart(self, platform: str) -> None:
        """Restarts the board; the prompt is gone with it."""
        with self._talking("restart"):
            self._link.exec_raw_no_follow(_RESTART[platform])

    def stall(self, zone: int, permille: int, wait_s: float = WATCHDOG_S_MAX) -> bool:
        """Lights a zone (from 0) on an RP2040 board without feeding its watchdog. True once the prompt is gone.

        False: it was still there after `wait_s`; the board was restarted then, since nothing else darkens it.
        """
        self.run(_STALL.format(zone=zone, permille=permille))
        end_s = time.monotonic() + wait_s
        while time.monotonic() < end_s:
            time.sleep(0.2)
            try:
                self.run("0")
            except LinkError:
                return True
        self.restart("rp2")
        return False

    def close(self) -> None:
        """Leaves the prompt as it is. The board goes on."""
        with contextlib.suppress(Exception):
            self._link.close()

    def __enter__(self) -> "Console":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    @contextlib.contextmanager
    def _talking(self, what: str) -> Iterator[None]:
        try:
            with contextlib.redirect_stdout(io.StringIO()):  # mpremote prints what it did not understand
                yield
        except TransportExecError as error:
            last = error.error_output.strip().splitlines()[-1:]
            raise BoardConfused(f"The board could not {what}: {''.join(last)}. Repeat the command.") from error
        except TransportError as error:
            raise BoardSilent(
                f"No MicroPython prompt at {self.device} ({error}). Is MicroPython on the board? If other firmware"
                " keeps the prompt, join the escape pin to ground (GP22 unless you changed it), restart the board, and"
                " repeat the command."
            ) from error
        except OSError as error:
            raise BoardSilent(
                f"The board could not {what}: {error}. Is its cable in place? Repeat the command."
            ) from error
