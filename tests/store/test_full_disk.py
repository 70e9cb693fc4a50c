"""A disk that takes no more, for real: a tiny file system, and a limit of the operating system on file length."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SCENE = """
import resource, signal, sys
from pathlib import Path
from lampwarden.errors import StoreError, StoreFull
from lampwarden.store import Batch, DirectWriter, Line, Store
from lampwarden.store.verify import verify

folder, way = Path(sys.argv[1]), sys.argv[2]
store = Store.open(folder / "lampwarden.db")
store.begin_session("ferries", "attic", "Summer timetable", {}, {}, "2026")
writer = DirectWriter(store)


def put(number):
    line = Line("noted", number, "2026", {"pad": "x" * 500, "number": number}, "text", "attic", "ferries")
    ticket = writer.put(Batch("ferries", [line], {"number": number}))
    writer.flush()
    return ticket


put(0)
assert writer.durable == 1
if way == "length":  # every write past this length fails, whichever file it is
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, resource.RLIM_INFINITY))
else:
    stuffing = folder / "stuffing"
    with stuffing.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:
            pass
number = 0
while writer.trouble is None:
    number += 1
    assert number < 5000, "the disk never filled"
    put(number)
print(writer.trouble)
assert writer.durable == number, (writer.durable, number)
saved = [line.data["number"] for line in store.journal("ferries", "attic")]
assert saved == list(range(number)), saved
try:
    store.begin_session("other", "cellar", "", {}, {}, "2026")
except StoreError as error:
    assert isinstance(error, StoreFull) == (way == "space"), error
else:
    raise AssertionError("the full disk took a session")
for _ in range(3):
    number += 1
    put(number)
assert "wait in memory: 4." in writer.trouble, writer.trouble

if way == "length":
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
else:
    stuffing.unlink()
ticket = put(number + 1)
assert (writer.trouble, writer.durable) == (None, ticket)
writer.close()
store.close()

store = Store.open(folder / "lampwarden.db")
lines = []
while page := store.journal("ferries", "attic", after_seq=lines[-1].seq if lines else 0):
    lines += page
assert [line.data["number"] for line in lines] == list(range(number + 2))
assert [line.seq for line in lines] == list(range(1, number + 3))
assert store.progress("ferries") == {"number": number + 1}
assert verify(store.path).faults == ()
"""


def can_mount() -> bool:
    return (
        shutil.which("unshare") is not None
        and subprocess.run(
            ["unshare", "--user", "--map-root-user", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"],
            capture_output=True,
            check=False,
        ).returncode
        == 0
    )


@pytest.mark.skipif(sys.platform != "linux", reason="needs Linux")
def test_no_space_left(tmp_path: Path) -> None:
    if not can_mount():
        pytest.skip("this machine lets no user mount a file system of his own")
    mount = 'mount -t tmpfs -o size=2m none "$1" && exec "$2" -c "$3" "$1" space'
    shown = subprocess.run(
        ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", mount, "sh", tmp_path, sys.executable, SCENE],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "is full. What was saved is safe" in shown.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such limit")
def test_a_write_that_fails(tmp_path: Path) -> None:
    shown = subprocess.run(
        [sys.executable, "-c", SCENE, tmp_path, "length"], capture_output=True, text=True, check=False
    )
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "The disk does not read or write" in shown.stdout
