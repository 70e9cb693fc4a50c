"""What the page says when something is wrong: board, door, sensors, connection."""

from collections.abc import Callable

from .conftest import DESK, PHONE, DemoProcess, Look


def test_board_lost_and_found(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=5.0)
    here, phone = look(show.address, DESK, "light"), look(show.address, PHONE, "dark")
    here.press("Done, go on")
    here.headline("Lamps are lit")
    show.do("plugged", False)
    here.headline("The board does not answer")
    phone.headline("The board does not answer")
    here.says("The board darkens the lamps by itself")
    here.shoot("board-lost")
    phone.shoot("board-lost")
    assert show.truth["dark"]
    show.do("plugged", True)
    here.headline("Lamps are lit")


def test_door(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    show.do("door", True)
    here.headline("The door is open")
    assert show.truth["dark"]
    here.shoot("door")
    show.do("door", False)
    here.headline("The door was opened")
    here.press("Go on")
    here.headline("Lamps are lit")


def test_trip_is_cleared_from_the_page(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address, PHONE)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    show.do("stop_button", True)
    here.headline("The board cut the light off")
    assert show.truth["dark"]
    here.shoot("trip")
    show.do("stop_button", False)
    here.press("Clear the trip, go on")
    here.headline("Lamps are lit")


def test_start_waits_for_what_is_wrong(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(begin=False)
    here = look(show.address)
    show.do("door", True)
    here.says("The door is open. Close it.")
    start = here.page.get_by_role("button", name="Start…")
    assert start.is_disabled()
    here.shoot("idle-door-open")
    show.do("door", False)
    here.page.locator("button:enabled", has_text="Start…").wait_for()


def test_lost_connection_is_told_and_mends_itself(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    """The page goes offline: it says so, its stop says that it did not get through, and all is well again later."""
    show = demo(speed=1.0)
    here = look(show.address, PHONE)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    assert not here.page.locator(".lost").is_visible()
    here.page.context.set_offline(True)
    here.page.locator(".lost").wait_for()
    here.page.locator("#stop").click()
    here.says("The stop did not get through. Press the stop button on the chamber.")
    here.shoot("no-connection")
    here.errors.clear()  # the browser reports each failed try
    here.page.context.set_offline(False)
    here.page.locator(".lost").wait_for(state="hidden", timeout=40_000)
    here.headline("Lamps are lit")
    here.page.locator("#stop").click()
    here.headline("Paused")
    assert show.truth["dark"]
    here.errors.clear()


def test_daemon_gone_is_told(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=1.0)
    here = look(show.address, DESK)
    show.process.kill()
    here.page.locator(".lost").wait_for()
    here.says("the lamps' safety does not depend on it")
    here.errors.clear()
