"""What every page is given."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from ...domain.commissioning import Papers
from ...domain.program import Program
from ...notify.notifier import Notifier
from ...record.archive import Archive
from ...service import Service
from ..watch import Watch


@dataclass(frozen=True)
class Site:
    """The dashboard of one service."""

    service: Service
    title: str
    programs: Mapping[str, Program]
    """Programs that can be started without a plan, by a short name."""
    notice: str
    """A line shown on top of each page; empty: none."""
    papers: Callable[[str], Papers]
    """The newest papers of a board on this computer, by its serial number. May raise StoreError."""
    test_photos: dict[str, bytes] = field(default_factory=dict)
    """By chamber the last photo its camera took for a try; the record knows nothing of it."""
    notifier: Notifier | None = None
    """Sends messages; None: this dashboard sends none."""
    archive: Archive | None = None
    """Records from other hosts."""
    _watches: dict[str, Watch] = field(default_factory=dict)

    def watch(self, chamber_id: str) -> Watch:
        """The one reader of a chamber's record, shared by all open pages."""
        return self._watches.setdefault(chamber_id, Watch(self.service, chamber_id))
