"""Large letters on the page Now: in by one button, out by another or Escape, remembered, and readable from afar."""

from collections.abc import Callable

import pytest

from .conftest import DESK, LONG, PHONE, DemoProcess, Look

WHOLE_BROWSER = True

WIDE = (1920, 1080)


@pytest.mark.parametrize("size", [PHONE, WIDE] if LONG else [WIDE], ids=str)
def test_in_and_out(demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int]) -> None:
    show = demo(speed=20.0)
    here = look(show.address, size)
    here.headline("Your turn")
    here.press("Large letters")
    afar = here.page.locator(".afar")
    afar.get_by_text("Your turn: photo “baseline”").wait_for()
    afar.get_by_text("Waiting for").wait_for()
    here.shoot("afar-ask")
    assert here.page.locator(".page").is_hidden()
    here.page.keyboard.press("Escape")
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.press("Large letters")
    heading = afar.get_by_role("heading", name="Lamps are lit")
    heading.wait_for()
    afar.get_by_text("Next photo, “").wait_for()
    here.shoot("afar-lit")
    # A letter of the state is at least 5 % of a desk screen's height: 15 mm on a 24-inch one, read from 5 m.
    letter_px = heading.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert letter_px >= (40 if size == PHONE else 0.05 * size[1])
    if size != PHONE:  # nobody scrolls from across the room
        assert here.page.evaluate("document.documentElement.scrollHeight") <= size[1]
    here.page.reload()
    afar.get_by_text("Lamps are lit").wait_for()
    here.page.wait_for_function("document.documentElement.dataset.awake === 'yes'")
    assert afar.get_by_text("The screen stays on.").is_visible()
    here.page.locator("#stop").click()  # in reach as everywhere
    afar.get_by_text("Paused").wait_for()
    assert show.truth["dark"]
    here.press("Back to the page")
    here.headline("Paused")
    here.page.reload()
    here.headline("Paused")
    assert afar.is_hidden()


def test_faults_are_said_too(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address, DESK, "dark")
    here.press("Large letters")
    show.do("stop_button", True)
    afar = here.page.locator(".afar")
    afar.get_by_text("The board cut the light off").wait_for()
    afar.get_by_text("The stop button on the chamber is down.").wait_for()
    here.shoot("afar-fault")
    # Other pages stay as they are.
    here.page.goto(show.address + "/messages/demo")
    here.says("Where messages go")
