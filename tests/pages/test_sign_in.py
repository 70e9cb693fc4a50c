"""Signing in on a phone to watch: everything is seen, the stop works, and no order gets through."""

import re
from collections.abc import Callable, Iterator

import httpx
import pytest
from playwright.sync_api import Browser, expect

from .conftest import PHONE, DemoProcess, Look

OPERATING, WATCHING = "lamp oil and herring", "only a look please"


@pytest.fixture
def phone(chromium: Browser) -> Iterator[Look]:
    context = chromium.new_context(viewport={"width": PHONE[0], "height": PHONE[1]}, color_scheme="dark")
    yield Look(context.new_page(), "360-dark")
    context.close()


def test_a_watcher_sees_and_stops_but_cannot_order(demo: Callable[..., DemoProcess], phone: Look) -> None:
    chamber = demo(speed=10.0)
    chamber.do("passwords", {"operate": OPERATING, "watch": WATCHING})
    page = phone.page

    page.goto(f"{chamber.address}/now/demo")  # not signed in: led to the form, and back afterwards
    page.wait_for_url("**/sign-in?to=%2Fnow%2Fdemo")
    phone.shoot("sign-in")
    page.get_by_label("Password").fill("something else")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("not one of the passwords")
    phone.shoot("sign-in-wrong")
    page.get_by_label("Password").fill(WATCHING)
    phone.press("Sign in")
    page.wait_for_url("**/now/demo")
    phone.says("watching only")
    # A link in a mail comes from elsewhere, and the browser holds the cookie back at first.
    page.goto(f'data:text/html,<a href="{chamber.address}/journal/demo">Look</a>')
    page.get_by_text("Look").click()
    page.wait_for_url("**/journal/demo")
    phone.says("watching only")
    page.goto(f"{chamber.address}/now/demo")

    with httpx.Client(base_url=chamber.address, timeout=20) as operator:
        operator.post("/sign-in", data={"password": OPERATING})
        order = {"by": "Wilma", "checkpoint": "baseline"}
        assert operator.post("/api/chambers/demo/answer", json=order).status_code == 200
    phone.headline("Lamps are lit")
    pause = page.get_by_role("button", name="Pause", exact=True)
    expect(pause).to_be_disabled()
    expect(pause).to_have_accessible_description(re.compile("buttons that give orders are off"))
    phone.says("You are only watching")
    # A page that was tampered with is refused all the same.
    page.evaluate("""() => { const b = [...document.querySelectorAll("button")].find((b) => b.textContent === "Pause");
        b.disabled = false; b.click(); }""")
    phone.says("You may watch, but not give orders")
    phone.shoot("watching")
    assert not chamber.truth["dark"]
    page.locator("#stop").click()
    phone.says("Stopped: the lamps were ordered dark.")
    phone.headline("Paused")
    assert chamber.truth["dark"]

    phone.press("Display")
    phone.says("Sign out")
    phone.shoot("watching-display")
    phone.press("Sign out")
    page.wait_for_url("**/sign-in")
    page.goto(f"{chamber.address}/journal/demo")
    page.wait_for_url("**/sign-in?to=%2Fjournal%2Fdemo")
    assert phone.foreign == []
    # The browser itself reports the answers 401 and 403 to what was tried above.
    assert [error for error in phone.errors if "401" not in error and "403" not in error] == []
