"""A record's numbers as CSV (RFC 4180), with units in the heads. Pure."""

import csv
import io
from collections.abc import Iterable, Sequence

from ..domain.units import dose_j_cm2
from .gather import Record


def tables(record: Record) -> dict[str, str]:
    """File name and content of each table."""
    return {
        "zones.csv": _csv(
            ("zone", "irradiance_w_m2", "planned_lit_s", "lit_s", "dose_j_cm2"),
            (
                (z.name, z.irradiance_w_m2, g.planned_lit_s, g.lit_s, dose_j_cm2(z.irradiance_w_m2, g.lit_s))
                for z, g in zip(record.chamber.zones, record.zones, strict=True)
            ),
        ),
        "cells.csv": _csv(
            (
                "reading", "checkpoint", "taken_utc", "way", "superseded", "cell", "dose_j_cm2", "L_d50", "a_d50",
                "b_d50", "u_L", "u_a", "u_b", "r457_pct", "r457_u_pct", "usable", "marks",
            ),
            (
                (
                    r.id, r.checkpoint, r.taken_utc, r.way.value, r.superseded, c.cell, look.doses_j_cm2.get(c.cell),
                    *c.lab_d50, *c.u_lab, c.r457_pct, c.r457_u_pct, c.usable, " ".join(c.marks),
                )
                for look in record.looks
                for r in (look.reading,)
                for c in r.cells
            ),
        ),
        "climate.csv": _csv(
            ("run_s", "air_temp_c_mean", "air_temp_c_max", "bank_temp_c_max", "humidity_pct"),
            ((a.run_s, a.air_temp_c, a.air_temp_c_max, a.bank_temp_c_max, a.humidity_pct) for a in record.air),
        ),
        "journal.csv": _csv(
            ("seq", "utc", "run_s", "kind", "text"),
            ((line.seq, line.utc, line.run_s, line.kind, line.text) for line in record.lines),
        ),
        "findings.csv": _csv(
            ("cell", "aspect", "value", "note", "checkpoint", "found_utc"),
            ((f.cell, f.aspect, f.value, f.note, f.checkpoint, f.found_utc) for f in record.findings),
        ),
    }  # fmt: skip


def _csv(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    for row in rows:
        writer.writerow([_plain(value) for value in row])
    return out.getvalue()


def _plain(value: object) -> object:
    """A person's text that a spreadsheet would take for a formula is marked as text."""
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
