"""Every colour as a table, over a sheet whose true course is known (tests/findings)."""

import csv
import io
from collections.abc import Sequence

import pytest
from tests.findings.conftest import HOURS, Bench, make_cell

from lampwarden.findings.conclude import conclude
from lampwarden.record.colours import COLOURS, SWATCH, colours
from lampwarden.record.gather import Look, Record
from lampwarden.record.spreadsheet import csv_text

from .test_record import record as whole

__all__ = ["whole"]


@pytest.fixture
def bench() -> Bench:
    """Light for 8 h, a peroxide bath in the dark, a covered control, a watched ink."""
    laid = [
        make_cell("A3", light=True),
        make_cell("B2", chemical="=2+3", strength_pct=3, wet_min=30),
        make_cell("B3", role="control", covered=True),
        make_cell("B4", zone="A3", role="ink watch", ink="vermilion", light=True),
    ]
    return Bench(laid, rate={"A3": 0.015}, light_h={"A3": 8, "B4": 8}, at_once={"B2": 0.2})


def looks_of(bench: Bench) -> list[Look]:
    readings, doses = bench.read(1)
    looks = [Look(reading=r, saved_by="Wilma", doses_j_cm2=doses[r.id], pictures=()) for r in readings]
    dark = readings[1].model_copy(update={"id": "dark", "refused": "Too dark.", "cells": (), "swatches": ()})
    return [*looks, Look(reading=dark, saved_by="Wilma", doses_j_cm2={}, pictures=())]


def written(record: Record, bench: Bench, looks: Sequence[Look]) -> str:
    filled = record.model_copy(update={"sheet": bench.sheet, "plan": None, "looks": tuple(looks)})
    return csv_text(COLOURS, colours(filled))


def test_all_numbers_as_csv(whole: Record, bench: Bench) -> None:
    rows = list(csv.DictReader(io.StringIO(written(whole, bench, looks_of(bench)))))
    assert len(rows) == len(HOURS) * (4 + 2) + 1
    (last,) = [row for row in rows if (row["cell"], row["checkpoint"]) == ("A3", "24 h")]
    readings, doses = bench.read(1)
    end = next(c.end for c in conclude(bench.sheet, None, readings, doses).cells if c.cell == "A3")
    assert float(last["de00"]) == pytest.approx(end.de00.value, abs=1e-4)
    assert (last["counts"], last["role"], last["usable"]) == ("yes", "test", "yes")
    (bad,) = [row for row in rows if row["counts"] == "no"]
    assert (bad["cell"], bad["remarks"]) == ("", "Too dark.")
    assert {row["role"] for row in rows} >= {SWATCH, "control", "ink watch"}


def test_text_is_no_formula(whole: Record, bench: Bench) -> None:
    text = written(whole, bench, looks_of(bench))
    assert "'=2+3 3 %" in text
    assert ",=" not in text
    assert '"=' not in text
