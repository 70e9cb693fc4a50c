"""From a mail to the answered checkpoint on a phone, with a password set: by a link that opens once."""

from collections.abc import Callable, Iterator

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect
from tests.chromium import CHROMIUM
from tests.notify.catchers import Mailbox
from tests.processes.daemon import eventually

from .conftest import DESK, OUT, PHONE, DemoProcess, Look

OPERATING = "lamp oil and herring"
NAME = "chamber.test"


@pytest.fixture
def named(launch: Callable[..., Browser]) -> Iterator[Browser]:
    """A browser that finds this machine by a name, as a phone finds it in the network."""
    browser = launch(CHROMIUM, f"--host-resolver-rules=MAP {NAME} 127.0.0.1")
    yield browser
    browser.close()


@pytest.fixture
def mailbox() -> Iterator[Mailbox]:
    box = Mailbox()
    yield box
    box.close()


def opened(browser: Browser, size: tuple[int, int], name: str) -> Look:
    return Look(browser.new_context(viewport={"width": size[0], "height": size[1]}).new_page(), name)


def set_up(page: Page, desk: Look, mailbox: Mailbox) -> None:
    """A channel, and the address for phones."""
    page.get_by_text("Add a channel", exact=True).click()
    page.get_by_label("Name").fill("Mail")
    page.get_by_label("Address", exact=False).first.fill(mailbox.url)
    desk.press("Add the channel")
    desk.says("Never tried.")
    desk.says("Messages carry no link, because the address of this dashboard for phones is not set.")
    page.get_by_text("Quiet hours and links", exact=True).click()
    desk.shoot("messages-no-link")
    desk.press("Use the address of this page")
    expect(page.get_by_text("Messages carry no link")).to_be_hidden()


def test_from_the_mail_to_the_answer(demo: Callable[..., DemoProcess], named: Browser, mailbox: Mailbox) -> None:
    chamber = demo(speed=10.0, begin=False)
    chamber.do("passwords", {"operate": OPERATING})
    address = chamber.address.replace("localhost", NAME)
    desk = opened(named, DESK, "1440-light")
    desk.page.goto(f"{address}/messages/demo")
    desk.page.get_by_label("Password").fill(OPERATING)
    desk.press("Sign in")
    set_up(desk.page, desk, mailbox)

    chamber.do("begin")
    eventually(lambda: mailbox.letters, 60)
    assert mailbox.letters[-1]["subject"] == "Your turn: photo 'baseline' · Demo chamber"
    assert "this link opens once" in mailbox.text()
    link = mailbox.link()
    assert link.startswith(f"{address}/call/")
    with httpx.Client(headers={"host": link.split("/")[2]}, timeout=20) as scanner:  # mail programs look at links
        for method in ("HEAD", "GET", "GET"):
            assert scanner.request(method, link.replace(NAME, "127.0.0.1")).status_code == 200

    phone = opened(named, PHONE, "360-light")
    page = phone.page
    page.goto(f'data:text/html,<a href="{link}">Answer</a>')  # from elsewhere, as out of a mail
    page.get_by_text("Answer").click()
    phone.says("Photo “baseline”")
    phone.shoot("link")
    phone.press("Open the checkpoint")
    page.wait_for_url("**/now/demo#checkpoint")
    phone.says("for photo “baseline”")
    prompt = page.locator("#checkpoint")
    prompt.wait_for()
    page.wait_for_function("document.getElementById('checkpoint').getBoundingClientRect().top < 200")
    page.screenshot(path=OUT / "link-checkpoint-360-light.png")
    pause = page.get_by_role("button", name="Pause", exact=True)
    expect(pause).to_be_disabled()
    phone.says("You came by a link")
    page.evaluate("(b) => { b.disabled = false; b.click(); }", pause.element_handle())  # refused all the same
    phone.says("The link you came by lets you look, photograph and answer photo 'baseline'")
    phone.press("Done, go on")
    phone.headline("Lamps are lit")
    assert not chamber.truth["dark"]

    again = opened(named, PHONE, "360-light")
    again.page.goto(link)
    again.says("This link opens nothing")
    again.says("was answered already")
    again.shoot("link-again")
    page.locator("#stop").click()
    phone.headline("Paused")
    assert chamber.truth["dark"]
    desk.page.goto(f"{address}/journal/demo")
    desk.says("by the link in a message")
    # Over plain http Chromium reports a header that it leaves aside, and the answer 401 from before signing in.
    errors = [error for look in (desk, phone) for error in look.errors]
    assert [each for each in errors if "401" not in each and "Opener-Policy" not in each] == []
