"""Every rule that keeps the lamps dark or counts their light, switched off in turn: something must notice.

A mutation changes the loaded modules of this process only. The rows of the guard's three tables are found by
themselves, so a new rule is asked for its test as soon as it is there. Each is played with seeds of the trouble it
guards against; then the named tests of its room are run in a process of their own, with the same mutation.
"""

import importlib
import inspect
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from lampboard import guard
from lampwarden.engine.facts import Ended

from .play import play

SEEDS_MAX = 60
"""Seeds that a mutation is played with until one notices."""
ENVIRONMENT = "LAMPWARDEN_MUTATION"
"""Names the mutation that the plugin below switches on in a test process."""
COUNTS_ROWS = "test_tables_name_each_rule_once"
"""Fails for any rule that is gone, so it proves nothing of the rule."""
BOARD_TESTS = ("tests/lampboard/test_guard.py", "tests/lampboard/test_node.py", "tests/campaign/test_fuzz.py")
HOST_TESTS = ("tests/engine", "tests/keeper")
LINK_TESTS = ("tests/link/test_board.py",)

Undo = Callable[[], None]


@dataclass(frozen=True, slots=True)
class Mutation:
    name: str
    apply: Callable[[], Undo]
    trouble: tuple[str, ...]
    """Kinds of trouble in which it should show."""
    tests: tuple[str, ...]

    @contextmanager
    def on(self) -> Iterator[None]:
        undo = self.apply()
        try:
            yield
        finally:
            undo()


def _without(table: str, name: str) -> Callable[[], Undo]:
    """A table of the guard without one of its rows."""

    def apply() -> Undo:
        whole = getattr(guard, table)
        setattr(guard, table, tuple(row for row in whole if row[0] != name))
        return lambda: setattr(guard, table, whole)

    return apply


def _instead(module: str, name: str, other: Any) -> Callable[[], Undo]:
    """Another object of this name (dotted within a class) in a module."""

    def apply() -> Undo:
        owner: Any = importlib.import_module(module)
        owner = sys.modules[module]  # engine.step is also the name of a function
        *path, last = name.split(".")
        for part in path:
            owner = getattr(owner, part)
        whole = getattr(owner, last)
        setattr(owner, last, other)
        return lambda: setattr(owner, last, whole)

    return apply


def _edited(module: str, class_name: str, method: str, old: str, new: str) -> Callable[[], Undo]:
    """A method with one piece of its text changed."""

    def apply() -> Undo:
        owner = importlib.import_module(module)
        cls = getattr(owner, class_name)
        whole = getattr(cls, method)
        text = inspect.getsource(whole)
        if text.count(old) != 1:
            raise RuntimeError(f"{module}.{class_name}.{method} has {text.count(old)} times {old!r}; mend the mutation")
        text = re.sub(r"^    ", "", text.replace(old, new), flags=re.MULTILINE)
        scope: dict[str, Any] = {}
        exec(compile(text, f"mutated {method}", "exec"), vars(owner), scope)
        setattr(cls, method, scope[method])
        return lambda: setattr(cls, method, whole)

    return apply


_MASTER = "second_master"
_TROUBLE = {
    "stop": ("stop_button",),
    "air_over": ("air_runaway", "air_drift", "hot_room"),
    "bank_over": ("bank_hotspot", "fan_dead"),
    "air_rise": ("air_runaway",),
    "bank_rise": ("bank_hotspot",),
    "air_silent": ("air_silent",),
    "air_crc": ("air_crc",),
    "air_range": ("air_range",),
    "air_frozen": ("air_frozen",),
    "bank_range": ("ntc_open", "ntc_short"),
    "lit_too_long": ("lit_ceiling",),
    "armed": ("board_reset", _MASTER),
    "door": ("door",),
    "heartbeat": ("host_stall", "host_dies", "unplugged"),
    "air_known": ("air_silent", "board_reset", _MASTER),
    "banks_known": ("ntc_open", "board_reset", _MASTER),
    "arm_limits": ("board_reset", _MASTER),
    "arm_trip": ("stop_button", "ntc_open", _MASTER),
    "clear_gone": ("stop_button", _MASTER, "air_silent"),
    "clear_cool": ("air_runaway", "bank_hotspot", _MASTER),
}


def mutations() -> list[Mutation]:
    """All of them."""
    found = []
    for table in ("TRIP_RULES", "LIT_RULES", "WRITE_RULES"):
        for row in getattr(guard, table):
            trouble = _TROUBLE.get(row[0], (_MASTER,))
            found.append(Mutation(f"{table} {row[0]}", _without(table, row[0]), trouble, BOARD_TESTS))
    board, node = "lampboard.guard", "lampboard.node"
    step, holds, keeper = "lampwarden.engine.step", "lampwarden.engine.holds", "lampwarden.keeper.keeper"

    def of_board(name: str, method: str, old: str, new: str, *trouble: str) -> None:
        apply = _edited(board, "Guard", method, old, new)
        found.append(Mutation(f"booking {name}", apply, trouble, BOARD_TESTS))

    of_board("before a level changes", "judge", "self.book(now)  # up to now", "pass  #", "door", "order_hold")
    of_board("keeps the rest", "book", "self.lit_rest[zone] = rest % 1000", "self.lit_rest[zone] = 0", "order_hold")
    of_board("wraps at 32 bits", "book", "& 0xFFFFFFFF", "", "old_board")
    of_board("weighs by the level", "book", "level * passed_ms", "1000 * passed_ms", "order_hold")
    shown = _edited(node, "Node", "_live", "guard.book(now)", "pass")
    found.append(Mutation("booking before it is shown", shown, ("order_hold", "board_reset"), BOARD_TESTS))
    arming = _edited(board, "Guard", "write", "            self._drop()\n", "")
    found.append(Mutation("arming drops demands", arming, ("board_reset", _MASTER), BOARD_TESTS))
    changed = _edited(board, "Guard", "write", ' and want["heartbeat"] != self.heartbeat', "")
    found.append(Mutation("heartbeat must change", changed, ("wire_duplicates",), BOARD_TESTS))

    def of_host(name: str, module: str, what: str, other: Any, *trouble: str) -> None:
        found.append(Mutation(f"host {name}", _instead(module, what, other), trouble, HOST_TESTS))

    of_host("sensor hold", holds, "sensor_trouble", _well, "air_silent", "ntc_open")
    of_host("cooling hold", holds, "heat_trouble", _well, "air_runaway", "hot_room")
    of_host("door hold", holds, "door_trouble", _well, "door", "door_blink")
    of_host("cutoff after many coolings", holds, "too_many_coolings", _well, "fan_dead", "hot_room")
    of_host("asks after a gap", holds, "resumes_alone", lambda *_: True, "host_dies")
    of_host("follows the board", holds, "following_trouble", _well, _MASTER)
    of_host("books over a reset", step, "_light_since", _no_reset, "board_reset")
    of_host("books over the wrap", step, "_light_since", _no_wrap, "old_board")
    of_host("books the light before an end", step, "_end_if_read", _end_now, "order_end")
    of_host("waits with late light", holds, "COUNTER_S", 1e9, "disk_slow")
    of_host("asks after many restarts", holds, "too_many_reboots", _well, "board_reset", "board_hang", "board_crash")
    of_host("bounds the inspection light", holds, "inspected_enough", _well, "order_inspection")
    of_host("light waits for the disk", keeper, "Keeper._allowed", lambda self: self._asked, "disk_slow", "host_dies")
    of_host("storage hold", keeper, "Keeper._mind_storage", lambda self: None, "disk_read_only", "database_locked")
    twice = _edited("lampwarden.link.board", "Board", "identify", "self._unique_id is None or", "True or")
    found.append(Mutation("link no heartbeat twice", twice, ("stale_replies",), LINK_TESTS))
    return found


def _end_now(turn: Any, event: Any, ending: Any) -> None:
    turn.note(Ended(event.run_s, ending.outcome, ending.cause, turn.session.lit_s))


def _well(*_: object, **__: object) -> None:
    """No trouble, whatever is asked."""


def _no_reset(session: Any, event: Any) -> tuple[float, ...]:
    before = session.zone_lit_ms if session.boot_count is not None else event.zone_lit_ms
    return tuple((now - was) % 2**32 / 1000 for now, was in zip(event.zone_lit_ms, before, strict=False))


def _no_wrap(session: Any, event: Any) -> tuple[float, ...]:
    before = session.zone_lit_ms if session.boot_count is not None else event.zone_lit_ms
    return tuple(max(0, now - was) / 1000 for now, was in zip(event.zone_lit_ms, before, strict=False))


def noticed_by_seeds(mutation: Mutation, seeds_max: int = SEEDS_MAX) -> tuple[int, str] | None:
    """The first seed that breaks a promise only with the mutation on, and which promise; None if none does."""
    for seed in range(seeds_max):
        with mutation.on():
            wrong = play(seed, mutation.trouble).wrong
        if wrong and not play(seed, mutation.trouble).wrong:
            return seed, wrong[0].split(":")[0]
    return None


def noticed_by_tests(mutation: Mutation, tests: tuple[str, ...] = ()) -> list[str]:
    """Names of the tests that fail with the mutation on, of those named or of the mutation's own."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "tests.campaign.mutations", "-p", "no:cacheprovider"]
    shown = subprocess.run(
        [*command, *(tests or mutation.tests)],
        cwd=Path(__file__).parents[2],
        env={**os.environ, ENVIRONMENT: mutation.name},
        capture_output=True,
        text=True,
        check=False,
    )
    if shown.returncode not in (0, 1):
        raise RuntimeError(f"the tests could not be run with '{mutation.name}' on:\n{shown.stdout}{shown.stderr}")
    failed = re.findall(r"^FAILED \S*?::(\S+)", shown.stdout, flags=re.MULTILINE)
    return [name for name in failed if name != COUNTS_ROWS]


def pytest_configure() -> None:
    """This module as a pytest plugin: switches on the mutation that the environment names."""
    name = os.environ.get(ENVIRONMENT)
    if name is not None:
        next(mutation for mutation in mutations() if mutation.name == name).apply()


def _one(name: str) -> tuple[str, tuple[int, str] | None, list[str]]:
    mutation = next(mutation for mutation in mutations() if mutation.name == name)
    return name, noticed_by_seeds(mutation), noticed_by_tests(mutation)


def run_all(console: Console, jobs: int) -> int:
    """Plays all mutations and prints who noticed; 1 if nobody noticed one."""
    table = Table("rule switched off", "seeds", "check that noticed", "tests that fail", title="Mutations")
    missed = 0
    with ProcessPoolExecutor(jobs, get_context("spawn")) as pool:
        for name, seed, tests in pool.map(_one, [mutation.name for mutation in mutations()]):
            missed += seed is None and not tests
            table.add_row(
                name,
                "not noticed" if seed is None else f"seed {seed[0]}",
                "" if seed is None else seed[1],
                f"{len(tests)}: {', '.join(tests[:2])}" if tests else "none",
            )
            console.print(f"{name}: {seed or 'no seed'}, {len(tests)} tests", highlight=False)
    console.print(table)
    console.print(f"{missed} of {len(mutations())} mutations were noticed by nothing.")
    return 1 if missed else 0
