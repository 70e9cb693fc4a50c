"""What is deleted on purpose goes, what was said stays, and nothing goes by itself unless somebody said so."""

import hashlib
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from tests.photos.conftest import Scene, chamber, pool, program, scene, sheet, two_photos
from tests.web.conftest import Asker

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Program
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ChangedMeanwhile, NotNow, ProgramError, UnknownName
from lampwarden.photos.pool import Pool
from lampwarden.service.kept import Retention
from lampwarden.store import Batch, Line, Sample, Store, Stretch
from lampwarden.store.records import Ended
from lampwarden.store.thinning import Thinning
from lampwarden.store.verify import verify
from lampwarden.web.api import create_api

__all__ = ["chamber", "pool", "program", "scene", "sheet", "two_photos"]

END_UTC = "2026-05-05T09:30:00.000Z"
SHEET = "ferry-timetable"


def end(scene: Scene) -> None:
    line = Line("ended", 9.0, END_UTC, {"lit_s": [28_800.0] * 6}, "Session completed.", "demo", "s")
    scene.store.commit(Batch("s", [line], ended=Ended("completed", "All done.", END_UTC)))


def files(scene: Scene) -> set[str]:
    folder = scene.service.folder() / "originals"
    return {path.name.partition(".")[0] for path in folder.rglob("*.*")}


def names(photo: bytes) -> str:
    return hashlib.sha256(photo).hexdigest()


@pytest.fixture(scope="module")
def read_once(
    tmp_path_factory: pytest.TempPathFactory,
    chamber: Chamber,
    program: Program,
    sheet: Sheet,
    pool: Pool,
    two_photos: tuple[bytes, bytes],
) -> Path:
    """The folder of an ended session with a photo before and one after, and one of its sheet a while later."""
    folder = tmp_path_factory.mktemp("read")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("lampwarden.service.seen.Pool", lambda: pool)
        scene = Scene(folder, chamber, program, sheet)
        for checkpoint, at_s, photo in (("baseline", 0.0, two_photos[0]), ("8 h", 28_800.0, two_photos[1])):
            scene.reached(checkpoint, at_s, (0.0, 0.0, at_s, 0.0, 0.0, 0.0))
            scene.read(photo, checkpoint)
        end(scene)
        scene.read(two_photos[1], session=False)
        scene.close()
    return folder


@pytest.fixture
def read(
    read_once: Path, tmp_path: Path, chamber: Chamber, program: Program, sheet: Sheet, pool: Pool,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Scene]:  # fmt: skip
    monkeypatch.setattr("lampwarden.service.seen.Pool", lambda: pool)
    scene = Scene(shutil.copytree(read_once, tmp_path / "read"), chamber, program, sheet, begun=True)
    yield scene
    scene.close()


def test_photos_of_a_session_go_and_what_was_read_of_them_stays(read: Scene, two_photos: tuple[bytes, bytes]) -> None:
    service, before = read.service, read.service.conclusions("s")
    use = service.disk_use("demo")
    assert (use.sessions[0].photos, use.sessions[0].ended) == (2, True)
    assert use.originals >= use.sessions[0].photo_bytes > len(two_photos[0])
    going = service.going("photos", "s", "demo")
    assert going.goes[0] == "2 photos as sent, 4 pictures made of them."
    assert files(read) >= {names(photo) for photo in two_photos}

    with pytest.raises(ProgramError, match="Type 's'"):
        service.delete("photos", "s", "yes", going.mark, "demo", "Ida")
    with pytest.raises(ChangedMeanwhile):
        service.delete("photos", "s", "s", "0" * 16, "demo", "Ida")
    assert service.going("photos", "s", "demo") == going

    service.delete("photos", "s", "s", going.mark, "demo", "Ida")
    # The second photo also belongs to the later look, outside the session: it stays.
    assert names(two_photos[0]) not in files(read)
    assert service.photo(names(two_photos[1]))[0] == two_photos[1]
    assert service.conclusions("s") == before
    assert [look.pictures for look in service.looks("s")] == [(), ()]
    said = service.last_lines("demo", 1)[0]
    assert (said.kind, said.session_id) == ("photos_deleted", "s")
    assert "Deleted by Ida: the photos of session s" in said.text
    assert verify(read.store.path).faults == ()
    with pytest.raises(NotNow, match="has no photos"):
        service.going("photos", "s", "demo")


def test_a_photo_sent_anew_is_kept_again(read: Scene, two_photos: tuple[bytes, bytes]) -> None:
    going = read.service.going("photos", "s", "demo")
    read.service.delete("photos", "s", "s", going.mark, "demo", "Ida")
    read.read(two_photos[0], session=False)
    read.service.finish_deleting()
    assert read.service.photo(names(two_photos[0]))[0] == two_photos[0]


def test_nothing_of_a_running_session_goes(scene: Scene) -> None:
    for what, key in (("photos", "s"), ("sheet", SHEET)):
        with pytest.raises(NotNow, match="has not ended"):
            scene.service.going(what, key, "demo")


def test_a_sheet_goes_with_its_sessions_and_the_journal_stays(read: Scene, two_photos: tuple[bytes, bytes]) -> None:
    service = read.service
    read.store.commit(Batch("s", samples=[Sample(1.0, 25.0, 40.0, (30.0,), False)], progress={"lit_s": [1.0] * 6}))
    lines, lit = service.journal("demo", "s"), service.lit_hours("demo")
    plan = Plan(id="p", title="Trial", chamber="demo", sheet=SHEET, program=read.program)
    service.save_plan(plan, "Wilma", None)
    with pytest.raises(NotNow, match="used by plan 'Trial'"):
        service.going("sheet", SHEET, "demo")
    service.remove_plan("p", "Wilma")
    going = service.going("sheet", SHEET, "demo")
    told = " ".join(going.goes)
    assert "1 session (s)" in told
    assert "3 readings" in told
    assert "lamps" in " ".join(going.stays)
    service.delete("sheet", SHEET, SHEET, going.mark, "demo", "Ida")

    assert files(read) == set()
    assert service.sheets() == []
    assert service.sessions("demo") == []
    for ask in (lambda: service.sheet(SHEET), lambda: service.sheet(SHEET, 1), lambda: service.session("s")):
        with pytest.raises(UnknownName):
            ask()
    assert service.readings("s") == []
    assert service.journal("demo", "s")[: len(lines)] == lines
    assert [line.kind for line in service.last_lines("demo", 2)] == ["session_deleted", "sheet_deleted"]
    assert verify(read.store.path).faults == ()
    assert service.lit_hours("demo") == lit
    # The same short name can be used for another sheet, and the session's is not given out again.
    service.save_sheet(read._sheet, "Wilma", None)
    assert service.sheet(SHEET).revision == 1
    assert service.going("sheet", SHEET, "demo").goes[0].startswith("Its description in 1 version")


def test_a_script_looks_first_too(read: Scene) -> None:
    asker = Asker(create_api(read.service))
    use = asker.get("/chambers/demo/kept").json()
    assert use["sessions"][0]["photos"] == 2
    going = asker.get("/chambers/demo/kept/going", params={"what": "photos", "name": "s"}).json()
    order = {"by": "a script", "what": "photos", "name": "s", "typed": "S", "mark": going["mark"]}
    assert asker.post("/chambers/demo/kept/delete", order).status_code == 422
    assert asker.post("/chambers/demo/kept/delete", order | {"typed": "s", "mark": ""}).status_code == 409
    assert asker.post("/chambers/demo/kept/delete", order | {"typed": "s"}).status_code == 200
    assert asker.get("/chambers/demo/kept").json()["sessions"][0]["photos"] == 0
    wanted = {"by": "a script", "thin_after_days": 90.0}
    assert asker.ask("PUT", "/chambers/demo/retention", json=wanted).json() == {"thin_after_days": 90.0}
    assert asker.get("/chambers/demo/retention/ahead", params={"days": 1}).status_code == 422


KILLED = """
import os, signal, sys
from pathlib import Path
from lampwarden.photos.vault import Vault
from lampwarden.service.kept import Kept
from lampwarden.keeper import RealClock
from lampwarden.store import Store
remove, count = Vault.remove, 0
def and_die(self, name):
    global count
    remove(self, name)
    count += 1
    if count == 2:
        os.kill(os.getpid(), signal.SIGKILL)
Vault.remove = and_die
store = Store.open(Path(sys.argv[1]))
service = Kept(store, RealClock())
service._keepers["demo"] = object()
going = service.going("photos", "s", "demo")
service.delete("photos", "s", "s", going.mark, "demo", "Ida")
"""


def test_a_deletion_cut_short_is_finished_at_the_next_start(read: Scene) -> None:
    before, path = len(files(read)), read.store.path
    read.store.close()
    died = subprocess.run([sys.executable, "-c", KILLED, str(path)], capture_output=True, text=True)
    assert died.returncode == -signal.SIGKILL, died.stderr
    assert len(files(read)) == before - 2
    read.store = Store.open(path)
    assert verify(path).faults == ()
    assert "photos_deleted" in [line.kind for line in read.store.journal("s", "demo")]
    fresh = type(read.service)(read.store, read.clock)
    fresh.finish_deleting()
    fresh.close()
    # Left are the three of the later look.
    assert len(files(read)) == 3


# --- thinning ---------------------------------------------------------------------------------------------------------


def day_of_samples(store: Store, session_id: str, hours: int = 3) -> None:
    """A reading a second: air that swings, one peak of a second, a door opened for a moment, a sensor silent for a
    while."""
    samples = []
    for s in range(hours * 3600):
        air = None if 5000 <= s < 5200 else 25.0 + (s % 60) / 100 + (9.0 if s == 4321 else 0.0)
        samples.append(Sample(float(s), air, 40.0, (30.0 + s / 3600, 31.0), s == 777))
    store.commit(Batch(session_id, samples=samples))


def highest(stretches: list[Stretch]) -> float:
    return max(s.air_temp_c_max for s in stretches if s.air_temp_c_max is not None)


def lowest(stretches: list[Stretch]) -> float:
    return min(s.air_temp_c_min for s in stretches if s.air_temp_c_min is not None)


def test_thinning_keeps_what_went_farthest(scene: Scene) -> None:
    day_of_samples(scene.store, "s")
    end(scene)
    before = scene.store.readings("s", 100)
    (old,) = Thinning(scene.store).old("2027-01-01T00:00:00.000Z")
    assert old.readings == 3 * 3600
    gone = Thinning(scene.store).thin(old)
    assert gone > 0.9 * old.readings
    after = scene.store.readings("s", 100)
    assert highest(after) == highest(before) == pytest.approx(34.0, abs=0.6)
    assert lowest(after) == lowest(before)
    assert sum(s.door_open for s in after) == sum(s.door_open for s in before) == 1
    assert [s.bank_temps_c_max for s in after][-1] == [s.bank_temps_c_max for s in before][-1]
    assert Thinning(scene.store).thin(old) == 0  # done again, nothing more goes


def test_nothing_is_thinned_unless_somebody_says_so(scene: Scene) -> None:
    service = scene.service
    day_of_samples(scene.store, "s", hours=1)
    end(scene)
    scene.clock.utc_shift = (
        datetime.fromisoformat(END_UTC) + timedelta(days=100) - (scene.clock.utc() - scene.clock.utc_shift)
    )
    assert service.retention() == Retention(None)
    service.tend("demo")
    assert len(scene.store.readings("s", 2000)) == 2000
    with pytest.raises(ProgramError, match="7 to 36525 days"):
        service.set_retention(1.0, "demo", "Ida")
    ahead = service.thinning_ahead(90.0)
    assert (ahead.sessions, ahead.readings) == (1, 3600)
    assert service.thinning_ahead(120.0).sessions == 0
    service.set_retention(90.0, "demo", "Ida")
    assert service.retention() == Retention(90.0)
    service.tend("demo")
    assert len(scene.store.readings("s", 2000)) < 360
    assert scene.store.session("s").thinned_utc is not None
    kinds = [line.kind for line in service.last_lines("demo", 2)]
    assert kinds == ["retention_set", "readings_thinned"]
    service.tend("demo")
    assert [line.kind for line in service.last_lines("demo", 2)] == kinds
    service.set_retention(None, "demo", "Ida")
    assert service.retention() == Retention(None)


def test_a_running_session_is_never_thinned(scene: Scene) -> None:
    day_of_samples(scene.store, "s", hours=1)
    scene.service.set_retention(7.0, "demo", "Ida")
    scene.clock.utc_shift += timedelta(days=400)
    scene.service.thin_old()
    assert len(scene.store.readings("s", 2000)) == 2000
