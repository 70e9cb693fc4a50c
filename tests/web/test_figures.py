"""Numbers of a session, worked by hand from the program of conftest.py."""

import pytest

from lampwarden.engine import events as e
from lampwarden.engine import planned, step
from lampwarden.web.figures import outlook, zone_figures

from .conftest import CHAMBER, PROGRAM, Bench


def test_before_the_start() -> None:
    session = step(planned(PROGRAM, CHAMBER), e.Begin(0.0, "Wilma")).session
    a1, a2, b1 = zone_figures(session)
    assert (a1.planned_s, a1.left_s, a1.done, a1.starts_s) == (600.0, 600.0, False, None)
    assert a1.planned_j_cm2 == pytest.approx(6.0)  # 100 W/m2 x 600 s = 6 J/cm2
    # 3 J/cm2 at 50 W/m2 = 600 s of full light, which half light gives in 1200 s
    assert (a2.planned_s, a2.left_s, a2.starts_s) == (pytest.approx(600.0), pytest.approx(1200.0), 120.0)
    assert (b1.planned_s, b1.done, b1.left_s) == (0.0, True, 0.0)
    ahead = outlook(session)
    assert (ahead.checkpoint, ahead.checkpoint_left_s, ahead.checkpoints_left) == ("5 min", 300.0, 2)
    assert ahead.end_left_s == pytest.approx(1320.0)
    assert ahead.share == 0.0


def test_on_the_way(bench: Bench) -> None:
    bench.lit()
    session = bench.run(200).session
    assert session is not None
    a1, a2, _ = zone_figures(session)
    assert a1.lit_s == pytest.approx(session.session_s, abs=2)
    assert a1.lit_s + a1.left_s == pytest.approx(600, abs=2)
    assert a1.dose_j_cm2 == pytest.approx(a1.lit_s * 0.01)
    assert a2.lit_s == pytest.approx((session.session_s - 120) / 2, abs=2)
    assert a2.lit_s + a2.left_s / 2 == pytest.approx(600, abs=1)
    assert a2.starts_s is None
    ahead = outlook(session)
    assert ahead.checkpoint_left_s == pytest.approx(300 - session.session_s)
    assert ahead.share == pytest.approx(session.session_s / 1320, abs=0.01)


def test_after_the_end_nothing_is_left(bench: Bench) -> None:
    bench.lit()
    bench.service.end(CHAMBER.id, "Wilma")
    session = bench.run(2).session
    assert session is not None
    assert [figures.left_s for figures in zone_figures(session)] == [0.0, 0.0, 0.0]
    assert not zone_figures(session)[0].done
