"""What systemd hears: over a real datagram socket, and only while every keeper turns."""

import os
import time
from pathlib import Path

import pytest

from lampwarden.upkeep.pulse import Pulse, to_systemd, word_every_s


@pytest.mark.parametrize("ear", ["path", "abstract"], indirect=True)
def test_messages_arrive_as_they_were_sent(ear) -> None:
    tell = to_systemd({"NOTIFY_SOCKET": ear.address})
    tell("READY=1\nSTATUS=42 °C")
    assert ear.hear() == "READY=1\nSTATUS=42 °C"


def test_without_systemd_nothing_happens() -> None:
    to_systemd({})("READY=1")


def test_a_supervisor_that_is_gone_or_does_not_listen_holds_nobody_up(ear, tmp_path: Path) -> None:
    to_systemd({"NOTIFY_SOCKET": str(tmp_path / "nobody")})("READY=1")
    tell = to_systemd({"NOTIFY_SOCKET": ear.address})
    began_s = time.monotonic()
    for _ in range(2000):  # more than any socket's queue takes
        tell("WATCHDOG=1")
    assert time.monotonic() - began_s < 5


@pytest.mark.parametrize(
    ("environ", "every_s"),
    [
        ({}, 0.0),
        ({"WATCHDOG_USEC": "30000000"}, 10.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}, 10.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}, 0.0),
        ({"WATCHDOG_USEC": "soon"}, 0.0),
    ],
)
def test_how_often_systemd_wants_to_hear(environ: dict[str, str], every_s: float) -> None:
    assert word_every_s(environ) == every_s


class Told:
    def __init__(self, every_s: float, *chambers: str) -> None:
        self.now_s, self.words = 100.0, []
        pulse = Pulse(self.words.append, every_s, lambda: self.now_s)
        self._watch = {chamber: pulse.watch(chamber) for chamber in chambers}

    def turn(self, *chambers: str) -> list[str]:
        """One second in which these keepers turn; what was said in it."""
        self.words.clear()
        self.now_s += 1.0
        for chamber in chambers:
            self._watch[chamber](None)
        return list(self.words)


def test_ready_is_said_once_when_all_have_turned() -> None:
    told = Told(0.0, "attic", "cellar")
    assert told.turn("attic") == []
    assert told.turn("attic") == []
    assert told.turn("cellar") == ["READY=1\nWATCHDOG=1"]
    assert told.turn("attic", "cellar") == ["WATCHDOG=1"]


@pytest.mark.parametrize("dead", ["attic", "cellar"])
def test_one_keeper_that_stands_still_silences_the_pulse(dead: str) -> None:
    told = Told(3.0, "attic", "cellar")
    alive = {"attic": "cellar", "cellar": "attic"}[dead]
    for _ in range(10):
        told.turn("attic", "cellar")
    words = [word for _ in range(60) for word in told.turn(alive)]
    assert len(words) <= 1  # the turn it made before it stood still
    assert "WATCHDOG=1" in [word for _ in range(4) for word in told.turn(alive, dead)]


def test_the_pulse_beats_no_more_often_than_asked() -> None:
    told = Told(5.0, "attic")
    words = [word for _ in range(60) for word in told.turn("attic")]
    assert len(words) == 12
