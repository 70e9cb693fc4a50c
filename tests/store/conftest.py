"""A store in a fresh folder, and the small invented things that go into it."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from lampwarden.store import Line, Sample, Store

UTC = "2026-03-01T09:30:00+00:00"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "lampwarden.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    """Holds the begun session "ferries" of the chamber "attic"; gives up on a lock at once."""
    store = Store.open(path, busy_wait_s=0.05)
    begin(store, "ferries")
    yield store
    store.close()


def begin(store: Store, session_id: str, chamber_id: str = "attic") -> None:
    store.begin_session(session_id, chamber_id, "Summer timetable", {"zones": [1, 2]}, {"id": chamber_id}, UTC)


@pytest.fixture(name="begin")
def _begin() -> Callable[..., None]:
    return begin


@pytest.fixture
def line() -> Callable[..., Line]:
    def make(number: int, session_id: str | None = "ferries", chamber_id: str = "attic") -> Line:
        return Line("noted", number / 7, UTC, {"number": number}, f"Line {number}.", chamber_id, session_id)

    return make


@pytest.fixture
def sample() -> Callable[..., Sample]:
    def make(run_s: float, air_temp_c: float | None = 30.0) -> Sample:
        return Sample(run_s, air_temp_c, 45.5, (50.25, None), False)

    return make
