"""A rule that is switched off is noticed. All of them: `python -m tests.campaign --mutations`."""

import os

import pytest

from lampboard import guard

from .mutations import ENVIRONMENT, mutations, noticed_by_seeds, noticed_by_tests
from .play import play

LONG = bool(os.environ.get("LAMPWARDEN_LONG"))
QUICK = (
    "TRIP_RULES stop",
    "TRIP_RULES air_over",
    "TRIP_RULES air_silent",
    "TRIP_RULES bank_range",
    "TRIP_RULES lit_too_long",
    "LIT_RULES door",
    "LIT_RULES heartbeat",
    "WRITE_RULES limit_ceiling",
    "WRITE_RULES clear_gone",
    "booking before a level changes",
    "host door hold",
    "host books over a reset",
)
"""Those that show within a few seeds."""


@pytest.mark.parametrize("name", QUICK if LONG else QUICK[::2])
def test_the_campaign_notices(name: str) -> None:
    mutation = next(mutation for mutation in mutations() if mutation.name == name)
    assert noticed_by_seeds(mutation, 12) is not None, f"nobody noticed that '{name}' was off"
    assert play(0, mutation.trouble).wrong == [], "the rule was not switched on again"


@pytest.mark.parametrize("name", ["LIT_RULES air_known", "WRITE_RULES service_key"][: 2 if LONG else 1])
def test_a_named_test_notices(name: str) -> None:
    mutation = next(mutation for mutation in mutations() if mutation.name == name)
    assert noticed_by_tests(mutation, ("tests/lampboard/test_guard.py",)), f"no test of {name}"


def test_every_rule_of_the_guard_is_among_the_mutations() -> None:
    names = {mutation.name for mutation in mutations()}
    for table in ("TRIP_RULES", "LIT_RULES", "WRITE_RULES"):
        assert {f"{table} {row[0]}" for row in getattr(guard, table)} <= names
    assert ENVIRONMENT.isupper()


def test_every_mutation_can_be_switched_on_and_off() -> None:
    for mutation in mutations():
        with mutation.on():
            pass
