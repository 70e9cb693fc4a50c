"""A person plans the six-zone trial from nothing, rehearses it and starts it, at a desk and on a phone."""

import re
from collections.abc import Callable

from playwright.sync_api import Locator, Page, expect

from .conftest import HERE, DemoProcess, Look, looks


def field(page: Page, label: str) -> Locator:
    return page.get_by_label(label, exact=True)


def typed(page: Page, label: str, text: str) -> None:
    """Types into a field and leaves it."""
    field(page, label).fill(text)
    field(page, label).blur()


def pull(page: Page, grip: Locator, hours: float) -> None:
    """Pulls something of the timetable sideways by some hours of session time, with the pointer."""
    grip.scroll_into_view_if_needed()
    box = grip.bounding_box()
    track = page.locator(".plan-track").first.bounding_box()
    assert box is not None
    assert track is not None
    span_s = float(page.locator(".plan-time").get_attribute("data-span") or 0)
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 3, y)
    page.mouse.move(x + hours * 3600 / span_s * track["width"], y, steps=5)
    page.mouse.up()


def bar(page: Page, zone: str) -> Locator:
    return page.get_by_role("slider", name=f"{zone}, light 1", exact=True)


def shot(here: Look, label: str) -> None:
    """A picture from the top of the page."""
    here.page.evaluate("window.scrollTo(0, 0)")
    here.shoot(label)


def say_yes(page: Page) -> None:
    """Gives a name and ticks all that is asked."""
    page.locator("#plan-name").fill("Wilma")
    page.locator("#plan-name").blur()
    for tick in page.locator(".plan-confirm input[type=checkbox]").all():
        tick.check()


def new_trial(here: Look) -> None:
    """From the first page to the editor of a new trial."""
    here.page.get_by_role("link", name="Plan", exact=True).click()
    here.says("There is no plan yet.")
    shot(here, "plan-none")
    here.page.locator("[data-pattern=light-by-chemical]").click()
    here.says("Ends ")


@looks("phone")
def test_plan_rehearse_and_start_from_nothing(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    show = demo(speed=600.0, begin=False)
    here = look(show.address, size, scheme)
    page = here.page
    new_trial(here)
    page.get_by_role("link", name="Open this sheet").click()
    here.press("Test piece")
    page.get_by_label(re.compile("may change for good")).check()
    here.press("Save")
    here.says("Saved as version 2")
    page.go_back()
    here.says("Ends ")
    zones = page.locator(".plan-result .plan-table tbody")
    expect(zones).to_contain_text("60.5 J/cm²")
    expect(zones).to_contain_text("8.4 mW/cm²")
    expect(page.locator(".plan-flag")).to_have_count(7)

    # One and the same thing: pulled with the pointer, moved by keys, typed as a number.
    pull(page, bar(page, "A1").locator("[data-end=end]"), 1)
    expect(field(page, "A1, light 1: ends at")).to_have_value("3:00")
    expect(zones).to_contain_text("90.7 J/cm²")
    bar(page, "A3").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowLeft")
    expect(field(page, "A3, light 1: starts at")).to_have_value("0:10")
    expect(field(page, "A3, light 1: ends at")).to_have_value("8:05")
    typed(page, "A2, light 1: ends at", "4 h 30 min")
    expect(zones).to_contain_text("142.6 J/cm²")
    expect(field(page, "A2, light 1: ends at")).to_have_value("4:30")
    expect(bar(page, "A2")).to_have_attribute("aria-valuetext", re.compile("from 0 h to 4 h 30 min at 100 %"))
    pull(page, page.get_by_role("slider", name="Checkpoint 16 h", exact=True).locator("span"), 1)
    expect(field(page, "Checkpoint 16 h: session time")).to_have_value("17:00")
    typed(page, "A2, light 1: ends at", "soon")
    here.says("'soon' is no time.")
    typed(page, "A2, light 1: ends at", "4:30")
    shot(here, "plan-edited")

    # Zones that are meant to differ are made the same: refused, until it is undone.
    bar(page, "A1").focus()
    page.locator(".plan-zone[data-zone=A2]").click()
    here.press("Copy to selected zones")
    stops = page.locator(".plan-remark[data-tone=stop]")
    expect(stops).to_contain_text("should differ but get the same")
    expect(page.locator(".plan-refused")).to_have_text("One thing stops this plan:")
    expect(field(page, "A2, light 1: ends at")).to_have_value("3:00")
    shot(here, "plan-refused")
    here.press("Undo")
    expect(stops).to_have_count(0)
    expect(field(page, "A2, light 1: ends at")).to_have_value("4:30")

    here.press("Save")
    here.says("Saved, revision 2")

    here.press("Rehearse")
    expect(page.get_by_role("progressbar", name="Part of the rehearsal that is done")).to_be_visible()
    expect(page.locator(".plan-rehearsed")).to_have_text(re.compile(r"^[1-9]\d? % rehearsed"), timeout=120_000)
    here.press("Cancel the rehearsal")
    here.says("Cancelled.")

    here.press("Check")
    here.says("then it can start.")
    start = page.get_by_role("button", name="Start now…", exact=True)
    expect(start).to_be_disabled()
    say_yes(page)
    here.says("All is well: it can start.")
    shot(here, "plan-checked")
    start.click()
    here.says("The lamps will light. Is all ready?")
    here.press("Start it")
    here.headline("Your turn: photo “baseline”")
    here.says("Wilma confirmed:")
    assert show.truth["dark"]
    here.press("Done, go on")
    here.headline("Lamps are lit")
    assert not show.truth["dark"]
    assert show.truth["zones"][4:] == [0, 0]


def test_file_rehearsed_and_started_later(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=1.0, begin=False)
    here = look(show.address)
    page = here.page
    page.get_by_role("link", name="Plan", exact=True).click()
    page.locator("input[type=file]").set_input_files(
        {"name": "wrong.toml", "mimeType": "text/plain", "buffer": b'title = "No zones"\n'}
    )
    here.says("wrong.toml, zones: this key is missing; add it.")
    page.locator("input[type=file]").set_input_files(HERE / "trial.toml")
    here.says("Ends ")
    expect(field(page, "B1, light 1: dose, J/cm²")).to_have_value("8")
    expect(field(page, "A2, light 1: level, per cent")).to_have_value("50")

    # Steps wait for a page that is loaded anew; somebody else's save is not written over without a word.
    typed(page, "A2, light 1: level, per cent", "40")
    page.wait_for_url("**?draft=*")
    page.once("dialog", lambda dialog: dialog.accept())
    page.reload()
    expect(field(page, "A2, light 1: level, per cent")).to_have_value("40")
    other = look(show.address)
    other.page.goto(page.url.split("?")[0])
    other.says("Ends ")
    typed(other.page, "Title", "Theirs")
    other.press("Save")
    other.says("Saved, revision 2")
    here.press("Save")
    here.says("saved revision 2 of plan")
    here.press("Look at theirs")
    expect(field(page, "Title")).to_have_value("Theirs")
    here.press("Undo")
    expect(field(page, "A2, light 1: level, per cent")).to_have_value("40")
    here.press("Save")
    here.says("Saved, revision 3")

    here.press("Rehearse")
    expect(page.locator(".plan-rehearsed")).to_contain_text("It ran to its end", timeout=120_000)
    rows = page.get_by_role("table", name="Light of each zone in the rehearsal").get_by_role("row")
    expect(rows.filter(has_text="A1")).to_contain_text("20 min")
    shot(here, "plan-rehearsed")

    page.get_by_role("button", name="later", exact=True).click()
    expect(page.get_by_label("Date and time of the start")).to_be_visible()
    here.press("Check")
    here.says("then it can start.")
    say_yes(page)
    page.get_by_role("button", name=re.compile(r"^Start .*\d\d:\d\d…")).click()
    here.press("Start it")
    here.says("set by Wilma.")
    page.get_by_role("link", name="Plan", exact=True).click()
    here.says("Starts that wait")
    shot(here, "plan-waits")
    here.press("Cancel this start")
    expect(page.get_by_text("Starts that wait")).to_be_hidden()
    here.press("Remove")
    here.says("was removed.")
    here.press("Undo")
    expect(page.locator(".plan-item")).to_have_count(1)
    assert show.truth["dark"]
