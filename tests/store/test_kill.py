"""What was reported durable survives; a commit is there wholly or not at all."""

import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from lampwarden.store import Batch, Store
from lampwarden.store.verify import verify

WRITING = """
import sys, time
from lampwarden.store import Batch, Line, Sample, Store, ThreadWriter

store = Store.open(sys.argv[1])
store.begin_session("ferries", "attic", "Summer timetable", {}, {}, "2026")
writer = ThreadWriter(store)
told = 0
for number in range(1, 1_000_000):
    lines = [Line("noted", number, "2026", {"number": number}, "text", "attic", "ferries")] * 2
    writer.put(Batch("ferries", lines, {"number": number}, [Sample(number, 30.0, 45.0, (50.0,) * 8, False)]))
    writer.flush()
    while number - writer.durable > 20:
        time.sleep(0.0005)
    if writer.durable > told:
        told = writer.durable
        print(told, flush=True)
"""


def whole_batches(store: Store) -> int:
    """Number of the last batch on disk, after checking that all up to it are there and none is there in part."""
    lines = []
    while page := store.journal("ferries", "attic", after_seq=lines[-1].seq if lines else 0):
        lines += page
    last = lines[-1].data["number"] if lines else 0
    assert [line.data["number"] for line in lines] == [number for number in range(1, last + 1) for _ in range(2)]
    assert [line.seq for line in lines] == list(range(1, 2 * last + 1))
    assert store.progress("ferries") == ({"number": last} if last else None)
    for first in range(1, last + 1, 1000):
        times = [stretch.run_s for stretch in store.readings("ferries", 2000, first, min(first + 999, last))]
        assert times == list(range(first, min(first + 999, last) + 1))
    assert store.readings("ferries", from_s=last + 1) == []
    return last


@pytest.mark.parametrize("reports", [1, 7, 60, 400])
def test_kill_while_writing(path: Path, reports: int) -> None:
    child = subprocess.Popen([sys.executable, "-c", WRITING, path], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    told = [int(child.stdout.readline()) for _ in range(reports)]
    child.kill()
    told += [int(line) for line in child.stdout.read().splitlines(keepends=True) if line.endswith("\n")]
    child.wait()
    child.stdout.close()
    store = Store.open(path)
    assert whole_batches(store) >= told[-1]
    store.close()
    assert verify(path).faults == ()


def test_a_log_torn_anywhere_gives_the_commits_before_the_tear(path: Path, begin, line, sample) -> None:
    """A power cut may leave any part of the log; the commits that were not yet reported durable may go, wholly."""
    copy = path.with_name("copy.db")
    log, copied_log = Path(f"{path}-wal"), Path(f"{copy}-wal")
    store = Store.open(path)
    begin(store, "ferries")
    ends = [log.stat().st_size]
    for number in range(1, 9):
        data = {"number": number}
        batch = Batch("ferries", [line(number), line(number)], data, [sample(number)])
        store.commit(batch)
        ends.append(log.stat().st_size)
    whole = log.read_bytes()
    draw = random.Random(7)
    tears = {end + by for end in ends for by in (-1, 0, 1)} | {draw.randrange(ends[0], ends[-1]) for _ in range(60)}
    for tear in sorted(tear for tear in tears if ends[0] <= tear <= ends[-1]):
        shutil.copy(path, copy)
        copied_log.write_bytes(whole[:tear] + draw.randbytes(draw.choice([0, 5000])))
        torn = Store.open(copy)
        assert whole_batches(torn) == sum(end <= tear for end in ends[1:])
        torn.close()
    store.close()
