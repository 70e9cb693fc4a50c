"""What must be right before a session may begin. Pure: one line a check, with what is wrong and what to do.

Here are the checks of board, chamber and program; the keeper makes all but one of them itself at each start. Those of
plan, sheet and host are in starts/lines.py.
"""

from dataclasses import dataclass
from typing import Literal

from ..domain.chamber import Chamber
from ..domain.program import Limits, Program
from ..domain.units import duration_text, temp_text
from ..engine.holds import sane_temp
from ..link.board import Identity, Live
from .snapshot import BoardView

Verdict = Literal["pass", "fail", "caution"]

AIR_AGE_S_MAX = 3.0
"""Oldest reading of the air that counts as fresh, s: as long as the board lights without one (device guard)."""
BANK_BELOW_AIR_K_MAX = 10.0
"""A plate in the chamber is not colder than its air by more than this, K. Chosen: sensors are good to 1 K or so, and a
plate follows the air within minutes."""


@dataclass(frozen=True, slots=True)
class PreflightLine:
    """One check."""

    key: str
    title: str
    verdict: Verdict
    """pass; caution: it may start, but look; fail: no start."""
    says: str
    """What was found, with the numbers compared."""
    remedy: str = ""
    """What to do; empty if nothing is to be done, or if `says` has it."""
    confirm: str = ""
    """The sentence to which a person must say yes, by name, for this line to pass; empty: nothing to say yes to."""

    @property
    def text(self) -> str:
        """Both sentences."""
        return f"{self.says} {self.remedy}".strip()


@dataclass(frozen=True, slots=True)
class Preflight:
    """All checks, in the order in which to see to them."""

    lines: tuple[PreflightLine, ...]

    @property
    def may_start(self) -> bool:
        """No line fails."""
        return not self.wrong

    @property
    def wrong(self) -> tuple[str, ...]:
        """What forbids a start, a sentence or two to each failed line."""
        return tuple(line.text for line in self.lines if line.verdict == "fail")


def board_lines(
    program: Program, chamber: Chamber, board: BoardView, storage_trouble: str | None
) -> tuple[PreflightLine, ...]:
    """The checks of program, record, board and sensors. Of a board that does not answer no more is said."""
    lines = [_program(program, chamber), _record(storage_trouble)]
    if board.trouble is not None or board.live is None or board.identity is None:
        why = board.trouble or "it was not reached yet"
        return (*lines, _line("board", "Board", False, "", f"The board does not answer: {why}"))
    identity, live = board.identity, board.live
    return (
        *lines,
        _line("board", "Board", True, f"Board {identity.unique_id} answers."),
        _line(
            "commissioned",
            "Commissioned",
            board.unproved is None,
            "Its record is whole, or this daemon asks for none.",
            board.unproved or "",
        ),
        _firmware(identity),
        _fitted(chamber, identity),
        _inspection(program, chamber, identity),
        _line(
            "trip",
            "Trip",
            not live.trip_cause,
            "No trip stands.",
            f"The board has tripped: {live.trip_text}.",
            "Mend the cause and clear the trip.",
        ),
        _line("door", "Door", not live.door_open, "The door is closed.", "The door is open.", "Close it."),
        _line("stop", "Stop", not live.stop_pressed, "It is released.", "The stop button is down.", "Release it."),
        _limits(program.limits, board, identity),
        _lit(program, chamber, identity),
        _air(program.limits, live),
        _banks(chamber, live),
    )


def preflight(program: Program, chamber: Chamber, board: BoardView, storage_trouble: str | None) -> list[str]:
    """Sentences for everything for which the keeper refuses a start; empty if the session may begin.

    The time lit is left out: the board trips by itself, which is no danger, and a plan changed later may come to it.
    """
    lines = board_lines(program, chamber, board, storage_trouble)
    return list(Preflight(tuple(line for line in lines if line.key != "lit")).wrong)


def _line(key: str, title: str, well: bool, good: str, bad: str = "", remedy: str = "") -> PreflightLine:
    return PreflightLine(key, title, "pass", good) if well else PreflightLine(key, title, "fail", bad, remedy)


def _program(program: Program, chamber: Chamber) -> PreflightLine:
    wrong = program.fits(chamber)
    return _line("program", "Program", not wrong, "It fits the chamber.", " ".join(wrong))


def _record(trouble: str | None) -> PreflightLine:
    return _line(
        "record", "Record", trouble is None, "The journal is written.", f"The journal cannot be written: {trouble}"
    )


def _firmware(identity: Identity) -> PreflightLine:
    # The link takes no board with another register table, and the board's papers name its version.
    text = f"Version {identity.firmware}, with the register table of this program ({identity.map_version})."
    return PreflightLine("firmware", "Firmware", "pass", text)


def _fitted(chamber: Chamber, identity: Identity) -> PreflightLine:
    wrong = []
    if identity.zone_count < len(chamber.zones):
        wrong.append(
            f"The board has {identity.zone_count} zones, the chamber is described with {len(chamber.zones)}."
            " Correct the chamber or the board."
        )
    if identity.bank_count < chamber.bank_count:
        wrong.append(f"The board has {identity.bank_count} bank sensors, the chamber has {chamber.bank_count} banks.")
    good = f"{identity.zone_count} zones, {identity.bank_count} bank sensors."
    return _line("fitted", "Zones and banks", not wrong, good, " ".join(wrong))


def _inspection(program: Program, chamber: Chamber, identity: Identity) -> PreflightLine:
    key, title = "inspection", "Inspection light"
    if not chamber.inspection or not program.inspection_level or not program.checkpoints:
        return PreflightLine(key, title, "pass", "None is asked for.")
    if identity.has_inspection:
        return PreflightLine(key, title, "pass", "The white bank is there.")
    alone = chamber.camera and any(not checkpoint.attended for checkpoint in program.checkpoints)
    return PreflightLine(
        key,
        title,
        "fail" if alone else "caution",
        "The chamber is described with a white inspection bank, but the board has none"
        + (": the camera's photos would be black." if alone else "."),
        "Correct the chamber's description or the board's file.",
    )


def _limits(limits: Limits, board: BoardView, identity: Identity) -> PreflightLine:
    key, title = "limits", "Limits"
    above = [
        f"{what} is {limit_c:g} °C, above the board's own ceiling of {ceiling_c:g} °C. Lower it."
        for what, limit_c, ceiling_c in (
            ("air_hard_c", limits.air_hard_c, identity.air_ceiling_c),
            ("bank_hard_c", limits.bank_hard_c, identity.bank_ceiling_c),
        )
        if not limit_c <= ceiling_c
    ]
    if above:
        return PreflightLine(key, title, "fail", " ".join(above))
    said = f"Air {limits.air_hard_c:g} °C, banks {limits.bank_hard_c:g} °C"
    kept = board.kept
    if kept is None or (kept.air_c, kept.bank_c) != (limits.air_hard_c, limits.bank_hard_c):
        return PreflightLine(key, title, "caution", f"{said}: not written to the board yet; the start does it.")
    if kept.trouble is not None:
        return PreflightLine(key, title, "fail", f"The board does not keep its limits: {kept.trouble}")
    return PreflightLine(key, title, "pass", f"{said}: written to the board and read back.")


def _lit(program: Program, chamber: Chamber, identity: Identity) -> PreflightLine:
    lit_s = {
        zone.name: sum(
            e.planned_end_s(zone.irradiance_w_m2) - e.start_s for e in program.exposures_of(zone.name)
        )  # the board counts time, whatever the level
        for zone in chamber.zones
    }
    most = max(lit_s, key=lambda name: lit_s[name])
    said = f"Zone '{most}' is lit for {duration_text(lit_s[most])}"
    allowed = duration_text(identity.lit_ceiling_s)
    return _line(
        "lit",
        "Time lit",
        lit_s[most] <= identity.lit_ceiling_s,
        f"{said}; the board allows {allowed}.",
        f"{said}, longer than the {allowed} after which the board trips.",
        "Shorten it, or divide it into two sessions.",
    )


def _air(limits: Limits, live: Live) -> PreflightLine:
    key, title, temp_c = "air", "Air", live.air_temp_c
    if temp_c is None or not sane_temp(temp_c) or live.air_status != "ok":
        return PreflightLine(
            key, title, "fail", f"The air sensor gives no usable value ({live.air_status}).", "Check its cable."
        )
    if not live.air_age_s <= AIR_AGE_S_MAX:
        return PreflightLine(
            key,
            title,
            "fail",
            f"The last reading of the air is {live.air_age_s:.1f} s old; {AIR_AGE_S_MAX:g} s are allowed.",
            "Check the sensor's cable.",
        )
    if not temp_c < limits.air_soft_c:
        return PreflightLine(
            key,
            title,
            "fail",
            f"Air is {temp_c:.1f} °C, not below the soft limit of {limits.air_soft_c:.1f} °C.",
            "Let it cool.",
        )
    humid = live.humidity_pct
    if humid is None or not 0 < humid < 100:
        said = "no value" if humid is None else f"{humid:.0f} %"
        return PreflightLine(
            key, title, "caution", f"Air is {temp_text(temp_c)}, but its humidity is {said}.", "Look at the sensor."
        )
    return PreflightLine(
        key, title, "pass", f"Air is {temp_text(temp_c)} at {humid:.0f} %, below {limits.air_soft_c:g} °C."
    )


def _banks(chamber: Chamber, live: Live) -> PreflightLine:
    key, title = "banks", "Banks"
    temps_c = dict(enumerate(live.bank_temps_c[: chamber.bank_count], start=1))
    blind = [number for number, temp_c in temps_c.items() if not sane_temp(temp_c)]
    if blind:
        said = " ".join(f"The sensor of bank {number} gives no usable value." for number in blind)
        return PreflightLine(key, title, "fail", said, "Check its cable.")
    known = {number: temp_c for number, temp_c in temps_c.items() if temp_c is not None}
    coldest = min(known, key=lambda number: known[number], default=None)
    air_c = live.air_temp_c
    if coldest is not None and air_c is not None and known[coldest] < air_c - BANK_BELOW_AIR_K_MAX:
        return PreflightLine(
            key,
            title,
            "caution",
            f"Bank {coldest} reads {temp_text(known[coldest])}, more than {BANK_BELOW_AIR_K_MAX:g} K below the air of"
            f" {temp_text(air_c)}.",
            "One of the two sensors is off: see which.",
        )
    return PreflightLine(key, title, "pass", ", ".join(temp_text(temp_c) for temp_c in known.values()) + ".")
