"""Tells systemd that the daemon is up, and again and again that every keeper turns.

The word goes out from the keepers' own threads: if one of them hangs or dies, it stops, and systemd starts the daemon
anew (the board went dark by itself long before). Without systemd nothing is said.
Protocol after sd_notify(3), notes (read as quoted by its author): one datagram of KEY=VALUE lines to the socket that
NOTIFY_SOCKET names; "@" at its beginning stands for the abstract namespace.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable, Mapping

from ..keeper import Snapshot

log = logging.getLogger(__name__)

Tell = Callable[[str], None]


def to_systemd(environ: Mapping[str, str] = os.environ) -> Tell:
    """A function that sends one message to systemd, without ever waiting or failing; it does nothing elsewhere."""
    address = environ.get("NOTIFY_SOCKET", "")
    if not address:
        return lambda message: None
    sock = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    sock.setblocking(False)  # a supervisor that does not listen must not hold up a keeper
    name = "\0" + address[1:] if address.startswith("@") else address

    def tell(message: str) -> None:
        try:
            sock.sendto(message.encode(), name)
        except OSError as error:
            log.warning("systemd does not listen at %s: %s", address, error)

    return tell


def word_every_s(environ: Mapping[str, str] = os.environ) -> float:
    """How often systemd wants to hear, s: a third of its limit; 0, with every turn, if it set none."""
    usec = environ.get("WATCHDOG_USEC", "")
    return (
        int(usec) / 3e6 if usec.isdigit() and environ.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid()) else 0.0
    )


class Pulse:
    """Beats once all keepers have turned since its last beat. The first beat says that the daemon is up."""

    def __init__(self, tell: Tell, every_s: float, now_s: Callable[[], float] = time.monotonic) -> None:
        self._tell, self._every_s, self._now_s = tell, every_s, now_s
        self._guard = threading.Lock()
        self._keepers: set[str] = set()
        self._awaited: set[str] = set()
        self._beat_s: float | None = None

    def watch(self, chamber_id: str) -> Callable[[Snapshot], None]:
        """What the keeper of this chamber calls after each turn. Ask for all before the first keeper runs."""
        self._keepers.add(chamber_id)
        self._awaited.add(chamber_id)
        return lambda snapshot: self._turned(chamber_id)

    def _turned(self, chamber_id: str) -> None:
        with self._guard:
            self._awaited.discard(chamber_id)
            now_s = self._now_s()
            if self._awaited or (self._beat_s is not None and now_s - self._beat_s < self._every_s):
                return
            first, self._beat_s = self._beat_s is None, now_s
            self._awaited = set(self._keepers)
        self._tell("READY=1\nWATCHDOG=1" if first else "WATCHDOG=1")
