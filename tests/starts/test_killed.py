"""A start set for later outlives kill -9 of the real daemon, and a restarted one begins it once."""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from tests.processes.daemon import Daemon, eventually, write_chamber

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a pty is needed to start the desk board")
PLAN = {
    "id": "strip",
    "title": "One strip",
    "chamber": "attic",
    "program": {"title": "One strip", "zones": [{"zone": "A1", "exposures": [{"end": "10 min"}]}]},
}
HERE = "chambers/attic"


def put(daemon: Daemon, path: str, body: Any) -> httpx.Response:
    return daemon._http.put(f"/api/{path}", json=body)


def test_it_begins_once_over_three_lives(desk_boards: Callable[[], Any], tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, [write_chamber(tmp_path, "attic", desk_boards().port)])
    try:
        daemon.start()
        assert put(daemon, f"{HERE}/plans/strip", {"by": "Wilma", "plan": PLAN}).status_code == 200
        at = (datetime.now(UTC) + timedelta(seconds=2)).isoformat()
        yes = [{"key": "eyes-light"}]
        daemon.order(f"{HERE}/plans/strip/start-later", by="Wilma", confirmed=yes, at=at)
        daemon.kill()
        daemon.start()
        (start,) = eventually(lambda: [s for s in daemon.get(f"{HERE}/starts") if s["state"] != "waiting"])
        assert start["state"] == "started", start["says"]
        (session,) = daemon.get(f"{HERE}/sessions")
        assert session["session_id"] == start["session_id"]
        eventually(lambda: any(line["kind"] == "began" for line in daemon.journal("attic")))
        daemon.kill()
        daemon.start()
        eventually(lambda: any(line["data"].get("reason") == "restart" for line in daemon.journal("attic")))
        assert len(daemon.get(f"{HERE}/sessions")) == 1
    finally:
        daemon.close()
