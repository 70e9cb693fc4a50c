"""The page Journal: found, added to, checked."""

from collections.abc import Callable

from .conftest import PHONE, DemoProcess, Look


def test_find_add_and_check(demo: Callable[..., DemoProcess], look: Callable[..., Look]) -> None:
    show = demo(speed=60.0)
    here = look(show.address, PHONE)
    here.press("Done, go on")
    here.headline("Lamps are lit")
    here.page.goto(show.address + "/journal/demo")
    lines = here.page.locator(".diary-lines li")
    lines.first.wait_for()
    here.page.get_by_label("Words", exact=True).fill("answered by")
    here.says("2 lines.")
    assert "answered by" in lines.first.inner_text().lower()
    here.page.get_by_label("Words", exact=True).fill("50 %_nothing")
    here.says("No line fits.")
    here.page.get_by_label("Words", exact=True).fill("")
    here.page.get_by_role("combobox", name="What").select_option(label="Photos and readings")
    here.says("No line fits.")
    here.page.get_by_role("combobox", name="What").select_option(label="Everything")
    here.page.get_by_label("Remark", exact=True).fill("The corner curls a little.")
    here.press("Add it")
    here.page.locator(".diary-lines li", has_text="The corner curls a little.").wait_for()
    here.press("Check the whole journal")
    here.page.get_by_text("are as they were written").wait_for()
    here.shoot("journal")
