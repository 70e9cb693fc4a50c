"""The treatment record: it says what happened, stands alone, and comes back from its bag unchanged."""

import csv
import io
import json
import platform
import shutil
import subprocess
import zipfile
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import bagit
import pytest

from lampwarden import __version__
from lampwarden.domain.chamber import Calibration, Zone
from lampwarden.domain.finding import HandFinding
from lampwarden.domain.reading import CellColour, Lab, Reading, Way
from lampwarden.errors import NotNow, ProgramError, UnknownName
from lampwarden.record.archive import Archive
from lampwarden.record.bag import pack
from lampwarden.record.gather import Record, gather
from lampwarden.record.html import to_html
from lampwarden.record.pdf import to_pdf
from lampwarden.record.tables import tables
from lampwarden.record.telling import document, dose_bounds_j_cm2
from lampwarden.service.made_with import made_with
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended

from ..photos.conftest import UTC, Scene

LIT_S = (7200.0, 14400.0, 28800.0, 28800.0, 0.0, 28800.0)
BEFORE: Lab = (80.0, 2.0, 24.0)


def reading(labs: dict[str, Lab], taken_utc: str) -> Reading:
    cells = tuple(
        CellColour(cell=name, lab_d50=lab, u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3) for name, lab in labs.items()
    )
    return Reading(id="x", sheet="ferry-timetable", taken_utc=taken_utc, way=Way.INSTRUMENT, cells=cells, detection_limit_de00=0.4)  # fmt: skip  # noqa: E501


@pytest.fixture
def record(scene: Scene) -> Record:
    """A whole session, told by its journal and an instrument."""
    service, names = scene.service, ("A1", "A2", "A3", "B1", "B2", "B3")
    say = lambda kind, data, text: scene.store.commit(Batch("s", [Line(kind, 9.0, UTC, data, text, "demo", "s")]))  # noqa: E731
    made, data = made_with(None)
    say("made_with", data, made)
    say("began", {"by": "Wilma"}, "Session begun by Wilma <b>&</b>.")
    say("caution_confirmed", {"key": "eyes"}, "Wilma confirmed: never look at lit lamps.")
    scene.reached("baseline", 0.0, (0.0,) * 6)
    service.add_reading(reading(dict.fromkeys(names, BEFORE), "2026-05-04T09:30:00.000Z"), "Wilma", chamber_id="demo", session_id="s", checkpoint="baseline")  # fmt: skip  # noqa: E501
    scene.reached("8 h", 28800.0, LIT_S)
    after = dict.fromkeys(names, BEFORE) | {"A3": (84.0, 1.0, 16.0)}
    service.add_reading(reading(after, "2026-05-04T17:30:00.000Z"), "Wilma", chamber_id="demo", session_id="s", checkpoint="8 h")  # fmt: skip  # noqa: E501
    finding = HandFinding(cell="A3", aspect="note", note="=soft to the touch", found_utc=UTC)
    service.add_finding(finding, "Wilma", chamber_id="demo", session_id="s")
    wrong = HandFinding(cell="A2", aspect="stiffness", value=2, found_utc=UTC)
    service.add_finding(wrong, "Wilma", chamber_id="demo", session_id="s")
    number = service.hand_findings("s")[-1].number
    service.withdraw_finding(number, "It was another cell.", "Ida", chamber_id="demo", session_id="s")
    say("ended", {"lit_s": list(LIT_S), "outcome": "completed", "cause": "All done."}, "Session completed: All done.")
    scene.store.commit(Batch("s", ended=Ended("completed", "All done.", "2026-05-05T09:30:00.000Z")))
    return gather(service, "s")


def test_it_comes_back_from_its_json(record: Record) -> None:
    assert Record.model_validate_json(record.model_dump_json(by_alias=True)) == record


def test_it_says_what_happened(record: Record) -> None:
    told = document(record)
    text = json.dumps([section.title for section in told.sections]) + str(told)
    for piece in (
        "Harbour Line Ferries",
        "Completed. All done.",
        "groundwood",
        "never look at lit lamps",
        "soft to the touch",
    ):
        assert piece in text
    zones = {
        row[0]: row for s in told.sections if s.title == "Light" for b in s.blocks for row in getattr(b, "rows", ())
    }
    # 83 W/m2 for 8 h: 83 * 28800 * 1e-4 = 239.04 J/cm2.
    assert zones["A3"][4] == "239.0 J/cm² (2.390 MJ/m²)"
    # An estimate may be off by half: 119.5 to 358.6.
    assert zones["A3"][5] == "120 to 359 J/cm²"
    assert any("A3" in sentence for sentence in record.sentences)


@pytest.mark.parametrize(("expanded_u_pct", "bounds"), [(None, (None, None)), (10.0, (215.136, 262.944))])
def test_a_measured_dose_is_as_uncertain_as_was_said(
    expanded_u_pct: float | None, bounds: tuple[float | None, float | None]
) -> None:
    how = Calibration(how="measured", instrument="meter X", on=date(2031, 3, 1), expanded_u_pct=expanded_u_pct)
    zone = Zone(name="A3", irradiance_w_m2=83.0, calibration=how)
    # 83 W/m2 for 8 h: 239.04 J/cm2; a tenth of it either way.
    assert dose_bounds_j_cm2(zone, 28800.0) == (pytest.approx(bounds[0]), pytest.approx(bounds[1]))


def test_it_says_by_whom_how_and_with_what(record: Record) -> None:
    """What is asked of a treatment record, in each of its forms."""
    told = document(record)
    texts = {section.title: str(section.blocks) for section in told.sections}
    assert "Begun by Wilma." in texts["Outcome"]
    assert "until 2 h" in texts["As planned"]
    assert "The whole sheet through the mask" in texts["As planned"]
    assert f"Made with Lampwarden {__version__} on Python {platform.python_version()}" in texts["Made with"]
    assert "by Ida: It was another cell." in texts["Found by hand and eye"]
    page = to_html(told, lambda name: None)
    for piece in ("Begun by Wilma.", platform.python_version(), "It was another cell."):
        assert piece in page
    session = dict(csv.reader(io.StringIO(tables(record)["session.csv"])))
    assert (session["made_with_python"], session["begun_by"]) == (platform.python_version(), "Wilma")
    (line,) = [line for line in record.lines if line.kind == "made_with"]
    assert line.data["lampwarden"] == __version__


def test_a_withdrawn_finding_is_told_and_not_concluded_from(record: Record, scene: Scene) -> None:
    stands, gone = record.findings
    assert (stands.finding.cell, stands.withdrawn_utc, stands.by) == ("A3", "", "Wilma")
    assert (gone.finding.value, gone.withdrawn_by, gone.why) == (2, "Ida", "It was another cell.")
    assert not any(sentence.startswith("A2, Stiffness") for sentence in record.sentences)
    assert "finding_withdrawn" in scene.kinds()
    number = scene.service.hand_findings("s")[-1].number
    with pytest.raises(NotNow, match="by Ida"):
        scene.service.withdraw_finding(number, "Again.", "Wilma", chamber_id="demo", session_id="s")
    with pytest.raises(ProgramError, match="Say why"):
        scene.service.withdraw_finding(number - 1, "  ", "Wilma", chamber_id="demo", session_id="s")
    with pytest.raises(UnknownName):
        scene.service.withdraw_finding(99, "No such.", "Wilma", chamber_id="demo", session_id="s")


def test_a_record_of_format_1_is_read(record: Record) -> None:
    data = json.loads(record.model_dump_json(by_alias=True))
    old = data | {"format": 1, "findings": [each["finding"] for each in data["findings"]]}
    assert [each.finding for each in Record.model_validate(old).findings] == [each.finding for each in record.findings]


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.outside: list[str] = []
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.scripts += tag == "script"
        self.outside += [v for k, v in attrs if k in ("src", "href") and v and not v.startswith("data:")]


def test_the_page_stands_alone(record: Record) -> None:
    text = to_html(document(record), lambda name: None)
    page = Page()
    page.feed(text)
    assert (page.outside, page.scripts) == ([], 0)
    assert "Wilma &lt;b&gt;&amp;&lt;/b&gt;" in text


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_the_print_says_the_same(record: Record, tmp_path: Path) -> None:
    told = document(record)
    (tmp_path / "record.pdf").write_bytes(to_pdf(told, lambda name: None))
    read = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "record.pdf", "-"], capture_output=True, text=True, check=True
    )
    assert read.stderr == ""
    for section in told.sections:
        assert section.title in read.stdout
    assert to_pdf(told, lambda name: None) == to_pdf(told, lambda name: None)


def test_tables_are_read_by_a_spreadsheet_as_text(record: Record) -> None:
    found = {name: list(csv.DictReader(io.StringIO(text))) for name, text in tables(record).items()}
    assert [row["cell"] for row in found["colours.csv"]] == ["A1", "A2", "A3", "B1", "B2", "B3"] * 2
    assert float(found["zones.csv"][2]["dose_j_cm2"]) == pytest.approx(239.04)
    assert found["findings.csv"][0]["note"] == "'=soft to the touch"
    assert found["journal.csv"][0]["kind"] == "made_with"
    assert [row["withdrawn_by"] for row in found["findings.csv"]] == ["", "Ida"]


def test_a_bag_is_valid_and_comes_back(record: Record, scene: Scene, tmp_path: Path) -> None:
    """RFC 8493, checked by the Library of Congress's own library; then taken in by another host."""
    bag = pack(record, lambda name: scene.service.photo(name) and (b"", ".jpg"), tmp_path / "bag.zip")
    with zipfile.ZipFile(bag) as packed:
        packed.extractall(tmp_path / "out")
    (inside,) = (tmp_path / "out").iterdir()
    assert bagit.Bag(str(inside)).validate()
    archive = Archive(tmp_path / "elsewhere")
    taken = archive.take(bag)
    assert taken.record == record
    assert [each.key for each in archive.all()] == [taken.key]
    assert Archive(tmp_path / "elsewhere").one(taken.key).record == record
    assert to_html(document(taken.record), lambda name: None) == to_html(document(record), lambda name: None)
    with pytest.raises(NotNow, match="here already"):
        archive.take(bag)


def test_a_bag_that_was_touched_is_refused(record: Record, tmp_path: Path) -> None:
    bag = pack(record, lambda name: (b"", ".jpg"), tmp_path / "bag.zip")
    with zipfile.ZipFile(bag) as packed:
        packed.extractall(tmp_path / "out")
    (inside,) = (tmp_path / "out").iterdir()
    path = inside / "data" / "record.json"
    path.write_text(path.read_text().replace("completed", "cut off"))
    touched = Path(shutil.make_archive(str(tmp_path / "touched"), "zip", tmp_path / "out"))
    with pytest.raises(ProgramError, match="not as it was packed"):
        Archive(tmp_path / "elsewhere").take(touched)
    assert Archive(tmp_path / "elsewhere").all() == []


@pytest.mark.parametrize("name", ["../../evil.txt", "/etc/evil", "bag/..\\evil", "C:/evil"])
def test_a_bag_that_leads_out_is_refused(tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as packed:
        packed.writestr(name, "x")
    with pytest.raises(ProgramError):
        Archive(tmp_path / "elsewhere").take(tmp_path / "evil.zip")
    assert not (tmp_path / "evil.txt").exists()


def test_what_is_no_bag_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"no zip")
    with pytest.raises(ProgramError, match="no zip file"):
        Archive(tmp_path / "elsewhere").take(tmp_path / "x.zip")
