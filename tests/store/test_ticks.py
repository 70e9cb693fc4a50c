"""The totals of the last second, as power cuts may leave their file."""

import time

import pytest

from lampwarden.store import Batch, DirectWriter, Line, Store, ThreadWriter
from lampwarden.store.ticks import SLOT_BYTES, Ticks


def totals(run_s: float) -> dict:
    return {"run_s": run_s, "lit_s": [run_s, 0.0]}


def test_the_newest_is_read_and_survives_reopening(tmp_path):
    ticks = Ticks(tmp_path / "t")
    for run_s in (1.0, 2.0, 3.0):
        ticks.write("s", totals(run_s))
    ticks.close()
    again = Ticks(tmp_path / "t")
    assert again.read("s") == totals(3.0)
    again.write("s", totals(4.0))
    again.close()
    assert Ticks(tmp_path / "t").read("s") == totals(4.0)
    assert Ticks(tmp_path / "t").read("another session") is None


def test_a_write_torn_anywhere_leaves_the_one_before(tmp_path):
    path = tmp_path / "t"
    ticks = Ticks(path)
    ticks.write("s", totals(1.0))
    before = path.read_bytes()
    ticks.write("s", totals(2.0))
    ticks.close()
    after = path.read_bytes()
    changed = [i for i in range(len(after)) if before[i] != after[i]]
    for cut in range(changed[0], changed[-1] + 1):
        path.write_bytes(after[:cut] + before[cut:])
        assert Ticks(path).read("s") in (totals(1.0), totals(2.0))
    path.write_bytes(after[: changed[0] + 1] + before[changed[0] + 1 :])
    assert Ticks(path).read("s") == totals(1.0)


@pytest.mark.parametrize("content", [b"", b"x" * 100, b"\xff" * 2 * SLOT_BYTES, b"\0" * SLOT_BYTES])
def test_a_foreign_file_counts_as_none(tmp_path, content):
    (tmp_path / "t").write_bytes(content)
    ticks = Ticks(tmp_path / "t")
    assert ticks.read("s") is None
    ticks.write("s", totals(1.0))
    assert ticks.read("s") == totals(1.0)
    ticks.close()


def test_totals_too_long_for_a_slot_are_refused(tmp_path):
    with pytest.raises(ValueError, match="do not fit"):
        Ticks(tmp_path / "t").write("s", {"run_s": 1.0, "x": "y" * SLOT_BYTES})


def line(run_s: float) -> Line:
    return Line("note", run_s, "2031-01-01T00:00:00Z", {}, "A note.", "c", "s")


@pytest.mark.parametrize("writer_of", [DirectWriter, ThreadWriter])
def test_progress_is_known_without_a_flush_but_never_ahead_of_its_lines(tmp_path, writer_of):
    path = tmp_path / "db"
    store = Store.open(path)
    store.begin_session("s", "c", "t", {}, {}, "2031-01-01T00:00:00Z")
    writer = writer_of(store)
    writer.put(Batch("s", progress=totals(1.0), tick=True))
    for _ in range(200):
        if store.progress("s") is not None:
            break
        time.sleep(0.01)
    assert store.progress("s") == totals(1.0)
    writer.put(Batch("s", [line(2.0)], totals(2.0), tick=True))
    writer.put(Batch("s", progress=totals(3.0), tick=True))
    assert store.progress("s") == totals(1.0), "totals must not overtake a line that is not on disk"
    writer.flush()
    writer.close()
    assert store.progress("s") == totals(3.0)
    store.close()
