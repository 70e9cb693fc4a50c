"""Records that came in bags from other hosts: checked, kept, shown. They are read, never run or changed."""

import hashlib
import shutil
import tempfile
import threading
import zipfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import BinaryIO

import bagit  # type: ignore[import-untyped]
from pydantic import BaseModel, Field, ValidationError

from ..errors import NotNow, ProgramError, StoreError, UnknownName
from .gather import FORMAT, Record

ARCHIVE = "archive"
"""Folder of records from elsewhere, in the data folder."""
UNPACKED_BYTES_MAX = 4_000_000_000
FILES_MAX = 20_000
RECORD_BYTES_MAX = 100_000_000
"""Longest record.json: a year of lines and readings."""
KEY_LETTERS = 16
_HEX = frozenset("0123456789abcdef")
_REMEMBERED = 32
"""Records kept in memory; reading one takes some 20 ms."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One record from elsewhere."""

    key: str
    """By which it is asked for: the beginning of the SHA-256 of its data."""
    record: Record
    folder: Path

    @property
    def size_bytes(self) -> int:
        """What it takes on the disk."""
        return sum(path.stat().st_size for path in self.folder.rglob("*") if path.is_file())


class _Format(BaseModel):
    """What every record says of itself, of whatever version."""

    format: int = Field(ge=1)


class Archive:
    """The records of one folder. Its folders are named by hash alone, so nothing in a bag can choose a path."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._known: dict[str, Record] = {}
        self._moving = threading.Lock()

    def take(self, bag: Path | BinaryIO, name: str = "") -> Taken:
        """Checks a bag and keeps it. `name`: what it is called towards people.

        Raises ProgramError with what is wrong, NotNow if it is here already, StoreError.
        """
        name = name or (bag.name if isinstance(bag, Path) else "The bag")
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".bag-", dir=self._folder) as folder:
                inside = _unpack(bag, name, Path(folder))
                _check(inside, name)
                data = inside / "data" / "record.json"
                record, key = _read(data), _key(data)
                with self._moving:
                    place = self._folder / key
                    if place.exists():
                        raise NotNow(f"This record of session {record.id} of '{record.chamber_id}' is here already.")
                    shutil.move(str(inside), place)
        except OSError as error:
            raise StoreError(f"The bag cannot be kept in {self._folder}: {error.strerror}. Free some space.") from None
        return Taken(key, record, self._folder / key)

    def all(self) -> list[Taken]:
        """The records here, the newest session first. One that cannot be read is left out."""
        found = []
        for folder in self._folder.glob("*/") if self._folder.is_dir() else ():
            try:
                found.append(self.one(folder.name))
            except (ProgramError, UnknownName):
                continue
        return sorted(found, key=lambda taken: (taken.record.began_utc, taken.record.made_utc), reverse=True)

    def one(self, key: str) -> Taken:
        """One of them. Raises UnknownName, or ProgramError if its data are not as they were."""
        folder = self._folder / key
        if len(key) != KEY_LETTERS or not _HEX.issuperset(key) or not folder.is_dir():
            self._known.pop(key, None)
            raise UnknownName(f"There is no record '{key[:40]}' from elsewhere.")
        if key not in self._known:
            path = folder / "data" / "record.json"
            record = _read(path)
            if _key(path) != key:
                raise ProgramError(f"{path} is not as it was taken in. Take its bag in again.")
            while len(self._known) >= _REMEMBERED:
                self._known.pop(next(iter(self._known)))
            self._known[key] = record
        return Taken(key, self._known[key], folder)

    def page(self, taken: Taken) -> Path:
        """The record's own page as it came, for a browser."""
        return taken.folder / "data" / "record.html"

    def photo(self, taken: Taken, name: str) -> tuple[bytes, str] | None:
        """A photo of one of them by its hash, and the ending of its file; None: it is not there."""
        folder = taken.folder / "data" / "photos"
        path = next((p for p in folder.glob(f"{name}*")), None) if name in taken.record.photos() else None
        return (path.read_bytes(), path.suffix.lower()) if path is not None else None

    def remove(self, key: str) -> Taken:
        """Deletes one; returns what it was. Raises UnknownName, StoreError."""
        taken = self.one(key)
        try:
            with self._moving, tempfile.TemporaryDirectory(prefix=".gone-", dir=self._folder) as folder:
                taken.folder.rename(Path(folder) / key)  # the whole record or none of it
        except OSError as error:
            raise StoreError(f"{taken.folder} cannot be deleted: {error.strerror}. Look at its rights.") from None
        self._known.pop(key, None)
        return taken


def _unpack(bag: Path | BinaryIO, name: str, folder: Path) -> Path:
    """Unpacks a zip of one folder. Refuses names that lead out of it, and what is too large."""
    try:
        with zipfile.ZipFile(bag) as packed:
            entries = packed.infolist()
            tops = set()
            if len(entries) > FILES_MAX or sum(e.file_size for e in entries) > UNPACKED_BYTES_MAX:
                raise ProgramError(f"'{name}': it is too large to be a record.")
            for entry in entries:
                parts = PurePosixPath(entry.filename).parts
                if not parts or ".." in parts or parts[0] == "/" or "\\" in entry.filename or ":" in entry.filename:
                    raise ProgramError(f"'{name}': it holds the name '{entry.filename[:80]}', which leads out of it.")
                tops.add(parts[0])
            if len(tops) != 1:
                raise ProgramError(f"'{name}': a bag in a zip file is one folder; this holds {len(tops)}.")
            packed.extractall(folder)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, RuntimeError, UnicodeError) as error:
        # Damaged, packed by a way there is no reader for, cut short, with a password.
        raise ProgramError(f"'{name}': this is no zip file that can be read ({error}). Copy it again.") from None
    return folder / tops.pop()


def _check(inside: Path, name: str) -> None:
    """The bag is whole, and each photo is the one its name says."""
    try:
        bagit.Bag(str(inside)).validate()
    except (bagit.BagError, ValueError, LookupError) as error:
        raise ProgramError(f"'{name}': it is not as it was packed: {error}. Copy it again.") from None
    photos = inside / "data" / "photos"
    for path in sorted(photos.iterdir()) if photos.is_dir() else ():
        with path.open("rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() != path.stem:
                raise ProgramError(f"'{name}': the photo {path.name[:80]} is not the one its name says.")


def _key(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:KEY_LETTERS]


def _read(path: Path) -> Record:
    try:
        if path.stat().st_size > RECORD_BYTES_MAX:
            raise ProgramError(f"{path.name}: it has {path.stat().st_size} bytes, too many for a record.")
        text = path.read_text(encoding="utf-8")
        version = _Format.model_validate_json(text).format
        if version > FORMAT:
            raise ProgramError(f"{path.name}: it was written by a newer version (format {version}). Update Lampwarden.")
        return Record.model_validate_json(text)
    except (OSError, UnicodeDecodeError, ValidationError) as error:
        raise ProgramError(f"{path.name}: this is no record of Lampwarden: {str(error)[:300]}") from None
