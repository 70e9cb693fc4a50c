"""The whole API under requests that are drawn from its own description: as operator, as watcher, and without sign-in.

Schemathesis draws them, valid and invalid, and holds the answers against the description. No answer may be a 5xx, say
what it is not described to say, or tell somebody who has not signed in anything. LAMPWARDEN_FUZZ=N draws N requests for
each operation and role instead of a few: LAMPWARDEN_FUZZ=200 ./tests/run tests/web/test_fuzz.py -s
"""

import os
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import Case, GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from tests.service.conftest import PLAN, SHEET

from lampwarden.web.auth.people import People, Role

from .conftest import CHAMBER, Bench, Serve
from .one_api import api_of
from .served import OPERATING, WATCHING, Served

DRAWN = int(os.environ.get("LAMPWARDEN_FUZZ", "0"))
EXAMPLES = {"operate": DRAWN or 3, "watch": DRAWN or 1, "nobody": DRAWN or 1}
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
OPEN = {"/health"}
"""Needs no sign-in."""
WATCHERS_MAY = {"/chambers/{chamber_id}/stop"}
Answer = tuple[Case, httpx.Response]


class Scene:
    """The API behind its gate, with a session under way, a sheet, a plan, and somebody for each role."""

    def __init__(self, bench: Bench, served: Served, tokens: dict[str, str]) -> None:
        self.bench, self.served, self.tokens = bench, served, tokens
        bench.service.save_sheet(SHEET, "Wilma", None)
        bench.service.save_plan(PLAN, "Wilma", None)
        self.session = bench.lit().session_id
        self.schema = schemathesis.openapi.from_dict(api_of(bench.service).openapi())
        self.schema.config.update(base_url=f"{served.address}/api")
        self.asked: Counter[tuple[str, int]] = Counter()
        self.operations = 0
        self._known = {
            "chamber_id": CHAMBER.id, "session_id": self.session, "sheet_id": SHEET.id, "plan_id": PLAN.id,
        }  # fmt: skip

    def ask(self, who: str, check: Callable[[Case, Any], None]) -> None:
        """Draws requests for every operation, sends them as one of the roles, and has each answer checked."""
        headers = {"authorization": f"Bearer {self.tokens[who]}"} if who in self.tokens else {}
        self.operations = 0
        for found in self.schema.get_all_operations():
            operation = found.ok()
            self.operations += 1
            for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
                # Nothing can be wrong with a request that has neither parameters nor a body.
                with suppress(Unsatisfiable, schemathesis.errors.SchemathesisError):
                    self._draw(operation.as_strategy(generation_mode=mode), EXAMPLES[who], headers, who, check)

    def _draw(self, drawn: Any, examples: int, headers: dict[str, str], who: str, check: Any) -> None:
        @settings(
            max_examples=examples,
            deadline=None,
            database=None,
            derandomize=True,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=drawn)
        def each(case: Case) -> None:
            if self.asked.total() % 4:  # most requests speak of what is there
                for name, value in self._known.items():
                    if name in (case.path_parameters or {}):
                        case.path_parameters[name] = value
            answer = case.call(headers=headers, timeout=30)
            self.asked[who, answer.status_code] += 1
            check(case, answer)

        each()

    def told(self) -> dict[str, dict[int, int]]:
        """How many answers of each status each role got."""
        return {
            who: {status: count for (asker, status), count in sorted(self.asked.items()) if asker == who}
            for who in EXAMPLES
        }


@pytest.fixture
def scene(bench: Bench, serve: Serve) -> Scene:
    people = People().with_password(Role.OPERATE, OPERATING).with_password(Role.WATCH, WATCHING)
    people, operate = people.with_token("script", Role.OPERATE)
    people, watch = people.with_token("collector", Role.WATCH)
    return Scene(bench, serve(people), {"operate": operate, "watch": watch})


def kinds(bench: Bench) -> list[str]:
    """Kinds of all journal lines but those about signing in."""
    lines = bench.service.journal(CHAMBER.id, limit=1000)
    return [line.kind for line in lines if line.kind not in ("access_changed", "signed_in", "sign_in_failed")]


def tell(scene: Scene, record_property: Callable[[str, object], None]) -> None:
    figures = {"operations": scene.operations, "requests": scene.asked.total(), "answers": scene.told()}
    for name, value in figures.items():
        record_property(name, value)
    sys.stdout.write(f"\n{figures}\n")


@pytest.mark.timeout(600 + 60 * DRAWN)
def test_nobody_and_watchers_change_and_learn_nothing(
    scene: Scene, bench: Bench, record_property: Callable[[str, object], None]
) -> None:
    before, lit = kinds(bench), bench.service.snapshot(CHAMBER.id).session.lit_s

    def refused(case: Case, answer: Any) -> None:
        case.validate_response(answer, checks=CHECKS)
        if case.operation.path in OPEN:
            return
        # 404: an address no sign-in would help with. All of these come from before the API.
        assert answer.status_code in (401, 404, 411, 413), (case.as_curl_command(), answer.text)
        assert answer.status_code != 404 or "cannot be printed" in answer.text
        assert CHAMBER.id not in answer.text
        assert CHAMBER.title not in answer.text
        assert SHEET.title not in answer.text

    def only_looks(case: Case, answer: Any) -> None:
        case.validate_response(answer, checks=CHECKS)
        if case.method.upper() not in ("GET", "HEAD") and case.operation.path not in WATCHERS_MAY:
            assert answer.status_code in (403, 404, 411, 413), (case.as_curl_command(), answer.text)
        else:
            assert answer.status_code not in (401, 403), (case.as_curl_command(), answer.text)

    scene.ask("nobody", refused)
    assert kinds(bench) == before
    scene.ask("watch", only_looks)
    assert set(kinds(bench)[len(before) :]) <= {"hold_began", "levels_set"}  # somebody has pressed stop, and no more
    assert bench.service.snapshot(CHAMBER.id).session.lit_s == pytest.approx(lit, abs=0.5)
    tell(scene, record_property)


@pytest.mark.timeout(600 + 60 * DRAWN)
def test_an_operators_requests_are_answered_as_described(
    scene: Scene, bench: Bench, record_property: Callable[[str, object], None], caplog: pytest.LogCaptureFixture
) -> None:
    wrong: dict[tuple[str, str], str] = {}

    def answered(case: Case, answer: Any) -> None:
        try:
            case.validate_response(answer, checks=CHECKS)
        except (AssertionError, BaseExceptionGroup) as error:
            wrong.setdefault((case.method, case.operation.path), str(error))

    scene.ask("operate", answered)
    tell(scene, record_property)
    assert wrong == {}, "\n\n".join(wrong.values())
    assert "Traceback" not in caplog.text
    assert bench.service.at_work()
