"""The simulated board offered to any Modbus master: over TCP (Modbus RTU frames) or a pty, paced by real time.

One master at a time, as on a serial port. The world belongs to the serving thread while it is served, but its faults
may be called from any thread.
"""

import os
import select
import socket
import sys
import threading
import time
from types import TracebackType

from .world import World

POLL_S = 0.01  # real seconds between passes when nothing arrives
LAG_S_MAX = 1.0  # real seconds that may be caught up after the machine slept


class _TcpPort:
    """A listening socket and the one connection taken from it."""

    def __init__(self, port: int) -> None:
        self._listener = socket.create_server(("127.0.0.1", port))
        self._peer: socket.socket | None = None
        self.address = f"tcp:127.0.0.1:{self._listener.getsockname()[1]}"

    def read(self, timeout_s: float) -> bytes:
        """Bytes that came within the timeout, b"" if none. Takes a new master when there is none, else refuses it."""
        ready, _, _ = select.select([s for s in (self._listener, self._peer) if s], [], [], timeout_s)
        if self._peer is not None and self._peer in ready:  # first: it may have left to make room for the other
            try:
                data = self._peer.recv(4096)
            except OSError:
                data = b""
            if data:
                return data
            self._hang_up()
        if self._listener in ready:
            peer, _ = self._listener.accept()
            if self._peer is None:
                peer.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                peer.settimeout(0.5)  # as a USB port: a master that does not read loses bytes
                self._peer = peer
            else:
                peer.close()
        return b""

    def write(self, data: bytes) -> None:
        try:
            if self._peer is not None:
                self._peer.sendall(data)
        except OSError:
            self._hang_up()

    def _hang_up(self) -> None:
        if self._peer is not None:
            self._peer.close()
            self._peer = None

    def close(self) -> None:
        self._hang_up()
        self._listener.close()


class _PtyPort:
    """A pseudo terminal; masters open its far end like a serial port."""

    def __init__(self) -> None:
        import tty

        self._near, self._far = os.openpty()  # the far end is kept open, or reading fails between two masters
        tty.setraw(self._far)
        self.address = f"serial:{os.ttyname(self._far)}"

    def read(self, timeout_s: float) -> bytes:
        ready, _, _ = select.select([self._near], [], [], timeout_s)
        return os.read(self._near, 4096) if ready else b""

    def write(self, data: bytes) -> None:
        if select.select([], [self._near], [], 0)[1]:  # nobody reads: bytes are lost
            os.write(self._near, data)

    def close(self) -> None:
        os.close(self._near)
        os.close(self._far)


class Served:
    """A world being served. Close it, or use it in a with statement."""

    def __init__(self, world: World, port: _TcpPort | _PtyPort, speed: float) -> None:
        self.address = port.address
        """What open_transport takes: 'tcp:127.0.0.1:PORT' or 'serial:PATH'."""
        self.trouble: Exception | None = None
        """What stopped the serving thread, if anything did."""
        self._world, self._port, self._speed = world, port, speed
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="simulated board", daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        world, port = self._world, self._port
        world.listen(port.write)
        try:
            real_s, due_s = time.monotonic(), world.now_s
            while not self._stop.is_set():
                data = port.read(POLL_S)
                before_s, real_s = real_s, time.monotonic()
                due_s += min(LAG_S_MAX, real_s - before_s) * self._speed
                with world.lock:
                    world.advance(due_s)
                    if data:
                        world.deliver(data)
                    else:
                        world.firmware_pass()
        except Exception as error:
            self.trouble = error
        finally:
            port.close()

    def close(self) -> None:
        """Stop serving; virtual time stands still from here."""
        self._stop.set()
        self._thread.join()

    def __enter__(self) -> "Served":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def serve_tcp(world: World, port: int = 0, speed: float = 1.0) -> Served:
    """Serve on 127.0.0.1; port 0 takes any free one. `speed` is virtual seconds per real second."""
    return Served(world, _TcpPort(port), speed)


def serve_pty(world: World, speed: float = 1.0) -> Served:
    """Serve on a pseudo terminal. Raises OSError on Windows, which has none: use serve_tcp there."""
    if sys.platform == "win32":
        raise OSError("Windows has no pseudo terminals; serve the simulated board over TCP instead.")
    return Served(world, _PtyPort(), speed)
