"""Pictures of sheets: kept once, by content; nothing but small whole JPEGs."""

from collections.abc import Iterator
from hashlib import sha256
from io import BytesIO
from pathlib import Path

import pytest

from lampwarden.errors import PhotoRefused, StoreFull, UnknownName
from lampwarden.keeper import RealClock
from lampwarden.service import Service
from lampwarden.service import sheet_pictures as kept
from lampwarden.store.store import Store

Image = pytest.importorskip("PIL.Image")


def jpeg(width: int, height: int, **options: object) -> bytes:
    file = BytesIO()
    Image.new("RGB", (width, height), (200, 180, 140)).save(file, "JPEG", **options)
    return file.getvalue()


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    store = Store.open(tmp_path / "records.db")
    yield Service(store, RealClock())
    store.close()


def test_kept_once_by_content(service: Service, tmp_path: Path) -> None:
    content = jpeg(30, 20)
    name = service.keep_sheet_picture(content)
    assert name == service.keep_sheet_picture(content) == sha256(content).hexdigest()
    assert service.sheet_picture(name) == content
    assert [path.name for path in (tmp_path / kept.FOLDER).iterdir()] == [f"{name}.jpg"]


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"optimize": True}], ids=str)
def test_size_is_read_from_the_headers(options: dict[str, object]) -> None:
    assert kept.jpeg_size(jpeg(31, 17, **options)) == (31, 17)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xd8\xff\xd9",
        b"\x89PNG\r\n\x1a\n" + bytes(40),
        jpeg(30, 20)[:-2],
        b"\xff\xd8\xff" + bytes(30) + b"\xff\xd9",
    ],
    ids=["empty", "no frame", "png", "cut short", "rubbish"],
)
def test_what_is_no_whole_jpeg_is_refused(service: Service, tmp_path: Path, content: bytes) -> None:
    with pytest.raises(PhotoRefused, match="no whole JPEG"):
        service.keep_sheet_picture(content)
    assert not (tmp_path / kept.FOLDER).exists()


def test_large_ones_are_refused(service: Service) -> None:
    with pytest.raises(PhotoRefused, match="pixels"):
        service.keep_sheet_picture(jpeg(kept.EDGE_PX_MAX + 1, 8))
    with pytest.raises(PhotoRefused, match="bytes"):
        service.keep_sheet_picture(bytes(kept.PICTURE_BYTES_MAX + 1))


def test_a_full_folder_takes_no_more(service: Service, tmp_path: Path) -> None:
    folder = tmp_path / kept.FOLDER
    folder.mkdir()
    for number in range(kept.PICTURES_MAX):
        (folder / f"{number}.jpg").touch()
    with pytest.raises(StoreFull):
        service.keep_sheet_picture(jpeg(30, 20))


def test_unknown_and_damaged_ones(service: Service, tmp_path: Path) -> None:
    for name in ("0" * 64, "../records.db", ""):
        with pytest.raises(UnknownName, match="not on this computer"):
            service.sheet_picture(name)
    name = service.keep_sheet_picture(jpeg(30, 20))
    (tmp_path / kept.FOLDER / f"{name}.jpg").write_bytes(jpeg(30, 21))
    with pytest.raises(UnknownName):
        service.sheet_picture(name)
