"""A plan is reviewed as one types. The figures: `python -m tests.bench.planning`."""

import sys

from .planning import CHAMBER, PLAN, SHEET, START, measure, review

MINUTES_MAX = 1.0
"""A rehearsed minute, its share of the start included, takes some 24 ms (measured); a review took 0.3 to 0.45 of it."""


def test_a_review_takes_no_longer_than_a_rehearsed_minute() -> None:
    report = measure(rounds=3)
    sys.stdout.write(f"\n{report}\n")
    assert report.minutes < MINUTES_MAX


def test_the_plan_of_the_bench_has_all_that_costs_time() -> None:
    found = review(PLAN, CHAMBER, SHEET, START)
    assert found.timeline.disturbed
    assert found.trial is not None
    assert len(found.trial.courses) == 60
    assert len(found.fading) == 7
    assert found.trial.shows is not None
    assert found.peroxide.baths
