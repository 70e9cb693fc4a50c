"""The promises of the design's section 5, one check each, with its bound beside it.

Each takes a finished run and gives sentences for what was broken; `figures` are the worst values seen, kept or not.
Times are virtual seconds. Truth is what the simulated lamps did and what the sensors handed to the firmware.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterator
from itertools import pairwise

from lampboard import registers as reg
from lampwarden.domain.program import Program
from lampwarden.engine import Session, apply, fact_from_data, planned
from lampwarden.engine.holds import REMINDERS_S
from lampwarden.keeper.keeper import DISK_S_MAX, FLUSH_S, HEARTBEAT_TIMEOUT_S, PERIOD_S
from lampwarden.store.records import SavedLine

from . import line
from .faults import DELAY_S_MAX, LAPSE_S, TABLE, WATCHDOG_S, Strike
from .stage import Run, Shown
from .witness import EVER_S, Lit, Span, gaps, longest_lit

BOARD_S = 0.25
"""The board is dark this long after a condition became visible to it (design, section 3)."""
PASS_S = 0.1
"""Between two passes of the firmware in the rig, at most."""
HOST_S = 0.05
"""The host's order to go dark takes effect at once: a frame's way and a pass of the firmware."""
SENSE_S = 0.55
"""Between two readings of a sensor, and the conversion."""
AIR_LOST_S, BANK_LOST_S, FROZEN_S = 3.0, 1.0, 120.0
"""Times and steps of the guard, restated here on purpose: a guard that forgets one must not take the check with it."""
AIR_RISE_K, BANK_RISE_K, RISE_S = 5.0, 20.0, 30.0
EXPOSURE_OVER_S = PERIOD_S + HEARTBEAT_TIMEOUT_S
"""Promise 3, level-weighted by at most 1, s."""
EXPOSURE_OFF_S = 1.0
"""Promise 4, per interruption, s."""
BEAT_S = PERIOD_S + 0.1
"""Promise 8: between two heartbeats of a host that is neither stalled nor dead, on a line that works, s."""

Figures = dict[str, float]
Check = Callable[[Run, Figures], Iterator[str]]


def check(run: Run) -> tuple[list[str], Figures]:
    """Everything that a run broke, and its worst figures."""
    figures: Figures = {}
    wrong = [f"{name}: {sentence}" for name, checker in CHECKERS.items() for sentence in checker(run, figures)]
    return wrong, figures


# --- promise 1 --------------------------------------------------------------------------------------------------------
def dark_unless_journalled(run: Run, figures: Figures) -> Iterator[str]:
    """No treatment lamp at a level that the journal does not ask for: not running, in a hold, after the end.

    Bound: HOST_S after the journal's moment; more only where the fault table says why (its `late_s`).
    """
    asked = _asked_levels(run)
    beyond = []
    for lit in run.witness.lit():
        if lit.zone < 0:
            continue
        allowed = _covered(asked[lit.zone], lit) if lit.zone < len(asked) else lit.from_s
        late_s = lit.to_s - allowed
        if late_s <= 0:
            continue
        slack_s = _host_late_s(run, allowed)
        if slack_s == HOST_S:
            _worst(figures, "lit after the host's order, s", late_s)
        else:
            _worst(figures, "lit after the host's order, line or host troubled, s", late_s)
        if late_s > slack_s:
            beyond.append((allowed, late_s, slack_s, lit))
    for allowed, late_s, slack_s, lit in beyond[:3]:
        yield (
            f"zone {lit.zone + 1} lit at {lit.permille} permille until {lit.to_s:.3f} s, {late_s:.3f} s after the"
            f" journal allowed it ({allowed:.3f} s); bound {slack_s:.2f} s"
        )


def _asked_levels(run: Run) -> list[list[tuple[float, float, int]]]:
    """Per zone: from, to, permille that the journal asks for. A host that died asks until its board's timeout."""
    zones = len(run.case.chamber.zones)
    changes: list[tuple[float, tuple[int, ...]]] = [(0.0, (0,) * zones)]
    for entry in run.lines:
        if entry.kind == "levels_set":
            changes.append((run.line_s(entry), tuple(round(1000 * level) for level in entry.data["levels"])))
        elif entry.kind in ("ending", "ended"):
            changes.append((run.line_s(entry), (0,) * zones))
    for died_s, _ in run.deaths():
        at = max((n for n, (t, _) in enumerate(changes) if t <= died_s), default=0)
        changes.insert(at + 1, (died_s, (0,) * zones))
    changes.sort(key=lambda change: change[0])
    found: list[list[tuple[float, float, int]]] = [[] for _ in range(zones)]
    for (from_s, levels), (to_s, _) in pairwise([*changes, (EVER_S, ())]):
        for zone, permille in enumerate(levels):
            if permille:
                found[zone].append((from_s, to_s, permille))
    return found


def _covered(asked: list[tuple[float, float, int]], lit: Lit) -> float:
    """Up to when this light is what was asked for, s; its own start if never."""
    at_s = lit.from_s + 1e-6
    for from_s, to_s, permille in asked:
        if from_s <= at_s <= to_s and permille == lit.permille:
            at_s = to_s
    return min(at_s, lit.to_s) if at_s > lit.from_s + 1e-6 else lit.from_s


def _host_late_s(run: Run, at_s: float) -> float:
    """How late the host's order of this moment may take effect, by the fault table."""
    slack_s = HOST_S
    for began_s, strike in run.struck:
        fault = TABLE[strike.name]
        end_s = max(strike.end_s, began_s) if strike.lasts_s else began_s
        # What was lost while it lasted is mended by the next exchanges, each with a rest after trouble.
        if fault.late_s and began_s - 0.2 <= at_s <= end_s + fault.late_s + 2 * PERIOD_S:
            slack_s = max(slack_s, fault.late_s)
    for from_s, to_s in [*run.stalls, *run.deaths()]:
        if from_s - 0.2 <= at_s <= to_s + LAPSE_S:
            slack_s = max(slack_s, LAPSE_S)
    if slack_s > HOST_S:  # and while it is not yet dark, the next trouble may come
        for began_s, strike in run.struck:
            if at_s < began_s <= at_s + slack_s and TABLE[strike.name].late_s:
                slack_s = max(slack_s, began_s - at_s + TABLE[strike.name].late_s)
    return slack_s


def board_keeps_dark(run: Run, figures: Figures) -> Iterator[str]:
    """Dark by the board alone, whatever the host does: 250 ms after the condition became visible.

    While the firmware hangs nothing is visible to it: then its watchdog's time counts.
    """
    lits = run.witness.lit()
    hangs = [began_s for began_s, strike in run.struck if strike.name == "board_hang"]
    for what, spans in _conditions(run).items():
        grouped: dict[float, list[Span]] = {}
        for start_s, end_s in spans:
            hung = any(began_s <= start_s + BOARD_S <= began_s + WATCHDOG_S for began_s in hangs)
            grouped.setdefault(WATCHDOG_S if hung else BOARD_S, []).append((start_s, end_s))
        for slack_s, group in grouped.items():
            worst_s, beyond_s, where = longest_lit(lits, group, slack_s)
            if slack_s == BOARD_S:
                _worst(figures, f"lit after: {what}, s", worst_s)
            if where is not None:
                yield f"{what}: lit {beyond_s:.3f} s after {where[0]:.3f} s; bound {slack_s:.2f} s"


def _conditions(run: Run) -> dict[str, list[Span]]:
    """When it must be dark, by why."""
    seen, end_s = run.witness, run.end_s
    limits, boots = run.case.program.limits, _boots(run)  # no change of the plan may touch the hard ones
    firsts = [next((t for t, _ in seen.air.good if t >= boot_s), boot_s) for boot_s in boots]
    found = {
        "door open": seen.spans("door"),
        "stop button down": seen.spans("stop"),
        "heartbeat lapsed": gaps([0.0, *seen.beats_s()], HEARTBEAT_TIMEOUT_S, end_s),
        "trip stands": [(trip.from_s, trip.to_s) for trip in seen.trips],
        "air over its limit": _over(seen.air.good, limits.air_hard_c),
        "air sensor lost": gaps([0.0, *(t for t, _ in seen.air.good)], AIR_LOST_S, end_s),
        # A board that was reset knows no older reading; it is dark until armed anew.
        "air sensor frozen": gaps(sorted([*firsts, *(t for t, _ in seen.air.raw)]), FROZEN_S, end_s),
        "air rising": _rising(seen.air.good, AIR_RISE_K, boots),
        "before arming": _unarmed(run),
    }
    for number, bank in enumerate(seen.banks, start=1):
        found[f"bank {number} over its limit"] = _over(bank.good, limits.bank_hard_c)
        found[f"bank {number} sensor lost"] = gaps([0.0, *(t for t, _ in bank.good)], BANK_LOST_S, end_s)
        found[f"bank {number} rising"] = _rising(bank.good, BANK_RISE_K, boots)
    return found


def _over(good: list[tuple[float, int]], limit_c: float) -> list[Span]:
    """From a good reading above the limit to the next good one that is not."""
    found: list[Span] = []
    start_s = None
    for at_s, temp_centi_c in good:
        over = temp_centi_c > round(limit_c * 100)
        if over and start_s is None:
            start_s = at_s
        elif not over and start_s is not None:
            found.append((start_s, at_s))
            start_s = None
    return found + ([(start_s, EVER_S)] if start_s is not None else [])


def _rising(good: list[tuple[float, int]], rise_k: float, boots: list[float]) -> list[Span]:
    """From a reading that far above one of the last 30 s of this boot, until the next reading."""
    found, first = [], 0
    for n, (at_s, temp_centi_c) in enumerate(good):
        booted_s = boots[bisect_right(boots, at_s) - 1]
        while good[first][0] < max(at_s - RISE_S, booted_s):
            first += 1
        # Cheap before exact: most stretches of readings do not rise at all.
        if temp_centi_c - good[first][1] <= rise_k * 50 and temp_centi_c - good[max(first, n - 15)][1] <= rise_k * 50:
            continue
        if temp_centi_c - min(t for _, t in good[first : n + 1]) > rise_k * 100:
            found.append((at_s, good[n + 1][0] if n + 1 < len(good) else EVER_S))
    return found


def _unarmed(run: Run) -> list[Span]:
    """From each boot to the first whole frame that arms."""
    arms = sorted(at_s for at_s, registers in run.witness.writes if registers.get(line.ARM) == 1)
    found = []
    for boot_s, next_s in pairwise([*_boots(run), EVER_S]):
        armed_s = next((at_s for at_s in arms if boot_s <= at_s <= next_s), next_s)
        # The span counts from before the boot's end: no lamp may be on at all, so nothing is forgiven.
        found.append((boot_s - BOARD_S, armed_s - HOST_S))
    return found


def lit_ceiling_holds(run: Run, figures: Figures) -> Iterator[str]:
    """No zone lit longer than the board's ceiling since it was armed. Bound: 250 ms and a booking of 200 ms."""
    arms = [0.0, *sorted(at_s for at_s, registers in run.witness.writes if line.ARM in registers)]
    burnt: dict[tuple[int, int], float] = {}
    for lit in run.witness.lit():
        if lit.zone >= 0:
            key = (lit.zone, bisect_right(arms, lit.from_s))
            burnt[key] = burnt.get(key, 0.0) + lit.to_s - lit.from_s
    for (zone, _), burnt_s in burnt.items():
        over_s = burnt_s - run.case.design.lit_ceiling_s
        _worst(figures, "lit over the board's ceiling, s", over_s)
        if over_s > BOARD_S + 0.2 + (WATCHDOG_S if _struck(run, "board_hang") else 0.0):
            yield f"zone {zone + 1} lit {burnt_s:.3f} s since armed; ceiling {run.case.design.lit_ceiling_s} s"


def host_death_is_dark(run: Run, figures: Figures) -> Iterator[str]:
    """Dark by the heartbeat timeout after the host died; what was still on the line may arrive first."""
    for died_s, back_s in run.deaths():
        last_s = max((t for t in run.witness.beats_s() if t <= back_s), default=died_s)
        for lit in run.witness.lit():
            if lit.from_s < back_s and lit.to_s > died_s:
                late_s = min(lit.to_s, back_s) - died_s
                if not any(died_s <= t <= back_s for t in run.second_master.lit_s):
                    _worst(figures, "lit after the host died, s", late_s)
                bound_s = max(0.0, last_s - died_s) + HEARTBEAT_TIMEOUT_S + BOARD_S
                if late_s > bound_s:
                    yield f"lit {late_s:.3f} s after the host died at {died_s:.3f} s; bound {bound_s:.2f} s"


# --- promise 2 --------------------------------------------------------------------------------------------------------
def board_gives_nothing_away(run: Run, figures: Figures) -> Iterator[str]:
    """No limit above its ceiling, no illegal write obeyed, no trip gone without the word that clears it."""
    if run.witness.limits_loose:
        yield "a limit stood above the board's ceiling"
    yield from run.second_master.wrong[:3]
    clears = [(at_s, registers[line.CLEAR]) for at_s, registers in run.witness.writes if line.CLEAR in registers]
    for trip in run.witness.trips:
        if trip.cleared and not any(
            trip.from_s <= at_s <= trip.to_s + PASS_S and cause == trip.cause for at_s, cause in clears
        ):
            yield f"the trip '{reg.TRIPS[trip.cause]}' of {trip.from_s:.3f} s was gone at {trip.to_s:.3f} s"


def person_clears_trips(run: Run, figures: Figures) -> Iterator[str]:
    """A session whose board tripped goes on only after a person said so."""
    asked: float | None = None
    for entry in run.lines:
        if entry.kind == "trip_clear_asked":
            asked = entry.run_s
        elif entry.kind in ("hold_began", "hold_waits") and entry.data["reason"] == "trip":
            asked = None
        elif entry.kind == "hold_ended" and entry.data["reason"] == "trip" and asked is None:
            yield f"hold for a trip lifted at run time {entry.run_s:.3f} s without a person's word"


# --- promises 3 and 4 -------------------------------------------------------------------------------------------------
def exposure_not_over(run: Run, figures: Figures) -> Iterator[str]:
    """No zone over its programmed exposure by more than one period and one heartbeat timeout.

    Light that a reset of the board made unreadable adds what promise 4 allows per interruption.
    """
    if run.began_s is None:
        return
    allowed = _allowed_light_s(run)
    for zone, about in enumerate(run.case.chamber.zones):
        true_s = run.witness.world.truth.lit_s(zone) - run.began_lit_s[zone]
        over_s = true_s - allowed[zone]
        kind = "over the programmed exposure, s" + (" (board and host lost power)" if _both_lost(run) else "")
        _worst(figures, kind, over_s)
        bound_s = EXPOSURE_OVER_S + _foreign_light_s(run, zone) + _unread_allowed_s(run)
        if over_s > bound_s:
            yield f"zone {about.name} got {true_s:.3f} s, {over_s:.3f} s more than programmed; bound {bound_s:.1f} s"


def _allowed_light_s(run: Run) -> list[float]:
    """Per zone: the light of the plan; where a plan was shortened below what had fallen, that."""
    chamber = run.case.chamber
    allowed = list(run.case.program.planned_lit_s(chamber))
    for entry in run.lines:
        if entry.kind == "plan_changed":
            planned_s = Program.model_validate(entry.data["program"]).planned_lit_s(chamber)
            at_s = run.line_s(entry)
            had_s = [_light_until(run, zone, at_s) for zone in range(len(allowed))]
            allowed = [max(new, had) for new, had in zip(planned_s, had_s, strict=True)]
    return allowed


def _light_until(run: Run, zone: int, at_s: float) -> float:
    total = sum(
        lit.permille / 1000 * (min(lit.to_s, at_s) - lit.from_s)
        for lit in run.witness.lit()
        if lit.zone == zone and lit.from_s < at_s
    )
    return total - run.began_lit_s[zone]


def _foreign_light_s(run: Run, zone: int) -> float:
    """Light that a second master asked for: at most until the next turn, each time."""
    return len(run.second_master.lit_s) * (PERIOD_S + HOST_S) + 1e-6


def recorded_is_true(run: Run, figures: Figures) -> Iterator[str]:
    """Recorded exposure off from true by at most 1 s per interruption; never light counted in the dark.

    Interruptions: resets of the board and deaths of the host. When the board's counters go while nobody reads them
    (the host is dead, stalled, or the line is down) up to a heartbeat timeout of light is known to nobody. An end is
    none: it waits for a last reading, and says so if none came.
    """
    if run.began_s is None or not run.recorded_lit_s:
        return
    for zone, about in enumerate(run.case.chamber.zones):
        true_s = run.witness.world.truth.lit_s(zone) - run.began_lit_s[zone]
        off_s = run.recorded_lit_s[zone] - true_s
        kind = _interruption_kind(run)
        _worst(figures, f"recorded less than true ({kind}), s", -off_s)
        _worst(figures, f"recorded more than true ({kind}), s", off_s)
        low_s, high_s = -_unread_allowed_s(run) - 0.05, _interrupted_s(run) + _dark_hangs_s(run) + 0.05
        if not low_s <= off_s <= high_s:
            yield f"zone {about.name}: recorded {off_s:+.3f} s against the truth; bound {low_s:.2f}..{high_s:.2f} s"


def _session_boots(run: Run) -> list[float]:
    """Resets of the board within the session: when its lamps went out for it."""
    boot_s = run.case.design.boot_ms / 1000
    end_s = _ended_s(run)
    return [
        t - boot_s
        for t in _boots(run)
        if run.began_s is not None and run.began_s <= t and t - boot_s <= end_s + PERIOD_S
    ]


def _ended_s(run: Run) -> float:
    return next((run.line_s(entry) for entry in run.lines if entry.kind == "ended"), run.end_s)


def _unread(run: Run, at_s: float) -> bool:
    """The board may have been lit unread for more than a period when it was reset at this time."""
    near_s = LAPSE_S + PERIOD_S
    if any(from_s - 0.2 <= at_s <= to_s + near_s for from_s, to_s in [*run.stalls, *run.deaths()]):
        return True
    return any(
        TABLE[strike.name].late_s > 0
        and TABLE[strike.name].room in ("wire", "board")
        and began_s - near_s <= at_s <= max(strike.end_s, began_s) + near_s
        and strike.name not in ("board_reset", "board_crash")
        for began_s, strike in run.struck
    )


def _both_lost(run: Run) -> bool:
    """The board was reset after the host had died, or with it, and before the host was back."""
    return any(
        died_s - 0.2 <= boot_s <= back_s + run.case.design.boot_ms / 1000
        for died_s, back_s in run.deaths()
        for boot_s in _session_boots(run)
    )


def _interrupted_s(run: Run) -> float:
    return EXPOSURE_OFF_S * (len(_session_boots(run)) + len(run.deaths()))


def _unread_allowed_s(run: Run) -> float:
    unread = sum(_unread(run, boot_s) for boot_s in _session_boots(run)) + _ended_lost(run)
    lapse_s = LAPSE_S + (DELAY_S_MAX if _struck(run, "wire_delays") else 0.0)
    return _interrupted_s(run) + lapse_s * unread + (lapse_s + DISK_S_MAX) * _unsaved(run)


def _unsaved(run: Run) -> int:
    """Times that light was read while the disk took nothing, and then board and host lost it, one after the other."""
    return sum(
        TABLE[strike.name].room == "disk"
        and began_s <= died_s <= _over_s(run, strike) + DISK_S_MAX
        and any(began_s - FLUSH_S <= boot_s <= back_s for boot_s in _session_boots(run))
        for began_s, strike in run.struck
        for died_s, back_s in run.deaths()
    )


def _ended_lost(run: Run) -> bool:
    """The session ended while nobody could read the board, and says so."""
    return bool(run.outcome) and "could not be read" in run.lines[-1].text


def _dark_hangs_s(run: Run) -> float:
    """A board that was dark when it hung forgets it: for all the host knows it was lit until its watchdog."""
    lits = run.witness.lit()
    hangs_s = [began_s for began_s, strike in run.struck if strike.name == "board_hang"]
    return WATCHDOG_S * sum(not any(lit.from_s <= at_s < lit.to_s for lit in lits) for at_s in hangs_s)


def _interruption_kind(run: Run) -> str:
    boots = _session_boots(run)
    if _both_lost(run):
        return "board and host lost power"
    if any(_unread(run, boot_s) for boot_s in boots):
        return "board reset unread"
    if _ended_lost(run):
        return "ended while the board was lost"
    if boots:
        return "board reset"
    if run.deaths():
        return "host died"
    return "other"


# --- promise 5 --------------------------------------------------------------------------------------------------------
def shown_is_kept(run: Run, figures: Figures) -> Iterator[str]:
    """What the person saw before a death is in the file after it; so is every order that was acknowledged."""
    for shown in run.shown:
        if not _is_kept(run, shown):
            yield f"what was shown of {shown.session_id} ({shown.session.phase.value}) is not in the file after a death"
    for shown in [*run.shown, Shown(run.session, run.session_id or "", [], _taken(run), run.lines)]:
        texts = [f"{entry.text} {entry.data}" for entry in shown.lines]
        for kind, mark in shown.taken:
            if kind in ("clear trip", "start") or any(mark in text for text in texts):
                continue
            if kind in ("hold", "stop") and any(e.kind == "hold_began" and e.data["reason"] == "operator"
                                                for e in shown.lines):  # fmt: skip
                continue  # it was held by a person already
            yield f"order '{kind}' ({mark}) was acknowledged, but is not in the file"
    texts = [entry.text for entry in run.lines]
    for shown in run.shown:
        if shown.session_id == run.session_id and [entry.text for entry in shown.lines] != texts[: len(shown.lines)]:
            yield "journal lines changed after a death"


def _taken(run: Run) -> list[tuple[str, str]]:
    return [(order.kind, order.mark) for order in run.person.orders if order.taken]


def _is_kept(run: Run, shown: Shown) -> bool:
    """True if the session shown is the fold of the first so many lines that are in the file."""
    session = planned(run.case.program, run.case.chamber)
    wanted = _key(shown.session)
    if _key(session) == wanted:
        return True
    for entry in shown.lines:
        session = apply(session, fact_from_data(entry.kind, entry.data))
        if _key(session) == wanted:
            return True
    return False


def _key(session: Session) -> tuple[object, ...]:
    """All of a session that its journal alone says: everything but what Progress states every second."""
    return (
        session.phase, session.holds, session.exposure, session.exposure_from_lit_s, session.checkpoints_passed,
        session.waiting, session.levels, session.coolings_s, session.reboots_s, session.ending, session.outcome,
        session.cause, session.program,
    )  # fmt: skip


def fold_is_live(run: Run, figures: Figures) -> Iterator[str]:
    """The session folded from the file equals the one that was live; the file's row tells the same end."""
    if run.session is None or run.replayed is None:
        return
    if _key(run.replayed) != _key(run.session):
        yield "the session folded from the file differs from the one that was shown last"
    if run.outcome != run.session.outcome:
        yield f"the file says '{run.outcome}', the session '{run.session.outcome}'"


def orders_are_answered(run: Run, figures: Figures) -> Iterator[str]:
    """Every order got an answer that is meant for people; none hangs when all is over."""
    yield from run.person.check()
    last_s = run.lives[-1].born_s
    for order in run.person.orders:
        if order.at_s > last_s and not order.done.done():
            yield f"order '{order.kind}' of {order.at_s:.3f} s was never answered"


# --- promise 7 --------------------------------------------------------------------------------------------------------
def checkpoints_are_prompted(run: Run, figures: Figures) -> Iterator[str]:
    """No checkpoint passes without a call, save by a person; none is skipped; light never runs ahead of one."""
    opened: str | None = None
    called: list[SavedLine] = []
    passed = 0
    program = run.case.program
    for entry in run.lines:
        if entry.kind == "plan_changed":
            program = Program.model_validate(entry.data["program"])
        elif entry.kind == "checkpoint_reached":
            opened, called = entry.data["checkpoint"], []
            due = program.checkpoints[passed]
            if opened != due.name:
                yield f"checkpoint '{opened}' was reached, '{due.name}' was due"
            early_s = due.at_s - entry.data["session_s"]
            if early_s > 0.1:
                yield f"checkpoint '{opened}' was reached {early_s:.3f} s too early"
        elif entry.kind == "person_called":
            if entry.data["checkpoint"] != opened:
                yield f"called to '{entry.data['checkpoint']}' while '{opened}' is open"
            if called and entry.data["urgency"] <= called[-1].data["urgency"]:
                yield f"reminder for '{opened}' with no more urgency than the one before"
            called.append(entry)
        elif entry.kind == "checkpoint_answered":
            if opened is None or entry.data["checkpoint"] != opened:
                yield f"checkpoint '{entry.data['checkpoint']}' was answered while '{opened}' is open"
            if not called and entry.data["by"] == "the program":
                yield f"checkpoint '{opened}' passed by itself without a call"
            if called:
                yield from _reminded(run, entry, called)
            opened, passed = None, passed + 1
        elif entry.kind == "levels_set" and any(entry.data["levels"]) and opened is not None:
            yield f"light asked at run time {entry.run_s:.3f} s while checkpoint '{opened}' is open"
    if run.outcome == "completed" and passed != len(program.checkpoints):
        yield f"completed with {passed} of {len(program.checkpoints)} checkpoints"


def _reminded(run: Run, answered: SavedLine, called: list[SavedLine]) -> Iterator[str]:
    """Every reminder that fell due came, unless the host was down or stalled at the time."""
    checkpoint = next((c for c in run.case.program.checkpoints if c.name == answered.data["checkpoint"]), None)
    if checkpoint is None or not checkpoint.attended or run.deaths() or run.stalls:
        return
    waited_s = answered.run_s - called[0].run_s
    due = sum(1 for after_s in REMINDERS_S if waited_s >= after_s + 2 * PERIOD_S)
    if len(called) - 1 < due:
        yield f"'{checkpoint.name}' waited {waited_s:.0f} s with {len(called) - 1} reminders; {due} were due"


# --- promise 8 --------------------------------------------------------------------------------------------------------
def heartbeat_is_steady(run: Run, figures: Figures) -> Iterator[str]:
    """The keeper beats every period, whatever disk, person and clock do."""
    disturbed = [*run.stalls, *run.deaths(), *_line_troubles(run)]
    for before_s, after_s in pairwise(run.asks_s):
        if any(from_s - 0.01 <= after_s and before_s <= to_s + 0.01 for from_s, to_s in disturbed):
            continue
        _worst(figures, "between two heartbeats, s", after_s - before_s)
        if after_s - before_s > BEAT_S:
            yield f"no heartbeat from {before_s:.3f} s for {after_s - before_s:.3f} s; bound {BEAT_S:.1f} s"


def _line_troubles(run: Run) -> list[Span]:
    """When the line or the board did not answer, and the turns after it."""
    found = []
    for began_s, strike in run.struck:
        fault = TABLE[strike.name]
        if fault.room in ("wire", "board", "power") or fault.late_s:
            found.append((began_s - 0.01, max(strike.end_s, began_s) + 3 * PERIOD_S + run.case.design.boot_ms / 1000))
            if strike.name == "board_hang":
                found.append((began_s, began_s + WATCHDOG_S + 3 * PERIOD_S + run.case.design.boot_ms / 1000))
    return found


# --- reactions, and phase two -----------------------------------------------------------------------------------------
def faults_are_met(run: Run, figures: Figures) -> Iterator[str]:
    """The board latches the trip that the fault table names, in the time it names."""
    down_s = run.case.design.boot_ms / 1000 + 5.0  # the guard lets sensors be silent this long after a boot
    for began_s, strike in run.struck:
        fault, end_s, due_s = TABLE[strike.name], _over_s(run, strike), began_s + TABLE[strike.name].trips_after_s
        if not fault.trips or end_s < due_s or _board_away(run, began_s - down_s, due_s, down_s):
            continue
        others = [
            other
            for at_s, other in run.struck
            if other is not strike and at_s < due_s and began_s - 2 < _over_s(run, other)
        ]
        if any(TABLE[other.name].room == fault.room for other in others):
            continue  # one of the same kind may mend what the other broke
        standing = [trip for trip in run.witness.trips if trip.from_s <= due_s and trip.to_s > began_s]
        if not standing:
            yield f"{strike.name} from {began_s:.3f} s on: no trip by {due_s:.3f} s"
        elif any(TABLE[other.name].trips or TABLE[other.name].room == "heat" for other in others):
            continue  # another cause may have come first
        elif all(
            trip.from_s >= began_s and trip.cause not in (*fault.trips, reg.TRIP_LIT_TOO_LONG) for trip in standing
        ):
            yield f"{strike.name}: tripped as '{reg.TRIPS[standing[0].cause]}'"


def _over_s(run: Run, strike: Strike) -> float:
    """When a strike was over."""
    return min(max(strike.at_s, strike.end_s), run.case.calm_s, run.end_s)


def _board_away(run: Run, from_s: float, to_s: float, down_s: float) -> bool:
    """The board was reset, hung, booting or without power somewhere in this time."""
    unpowered = [(t, _over_s(run, strike)) for t, strike in run.struck if strike.name == "usb_pulled"]
    if any(off_s <= to_s and from_s <= on_s for off_s, on_s in unpowered):
        return True
    return any(from_s <= boot_s <= to_s + down_s for boot_s in _boots(run)) or _hung(run, from_s, to_s)


def hard_limits_latch(run: Run, figures: Figures) -> Iterator[str]:
    """A reading above the limit of an armed board latches a trip in that very pass."""
    arms = sorted(at_s for at_s, registers in run.witness.writes if registers.get(line.ARM) == 1)
    for what, spans in _conditions(run).items():
        if "over its limit" not in what:
            continue
        for start_s, _ in spans:
            boot_s = max(t for t in _boots(run) if t <= start_s)
            if not any(boot_s < at_s < start_s for at_s in arms):
                continue  # until then the ceilings hold
            if not any(trip.from_s <= start_s + BOARD_S and trip.to_s > start_s for trip in run.witness.trips):
                yield f"{what} at {start_s:.3f} s: no trip"


def heat_holds(run: Run, figures: Figures) -> Iterator[str]:
    """Readings above a soft limit for two periods hold a running session to cool; too many such holds end it."""
    if run.began_s is None:
        return
    calm = [*run.stalls, *run.deaths(), *_line_troubles(run)]
    limits = run.case.program.limits
    if any(entry.kind == "plan_changed" for entry in run.lines):
        return
    soft_c = [("air", run.witness.air, limits.air_soft_c)]
    soft_c += [(f"bank {n}", bank, limits.bank_soft_c) for n, bank in enumerate(run.witness.banks, start=1)]
    for what, seen, limit_c in soft_c:
        for start_s, end_s in _over(seen.good, limit_c):
            late_s = start_s + 2 * PERIOD_S + SENSE_S
            if not run.began_s < start_s or min(end_s, _ended_s(run)) < late_s:
                continue
            if any(from_s - LAPSE_S <= start_s <= to_s + LAPSE_S for from_s, to_s in calm) or any(
                _held(run, reason, t) for reason in ("cooling", "sensor") for t in (start_s, late_s)
            ):
                continue
            yield f"{what} above its soft limit from {start_s:.3f} s on, and no pause to cool"
    pauses: list[float] = []
    standing: set[str] = set()
    for entry in run.lines:
        if entry.kind == "hold_ended":
            standing.discard(entry.data["reason"])
        elif entry.kind == "hold_began":
            if entry.data["reason"] == "cooling" and not standing:
                pauses = [t for t in pauses if entry.run_s - t < 3600] + [entry.run_s]
            standing.add(entry.data["reason"])
            if len(pauses) > run.case.program.rules.coolings_per_hour_max and run.outcome != "cut off":
                yield f"{len(pauses)} pauses to cool within an hour, and the session goes on"
                return


def sensors_hold(run: Run, figures: Figures) -> Iterator[str]:
    """A bank without a reading holds the session, whatever the board does."""
    if run.began_s is None:
        return
    calm = [*run.stalls, *run.deaths(), *_line_troubles(run)]
    for began_s, strike in run.struck:
        late_s = began_s + 2 * PERIOD_S + SENSE_S
        if strike.name not in ("ntc_open", "ntc_short") or min(_over_s(run, strike), _ended_s(run)) < late_s:
            continue
        others = [s for _, s in run.struck if s is not strike and s.name.startswith("ntc")]
        disturbed = any(from_s - LAPSE_S <= late_s and began_s <= to_s + LAPSE_S for from_s, to_s in calm)
        if run.began_s < began_s and not others and not disturbed and not _held(run, "sensor", late_s):
            yield f"{strike.name} from {began_s:.3f} s on, and the session was not held"


def storage_holds(run: Run, figures: Figures) -> Iterator[str]:
    """A disk that takes nothing holds the session once a commit was due, and the heartbeat goes on."""
    if run.began_s is None:
        return
    # Without readings nothing waits for the disk; a hold that a dying host could not save is lost with it.
    calm = [*run.stalls, *run.deaths(), *_line_troubles(run)]
    for began_s, strike in run.struck:
        late_s = max(began_s, run.began_s) + FLUSH_S + 2.5 * PERIOD_S
        if (
            strike.name not in ("disk_read_only", "database_locked")
            or min(_over_s(run, strike), _ended_s(run)) < late_s
        ):
            continue
        if any(from_s - LAPSE_S <= _over_s(run, strike) and began_s <= to_s + LAPSE_S for from_s, to_s in calm):
            continue
        others = any(TABLE[other.name].room == "disk" and other is not strike for _, other in run.struck)
        if not others and not _held(run, "storage", late_s):
            yield f"{strike.name} from {began_s:.3f} s on, and the session was not held by {late_s:.3f} s"


def _hung(run: Run, from_s: float, to_s: float) -> bool:
    return any(from_s - WATCHDOG_S <= t <= to_s for t, strike in run.struck if strike.name == "board_hang")


def doors_hold(run: Run, figures: Figures) -> Iterator[str]:
    """An opening that a pass saw holds the session until a person lets it go on, or it was held by others anyway."""
    if run.began_s is None:
        return
    holds = [run.line_s(e) for e in run.lines if e.kind == "hold_began" and e.data["reason"] == "door"]
    calm = [*run.stalls, *run.deaths(), *_line_troubles(run)]
    for open_s, shut_s in run.witness.spans("door"):
        if shut_s - open_s < PASS_S + 0.01 or not run.began_s < open_s < _ended_s(run) - 2 * PERIOD_S:
            continue
        if any(from_s - LAPSE_S <= open_s <= to_s + LAPSE_S for from_s, to_s in calm):
            continue
        if not any(open_s <= at_s <= open_s + PERIOD_S + PASS_S for at_s in holds) and not _held(run, "door", open_s):
            yield f"the door was opened at {open_s:.3f} s for {shut_s - open_s:.3f} s, and the session was not held"


def _held(run: Run, reason: str, at_s: float) -> bool:
    standing = False
    for entry in run.lines:
        if run.line_s(entry) > at_s:
            break
        if entry.kind in ("hold_began", "hold_ended") and entry.data["reason"] == reason:
            standing = entry.kind == "hold_began"
    return standing


def gap_is_honest(run: Run, figures: Figures) -> Iterator[str]:
    """After a gap longer than the program allows, or of unknown length, no light without a person's word.

    The host knows the gap by its wall clock alone: one that went back, but by less than the gap, deceives it.
    """
    rules = run.case.program.rules
    for life in run.lives:
        if life.gap_s is None or life.zero_s is None:
            continue
        lines = [entry for entry in run.lines if entry.seq > life.after_seq]
        restart = next((e for e in lines if e.kind == "hold_began" and e.data["reason"] == "restart"), None)
        if restart is None:
            yield f"adopted at {life.born_s:.3f} s without a hold"
        elif not restart.data["needs_person"] and not (
            rules.after_restart == "continue"
            and life.wall_gap_s is not None
            and 0 <= life.wall_gap_s <= rules.gap_s_max
        ):
            yield (
                f"nobody minded the session for {life.gap_s:.0f} s, the program allows '{rules.after_restart}' up to"
                f" {rules.gap_s_max:.0f} s; it goes on by itself"
            )


def phase_two_ends(run: Run, figures: Figures) -> Iterator[str]:
    """Once nothing goes wrong any more and a person answers everything, the session comes to its end."""
    if run.stuck:
        yield run.stuck
    if run.outcome == "completed":
        planned_s = _allowed_light_s(run)
        for zone, about in enumerate(run.case.chamber.zones):
            under_s = planned_s[zone] - (run.witness.world.truth.lit_s(zone) - run.began_lit_s[zone])
            _worst(figures, "completed with less than programmed, s", under_s)
            if under_s > 0.1 + _interrupted_s(run) + _late_start_s(run):
                yield f"completed, but zone {about.name} got {under_s:.3f} s less than programmed"


def _late_start_s(run: Run) -> float:
    """Light a zone may miss because its order was lost while other zones' light went on."""
    return LAPSE_S * sum(TABLE[strike.name].room in ("wire", "host", "board") for _, strike in run.struck)


def firmware_is_whole(run: Run, figures: Figures) -> Iterator[str]:
    """No exception escapes the firmware but the one that is injected."""
    crashes = _struck(run, "board_crash")
    found = [error for error in run.firmware_errors if not isinstance(error, MemoryError)]
    if found or len(run.firmware_errors) > crashes:
        yield f"the firmware failed: {run.firmware_errors!r}"


# --- small helps ------------------------------------------------------------------------------------------------------
def _boots(run: Run) -> list[float]:
    """When the board's firmware came up."""
    return [change.t_s for change in run.witness.world.truth.changes if change.what == "boot"]


def _struck(run: Run, name: str) -> int:
    return sum(strike.name == name for _, strike in run.struck)


def _worst(figures: Figures, name: str, value: float) -> None:
    figures[name] = max(value, figures.get(name, value))


CHECKERS: dict[str, Check] = {
    "1 dark unless journalled": dark_unless_journalled,
    "1 board keeps dark": board_keeps_dark,
    "1 board's light ceiling": lit_ceiling_holds,
    "1 dark after host death": host_death_is_dark,
    "1 door holds": doors_hold,
    "2 board gives nothing away": board_gives_nothing_away,
    "2 person clears trips": person_clears_trips,
    "3 exposure not over": exposure_not_over,
    "4 recorded is true": recorded_is_true,
    "5 shown is kept": shown_is_kept,
    "5 fold is live": fold_is_live,
    "5 orders are answered": orders_are_answered,
    "6 gap is honest": gap_is_honest,
    "7 checkpoints are prompted": checkpoints_are_prompted,
    "8 heartbeat is steady": heartbeat_is_steady,
    "reaction expected": faults_are_met,
    "hard limits latch": hard_limits_latch,
    "heat holds": heat_holds,
    "sensors hold": sensors_hold,
    "storage holds": storage_holds,
    "phase two ends": phase_two_ends,
    "firmware is whole": firmware_is_whole,
}
