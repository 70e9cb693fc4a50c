"""What all parts of the service rest on: store, clock and keepers."""

import logging
import threading
from collections.abc import Mapping
from concurrent.futures import Future
from concurrent.futures import TimeoutError as FutureTimeout
from pathlib import Path
from typing import Any

from ..errors import StoreError, UnknownName
from ..keeper import Clock, Keeper
from ..keeper.clock import utc_text
from ..store.records import Line
from ..store.store import Store

log = logging.getLogger(__name__)

ANSWER_S = 15.0
"""Longest wait for an order's facts to reach the disk, s; beyond it the person is told that it is not certain."""


class Base:
    """All chambers of one host."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._keepers: dict[str, Keeper] = {}
        self._starting = threading.Lock()
        """Held while a session is begun, and while anything a start rests on is changed."""

    def _keeper(self, chamber_id: str) -> Keeper:
        try:
            return self._keepers[chamber_id]
        except KeyError:
            known = ", ".join(self._keepers) or "none"
            raise UnknownName(f"There is no chamber '{chamber_id}'. Chambers here: {known}.") from None

    def folder(self) -> Path:
        """The data folder."""
        return self._store.path.parent

    def utc(self) -> str:
        """The time by the service's wall clock."""
        return utc_text(self._clock.utc())

    def _utc(self) -> str:
        return self.utc()

    def _line(self, chamber_id: str, kind: str, text: str, data: Mapping[str, Any]) -> Line:
        """A line about a chamber outside any session."""
        return Line(kind, 0.0, self._utc(), dict(data), text, chamber_id, None)


def certain(order: "Future[None]") -> None:
    """Waits until an order is on record. Raises what it raised, or StoreError after ANSWER_S."""
    try:
        order.result(timeout=ANSWER_S)
    except FutureTimeout:
        raise StoreError(
            f"The order was given, but it is not certain after {ANSWER_S:.0f} s that it is on record."
            " Look at the page: the disk may be full or very slow."
        ) from None
