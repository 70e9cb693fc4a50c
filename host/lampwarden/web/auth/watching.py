"""What pages are given where one has to sign in: a service that takes orders only from who may operate, now.

The question is asked again with each order: a page that is still open when its person has signed out gives none.
"""

import inspect
from collections.abc import Callable
from typing import Any, TypeVar, cast

from ...notify.links import Call
from . import calls

SERVICE_READS = frozenset(
    (
        *("at_work", "turns", "chamber", "chambers", "snapshot", "utc", "sessions", "session", "readings"),
        "session_under_way",
        *("journal", "last_lines", "search_journal", "verify_journal"),
        *("sheets", "sheet", "sheet_picture", "plans", "plan", "preflight", "planned_starts", "planned_start"),
        *("calibrations", "lit_hours", "air_history", "has_camera", "rehearsal", "rehearsed"),
        *("looks", "looks_of_sheet", "sheet_of", "followed", "sessions_with", "findings", "photo", "conclusions"),
        *("hand_findings", "follow_up_plan", "folder", "series_names", "series"),
        *("disk_use", "going", "retention", "thinning_ahead"),
    )
)
"""Calls of the service that change nothing. What is not named here is an order."""
NOTIFIER_READS = frozenset(("standing", "waiting", "newest", "channels", "trouble", "came_through"))
"""The same of the notifier."""
ARCHIVE_READS = frozenset(("all", "one", "photo", "page"))
"""The same of the records from elsewhere."""


T = TypeVar("T")


def watching(
    behind: T, reads: frozenset[str], may_operate: Callable[[], bool], call: Callable[[], Call | None] = lambda: None
) -> T:
    """`behind`, of whose calls all but `reads` raise NotAllowed unless the person may operate.

    `call`: the checkpoint that they may answer all the same, see calls.py.
    """
    return cast(T, _Watching(behind, reads, may_operate, call))


class _Watching:
    def __init__(
        self, behind: Any, reads: frozenset[str], may_operate: Callable[[], bool], call: Callable[[], Call | None]
    ) -> None:
        self._behind, self._reads, self._may_operate, self._call = behind, reads, may_operate, call

    def __getattr__(self, name: str) -> Any:
        found = getattr(self._behind, name)
        if name in self._reads:
            return found

        def order(*arguments: object, **named: object) -> Any:
            if not self._may_operate():
                answering = self._call()
                given = inspect.signature(found).bind(*arguments, **named).arguments if answering else {}
                calls.check(answering, self._behind, name, given)
            return found(*arguments, **named)

        return order
