"""The board: what it is, how it is, and what was tried with it before its first light. Pure."""

from dataclasses import dataclass
from datetime import datetime

from ...domain.commissioning import Commissioning, Papers, StepResult
from ...keeper import Snapshot
from ...link.board import Identity, Live
from .. import wording as w
from ..wording import Taste

LOOP_GAP_MS_MAX = 200
"""A longest pass of the board's loop above this, ms, is worth a word: lamps must be dark within 250 ms."""
BAD_SHARE_MAX = 0.01
"""So large a share of bad frames means a bad cable or noise."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One line about the board."""

    label: str
    value: str
    about: str
    """What the word means, or what to do."""
    wrong: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    title: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step of commissioning."""

    outcome: str
    title: str
    text: str
    passed: bool


@dataclass(frozen=True, slots=True)
class Record:
    """The commissioning record."""

    says: str
    trouble: str
    """Why sessions cannot start; empty: they can."""
    facts: tuple[Fact, ...]
    steps: tuple[StepRow, ...]


def verdict(snapshot: Snapshot) -> tuple[str, bool]:
    """The board in one sentence, and whether all is well with it."""
    board = snapshot.board
    if board.trouble is not None or board.live is None:
        return f"The board does not answer: {board.trouble or 'it was not reached yet'}", False
    live = board.live
    if live.trip_cause:
        return (
            f"The board has tripped: {live.trip_text}. It stays dark until the cause is gone and the trip cleared.",
            False,
        )
    if live.stop_pressed:
        return "The stop button is down. Release it when all is well.", False
    if live.air_status != "ok" or any(status != "ok" for status in live.bank_status):
        return "A sensor gives no good value. Without it the board gives no light.", False
    return "The board answers, and all its sensors read.", True


def health(snapshot: Snapshot, taste: Taste) -> tuple[Group, ...]:
    """All that can be said about the board now; without an answer only what it is."""
    identity, live = snapshot.board.identity, snapshot.board.live if snapshot.board.trouble is None else None
    groups = []
    if live is not None:
        groups += [Group("Now", _now(live)), Group("Sensors", _sensors(live, taste))]
        groups.append(Group("Line to the board", _line(live)))
    if identity is not None:
        groups.append(Group("What it is", _what(identity, taste)))
    return tuple(groups)


def record(papers: Papers, snapshot: Snapshot, taste: Taste) -> Record:
    """The commissioning record of the board that answers."""
    done, identity = papers.commissioning, snapshot.board.identity
    trouble = snapshot.board.unproved or ""
    if done is None:
        says = "No commissioning record of this board is on this computer."
        if identity is not None and not trouble:
            says += " None is asked for: a simulated board, or a bench without lamps."
        return Record(says, trouble, (), ())
    at = w.moment(done.utc)
    says = f"{done.by} tried this board step by step and signed for it on {at.day} {at:%B %Y}."
    return Record(says, trouble, _signed(done, at, taste), tuple(map(_step, done.steps)))


def _now(live: Live) -> tuple[Fact, ...]:
    states = {
        "dark": "since its start, or disarmed: it obeys no demand for light",
        "ready": "armed, with limits set; no treatment lamp is lit",
        "lit": "at least one treatment lamp is lit",
        "tripped": "dark, and latched until a person clears it",
    }
    return (
        Fact("State", live.board_state, states.get(live.board_state, "")),
        Fact(
            "Trip",
            live.trip_text if live.trip_cause else "none",
            "Why it latched itself dark, if it did.",
            bool(live.trip_cause),
        ),
        Fact(
            "Door",
            f"{'open' if live.door_open else 'closed'}, opened {live.door_openings} × since its start",
            "Lamps are cut while it is open.",
        ),
        Fact("Stop button", "down" if live.stop_pressed else "released", "Trips the board.", live.stop_pressed),
        Fact(
            "Heartbeat",
            f"{live.heartbeat_left_s:.1f} s left",
            "A number this computer must change every second. When the time runs out, the board goes dark by itself.",
        ),
        Fact("Fan", f"{100 * live.fan:.0f} %", "Full while lamps are lit or plates are warm."),
        Fact("White light", f"{100 * live.inspection:.0f} %", "The inspection bank, for looks and photos."),
    )


def _sensors(live: Live, taste: Taste) -> tuple[Fact, ...]:
    facts = [
        Fact(
            "Air",
            f"{w.temp(live.air_temp_c, taste)}, {live.air_status}",
            f"Last good value {live.air_age_s:.1f} s ago.",
            live.air_status != "ok",
        ),
        Fact(
            "Humidity",
            "no reading" if live.humidity_pct is None else f"{live.humidity_pct:.0f} %",
            "From the same sensor.",
            live.humidity_pct is None,
        ),
    ]
    for number, (temp_c, status) in enumerate(zip(live.bank_temps_c, live.bank_status, strict=False), start=1):
        facts.append(Fact(f"Bank {number}", f"{w.temp(temp_c, taste)}, {status}", "Plate of the LEDs.", status != "ok"))
    return tuple(facts)


def _line(live: Live) -> tuple[Fact, ...]:
    bad = live.frames_bad + live.exceptions
    share = bad / max(1, live.frames_ok + bad)
    return (
        Fact("Good messages", f"{live.frames_ok}", "Since its start; counts to 65535, then from 0 again."),
        Fact(
            "Damaged messages",
            f"{live.frames_bad}",
            "Wrong checksum or length: noise or a loose cable. They are asked again."
            if share <= BAD_SHARE_MAX
            else "More than one in a hundred: look at cable, plug and grounding.",
            share > BAD_SHARE_MAX,
        ),
        Fact("Refused orders", f"{live.exceptions}", "Orders the board did not allow."),
        Fact(
            "Longest pass",
            f"{live.loop_gap_ms_max} ms",
            "Longest time between two looks at its sensors and switches since its start.",
            live.loop_gap_ms_max > LOOP_GAP_MS_MAX,
        ),
    )


def _what(identity: Identity, taste: Taste) -> tuple[Fact, ...]:
    strange = identity.reset_cause in ("watchdog", "firmware error")
    inspection = "with a white inspection bank" if identity.has_inspection else "no inspection bank"
    return (
        Fact("Serial number", identity.unique_id, "Of its microcontroller; no two are alike."),
        Fact("Firmware", f"{identity.firmware}, register table {identity.map_version}", "The program on the board."),
        Fact("Fitted with", f"{identity.zone_count} zones, {identity.bank_count} bank sensors, {inspection}", ""),
        Fact("Starts", f"{identity.boot_count}", "Since its firmware was installed."),
        Fact(
            "Last start",
            identity.reset_cause,
            "It was reset because its program hung or failed: tell the makers what happened before."
            if strange
            else "Why it last started.",
            strange,
        ),
        Fact(
            "Ceilings",
            f"air {w.temp(identity.air_ceiling_c, taste)}, banks {w.temp(identity.bank_ceiling_c, taste)},"
            f" light {identity.lit_ceiling_s / 3600:g} h",
            "Compiled into the board: no program may set a limit above them.",
        ),
    )


def _signed(done: Commissioning, at: datetime, taste: Taste) -> tuple[Fact, ...]:
    return (
        Fact("Who", done.by, ""),
        Fact("When", w.clock_text(at, at, taste) + f", {at.day} {at:%B %Y}", ""),
        Fact("Firmware", f"{done.firmware}, register table {done.map_version}", "As it was then."),
        Fact("Chamber", done.chamber or "not named", ""),
        Fact("Notes", done.notes or "none", ""),
    )


def _step(step: StepResult) -> StepRow:
    return StepRow(step.outcome, step.title, step.text, step.outcome == "passed")
