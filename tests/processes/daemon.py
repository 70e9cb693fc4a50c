"""The daemon as a process of its own, driven by its HTTP API alone."""

import os
import re
import signal
import subprocess
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
from tests.command import LAMPWARDEN, Begun

START_S = 30.0
CHAMBER = """\
id = "{id}"
board = "{board}"
inspection = false
zones = [
  {{ name = "A1", bank = 1, irradiance_w_m2 = 100 }},
  {{ name = "A2", bank = 2, irradiance_w_m2 = 80 }},
  {{ name = "A3", bank = 6, irradiance_w_m2 = 50 }},
]
"""


def write_chamber(folder: Path, chamber_id: str, port: str) -> Path:
    """A chamber file for the board behind this serial port."""
    path = folder / f"{chamber_id}.toml"
    path.write_text(CHAMBER.format(id=chamber_id, board=f"serial:{port}"))
    return path


def now_ms() -> float:
    """The clock of the desk board's log."""
    return time.monotonic() * 1000


def eventually(check: Callable[[], Any], limit_s: float = 15.0) -> Any:
    """The first true answer of `check`; fails with the last one after the limit."""
    deadline_s = time.monotonic() + limit_s
    while not (found := check()):
        assert time.monotonic() < deadline_s, f"not within {limit_s} s: {found!r}"
        time.sleep(0.03)
    return found


class Daemon:
    """`lampwarden serve` over the chambers in `files`, with its records in `folder`/data.

    `before` goes before the command, for example to give it a small disk. With that, or if it is to be `bare`, the
    process loads itself all it needs, as on a host; else it begins from one that has.
    """

    bare = False

    def __init__(self, folder: Path, files: Sequence[Path], before: Sequence[str] = ()) -> None:
        self.data = folder / "data"
        self.database = self.data / "lampwarden.db"
        self.errors_path = folder / "daemon-stderr.txt"
        self._said_path = folder / "daemon-stdout.txt"
        self._before = before
        self._words = [
            "serve",
            *map(str, files),
            "--uncommissioned",
            "--port",
            "0",
            "--data",
            str(self.data),
        ]
        self.process: subprocess.Popen[bytes] | Begun | None = None
        self._http: httpx.Client | None = None

    def launch(self) -> None:
        """Starts the process and returns at once."""
        self._http = None
        with self._said_path.open("wb") as said, self.errors_path.open("ab") as errors:
            if self._before or self.bare:
                command = [*self._before, *LAMPWARDEN, *self._words]
                environ = os.environ | {"PYTHONUNBUFFERED": "1"}
                self.process = subprocess.Popen(command, stdout=said, stderr=errors, env=environ)
            else:
                self.process = Begun(self._words, self._said_path, self.errors_path)

    def answers(self) -> bool:
        """True once the API answers."""
        if self._http is None:
            found = re.search(r"Dashboard: http://localhost:(\d+)/", self._said_path.read_text())
            if found is None:
                return False
            self._http = httpx.Client(base_url=f"http://127.0.0.1:{found[1]}", timeout=20, trust_env=False)
        try:
            return self._http.get("/api/chambers").status_code == 200
        except httpx.TransportError:
            return False

    def start(self) -> None:
        """Starts the process and waits until its API answers."""
        self.launch()
        deadline_s = time.monotonic() + START_S
        while not self.answers():
            assert self.process is not None
            assert self.process.poll() is None, self.errors_path.read_text()
            assert time.monotonic() < deadline_s, "the daemon never answered"
            time.sleep(0.02)

    def wait(self, limit_s: float = 20.0) -> int:
        """The exit code."""
        assert self.process is not None
        return self.process.wait(limit_s)

    def errors(self) -> str:
        """All it wrote to its standard error, in all lives."""
        return self.errors_path.read_text()

    # --- signals ------------------------------------------------------------------------------------------------------

    def signal(self, number: int) -> None:
        assert self.process is not None
        self.process.send_signal(number)

    def kill(self) -> None:
        """kill -9."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def close(self) -> None:
        if self.process is not None and self.process.poll() is None:
            with suppress(ProcessLookupError):
                self.process.send_signal(signal.SIGCONT)
            self.kill()

    # --- the API ------------------------------------------------------------------------------------------------------

    def get(self, path: str, **query: object) -> Any:
        """The answer's JSON. Raises httpx.TransportError if the daemon dies meanwhile."""
        assert self._http is not None
        answer = self._http.get(f"/api/{path}", params=query)  # type: ignore[arg-type]
        assert answer.status_code == 200, answer.text
        return answer.json()

    def page(self, path: str) -> httpx.Response:
        assert self._http is not None
        return self._http.get(path, follow_redirects=True)

    def post(self, path: str, **body: object) -> httpx.Response:
        """The answer, whatever its status. Raises httpx.TransportError if the daemon dies meanwhile."""
        assert self._http is not None
        return self._http.post(f"/api/{path}", json=body)

    def order(self, path: str, **body: object) -> Any:
        """The receipt of an order that must be obeyed."""
        answer = self.post(path, **body)
        assert answer.is_success, answer.text
        return answer.json()

    def start_session(self, chamber_id: str, toml: str, limit_s: float = 15.0) -> str:
        """Begins a session as soon as preflight allows it; gives its id."""
        deadline_s = time.monotonic() + limit_s
        while (answer := self.post(f"chambers/{chamber_id}/start", by="Wilma", toml=toml)).status_code == 409:
            assert time.monotonic() < deadline_s, answer.text
            time.sleep(0.05)
        assert answer.status_code == 201, answer.text
        session_id: str = answer.json()["session_id"]
        return session_id

    def journal(self, chamber_id: str, after_seq: int = 0) -> list[dict[str, Any]]:
        """All lines of a chamber after a number."""
        lines: list[dict[str, Any]] = []
        while page := self.get(f"chambers/{chamber_id}/journal", after_seq=after_seq, limit=1000)["lines"]:
            lines += page
            after_seq = page[-1]["seq"]
        return lines
