"""Somebody new is led from nothing to the start, and the guide goes when it is no longer needed."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from .conftest import HERE, DemoProcess, Look, looks

pytestmark = pytest.mark.timeout(240)  # a plan is rehearsed on the way


@looks("phone")
def test_first_steps(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], size: tuple[int, int], scheme: str
) -> None:
    show = demo(speed=600.0, begin=False)
    here = look(show.address, size, scheme)
    page = here.page
    steps = page.get_by_role("region", name="First steps")
    expect(steps).to_contain_text("0 of 5 done")
    here.shoot("first-steps")

    # Put away and called up again, by the same reader also after a reload.
    here.press("Put this away")
    expect(steps).to_be_hidden()
    page.reload()
    page.get_by_role("button", name="Show the first steps").click()
    expect(steps).to_be_visible()

    steps.get_by_role("link", name="Plan its light").click()
    page.locator("input[type=file]").set_input_files(HERE / "trial.toml")
    here.says("Ends ")
    page.get_by_role("link", name="Now", exact=True).click()
    expect(steps).to_contain_text("1 of 5 done")
    expect(steps.locator("[data-next]")).to_contain_text("Describe a sheet")
    here.shoot("first-steps-one")
    steps.get_by_role("link", name="Rehearse the plan").click()
    here.press("Rehearse")
    expect(page.locator(".plan-rehearsed")).to_contain_text("It ran to its end", timeout=90_000)
    page.get_by_role("link", name="Now", exact=True).click()
    expect(steps.locator("li", has_text="Rehearse the plan")).to_contain_text("done")

    # A session under way leaves no room for it, and needs none.
    show.do("begin")
    here.headline("Your turn")
    expect(steps).to_be_hidden()
    expect(page.get_by_role("button", name="Show the first steps")).to_be_hidden()
