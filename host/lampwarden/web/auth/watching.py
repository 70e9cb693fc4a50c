"""What the pages of somebody who only watches are given: a service that answers and refuses orders."""

from typing import Any, TypeVar, cast

from ...errors import NotAllowed

SERVICE_READS = frozenset(
    (
        *("at_work", "chamber", "chambers", "snapshot", "utc", "sessions", "session", "readings"),
        *("journal", "last_lines", "search_journal", "verify_journal"),
        *("sheets", "sheet", "sheet_picture", "plans", "plan", "preflight", "planned_starts", "planned_start"),
        *("calibrations", "lit_hours", "air_history", "has_camera", "rehearsal"),
        *("looks", "looks_of_sheet", "sheet_of", "followed", "sessions_with", "findings", "photo", "conclusions"),
    )
)
"""Calls of the service that change nothing. What is not named here is refused."""
NOTIFIER_READS = frozenset(("standing", "newest", "channels", "trouble", "came_through"))
"""The same of the notifier."""


T = TypeVar("T")


def watching(behind: T, reads: frozenset[str]) -> T:
    """`behind` for somebody who only watches: of its calls only `reads` are let through, others raise NotAllowed."""
    return cast(T, _Watching(behind, reads))


class _Watching:
    def __init__(self, behind: Any, reads: frozenset[str]) -> None:
        self._behind, self._reads = behind, reads

    def __getattr__(self, name: str) -> Any:
        if name in self._reads:
            return getattr(self._behind, name)
        return _refuse


def _refuse(*_: object, **__: object) -> None:
    """Raises NotAllowed."""
    raise NotAllowed("You may watch, but not give orders. Sign out, and sign in with the password for operating.")
