"""Every page and dialog by the rules of WCAG 2.1 AA and good practice (axe-core), in light and dark, wide and narrow.

What a rule cannot see is tested beside it: that all can be done by keyboard, and that the focus is not lost.
"""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from .conftest import DESK, HERE, LONG, PHONE, SCENARIO, DemoProcess, Look, looks

pytestmark = pytest.mark.timeout(300)
REST: dict[str, Any] = {"phone-light": (PHONE, "light"), "desk-dark": (DESK, "dark")}
"""The long form tries these too, and each test in all four."""
RULES: dict[str, Any] = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"],
}
AXE = Axe()
DIALOG = None if LONG else ".q-dialog"
"""What lies behind it has been looked at before, so the long form alone looks again."""


def wrong(page: Page, part: str | None = None) -> list[str]:
    """What axe-core finds on the page as it is now, or in a part of it: rule, element and why.

    First all that moves is brought to rest.
    """
    page.evaluate("document.getAnimations().forEach((moving) => moving.finish?.())")
    found = AXE.run(page, context=part, options=RULES).response["violations"]
    return [
        f"{rule['id']}: {node['html'][:160]} ({'; '.join(why['message'] for why in node['any'] + node['all'])[:300]})"
        for rule in found
        for node in rule["nodes"]
    ]


def unfold(page: Page) -> None:
    """Opens all that is folded away."""
    page.evaluate("document.querySelectorAll('details:not([open]) > summary').forEach((summary) => summary.click())")
    page.wait_for_timeout(300)


@pytest.fixture(scope="module")
def idle() -> Iterator[DemoProcess]:
    """A demo in which nothing has happened yet."""
    show = DemoProcess(HERE / "trial.toml", 1.0, begin=False)
    yield show
    show.close()


@looks("desk", **REST)
def test_pages_of_a_fresh_host(
    idle: DemoProcess, look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    here = look(idle.address, size, scheme)
    page = here.page
    found = {"now": wrong(page)}
    for name in ("plan", "sheets", "results", "chamber", "journal", "messages"):
        page.goto(f"{idle.address}/{name}/demo")
        page.locator("h1").wait_for()
        unfold(page)
        found[name] = wrong(page)
    page.goto(f"{idle.address}/now/demo")
    for button in ("Display", "Start…"):
        here.press(button)
        page.locator(".q-dialog .paper").wait_for()
        page.wait_for_timeout(500)  # it fades in
        found[button] = wrong(page, DIALOG)
        page.keyboard.press("Escape")
        page.locator(".q-dialog .paper").wait_for(state="detached")
    assert {name: each for name, each in found.items() if each} == {}


@looks("phone", **REST)
def test_editors(idle: DemoProcess, look: Callable[..., Look], size: tuple[int, int], scheme: str) -> None:
    here = look(idle.address, size, scheme)
    page = here.page
    page.goto(f"{idle.address}/plan/demo")
    page.locator("[data-pattern=light-by-chemical]").click()
    here.says("Ends ")
    unfold(page)
    found = {"plan": wrong(page)}
    page.get_by_role("link", name="Open this sheet").click()
    page.locator(".sh-paper").wait_for()
    unfold(page)
    found["sheet"] = wrong(page)
    assert {name: each for name, each in found.items() if each} == {}


@looks("phone", **REST)
def test_a_session(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    show = demo(SCENARIO / "ferry_timetable.toml", 60.0)
    here = look(show.address, size, scheme)
    page = here.page
    here.headline("Your turn")
    found = {"called": wrong(page)}
    here.press("Let the chamber's camera take it")
    page.get_by_text("Read from one photo by the fixed camera").wait_for(timeout=200_000)
    found["photo"] = wrong(page)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    page.locator(".course-part .chart svg").first.wait_for()
    found["lit"] = wrong(page)
    show.do("door", True)
    here.headline("The door is open")
    found["held"] = wrong(page)
    here.press("End the session…")
    page.wait_for_timeout(500)
    found["end"] = wrong(page, DIALOG)
    here.press("End the session")
    here.headline("Ended by hand")
    unfold(page)
    found["ended"] = wrong(page)
    page.get_by_role("link", name="Results", exact=True).click()
    page.get_by_role("link", name="Ferry timetable, light ladder").click()
    here.says("What the readings say")
    unfold(page)
    found["results"] = wrong(page)
    page.goto(f"{show.address}/journal/demo")
    here.says("Session begun")
    found["journal"] = wrong(page)
    assert {name: each for name, each in found.items() if each} == {}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_signing_in(demo: Callable[..., DemoProcess], chromium: Browser, scheme: str) -> None:
    show = demo(begin=False)
    show.do("passwords", {"operate": "lamp oil and herring", "watch": "only a look please"})
    context = chromium.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, color_scheme=scheme)
    page = context.new_page()
    page.goto(f"{show.address}/now/demo")
    page.wait_for_url("**/sign-in?to=*")
    assert wrong(page) == []
    page.get_by_label("Password").fill("something else")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("not one of the passwords")
    assert wrong(page) == []
    context.close()


KINDS = "a[href], button, input, select, textarea, summary, [tabindex='0']"
CONTROLS = f"""[...document.querySelectorAll("{KINDS}")].filter(
    (one) => !one.disabled && one.offsetParent !== null && one.getBoundingClientRect().width > 1
      && !one.classList.contains('said-only'))"""
REACHED = """() => {
  window.reached = new Set();
  window.unseen = new Set();
  document.addEventListener('focusin', (event) => {
    window.reached.add(event.target);
    const style = getComputedStyle(event.target);
    const around = event.target.closest('label') && getComputedStyle(event.target.closest('label'));
    const seen = (one) => one && one.outlineStyle !== 'none' && parseFloat(one.outlineWidth) >= 2;
    if (!seen(style) && !seen(around)) window.unseen.add(event.target.outerHTML.slice(0, 120));
  });
}"""


@pytest.mark.parametrize(
    "name", ["now", "plan", "sheets", "chamber", "journal", "messages"] if LONG else ["now", "chamber"]
)
def test_all_is_reached_by_keyboard_and_seen(idle: DemoProcess, look: Callable[..., Look], name: str) -> None:
    page = look(idle.address).page
    page.goto(f"{idle.address}/{name}/demo")
    page.locator("h1").wait_for()
    page.wait_for_timeout(1000)
    unfold(page)
    page.evaluate(REACHED)
    for _ in range(
        len(page.evaluate(f"{CONTROLS}.map(() => 1)")) + 15
    ):  # a time of day has a stop for each of its parts
        page.keyboard.press("Tab")
    assert (
        page.evaluate(f"{CONTROLS}.filter((one) => !reached.has(one)).map((one) => one.outerHTML.slice(0, 120))") == []
    )
    assert page.evaluate("[...unseen]") == []


def test_the_way_past_the_head(idle: DemoProcess, look: Callable[..., Look]) -> None:
    page = look(idle.address).page
    page.keyboard.press("Tab")
    expect(page.locator("#stop")).to_be_focused()  # the stop comes before all else
    page.keyboard.press("Tab")
    past = page.get_by_role("link", name="To the content of this page")
    expect(past).to_be_focused()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('#content').contains(document.activeElement)")


def test_a_dialog_gives_the_focus_back(idle: DemoProcess, look: Callable[..., Look]) -> None:
    here = look(idle.address)
    page = here.page
    display = page.get_by_role("button", name="Display")
    display.focus()
    page.keyboard.press("Enter")
    inside = "document.querySelector('.q-dialog')?.contains(document.activeElement)"
    page.wait_for_function(inside)
    page.keyboard.press("Tab")
    assert page.evaluate(inside)
    page.keyboard.press("Escape")
    page.get_by_role("dialog", name="Display").wait_for(state="detached")
    expect(display).to_be_focused()

    # And whatever is brought up to date around it leaves it there.
    beat = page.locator("[data-beat]").get_attribute("data-beat")
    page.wait_for_function(
        "before => document.querySelector('[data-beat]').dataset.beat > Number(before) + 2", arg=beat
    )
    expect(display).to_be_focused()
