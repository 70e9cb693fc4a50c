"""A person reads what a trial did to its sheet, from photos that the simulated camera rendered."""

import csv
import io
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from .conftest import DESK, PHONE, Look, Shown, looks

pytest.importorskip("cv2", reason="the extra 'photos' is not installed")
from tests.pages import results_process

pytestmark = pytest.mark.timeout(300)  # four photos are rendered and read before the first page opens


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a dashboard over a finished trial."""
    shown = Shown(results_process.run, tmp_path_factory.mktemp("photos"))
    yield shown.address
    shown.close()


def part(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name, exact=True)


def downloaded(page: Page, link: Locator) -> list[dict[str, str]]:
    with page.expect_download() as download:
        link.click()
    text = Path(download.value.path()).read_text(encoding="utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def lines_share(page: Page) -> float:
    """Where the line between both pictures stands, share of the width."""
    frame, line = (page.locator(name).bounding_box() for name in (".rs-frame", ".rs-line"))
    assert frame is not None
    assert line is not None
    return (line["x"] + line["width"] / 2 - frame["x"]) / frame["width"]


@looks("desk")
def test_a_trial_is_told(trial: str, look: Callable[..., Look], size: tuple[int, int], scheme: str) -> None:
    here = look(trial, size, scheme)
    page = here.page
    page.get_by_role("link", name="Results", exact=True).click()
    here.says("Advice:")
    expect(page.locator("[data-session=s1]")).to_contain_text("Started without a sheet")
    here.shoot("results-list")
    page.get_by_role("link", name="Ferry timetable, light ladder").click()
    expect(page.locator(".rs-headline")).to_have_text(
        re.compile(r"Whiter by up to \d\.\d ± \d\.\d ΔE00 in B1, light and")
    )

    # Before and after: both pictures are there, and the line follows pointer and keys.
    page.wait_for_function("[...document.querySelectorAll('.rs-frame img')].every(i => i.naturalWidth > 500)")
    slide = page.get_by_role("slider")
    slide.focus()
    assert lines_share(page) == pytest.approx(0.5, abs=0.02)
    for _ in range(20):
        page.keyboard.press("ArrowLeft")
    assert lines_share(page) == pytest.approx(0.3, abs=0.02)
    expect(slide).to_have_attribute("aria-valuetext", "30 % of the width shows baseline, the rest 8 h")
    page.get_by_label("Right of the line").select_option("2 h")
    expect(part(page, "Cells")).to_contain_text("2 h, against the baseline")
    page.get_by_label("Right of the line").select_option("8 h")

    # The cells, sorted by how much they changed: the bath and the light did most.
    cells = part(page, "Cells").get_by_role("row")
    page.get_by_role("button", name="Change ΔE00").click()
    expect(cells.nth(1)).to_contain_text("B1")
    expect(page.get_by_role("columnheader", name="Change ΔE00")).to_have_attribute("aria-sort", "descending")
    expect(cells.filter(has_text="covered control")).to_contain_text("no change found")
    rows = downloaded(page, page.get_by_role("link", name="All numbers as CSV"))
    (bathed,) = [r for r in rows if (r["cell"], r["checkpoint"], r["way"]) == ("B1", "8 h", "fixed")]
    assert float(bathed["de00"]) > 4
    assert float(bathed["dose_j_cm2"]) == pytest.approx(236, rel=0.02)
    assert any(r["counts"] == "no" and "no photo" in r["remarks"] for r in rows)

    # Curves over dose and over time, and the same as a table.
    curves = part(page, "Curves")
    curves.locator("svg path").first.wait_for(state="attached")
    expect(curves.locator(".rs-keys li")).to_have_count(4)
    curves.get_by_label("Sideways").select_option("session time")
    expect(curves.locator(".rs-keys li")).to_have_count(6)
    curves.get_by_text("The same as a table").click()
    expect(curves.get_by_role("row").filter(has_text="light and hydrogen peroxide")).to_have_count(3)

    expect(part(page, "Checks")).to_contain_text("under its limit")
    arms = part(page, "Treatments beside the control").get_by_role("row")
    expect(arms.filter(has_text="A3")).to_contain_text("whiter")
    expect(page.locator("[data-state=refused]")).to_contain_text("The file is no photo that can be read")
    expect(part(page, "After the end")).to_contain_text("yellowing came back")
    expect(part(page, "The same sheet in other sessions")).to_contain_text("Trial by instrument")
    here.unfold("What this trial cannot show")
    here.says("This is one sheet.")

    # What hand and eye find: refused beside the field until it says something, then kept for good.
    hand, cell = part(page, "Found by hand and eye"), {PHONE: "A1", DESK: "A2"}[size]
    here.press("Keep this finding")
    expect(hand).to_contain_text("Choose the cell.")
    hand.get_by_role("combobox", name="Cell").select_option(cell)
    hand.get_by_role("combobox", name="How it is").select_option("stiffer than before")
    hand.get_by_role("textbox", name="Note").fill("Rattles when it is lifted.")
    here.press("Keep this finding")
    here.says(f"Kept: {cell}, stiffness.")
    page.reload()
    expect(hand.get_by_role("listitem").filter(has_text=cell)).to_contain_text("stiffer than before")
    for image in page.locator(".rs-thumb img[src]").all():
        image.scroll_into_view_if_needed()
    page.wait_for_function("[...document.querySelectorAll('.rs-thumb img[src]')].every(i => i.naturalWidth > 500)")
    page.evaluate("window.scrollTo(0, 0)")
    here.shoot("results-session")


def test_an_instrument_stands_beside_the_photos(trial: str, look: Callable[..., Look]) -> None:
    here = look(trial, DESK, "light")
    page = here.page
    page.goto(f"{trial}/results/demo/s2")
    here.press("an instrument")
    expect(page.locator(".rs-left")).to_have_attribute("alt", "The sheet under its mask, baseline")  # the photo's
    expect(part(page, "Cells")).to_contain_text("L* ")
    instrument = part(page, "Instrument readings")
    here.unfold("Enter a reading")
    instrument.get_by_label("B3 L*").fill("bright")
    here.press("Keep this reading")
    expect(instrument).to_contain_text("Write the B3 L* as a number, 0 to 100.")
    table = 'Sample_Name;LAB_L;LAB_A;LAB_B\nA1;86,1;3.2;19.8\nB3;83.2;4.7;24.5\n"other";1;2;3\n'
    file = {"name": "readings.csv", "mimeType": "text/csv", "buffer": table.encode()}
    instrument.locator("input[type=file]").set_input_files(file)
    here.says("readings.csv: 2 cells filled in below.")
    expect(instrument.get_by_label("A1 L*")).to_have_value("86.1")
    instrument.get_by_role("combobox", name="At").select_option("24 h")
    here.shoot("results-instrument")
    here.press("Keep this reading")
    here.says("Kept: 2 cells by instrument.")
    expect(part(page, "All photos and readings")).to_contain_text("Instrument, 24 h")
    here.unfold("The lines of this session")
    here.says("Instrument reading at '24 h'")
