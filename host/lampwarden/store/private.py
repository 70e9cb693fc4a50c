"""Files that hold a secret: their owner alone reads them, and they are replaced whole."""

import os
import tempfile
from pathlib import Path

from ..errors import StoreError
from .backup import own_like


def replace_privately(path: Path, text: str) -> None:
    """Replaces a file whole, readable by its owner only; makes its folder if need be. Raises StoreError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, part = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")  # 0600
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            own_like(path.parent, Path(part))
            os.replace(part, path)
        except OSError:
            os.unlink(part)
            raise
    except OSError as error:
        raise StoreError(f"{path} cannot be written: {error.strerror}. See to the data folder.") from None
