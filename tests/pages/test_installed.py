"""The dashboard as an app: its description, its icons, and the page that is shown when the host is gone."""

import io
from collections.abc import Callable

import httpx
import numpy as np
import pytest
from playwright.sync_api import Browser, expect

from lampwarden.web.installed import ICONS, MANIFEST
from lampwarden.web.pages.shell import ASSETS

from .conftest import PHONE, DemoProcess, Look
from .icons import PICTURES, drawn

WHOLE_BROWSER = True
Image = pytest.importorskip("PIL.Image", reason="the extra 'photos' is not installed")


def test_icons_are_the_drawing(chromium: Browser) -> None:
    for name, (width, share) in PICTURES.items():
        kept = np.asarray(Image.open(ASSETS / name).convert("RGBA"), dtype=float)
        now = np.asarray(Image.open(io.BytesIO(drawn(chromium, width, share))).convert("RGBA"), dtype=float)
        assert kept.shape == now.shape == (width, width, 4)
        assert np.abs(kept - now).mean() < 1.0, f"{name} is old: run python -m tests.pages.icons"


def test_a_browser_takes_the_description(demo: Callable[..., DemoProcess], chromium: Browser) -> None:
    show = demo(begin=False)
    show.do("passwords", {"operate": "lamp oil and herring"})
    # Browsers ask for it without the cookie, so without signing in.
    about = httpx.get(show.address + MANIFEST)
    assert about.headers["content-type"] == "application/manifest+json"
    told = about.json()
    assert (told["start_url"], told["scope"], told["display"]) == ("/", "/", "standalone")
    for icon in told["icons"]:
        picture = httpx.get(show.address + icon["src"])
        assert picture.headers["content-type"] == icon["type"], icon["src"]
        if icon["type"] == "image/png":
            assert "x".join(map(str, Image.open(io.BytesIO(picture.content)).size)) == icon["sizes"]
    assert len(told["icons"]) == len(ICONS)
    # Chromium's own judgement.
    context = chromium.new_context()
    page = context.new_page()
    page.goto(show.address)
    page.get_by_label("Password").fill("lamp oil and herring")
    page.keyboard.press("Enter")
    page.get_by_text("At rest").first.wait_for()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    devtools = context.new_cdp_session(page)
    parsed = devtools.send("Page.getAppManifest")
    assert parsed["url"] == show.address + MANIFEST
    assert parsed["errors"] == []
    why_not = [each["errorId"] for each in devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]]
    assert why_not == ["in-incognito"]  # as all windows of this test are
    context.close()


@pytest.mark.parametrize("size", [PHONE], ids=str)
def test_the_host_is_gone(demo: Callable[..., DemoProcess], chromium: Browser, size: tuple[int, int]) -> None:
    show = demo(speed=20.0)
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, timezone_id="Europe/Oslo")
    here = Look(context.new_page(), f"{size[0]}-light")
    page = here.page
    page.goto(show.address + "/now/demo")
    here.headline("Your turn")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("(localStorage.getItem('lampwarden_last') || '').includes('Your turn')")
    kept = page.evaluate(
        "async () => (await Promise.all((await caches.keys()).map(async n => (await (await caches.open(n)).keys())"
        ".map(r => new URL(r.url).pathname)))).flat()"
    )
    assert kept == ["/unreachable"]  # nothing of the chamber, no photo, no number
    show.process.kill()
    show.process.join()
    page.goto(show.address + "/results/demo")
    expect(page.get_by_role("heading", name="The host cannot be reached")).to_be_visible()
    here.says("Demo chamber: Your turn: photo “baseline”")
    here.says("It may be different now.")
    assert page.get_by_role("button").all_inner_texts() == ["Try again now"]  # nothing that could be pressed in vain
    here.shoot("unreachable")
    here.press("Try again now")
    here.says("Still no answer.")
    context.close()


def test_it_comes_back_by_itself(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(begin=False)
    here = look(show.address)
    page = here.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    page.goto(show.address + "/now/demo")
    here.says("The host cannot be reached")
    page.context.set_offline(False)
    here.headline("At rest")
    here.errors.clear()  # the browser reports what it could not reach
