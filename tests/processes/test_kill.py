"""kill -9 of the daemon at random instants, while the boards, real MicroPython, live on; and power cuts of all.

One daemon minds three chambers, each with its own rule for a restart. Each life of the daemon ends at an instant drawn
over its whole life, start included. Meanwhile a person, by the API alone, begins sessions, answers, notes, pauses and
lets go on. What the API has shown, and what the lamps truly did, is then held against what later lives say.
LAMPWARDEN_LONG=1 draws many more kills.
"""

import os
import random
import re
import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

import httpx
import pytest

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program import Program
from lampwarden.store.verify import verify

from .daemon import Daemon, eventually, now_ms
from .truth import HEARTBEAT_MS, PERIOD_S, Lamps, monotonic_ms, unlawful_light

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
KILLS = 60 if LONG else 6
CUTS = 12 if LONG else 2
GAP_S_MAX = 3
RULES = {
    "ask": 'after_restart = "ask"',
    "go_on": 'after_restart = "continue"\ngap_max = "10 min"',
    "gap": f'after_restart = "continue"\ngap_max = "{GAP_S_MAX} s"',
}
PROGRAM = """
title = "Ferry timetable in seconds"
zones = [
  { zone = "A1", exposures = [{ end = "3 s" }, { start = "5 s", end = "8 s", level = 0.5 }] },
  { zone = "A2", exposures = [{ start = "1 s", dose_j_cm2 = 0.04 }] },
]
checkpoints = [{ name = "baseline", at = "0 s" }, { name = "half", at = "4 s" }]
[rules]
"""
FINISH_S = 40.0
"""Two whole programs would fit, with a person who takes her time."""
MINDED_S = 1.5
"""While light falls, the newest time on disk is at most this old: totals are kept every second."""
LIT_ERROR_S = 0.1
"""Board alive: its counters know all the light. The journal may differ from its lamps by some passes of its loop."""
CUT_ERROR_S = 1.0
"""Most light that an interruption may leave unrecorded or count too much (design, section 5)."""


@dataclass
class Chronicle:
    """What the API has shown of one chamber, and what was promised to the person who gave an order."""

    chamber_id: str
    lines: dict[int, dict[str, Any]] = field(default_factory=dict)
    promised: list[str] = field(default_factory=list)
    """One unique name for each order that was acknowledged."""
    holds: set[tuple[str, str, float]] = field(default_factory=set)
    """Session, reason and beginning of each hold shown."""
    lit_s: dict[str, tuple[float, ...]] = field(default_factory=dict)
    """Most light shown of each session."""

    def see(self, view: dict[str, Any], lines: list[dict[str, Any]]) -> None:
        self.lines |= {line["seq"]: line for line in lines}
        session = view["session"]
        if session is not None:
            self.holds |= {(session["session_id"], hold["reason"], hold["since_s"]) for hold in session["holds"]}
            shown = tuple(zone["lit_s"] for zone in session["zones"])
            before = self.lit_s.get(session["session_id"], shown)
            self.lit_s[session["session_id"]] = tuple(map(max, before, shown))

    @property
    def last_seq(self) -> int:
        return max(self.lines, default=0)

    def must_be_in(self, journal: list[dict[str, Any]]) -> None:
        """Fails unless all that was ever shown or promised is on record, word for word."""
        saved = {line["seq"]: line for line in journal}
        gone = {seq: line for seq, line in self.lines.items() if saved.get(seq) != line}
        assert not gone, f"shown by the API, now gone or changed: {gone}"
        known = set(re.findall(r"Wilma \d+", " ".join(str(line["data"]) for line in journal)))
        lost = [by for by in self.promised if by not in known]
        assert not lost, f"orders that were acknowledged, now unknown: {lost}"
        began = {
            (line["session_id"], line["data"]["reason"], line["run_s"])
            for line in journal
            if line["kind"] == "hold_began"
        }
        assert self.holds <= began, f"holds that were shown, now unknown: {self.holds - began}"


class Person:
    """Does what people do, at random moments. Every order bears a name of its own."""

    def __init__(self, daemon: Daemon, draw: random.Random) -> None:
        self.daemon = daemon
        self.chronicles = {chamber_id: Chronicle(chamber_id) for chamber_id in RULES}
        self._draw = draw
        self._orders = 0

    def look(self, chamber_id: str, *, may_begin: bool) -> dict[str, Any]:
        """One look at a chamber, and perhaps an order. Raises httpx.TransportError if the daemon dies meanwhile."""
        chronicle = self.chronicles[chamber_id]
        view: dict[str, Any] = self.daemon.get(f"chambers/{chamber_id}")
        chronicle.see(view, self.daemon.journal(chamber_id, chronicle.last_seq))
        session, chance = view["session"], self._draw.random()
        if session is None or session["phase"] == "ended":
            if may_begin:
                self._order(chamber_id, "start", toml=PROGRAM + RULES[chamber_id])
            return view
        waits = session["checkpoint"] is not None and session["checkpoint"]["called_s"] is not None
        needs_person = [hold["reason"] for hold in session["holds"] if hold["needs_person"]]
        if waits and chance < 0.4:
            self._order(chamber_id, "answer", checkpoint=session["checkpoint"]["name"])
        elif needs_person not in ([], ["checkpoint"]) and chance < 0.2:
            self._order(chamber_id, "continue")
        elif chance > 0.97:
            self._order(chamber_id, "note", text="looked in")
        elif chance > 0.96 and session["phase"] == "running" and may_begin:
            self._order(chamber_id, self._draw.choice(["hold", "stop"]))
        return view

    def _order(self, chamber_id: str, what: str, **more: object) -> None:
        self._orders += 1
        by = f"Wilma {self._orders}"
        answer = self.daemon.post(f"chambers/{chamber_id}/{what}", by=by, **more)
        if answer.is_success:
            if what != "stop":  # which is obeyed also when the session has ended meanwhile, and leaves no line then
                self.chronicles[chamber_id].promised.append(by)
        else:  # not now: the daemon has barely started, or the state has moved on
            assert answer.status_code == 409, answer.text


class Scene:
    """Three boards, one daemon, one person."""

    def __init__(self, boards: dict[str, Any], daemon: Daemon, draw: random.Random) -> None:
        self.boards, self.daemon, self.draw = boards, daemon, draw
        self.person = Person(daemon, draw)
        self.kills_ms: list[float] = []
        self.cuts_ms: list[float] = []

    def life(self, may_begin: bool = True) -> None:
        """One life of the daemon, from its start to its violent end."""
        self.daemon.launch()
        if self.draw.random() < 0.25:
            killer = threading.Timer(self.draw.uniform(0.05, 1.5), self._kill)  # while it starts
        else:
            eventually(self.daemon.answers, 30)
            self.check_record()
            killer = threading.Timer(self.draw.uniform(0.05, 2.5), self._kill)
        killer.start()
        with suppress(httpx.TransportError):
            while killer.is_alive():
                if self.daemon.answers():
                    for chamber_id in RULES:
                        self.person.look(chamber_id, may_begin=may_begin)
        killer.join()
        assert self.daemon.wait() == -signal.SIGKILL, "the daemon ended by itself"

    def _kill(self) -> None:
        self.kills_ms.append(now_ms())
        self.daemon.kill()

    def power_cut(self, away_s: float) -> None:
        """Daemon and boards lose their power together, and have it back together."""
        for board in self.boards.values():
            board.process.send_signal(signal.SIGKILL)
        self._kill()
        self.cuts_ms.append(self.kills_ms[-1])
        time.sleep(away_s)
        for board in self.boards.values():
            board.restart()

    def check_record(self) -> None:
        for chamber_id, chronicle in self.person.chronicles.items():
            chronicle.must_be_in(self.daemon.journal(chamber_id))

    def finish(self, *, started: bool = False) -> None:
        """A last life without a kill: every session comes to its end."""
        if not started:
            self.daemon.start()
        self.check_record()

        deadline_s = time.monotonic() + FINISH_S
        while under_way := [
            view["session"]
            for view in (self.person.look(chamber_id, may_begin=False) for chamber_id in RULES)
            if view["session"] is not None and view["session"]["phase"] != "ended"
        ]:
            assert time.monotonic() < deadline_s, under_way
            time.sleep(0.03)
        self.check_record()
        assert verify(self.daemon.database).faults == ()

    def lamps(self, chamber_id: str) -> Lamps:
        return Lamps(self.boards[chamber_id].lamps(), self.cuts_ms)


def exposures(scene: Scene, chamber_id: str) -> list[tuple[str, list[float], list[float], list[float]]]:
    """Of each ended session: its id, and light recorded, true and planned per zone, s."""
    lines = scene.daemon.journal(chamber_id)
    lamps = scene.lamps(chamber_id)
    begins = [(monotonic_ms(line["utc"]), line["session_id"]) for line in lines if line["kind"] == "began"]
    until = [at_ms for at_ms, _ in begins[1:]] + [now_ms()]
    ends = {line["session_id"]: line["data"] for line in lines if line["kind"] == "ended"}
    found = []
    for (from_ms, session_id), to_ms in zip(begins, until, strict=True):
        assert ends[session_id]["outcome"] == "completed", ends[session_id]
        saved = scene.daemon.get(f"chambers/{chamber_id}/sessions/{session_id}")
        chamber, program = Chamber.model_validate(saved["chamber"]), Program.model_validate(saved["program"])
        true_s = [lamps.lit_s(zone, from_ms, to_ms) for zone in range(len(chamber.zones))]
        found.append((session_id, ends[session_id]["lit_s"], true_s, list(program.planned_lit_s(chamber))))
    return found


def restarts(scene: Scene, chamber_id: str) -> list[tuple[dict[str, Any], dict[str, Any] | None]]:
    """Each hold for a restart, and the line that ended it."""
    found: list[tuple[dict[str, Any], dict[str, Any] | None]] = []
    for line in scene.daemon.journal(chamber_id):
        if line["data"].get("reason") == "restart" and line["kind"] == "hold_began":
            found.append((line, None))
        elif line["data"].get("reason") == "restart" and line["kind"] == "hold_ended":
            found[-1] = (found[-1][0], line)
    return found


def check_rule(scene: Scene, chamber_id: str) -> tuple[int, int]:
    """The program's rule for a restart was obeyed each time; how often it went on alone, and how often it asked."""
    lamps, owed, alone, asked = scene.lamps(chamber_id), False, 0, 0
    journal = scene.daemon.journal(chamber_id)
    for began, ended in restarts(scene, chamber_id):
        at_ms, needs_person = monotonic_ms(began["utc"]), began["data"]["needs_person"]
        last_kill_ms = max(kill_ms for kill_ms in scene.kills_ms if kill_ms < at_ms)
        gap_s = (at_ms - last_kill_ms) / 1000
        # A daemon killed before it took anything up leaves the gap that it found: count from the last that wrote.
        wrote_ms = max(ms for line in journal if (ms := monotonic_ms(line["utc"])) < last_kill_ms)
        widest_s = (at_ms - min(kill_ms for kill_ms in scene.kills_ms if kill_ms > wrote_ms)) / 1000
        was_lit = any(span.on_ms < last_kill_ms < span.off_ms for span in lamps.spans(at_ms))
        if chamber_id == "ask" or owed:
            assert needs_person, began
        elif chamber_id == "go_on":
            assert not needs_person, began
        elif gap_s > GAP_S_MAX:
            assert needs_person, (gap_s, began)
        elif was_lit and widest_s + MINDED_S < GAP_S_MAX:
            assert not needs_person, (widest_s, began)
        why = ended["data"]["why"] if ended else "the session ended"
        owed = needs_person and why == "Restarted once more."
        if not owed:
            right = "Continued by Wilma" if needs_person else "The board answers and its light is booked."
            assert why.startswith(("Restarted once more.", right)), (began, why)
        alone, asked = alone + (not needs_person), asked + needs_person
    return alone, asked


@pytest.fixture
def scene(desk_boards: Callable[[], Any], daemon_for: Callable[..., Daemon]) -> Scene:
    boards = {chamber_id: desk_boards() for chamber_id in RULES}
    daemon = daemon_for(**{chamber_id: board.port for chamber_id, board in boards.items()})
    return Scene(boards, daemon, random.Random(20310303))


@pytest.mark.timeout(1800 if LONG else 240)
def test_killed_at_random_instants(scene: Scene, tell: Callable[..., None]) -> None:
    pauses_s = [(0.0, 0.0, 3.3, 0.0, 0.4)[number % 5] for number in range(KILLS)]
    scene.draw.shuffle(pauses_s)
    for pause_s in pauses_s:
        scene.life()
        threading.Event().wait(pause_s)
    assert len(scene.kills_ms) == KILLS
    scene.finish()

    dark_s, errors_s, over_s, short_s, sessions = [0.0], [0.0], [0.0], [0.0], 0
    rules = {}
    for chamber_id in RULES:
        lamps, lines = scene.lamps(chamber_id), scene.daemon.journal(chamber_id)
        assert unlawful_light(lamps, lines, scene.kills_ms) == []
        dark_s += [after / 1000 for at in scene.kills_ms if (after := lamps.dark_after_ms(at)) is not None]
        for session_id, recorded_s, true_s, planned_s in exposures(scene, chamber_id):
            sessions += 1
            for recorded, true, planned in zip(recorded_s, true_s, planned_s, strict=True):
                where = (chamber_id, session_id, recorded, true, planned)
                assert abs(recorded - true) < LIT_ERROR_S, where
                assert true - planned < PERIOD_S + HEARTBEAT_MS / 1000, where
                assert planned - true < LIT_ERROR_S, where
                errors_s.append(abs(recorded - true))
                over_s.append(true - planned)
                short_s.append(planned - true)
        rules[chamber_id] = check_rule(scene, chamber_id)
    assert sessions >= KILLS / 5, "hardly any session came to its end"
    assert rules["go_on"][0] > 0
    assert rules["ask"][1] > 0
    assert "Traceback" not in scene.daemon.errors()
    tell(
        kills=KILLS,
        sessions=sessions,
        restarts_alone_and_asked=rules,
        lit_after_kill_s_max=round(max(dark_s), 3),
        recorded_error_s_max=round(max(errors_s), 4),
        over_plan_s_max=round(max(over_s), 3),
        short_of_plan_s_max=round(max(short_s), 3),
        orders_kept=sum(len(chronicle.promised) for chronicle in scene.person.chronicles.values()),
        lines_kept=sum(len(chronicle.lines) for chronicle in scene.person.chronicles.values()),
    )


@pytest.mark.timeout(600 if LONG else 120)
@pytest.mark.parametrize("away_s", [0.1, 4.5] if LONG else [4.5])
def test_power_cut_of_host_and_boards(scene: Scene, tell: Callable[..., None], away_s: float) -> None:
    """The boards' counters are gone with the power: at most a second of light is unknown each time."""
    scene.daemon.start()
    for _ in range(CUTS):
        minded_until_s = time.monotonic() + scene.draw.uniform(2.0, 5.0)
        while time.monotonic() < minded_until_s:
            for chamber_id in RULES:
                scene.person.look(chamber_id, may_begin=True)
        scene.power_cut(away_s)
        scene.daemon.start()
        scene.check_record()
    scene.finish(started=True)
    errors_s = [0.0]
    for chamber_id in RULES:
        lamps, lines = scene.lamps(chamber_id), scene.daemon.journal(chamber_id)
        assert unlawful_light(lamps, lines, scene.kills_ms) == []
        for session_id, recorded_s, true_s, planned_s in exposures(scene, chamber_id):
            for recorded, true, planned in zip(recorded_s, true_s, planned_s, strict=True):
                where = (chamber_id, session_id, recorded, true, planned)
                assert abs(recorded - true) < CUT_ERROR_S * CUTS, where
                assert abs(true - planned) < CUT_ERROR_S * CUTS + LIT_ERROR_S, where
                errors_s.append(recorded - true)
    assert "Traceback" not in scene.daemon.errors()
    tell(
        power_cuts=CUTS,
        away_s=away_s,
        recorded_and_not_fallen_s_max=round(max(errors_s), 3),
        fallen_and_not_recorded_s_max=round(-min(errors_s), 3),
    )
