"""The steps of commissioning, in order. Pure: each is a dialogue that returns what it found as a sentence.

The numbers here are this project's own choices (proposals), made from the facts beside them.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from lampboard import registers as reg

from ..domain.chamber import Chamber
from ..domain.units import temp_text
from ..link.board import Demand, Identity, Live
from .dialogue import Dialogue, Identify, Order, Question, Seen, Silence, Stall, Watch

LOW_LEVEL = 0.05
"""Level at which lamps are looked at: a twentieth of the light and heat, and still above the few percent where some LED
drivers stop to glow (common practice)."""
ROOM_C = (5.0, 40.0)
"""A cold chamber in a room that people work in."""
HUMIDITY_PCT = (5.0, 95.0)
BREATH_PCT = 3.0
"""Breath is saturated at 34 °C; even a weak one lifts a sensor in reach by more, and noise stays below 0.5."""
ALIKE_K = 5.0
"""Sensors of a chamber that was dark for a while differ by less: a wrong resistor or thermistor shows."""
WARMED_K = 2.0
"""A finger brings a sensor from room temperature towards 30 °C; noise stays below 0.3 K."""
BELOW_K = 2.0
"""How far below the present temperature a limit is set to provoke a trip."""
HEARTBEAT_S = 3.0
"""Heartbeat timeout that sessions use."""
SILENCE_S = HEARTBEAT_S + 1.5
LATE_S = 0.5
"""Light later than the timeout that is accepted: 0.25 s of the board's promise, and the way of the last heartbeat."""
COUNT_S = 0.5
"""Light that the board must have counted after an answer, however quick: 25 ms at the low level."""
STAYS_S = 2.0
"""How long the host goes on demanding light that must not come."""
SENSE_S = 8.0
"""A board just started gives its sensors 5 s."""
REACT_S = 3.0
BACK_S = 20.0
"""Longest time from a stall until the board answers again: watchdog, boot, and the system finding the port."""
PATIENCE_S = 600.0
"""How long a person may take."""

DARK = Demand(())
YES, NO = ("y", "yes"), ("n", "no")
CAUTION = (
    "EYES: the light of the next steps is where light harms the retina most. Close the door. Never look into a lamp or"
    " its mirror image, not even at this low level: look at white paper in the chamber, through a camera. Everybody in"
    " the room must know."
)


class Fault(Exception):
    """The step failed; the message says what was seen and what to look at."""


class NotDone(Exception):
    """The step could not be done here; the message says why."""


@dataclass(slots=True)
class Bench:
    """What is being commissioned, and what was found so far."""

    firmware: str
    """The version that came with this program."""
    chamber: Chamber | None
    zone_order: tuple[int, ...] = ()
    """Order in which zones are lit, from 0; best a random one, so that an answer cannot be guessed. Else by number."""
    board: Identity | None = None
    """Set by the first step."""
    figures: dict[str, float | int | str | None] = field(default_factory=dict)
    """Numbers of the present step."""

    @property
    def identity(self) -> Identity:
        assert self.board is not None  # the first step has set it
        return self.board

    @property
    def bank_count(self) -> int:
        return self.chamber.bank_count if self.chamber else self.identity.bank_count

    @property
    def zones(self) -> tuple[str, ...]:
        """Names of the zones, for people."""
        if self.chamber:
            return tuple(zone.name for zone in self.chamber.zones)
        return tuple(f"zone {number}" for number in range(1, self.identity.zone_count + 1))

    def only(self, zone: int) -> Demand:
        """Light in one zone (from 0)."""
        return Demand(tuple(LOW_LEVEL if zone == index else 0.0 for index in range(self.identity.zone_count)))


# --- what steps have in common ---------------------------------------------------------------------------------------
def watch(
    bench: Bench,
    timeout_s: float,
    demand: Demand = DARK,
    until: Callable[[Live], bool] | None = None,
    question: Question | None = None,
) -> Dialogue[Seen]:
    """Watches, and fails if the board was restarted meanwhile."""
    seen: Seen = yield Watch(demand, timeout_s, until, question)
    if seen.live.boot_count != bench.identity.boot_count:
        raise Fault("The board restarted by itself. Is its supply steady? It must not do that.")
    return seen


def ask(bench: Bench, text: str, *choices: tuple[str, str], demand: Demand = DARK) -> Dialogue[str]:
    """The key of the person's choice."""
    seen = yield from watch(bench, PATIENCE_S, demand, question=Question(text, choices))
    if seen.answer is None:
        raise NotDone("Nobody answered.")
    return seen.answer


def see(bench: Bench, do: str, until: Callable[[Live], bool], fault: str, demand: Demand = DARK) -> Dialogue[Live]:
    """Asks the person to do something that the board must see; fails if it does not."""
    question = Question(f"{do} (The board notices by itself.)", (("x", "done, and nothing happens"),))
    seen = yield from watch(bench, PATIENCE_S, demand, until, question)
    if seen.happened:
        return seen.live
    raise NotDone("Nobody did it.") if seen.answer is None else Fault(fault)


def door_closed(bench: Bench) -> Dialogue[Live]:
    """Lets the person close the door if it is open."""
    now = yield from watch(bench, 0.0)
    if not now.live.door_open:
        return now.live
    return (
        yield from see(
            bench,
            "Close the door.",
            lambda live: not live.door_open,
            "The door is closed, but the board sees it open. Check the switch, its distance, and its wires.",
        )
    )


def clear(bench: Bench, live: Live) -> Dialogue[None]:
    """Clears the trip that stands, if any."""
    if live.trip_cause:
        refused = yield Order("clear_trip", (live.trip_cause,))
        if refused:
            raise Fault(f"The trip '{live.trip_text}' cannot be cleared. {refused}")


def armed(bench: Bench, zone: int = 0) -> Dialogue[Live]:
    """Door closed, no trip, ceilings as limits, armed, and one zone lit. Returns the first reading with light."""
    live = yield from door_closed(bench)
    board = bench.identity
    refused = yield Order("limits", (board.air_ceiling_c, board.bank_ceiling_c, HEARTBEAT_S))
    yield from clear(bench, live)
    refused = refused or (yield Order("arm"))
    if refused:
        raise Fault(f"The board does not let itself be armed. {refused}")
    return (yield from lit(bench, bench.only(zone)))


def lit(bench: Bench, demand: Demand) -> Dialogue[Live]:
    """The first reading in which the board gives this demand."""
    wanted = (*demand.zone_levels, demand.inspection)
    seen = yield from watch(
        bench, REACT_S, demand, lambda live: all(map(_close, (*live.zone_applied, live.inspection), wanted))
    )
    if not seen.happened:
        raise Fault(
            f"The board does not give the light asked for; it is '{seen.live.board_state}', trip:"
            f" {seen.live.trip_text}, door {'open' if seen.live.door_open else 'closed'}."
        )
    return seen.live


def stays_dark(bench: Bench, before: Live, demand: Demand, why: str) -> Dialogue[Live]:
    """Fails unless the board is dark at `before` and stays so while the host goes on demanding light."""
    seen = yield from watch(bench, STAYS_S, demand, is_lit)
    counted_ms = sum(seen.live.zone_lit_ms) - sum(before.zone_lit_ms)
    bench.figures["lit_after_ms"] = counted_ms
    if is_lit(before) or is_lit(seen.live) or counted_ms:
        raise Fault(f"The board gives light although {why}. Pull the lamps' plug; do not use this board.")
    return seen.live


def is_lit(live: Live) -> bool:
    """Some lamp is lit, as the board says."""
    return any(live.zone_applied) or live.inspection > 0


def _close(given: float, wanted: float) -> bool:
    return abs(given - wanted) < 0.0015  # a level is sent in steps of 0.001


def within(value: float | None, bounds: tuple[float, float]) -> bool:
    """True for a number inside the bounds; None is never inside."""
    return value is not None and bounds[0] <= value <= bounds[1]


def looks_dark(bench: Bench) -> Dialogue[None]:
    """The person's own eyes: is the chamber dark?"""
    answer = yield from ask(bench, "Look at the paper: is the chamber dark?", YES, NO)
    if answer != YES[0]:
        raise Fault(
            "The board says that all lamps are off, but you see light: a lamp's switch or driver has failed, or its"
            " wiring goes around it. Pull the lamps' plug."
        )


# --- the steps, dark -------------------------------------------------------------------------------------------------
def identity(bench: Bench) -> Dialogue[str]:
    board: Identity = yield Identify()
    bench.board = board
    bench.figures |= {
        "zone_count": board.zone_count,
        "bank_count": board.bank_count,
        "air_ceiling_c": board.air_ceiling_c,
        "bank_ceiling_c": board.bank_ceiling_c,
        "lit_ceiling_s": board.lit_ceiling_s,
        "boot_count": board.boot_count,
        "reset_cause": board.reset_cause,
    }
    if board.firmware != bench.firmware:
        raise Fault(
            f"The board runs firmware {board.firmware}, this program came with {bench.firmware}."
            " Run `lampwarden board install`."
        )
    chamber = bench.chamber
    if chamber and (
        board.zone_count < len(chamber.zones)
        or board.bank_count < chamber.bank_count
        or board.has_inspection < chamber.inspection
    ):
        raise Fault(
            f"The chamber is described with {len(chamber.zones)} zones, {chamber.bank_count} banks and"
            f" {'a' if chamber.inspection else 'no'} white bank; the board has {board.zone_count}, {board.bank_count}"
            f" and {'one' if board.has_inspection else 'none'}. Correct the chamber file or the board's."
        )
    text = (
        f"Board {board.unique_id}, firmware {board.firmware}, register table {board.map_version}: {board.zone_count}"
        f" zones, {board.bank_count} bank sensors, {'a' if board.has_inspection else 'no'} white bank; ceilings: air"
        f" {temp_text(board.air_ceiling_c)}, banks {temp_text(board.bank_ceiling_c)},"
        f" {board.lit_ceiling_s / 3600:g} h of light"
    )
    if (yield from ask(bench, f"{text}. Is this what you built?", YES, NO)) != YES[0]:
        raise Fault(f"{text}. You said that this is not what was built: correct the board's file, and install again.")
    return f"{text}."


def air(bench: Bench) -> Dialogue[str]:
    seen = yield from watch(bench, SENSE_S, until=lambda live: live.air_status == "ok" and live.air_temp_c is not None)
    temp_c, humidity = seen.live.air_temp_c, seen.live.humidity_pct
    bench.figures |= {"air_temp_c": temp_c, "humidity_pct": humidity}
    if not seen.happened:
        raise Fault(f"The air sensor says '{seen.live.air_status}'. Check its cable, its address and its supply.")
    shown = f"{temp_text(temp_c)} and {humidity:.0f} % humidity"
    if not within(temp_c, ROOM_C) or not within(humidity, HUMIDITY_PCT):
        raise Fault(f"The air sensor shows {shown}: no air of a room is like that. Replace the sensor.")
    if (yield from ask(bench, f"The air sensor shows {shown}. Is that about what the room has?", YES, NO)) != YES[0]:
        raise Fault(f"The air sensor shows {shown}, and you said that the room is not like that. Replace the sensor.")
    assert humidity is not None
    live = yield from see(
        bench,
        "Breathe on the air sensor.",
        lambda live: live.humidity_pct is not None and live.humidity_pct >= humidity + BREATH_PCT,
        f"The humidity did not rise by {BREATH_PCT:.0f} %. Was it this sensor? Is it covered?",
    )
    bench.figures["humidity_breathed_pct"] = live.humidity_pct
    return f"{shown}; {live.humidity_pct:.0f} % when breathed on."


def banks(bench: Bench) -> Dialogue[str]:
    count = bench.bank_count
    seen = yield from watch(bench, SENSE_S, until=lambda live: all(s == "ok" for s in live.bank_status[:count]))
    temps_c = seen.live.bank_temps_c[:count]
    bench.figures |= {f"bank_{number}_temp_c": temp_c for number, temp_c in enumerate(temps_c, start=1)}
    for number, (status, temp_c) in enumerate(zip(seen.live.bank_status, temps_c, strict=False), start=1):
        if status != "ok" or not within(temp_c, ROOM_C):
            raise Fault(
                f"The sensor of bank {number} says '{status}', {temp_text(temp_c)}. Check its plug for a broken or"
                " shorted wire, and its resistor."
            )
    known = [temp_c for temp_c in (*temps_c, seen.live.air_temp_c) if temp_c is not None]
    if not max(known) - min(known) <= ALIKE_K:
        raise Fault(
            f"The sensors differ by {max(known) - min(known):.1f} K ({', '.join(map(temp_text, temps_c))}; air"
            f" {temp_text(seen.live.air_temp_c)}); a cold chamber stays within {ALIKE_K:.0f} K. Let it cool, or check"
            " thermistors and resistors."
        )
    for bank in range(count):
        yield from _warm(bench, bank)
    return f"{', '.join(map(temp_text, temps_c))}; each rose when warmed, and no other."


def _warm(bench: Bench, bank: int) -> Dialogue[None]:
    """One bank (from 0) is held with a finger; it must be the one that rises, and alone."""
    base = (yield from watch(bench, 0.0)).live.bank_temps_c

    def rises(live: Live) -> list[float]:
        pairs = zip(live.bank_temps_c[: bench.bank_count], base, strict=False)
        return [0.0 if now is None or then is None else now - then for now, then in pairs]

    live = yield from see(
        bench,
        f"Hold the sensor of bank {bank + 1} between two fingers.",
        lambda live: max(rises(live)) >= WARMED_K,
        f"No bank rose by {WARMED_K:.0f} K. Is the thermistor of bank {bank + 1} where you held it?",
    )
    found = rises(live)
    bench.figures[f"bank_{bank + 1}_rise_k"] = round(found[bank], 2)
    warmest = found.index(max(found))
    if warmest != bank:
        raise Fault(
            f"You warmed bank {bank + 1}, but bank {warmest + 1} rose by {found[warmest]:.1f} K: their plugs are"
            " crossed."
        )
    others = [number for number, rise in enumerate(found, start=1) if number != bank + 1 and rise > WARMED_K / 2]
    if others:
        raise Fault(f"With bank {bank + 1} rose bank {others[0]}. Are their wires joined? Warm one sensor at a time.")


def door(bench: Bench) -> Dialogue[str]:
    closed = yield from door_closed(bench)
    yield from see(
        bench,
        "Open the door.",
        lambda live: live.door_open,
        "The door is open, but the board sees it closed. The switch sticks, or its wires are shorted.",
    )
    live = yield from see(
        bench,
        "Close the door.",
        lambda live: not live.door_open,
        "The door is closed, but the board sees it open. Check the switch, its distance, and its wires.",
    )
    counted = (live.door_openings - closed.door_openings) % 65536
    bench.figures["door_openings"] = counted
    return f"Seen open and closed; {counted} {'opening' if counted == 1 else 'openings'} counted."


def stop(bench: Bench) -> Dialogue[str]:
    now = yield from watch(bench, 0.0)
    if not now.live.stop_pressed:
        yield from clear(bench, now.live)
    yield from _press_and_release(bench, DARK)
    return "Pressed: trip. Released: still tripped. Cleared by the host."


def _press_and_release(bench: Bench, demand: Demand) -> Dialogue[Live]:
    """Press, trip, release, still tripped, cleared. Returns the first reading of the trip."""
    pressed = yield from see(
        bench,
        "Press the stop button and leave it down.",
        lambda live: live.stop_pressed,
        "The stop button is down, but the board does not see it. Check the button and its wires.",
        demand,
    )
    if pressed.trip_cause != reg.TRIP_STOP:
        raise Fault(f"The stop button is down, but the board's trip is '{pressed.trip_text}'. Do not use this board.")
    live = yield from see(
        bench,
        "Release the stop button.",
        lambda live: not live.stop_pressed,
        "The stop button is up, but the board sees it down. Check the button and its wires.",
        demand,
    )
    if live.trip_cause != reg.TRIP_STOP:
        raise Fault("The trip vanished when the button came up; it must stay until it is cleared. Do not use it.")
    yield from clear(bench, live)
    return pressed


# --- the steps with light --------------------------------------------------------------------------------------------
def zones(bench: Bench) -> Dialogue[str]:
    if (yield from ask(bench, CAUTION, ("r", "ready, the door is closed"), ("s", "no lamps now"))) != "r":
        raise NotDone("You chose to light no lamps.")
    names = bench.zones
    choices = [(str(number), name) for number, name in enumerate(names, start=1)]
    choices += [("n", "none"), ("m", "more than one, or another"), ("a", "light it again")]
    wrong = []
    for zone in bench.zone_order or range(len(names)):
        yield Order("disarm")
        before = yield from armed(bench, zone)
        question = "One zone glows faintly. Which one is it, by its place on your drawing?"
        while (answer := (yield from ask(bench, question, *choices, demand=bench.only(zone)))) == "a":
            yield from lit(bench, bench.only(zone))
        after = (yield from watch(bench, COUNT_S, bench.only(zone))).live
        counted = [n for n, (a, b) in enumerate(zip(after.zone_lit_ms, before.zone_lit_ms, strict=True)) if a != b]
        bench.figures[f"{names[zone]} seen as"] = dict(choices)[answer]
        if counted != [zone]:
            raise Fault(
                f"{names[zone]} was asked for, but the board counted light in zones {[n + 1 for n in counted]}."
            )
        if answer != str(zone + 1):
            wrong.append(f"{names[zone]} was lit, you saw: {dict(choices)[answer]}.")
    if wrong:
        raise Fault(f"{' '.join(wrong)} Check the plugs of lamps and drivers against the drawing.")
    return f"Each of {len(names)} zones glowed alone and in its place at {100 * LOW_LEVEL:.0f} %."


def white(bench: Bench) -> Dialogue[str]:
    yield from armed(bench)
    demand = Demand((0.0,) * bench.identity.zone_count, inspection=LOW_LEVEL)
    yield from lit(bench, demand)
    if (yield from ask(bench, "Does the white bank glow, and nothing else?", YES, NO, demand=demand)) != YES[0]:
        raise Fault("The white bank was lit, and you did not see it alone. Check its plug and driver.")
    live = yield from _open_door(bench, demand)
    yield from stays_dark(bench, live, demand, "the door is open")
    yield from door_closed(bench)
    return "Glowed alone; dark when the door opened."


def door_lit(bench: Bench) -> Dialogue[str]:
    yield from armed(bench)
    demand = bench.only(0)
    live = yield from _open_door(bench, demand)
    yield from stays_dark(bench, live, demand, "the door is open")
    yield from looks_dark(bench)
    yield from door_closed(bench)
    return "Dark when the door opened, and dark while the host went on asking for light."


def _open_door(bench: Bench, demand: Demand) -> Dialogue[Live]:
    return (
        yield from see(
            bench,
            "A lamp is lit. Open the door a hand's width, your face away from the gap.",
            lambda live: live.door_open,
            "The door is open with a lamp lit, and the board sees it closed. Close it now. Check the switch.",
            demand,
        )
    )


def stop_lit(bench: Bench) -> Dialogue[str]:
    yield from armed(bench)
    pressed = yield from _press_and_release(bench, bench.only(0))
    yield from stays_dark(bench, pressed, bench.only(0), "the stop button was pressed")
    yield from looks_dark(bench)
    return "Dark and tripped when the stop button was pressed; dark until cleared and armed again."


def air_limit(bench: Bench) -> Dialogue[str]:
    return (yield from _limit(bench, "air", reg.TRIP_AIR_OVER, lambda live: live.air_temp_c))


def bank_limit(bench: Bench) -> Dialogue[str]:
    def hottest(live: Live) -> float | None:
        return max((temp_c for temp_c in live.bank_temps_c if temp_c is not None), default=None)

    return (yield from _limit(bench, "bank", reg.TRIP_BANK_OVER, hottest))


def _limit(bench: Bench, what: str, cause: int, temp: Callable[[Live], float | None]) -> Dialogue[str]:
    """Lit, then the limit goes below the present temperature: the board must trip, refuse to arm, and let itself be
    cleared once the limit is back."""
    before = yield from armed(bench)
    temp_c = temp(before)
    if temp_c is None or temp_c < BELOW_K:
        raise NotDone(f"The {what} is {temp_text(temp_c)}: no limit can be set below it.")
    limit_c = round(temp_c - BELOW_K, 1)
    ceilings = (bench.identity.air_ceiling_c, bench.identity.bank_ceiling_c)
    limits = (limit_c, ceilings[1]) if what == "air" else (ceilings[0], limit_c)
    bench.figures |= {f"{what}_temp_c": temp_c, f"{what}_limit_c": limit_c}
    refused = yield Order("limits", (*limits, HEARTBEAT_S))
    if refused:
        raise Fault(f"The board does not take a lower limit. {refused}")
    seen = yield from watch(bench, REACT_S, bench.only(0), lambda live: live.trip_cause != 0)
    bench.figures["trip"] = seen.live.trip_text
    if seen.live.trip_cause != cause:
        raise Fault(
            f"The {what} is {temp_text(temp_c)} and its limit {temp_text(limit_c)}, but the board's trip is"
            f" '{seen.live.trip_text}'. It does not protect; do not use it."
        )
    yield from stays_dark(bench, seen.live, bench.only(0), "it has tripped")
    if (yield Order("arm")) is None:
        raise Fault("The board let itself be armed although a trip stands. Do not use it.")
    yield from looks_dark(bench)
    yield Order("limits", (*ceilings, HEARTBEAT_S))
    yield from clear(bench, seen.live)
    return (
        f"Limit {temp_text(limit_c)} with the {what} at {temp_text(temp_c)}: tripped, dark, arming refused; cleared"
        " when the limit was back."
    )


def heartbeat(bench: Bench) -> Dialogue[str]:
    yield from armed(bench)
    yield from ask(
        bench,
        f"{bench.zones[0]} is lit. The host will be silent for {SILENCE_S:g} s. Watch the paper: it must go dark by"
        " itself.",
        ("r", "ready"),
        demand=bench.only(0),
    )
    yield from lit(bench, bench.only(0))
    # The reading comes right after the last heartbeat, so what the counter shows later fell after it.
    last = (yield from watch(bench, 0.0, bench.only(0))).live
    live: Live = yield Silence(SILENCE_S)
    lit_s = (live.zone_lit_ms[0] - last.zone_lit_ms[0]) % 2**32 / (1000 * LOW_LEVEL)
    bench.figures |= {
        "heartbeat_timeout_s": HEARTBEAT_S,
        "silent_s": round(live.uptime_s - last.uptime_s, 2),
        "lit_after_last_heartbeat_s": round(lit_s, 2),
    }
    if is_lit(live) or not lit_s <= HEARTBEAT_S + LATE_S:
        raise Fault(
            f"Without a heartbeat the lamps stayed lit for {lit_s:.1f} s; {HEARTBEAT_S:g} s are allowed. A host that"
            " dies would leave them burning. Do not use this board."
        )
    if not lit_s >= HEARTBEAT_S / 2:
        raise Fault(f"The lamps went dark after {lit_s:.1f} s already, not by the missing heartbeat. Repeat the step.")
    yield from looks_dark(bench)
    return f"Dark {lit_s:.1f} s after the last heartbeat (timeout {HEARTBEAT_S:g} s)."


def watchdog(bench: Bench) -> Dialogue[str]:
    yield from door_closed(bench)
    name = bench.zones[0]
    answer = yield from ask(
        bench,
        f"The firmware will be stopped while {name} is lit at {100 * LOW_LEVEL:.0f} %; only the watchdog can end that,"
        " after about two seconds. Door closed? Look at the paper.",
        ("r", "ready"),
        ("s", "not now"),
    )
    if answer != "r":
        raise NotDone("You chose not to try it.")
    before = bench.identity
    yield Order("disarm")
    impossible = yield Stall(0, LOW_LEVEL)
    if impossible:
        raise NotDone(impossible)
    board: Identity = yield Identify(BACK_S)
    bench.board = board
    bench.figures |= {"reset_cause": board.reset_cause, "boot_count": board.boot_count}
    live = (yield from watch(bench, 0.0)).live
    if board.reset_cause != "watchdog" or board.boot_count != before.boot_count + 1:
        raise Fault(
            f"After the stall the board says reset cause '{board.reset_cause}' and boot {board.boot_count} after"
            f" {before.boot_count}; it should be 'watchdog' and one more. The watchdog did not do it."
        )
    if live.board_state != "dark" or is_lit(live):
        raise Fault(f"After the reset the board is '{live.board_state}', not dark. Do not use it.")
    answer = yield from ask(
        bench,
        f"What did {name} do?",
        ("y", "it glowed and went dark by itself"),
        ("n", "it never glowed"),
        ("l", "it is still lit"),
    )
    if answer != "y":
        what = "never glowed" if answer == "n" else "is still lit: pull the lamps' plug. The pull-downs are missing"
        raise Fault(f"The watchdog reset the board, but {name} {what}. Check the wiring of its driver.")
    return "Stalled with a lamp lit: the watchdog reset the board, it came up dark and named the watchdog as the cause."


@dataclass(frozen=True, slots=True)
class Step:
    """One step of commissioning."""

    key: str
    title: str
    run: Callable[[Bench], Dialogue[str]]
    lit: bool = False
    """It lights lamps, so everything before the first light must have passed."""
    applies: Callable[[Bench], bool] = lambda bench: True


STEPS = (
    Step("identity", "Identity", identity),
    Step("air", "Air and humidity sensor", air),
    Step("banks", "Bank sensors", banks),
    Step("door", "Door switch", door),
    Step("stop", "Stop button", stop),
    Step("zones", "Zones one by one", zones, lit=True),
    Step("white", "White bank", white, lit=True, applies=lambda bench: bench.identity.has_inspection),
    Step("door_lit", "Door opened while lit", door_lit, lit=True),
    Step("stop_lit", "Stop pressed while lit", stop_lit, lit=True),
    Step("bank_limit", "Bank over its limit", bank_limit, lit=True),
    Step("air_limit", "Air over its limit", air_limit, lit=True),
    Step("heartbeat", "Host falls silent", heartbeat, lit=True),
    Step("watchdog", "Firmware stalls", watchdog, lit=True),
)
