"""The daemon stays small. The figures, with five pages in Chromium: `python -m tests.bench.memory`."""

import subprocess
import sys

from .keeper import ROOT

RARE = (
    "scipy.special",
    "scipy.optimize",
    "scipy.stats",
    "scipy.integrate",
    "cv2",
    "pi_heif",
    "apprise",
    "mpremote",
    "matplotlib",
    "reportlab",
    "PIL",
)
"""Loaded where they are needed, or in a process of their own, and never by a daemon that only minds its chamber."""


def test_what_is_rarely_needed_is_not_loaded_with_the_daemon() -> None:
    code = (
        "import sys; sys.modules['pandas'] = None\n"  # one of the tests' packages: others load it, and much with it
        "import lampwarden.cli, lampwarden.web.app\n"
        f"print([name for name in {RARE} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
