"""Which readings after a session's end are its own."""

from datetime import timedelta

from lampwarden.domain.reading import CellColour, Reading, Way
from lampwarden.store import Batch, Line
from lampwarden.store.records import Ended

from .conftest import UTC, Scene

CELL = CellColour(cell="A1", lab_d50=(80.0, 1.0, 18.0), u_lab=(0.1, 0.1, 0.1), u_abs_de00=0.3)
DARK = (0.0,) * 6


def test_looks_after_the_end_are_a_sessions_own_until_the_sheet_is_treated_again(scene: Scene) -> None:
    service = scene.service

    def read(days: float, session_id: str | None = None) -> str:
        scene.clock.utc_shift = timedelta(days=days)
        reading = Reading(
            id="x", sheet="ferry-timetable", taken_utc=UTC, way=Way.INSTRUMENT, cells=(CELL,), detection_limit_de00=0.4
        )
        return service.add_reading(reading, "Wilma", chamber_id="demo", session_id=session_id).reading.id

    def end(name: str, days: float) -> None:
        scene.clock.utc_shift = timedelta(days=days)
        utc = scene.clock.utc().strftime("%Y-%m-%dT%H:%M:%S.000Z")
        line = Line(
            "ended", 0.0, utc, {"lit_s": list(DARK), "outcome": "completed", "cause": "Done."}, "Ended.", "demo", name
        )
        scene.store.commit(Batch(name, [line], ended=Ended("completed", "Done.", utc)))

    before = read(0)
    inside = read(1, "s")
    assert service.followed("s") == []  # under way
    end("s", 2)
    week = read(9)
    typed_late = read(10, "s")
    month = read(32)
    scene.begin("s2")
    read(40, "s2")
    end("s2", 41)
    later = read(50)
    assert [look.reading.id for look in service.followed("s")] == [week, month]
    assert [look.reading.id for look in service.looks("s")] == [inside, typed_late]
    assert [look.reading.id for look in service.followed("s2")] == [later]
    assert service.sessions_with("ferry-timetable") == ["s", "s2"]
    assert before not in {look.reading.id for look in service.followed("s")}
