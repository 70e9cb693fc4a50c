"""The long run from the command line: what it has reached is not lost when it is stopped."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))


def worker_of(pid: int) -> int:
    """A process of this one's pool: the resource tracker is started first, the workers after it."""
    return int(Path(f"/proc/{pid}/task/{pid}/children").read_text().split()[-1])


@pytest.mark.skipif(not LONG, reason="a tool of ours: for the long form")
@pytest.mark.skipif(sys.platform != "linux", reason="finds the worker process in /proc")
@pytest.mark.parametrize(
    ("jobs", "stop", "said"),
    [
        (1, lambda pid: os.kill(pid, signal.SIGTERM), "Stopped from outside."),  # as Ctrl-C does
        (2, lambda pid: os.kill(worker_of(pid), signal.SIGKILL), "A worker process was killed."),
    ],
    ids=["terminated", "a worker killed"],
)
def test_a_run_that_is_stopped_tells_what_it_reached(jobs, stop, said):
    command = [sys.executable, "-m", "tests.campaign", "--seeds", "60", "--jobs", str(jobs)]
    with subprocess.Popen(command, cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, text=True) as process:
        first = process.stdout.readline()
        assert first.startswith("3 of 60 seeds")
        stop(process.pid)
        told = process.stdout.read()
    assert process.returncode == 2, told
    assert f"{said} This is what the first" in told
    assert "of 60 seeds gave." in told
    assert "0 seeds broke a promise." in told
    assert "Traceback" not in told
