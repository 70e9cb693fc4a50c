"""Reminders of later looks: each once, one message for all that came due meanwhile, none after a look."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from tests.photos.conftest import Scene, as_json, chamber, program, sheet

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.finding import FOLLOW_UP, FollowUpPlan
from lampwarden.domain.program import Program
from lampwarden.domain.reading import CellColour, Reading, Way
from lampwarden.domain.sheet import Sheet
from lampwarden.errors import ProgramError
from lampwarden.notify.messages import Urgency, of_line
from lampwarden.service.follow_up import FollowUps
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended, SavedLine

__all__ = ["chamber", "program", "sheet"]

END = datetime.fromisoformat("2026-05-05T09:30:00.000+00:00")
END_UTC = "2026-05-05T09:30:00.000Z"


class Ended5May(Scene):
    """A session that ended on 5 May at 9:30, read by an instrument before and after."""

    def __init__(self, folder: Path, chamber: Chamber, program: Program, sheet: Sheet) -> None:
        super().__init__(folder, chamber, program, sheet)
        self.at(-1.0)
        for checkpoint, at_s in (("baseline", 0.0), ("8 h", 28_800.0)):
            self.reached(checkpoint, at_s, (at_s,) * 6)
            self.look(checkpoint)
        line = Line("ended", 9.0, END_UTC, {"lit_s": [28_800.0] * 6}, "Session completed.", "demo", "s")
        self.store.commit(Batch("s", [line], ended=Ended("completed", "All done.", END_UTC)))

    def at(self, days: float) -> None:
        """Puts the clock so long after the end."""
        self.clock.utc_shift = END + timedelta(days=days) - (self.clock.utc() - self.clock.utc_shift)

    def look(self, checkpoint: str = "", session_id: str | None = "s") -> None:
        cells = tuple(
            CellColour(cell=name, lab_d50=(80.0, 2.0, 24.0), u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
            for name in ("A1", "A2")
        )
        utc = self.service.utc()
        reading = Reading(
            id="x", sheet="ferry-timetable", taken_utc=utc, way=Way.INSTRUMENT, cells=cells, detection_limit_de00=0.4
        )
        self.service.add_reading(reading, "Wilma", chamber_id="demo", session_id=session_id, checkpoint=checkpoint)

    def reminded(self, days: float) -> list[tuple[list[float], str]]:
        """What is told anew so long after the end, by a service that has just been started."""
        self.at(days)
        before = len(self.told())
        service = FollowUps(self.store, self.clock)
        service._keepers = self.service._keepers  # the same chambers, with no memory of what was told
        service.mind_follow_ups("demo")
        service._reading_photos.close()
        return [(line.data["days"], line.text) for line in self.told()[before:]]

    def told(self) -> list[SavedLine]:
        return [line for line in self.store.journal("s", "demo") if line.kind == "follow_up_due"]


@pytest.fixture
def ended(tmp_path: Path, chamber: Chamber, program: Program, sheet: Sheet) -> Iterator[Ended5May]:
    scene = Ended5May(tmp_path, chamber, program, sheet)
    yield scene
    scene.service.close()
    scene.store.close()


def test_each_day_is_told_once(ended: Ended5May) -> None:
    assert ended.reminded(0.9) == []
    ((days, text),) = ended.reminded(1.01)
    assert days == [1.0]
    assert "1 day has passed since the end" in text
    assert "Harbour Line Ferries" in text
    assert ended.reminded(1.02) == []
    assert ended.reminded(2.9) == []
    assert [days for days, _ in ended.reminded(3.0)] == [[3.0]]


def test_days_off_make_one_message(ended: Ended5May) -> None:
    ((days, text),) = ended.reminded(40.0)
    assert days == [1.0, 3.0, 7.0, 30.0]
    assert "30 days have passed" in text
    assert "It was not looked at after 1 day, 3 days and 7 days either." in text
    assert ended.reminded(41.0) == []
    message = of_line(ended.told()[-1], "Attic")
    assert message is not None
    assert (message.urgency, message.title) == (Urgency.CAN_WAIT, "Time for a follow-up photo · Attic")


def test_a_look_stops_what_it_covers(ended: Ended5May) -> None:
    ended.at(6.5)
    ended.look(session_id=None)
    assert ended.reminded(8.0) == []  # the look after 6.5 days stands for day 7 and all before
    assert [days for days, _ in ended.reminded(30.5)] == [[30.0]]


def test_a_sheet_treated_again_is_not_asked_for(ended: Ended5May) -> None:
    ended.at(2.0)
    ended.begin("s2")
    reached = Line(
        "checkpoint_reached", 0.0, ended.service.utc(),
        {"checkpoint": "baseline", "session_s": 0.0, "lit_s": [0.0] * 6}, "Reached.", "demo", "s2",
    )  # fmt: skip
    ended.store.commit(Batch("s2", [reached]))
    ended.look("baseline", "s2")
    assert ended.reminded(7.5) == []


def test_a_session_that_was_never_read_or_is_long_past_is_not_asked_for(ended: Ended5May) -> None:
    assert ended.reminded(365 * 1.26) == []
    unread = Batch("s3", ended=Ended("completed", "All done.", END_UTC))
    plain = as_json(ended.program), ended.chamber.model_dump(mode="json")
    ended.store.begin_session("s3", "demo", "Bare", *plain, END_UTC)
    ended.store.commit(unread)
    ended.reminded(1.5)
    assert not [line for line in ended.store.journal("s3", "demo") if line.kind == "follow_up_due"]


def test_days_are_set_for_the_host(ended: Ended5May) -> None:
    assert ended.service.follow_up_plan() == FOLLOW_UP
    ended.service.set_follow_up_days([2, 14], "demo", "Ida")
    assert ended.service.follow_up_plan() == FollowUpPlan(days=(2, 14))
    assert [days for days, _ in ended.reminded(3.0)] == [[2.0]]
    with pytest.raises(ProgramError, match="must rise"):
        ended.service.set_follow_up_days([14, 2], "demo", "Ida")
    with pytest.raises(ProgramError, match="is none"):
        ended.service.set_follow_up_days([-1], "demo", "Ida")
    assert ended.service.follow_up_plan().days == (2, 14)
    assert "set by Ida: 2, 14." in [line.text for line in ended.store.journal(None, "demo")][-2]
