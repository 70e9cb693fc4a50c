"""A person keeps the record: compares sheets, takes in a record from elsewhere, withdraws a finding, deletes photos."""

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect
from tests.pages import keep_process

from .conftest import HERE, Look, Shown, looks
from .test_access import unfold, wrong

pytestmark = pytest.mark.timeout(240)
SESSION = "2031-03-05-1"


class Host(Shown):
    def __init__(self, bag: Path) -> None:
        super().__init__(keep_process.run, bag)
        self.bag = bag


@pytest.fixture
def host(tmp_path: Path) -> Iterator[Host]:
    host = Host(tmp_path / "record.zip")
    yield host
    host.close()


def part(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name, exact=True)


@looks("phone")
def test_records_are_kept(host: Host, look: Callable[..., Look], size: tuple[int, int], scheme: str) -> None:
    here = look(host.address, size, scheme)
    page = here.page
    page.get_by_role("link", name="Results", exact=True).click()
    here.says("Advice:")

    # A record from elsewhere: taken in by hand, with the same headline, on a page of its own.
    took = part(page, "Records from elsewhere")
    expect(took).to_contain_text("None was taken in yet.")
    took.locator("input[type=file]").set_input_files(
        {"name": "letter.zip", "mimeType": "application/zip", "buffer": b"no bag"}
    )
    expect(took).to_contain_text("Not taken in. 'letter.zip': this is no zip file")
    here.errors.clear()  # the browser tells of every answer that is an error
    took.locator("input[type=file]").set_input_files(host.bag)
    row = took.locator("[data-record]")
    expect(row).to_contain_text("Whiter by up to")
    expect(row).to_contain_text("Ida's chamber")
    here.shoot("keep-results")
    unfold(page)
    barred = {"results": wrong(page)}
    row.get_by_role("link", name="Light ladder, copy 1").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Treatment record: Light ladder, copy 1")
    here.says("Begun by Wilma.")
    here.shoot("keep-record")
    page.go_back()

    # One treatment over the sheets of a series.
    page.get_by_role("link", name="Series: one treatment over several sheets").click()
    here.says("the sheet counts, not the cell")
    table = part(page, "Treatments over sheets")
    expect(table.get_by_role("row").filter(has_text="Mean of 3 sheets")).to_have_count(5)
    page.get_by_role("button", name="More than the control, ΔE00").click()
    expect(page.get_by_role("columnheader", name="More than the control, ΔE00")).to_have_attribute(
        "aria-sort", "descending"
    )
    expect(table.get_by_role("row").nth(1)).to_contain_text("copy 2")
    with page.expect_download() as download:
        page.get_by_role("link", name="As CSV").click()
    rows = list(csv.DictReader(io.StringIO(Path(download.value.path()).read_text(encoding="utf-8-sig"))))
    assert {row["sheet"] for row in rows} == {"copy-1", "copy-2", "copy-3", "mean of 3 sheets"}
    here.shoot("keep-series")
    barred["series"] = wrong(page)

    # A finding that does not hold.
    page.goto(f"{host.address}/results/demo/{SESSION}")
    hand = part(page, "Found by hand and eye")
    hand.get_by_role("button", name="Withdraw A3, Stiffness").click()
    hand.get_by_role("button", name="Withdraw it").click()
    expect(hand).to_contain_text("Say why")
    hand.get_by_label("Why it does not hold").fill("It was copy 2.")
    hand.get_by_role("button", name="Withdraw it").click()
    expect(hand.get_by_role("listitem").filter(has_text="A3")).to_contain_text(": It was copy 2.")
    later = part(page, "After the end")
    later.get_by_text("When to look again").click()
    later.get_by_label("Days after the end").fill("7, 3")
    later.get_by_role("button", name="Use these days").click()
    expect(later).to_contain_text("must rise")
    later.get_by_label("Days after the end").fill("2, 14")
    later.get_by_role("button", name="Use these days").click()
    expect(later.get_by_role("listitem").filter(has_text="14 days")).to_have_count(1)
    expect(part(page, "Treatment record").get_by_role("link", name="Print it")).to_have_attribute(
        "href", f"/api/chambers/demo/sessions/{SESSION}/record.pdf"
    )
    here.shoot("keep-session")
    unfold(page)
    barred["session"] = wrong(page)

    # What is kept, and deleting: told before, and only with the name typed.
    page.goto(f"{host.address}/kept/demo")
    photos = part(page, "Photos by session")
    photos.get_by_role("button", name="Delete Light ladder, copy 3").click()
    dialog = page.get_by_role("alertdialog", name="Delete")
    expect(dialog).to_contain_text("1 photo as sent")
    expect(dialog).to_contain_text("The colours that were read of them")
    dialog.get_by_role("button", name="Delete it for good").click()
    expect(dialog).to_contain_text(f"Type '{SESSION}' to delete it. Nothing was deleted.")
    page.screenshot(path=HERE.parent / "out" / f"keep-delete-{here.name}.png")
    barred["delete"] = wrong(page)
    dialog.get_by_label("Type it to delete").fill(SESSION)
    dialog.get_by_role("button", name="Delete it for good").click()
    expect(part(page, "On this disk")).to_contain_text("Deleted: the photos of session")
    expect(photos).to_contain_text("There are none.")
    records = part(page, "Records from elsewhere")
    records.get_by_role("button", name="Delete Light ladder, copy 1").click()
    dialog.get_by_label("Type it to delete").fill("2031-03-03-1")
    dialog.get_by_role("button", name="Delete it for good").click()
    expect(records).to_contain_text("There are none.")
    thinned = part(page, "Thinned by itself")
    thinned.get_by_label("Thin sessions that ended more than").fill("3")
    here.press("Use this")
    expect(thinned).to_contain_text("7 to 36525")
    thinned.get_by_label("Thin sessions that ended more than").fill("90")
    here.press("Show what that would do now")
    expect(thinned).to_contain_text("No session is that old now.")
    here.press("Use this")
    expect(thinned).to_contain_text("Kept: thinned 90 days after")
    here.shoot("keep-kept")
    barred["kept"] = wrong(page)
    assert {name: each for name, each in barred.items() if each} == {}
    page.get_by_role("link", name="Journal", exact=True).click()
    here.says("Deleted by a person at the page: the photos of session")
    here.says("Withdrawn by a person at the page: cell A3, stiffness")
