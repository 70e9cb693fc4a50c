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

    Steps that were not done are the signer's own decision; a failed one is not.
    """
    do = "Run `lampwarden board check` with the chamber dark and empty."
    try:
        record = newest(data, board.unique_id).commissioning
    except StoreError as error:
        return str(error)
    if record is None:
        return f"Board {board.unique_id} has no commissioning record on this computer. {do}"
    if (record.firmware, record.map_version) != (board.firmware, board.map_version):
        return (
            f"Board {board.unique_id} was commissioned with firmware {record.firmware} and runs {board.firmware} now."
            f" {do}"
        )
    failed = [step.title for step in record.steps if step.outcome == "failed"]
    if failed:
        return f"At the board's commissioning of {record.utc[:10]} failed: {', '.join(failed)}. Mend that. {do}"
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
