"""One daemon holds a data folder; the hold ends with its process."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from lampwarden.errors import StoreError, StoreInUse
from lampwarden.upkeep.folder import held

HOLDING = """
import sys
from pathlib import Path
from lampwarden.upkeep.folder import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    {meanwhile}
"""


def holder(folder: Path, meanwhile: str = "sys.stdin.read()") -> subprocess.Popen:
    child = subprocess.Popen(
        [sys.executable, "-c", HOLDING.format(meanwhile=meanwhile), folder],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "held\n"
    return child


def test_a_folder_is_made_and_held_again_and_again(tmp_path: Path) -> None:
    for _ in range(2):
        with held(tmp_path / "deep" / "data") as database:
            assert database == tmp_path / "deep" / "data" / "lampwarden.db"
            assert not database.exists()


def test_another_process_is_refused_until_the_first_ends(tmp_path: Path) -> None:
    child = holder(tmp_path)
    said = re.escape(f"{tmp_path} is in use by another Lampwarden (process {child.pid}). Stop that one first")
    with pytest.raises(StoreInUse, match=said), held(tmp_path):
        pass
    with held(tmp_path / "other"):
        pass
    child.communicate()
    with held(tmp_path):
        pass


def test_a_killed_process_holds_nothing(tmp_path: Path) -> None:
    child = holder(tmp_path)
    child.kill()
    child.communicate()
    with held(tmp_path):
        pass


@pytest.mark.skipif(sys.platform == "win32", reason="Windows does not fork")
def test_a_worker_that_outlives_a_killed_daemon_holds_nothing(tmp_path: Path) -> None:
    meanwhile = "import os, signal; child = os.fork(); child and print(child, flush=True); signal.pause()"
    child = holder(tmp_path, meanwhile)
    assert child.stdout is not None
    worker = int(child.stdout.readline())
    try:
        child.kill()
        child.wait()
        os.kill(worker, 0)  # it lives
        with held(tmp_path):
            pass
    finally:
        os.kill(worker, 9)
        child.communicate()


def test_the_same_process_is_refused_too(tmp_path: Path) -> None:
    with held(tmp_path):
        with pytest.raises(StoreInUse), held(tmp_path / ".." / tmp_path.name):
            pass
        with pytest.raises(StoreInUse), held(tmp_path):
            pass
        blocked = subprocess.run(
            [sys.executable, "-c", HOLDING.format(meanwhile="pass"), tmp_path], capture_output=True, text=True
        )
        assert "StoreInUse" in blocked.stderr  # the refusals above did not end the first hold


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError, match=r"cannot be made.*--data"), held(tmp_path / "file" / "data"):
        pass
