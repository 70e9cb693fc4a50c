"""The bench of the web tests (one chamber over the real keeper, store, link and firmware), and a real broker."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.web.conftest import bench, unopened

from .broker import MOSQUITTO, Broker, Ear

__all__ = ["bench", "unopened"]


@pytest.fixture
def broker_with(tmp_path: Path) -> Iterator[Callable[..., Broker]]:
    """Starts a broker with these lines of configuration."""
    if MOSQUITTO is None:
        pytest.skip("no mosquitto on this machine; tests/run installs it where it may")
    started: list[Broker] = []

    def start(*options: str) -> Broker:
        started.append(Broker(tmp_path, *options))
        return started[-1]

    yield start
    for each in started:
        each.kill()


@pytest.fixture
def broker(broker_with: Callable[..., Broker]) -> Broker:
    return broker_with()


@pytest.fixture
def ear(broker: Broker) -> Iterator[Ear]:
    ear = Ear(broker.port)
    yield ear
    ear.close()
