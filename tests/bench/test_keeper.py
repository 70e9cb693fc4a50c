"""The keeper is not held up by pages, photos or a slow disk. The figures: `python -m tests.bench.keeper`."""

import os
import sys
from pathlib import Path
from typing import Any

import pytest

from .keeper import LATE_S_MAX, VISITORS, measure, spell

SECONDS = 4.0


@pytest.mark.skipif(not os.environ.get("LAMPWARDEN_LONG"), reason="half a minute of both cores: for the long form")
@pytest.mark.timeout(240)
def test_no_heartbeat_is_held_up(desk_board: Any, tmp_path: Path) -> None:
    """Once more if it fails: the machine may be busy with something else."""
    for attempt in (1, 2):
        (folder := tmp_path / str(attempt)).mkdir()
        report = measure(desk_board, folder, SECONDS)
        sys.stdout.write(f"\n{report}\n")
        if report.load.late_s < LATE_S_MAX and report.lamps_stayed_lit:
            break
    assert report.load.late_s < LATE_S_MAX
    assert report.lamps_stayed_lit
    # The load was there: every page was kept up to date, everybody polled, photos and notes went through.
    assert report.visitors["page_updates_min"] > 1
    assert report.visitors["polls"] > VISITORS
    assert report.visitors["notes"] > 0
    assert report.photos > 0


def test_the_longest_gap_is_found() -> None:
    assert spell([10.0, 11.0, 11.05, 12.3, 13.3]).longest_gap_s == 1.25
    assert spell([10.0, 11.0, 11.05, 12.3, 13.3]).late_s == 0.25
