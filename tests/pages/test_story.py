"""The whole job in the browser: plan, prepare, run, be fetched by a message, photograph, conclude, take it elsewhere.

On the simulated chamber with its camera, with real mail by SMTP, and a second host that takes the record in.
"""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from tests.notify.catchers import Mailbox
from tests.processes.daemon import eventually

from .conftest import HERE, PHONE, SCENARIO, DemoProcess, Look, looks
from .test_link import NAME, OPERATING, mailbox, named, set_up

__all__ = ["mailbox", "named"]

pytest.importorskip("cv2", reason="the extra 'photos' is not installed")
pytestmark = pytest.mark.timeout(600)  # a minute or two at rest, much more on a loaded machine

PATIENCE_MS = 200_000
"""Hours of light at the demo's speed, and photos rendered and read."""
TITLE = "Ferry timetable, the whole story"


def part(page: Page, name: str) -> Locator:
    return page.get_by_role("region", name=name, exact=True)


def goes_to(page: Page, name: str) -> None:
    page.get_by_role("navigation").get_by_role("link", name=name, exact=True).click()


def photograph(here: Look) -> None:
    """The chamber's camera takes the photo of the pause, and it is read."""
    here.press("Let the chamber's camera take it")
    here.page.locator("table.cells tbody tr", has_text="A3").filter(has_text="L*").wait_for()
    here.page.get_by_text("Read from one photo by the fixed camera").wait_for()


def opened(browser: Browser, size: tuple[int, int], scheme: str) -> Look:
    width, height = size
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme)
    here = Look(context.new_page(), f"{width}-{scheme}")
    here.page.set_default_timeout(PATIENCE_MS)
    return here


@looks("desk")  # but for the photo, which is taken on a phone
def test_the_whole_story(
    demo: Callable[..., DemoProcess],
    named: Browser,
    mailbox: Mailbox,
    size: tuple[int, int],
    scheme: str,
    tmp_path: Path,
) -> None:
    show = demo(speed=200.0, begin=False)  # ten minutes, in which a photo is announced, are three looks of the notifier
    show.do("passwords", {"operate": OPERATING})
    address = show.address.replace("localhost", NAME)
    here = opened(named, size, scheme)
    page = here.page
    page.goto(f"{address}/messages/demo")
    page.get_by_label("Password").fill(OPERATING)
    here.press("Sign in")
    set_up(page, here, mailbox)

    # Plan: the sheet comes as a file, the light as another; both are joined.
    goes_to(page, "Sheets")
    page.get_by_label("Sheet file (TOML)").set_input_files(SCENARIO / "sheet.toml")
    page.locator("h1", has_text="Harbour Line Ferries").wait_for()
    with page.expect_download() as mask:
        here.press("Download the mask (PDF)")
    assert Path(mask.value.path()).read_bytes().startswith(b"%PDF")
    goes_to(page, "Plan")
    page.locator("input[type=file]").set_input_files(HERE / "story.toml")
    here.says("Ends ")
    page.get_by_label("Sheet", exact=True).select_option(index=1)
    here.press("Save")
    here.says("Saved")

    # Prepare: everything is looked at, and the cautions are confirmed by name.
    here.press("Check")
    here.says("it can start.")
    page.locator("#plan-name").fill("Wilma")
    page.locator("#plan-name").blur()
    for tick in page.locator(".plan-confirm input[type=checkbox]").all():
        tick.check()
    here.says("All is well: it can start.")
    page.get_by_role("button", name="Start now…", exact=True).click()
    here.press("Start it")

    # Run: the baseline photo, then light.
    here.headline("Your turn: photo “baseline”")
    photograph(here)
    here.press("Done, go on")
    here.headline("Lamps are lit")

    # Be fetched: a mail leads a phone to the next photo.
    asking = "Your turn: photo '2 h'"
    eventually(lambda: any(letter["subject"].startswith(asking) for letter in mailbox.letters), PATIENCE_MS / 1000)
    subjects = [letter["subject"].removesuffix(" · Demo chamber") for letter in mailbox.letters]
    assert "Soon: photo '2 h'" in subjects
    phone = opened(named, PHONE, "light")
    phone.page.goto(mailbox.link(subjects.index(asking)))
    phone.press("Open the checkpoint")
    phone.headline("Your turn: photo “2 h”")
    photograph(phone)
    part(phone.page, "Curves").locator("svg path").first.wait_for(state="attached")
    phone.shoot("story-photo")
    phone.press("Done, go on")

    # Conclude.
    here.headline("Finished")
    goes_to(page, "Results")
    page.get_by_role("link", name=TITLE).click()
    headline = page.locator(".rs-headline")
    expect(headline).to_have_text(re.compile(r"Whiter by up to \d\.\d ± \d\.\d ΔE00"))
    said = headline.inner_text()
    expect(part(page, "Treatments beside the control")).to_contain_text("whiter")
    here.shoot("story-results")

    # Take it away, to another host that knows nothing of it.
    with page.expect_download() as download:
        page.get_by_role("link", name="The record with its photos").click()
    bag = tmp_path / "record.zip"
    download.value.save_as(bag)
    other = opened(named, size, scheme)
    other.page.goto(demo(speed=1.0, begin=False).address)
    goes_to(other.page, "Results")
    other.page.locator("input[data-bag]").set_input_files(bag)
    elsewhere = part(other.page, "Records from elsewhere")
    elsewhere.get_by_role("link", name=TITLE).wait_for()
    expect(elsewhere.locator(".rs-result")).to_have_text(said)
    other.shoot("story-elsewhere")
    elsewhere.get_by_role("link", name=TITLE).click()
    other.says("Wilma")
    for look in (here, phone, other):
        assert [each for each in look.errors if "401" not in each and "Opener-Policy" not in each] == []
