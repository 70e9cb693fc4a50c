"""The browser that tests look through."""

from pathlib import Path

WHOLE = Path("/usr/bin/chromium")
_SHELL = Path("/usr/bin/chromium-headless-shell")
CHROMIUM = _SHELL if _SHELL.exists() else WHOLE
"""Without windows it is the same browser and a good deal cheaper, but has neither notifications, nor full screen, nor
apps: a test of those sets `WHOLE_BROWSER` in its file. Not every system has it by itself."""
MISSING = "no Chromium on this machine; tests/run installs it where it may"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
