"""One daemon and four boards at once, all real MicroPython: what befalls one does not touch the others."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.publishing.test_metrics import Value, read

from .cable import Cable
from .daemon import Daemon, eventually, now_ms
from .truth import DARK_WITHIN_MS, HEARTBEAT_MS, PERIOD_S, SLACK_MS, Lamps, monotonic_ms, unlawful_light

CHAMBERS = ("attic", "cellar", "pulled", "tripped")
LIGHT_S = 22
PROGRAM = f"""
title = "Four at once"
zones = [
  {{ zone = "A1", exposures = [{{ end = "{LIGHT_S} s" }}] }},
  {{ zone = "A2", exposures = [{{ end = "{LIGHT_S} s", level = 0.5 }}] }},
]
[rules]
after_restart = "continue"
gap_max = "10 min"
"""
LEVELS = (1.0, 0.5, 0.0)
LATE_S_MAX = HEARTBEAT_MS / 3000
"""A third of the heartbeat timeout: so much later than its period may a keeper turn."""


@pytest.fixture
def boards(desk_boards: Callable[[], Any]) -> dict[str, Any]:
    return {chamber_id: desk_boards() for chamber_id in CHAMBERS}


@pytest.fixture
def cable(boards: dict[str, Any], tmp_path: Path) -> Iterator[Cable]:
    cable = Cable(boards["pulled"].port, tmp_path / "board-by-id")
    yield cable
    cable.close()


def view(daemon: Daemon, chamber_id: str) -> dict[str, Any]:
    found: dict[str, Any] = daemon.get(f"chambers/{chamber_id}")
    return found


def lit(daemon: Daemon, chamber_id: str) -> bool:
    about = view(daemon, chamber_id)
    return about["board"]["answers"] and about["board"]["readings"]["zone_levels"][0] == 1.0


def holds(daemon: Daemon, chamber_id: str) -> set[str]:
    return {hold["reason"] for hold in view(daemon, chamber_id)["session"]["holds"]}


def metrics(daemon: Daemon) -> Value:
    return read(daemon.page("/metrics").text)


def gaps_s(daemon: Daemon) -> dict[str, float]:
    value = metrics(daemon)
    return {chamber_id: value("keeper_longest_gap_seconds", chamber=chamber_id) or 0.0 for chamber_id in CHAMBERS}


def check_gaps(gaps: dict[str, float]) -> None:
    """Also of the keeper whose board is away."""
    assert max(gaps.values()) < PERIOD_S + LATE_S_MAX, gaps


@pytest.mark.timeout(240)
def test_four_boards_at_once(
    boards: dict[str, Any], cable: Cable, daemon_for: Callable[..., Daemon], tell: Callable[..., None]
) -> None:
    ports = {chamber_id: board.port for chamber_id, board in boards.items()} | {"pulled": str(cable.name)}
    daemon = daemon_for(**ports)
    daemon.start()
    sessions = {chamber_id: daemon.start_session(chamber_id, PROGRAM) for chamber_id in CHAMBERS}
    assert len(set(sessions.values())) == 4
    eventually(lambda: all(lit(daemon, chamber_id) for chamber_id in CHAMBERS))

    cable.pull()
    boards["tripped"].control(stop_pressed=True)
    eventually(lambda: "board lost" in holds(daemon, "pulled") and "trip" in holds(daemon, "tripped"))
    troubled_ms = now_ms()
    value = metrics(daemon)
    answers = {chamber_id: value("board_answers", chamber=chamber_id) for chamber_id in CHAMBERS}
    assert answers == {"attic": 1, "cellar": 1, "pulled": 0, "tripped": 1}
    assert value("board_state", chamber="tripped", state="tripped") == 1
    time.sleep(4)
    for chamber_id in ("attic", "cellar"):  # not a flicker there
        assert holds(daemon, chamber_id) == set()
        assert boards[chamber_id].lamps()[-1][0] < troubled_ms
    first = gaps_s(daemon)
    check_gaps(first)

    kill_ms = now_ms()
    daemon.kill()
    eventually(lambda: all(not any(boards[c].lamps()[-1][1][:3]) for c in CHAMBERS), 10)
    dark_ms = max(boards[chamber_id].lamps()[-1][0] for chamber_id in ("attic", "cellar"))
    assert dark_ms - kill_ms < HEARTBEAT_MS + DARK_WITHIN_MS + SLACK_MS
    daemon.start()
    eventually(lambda: lit(daemon, "attic") and lit(daemon, "cellar"))
    assert {
        chamber_id: daemon.get(f"chambers/{chamber_id}/session")["session_id"] for chamber_id in CHAMBERS
    } == sessions
    assert "board lost" in holds(daemon, "pulled")
    assert "trip" in holds(daemon, "tripped")  # the host's restart has not cleared it

    cable.plug()
    eventually(lambda: lit(daemon, "pulled"))
    boards["tripped"].control(stop_pressed=None)
    eventually(lambda: daemon.post("chambers/tripped/continue", by="Wilma").is_success)
    eventually(lambda: lit(daemon, "tripped"))
    eventually(lambda: all(view(daemon, c)["session"]["phase"] == "ended" for c in CHAMBERS), 60)
    second = gaps_s(daemon)
    check_gaps(second)

    errors_s = [0.0]
    for chamber_id, board in boards.items():
        lamps, lines = Lamps(board.lamps()), daemon.journal(chamber_id)
        assert {line["session_id"] for line in lines} <= {sessions[chamber_id], None}
        assert unlawful_light(lamps, lines, [kill_ms]) == []
        (end,) = [line for line in lines if line["kind"] == "ended"]
        assert end["data"]["outcome"] == "completed", end
        true_s = [lamps.lit_s(zone, 0.0, monotonic_ms(end["utc"]) + 5000) for zone in range(3)]
        for recorded, true, level in zip(end["data"]["lit_s"], true_s, LEVELS, strict=True):
            assert recorded == pytest.approx(true, abs=0.1), chamber_id
            assert LIGHT_S * level - 0.1 <= true < LIGHT_S * level + PERIOD_S + HEARTBEAT_MS / 1000, chamber_id
            errors_s.append(abs(recorded - true))
    assert "Traceback" not in daemon.errors()
    tell(gaps_s_first_life=first, gaps_s_second_life=second, dark_after_kill_ms=round(dark_ms - kill_ms),
         recorded_error_s_max=round(max(errors_s), 3))  # fmt: skip
