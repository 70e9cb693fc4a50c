"""The originals: every photo as it came, in a file named by the hash of its bytes, and what was found beside it."""

import hashlib
import json
import os
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..errors import StoreError, UnknownName

_HASH = re.compile(r"[0-9a-f]{64}")
SUFFIXES = {"JPEG": ".jpg", "PNG": ".png", "TIFF": ".tif", "HEIC": ".heic", "WebP": ".webp"}
"""By format as imaging names it; anything else keeps its bytes under .bin."""


class Vault:
    """A folder of originals. Names come from hashes alone, so nothing that was sent can choose a path."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, photo: bytes, found: Mapping[str, Any] | None = None, suffix: str = ".jpg") -> str:
        """Keeps a photo, and what was found in it; returns its hash. The same bytes once. Raises StoreError."""
        name = hashlib.sha256(photo).hexdigest()
        if found is not None:
            suffix = SUFFIXES.get(str(found.get("format")), ".bin")
        folder = self._folder / name[:2]
        try:
            folder.mkdir(parents=True, exist_ok=True)
            if self._find(name) is None:
                _write(folder / f"{name}{suffix}", photo)
            if found is not None:
                _write(folder / f"{name}.json", json.dumps(found, indent=1, sort_keys=True).encode())
        except OSError as error:
            raise StoreError(
                f"The photo cannot be kept in {self._folder}: {error.strerror}. Free some space, or see to its rights."
            ) from None
        return name

    def remove(self, name: str) -> None:
        """Deletes a photo and what was found of it; nothing if it is gone already. Raises StoreError."""
        if not _HASH.fullmatch(name):
            raise UnknownName(f"There is no photo '{name[:64]}'.")
        try:
            for path in (self._folder / name[:2]).glob(f"{name}.*"):
                path.unlink(missing_ok=True)
        except OSError as error:
            raise StoreError(f"The photo {name} cannot be deleted: {error.strerror}. See to its rights.") from None

    def path(self, name: str) -> Path:
        """The file of a photo. Raises UnknownName."""
        found = self._find(name) if _HASH.fullmatch(name) else None
        if found is None:
            raise UnknownName(f"There is no photo '{name[:64]}'.")
        return found

    def photo(self, name: str) -> bytes:
        """A photo as it came. Raises UnknownName, or StoreError if the file is not as it was any more."""
        try:
            data = self.path(name).read_bytes()
        except OSError as error:
            raise StoreError(f"The photo {name} cannot be read: {error.strerror}.") from None
        if hashlib.sha256(data).hexdigest() != name:
            raise StoreError(f"The photo {name} is not as it was kept: its bytes have changed. See to the disk.")
        return data

    def _find(self, name: str) -> Path | None:
        folder = self._folder / name[:2]
        return next((p for p in sorted(folder.glob(f"{name}.*")) if p.suffix != ".json"), None)


def _write(path: Path, data: bytes) -> None:
    """The whole file or none of it."""
    handle, part = tempfile.mkstemp(dir=path.parent, prefix=".part-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise
