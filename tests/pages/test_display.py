"""How the page looks to different people: preferences, widths, keyboard, no script-framework look."""

import re
from collections.abc import Callable

import pytest

from .conftest import DESK, HERE, LONG, PHONE, DemoProcess, Look

WIDE = (1920, 1080)


def test_preferences_are_kept_in_the_browser(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=1.0)
    here = look(show.address)
    here.says("°C")
    here.press("Display")
    here.press("°F")
    here.press("2:20 pm")
    here.press("Dark")
    name = here.page.get_by_label("Your name, for the journal")
    name.fill("Wilma Ø; x=1")
    name.blur()
    here.page.wait_for_function("document.cookie.includes('lampwarden_name=Wilma')")  # it comes by way of the server
    here.shoot("display")
    here.press("Done")
    here.says("°F")
    assert here.page.evaluate("document.documentElement.dataset.theme") == "dark"
    here.page.reload()
    here.says("°F")
    here.headline("Your turn")
    assert here.page.locator(".part", has_text="Temperatures").get_by_text("°C").count() == 0
    assert here.page.locator(".journal time").first.inner_text().endswith("m")
    assert here.page.evaluate("document.documentElement.dataset.theme") == "dark"
    here.press("Done, go on")
    here.says("answered by Wilma Ø; x=1")
    here.page.locator("#stop").click()
    here.says("Stopped by Wilma Ø; x=1")


def test_what_is_typed_stays(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """A field half filled keeps its text while the page around it is brought up to date, and while it is hidden."""
    show = demo(speed=1.0)
    here = look(show.address)
    field = here.page.get_by_label("What you saw, for the journal (may stay empty)")
    field.press_sequentially("B2 paler")
    here.press("Display")
    name = here.page.get_by_label("Your name, for the journal")
    name.press_sequentially("Wil")
    here.press("°F")
    here.says("°F")
    beat = here.page.locator("[data-beat]").get_attribute("data-beat")
    here.page.wait_for_function(
        "before => document.querySelector('[data-beat]').dataset.beat > Number(before) + 2", arg=beat
    )
    assert name.input_value() == "Wil"
    here.press("Done")
    assert field.input_value() == "B2 paler"
    here.press("Done, go on")
    here.says("B2 paler")
    here.says("answered by Wil")


def test_clock_is_the_readers(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """Oslo, not UTC, already at the very first visit."""
    show = demo(speed=1.0)
    here = look(show.address)
    local = here.page.evaluate("new Date().toTimeString().slice(0, 2)")
    here.page.get_by_text(f"Seen at {local}:").wait_for()


@pytest.mark.skipif(not LONG, reason="hours of an attic, and every page: for the long form")
@pytest.mark.timeout(600)
def test_every_page_keeps_to_the_readers_taste(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """In Fahrenheit and with 12 hours no page says a degree Celsius or a time of the 24-hour clock."""
    show = demo(HERE.parents[1] / "host/lampwarden/rig/scenario/stifling_attic.toml", 3000.0)
    here = look(show.address)
    here.page.set_default_timeout(300_000)  # hours of an attic, beside other tests
    here.press("Display")
    here.press("°F")
    here.press("2:20 pm")
    here.press("Done")
    here.press("Done, go on")
    here.headline("Cut off")
    page, seen = here.page, {}
    for name in ("now", "plan", "sheets", "results", "chamber", "journal", "messages"):
        page.goto(f"{show.address}/{name}/demo")
        page.locator("h1").wait_for()
        page.wait_for_timeout(1000)
        page.evaluate("document.querySelectorAll('details:not([open]) > summary').forEach((s) => s.click())")
        page.wait_for_timeout(500)
        seen[name] = page.locator("#content").inner_text()
    page.goto(f"{show.address}/plan/demo")
    page.locator("[data-pattern=single]").click()
    here.says("Ends ")
    page.evaluate("document.querySelectorAll('details:not([open]) > summary').forEach((s) => s.click())")
    seen["a plan"] = page.locator("#content").inner_text()
    assert "°F" in seen["now"]
    assert "°F" in seen["chamber"]
    # But for what a register counts in: hundredths of a degree Celsius.
    odd = re.compile(r".*(?:(?<!0\.01 )°C|(?<![\d:])(?:1[3-9]|2[0-3]):[0-5]\d(?! h)).*")
    assert {name: odd.findall(text) for name, text in seen.items() if odd.search(text)} == {}


def test_every_width_holds(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """No sideways scrolling, and the stop can be seen whole wherever the page is scrolled to."""
    show = demo(speed=30.0)
    here = look(show.address)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.page.locator(".chart svg").first.wait_for()
    for size in (PHONE, (600, 900), (800, 600), (1100, 800), (1240, 800), DESK, WIDE):
        here.page.set_viewport_size({"width": size[0], "height": size[1]})
        here.page.wait_for_timeout(300)  # charts follow a moment later
        here.name = f"{size[0]}-light"
        here.shoot("width")
        wide = "[...document.querySelectorAll('.part')].map(p => [p.className, p.scrollWidth - p.clientWidth])"
        assert [part for part in here.page.evaluate(wide) if part[1] > 1] == [], size
        for at in ("0", "document.body.scrollHeight"):
            here.page.evaluate(f"window.scrollTo(0, {at})")
            box = here.page.locator("#stop").bounding_box()
            assert box is not None
            assert box["x"] >= 0
            assert box["y"] >= 0
            assert box["x"] + box["width"] <= size[0]
            assert box["y"] + box["height"] <= size[1]
            assert box["height"] >= 44


def test_stop_by_keyboard(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.page.locator("#stop").focus()
    here.page.keyboard.press("Enter")
    here.headline("Paused")
    assert show.truth["dark"]


def test_nothing_jumps_while_it_counts(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """Headings stay where they are from tick to tick while the lamps are lit."""
    show = demo(speed=5.0)
    here = look(show.address, PHONE)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.page.locator(".chart svg").first.wait_for()
    places = (
        "[...document.querySelectorAll('h1, h2')].filter(h => h.offsetParent).map(h => h.getBoundingClientRect().y)"
    )
    here.page.wait_for_timeout(1500)
    first = here.page.evaluate(places)
    seen = here.page.get_by_text("Seen at ").inner_text()
    here.page.wait_for_function("seen => !document.body.innerText.includes(seen)", arg=seen)
    here.page.wait_for_timeout(1000)
    assert here.page.evaluate(places)[:6] == pytest.approx(first[:6], abs=1)


def test_unknown_addresses(demo: Callable[..., DemoProcess], chromium: object) -> None:
    show = demo(begin=False)
    context = chromium.new_context()  # type: ignore[attr-defined]
    page = context.new_page()
    for path in ("/nothing", "/now/nowhere", "/now"):
        answer = page.goto(show.address + path)
        assert answer.status == 404
        assert "Nothing is here" in page.inner_text("body")
    page.get_by_role("link", name="Go to the chamber").click()
    page.get_by_text("At rest").wait_for()
    context.close()
