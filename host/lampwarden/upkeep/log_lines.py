"""What the daemon says of itself: lines for people, or one JSON object a line for a collector.

Passwords, tokens, addresses of channels and links of messages are never given to a log.
"""

import json
import logging
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime

from ..keeper.clock import utc_text

log = logging.getLogger(__name__)

OWN = "lampwarden"
KEEPER = "keeper-"
"""The service names each keeper's thread by this and its chamber."""

SessionOf = Callable[[str], str | None]
"""The session of a chamber; None: there is none, or no such chamber."""


class _Text(logging.Formatter):
    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(room)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        record.room = _room(record)
        return super().format(record)


class _Json(logging.Formatter):
    def __init__(self, session_of: SessionOf) -> None:
        super().__init__()
        self._session_of = session_of

    def format(self, record: logging.LogRecord) -> str:
        chamber_id = getattr(record, "chamber_id", None)
        if chamber_id is None and (record.threadName or "").startswith(KEEPER):
            chamber_id = str(record.threadName).removeprefix(KEEPER)
        session_id = getattr(record, "session_id", None)
        if session_id is None and chamber_id is not None:
            session_id = self._session_of(chamber_id)
        line = {
            "utc": utc_text(datetime.fromtimestamp(record.created, UTC)),
            "level": record.levelname.lower(),
            "room": _room(record),
            "chamber_id": chamber_id,
            "session_id": session_id,
            "message": record.getMessage(),
        }
        if record.exc_info:
            line["traceback"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False)


def begin(session_of: SessionOf = lambda chamber_id: None, *, as_json: bool = False) -> None:
    """Sends all log lines to standard error; those of libraries from a warning on."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(_Json(session_of) if as_json else _Text())
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger(OWN).setLevel(logging.INFO)
    logging.captureWarnings(True)
    threading.excepthook = _ended


def _ended(about: threading.ExceptHookArgs) -> None:
    """A thread has died of a mistake."""
    if about.exc_type is not SystemExit:
        name = about.thread.name if about.thread else "unknown"
        log.critical("the thread %s has ended by a mistake in the program", name, exc_info=about.exc_value)


def _room(record: logging.LogRecord) -> str:
    """The room whose line it is, or the library."""
    first, _, rest = record.name.partition(".")
    return rest.partition(".")[0] if first == OWN and rest else first
