"""A person runs a whole session from the page, on a phone and at a desk."""

from collections.abc import Callable

import pytest

from .conftest import PHONE, SCENARIO, DemoProcess, Look, looks


@looks("desk")
def test_session_from_start_to_end(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    show = demo(begin=False)
    here = look(show.address, size, scheme)
    here.headline("At rest")
    here.shoot("idle")
    here.press("Start…")
    here.says("Never look at lit lamps, nor at their reflection")
    here.press("Start now")

    here.headline("Your turn: photo “baseline”")
    here.says("Cover B3 afterwards")
    assert show.truth["dark"]
    assert show.truth["inspection"] > 0
    here.shoot("checkpoint")
    here.page.get_by_label("What you saw, for the journal (may stay empty)").fill("All teal rules clear.")
    here.press("Done, go on")

    here.headline("Lamps are lit")
    assert not show.truth["dark"]
    here.says("answered by a person at the page: All teal rules clear.")
    here.says("lit, 100 %")

    here.press("Pause")
    here.headline("Paused")
    assert show.truth["dark"]
    here.shoot("paused")
    here.press("Go on")
    here.headline("Lamps are lit")
    here.shoot("lit")

    here.page.locator("#stop").click()
    here.says("Stopped: the lamps were ordered dark.")
    assert show.truth["dark"]
    here.says("Stopped by a person at the page; the lamps went dark at once.")
    here.press("Go on")
    here.headline("Lamps are lit")

    here.headline("Your turn: photo “12 min”")
    assert show.truth["dark"]
    here.press("Done, go on")
    here.headline("Finished")
    here.says("All treatment lamps are dark.")
    here.page.locator(".chart svg").first.wait_for()
    here.shoot("finished")
    lit_s = show.truth["lit_s"]
    assert lit_s[0] == pytest.approx(1200, abs=5)
    assert lit_s[1] == pytest.approx(300, abs=5)
    assert lit_s[3] == pytest.approx(8 / 82e-4, abs=5)  # 8 J/cm2 at 82 W/m2
    assert (lit_s[2], lit_s[4], lit_s[5]) == (0, 0, 0)


@looks("phone")
def test_overheating_is_told_and_ends_dark(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    show = demo(SCENARIO / "stifling_attic.toml", 600.0)
    here = look(show.address, size, scheme)
    here.press("Done, go on")
    here.headline("Cooling down")
    here.says("Goes on by itself once it is cool.")
    here.shoot("cooling")
    here.headline("Cut off")
    assert show.truth["dark"]
    here.says("not completed")
    here.shoot("cut-off")


def test_end_asks_first(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.press("End the session…")
    here.press("Keep it")
    assert not show.truth["dark"]
    here.press("End the session…")
    here.page.get_by_label("Why, for the journal (may stay empty)").fill("The sheet curls.")
    here.press("End the session")
    here.headline("Ended by hand")
    here.says("The sheet curls.")
    assert show.truth["dark"]


def test_stop_works_over_an_open_dialog(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=10.0)
    here = look(show.address, PHONE)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.press("Display")
    here.says("Your name, for the journal")
    here.page.locator("#stop").click()
    here.says("Stopped: the lamps were ordered dark.")
    assert show.truth["dark"]
