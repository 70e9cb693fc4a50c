"""The page Chamber: a calibration is entered and seen, the board's registers live, at a desk and on a phone."""

import re
from collections.abc import Callable

from playwright.sync_api import Locator, Page, expect

from lampboard import registers as reg

from .conftest import DESK, PHONE, DemoProcess, Look


def register(page: Page, name: str) -> str:
    """The value of a register, as the table shows it."""
    row = page.locator(".ch-registers tr", has=page.get_by_role("rowheader", name=name, exact=True))
    return row.locator(".value").inner_text()


def below_px(upper: Locator, button: str) -> float:
    """How far a button lies below something, px."""
    high = upper.bounding_box()
    low = upper.page.get_by_role("button", name=button, exact=True).bounding_box()
    assert high is not None
    assert low is not None
    return round(low["y"] - high["y"], 1)


def test_calibrate_and_look_at_the_board(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(begin=False)
    here = look(show.address, DESK)
    page = here.page
    page.get_by_role("link", name="Chamber", exact=True).click()
    here.says("The board answers, and all its sensors read.")
    page.locator(".ch-chart svg").wait_for()
    here.says("design values that nothing has tested")
    here.unfold("The same as a table")
    here.says("Air above the room, settled")

    # The board's papers, as they are now on this computer.
    here.says("No commissioning record of this board is on this computer.")
    show.do("commission")
    page.reload()
    here.says("Wilma tried this board step by step and signed for it on 1 March 2031.")
    here.unfold("The steps")
    here.says("Dark 90 ms after the door opened.")

    # A test photo, of the simulated sheet by the simulated camera.
    here.press("Take a test photo")
    page.get_by_text("Does it show the whole sheet").wait_for(timeout=90_000)  # rendered in a process of its own
    page.wait_for_function("document.querySelector('.ch-photo img').naturalWidth > 1000")

    # A measurement: what is missing is said beside the fields, nothing typed is lost.
    zone = page.locator(".ch-zones tr", has_text="bank 1").first
    expect(zone).to_contain_text("8.4 mW/cm²")
    expect(zone).to_contain_text("off by half")
    here.unfold("Enter a measurement")
    page.get_by_label("Zone A1").fill("4,1")
    page.get_by_label("Level of the lamps").fill("half")
    here.press("Keep these values")
    here.says("Say what it was measured with")
    here.says("Write the level as a number, 1 to 100 %.")
    assert page.get_by_label("Zone A1").input_value() == "4,1"
    page.get_by_label("Level of the lamps").fill("50")
    page.get_by_label("Measured with").fill("radiometer, calibrated in May")
    page.get_by_label("Uncertainty").fill("6")
    here.press("Keep these values")
    here.says("Kept: A1 8.2 mW/cm² (82 W/m²).")
    expect(zone).to_contain_text("8.2 mW/cm²")
    expect(zone).to_contain_text(re.compile("measured on .* with radiometer, calibrated in May, ± 6 %"))
    expect(page.locator(".ch-place[data-measured=yes]")).to_have_count(1)

    # An estimate, live as it is typed.
    here.unfold("Work out an estimate")
    page.get_by_label("Radiant flux").fill("0.4")
    page.get_by_label("Distance to sheet").fill("60")
    here.says("Mean over the zone: 2.7 mW/cm² (27.3 W/m²)")
    here.press("Keep the estimate")
    here.says("Tick at least one zone.")
    tick = page.locator(".ch-ticks").get_by_label("B3")
    apart_px = below_px(tick, "Keep the estimate")
    tick.check()
    page.get_by_text("Tick at least one zone.").wait_for(state="hidden")
    assert below_px(tick, "Keep the estimate") == apart_px, "a button that moves as one reaches for it loses the click"
    here.press("Keep the estimate")
    here.says("Kept: B3 2.7 mW/cm² (27.3 W/m²).")
    expect(page.locator(".ch-zones")).to_contain_text("0.4 W of light at 60 mm")
    here.unfold("What was entered before (2)")
    here.says("entered by a person at the page")

    # Every register, live.
    here.unfold("Show the table with the values now")
    expect(page.locator(".ch-registers tbody tr")).to_have_count(len(reg.ROWS))
    assert register(page, "zone_count") == "6"
    before = register(page, "uptime_ms")
    row = page.locator(".ch-registers tr", has_text="uptime_ms")
    expect(row.locator(".value")).not_to_have_text(before)
    here.shoot("chamber")

    # On a phone, in degrees Fahrenheit, with the door open and then during a session.
    phone = look(show.address, PHONE, "dark")
    phone.page.get_by_role("link", name="Chamber", exact=True).click()
    phone.says("8.2 mW/cm²")
    phone.press("Display")
    phone.press("°F")
    phone.press("Done")
    phone.page.locator(".ch-facts", has_text="Air").get_by_text(re.compile(r"\d °F, ok")).first.wait_for()
    show.do("door", True)
    phone.page.get_by_text(re.compile("^open, opened 1 ×")).wait_for()
    show.do("door", False)
    show.do("plugged", False)
    phone.says("The board does not answer")
    show.do("plugged", True)
    phone.says("The board answers, and all its sensors read.")
    show.do("begin")
    phone.unfold("Enter a measurement")
    phone.page.get_by_label("Measured with").fill("radiometer")
    phone.page.get_by_label("Zone A2").fill("9")
    phone.press("Keep these values")
    phone.says("A session is under way")
    assert phone.page.get_by_label("Zone A2").input_value() == "9"
    phone.shoot("chamber")
    # In the journal, however many lines have been written since.
    here.page.get_by_role("link", name="Journal", exact=True).click()
    here.page.get_by_label("Words", exact=True).fill("Calibration")
    here.page.locator(".diary-lines").get_by_text("Calibration by a person at the page: A1 82 W/m²").wait_for()
