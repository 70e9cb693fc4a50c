"""From a photo that was sent to a reading that is kept, with its dose, its picture and its line of the journal."""

import hashlib
import sys
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from lampwarden.domain.finding import HandFinding
from lampwarden.domain.reading import CellColour, Reading, Way
from lampwarden.engine import Phase, Session
from lampwarden.engine.state import Waiting
from lampwarden.errors import LampwardenError, NotNow, ProgramError, StoreError, UnknownName
from lampwarden.photos.camera import shoot

from .conftest import UTC, Scene

HOURS_8 = (0.0, 0.0, 8 * 3600.0, 0.0, 0.0, 0.0)


def test_two_photos_tell_what_changed(scene: Scene, two_photos: tuple[bytes, bytes], tmp_path: Path) -> None:
    service, (before, after) = scene.service, two_photos
    scene.reached("baseline", 0.0, (0.0,) * 6)
    first = scene.read(before, "baseline")
    scene.reached("8 h", 8 * 3600.0, HOURS_8)
    second = scene.read(after, "8 h")
    assert first.reading.refused == second.reading.refused == ""
    assert [cell.cell for cell in second.reading.cells] == ["A1", "A2", "A3", "B1", "B2", "B3", "V1"]
    assert second.reading.session_s == 8 * 3600.0
    assert second.doses_j_cm2["A3"] == pytest.approx(83.0 * 8 * 3600 / 1e4)
    assert second.doses_j_cm2["A2"] == pytest.approx(0.004 * 83.0 * 8 * 3600 / 1e4)
    assert second.doses_j_cm2["B3"] == 0.0  # covered

    found = service.conclusions("s")
    by_cell = {cell.cell: cell for cell in found.cells}
    assert by_cell["A3"].changed
    assert not by_cell["A1"].changed

    original, kind = service.photo(second.pictures[0].hash)
    assert (original, kind) == (after, "JPEG")
    drawn, _ = service.photo(second.pictures[0].drawn)
    (tmp_path / "drawn.jpg").write_bytes(drawn)
    assert max(Image.open(tmp_path / "drawn.jpg").size) <= 1600
    assert scene.kinds() == ["checkpoint_reached", "photo_read"] * 2


def test_a_better_photo_takes_the_place_of_another(scene: Scene, two_photos: tuple[bytes, bytes]) -> None:
    service = scene.service
    scene.reached("baseline", 0.0, (0.0,) * 6)
    refused = scene.read(b"no photo at all", "baseline")
    assert "JPEG" in refused.reading.refused
    one = scene.read(two_photos[0], "baseline")
    two = scene.read(two_photos[1], "baseline")
    looks = {look.reading.id: look for look in service.looks("s")}
    assert list(looks) == [refused.reading.id, one.reading.id, two.reading.id]
    assert [look.reading.superseded for look in looks.values()] == [False, True, False]
    assert service.photo(refused.pictures[0].hash)[0] == b"no photo at all"


def test_photos_of_a_sheet_outside_any_session(scene: Scene, two_photos: tuple[bytes, bytes]) -> None:
    look = scene.read(two_photos[0], session=False)
    assert look.reading.session == ""
    assert look.doses_j_cm2 == {}
    assert [each.reading.id for each in scene.service.looks_of_sheet("ferry-timetable")] == [look.reading.id]


def test_what_cannot_be_is_refused_in_words(scene: Scene) -> None:
    service = scene.service
    with pytest.raises(ProgramError, match="0 photos"):
        service.read_photos([], "Wilma", chamber_id="demo", session_id="s")
    with pytest.raises(UnknownName, match="no checkpoint 'noon'"):
        service.read_photos([("x", b"x")], "Wilma", chamber_id="demo", session_id="s", checkpoint="noon")
    with pytest.raises(ProgramError, match="which sheet"):
        service.read_photos([("x", b"x")], "Wilma", chamber_id="demo")
    with pytest.raises(UnknownName):
        service.photo("../../etc/passwd")
    with pytest.raises(NotNow, match="No camera"):
        service.take_photo("demo", "Wilma", session_id="s")


def test_instrument_and_hand(scene: Scene) -> None:
    service = scene.service
    scene.reached("baseline", 0.0, (0.0,) * 6)
    cell = CellColour(cell="A1", lab_d50=(80.0, 1.0, 18.0), u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
    typed = Reading(
        id="x", sheet="ferry-timetable", taken_utc=UTC, way=Way.INSTRUMENT, cells=(cell,), detection_limit_de00=0.4
    )
    look = service.add_reading(typed, "Wilma", chamber_id="demo", session_id="s", checkpoint="baseline")
    assert look.reading.cells == (cell,)
    wrong = typed.model_copy(update={"cells": (cell.model_copy(update={"cell": "Z9"}),)})
    with pytest.raises(UnknownName, match="no cell 'Z9'"):
        service.add_reading(wrong, "Wilma", chamber_id="demo", session_id="s")
    finding = HandFinding(cell="A1", aspect="stiffness", value=1, found_utc=UTC)
    service.add_finding(finding, "Wilma", chamber_id="demo", session_id="s")
    assert [each.value for each in service.findings("s")] == [1]
    assert scene.kinds() == ["checkpoint_reached", "reading_typed", "found_by_hand"]


def test_an_original_that_rotted_is_told(scene: Scene, two_photos: tuple[bytes, bytes], tmp_path: Path) -> None:
    look = scene.read(two_photos[0], session=False)
    (path,) = (tmp_path / "originals").rglob(f"{look.pictures[0].hash}.jpg")
    assert path.with_suffix(".json").exists()
    path.write_bytes(path.read_bytes()[:-1])
    with pytest.raises(StoreError, match="not as it was"):
        scene.service.photo(look.pictures[0].hash)


# --- the camera command -----------------------------------------------------------------------------------------------


def test_a_camera_command_writes_one_or_several(tmp_path: Path) -> None:
    script = tmp_path / "camera.py"
    script.write_text(
        "import sys, pathlib\n"
        "first = pathlib.Path(sys.argv[1])\n"
        "first.write_bytes(b'one')\n"
        "(first.parent / 'two.jpg').write_bytes(b'two')\n"
    )
    assert shoot(f"{sys.executable} {script} {{file}}") == [b"one", b"two"]


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("import sys; sys.exit('no lens')", "no lens"),
        ("pass", "wrote no photo"),
        ("import pathlib\nfor i in range(13): pathlib.Path(str(i)).write_text('x')", "13 files"),
    ],
)
def test_a_camera_command_that_fails_says_why(tmp_path: Path, code: str, says: str) -> None:
    script = tmp_path / "camera.py"
    script.write_text(code)
    with pytest.raises(LampwardenError, match=says):
        shoot(f"{sys.executable} {script} {{file}}")


def test_a_camera_that_is_not_there() -> None:
    with pytest.raises(LampwardenError, match="cannot be run"):
        shoot("no-such-camera-here {file}")


def test_a_photo_is_named_by_its_bytes(two_photos: tuple[bytes, bytes], scene: Scene) -> None:
    look = scene.read(two_photos[0], session=False)
    assert look.pictures[0].hash == hashlib.sha256(two_photos[0]).hexdigest()


def test_the_camera_has_its_turn_where_nobody_is_needed(scene: Scene, two_photos: tuple[bytes, bytes]) -> None:
    """Once at each such checkpoint, when the white light has come on; never where a person is asked for."""
    service, taken = scene.service, threading.Event()
    scene.reached("baseline", 0.0, (0.0,) * 6)

    def camera() -> list[bytes]:
        taken.set()
        return [two_photos[0]]

    service.set_camera("demo", camera)
    program = scene.program.model_copy(
        update={"checkpoints": (scene.program.checkpoints[0].model_copy(update={"attended": False}),)}
    )
    waits = Session(program, scene.chamber, phase=Phase.HELD, waiting=Waiting(0, 0.0, called_s=10.0))
    base = service.snapshot("demo")
    early = replace(base, session=waits, session_id="s", run_s=11.0)
    service.mind_camera(early)
    asked = replace(waits, program=scene.program)
    service.mind_camera(replace(early, session=asked, run_s=60.0))
    assert not taken.is_set()
    service.mind_camera(replace(early, run_s=14.0))
    assert taken.wait(10)
    service.mind_camera(replace(early, run_s=15.0))
    for _ in range(600):
        if "photo_read" in scene.kinds():
            break
        threading.Event().wait(0.05)
    assert scene.kinds().count("photo_read") == 1
    assert [look.saved_by for look in service.looks("s")] == ["the camera"]
