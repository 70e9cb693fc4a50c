"""What pages are given where one has to sign in: a service that takes orders only from who may operate, now.

The question is asked again with each order: a page that is still open when its person has signed out gives none.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

from ...errors import NotAllowed

SERVICE_READS = frozenset(
    (
        *("at_work", "turns", "chamber", "chambers", "snapshot", "utc", "sessions", "session", "readings"),
        "session_under_way",
        *("journal", "last_lines", "search_journal", "verify_journal"),
        *("sheets", "sheet", "sheet_picture", "plans", "plan", "preflight", "planned_starts", "planned_start"),
        *("calibrations", "lit_hours", "air_history", "has_camera", "rehearsal"),
        *("looks", "looks_of_sheet", "sheet_of", "followed", "sessions_with", "findings", "photo", "conclusions"),
    )
)
"""Calls of the service that change nothing. What is not named here is an order."""
NOTIFIER_READS = frozenset(("standing", "waiting", "newest", "channels", "trouble", "came_through"))
"""The same of the notifier."""


T = TypeVar("T")


def watching(behind: T, reads: frozenset[str], may_operate: Callable[[], bool]) -> T:
    """`behind`, of whose calls all but `reads` raise NotAllowed unless the person may operate."""
    return cast(T, _Watching(behind, reads, may_operate))


class _Watching:
    def __init__(self, behind: Any, reads: frozenset[str], may_operate: Callable[[], bool]) -> None:
        self._behind, self._reads, self._may_operate = behind, reads, may_operate

    def __getattr__(self, name: str) -> Any:
        found = getattr(self._behind, name)
        if name in self._reads:
            return found

        def order(*arguments: object, **named: object) -> Any:
            if not self._may_operate():
                raise NotAllowed(
                    "You may watch, but not give orders. Sign out, and sign in with the password for operating."
                )
            return found(*arguments, **named)

        return order
