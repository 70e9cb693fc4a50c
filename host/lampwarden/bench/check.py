"""Commissioning as one dialogue: runs the steps, asks what to do about a failure, and ends with a signature. Pure."""

from contextlib import suppress
from dataclasses import dataclass

from ..domain.commissioning import Outcome, StepResult
from ..errors import LinkError
from .dialogue import Ask, Dialogue, Identify, Order, Question, Tell
from .steps import BACK_S, NO, PATIENCE_S, STEPS, YES, Bench, Fault, NotDone, Step

INTRO = (
    "Commissioning: proof, before the first light on paper, that everything goes dark. Part A of the commissioning"
    " sheet (hardware_notes/commissioning.md) comes first, with a meter. No sheet lies in the chamber. Whoever does"
    " this stays beside the chamber. Ctrl-C ends it dark, and without a record."
)
NO_LIGHT = "Lamps are lit only after every step before has passed."
BEFORE_LIGHT = frozenset(step.key for step in STEPS if not step.lit)
AFTER_ZONES = BEFORE_LIGHT | {"zones"}


@dataclass(frozen=True, slots=True)
class Draft:
    """What a person signed, before it gets a date."""

    by: str
    notes: str
    steps: tuple[StepResult, ...]


def commission(bench: Bench, by: str = "", steps: tuple[Step, ...] = STEPS) -> Dialogue[Draft | None]:
    """Runs the steps with a person. None: they did not sign, or no board answered."""
    yield Tell(INTRO)
    results: list[StepResult] = []
    stopped = False
    for step in steps:
        if bench.board is not None and not step.applies(bench):
            continue
        if stopped:
            results.append(StepResult(key=step.key, title=step.title, outcome="not done", text="Stopped before."))
            continue
        yield Tell(f"\n{len(results) + 1}. {step.title}")
        result, stopped = yield from _until_settled(bench, step, {r.key for r in results if r.outcome == "passed"})
        results.append(result)
        if bench.board is None:
            return None  # nothing answers: there is no board to write a record of
    return (yield from _signed(by, tuple(results)))


def _until_settled(bench: Bench, step: Step, passed: set[str]) -> Dialogue[tuple[StepResult, bool]]:
    """The step's result, after as many attempts as the person wants; True: they want to stop."""
    attempts: list[str] = []
    while True:
        outcome, text = yield from _attempt(bench, step, passed)
        yield Tell(f"   {outcome}: {text}")
        answer = "g"
        if outcome == "failed" and bench.board is not None:
            answer = yield from _ask(
                "What now? If you mend something, start again from the top afterwards.",
                ("a", "do this step again"),
                ("g", "go on with the next"),
                ("s", "stop here"),
            )
            if answer != "s":
                with suppress(LinkError):
                    bench.board = yield Identify(BACK_S)  # it may have restarted, which is no fault of what comes next
        if answer != "a":
            result = StepResult(
                key=step.key,
                title=step.title,
                outcome=outcome,
                text=text,
                figures=bench.figures,
                attempts=tuple(attempts),
            )
            return result, answer == "s"
        attempts.append(text)


def _attempt(bench: Bench, step: Step, passed: set[str]) -> Dialogue[tuple[Outcome, str]]:
    """One attempt; afterwards the board is disarmed."""
    bench.figures = {}
    if step.lit and not (BEFORE_LIGHT if step.key == "zones" else AFTER_ZONES) <= passed:
        return "not done", NO_LIGHT
    outcome: Outcome = "passed"
    try:
        text = yield from step.run(bench)
    except NotDone as reason:
        outcome, text = "not done", str(reason)
    except (Fault, LinkError) as fault:
        outcome, text = "failed", str(fault)
    with suppress(LinkError):  # it goes dark by itself without a heartbeat
        yield Order("disarm")
    return outcome, text


def _signed(by: str, results: tuple[StepResult, ...]) -> Dialogue[Draft | None]:
    still_open = [result.title for result in results if result.outcome != "passed"]
    yield Tell(f"\nNot passed: {', '.join(still_open)}." if still_open else "\nAll steps passed.")
    notes = yield from _ask("Notes for the record (what was not as usual, who watched):")
    while not by.strip():
        name: str | None = yield Ask(Question("Your name, as the signature:"), PATIENCE_S)
        if name is None:
            return None
        by = name
    sure = yield from _ask(f"Sign this record as {by.strip()}?", YES, NO)
    return Draft(by.strip(), notes.strip(), results) if sure == YES[0] else None


def _ask(text: str, *choices: tuple[str, str]) -> Dialogue[str]:
    """The person's answer, also while the board is lost; nobody there: the last choice, or no text."""
    answer: str | None = yield Ask(Question(text, choices), PATIENCE_S)
    if answer is not None:
        return answer
    return choices[-1][0] if choices else ""
