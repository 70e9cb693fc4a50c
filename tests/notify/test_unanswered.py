"""Nobody comes to a checkpoint of a real session: what is sent, how urgently, and what kill -9 changes of it."""

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.processes.daemon import Daemon, eventually, write_chamber
from tests.web.conftest import Bench

from lampwarden.notify.channels import FILE, Channel, ChannelFile, Channels, Wants
from lampwarden.notify.notifier import AGAIN, LOOK_S, Notifier
from lampwarden.store.outbox import Outbox

from .catchers import Listener, free_port

ALWAYS = {"quiet_from": "00:00", "quiet_to": "00:00"}
PROGRAM = """\
title = "One strip"
[[zones]]
zone = "A1"
exposures = [{ end = "10 min" }]
[[checkpoints]]
name = "baseline"
at = "0 h"
"""


def test_calls_grow_until_somebody_answers(tmp_path: Path, listener: Listener) -> None:
    """An hour in the time of the session, each message over HTTP."""
    bench = Bench(tmp_path / "bench.db")
    bench.open()
    file = ChannelFile(tmp_path / FILE)
    file.write(Channels(channels=(Channel(name="hook", url=listener.url, wants=Wants.EVERYTHING),), **ALWAYS))
    begun = datetime.now(UTC)
    notifier = Notifier(
        Outbox(bench.store), file, bench.service.chambers,
        utc=lambda: begun + timedelta(seconds=bench.world.now_s),
    )  # fmt: skip

    def let_pass(seconds: int) -> None:
        bench.run(seconds)
        notifier.look()
        for under_way in list(notifier._under_way.values()):
            under_way.result(60)

    let_pass(1)
    bench.start()
    for minutes in (1, 5, 10, 15, 30):  # reminders come 5, 15, 30 and 60 minutes after the first call
        let_pass(60 * minutes)
    waiting = "photo 'baseline' · Test bench"
    assert listener.titles == [
        f"Your turn: {waiting}",
        *(f"Still waiting (reminder {number}): {waiting}" for number in (1, 2, 3, 4)),
    ]
    assert [message["type"] for message in listener.taken] == ["warning", "warning", *["failure"] * 3]
    bench.clock.limit_s += 60
    bench.service.answer("bench", "baseline", "Wilma")
    bench.until(lambda s: any(s.board.live.zone_applied), 20)
    before = len(listener.taken)
    bench.world.press_stop(True)  # a fault, at once
    let_pass(3)
    let_pass(1)
    assert listener.titles[before:] == ["The board cut the light off · Test bench"]
    assert listener.taken[-1]["type"] == "failure"
    notifier.close()
    bench.close()


@pytest.mark.skipif(sys.platform == "win32", reason="a pty is needed to start the desk board")
def test_a_call_outlives_kill_9_and_comes_once(desk_boards: Callable[[], Any], tmp_path: Path) -> None:
    """The real daemon, killed while the network is away and again after the call arrived."""
    daemon = Daemon(tmp_path, [write_chamber(tmp_path, "attic", desk_boards().port)])
    port = free_port()
    listener = None
    try:
        daemon.start()
        ChannelFile(daemon.data / FILE).write(
            Channels(channels=(Channel(name="hook", url=f"json://127.0.0.1:{port}/lamp"),), **ALWAYS)
        )
        daemon.start_session("attic", PROGRAM)
        eventually(lambda: any(line["kind"] == "person_called" for line in daemon.journal("attic")))
        daemon.kill()
        listener = Listener(port)
        daemon.start()
        eventually(lambda: any("photo 'baseline'" in title for title in listener.titles), 60)
        daemon.kill()
        daemon.start()
        time.sleep(3 * LOOK_S)  # were it to send again, it would by now
        calls = [each for each in listener.taken if each["title"].startswith("Your turn: photo 'baseline'")]
        # Killed between the call's arrival and the note of it, the daemon cannot know, and says so.
        assert [each["message"].startswith(AGAIN) for each in calls] in ([False], [False, True])
    finally:
        daemon.close()
        if listener is not None:
            listener.close()
