"""Pictures of sheets to lay out cells on: small JPEG files in the data folder, each named by its content."""

import os
import re
from hashlib import sha256
from pathlib import Path

from ..errors import PhotoRefused, StoreError, StoreFull, UnknownName
from .base import Base

FOLDER = "sheet_pictures"
PICTURE_BYTES_MAX = 262_144
"""Longest picture: the page makes it of a photo, straightened and with at most 1600 pixels along its longer edge."""
EDGE_PX_MAX = 2400
PICTURES_MAX = 1000
"""So many are kept, some 150 MB; nobody has more sheets, and a page gone wild fills no disk."""

_SIZE_MARKS = {0xC0, 0xC1, 0xC2}
"""Start of frame: baseline, extended, progressive (ITU-T T.81, table B.1)."""


class SheetPictures(Base):
    """The part of the service that keeps pictures of sheets."""

    def keep_sheet_picture(self, content: bytes) -> str:
        """Keeps a JPEG; returns its SHA-256, by which a sheet names it. The same picture is kept once.

        Raises PhotoRefused if it is none or too large, StoreFull or StoreError if it cannot be written.
        """
        if len(content) > PICTURE_BYTES_MAX:
            raise PhotoRefused(f"The picture has {len(content)} bytes; at most {PICTURE_BYTES_MAX} are kept.")
        size = jpeg_size(content)
        if size is None:
            raise PhotoRefused("This is no whole JPEG picture. Choose a photo again.")
        if max(size) > EDGE_PX_MAX:
            raise PhotoRefused(f"The picture has {size[0]} x {size[1]} pixels; at most {EDGE_PX_MAX} along an edge.")
        name = sha256(content).hexdigest()
        path = self._picture_path(name)
        try:
            if path.exists():
                return name
            path.parent.mkdir(parents=True, exist_ok=True)
            if sum(1 for _ in path.parent.iterdir()) >= PICTURES_MAX:
                raise StoreFull(f"{path.parent} holds {PICTURES_MAX} pictures. Remove what no sheet uses any more.")
            part = path.with_suffix(f".{os.getpid()}.part")
            part.write_bytes(content)
            part.replace(path)
        except OSError as error:
            raise StoreError(f"{path} cannot be written: {error.strerror}. Look at disk and folder.") from error
        return name

    def sheet_picture(self, name: str) -> bytes:
        """The JPEG of this SHA-256. Raises UnknownName if it is not on this computer, or not as it was."""
        content = b""
        if re.fullmatch("[0-9a-f]{64}", name):
            try:
                content = self._picture_path(name).read_bytes()
            except OSError:
                content = b""
        if sha256(content).hexdigest() != name:
            raise UnknownName("This picture is not on this computer. Choose a photo of the sheet again.")
        return content

    def _picture_path(self, name: str) -> Path:
        return self._store.path.parent / FOLDER / f"{name}.jpg"


def jpeg_size(content: bytes) -> tuple[int, int] | None:
    """Width and height of a JPEG in pixels, from its headers alone; None if it is none or its end is missing."""
    if not (content.startswith(b"\xff\xd8\xff") and content.endswith(b"\xff\xd9")):
        return None
    at = 2
    while at + 9 < len(content) and content[at] == 0xFF:
        mark, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4], "big")
        if mark in _SIZE_MARKS:
            height, width = (int.from_bytes(content[at + n : at + n + 2], "big") for n in (5, 7))
            return (width, height) if width and height else None
        at += 2 + length
    return None
