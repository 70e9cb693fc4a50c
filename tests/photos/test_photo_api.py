"""Photos by way of the API, over real bytes."""

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from lampwarden.web.api import create_api

from .conftest import Scene


@pytest.fixture
def client(scene: Scene) -> Iterator[TestClient]:
    with TestClient(create_api(scene.service)) as client:
        yield client


def test_send_look_and_fetch(scene: Scene, client: TestClient, two_photos: tuple[bytes, bytes]) -> None:
    scene.reached("baseline", 0.0, (0.0,) * 6)
    form = {"by": "Wilma", "session": "s", "checkpoint": "baseline", "way": "fixed"}
    sent = client.post("/chambers/demo/photos", data=form, files=[("files", ("one.jpg", two_photos[0], "image/jpeg"))])
    assert sent.status_code == 201, sent.text
    look = sent.json()
    assert look["reading"]["refused"] == ""
    assert client.get(f"/chambers/demo/photos/{look['pictures'][0]['photo']}").content == two_photos[0]
    drawn = client.get(f"/chambers/demo/photos/{look['pictures'][0]['drawn']}")
    assert drawn.headers["content-type"] == "image/jpeg"
    assert drawn.content.startswith(b"\xff\xd8\xff")
    listed = client.get("/chambers/demo/sessions/s/looks").json()
    assert [each["reading"]["id"] for each in listed] == [look["reading"]["id"]]
    said = client.get("/chambers/demo/sessions/s/conclusions").json()
    assert said["advice"]["kind"] == "cannot tell"


def test_wrong_requests_are_answered_in_words(client: TestClient) -> None:
    none = client.post("/chambers/demo/photos", data={"by": "Wilma"}, files=[("files", ("x.jpg", b"x"))])
    assert none.status_code == 422
    assert "which sheet" in none.json()["detail"]
    assert client.post("/chambers/demo/camera", json={"by": "Wilma", "session": "s"}).status_code == 409
    assert client.get(f"/chambers/demo/photos/{'0' * 64}").status_code == 404
    wrong = client.post("/chambers/demo/sessions/s/findings", json={"by": "W", "finding": {"cell": "A1", "aspect": "ph", "found_utc": "x"}})  # fmt: skip  # noqa: E501
    assert wrong.status_code == 422


def test_an_instruments_file_is_a_source_of_its_own(scene: Scene, client: TestClient) -> None:
    scene.reached("baseline", 0.0, (0.0,) * 6)
    where, form = "/chambers/demo/sessions/s/instrument-file", {"by": "Wilma", "checkpoint": "baseline"}
    text = "Cell;L;a;b\nA1;84,1;3,2;21,5\nB3;80,2;4;25\nTile;96;0;1\n"
    kept = client.post(where, data=form, files=[("file", ("one.csv", text.encode(), "text/csv"))])
    assert kept.status_code == 201, kept.text
    reading = kept.json()["reading"]
    assert (reading["way"], reading["checkpoint"], reading["sheet"]) == ("instrument", "baseline", "ferry-timetable")
    assert [(cell["cell"], cell["lab_d50"]) for cell in reading["cells"]] == [
        ("A1", [84.1, 3.2, 21.5]),
        ("B3", [80.2, 4.0, 25.0]),
    ]
    assert "'Tile' is no cell" in reading["warnings"][0]
    wrong = client.post(where, data=form, files=[("file", ("one.csv", b"cell,L,a,b\nA1,84,x,1\n", "text/csv"))])
    assert wrong.status_code == 422
    assert wrong.json()["detail"] == "One.csv, line 2: 'x' is no number in column A. Correct it or leave the row out."
    assert len(client.get("/chambers/demo/sessions/s/looks").json()) == 1
