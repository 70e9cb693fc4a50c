"""The record on disk: sessions, the append-only journal, progress and readings in one SQLite file.

records.py     what goes in and comes out
migrations.py  the ladder of table changes
opening.py     opens the file, or refuses it untouched
chain.py       the hash that ties each journal line to the one before
store.py       the one writer of the database
drafts.py      sheets and plans, every revision
calibrations.py  what was measured of the zones
choices.py     what people chose for the whole host
removals.py    deleting on purpose
thinning.py    fewer readings of old sessions
starts.py      starts set for later
queries.py     questions, over read-only connections
verify.py      walks the chain and tells what is no longer as it was written
backup.py      verified copies of the database, and the way back
ticks.py       the totals of the last second, outside the database
writer.py      the queue between the keeper and the disk
trouble.py     SQLite's errors as sentences
"""

from lampwarden.store.queries import Queries
from lampwarden.store.records import Batch, Ended, Line, Sample, SavedLine, Session, Stretch
from lampwarden.store.store import Store
from lampwarden.store.writer import DirectWriter, ThreadWriter, Writer

__all__ = [
    "Batch",
    "DirectWriter",
    "Ended",
    "Line",
    "Queries",
    "Sample",
    "SavedLine",
    "Session",
    "Store",
    "Stretch",
    "ThreadWriter",
    "Writer",
]
