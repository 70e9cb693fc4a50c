"""At a photo pause: the camera takes one, a wrong file is told from a photo, and the colours are shown."""

from collections.abc import Callable
from pathlib import Path

import pytest

from .conftest import PHONE, SCENARIO, DemoProcess, Look

pytest.importorskip("cv2", reason="the extra 'photos' is not installed")


def test_photo_at_a_pause(demo: Callable[..., DemoProcess], look: Callable[..., Look], tmp_path: Path) -> None:
    show = demo(SCENARIO / "ferry_timetable.toml", speed=60.0)
    here = look(show.address, PHONE)
    here.headline("Your turn")
    wrong = tmp_path / "notes.jpg"
    wrong.write_bytes(b"no photo at all")
    here.page.locator("input[data-photos]").set_input_files(wrong)
    here.says("This photo cannot be read. Take another.")
    here.press("Let the chamber's camera take it")
    here.page.set_default_timeout(60_000)
    row = here.page.locator("table.cells tbody tr", has_text="A3")
    row.wait_for()
    here.page.get_by_text("Read from one photo by the fixed camera").wait_for()
    assert "L*" in row.inner_text()
    picture = here.page.locator("img.photos-picture")
    assert picture.evaluate("img => img.decode().then(() => img.naturalWidth)") > 600
    here.shoot("photo-pause")
