"""What other systems collect: metrics for Prometheus, snapshots and journal lines for an MQTT broker.

Both only tell. Nothing that comes from a collector or a broker reaches a chamber.

metrics      all chambers as one page of Prometheus' text format, made when it is asked for
payloads     a snapshot and a journal line as plain data (pure)
broker_file  the file that names the broker
connection   one connection to it
mqtt         the thread that publishes
"""

import logging
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..keeper import Snapshot
from ..store.store import Store
from .broker_file import FILE

if TYPE_CHECKING:
    from .mqtt import Publisher

log = logging.getLogger(__name__)


def publisher(store: Store, folder: Path, snapshots: Callable[[], Sequence[Snapshot]]) -> "Publisher | None":
    """What publishes to the broker that the data folder names, now or later. Start it, and close it.

    None without the MQTT client, which is installed on wish.
    """
    try:
        from .mqtt import Publisher
    except ImportError:
        if (folder / FILE).exists():
            log.error("nothing is published: %s names a broker, but the MQTT client is missing; install"
                      " lampwarden[mqtt]", folder / FILE)  # fmt: skip
        return None
    return Publisher(store, folder, snapshots)
