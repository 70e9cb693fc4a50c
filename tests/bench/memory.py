"""How much memory does the daemon need with five pages open?

`python -m tests.bench.memory` prints the figures. `lampwarden serve` minds the firmware on a real MicroPython, runs a
session, and Chromium holds five of its pages open: Now, Plan, Sheets, Results, Chamber. Memory is what the kernel says:
resident (RSS), and with what is shared with other processes counted by halves (PSS).
"""

import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import sync_playwright

from ..chromium import ARGUMENTS, CHROMIUM
from ..lampboard.desk_process import DeskBoard
from ..processes.daemon import Daemon, write_chamber

LIMIT_MB = 150.0
SETTLE_S = 10.0
"""What was allocated to open a page is partly given back within this time, s."""
PROGRAM = """
title = "Memory"
zones = [{ zone = "A1", exposures = [{ end = "1 h" }] }, { zone = "A2", exposures = [{ end = "2 h" }] }]
checkpoints = [{ name = "1 h", at = "1 h" }]
"""


@dataclass(frozen=True)
class Size:
    """Memory of a process, MB of a million bytes."""

    rss_mb: float
    pss_mb: float

    def __str__(self) -> str:
        return f"{self.rss_mb:6.1f} MB resident, {self.pss_mb:6.1f} MB its share"


@dataclass(frozen=True)
class Report:
    alone: Size
    with_pages: Size
    """Five pages open, for SETTLE_S."""

    def __str__(self) -> str:
        return f"no page open     {self.alone}\nfive pages open  {self.with_pages}"


class ShownDaemon(Daemon):
    """The daemon whose pages are looked at."""

    bare = True

    @property
    def address(self) -> str:
        """Where its pages are."""
        assert self._http is not None
        return str(self._http.base_url).rstrip("/")


def size_of(pid: int) -> Size:
    """Memory of a running process."""
    lines = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines()[1:]
    kb = {key: int(value.split()[0]) for key, value in (line.split(":", 1) for line in lines)}
    return Size(kb["Rss"] * 1.024e-3, kb["Pss"] * 1.024e-3)


def measure(folder: Path) -> Report:
    """Alone with a session under way, then with the pages open."""
    board = DeskBoard(folder)
    daemon = ShownDaemon(folder, [write_chamber(folder, "bench", board.port)])
    try:
        daemon.start()
        assert daemon.process is not None
        session_id = daemon.start_session("bench", PROGRAM)
        time.sleep(SETTLE_S)
        alone = size_of(daemon.process.pid)
        with _open_pages(daemon.address, session_id):
            time.sleep(SETTLE_S)
            with_pages = size_of(daemon.process.pid)
    finally:
        daemon.close()
        board.close()
    return Report(alone, with_pages)


@contextmanager
def _open_pages(address: str, session_id: str) -> Iterator[None]:
    """Five pages in one browser. A pattern makes the plan and the sheet that two of them show."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        plan = browser.new_page()
        plan.goto(f"{address}/plan/bench")
        plan.locator("[data-pattern]").first.click()
        plan.get_by_text("Ends ").first.wait_for()
        sheet = plan.get_by_role("link", name="Open this sheet").get_attribute("href")
        for path in (str(sheet), "/now/bench", f"/results/bench/{session_id}", "/chamber/bench"):
            page = browser.new_page()
            page.goto(f"{address}{path}")
            page.locator("h1").first.wait_for()
        yield
        browser.close()


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        report = measure(Path(name))
    sys.stdout.write(f"{report}\n")
    sys.exit(0 if report.with_pages.pss_mb < LIMIT_MB else 1)


if __name__ == "__main__":
    main()
