"""A record with everything it rests on as a BagIt bag (RFC 8493) in a zip file, and back."""

import json
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath

import bagit  # type: ignore[import-untyped]
from pydantic import ValidationError

from ..errors import LampwardenError, NotNow, ProgramError, StoreError, UnknownName
from .gather import FORMAT, Record
from .html import to_html
from .pdf import to_pdf
from .tables import tables
from .telling import document

ARCHIVE = "archive"
"""Folder of records from elsewhere, in the data folder."""
UNPACKED_BYTES_MAX = 4_000_000_000
FILES_MAX = 20_000

Fetch = Callable[[str], tuple[bytes, str]]
"""Gives a photo by its hash, and the ending of its name."""


def pack(record: Record, fetch: Fetch, target: Path) -> Path:
    """Writes the bag; the whole file or none of it. Raises StoreError; a photo that is missing is named in the bag."""
    try:
        with tempfile.TemporaryDirectory(prefix="lampwarden-bag-", dir=target.parent) as folder:
            inside = Path(folder) / f"lampwarden-{record.id}"
            inside.mkdir()
            _fill(inside, record, fetch)
            bagit.make_bag(
                str(inside),
                {
                    "External-Identifier": f"{record.chamber_id}/{record.id}",
                    "External-Description": document(record).about,
                    "Source-Organization": "",
                },
                checksums=["sha256"],
            )
            part = Path(folder) / "bag.zip"
            with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as out:
                for path in sorted(inside.rglob("*")):
                    if path.is_file():
                        out.write(path, path.relative_to(folder).as_posix())
            part.replace(target)
    except OSError as error:
        raise StoreError(
            f"{target} cannot be written: {error.strerror}. Free some space, or name another place."
        ) from None
    return target


def _fill(folder: Path, record: Record, fetch: Fetch) -> None:
    missing = []
    photos = folder / "photos"
    photos.mkdir()
    pictures: dict[str, bytes] = {}
    for name in record.photos():
        try:
            data, ending = fetch(name)
        except LampwardenError as error:
            missing.append(f"{name}: {error}")
            continue
        pictures[name] = data
        (photos / f"{name}{ending}").write_bytes(data)
    if missing:
        (folder / "missing.txt").write_text("\n".join(missing) + "\n", encoding="utf-8")
    (folder / "record.json").write_text(record.model_dump_json(indent=1, by_alias=True), encoding="utf-8")
    told = document(record)
    (folder / "record.html").write_text(to_html(told, pictures.get), encoding="utf-8")
    (folder / "record.pdf").write_bytes(to_pdf(told, pictures.get))
    for name, content in tables(record).items():
        (folder / name).write_text(content, encoding="utf-8", newline="")


class Archive:
    """Records that came in bags from elsewhere. They are read, never run or changed."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def take(self, bag: Path) -> Record:
        """Checks a bag and keeps it. Raises ProgramError with what is wrong, NotNow if it is here already."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(prefix=".bag-", dir=self._folder) as folder:
                inside = _unpack(bag, Path(folder))
                record = _checked(inside, bag.name)
                place = self._place(record.chamber_id, record.id)
                if place.exists():
                    raise NotNow(f"The record of session {record.id} of '{record.chamber_id}' is here already.")
                place.parent.mkdir(parents=True, exist_ok=True)
                shutil.move(str(inside), place)
        except OSError as error:
            raise StoreError(f"The bag cannot be kept in {self._folder}: {error.strerror}.") from None
        return record

    def all(self) -> list[Record]:
        """The records here, the newest first. One that cannot be read is left out."""
        found = []
        for path in self._folder.glob("*/*/data/record.json"):
            try:
                found.append(_read(path))
            except ProgramError:
                continue
        return sorted(found, key=lambda record: record.began_utc, reverse=True)

    def record(self, chamber_id: str, session_id: str) -> Record:
        """One of them. Raises UnknownName."""
        record = next((r for r in self.all() if (r.chamber_id, r.id) == (chamber_id, session_id)), None)
        if record is None:
            raise UnknownName(f"No record of session '{session_id}' of '{chamber_id}' was taken in.")
        return record

    def page(self, record: Record) -> Path:
        """The record's own page, for a browser."""
        return self._place(record.chamber_id, record.id) / "data" / "record.html"

    def photo(self, record: Record, name: str) -> bytes | None:
        """A photo of one of them by its hash; None: it is not there."""
        folder = self._place(record.chamber_id, record.id) / "data" / "photos"
        path = next((p for p in folder.glob(f"{name}*")), None) if name in record.photos() else None
        return path.read_bytes() if path is not None else None

    def _place(self, chamber_id: str, session_id: str) -> Path:
        safe = "".join(c if c.isalnum() or c in "-_" else "_" for c in session_id)
        return self._folder / chamber_id / safe


def _unpack(bag: Path, folder: Path) -> Path:
    """Unpacks a zip of one folder. Refuses names that lead out of it, and what is too large."""
    try:
        with zipfile.ZipFile(bag) as packed:
            entries = packed.infolist()
            tops = set()
            if len(entries) > FILES_MAX or sum(e.file_size for e in entries) > UNPACKED_BYTES_MAX:
                raise ProgramError(f"{bag.name}: it is too large to be a record.")
            for entry in entries:
                parts = PurePosixPath(entry.filename).parts
                if not parts or ".." in parts or parts[0] == "/" or "\\" in entry.filename or ":" in entry.filename:
                    raise ProgramError(f"{bag.name}: it holds the name '{entry.filename[:80]}', which leads out of it.")
                tops.add(parts[0])
            if len(tops) != 1:
                raise ProgramError(f"{bag.name}: a bag in a zip file is one folder; this holds {len(tops)}.")
            packed.extractall(folder)
    except zipfile.BadZipFile:
        raise ProgramError(f"{bag.name}: this is no zip file, or it is damaged. Copy it again.") from None
    return folder / tops.pop()


def _checked(inside: Path, name: str) -> Record:
    try:
        bagit.Bag(str(inside)).validate()
    except bagit.BagError as error:
        raise ProgramError(f"{name}: it is not as it was packed: {error}. Copy it again from where it came.") from None
    return _read(inside / "data" / "record.json")


def _read(path: Path) -> Record:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        version = data.get("format") if isinstance(data, dict) else None
        if not isinstance(version, int) or version > FORMAT:
            raise ProgramError(f"{path.name}: it was written by a newer version (format {version}). Update Lampwarden.")
        return Record.model_validate(data)
    except (OSError, UnicodeDecodeError, ValueError, ValidationError) as error:
        raise ProgramError(f"{path.name}: this is no record of Lampwarden: {str(error)[:300]}") from None
