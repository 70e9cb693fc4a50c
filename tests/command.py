"""The command `lampwarden` as tests run it."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from multiprocessing import get_all_start_methods, get_context
from pathlib import Path

LAMPWARDEN = (sys.executable, "-c", "import sys; sys.modules['pandas'] = None; from lampwarden.cli import main; main()")
"""As on a host. The tests' own packages bring pandas along, and sqlite-utils loads it wherever it is: a second each."""

FORKS = get_context("forkserver" if "forkserver" in get_all_start_methods() else "spawn")
"""Processes begin from one that has loaded what they need: that takes longer than all else at their start."""
if FORKS.get_start_method() == "forkserver":
    FORKS.set_forkserver_preload(["tests.loaded"])


class Begun:
    """`lampwarden WORDS` as a process of its own, begun from a loaded one; to be used as subprocess.Popen is.

    What it says is added to the file `out`, and its errors to `errors` or else there too.
    """

    def __init__(self, words: Sequence[str], out: Path, errors: Path | None = None, **environ: str) -> None:
        said = [str(out.absolute()), str((errors or out).absolute())]
        self.process = FORKS.Process(target=_run, args=(list(words), said, os.environ | environ))
        self.process.start()
        assert self.process.pid is not None
        self.pid = self.process.pid

    @property
    def returncode(self) -> int | None:
        return self.process.exitcode

    def poll(self) -> int | None:
        return self.process.exitcode

    def wait(self, timeout: float | None = None) -> int:
        self.process.join(timeout)
        if self.process.exitcode is None:
            raise subprocess.TimeoutExpired("lampwarden", timeout or 0)
        return self.process.exitcode

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        self.process.kill()


def ran(*words: str, **environ: str) -> subprocess.CompletedProcess[str]:
    """The command from beginning to end."""
    with tempfile.TemporaryDirectory() as folder:
        out, errors = Path(folder) / "out", Path(folder) / "errors"
        code = Begun(words, out, errors, **environ).wait(60)
        return subprocess.CompletedProcess(list(words), code, out.read_text(), errors.read_text())


def _run(words: list[str], said: list[str], environ: Mapping[str, str]) -> None:
    for number, path in enumerate(said, start=1):
        file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
        os.dup2(file, number)
        os.close(file)
    sys.stdout.reconfigure(line_buffering=True)  # type: ignore[union-attr]
    os.environ.clear()
    os.environ.update(environ)
    sys.argv = ["lampwarden", *words]
    from lampwarden.cli import main

    main()
