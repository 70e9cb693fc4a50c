"""Puts the firmware on a board and proves that it is there and runs.

Theory of operation. main.py is what starts the board. It is taken away before anything else is changed and put back
last, when every other file has been proved by its hash. So an install that breaks off leaves a board that comes up
dark at its prompt, and the same command again finishes it. What a builder changed in the board's own files (pins,
ceilings) is never replaced without being asked, and always copied to the data folder first.
"""

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from lampboard.node import FIRMWARE_VERSION

from ..domain.commissioning import Installed
from ..errors import BoardConfused, BoardSilent, LampwardenError, LinkError, NotNow, WrongBoard
from ..link.board import Board, Identity, version_text
from ..link.ports import probe
from ..link.transport import open_transport
from . import papers
from .console import Console, Seen
from .firmware import BOARD_FILES, MAIN, compiled, firmware, table_changes

PROMPT_WAIT_S = 12.0
"""Longest wait for the prompt after service mode was asked for, s: a reset, and the system finding the port again."""
ANSWER_WAIT_S = 20.0
"""Longest wait for the firmware's first answer after the restart, s."""
SETTLE_S = 3.0
"""How long the board is watched for another reset, s: longer than its watchdog (2 s)."""
RETRY_S = 0.3

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Work:
    """What has to be done to a board. Paths on the board."""

    write: tuple[str, ...]
    remove: tuple[str, ...]
    """Files of ours that do not belong there (any more): a stale one may hide a new one."""
    same: tuple[str, ...]


def work(wanted: dict[str, bytes], present: dict[str, str]) -> Work:
    """Compares the files a board shall have with the hashes of those it has. Pure."""
    same = [path for path, data in wanted.items() if present.get(path) == sha256(data).hexdigest()]
    return Work(
        tuple(path for path in wanted if path not in same),
        tuple(path for path in present if path not in wanted),
        tuple(same),
    )


def install(
    device: str,
    address: str,
    data: Path,
    utc: str,
    *,
    board_file: Path | None = None,
    overwrite: bool = False,
    mpy: bool = False,
    tell: Tell = lambda text: None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Installed:
    """Puts the firmware on the board whose prompt is at `device` and which answers Modbus at `address`.

    `utc` is the time now, for the record. `tell` gets sentences about what is done, `progress` the bytes sent so far
    and in all. `overwrite` replaces the board's own files even if their tables were changed. Raises LampwardenError
    with what to do; the command can then be repeated.
    """
    before = _to_the_prompt(address, tell)
    with wait_for_prompt(device) if before is not None else Console(device) as console:
        seen = console.look()
        tell(f"MicroPython {seen.version} on '{seen.platform}' answers at its prompt.")
        try:
            wanted = firmware(seen.platform, board_file)
            own = (MAIN,) if board_file is not None else (MAIN, BOARD_FILES[seen.platform])
            _mind_own_files(console, seen, wanted, own, data, utc, overwrite, tell)
            if mpy:
                wanted = compiled(wanted, seen.mpy_version)
        except LampwardenError:
            if MAIN in seen.files:
                console.restart(seen.platform)  # nothing was changed: let the firmware go on
            raise
        _copy(console, seen, wanted, tell, progress)
        if seen.has_boot_py:
            tell("A boot.py lies on the board too. It is not ours and runs before the firmware; look at it.")
        console.restart(seen.platform)
    tell("Restarted. Waiting until the firmware answers.")
    boots = before.boot_count if before else seen.boot_count
    if boots is None and seen.platform == "rp2":
        boots = 0  # no count on the board: our firmware never ran there
    identity = _first_answer(address, seen, boots)
    tell(
        f"Firmware {identity.firmware} answers from board {identity.unique_id}; it was started"
        f" {identity.boot_count} times so far. Nothing is armed, all lamps are dark."
    )
    paper = Installed(
        utc=utc,
        board_id=identity.unique_id,
        firmware=identity.firmware,
        map_version=identity.map_version,
        files={path: sha256(content).hexdigest() for path, content in wanted.items()},
        boot_count=identity.boot_count,
    )
    tell(f"Recorded in {papers.keep_installed(data, paper)}.")
    return paper


def _to_the_prompt(address: str, tell: Tell) -> Identity | None:
    """Asks running firmware for service mode. None: nobody answered Modbus."""
    board = Board(open_transport(address))
    try:
        identity = board.identify()
        tell(f"Board {identity.unique_id} runs firmware {identity.firmware}. It is darkened and asked for its prompt.")
        board.disarm()
        with suppress(BoardSilent):  # it may have restarted before its answer got out
            board.service_mode()
    except BoardSilent:
        tell("No Lampwarden firmware answers. Looking for a MicroPython prompt.")
        return None
    except WrongBoard as error:
        raise WrongBoard(
            f"{error} To install all the same, join the escape pin to ground (GP22 unless you changed it), restart"
            " the board, and repeat the command."
        ) from error
    finally:
        board.close()
    return identity


def wait_for_prompt(device: str) -> Console:
    """The prompt of a board that was asked for service mode and restarts. Raises BoardSilent if it does not come."""
    deadline_s = time.monotonic() + PROMPT_WAIT_S
    while True:
        try:
            return Console(device)
        except BoardSilent:
            if time.monotonic() > deadline_s:
                raise
            time.sleep(RETRY_S)


def _mind_own_files(
    console: Console,
    seen: Seen,
    wanted: dict[str, bytes],
    own: tuple[str, ...],
    data: Path,
    utc: str,
    overwrite: bool,
    tell: Tell,
) -> None:
    """Copies the board's own files before they are replaced. Raises NotNow if a builder's changes would be lost."""
    lost = []
    for path in own:
        if path not in seen.files or seen.files[path] == sha256(wanted[path]).hexdigest():
            continue
        there = console.read(path)
        copy = papers.keep_copy(data, seen.unique_id or "unnamed", path, utc, there)
        tell(f"{path} on the board differs from the one to be installed. A copy is kept in {copy}.")
        lost += [f"  {path}: {change}" for change in table_changes(there, wanted[path])]
    if lost and not overwrite:
        raise NotNow(
            "Pins or ceilings on the board differ from those to be installed:\n"
            + "\n".join(lost)
            + "\nNothing was changed. Give your own boards/pico.py with --board-file, or take the new ones with"
            " --overwrite."
        )


def _copy(
    console: Console, seen: Seen, wanted: dict[str, bytes], tell: Tell, progress: Callable[[int, int], None]
) -> None:
    todo = work(wanted, seen.files)
    if todo.write or todo.remove:
        others = {path: content for path, content in wanted.items() if path != MAIN}
        if MAIN in seen.files:
            console.remove(MAIN)
        for path in todo.remove:
            console.remove(path)
        sending = [path for path in others if path in todo.write]
        done, total = 0, sum(len(wanted[path]) for path in [*sending, MAIN])
        for path in sending:
            console.write(path, wanted[path])
            done += len(wanted[path])
            progress(done, total)
        _prove(console, others)
        console.write(MAIN, wanted[MAIN])
        progress(total, total)
    _prove(console, wanted)
    tell(
        f"{len(todo.write)} files copied, {len(todo.same)} were right already, {len(todo.remove)} stale ones removed."
        f" All {len(wanted)} files on the board have the right SHA-256."
    )


def _prove(console: Console, wanted: dict[str, bytes]) -> None:
    """Raises BoardConfused unless each file has the right hash on the board."""
    there = console.look().files
    wrong = [path for path, content in wanted.items() if there.get(path) != sha256(content).hexdigest()]
    if wrong:
        raise BoardConfused(f"On the board {', '.join(wrong)} is not what was sent. Repeat the command.")


def _first_answer(address: str, seen: Seen, boots: int | None) -> Identity:
    """Waits until the firmware answers and stays. Raises LinkError if it is not the one installed."""
    deadline_s = time.monotonic() + ANSWER_WAIT_S
    while True:
        try:
            identity = probe(address)
            break
        except LinkError as error:
            if time.monotonic() > deadline_s:
                raise BoardSilent(
                    f"All files are on the board, but its firmware does not answer at {address} within"
                    f" {ANSWER_WAIT_S:.0f} s. {error} If it keeps restarting, the reason is in the file last_error on"
                    " the board: join the escape pin to ground, restart it, and read it with"
                    f" `mpremote connect PORT cat :last_error`."
                ) from error
            time.sleep(RETRY_S)
    time.sleep(SETTLE_S)
    after = probe(address)
    ours = version_text(FIRMWARE_VERSION)
    if after.firmware != ours:
        raise WrongBoard(
            f"Firmware {after.firmware} answers at {address}, not {ours} just installed. Look at the port."
        )
    if seen.unique_id not in (None, after.unique_id):
        raise WrongBoard(f"Board {after.unique_id} answers at {address}, but {seen.unique_id} has the new firmware.")
    if after.boot_count != identity.boot_count or boots not in (None, identity.boot_count - 1):
        raise BoardConfused(
            f"The board was started {after.boot_count} times, {(boots or 0) + 1} was expected: it restarts by itself."
            " Is its wiring complete? The reason may be in the file last_error on the board."
        )
    return after
