"""The API's description is complete: every route has its texts, types, problems, and examples that hold."""

from collections.abc import Iterator
from typing import Any

import pytest

from lampwarden import errors
from lampwarden.domain.program import Program
from lampwarden.domain.program_file import parse
from lampwarden.errors import LampwardenError
from lampwarden.web.api import create_api, examples
from lampwarden.web.api.problems import KINDS, kind_of

from .conftest import Asker, Bench


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Any]]:
    bench = Bench(tmp_path_factory.mktemp("described") / "bench.db")
    yield create_api(bench.service).openapi()
    bench.close()


def operations(described: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    return [(path, method, about) for path, item in described["paths"].items() for method, about in item.items()]


def test_every_route_has_its_texts(described: dict[str, Any]) -> None:
    found = operations(described)
    assert len(found) >= 17
    for path, method, about in found:
        assert about["summary"], (path, method)
        assert about["description"], (path, method)
        assert about["tags"], (path, method)


def test_every_answer_is_typed(described: dict[str, Any]) -> None:
    for path, method, about in operations(described):
        good = [answer for status, answer in about["responses"].items() if status.startswith("2")]
        if "application/json" not in good[0].get("content", {}):
            # A file, or nothing at all.
            files = (".pdf", ".svg", "/toml", "/program", "/{photo}", ".csv", ".html", ".zip")
            assert path.endswith(files) or method == "delete", (path, method)
            continue
        if path.startswith(("/program-schema", "/file-schemas")):
            continue  # a schema is described by its own $schema
        schema = good[0]["content"]["application/json"]["schema"]
        assert "$ref" in schema or "$ref" in schema.get("items", {}), (path, method)


def test_every_route_of_a_chamber_carries_its_id(described: dict[str, Any]) -> None:
    for path, _, _ in operations(described):
        # A sheet belongs to no chamber, and the schema of a file to none.
        shared = path in ("/chambers", "/problems", "/health")
        shared = shared or path.startswith(("/sheets", "/program-schema", "/file-schemas", "/elsewhere", "/series"))
        assert shared or path.startswith("/chambers/{chamber_id}"), path


def test_problems_are_described_as_problems(described: dict[str, Any]) -> None:
    for path, method, about in operations(described):
        bad = {status: answer for status, answer in about["responses"].items() if status.startswith(("4", "5"))}
        for status, answer in bad.items():
            assert list(answer["content"]) == ["application/problem+json"], (path, method, status)


def test_the_sign_in_is_described(described: dict[str, Any]) -> None:
    assert set(described["components"]["securitySchemes"]) == {"token", "signed_in"}
    for path, method, about in operations(described):
        needs = path != "/health"
        assert ({"401", "403"} <= set(about["responses"])) is needs, (path, method)
        assert ("security" in about) is not needs
        assert ("413" in about["responses"]) is ("requestBody" in about), (path, method)


def test_examples_hold() -> None:
    assert parse(examples.PROGRAM_TOML) == Program.model_validate(examples.PROGRAM)


def test_every_error_has_a_status() -> None:
    everything = [cls for cls in vars(errors).values() if isinstance(cls, type) and issubclass(cls, LampwardenError)]
    assert len(everything) >= 12
    for cls in everything:
        error = cls("x", 4) if cls is errors.BoardRefused else cls("x")
        name, status, title, _ = kind_of(error)
        assert 400 <= status <= 599
        assert name
        assert title
    assert kind_of(errors.NotNow(""))[1] == 409
    assert kind_of(errors.UnknownName(""))[1] == 404
    assert kind_of(errors.ProgramError(""))[1] == 422
    assert kind_of(errors.StoreFull(""))[1] == 507
    assert kind_of(errors.StoreDamaged(""))[1] == 503
    assert {kind_of(cls(""))[1] for cls in (errors.BoardSilent, errors.BoardConfused, errors.WrongBoard)} == {502, 503}


def test_kinds_of_problems_can_be_read(api: Asker) -> None:
    listed = api.get("/api/problems").json()
    assert {kind["type"] for kind in listed} == {f"/api/problems#{name}" for name, *_ in KINDS.values()}
    assert all(kind["about"] for kind in listed)


def test_description_asks_no_other_host(api: Asker) -> None:
    assert api.get("/api/docs").status_code == 404
    assert api.get("/api/openapi.json").json()["servers"] == [{"url": "/api"}]
