"""A record goes to another host: there it says the same, and nothing in it gets out of its place."""

import hashlib
import io
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import bagit
import pytest
from tests.web.conftest import CHAMBER as OTHER
from tests.web.conftest import Asker, Bench

from lampwarden.errors import ProgramError, UnknownName
from lampwarden.record.archive import Archive
from lampwarden.record.bag import pack
from lampwarden.record.concluded import concluded
from lampwarden.record.gather import Record, gather
from lampwarden.record.html import to_html
from lampwarden.record.telling import document
from lampwarden.web.api import create_api
from lampwarden.web.guard import Guard
from lampwarden.web.results_view.said import headline

from ..photos.conftest import Scene
from .test_record import record

__all__ = ["record"]


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[Bench]:
    """Another host, with another chamber and a store of its own."""
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    bench = Bench(folder / "lampwarden.db")
    yield bench
    bench.close()


@pytest.fixture
def asker(elsewhere: Bench) -> Asker:
    api = create_api(elsewhere.service)

    async def under_api(scope, receive, send) -> None:  # type: ignore[no-untyped-def]
        await api({**scope, "path": scope["path"].removeprefix("/api")}, receive, send)

    return Asker(Guard(under_api))


def packed(record: Record, scene: Scene, folder: Path) -> bytes:
    def fetch(name: str) -> tuple[bytes, str]:
        return scene.service.photo(name)[0], ".jpg"

    return pack(record, fetch, folder / "bag.zip").read_bytes()


def send(asker: Asker, bag: bytes) -> object:
    return asker.ask("POST", "/api/elsewhere", data={"by": "Ida"}, files={"file": ("bag.zip", bag, "application/zip")})


def test_another_host_shows_the_same(
    record: Record, scene: Scene, asker: Asker, elsewhere: Bench, two_photos: tuple[bytes, bytes], tmp_path: Path
) -> None:
    scene.read(two_photos[0], session=False)  # a look after the end, with a photo
    record = gather(scene.service, "s")
    assert record.photos()
    taken = send(asker, packed(record, scene, tmp_path))
    assert taken.status_code == 201, taken.text
    key = taken.json()["key"]
    assert asker.get(f"/api/elsewhere/{key}/record.json").text == record.model_dump_json(by_alias=True)
    page = asker.get(f"/api/elsewhere/{key}/record.html")
    assert page.text == to_html(document(record), lambda name: scene.service.photo(name)[0])
    assert "sandbox" in page.headers["content-security-policy"]
    assert "script-src" not in page.headers["content-security-policy"]
    # The headline there is that of the page where it was made.
    there = concluded(Archive(elsewhere.service.folder() / "archive").one(key).record)
    assert there is not None
    assert headline(there) == headline(scene.service.conclusions("s"))
    assert headline(there).startswith("Whiter by up to ")
    original = hashlib.sha256(two_photos[0]).hexdigest()
    photo = asker.get(f"/api/elsewhere/{key}/photos/{original}")
    assert (photo.content, photo.headers["content-type"]) == (two_photos[0], "image/jpeg")
    assert photo.headers["x-content-type-options"] == "nosniff"
    (listed,) = asker.get("/api/elsewhere").json()
    assert (listed["session"], listed["sheet"]) == ("s", record.sheet.title if record.sheet else "")
    assert "taken in by Ida" in elsewhere.service.last_lines(OTHER.id, 1)[0].text
    again = send(asker, packed(record, scene, tmp_path))
    assert (again.status_code, "here already" in again.json()["detail"]) == (409, True)


def test_what_is_no_bag_is_refused_with_what_is_wrong(asker: Asker) -> None:
    for content, said in ((b"no zip", "no zip file"), (_zip({"a/x.txt": b"x"}), "not as it was packed")):
        refused = send(asker, content)
        assert (refused.status_code, said in refused.json()["detail"]) == (422, True), refused.text
    assert asker.get("/api/elsewhere").json() == []
    for key in ("0" * 16, "../../../etc/pass", "%2e%2e%2f%2e%2e%2fetc0"):
        assert asker.get(f"/api/elsewhere/{key}/record.html").status_code in (404, 422)


def test_too_much_is_refused_before_it_is_read(asker: Asker) -> None:
    much = {"content-length": "2000000001", "content-type": "multipart/form-data; boundary=x"}
    assert asker.ask("POST", "/api/elsewhere", headers=much, content=b"").status_code == 413


def rebagged(bag: bytes, folder: Path, change: dict[str, bytes]) -> Path:
    """The bag with other files in it, whole in itself: what somebody with bad intent would send."""
    with zipfile.ZipFile(io.BytesIO(bag)) as whole:
        whole.extractall(folder / "out")
    (inside,) = (folder / "out").iterdir()
    new = folder / "new" / "bag"
    shutil.copytree(inside / "data", new)
    for name, content in change.items():
        (new / name).parent.mkdir(parents=True, exist_ok=True)
        (new / name).write_bytes(content)
    bagit.make_bag(str(new), checksums=["sha256"])
    return Path(shutil.make_archive(str(folder / "changed"), "zip", folder / "new"))


def test_a_photo_under_a_wrong_name_is_refused(record: Record, scene: Scene, tmp_path: Path) -> None:
    bag = rebagged(packed(record, scene, tmp_path), tmp_path, {f"photos/{'a' * 64}.jpg": b"<script>"})
    with pytest.raises(ProgramError, match="not the one its name says"):
        Archive(tmp_path / "archive").take(bag)


def test_names_in_a_record_choose_no_path(record: Record, scene: Scene, tmp_path: Path) -> None:
    evil = record.model_copy(update={"chamber_id": "../../evil", "id": "../x"})
    bag = rebagged(
        packed(record, scene, tmp_path), tmp_path, {"record.json": evil.model_dump_json(by_alias=True).encode()}
    )
    archive = Archive(tmp_path / "deep" / "deeper" / "archive")
    taken = archive.take(bag)
    assert taken.folder.parent == tmp_path / "deep" / "deeper" / "archive"
    assert not (tmp_path / "evil").exists()
    assert archive.photo(taken, "../record") is None


def test_a_newer_record_is_named_as_such(record: Record, scene: Scene, tmp_path: Path) -> None:
    bag = rebagged(packed(record, scene, tmp_path), tmp_path, {"record.json": b'{"format": 99}'})
    with pytest.raises(ProgramError, match="newer version"):
        Archive(tmp_path / "archive").take(bag)


def test_one_that_was_changed_on_the_disk_is_not_shown(record: Record, scene: Scene, tmp_path: Path) -> None:
    packed(record, scene, tmp_path)
    taken = Archive(tmp_path / "archive").take(tmp_path / "bag.zip")
    path = taken.folder / "data" / "record.json"
    path.write_text(path.read_text().replace("completed", "cut off"))
    fresh = Archive(tmp_path / "archive")
    with pytest.raises(ProgramError, match="not as it was taken in"):
        fresh.one(taken.key)
    assert fresh.all() == []


def test_one_can_be_deleted(record: Record, scene: Scene, tmp_path: Path) -> None:
    packed(record, scene, tmp_path)
    archive = Archive(tmp_path / "archive")
    taken = archive.take(tmp_path / "bag.zip")
    assert taken.size_bytes > 1000
    archive.remove(taken.key)
    assert list((tmp_path / "archive").iterdir()) == []
    with pytest.raises(UnknownName):
        archive.one(taken.key)


def _zip(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, content in files.items():
            packed.writestr(name, content)
    return out.getvalue()
