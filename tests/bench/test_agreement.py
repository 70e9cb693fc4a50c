"""Conclusions from small photos agree with the simulated paper. The figures: `python -m tests.bench.agreement`."""

import pytest

from .agreement import Kind, Scene, judge, look, play, table

pytest.importorskip("cv2", reason="the extra 'photos' is not installed")

SIZE_PX = (1120, 840)


def test_nothing_and_a_fading_ink_are_told_apart() -> None:
    scene = Scene.demo()
    calm, fading = (play(scene, seed, fate) for seed, fate in ((1, "nothing"), (4, "ink_fades")))
    said_calm, said_fading = (look(scene, played, 3, SIZE_PX) for played in (calm, fading))
    first, second = judge(scene, calm, said_calm, 1), judge(scene, fading, said_fading, 4)
    print(table([first, second]))  # noqa: T201
    assert first.agrees, first
    assert second.agrees, second
    assert said_fading.advice.kind is Kind.FADING
    assert "ink V1" in second.told
    # The judge is no rubber stamp: the conclusions of one sheet are wrong for the other.
    swapped = judge(scene, calm, said_fading, 1), judge(scene, fading, said_calm, 4)
    assert {"ink V1", "change A3"} <= set(swapped[1].missed)
    assert any(what.startswith("change A3") for what in swapped[0].false)
    assert any("fading" in what for what in swapped[0].false)
