"""A record's numbers as CSV, with units in the heads. Pure."""

from collections.abc import Callable, Iterator, Mapping

from ..domain.units import dose_j_cm2
from .colours import COLOURS, colours
from .gather import Record
from .spreadsheet import csv_text
from .telling import dose_bounds_j_cm2


def tables(record: Record) -> dict[str, str]:
    """File name and content of each table."""
    return {f"{name}.csv": write(record) for name, write in TABLES.items()}


def _session(record: Record) -> str:
    made = next((line.data for line in record.lines if line.kind == "made_with"), {})
    sheet = record.sheet
    rows: dict[str, object] = {
        "session": record.id,
        "title": record.title,
        "chamber": record.chamber_id,
        "sheet": sheet.id if sheet else None,
        "sheet_title": sheet.title if sheet else None,
        "plan": record.plan.id if record.plan else None,
        "begun_by": record.begun_by,
        "began_utc": record.began_utc,
        "ended_utc": record.ended_utc,
        "outcome": record.outcome,
        "cause": record.cause,
        **{f"made_with_{name}": made.get(name) for name in ("lampwarden", "python", "system", "board_id", "firmware")},
        "record_by": record.software,
        "record_utc": record.made_utc,
    }
    return csv_text(("what", "value"), rows.items())


def _zones(record: Record) -> str:
    def rows() -> Iterator[tuple[object, ...]]:
        for zone, given in zip(record.chamber.zones, record.zones, strict=True):
            dose = dose_j_cm2(zone.irradiance_w_m2, given.lit_s)
            how = zone.calibration
            yield (
                zone.name, zone.irradiance_w_m2, how.how, how.on.isoformat() if how.on else None, how.instrument,
                given.planned_lit_s, given.lit_s, dose, *dose_bounds_j_cm2(zone, given.lit_s),
            )  # fmt: skip

    return csv_text(
        (
            "zone", "irradiance_w_m2", "irradiance_how", "irradiance_on", "irradiance_by", "planned_lit_s", "lit_s",
            "dose_j_cm2", "dose_low_j_cm2", "dose_high_j_cm2",
        ),
        rows(),
    )  # fmt: skip


def _climate(record: Record) -> str:
    return csv_text(
        ("run_s", "air_temp_c_mean", "air_temp_c_max", "bank_temp_c_max", "humidity_pct"),
        ((a.run_s, a.air_temp_c, a.air_temp_c_max, a.bank_temp_c_max, a.humidity_pct) for a in record.air),
    )


def _journal(record: Record) -> str:
    return csv_text(
        ("seq", "utc", "run_s", "kind", "text"),
        ((line.seq, line.utc, line.run_s, line.kind, line.text) for line in record.lines),
    )


def _findings(record: Record) -> str:
    return csv_text(
        ("cell", "aspect", "value", "note", "checkpoint", "found_utc", "by", "withdrawn_utc", "withdrawn_by", "why"),
        (
            (f.cell, f.aspect, f.value, f.note, f.checkpoint, f.found_utc, each.by, each.withdrawn_utc,
             each.withdrawn_by, each.why)
            for each in record.findings
            for f in (each.finding,)
        ),
    )  # fmt: skip


TABLES: Mapping[str, Callable[[Record], str]] = {
    "session": _session,
    "zones": _zones,
    "colours": lambda record: csv_text(COLOURS, colours(record)),
    "climate": _climate,
    "journal": _journal,
    "findings": _findings,
}
"""Each table by its name."""
