"""The page calls by sound and by notifications of the browser: real tones, a real worker, real permissions."""

import json
from collections.abc import Callable

from playwright.sync_api import Page, expect
from tests.processes.daemon import eventually

from .conftest import DESK, PHONE, DemoProcess, Look

WHOLE_BROWSER = True

LISTEN = """
window.tones = [];
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (at) {
  window.tones.push([this.frequency.value, this.type, this.context.state]);
  return start.call(this, at);
};
"""
"""Notes each tone that the page makes; it sounds all the same."""
SHOWN = """async () => {
  const worker = await navigator.serviceWorker.getRegistration();
  return ((await worker?.getNotifications()) ?? []).map(n => [n.title, n.tag, n.requireInteraction, n.data.href]);
}"""


def switch(here: Look, group: str, name: str) -> None:
    here.page.get_by_role("group", name=group).get_by_role("button", name=name).click()


def tones(page: Page) -> list[list[object]]:
    found: list[list[object]] = page.evaluate("window.tones")
    return found


def heard(page: Page, count: int) -> list[list[object]]:
    """The tones, once there are so many; they are forgotten then."""
    page.wait_for_function("count => window.tones.length >= count", arg=count)
    found = tones(page)
    page.evaluate("window.tones = []")
    return found


def test_a_call_and_a_fault_sound_differently(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=60.0, begin=False)
    here = look(show.address)
    page = here.page
    page.add_init_script(LISTEN)
    page.reload()
    here.headline("At rest")
    here.press("Display")
    switch(here, "Sound when you are called", "On")
    heard(page, 2)  # how it sounds
    here.press("Done")
    show.do("begin")
    here.headline("Your turn")
    call = heard(page, 2)
    assert [(hz, state) for hz, _, state in call] == [(587, "running"), (880, "running")]
    page.wait_for_timeout(3000)
    assert tones(page) == []  # once
    page.reload()  # a page loaded anew has called already, and says that it must be touched to sound again
    here.headline("Your turn")
    page.wait_for_timeout(2500)
    assert tones(page) == []
    here.press("Done, go on")
    here.headline("Lamps are lit")
    show.do("stop_button", True)
    here.headline("The board cut the light off")
    fault = heard(page, 8)
    assert {(hz, shape) for hz, shape, _ in fault} == {(740, "square"), (494, "square")}


def test_reminders_grow(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """The first reminder comes after five minutes of waiting: with each there are more tones."""
    show = demo(speed=1.0)
    here = look(show.address)
    page = here.page
    page.add_init_script(LISTEN)
    page.reload()
    here.headline("Your turn")
    here.press("Display")
    switch(here, "Sound when you are called", "On")
    heard(page, 2)
    base = page.evaluate("JSON.parse(document.querySelector('[data-beat]').dataset.alerts)[0]")
    assert base["step"] == 0
    page.evaluate("document.querySelector('[data-beat]').remove()")  # from here on only what is told below
    page.evaluate("window.tones = []")
    counts = []
    for step in (1, 2, 3):  # what the server tells when a reminder is due
        alert = {**base, "step": step, "key": f"{base['key'][:-1]}{step}"}
        page.evaluate(
            "told => document.dispatchEvent(new CustomEvent('lampwarden-beat', {detail: {alerts: told}}))",
            json.dumps([alert]),
        )
        counts.append(len(heard(page, 2 * (1 + step))))
    assert counts == [4, 6, 8]


def test_notifications_come_and_go(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=60.0, begin=False)
    here = look(show.address, PHONE)
    page = here.page
    page.context.grant_permissions(["notifications"], origin=show.address)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    here.press("Display")
    switch(here, "Notifications by the browser", "On")
    expect(
        page.get_by_role("group", name="Notifications by the browser").get_by_role("button", name="On")
    ).to_have_attribute("aria-pressed", "true")
    here.shoot("calling-display")
    here.press("Done")
    page.goto(show.address + "/journal/demo")  # from whatever page is open
    show.do("begin")
    assert eventually(lambda: page.evaluate(SHOWN)) == [
        ["Your turn: photo “baseline” · Demo chamber", "demo", False, "/now/demo"]
    ]
    page.goto(show.address + "/now/demo")
    here.press("Done, go on")
    assert eventually(lambda: not page.evaluate(SHOWN))


def test_what_the_browser_forbids_is_said(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=1.0, begin=False)
    here = look(show.address, DESK)
    page = here.page
    page.context.clear_permissions()
    here.press("Display")
    switch(here, "Notifications by the browser", "On")
    here.says("This browser forbids notifications from this address.")
    off = page.get_by_role("group", name="Notifications by the browser").get_by_role("button", name="Off")
    expect(off).to_have_attribute("aria-pressed", "true")
    here.shoot("calling-forbidden")
    here.press("Done")
    page.evaluate("lampwarden.choose('sound', 'yes')")
    page.reload()
    said = page.locator("#calling-said")
    expect(said).to_contain_text("lets a page sound only after a touch")
    here.shoot("calling-silent")
    said.get_by_role("button", name="Let it sound").click()
    expect(said).to_be_hidden()
