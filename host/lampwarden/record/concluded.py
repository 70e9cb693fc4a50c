"""What a record's readings say, reckoned from the record alone: on another host the same as where it was made. Pure."""

from ..domain.reading import Way
from ..findings.conclude import Conclusions, conclude
from .gather import Record


def concluded(record: Record, way: Way | None = None) -> Conclusions | None:
    """The conclusions by one way of reading, or by the one with most readings; None without a sheet."""
    if record.sheet is None:
        return None
    looks = [look for look in record.looks if not look.reading.refused and not look.reading.superseded]
    return conclude(
        record.sheet,
        record.plan,
        [look.reading for look in looks],
        {look.reading.id: look.doses_j_cm2 for look in looks},
        [found.finding for found in record.findings if not found.withdrawn_utc],
        chamber=record.chamber,
        way=way,
    )
