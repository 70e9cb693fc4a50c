"""A session of 24 h at 1 Hz with eight banks: at most 10,000 commits and 10 MB."""

import os
import random
import sqlite3
from contextlib import closing
from pathlib import Path

from lampwarden.store import Batch, DirectWriter, Line, Sample, Store

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
SHARE = 1.0 if LONG else 0.25
"""What is saved of the day; files grow evenly."""
DAY_S = round(86_400 * SHARE)
FLUSH_EVERY_S = 10  # the keeper's period
LINES = round(300 * SHARE)
LOG_BYTES = 1_100_000
"""The write-ahead log while the database is open, however long it was."""


def test_a_day_keeps_to_the_budget(tmp_path: Path) -> None:
    chamber_id = "c" * 32  # the longest there may be
    store = Store.open(tmp_path / "lampwarden.db")
    commits = 0

    def count(statement: str) -> None:
        nonlocal commits
        commits += statement == "COMMIT"

    store._db.conn.set_trace_callback(count)  # SQLite itself tells of each statement it runs
    store.begin_session("ferries-2026-03-01", chamber_id, "Summer timetable", {}, {}, "2026-03-01T09:30:00+00:00")
    writer = DirectWriter(store)
    draw = random.Random(1)
    line_at = set(draw.sample(range(DAY_S), LINES))
    text = "Cooling: the air is 41.2 °C, the limit is 40.0 °C; all lamps are dark until it is below 37.0 °C."
    bytes_max = 0
    for second in range(DAY_S):
        run_s = second + draw.uniform(0, 0.02)
        sample = Sample(
            run_s, draw.uniform(20, 45), draw.uniform(20, 60), tuple(draw.uniform(20, 90) for _ in range(8)), False
        )
        progress = {"session_s": run_s, "zones": [{"lit_ms": second * 1000, "applied": 0.85}] * 8}
        lines = []
        if second in line_at:
            data = {"reason": "cooling", "air_temp_c": 41.2, "limit_c": 40.0, "levels": [0.85] * 8}
            lines = [
                Line("held", run_s, "2026-03-01T09:30:00.123456+00:00", data, text, chamber_id, "ferries-2026-03-01")
            ]
        writer.put(Batch("ferries-2026-03-01", lines, progress, [sample]))
        if lines or second % FLUSH_EVERY_S == FLUSH_EVERY_S - 1:
            writer.flush()
        if second % 3600 == 0:
            bytes_max = max(bytes_max, sum(file.stat().st_size for file in tmp_path.iterdir()))
    writer.close()
    bytes_max = max(bytes_max, sum(file.stat().st_size for file in tmp_path.iterdir()))
    store.close()
    bytes_kept = sum(file.stat().st_size for file in tmp_path.iterdir())
    print(f"{commits} commits, {bytes_max} bytes at most while open, {bytes_kept} bytes kept")  # noqa: T201
    with closing(sqlite3.connect(tmp_path / "lampwarden.db")) as conn:
        for table, rows in (("samples", DAY_S), ("journal", LINES)):
            assert conn.execute(f"SELECT count(*) FROM {table}").fetchone() == (rows,)
    assert DAY_S // FLUSH_EVERY_S < commits <= 9_500 * SHARE
    assert bytes_max <= 8_400_000 * SHARE + LOG_BYTES
    assert bytes_kept <= 8_500_000 * SHARE
