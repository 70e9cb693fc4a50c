"""The daemon stopped and gone on, asked to end, the board's cable pulled and its power lost."""

import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from .cable import Cable
from .daemon import Daemon, eventually, now_ms
from .truth import DARK_WITHIN_MS, HEARTBEAT_MS, PERIOD_S, SLACK_MS, Lamps, monotonic_ms, unlawful_light

LEVELS = (1.0, 0.4, 0.0)


def program(seconds: int) -> str:
    """Light on two zones for this long."""
    return f"""
title = "Teal rule"
zones = [
  {{ zone = "A1", exposures = [{{ end = "{seconds} s" }}] }},
  {{ zone = "A2", exposures = [{{ end = "{seconds} s", level = {LEVELS[1]} }}] }},
]
"""


@pytest.fixture
def cable(desk_board: Any, tmp_path: Path) -> Iterator[Cable]:
    cable = Cable(desk_board.port, tmp_path / "board-by-id")
    yield cable
    cable.close()


def zones(daemon: Daemon) -> list[Any]:
    found: list[Any] = daemon.get("chambers/bench")["session"]["zones"]
    return found


def lit(daemon: Daemon) -> bool:
    view = daemon.get("chambers/bench")
    return view["board"]["answers"] and view["board"]["readings"]["zone_levels"][0] == 1.0


def ended(daemon: Daemon) -> bool:
    phase: str = daemon.get("chambers/bench")["session"]["phase"]
    return phase == "ended"


def holds(daemon: Daemon) -> dict[str, bool]:
    return {hold["reason"]: hold["needs_person"] for hold in daemon.get("chambers/bench")["session"]["holds"]}


def check_light(daemon: Daemon, lamps: Lamps, seconds: int, *, error_s: float, over_s: float = 0.1) -> None:
    """The session completed; what it recorded is true within `error_s`, and is the plan within that and `over_s`."""
    (line,) = [line for line in daemon.journal("bench") if line["kind"] == "ended"]
    assert line["data"]["outcome"] == "completed"
    true_s = [lamps.lit_s(zone, 0.0, now_ms()) for zone in range(3)]
    figures = [
        (recorded, true, seconds * level)
        for recorded, true, level in zip(line["data"]["lit_s"], true_s, LEVELS, strict=True)
    ]
    for recorded, true, planned in figures:
        assert recorded == pytest.approx(true, abs=error_s), figures
        assert -error_s - 0.05 <= true - planned <= error_s + over_s, figures


def test_a_daemon_that_is_stopped_leaves_the_lamps_dark_and_goes_on_honestly(
    desk_board: Any, daemon: Daemon, tell: Callable[..., None]
) -> None:
    daemon.start()
    daemon.start_session("bench", program(4))
    eventually(lambda: lit(daemon))
    time.sleep(0.7)
    stopped_ms = now_ms()
    daemon.signal(signal.SIGSTOP)
    eventually(lambda: desk_board.lamps()[-1][1][:3] == [0, 0, 0], 10)
    dark_ms = desk_board.lamps()[-1][0]
    assert dark_ms - stopped_ms < HEARTBEAT_MS + DARK_WITHIN_MS + SLACK_MS
    tell(lit_after_stop_ms=round(dark_ms - stopped_ms))
    time.sleep(1.0)
    assert desk_board.lamps()[-1][0] == dark_ms
    daemon.signal(signal.SIGCONT)
    eventually(lambda: lit(daemon))
    eventually(lambda: ended(daemon))
    check_light(daemon, Lamps(desk_board.lamps()), 4, error_s=0.05)
    assert daemon.get("chambers/bench")["session"]["session_s"] == pytest.approx(4.0, abs=0.1)
    assert unlawful_light(Lamps(desk_board.lamps()), daemon.journal("bench"), []) == []


def test_a_daemon_that_is_asked_to_end_darkens_first_and_keeps_everything(
    desk_board: Any, daemon: Daemon, tell: Callable[..., None]
) -> None:
    daemon.start()
    daemon.start_session("bench", program(4) + '[rules]\nafter_restart = "continue"\n')
    eventually(lambda: lit(daemon))
    time.sleep(0.6)
    asked_ms = now_ms()
    daemon.signal(signal.SIGTERM)
    assert daemon.wait() == 0
    dark_ms, levels = desk_board.lamps()[-1]
    assert levels[:3] == [0, 0, 0]
    tell(lit_after_signal_ms=round(dark_ms - asked_ms))
    assert dark_ms - asked_ms < HEARTBEAT_MS
    daemon.start()
    eventually(lambda: ended(daemon))
    check_light(daemon, Lamps(desk_board.lamps()), 4, error_s=0.05)
    assert "Traceback" not in daemon.errors()


def test_a_cable_that_is_pulled_and_put_back_elsewhere(
    desk_board: Any, cable: Cable, daemon_for: Callable[..., Daemon]
) -> None:
    """The name stays, as /dev/serial/by-id keeps it; the device behind it is another each time."""
    daemon = daemon_for(bench=str(cable.name))
    daemon.start()
    daemon.start_session("bench", program(8))
    for _ in range(2):
        eventually(lambda: lit(daemon))
        time.sleep(0.4)
        pulled_ms = now_ms()
        cable.pull()
        eventually(lambda: "board lost" in holds(daemon))
        assert daemon.get("chambers/bench")["board"]["answers"] is False
        eventually(lambda: desk_board.lamps()[-1][1][:3] == [0, 0, 0])
        assert desk_board.lamps()[-1][0] - pulled_ms < HEARTBEAT_MS + DARK_WITHIN_MS + SLACK_MS
        cable.plug()
        eventually(lambda: holds(daemon) == {})
    eventually(lambda: ended(daemon))
    check_light(daemon, Lamps(desk_board.lamps()), 8, error_s=0.05, over_s=PERIOD_S + HEARTBEAT_MS / 1000)
    kinds = [(line["kind"], line["data"].get("reason")) for line in daemon.journal("bench")]
    assert kinds.count(("hold_began", "board lost")) == 2
    assert kinds.count(("hold_ended", "board lost")) == 2


@pytest.mark.parametrize("away_s", [0.2, 5.0])
def test_a_board_that_loses_its_power_with_the_cable(
    desk_board: Any, cable: Cable, daemon_for: Callable[..., Daemon], away_s: float
) -> None:
    daemon = daemon_for(bench=str(cable.name))
    daemon.start()
    daemon.start_session("bench", program(4))
    eventually(lambda: lit(daemon))
    time.sleep(1.4)
    cut_ms = now_ms()
    desk_board.kill()
    cable.pull()
    time.sleep(away_s)
    desk_board.restart()
    cable.plug()
    eventually(lambda: ended(daemon), 25)
    check_light(daemon, Lamps(desk_board.lamps(), [cut_ms]), 4, error_s=1.0)
    lost = [line for line in daemon.journal("bench") if line["data"].get("reason") == "board lost"]
    assert [line["kind"] for line in lost] == ["hold_began", "hold_ended"]
    assert monotonic_ms(lost[0]["utc"]) > cut_ms
