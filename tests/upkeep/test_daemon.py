"""The real daemon as a service: ready, watched, stopped in the dark, taken up again, backed up, one at a time."""

import re
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.command import ran

from lampwarden.rig.world import World
from lampwarden.store.verify import verify

from .conftest import Daemon, Ear, until

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has neither systemd nor SIGTERM")

PROGRAM = 'title = "Hours"\n[[zones]]\nzone = "A1"\nexposures = [{ end = "5 h" }]\n'
Start = Callable[..., Daemon]


def light(daemon: Daemon, world: World) -> str:
    """Begins a session and waits for its light; the session's id."""
    until(lambda: daemon.ask("chambers/bench")["board"]["readings"], "the board")
    session = daemon.ask("chambers/bench/start", {"by": "a test", "toml": PROGRAM})["session_id"]
    until(lambda: not world.truth.dark, "light")
    return session


def test_systemd_hears_that_it_is_up_and_that_it_turns(daemon: Start, ear: Ear) -> None:
    process = daemon(NOTIFY_SOCKET=ear.address, WATCHDOG_USEC="1500000").process
    assert ear.hear() == "READY=1\nWATCHDOG=1"
    for _ in range(3):
        assert ear.hear() == "WATCHDOG=1"
    process.send_signal(signal.SIGSTOP)  # hung: systemd would wait in vain and start it anew
    while not ear.is_quiet_for(0.3):
        pass
    assert ear.is_quiet_for(1.5)
    process.send_signal(signal.SIGCONT)
    assert ear.hear() == "WATCHDOG=1"


def test_stopped_by_systemd_it_leaves_the_chamber_dark(daemon: Start, data: Path, world: World) -> None:
    running = daemon()
    light(running, world)
    running.process.send_signal(signal.SIGTERM)
    assert running.process.wait(20) == 0
    assert world.truth.dark  # now, not only when the heartbeat is missed
    assert "Traceback" not in running.end()
    assert verify(data / "lampwarden.db").faults == ()


def test_a_killed_daemon_is_followed_by_one_that_takes_up_its_session(
    daemon: Start, data: Path, world: World, ear: Ear
) -> None:
    first = daemon()
    session = light(first, world)
    first.process.kill()
    first.process.wait()
    second = daemon(NOTIFY_SOCKET=ear.address)
    assert ear.hear() == "READY=1\nWATCHDOG=1"
    found = second.ask("chambers/bench/session")
    assert (found["session_id"], found["phase"]) == (session, "held")
    assert [hold["reason"] for hold in found["holds"]] == ["restart"]
    second.ask("chambers/bench/continue", {"by": "a test"})
    until(lambda: not world.truth.dark, "light after the restart")
    assert verify(data / "lampwarden.db").faults == ()


def test_one_daemon_at_a_time_and_backups_beside_it(
    daemon: Start, data: Path, world: World, chamber_file: Path, tmp_path: Path
) -> None:
    running, copy = daemon(), tmp_path / "copy.db"
    session = light(running, world)
    for words in (["serve", str(chamber_file)], ["demo", "--no-browser"], ["restore", str(copy)]):
        refused = ran(*words, "--data", str(data))
        assert refused.returncode == 1
        assert f"in use by another Lampwarden (process {running.process.pid})" in refused.stderr
        assert "Traceback" not in refused.stderr
    made = ran("backup", str(copy), "--data", str(data))
    assert (made.returncode, made.stderr) == (0, "")
    head = re.search(r"Head: (\w{64})", made.stdout)
    assert head
    assert not world.truth.dark  # none of this disturbed the session
    running.ask("chambers/bench/note", {"by": "a test", "text": "Written after the backup."})
    seen = ran("journal", "verify", "--expect", head[1][:16], "--data", str(data))
    assert (seen.returncode, "The head you kept is that of line" in seen.stdout) == (0, True)
    shown = ran("journal", "show", "--session", session, "--data", str(data))
    assert "Written after the backup." in shown.stdout
    running.process.send_signal(signal.SIGTERM)
    assert running.process.wait(20) == 0

    back = ran("restore", str(copy), "--data", str(data))
    assert (back.returncode, back.stderr) == (0, "")
    assert f"Not ended at that time: session {session}." in back.stdout
    shown = ran("journal", "show", "--data", str(data))
    assert "Written after the backup." not in shown.stdout
    assert "The records were brought back from the backup copy.db" in shown.stdout
    third = daemon()
    assert third.ask("chambers/bench/session")["session_id"] == session
