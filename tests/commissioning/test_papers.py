"""Records of boards in the data folder, and what preflight makes of them."""

from pathlib import Path

import pytest

from lampwarden.bench import papers
from lampwarden.domain.commissioning import Commissioning, Installed, StepResult
from lampwarden.errors import StoreError
from lampwarden.keeper import BoardView, preflight
from lampwarden.rehearsal import Rig, demo_chamber, demo_programs

RIG = Rig.build(demo_chamber())
RIG.world.advance(10.0)
IDENTITY = RIG.board.identify()


def record(utc: str = "2031-03-03T08:00:00.000Z", outcome: str = "passed", **more: object) -> Commissioning:
    step = StepResult(key="door", title="Door switch", outcome=outcome, text="Seen.", figures={"door_openings": 1})
    given = {
        "utc": utc, "board_id": IDENTITY.unique_id, "firmware": IDENTITY.firmware,
        "map_version": IDENTITY.map_version, "by": "A. Tester", "chamber": "", "notes": "", "files": None,
        "steps": (step,),
    }  # fmt: skip
    return Commissioning.model_validate(given | more)


def test_no_record_refuses_a_start_with_what_to_do(tmp_path: Path) -> None:
    why = papers.what_is_unproved(tmp_path, IDENTITY)
    assert why is not None
    assert "has no commissioning record on this computer" in why
    live = RIG.board.look()
    board = BoardView(IDENTITY, live, None, why)
    assert why in preflight(demo_programs()["ferry_timetable"], demo_chamber(), board, None)


def test_a_good_record_lets_sessions_start_and_the_newest_counts(tmp_path: Path) -> None:
    papers.keep_commissioning(tmp_path, record(outcome="failed"))
    assert "did not pass: Door switch (failed)" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")
    text, _ = papers.keep_commissioning(tmp_path, record("2031-03-04T08:00:00.000Z"))
    assert papers.what_is_unproved(tmp_path, IDENTITY) is None
    assert "PASSED    Door switch: Seen." in text.read_text()


def test_only_the_stall_may_be_left_out(tmp_path: Path) -> None:
    papers.keep_commissioning(tmp_path, record(outcome="not done"))
    assert "did not pass: Door switch (not done)" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")
    stall = StepResult(key="watchdog", title="Firmware stalls", outcome="not done", text="No prompt.")
    papers.keep_commissioning(tmp_path, record("2031-03-04T08:00:00.000Z", steps=(stall,)))
    assert papers.what_is_unproved(tmp_path, IDENTITY) is None
    papers.keep_commissioning(
        tmp_path, record("2031-03-05T08:00:00.000Z", steps=(stall.model_copy(update={"outcome": "failed"}),))
    )
    assert "Firmware stalls (failed)" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")


def test_files_put_on_the_board_after_it_ask_for_a_new_record(tmp_path: Path) -> None:
    def install(utc: str, digest: str) -> Installed:
        paper = Installed(
            utc=utc,
            board_id=IDENTITY.unique_id,
            firmware=IDENTITY.firmware,
            map_version=IDENTITY.map_version,
            files={"main.py": digest},
            boot_count=1,
        )
        papers.keep_installed(tmp_path, paper)
        return paper

    first = install("2031-03-01T08:00:00.000Z", "ab")
    papers.keep_commissioning(tmp_path, record(files=first.files))
    assert papers.what_is_unproved(tmp_path, IDENTITY) is None
    install("2031-03-04T08:00:00.000Z", "ab")
    assert papers.what_is_unproved(tmp_path, IDENTITY) is None, "the same files again are no change"
    install("2031-03-05T08:00:00.000Z", "cd")
    assert "Other files were put on board" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")


def test_other_firmware_asks_for_a_new_record(tmp_path: Path) -> None:
    papers.keep_commissioning(tmp_path, record(firmware="0.00"))
    assert "was commissioned with firmware 0.00" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")


def test_records_are_never_overwritten_and_damaged_ones_are_said(tmp_path: Path) -> None:
    _, kept = papers.keep_commissioning(tmp_path, record())
    with pytest.raises(StoreError):
        papers.keep_commissioning(tmp_path, record(by="Another"))
    kept.write_text("{")
    assert "cannot be read" in (papers.what_is_unproved(tmp_path, IDENTITY) or "")
