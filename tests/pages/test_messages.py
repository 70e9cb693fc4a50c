"""The page Messages: a channel is set up, tried against a real listener, and what came of it is shown."""

from collections.abc import Callable, Iterator

import pytest
from tests.notify.catchers import Listener

from .conftest import PHONE, DemoProcess, Look


@pytest.fixture
def listener() -> Iterator[Listener]:
    made = Listener()
    yield made
    made.close()


def test_a_channel_from_nothing(
    demo: Callable[..., DemoProcess], look: Callable[..., Look], listener: Listener
) -> None:
    show = demo(begin=False)
    here = look(show.address, PHONE)
    here.page.goto(show.address + "/messages/demo")
    here.says("No channel is set up yet")
    here.shoot("messages-none")
    here.page.get_by_text("Add a channel", exact=True).click()
    here.page.get_by_label("Name").fill("Workshop")
    here.page.get_by_label("Address", exact=False).first.fill("pigeon//loft")
    here.press("Add the channel")
    here.says("Write the address with its ://.")
    here.page.get_by_label("Address", exact=False).first.fill(listener.url)
    here.press("Add the channel")
    here.says("Never tried.")
    here.press("Send a test")
    here.says("Last: delivered")
    assert listener.titles == ["A test from Lampwarden"]
    here.shoot("messages")
    here.press("Remove")
    here.says("No channel is set up yet")
