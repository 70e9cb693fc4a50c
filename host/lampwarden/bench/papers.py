"""Papers of boards in the data folder: boards/<unique id>/, a file each, never overwritten."""

import re
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from ..domain.commissioning import Commissioning, Installed, Papers
from ..errors import StoreError
from ..link.board import Identity

Paper = TypeVar("Paper", Installed, Commissioning)

_FOLDER = "boards"
MAY_BE_LEFT_OUT = "watchdog"
"""Key of the one step without which a record lets sessions start."""


def keep_installed(data: Path, paper: Installed) -> Path:
    """Writes an install record; returns its path. Raises StoreError."""
    return _keep(data, paper.board_id, "install", paper.utc, ".json", _json(paper))


def keep_commissioning(data: Path, paper: Commissioning) -> tuple[Path, Path]:
    """Writes a commissioning record as text and as JSON; returns both paths. Raises StoreError."""
    text = _keep(data, paper.board_id, "commissioning", paper.utc, ".txt", paper.as_text().encode())
    return text, _keep(data, paper.board_id, "commissioning", paper.utc, ".json", _json(paper))


def keep_copy(data: Path, board_id: str, name: str, utc: str, content: bytes) -> Path:
    """Keeps what lay on a board before it is replaced; returns its path. Raises StoreError."""
    return _keep(data, board_id, f"replaced-{Path(name).stem}", utc, Path(name).suffix, content)


def newest(data: Path, board_id: str) -> Papers:
    """The newest papers of a board. Raises StoreError if one cannot be read."""
    return Papers(
        installed=_newest(data, board_id, "install", Installed),
        commissioning=_newest(data, board_id, "commissioning", Commissioning),
    )


def what_is_unproved(data: Path, board: Identity) -> str | None:
    """What is missing before sessions may start on a board, as a sentence; None if its record is good.

    Only the stalled firmware may be left out: its prompt is not always in reach, and the sheet has a way by hand.
    """
    do = "Run `lampwarden board check` with the chamber dark and empty."
    try:
        known = newest(data, board.unique_id)
    except StoreError as error:
        return str(error)
    record = known.commissioning
    if record is None:
        return f"Board {board.unique_id} has no commissioning record on this computer. {do}"
    if (record.firmware, record.map_version) != (board.firmware, board.map_version):
        return (
            f"Board {board.unique_id} was commissioned with firmware {record.firmware} and runs {board.firmware} now."
            f" {do}"
        )
    if known.installed is not None and known.installed.files != record.files:
        return f"Other files were put on board {board.unique_id} after its commissioning of {record.utc[:10]}. {do}"
    still_open = [
        f"{step.title} ({step.outcome})"
        for step in record.open_steps
        if step.outcome == "failed" or step.key != MAY_BE_LEFT_OUT
    ]
    if still_open:
        return f"At the board's commissioning of {record.utc[:10]} did not pass: {', '.join(still_open)}. {do}"
    return None


def _newest(data: Path, board_id: str, kind: str, model: type[Paper]) -> Paper | None:
    found = sorted((data / _FOLDER / board_id).glob(f"{kind}-*.json"))
    if not found:
        return None
    try:
        return model.model_validate_json(found[-1].read_bytes())
    except (OSError, ValidationError) as error:
        raise StoreError(
            f"{found[-1]}: this record cannot be read ({str(error).splitlines()[0]}). Move it away and repeat"
            f" `lampwarden board {'install' if kind == 'install' else 'check'}`."
        ) from error


def _json(paper: BaseModel) -> bytes:
    return paper.model_dump_json(indent=2).encode()


def _keep(data: Path, board_id: str, kind: str, utc: str, suffix: str, content: bytes) -> Path:
    stamp = re.sub(r"[^0-9TZ]", "", utc)  # sorts as time does; colons are no file names on Windows
    path = data / _FOLDER / board_id / f"{kind}-{stamp}{suffix}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as file:
            file.write(content)
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}. Choose another folder with --data.") from error
    return path
