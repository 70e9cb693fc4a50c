"""A sheet's mask over the API, as the mask's own room draws it."""

import re

import pytest

from lampwarden.domain.program_file import parse_as
from lampwarden.domain.sheet import Sheet
from lampwarden.rehearsal import SCENARIOS

from .conftest import Asker, Bench

SHEET = parse_as(Sheet, (SCENARIOS / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")


@pytest.fixture
def sheet(bench: Bench) -> str:
    bench.service.save_sheet(SHEET, "Wilma", None)
    return f"/api/sheets/{SHEET.id}"


def test_mask_to_print(api: Asker, sheet: str) -> None:
    answer = api.get(f"{sheet}/mask.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-")
    assert 'filename="ferry-timetable-mask.pdf"' in answer.headers["content-disposition"]


def test_mask_to_cut_has_the_paper_asked_for(api: Asker, sheet: str) -> None:
    answer = api.get(f"{sheet}/mask.svg", params={"paper": "420x330"})
    assert answer.headers["content-type"].startswith("image/svg+xml")
    size = re.search(r'<svg[^>]*width="([\d.]+)mm" height="([\d.]+)mm"', answer.text)
    assert size is not None
    assert sorted(map(float, size.groups())) == [330, 420]


def test_what_cannot_be_printed_is_said(api: Asker, sheet: str) -> None:
    assert api.get("/api/sheets/nothing/mask.pdf").status_code == 404
    small = api.get(f"{sheet}/mask.svg", params={"paper": "100x100"})
    assert small.status_code == 422
    assert "paper" in small.json()["detail"]
