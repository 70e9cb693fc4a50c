"""A record with everything it rests on as a BagIt bag (RFC 8493) in a zip file; archive.py takes it in again."""

import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import bagit  # type: ignore[import-untyped]

from ..errors import LampwardenError, StoreError
from .gather import Record
from .html import to_html
from .pdf import to_pdf
from .tables import tables
from .telling import document

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
