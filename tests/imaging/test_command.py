"""`lampwarden measure` as a person types it; and that nothing of it is loaded where photos are not read."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from lampwarden.errors import ProgramError
from lampwarden.imaging.command import measure
from lampwarden.imaging.found import Measured
from lampwarden.rig.camera.faults import Fault

from .conftest import SCENARIO

SHEET = SCENARIO / "sheet.toml"


def run(folder: Path, *words: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from lampwarden.cli import main; main()", "measure", *map(str, words)]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=60, check=False)


@pytest.fixture
def folder(tmp_path, shoot):
    (tmp_path / "before.jpg").write_bytes(shoot())
    (tmp_path / "after.jpg").write_bytes(shoot(shot=1))
    (tmp_path / "glare.jpg").write_bytes(shoot("fixed", Fault.GLARE))
    (tmp_path / "blur.jpg").write_bytes(shoot("fixed", Fault.BLUR))
    return tmp_path


def test_a_photo_before_and_one_after(folder, mask):
    asked = ("--sheet", SHEET, "--paper", "a3", "--fixed")
    first = run(folder, "before.jpg", *asked, "--json")
    assert (first.returncode, first.stderr) == (0, "")
    measured = Measured.model_validate_json(first.stdout)
    assert [cell.cell for cell in measured.reading.cells] == [aperture.name for aperture in mask.apertures]
    (folder / "first.json").write_text(first.stdout, encoding="utf-8")

    second = run(folder, "after.jpg", *asked, "--before", "first.json", "--drawn", "read")
    assert (second.returncode, second.stderr) == (0, "")
    lines = second.stdout.splitlines()
    assert lines[0].startswith("after.jpg: 840 x 1120 JPEG, 2031-")
    header = next(i for i, line in enumerate(lines) if line.startswith("Cell"))
    assert lines[header].split() == ["Cell", "L*", "a*", "b*", "u", "R457", "%", "change"]
    assert lines[header + 1].split()[0] == mask.apertures[0].name
    assert float(lines[header + 1].split()[-1]) < measured.reading.detection_limit_de00
    assert any(line.startswith("Way: fixed. A change of 0.") for line in lines)
    assert (folder / "read" / "after-read.jpg").read_bytes().startswith(b"\xff\xd8")


def test_what_is_wrong_is_told(folder, mask):
    marked = run(folder, "glare.jpg", "--sheet", SHEET, "--paper", "a3", "--fixed")
    assert marked.returncode == 0
    assert "  not usable: " in marked.stdout
    refused = run(folder, "blur.jpg", "--sheet", SHEET, "--paper", "a3")
    assert refused.returncode == 3
    assert "refused: 0 of the mask's 4 corner markers were found" in refused.stdout
    as_json = run(folder, "blur.jpg", "--sheet", SHEET, "--paper", "a3", "--json")
    assert as_json.returncode == 3
    assert json.loads(as_json.stdout)["reading"]["refused"]


def test_a_wrong_file_ends_with_a_sentence(folder):
    done = run(folder, "none.jpg", "--sheet", SHEET)
    assert (done.returncode, done.stderr) == (
        2,
        "none.jpg: cannot be read: No such file or directory. Check the name.\n",
    )


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"sheet": Path("none.toml")}, r"none\.toml: cannot be read"),
        ({"chart": SHEET}, r"sheet\.toml"),
        ({"before": SHEET}, r"sheet\.toml: is no reading: .* Make it with --json"),
        ({"paper": "a9"}, "paper 'a9' is not understood"),
    ],
)
def test_other_wrong_files(folder, more, says):
    plain = {"photos": [folder / "before.jpg"], "sheet": SHEET, "paper": "a3"}
    with pytest.raises(ProgramError, match=says):
        measure(**plain | more)


def test_nothing_heavy_is_loaded_before_a_photo_is_read():
    """The daemon stays small: neither its pages nor the door to this room bring OpenCV along."""
    script = (
        "import sys, lampwarden.cli, lampwarden.web.app, lampwarden.service, lampwarden.imaging.found,"
        " lampwarden.imaging.chart\n"
        "print([name for name in ('cv2', 'pi_heif') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == "[]\n"


def test_without_the_libraries_it_says_what_to_install(tmp_path):
    (tmp_path / "cv2.py").write_text("raise ImportError('not installed')\n", encoding="utf-8")
    script = "from lampwarden.imaging import look\nlook(b'')"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False
    )
    assert "pip install 'lampwarden[photos]'" in done.stderr
