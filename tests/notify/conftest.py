"""Where messages arrive."""

from collections.abc import Iterator

import pytest

from .catchers import Listener, Mailbox


@pytest.fixture
def mailbox() -> Iterator[Mailbox]:
    box = Mailbox()
    yield box
    box.close()


@pytest.fixture
def listener() -> Iterator[Listener]:
    made = Listener()
    yield made
    made.close()
