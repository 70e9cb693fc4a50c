"""The thread that publishes snapshots and journal lines to an MQTT broker.

Topics, below the prefix: `availability` (retained; the broker's last will sets it to false), and for each chamber
`<id>/snapshot` (retained, the newest) and `<id>/journal`. A line is published after it is on disk, in order, and again
until the broker has taken it; the place in the journal is kept in the database. A line may therefore come twice after
an outage, with the same `seq`, and none is left out. Nobody waits for this thread but the daemon's end.
"""

import hashlib
import logging
import socket
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from ..errors import LampwardenError
from ..keeper import Snapshot
from ..store.published import Published
from ..store.store import Store
from .broker_file import BrokerFile, BrokerSettings
from .connection import BrokerAway, Connection
from .metrics import Broker
from .payloads import news, of_line, of_snapshot

log = logging.getLogger(__name__)

LOOK_S = 0.5
LINES_AT_ONCE = 100
PAUSES_S = (1.0, 2.0, 5.0, 10.0, 30.0)
"""Time from a failed connection to the next try, s; the last goes on for ever."""


class Publisher:
    """Publishes all chambers of one host, if its data folder names a broker."""

    def __init__(self, store: Store, folder: Path, snapshots: Callable[[], Sequence[Snapshot]]) -> None:
        self._store, self._place, self._snapshots = store, Published(store), snapshots
        self._file = BrokerFile(folder)
        # The same after a restart: the broker then ends what is left of the connection before.
        mark = hashlib.sha256(f"{socket.gethostname()}\0{folder.resolve()}".encode()).hexdigest()[:12]
        self._client_id = f"lampwarden-{mark}"
        self._settings: BrokerSettings | None = None
        self._connection: Connection | None = None
        self._failures = 0
        self._next_try_s = 0.0
        self._seq: int | None = None
        self._told: dict[str, tuple[float, int, tuple[object, ...]]] = {}
        """By chamber: when its last snapshot was published, its number and what was new in it."""
        self._quit = threading.Event()
        self._thread = threading.Thread(target=self._run, name="mqtt", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        """Ends the thread. A broker that does not answer is not waited for long."""
        self._quit.set()
        if self._thread.is_alive():
            self._thread.join(5)

    @property
    def state(self) -> Broker | None:
        """How it does; None: no broker is set up. Raises StoreError. Callable from any thread."""
        if self._settings is None:
            return None
        connection, place = self._connection, self._place.place() or 0
        newest = self._store.last_lines(None, None, 1)
        waiting = newest[-1].seq - place if newest else 0
        return Broker(connection is not None and not connection.lost, max(0, waiting))

    def _run(self) -> None:
        while not self._quit.wait(LOOK_S):
            try:
                self._look()
            except LampwardenError as error:
                log.warning("publishing waits: %s", error)
            except Exception:  # a mistake here must not end the publishing without a word
                log.exception("a round of publishing failed; the next one tries again")
                self._hang_up()
        self._hang_up()

    def _look(self) -> None:
        settings = self._file.newest()
        if settings != self._settings:
            self._hang_up()
            self._settings, self._failures, self._next_try_s = settings, 0, 0.0
        if settings is None:
            return
        if self._seq is None:
            self._seq = self._begin()
        connection = self._connected(settings)
        if connection is None:
            return
        self._tell_lines(connection)
        self._tell_snapshots(connection, settings.snapshot_every_s)
        if connection.lost:
            log.warning("the broker at %s is away: %s", settings.host, connection.lost)
            self._hang_up()

    def _begin(self) -> int:
        """The place in the journal. What happened before a broker was first named is no news."""
        place = self._place.place()
        if place is None:
            newest = self._store.last_lines(None, None, 1)
            place = newest[-1].seq if newest else 0
            self._place.keep(place)
        return place

    def _connected(self, settings: BrokerSettings) -> Connection | None:
        if self._connection is not None:
            return self._connection
        now_s = time.monotonic()
        if now_s < self._next_try_s:
            return None
        try:
            self._connection = Connection(settings, self._client_id)
        except BrokerAway as error:
            if self._failures == 0:
                log.warning("nothing is published: %s; tried again and again", error)
            self._next_try_s = now_s + PAUSES_S[min(self._failures, len(PAUSES_S) - 1)]
            self._failures += 1
            return None
        log.info("publishing to the broker at %s, port %d", settings.host, settings.at)
        self._failures = 0
        self._told.clear()
        return self._connection

    def _tell_lines(self, connection: Connection) -> None:
        assert self._seq is not None
        while not self._quit.is_set() and not connection.lost:
            lines = self._store.journal(None, None, self._seq, LINES_AT_ONCE)
            if not lines:
                return
            taken = connection.publish([(f"{line.chamber_id}/journal", of_line(line)) for line in lines])
            if taken:
                self._place.keep(lines[taken - 1].seq)
                self._seq = lines[taken - 1].seq

    def _tell_snapshots(self, connection: Connection, every_s: float) -> None:
        now_s = time.monotonic()
        for snapshot in self._snapshots():
            fresh = news(snapshot)
            told_s, number, told = self._told.get(snapshot.chamber.id, (-every_s, -1, ()))
            if connection.lost or snapshot.number == number or (fresh == told and now_s - told_s < every_s):
                continue
            if connection.publish([(f"{snapshot.chamber.id}/snapshot", of_snapshot(snapshot))], retain=True):
                self._told[snapshot.chamber.id] = (now_s, snapshot.number, fresh)

    def _hang_up(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            connection.close()
