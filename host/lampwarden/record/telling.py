"""A Record as a document: headings, sentences, tables and pictures, the same for page and print. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from ..domain.chamber import Calibration, Zone
from ..domain.reading import Lab, Way
from ..domain.units import dose_j_cm2, duration_text, mj_m2, mw_cm2, temp_text
from .gather import Found, Look, Record

CONFIRMED = ("caution_confirmed", "peroxide_confirmed")
AS_IT_HAPPENED = (
    "began", "hold_began", "hold_ended", "checkpoint_reached", "checkpoint_answered", "plan_changed", "annotated",
    "ended", "board_rebooted", "exposure_done", "trip_clear_asked", "photo_refused", "remark",
    "photos_deleted", "readings_thinned",
)  # fmt: skip
"""Lines of the journal that tell the course; the rest is in the journal itself."""
INTERRUPTED = ("board lost", "restart", "storage")
"""Holds after which the light of a moment may be unknown."""
ESTIMATE_SHARE = 0.5
"""By how much an estimated irradiance may be off, see light/estimate.py."""


@dataclass(frozen=True, slots=True)
class Para:
    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    colours: tuple[tuple[Lab | None, Lab | None], ...] = ()
    """For tables of cells: colour before and after, one pair a row."""


@dataclass(frozen=True, slots=True)
class Picture:
    hash: str
    caption: str


Block = Para | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Document:
    title: str
    about: str
    sections: tuple[Section, ...]


def document(record: Record) -> Document:
    """The record as a person reads it. Times are UTC, so that it says the same everywhere."""
    sheet = record.sheet.title if record.sheet else "a sheet that was not described"
    when = (
        f"{_day(record.began_utc)} to {_day(record.ended_utc)}"
        if record.ended_utc
        else f"{_day(record.began_utc)}, not ended"
    )
    return Document(
        title=f"Treatment record: {record.title}",
        about=f"{sheet}. Session {record.id} in chamber '{record.chamber.title}', {when} UTC.",
        sections=tuple(
            Section(title, found)
            for title, blocks in (
                ("Outcome", _outcome(record)),
                ("The sheet", _sheet(record)),
                ("Cells and treatments", _cells(record)),
                ("As planned", _planned(record)),
                ("Light", _light(record)),
                ("As it happened", _course(record)),
                ("Climate", _climate(record)),
                ("Colour", _colour(record)),
                ("Found by hand and eye", _hand(record)),
                ("What this cannot show", _limits(record)),
                ("Cautions confirmed", _confirmed(record)),
                ("Chamber and calibration", _chamber(record)),
                ("Made with", _made(record)),
            )
            if (found := tuple(blocks))
        ),
    )


def _outcome(record: Record) -> Iterator[Block]:
    yield Para(f"{record.outcome[:1].upper()}{record.outcome[1:]}. {record.cause}".strip(), strong=True)
    if record.begun_by:
        yield Para(f"Begun by {record.begun_by}.")
    for sentence in record.sentences:
        yield Para(sentence)


def _sheet(record: Record) -> Iterator[Block]:
    sheet = record.sheet
    if sheet is None:
        return
    rows = [
        ("Title", sheet.title),
        ("Paper", sheet.paper.value),
        ("Sizing", sheet.sizing or "not stated"),
        ("Size", f"{sheet.width_mm:g} x {sheet.height_mm:g} mm"),
        (
            "Inks and media",
            "; ".join(f"{i.name} ({i.kind.value}{', sensitive' if i.fugitive else ''})" for i in sheet.inks)
            or "none stated",
        ),
        ("Kind", "original" if sheet.original else "test piece"),
        ("Owner's consent", "given" if sheet.consent else "not noted"),
        ("Condition before", sheet.condition or "not stated"),
    ]
    if sheet.notes:
        rows.append(("Notes", sheet.notes))
    yield Table(("", ""), tuple(rows))
    if sheet.photo:
        yield Picture(sheet.photo, "The whole sheet, as it was pictured to lay out its cells.")


def _cells(record: Record) -> Iterator[Block]:
    if record.sheet is None or not record.sheet.cells:
        return
    yield Table(
        ("Cell", "Zone", "Treatment", "Role", "Block", "Replicate", "Place, mm"),
        tuple(
            (c.name, c.zone, c.treatment.label, c.role, str(c.block), str(c.replicate), f"{c.x_mm:g}, {c.y_mm:g}; {c.width_mm:g} x {c.height_mm:g}")  # noqa: E501
            for c in record.sheet.cells
        ),
    )  # fmt: skip
    if record.sheet.layout_seed is not None:
        yield Para(f"Treatments were put in their places by lot, with seed {record.sheet.layout_seed}.")


def _planned(record: Record) -> Iterator[Block]:
    program = record.program
    if program.notes:
        yield Para(program.notes)
    rows = []
    for zone in record.chamber.zones:
        for each in program.exposures_of(zone.name):
            until = (
                f"until {duration_text(each.end_s)}" if each.end_s is not None else f"until {each.dose_j_cm2:g} J/cm²"
            )
            rows.append((zone.name, duration_text(each.start_s), until, f"{100 * each.level:g} %"))
    yield Table(("Zone", "From", "Until", "Level"), tuple(rows))
    if program.checkpoints:
        yield Table(
            ("Checkpoint", "At", "Asks for"),
            tuple(
                (c.name, duration_text(c.at_s), f"{c.look_at}{'' if c.attended else ' (needs nobody)'}")
                for c in program.checkpoints
            ),
        )
    changes = [line for line in record.lines if line.kind == "plan_changed"]
    told = f"It was changed {len(changes)} times on the way, see below." if changes else "It was not changed."
    yield Para(f"Times are session time, which stands still in a hold. {told}")


def _light(record: Record) -> Iterator[Block]:
    rows = []
    for zone, given in zip(record.chamber.zones, record.zones, strict=True):
        dose = dose_j_cm2(zone.irradiance_w_m2, given.lit_s)
        planned = dose_j_cm2(zone.irradiance_w_m2, given.planned_lit_s)
        low, high = dose_bounds_j_cm2(zone, given.lit_s)
        rows.append(
            (
                zone.name,
                f"{zone.peak_nm:g} nm",
                f"{mw_cm2(zone.irradiance_w_m2):.2f} mW/cm² ({zone.irradiance_w_m2:.1f} W/m²)",
                duration_text(given.lit_s),
                f"{dose:.1f} J/cm² ({mj_m2(dose):.3f} MJ/m²)",
                f"{low:.0f} to {high:.0f} J/cm²" if low is not None and high is not None else "not known",
                f"{planned:.1f} J/cm²",
                _how(zone.calibration),
            )
        )
    yield Table(
        (
            "Zone", "Peak", "Irradiance at full level", "Light, level-weighted", "Dose", "It may lie", "Planned",
            "Irradiance known by",
        ),
        tuple(rows),
    )  # fmt: skip
    cuts = sum(line.kind == "hold_began" and line.data.get("reason") in INTERRUPTED for line in record.lines)
    yield Para(
        "The time of light is counted by the board to a thousandth of a second and is uncertain by 1 s for each"
        f" interruption; there {'was' if cuts == 1 else 'were'} {cuts or 'none'}. The dose is as uncertain as the"
        " irradiance: a measured one by what was entered with it (expanded uncertainty, some 95 %), if anything; an"
        " estimated one may be off by half."
    )


def dose_bounds_j_cm2(zone: Zone, lit_s: float) -> tuple[float | None, float | None]:
    """Between what the dose of a zone lies, J/cm²; None twice: measured, and not said how well."""
    share = ESTIMATE_SHARE
    if zone.calibration.how == "measured":
        if zone.calibration.expanded_u_pct is None:
            return None, None
        share = zone.calibration.expanded_u_pct / 100
    dose = dose_j_cm2(zone.irradiance_w_m2, lit_s)
    return (1 - share) * dose, (1 + share) * dose


def _how(calibration: Calibration) -> str:
    on = f", {calibration.on.isoformat()}" if calibration.on else ""
    by = f": {calibration.instrument}" if calibration.instrument else ""
    unsure = f", ± {calibration.expanded_u_pct:g} %" if calibration.expanded_u_pct else ""
    return f"{calibration.how}{on}{by}{unsure}"


def _course(record: Record) -> Iterator[Block]:
    told = [line for line in record.lines if line.kind in AS_IT_HAPPENED]
    yield Table(("UTC", "What"), tuple((line.utc[:19].replace("T", " "), line.text) for line in told))
    yield Para(f"The journal of this session has {len(record.lines)} lines, numbered {_span(record)}.")


def _span(record: Record) -> str:
    return f"{record.lines[0].seq} to {record.lines[-1].seq}" if record.lines else "none"


def _climate(record: Record) -> Iterator[Block]:
    air = [a.air_temp_c_max for a in record.air if a.air_temp_c_max is not None]
    banks = [a.bank_temp_c_max for a in record.air if a.bank_temp_c_max is not None]
    humid = [a.humidity_pct for a in record.air if a.humidity_pct is not None]
    if air:
        limits = record.program.limits
        yield Para(
            f"Air reached {temp_text(max(air))} (pause at {temp_text(limits.air_soft_c)}, cut off at"
            f" {temp_text(limits.air_hard_c)})."
        )
    if banks:
        yield Para(f"The warmest lamp bank reached {temp_text(max(banks))}.")
    if humid:
        yield Para(f"Humidity lay between {min(humid):.0f} and {max(humid):.0f} %.")


def _colour(record: Record) -> Iterator[Block]:
    good = [look for look in record.looks if not look.reading.refused and not look.reading.superseded]
    for look in good:
        reading = look.reading
        at = reading.checkpoint or (reading.taken_utc[:10] if reading.session else _after(record, reading.taken_utc))
        yield Para(
            f"'{at}', {_way(reading.way)}, {reading.taken_utc[:16].replace('T', ' ')} UTC, by {look.saved_by}."
            f" A change under {reading.detection_limit_de00:.1f} ΔE00 cannot be told from none.",
            strong=True,
        )
        yield _colours(look, good[0])
        for warning in reading.warnings:
            yield Para(warning)
        for _, drawn in look.pictures:
            if drawn:
                yield Picture(drawn, f"Photo '{at}' with what was read drawn on it.")
    for look in record.looks:
        if look.reading.refused:
            yield Para(f"A photo at '{look.reading.checkpoint}' could not be read: {look.reading.refused}")
        elif look.reading.superseded:
            yield Para(f"A photo at '{look.reading.checkpoint}' was replaced by a later one and is kept.")


def _after(record: Record, utc: str) -> str:
    """How long after the end: '7 days after the end'."""
    if not record.ended_utc:
        return utc[:10]
    days = round((datetime.fromisoformat(utc) - datetime.fromisoformat(record.ended_utc)).total_seconds() / 86_400)
    return f"{days} day{'' if days == 1 else 's'} after the end"


def _way(way: Way) -> str:
    return {
        Way.PHONE: "photo by hand",
        Way.FIXED: "photo by the fixed camera",
        Way.BRACKETED: "several photos by the fixed camera",
        Way.LOSSLESS: "photo by the fixed camera without loss",
        Way.INSTRUMENT: "instrument",
    }[way]


def _colours(look: Look, first: Look) -> Table:
    rows, colours = [], []
    for cell in look.reading.cells:
        start = first.reading.cell(cell.cell) if first.reading.way is look.reading.way else None
        lab, dose = cell.lab_d50, look.doses_j_cm2.get(cell.cell)
        rows.append(
            (
                cell.cell,
                f"{lab[0]:.2f}", f"{lab[1]:.2f}", f"{lab[2]:.2f}",
                f"{cell.u_lab[0]:.2f}, {cell.u_lab[1]:.2f}, {cell.u_lab[2]:.2f}",
                f"{cell.r457_pct:.1f} ± {2 * (cell.r457_u_pct or 0):.1f}" if cell.r457_pct is not None else "",
                f"{dose:.1f}" if dose is not None else "",
                "" if cell.usable else "not used: " + " ".join(cell.marks),
            )
        )  # fmt: skip
        colours.append((start.lab_d50 if start is not None else None, lab))
    head = ("Cell", "L*", "a*", "b*", "u(L*, a*, b*)", "R457, % (estimate)", "Dose, J/cm²", "")
    return Table(head, tuple(rows), tuple(colours))


def _hand(record: Record) -> Iterator[Block]:
    if record.findings:
        yield Table(
            ("Cell", "Aspect", "Value", "Note", "At", "By", ""),
            tuple(
                (f.cell, f.aspect, "" if f.value is None else f"{f.value:g}", f.note, f.checkpoint or f.found_utc[:10], each.by, _gone(each))  # noqa: E501
                for each in record.findings
                for f in (each.finding,)
            ),
        )  # fmt: skip


def _gone(found: Found) -> str:
    if not found.withdrawn_utc:
        return ""
    return f"withdrawn {found.withdrawn_utc[:10]} by {found.withdrawn_by}: {found.why}"


def _limits(record: Record) -> Iterator[Block]:
    for each in record.limits:
        yield Para(f"{each.text} ({each.status}: {each.source})")


def _confirmed(record: Record) -> Iterator[Block]:
    for line in record.lines:
        if line.kind in CONFIRMED:
            yield Para(line.text)


def _chamber(record: Record) -> Iterator[Block]:
    chamber = record.chamber
    yield Para(f"{chamber.title}: {len(chamber.zones)} zones on {chamber.bank_count} banks.")
    limits = record.program.limits
    yield Para(
        f"Limits: air {temp_text(limits.air_soft_c)} and {temp_text(limits.air_hard_c)}, banks"
        f" {temp_text(limits.bank_soft_c)} and {temp_text(limits.bank_hard_c)}; handling below"
        f" {temp_text(limits.handling_c)}."
    )


def _made(record: Record) -> Iterator[Block]:
    firmware: Sequence[str] = [line.text for line in record.lines if line.kind == "made_with"]
    yield Para(f"{record.software}; this record was made {record.made_utc[:16].replace('T', ' ')} UTC.")
    for text in firmware:
        yield Para(text)
    yield Para(
        "Bleaching by light and by peroxide cannot be undone, and groundwood paper yellows again. Decisions about"
        " originals belong to a trained conservator."
    )


def _day(utc: str) -> str:
    return utc[:16].replace("T", " ")
