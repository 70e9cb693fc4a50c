"""The checks of plan, sheet and host before a start, and what a person must confirm. Pure; see keeper/preflight.py."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ..care.cautions import Weight
from ..care.peroxide import Confirmation, require_confirmation
from ..domain.chamber import Chamber
from ..domain.plan import Plan
from ..domain.program import Program
from ..domain.sheet import Sheet
from ..errors import ProgramError
from ..keeper.preflight import PreflightLine
from ..planning import STRONG_PEROXIDE, Level, air_model, all_cautions, review
from ..store.records import Line
from .confirmed import Confirmed

CAUTION = "caution:"
"""Keys of lines that a person must confirm begin with this; the caution's own key follows."""
DAY_BYTES = 10_000_000
"""What a day's session may write, bytes: the design's budget; measured 8.8 MB at most with eight banks."""
CHECKPOINT_BYTES = 30_000_000
"""Photos of one checkpoint, bytes. Chosen: three JPEG photos of 12 MP, some 8 MB each, rounded up."""
SPARE_BYTES = 200_000_000
"""What stays free besides, bytes. Chosen: the database's log, a backup of some sessions, the system's own needs."""
YEARS = range(2025, 2100)
"""A clock that shows any other year was never set. Chosen."""


@dataclass(frozen=True, slots=True)
class Host:
    """What the host knows of itself and of earlier sessions."""

    utc: str
    """The wall clock, as journal lines are stamped."""
    last_utc: str
    """Time of the newest journal line; empty: there is none."""
    disk_free_bytes: int
    tested_first: bool
    """A test piece of the same kind of paper has been through a whole session."""
    notified: bool
    """A message was sent to the person and came through."""
    notify_says: str
    """What is known of that, as a sentence."""


def plan_lines(
    plan: Plan, chamber: Chamber, sheet: Sheet | None, start: datetime, confirmed: Sequence[Confirmed] = ()
) -> tuple[PreflightLine, ...]:
    """Whether plan and sheet may be run here, and which cautions wait for a yes. `start` is aware."""
    known = plan.program.fits(chamber)  # the keeper says these
    seen = review(plan, chamber, sheet, start, air_model(chamber, ()))
    lines = [
        PreflightLine(f"plan:{notice.key}", "Plan", "fail", notice.says, notice.remedy)
        for notice in seen.warnings
        if notice.level is Level.STOP and notice.says not in known
    ]
    if not lines:
        lines.append(PreflightLine("plan", "Plan", "pass", "Nothing in it speaks against a start."))
    return (*lines, *_sheet(plan, sheet), _baseline(plan.program), *_cautions(plan, chamber, sheet, confirmed))


def host_lines(plan: Plan, chamber: Chamber, sheet: Sheet | None, host: Host) -> tuple[PreflightLine, ...]:
    """Whether disk, clock and messages are ready."""
    lines = [_disk(plan.program, chamber, host), _clock(host)]
    if sheet is not None and sheet.original:
        lines.append(
            PreflightLine("test-piece", "Test piece first", "pass", "A test piece of this paper was treated before.")
            if host.tested_first
            else PreflightLine(
                "test-piece",
                "Test piece first",
                "caution",
                f"This is an original, and no test piece of {sheet.paper.value} paper has been through a session here.",
                "Treat a worthless piece of the same kind first.",
            )
        )
    lines.append(
        PreflightLine("notify", "Messages", "pass", host.notify_says)
        if host.notified
        else PreflightLine("notify", "Messages", "caution", host.notify_says, "Stay near, or try a message first.")
    )
    return tuple(lines)


def confirmation_lines(
    lines: Sequence[PreflightLine], confirmed: Sequence[Confirmed], chamber_id: str, session_id: str, utc: str
) -> list[Line]:
    """What a person confirmed, as lines of the session's journal; the sentence is the one that was asked."""
    asked = {line.key: line.confirm for line in lines}
    found = []
    for yes in confirmed:
        strong = yes.key == STRONG_PEROXIDE
        text = (yes.text if strong else asked.get(CAUTION + yes.key)) or yes.text
        data = {"key": yes.key, "by": yes.by, "text": text}
        kind = "peroxide_confirmed" if strong else "caution_confirmed"
        found.append(Line(kind, 0.0, utc, data, f"{yes.by} confirmed: {text}", chamber_id, session_id))
    return found


def _sheet(plan: Plan, sheet: Sheet | None) -> list[PreflightLine]:
    if sheet is None:
        return [
            PreflightLine(
                "sheet",
                "Sheet",
                "caution",
                "No sheet is described, so nothing is known of its paper and inks.",
                "Describe it under Sheets and choose it in the plan.",
            )
        ]
    if sheet.consent:
        return [PreflightLine("consent", "Owner's consent", "pass", "The owner agrees that it may change for good.")]
    if not sheet.original:  # the caution of care/ asks for a yes
        return []
    return [
        PreflightLine(
            "consent",
            "Owner's consent",
            "fail",
            "Nobody has noted that the owner of this original agrees to changes for good.",
            "Ask, and note it with the sheet.",
        )
    ]


def _baseline(program: Program) -> PreflightLine:
    first = program.checkpoints[0] if program.checkpoints else None
    if first is not None and first.at_s == 0:
        return PreflightLine("baseline", "Baseline", "pass", f"Checkpoint '{first.name}' comes before any light.")
    return PreflightLine(
        "baseline",
        "Baseline",
        "caution",
        "No checkpoint comes before the light, so there will be no photo to compare with.",
        "Add a checkpoint at 0.",
    )


def _cautions(plan: Plan, chamber: Chamber, sheet: Sheet | None, confirmed: Sequence[Confirmed]) -> list[PreflightLine]:
    lines = []
    for caution in all_cautions(plan, chamber, sheet):
        if caution.weight is not Weight.CONFIRM or (caution.key == "consent" and sheet is not None and sheet.original):
            continue
        sentence = caution.statement.text
        if caution.key == STRONG_PEROXIDE:
            agreed = any(yes.key == caution.key and _agrees(yes, sentence) for yes in confirmed)
        else:
            agreed = any(yes.key == caution.key and yes.by.strip() for yes in confirmed)
        remedy = "" if agreed else "Read this, and confirm it by name."
        lines.append(
            PreflightLine(
                CAUTION + caution.key, "To confirm", "pass" if agreed else "fail", sentence, remedy, confirm=sentence
            )
        )
    return lines


def _agrees(yes: Confirmed, sentence: str) -> bool:
    """True if this is a yes to peroxide as strong as the sentence's, or stronger."""
    try:
        require_confirmation(_strength_pct(sentence), Confirmation(_strength_pct(yes.text), yes.text, yes.by))
    except ProgramError:
        return False
    return True


def _strength_pct(sentence: str) -> float:
    found = re.search(r"peroxide of (\d+(?:\.\d+)?) %", sentence)
    return float(found[1]) if found else 0.0


def _disk(program: Program, chamber: Chamber, host: Host) -> PreflightLine:
    days = program.planned_session_s(chamber) / 86400
    need = round(days * DAY_BYTES) + len(program.checkpoints) * CHECKPOINT_BYTES + SPARE_BYTES
    said = f"{_mb(host.disk_free_bytes)} free, {_mb(need)} needed for the record, its photos and some spare."
    if host.disk_free_bytes >= need:
        return PreflightLine("disk", "Disk", "pass", said)
    return PreflightLine("disk", "Disk", "fail", said, "Free some space on the disk of the data folder.")


def _clock(host: Host) -> PreflightLine:
    key, title = "clock", "Clock"
    shown, last = (text[:16].replace("T", " ") for text in (host.utc, host.last_utc))
    if int(host.utc[:4]) not in YEARS:
        return PreflightLine(key, title, "fail", f"This computer's clock shows {shown} UTC.", "Set it.")
    if host.utc < host.last_utc:
        return PreflightLine(
            key,
            title,
            "fail",
            f"This computer's clock shows {shown} UTC, but the journal has a line of {last} UTC already.",
            "Set the clock; if it is right now and was wrong then, wait until that time is past.",
        )
    return PreflightLine(key, title, "pass", f"It shows {shown} UTC.")


def _mb(size: int) -> str:
    return f"{size / 1e9:.1f} GB" if size >= 1e9 else f"{size / 1e6:.0f} MB"
