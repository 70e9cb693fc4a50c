"""`python -m tests.campaign --seeds 5000 --jobs 2`: long runs of the campaign, and the mutation table."""

import argparse
import logging
import multiprocessing
import os
import signal
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table

from .faults import FAULTS
from .play import Result, play, quieten, story

CHUNK_MAX = 8
"""Seeds handed to a process at once."""
SHOWN_MAX = 20
"""Failing seeds that are shown in full."""

console = Console(width=140 if not sys.stdout.isatty() else None)


def main() -> int:
    """Runs what the command line asks for; 1 if anything was broken, 2 if it was stopped before its end."""
    args = _arguments()
    logging.disable(logging.CRITICAL)  # what the daemon would log of all this trouble is of no use here
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    if args.mutations:
        from .mutations import run_all

        return run_all(console, args.jobs)
    if args.story:
        console.print(story(args.first, args.only), markup=False, highlight=False, soft_wrap=True)
        return 0
    results: list[Result] = []
    stopped = _gather(_play(range(args.first, args.first + args.seeds), args.jobs, args.only), args.seeds, results)
    _summary(results)
    if stopped:
        console.print(f"{stopped} This is what the first {len(results)} of {args.seeds} seeds gave.")
    return 2 if stopped else 1 if any(result.wrong for result in results) else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    parser.add_argument("--seeds", type=int, default=200, help="how many seeds to play")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--only", action="append", default=[], metavar="FAULT", help="nothing but this kind of trouble")
    parser.add_argument("--story", action="store_true", help="tell what happened in the first seed, line by line")
    parser.add_argument("--mutations", action="store_true", help="switch each rule off in turn; show who notices")
    return parser.parse_args()


def _play(seeds: Sequence[int], jobs: int, only: list[str]) -> Iterator[Result]:
    one = partial(play, only=tuple(only))
    if jobs <= 1:
        yield from map(one, seeds)
        return
    with ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn"), quieten) as pool:
        try:
            yield from pool.map(one, seeds, chunksize=max(1, min(CHUNK_MAX, len(seeds) // 20)))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _gather(results: Iterator[Result], total: int, found: list[Result]) -> str:
    """Takes all results into `found`; a sentence if they stopped coming before the end."""
    try:
        for result in _progress(results, total):
            found.append(result)
    except KeyboardInterrupt:
        return "Stopped from outside."
    except BrokenProcessPool:
        return "A worker process was killed."
    return ""


def _progress(results: Iterator[Result], total: int) -> Iterator[Result]:
    """Passes results on with a progress bar, or with twenty lines where there is no terminal; prints failing seeds."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console) as bar:
        task = bar.add_task("seeds", total=total)
        broken = 0
        for count, result in enumerate(results, start=1):
            if result.wrong:
                broken += 1
                bar.update(task, description=f"seeds, {broken} broken")
                if broken <= SHOWN_MAX:
                    bar.console.print(_failure(result), markup=False, highlight=False, soft_wrap=True)
            bar.advance(task)
            if not console.is_terminal and count % max(1, total // 20) == 0:
                bar.console.print(f"{count} of {total} seeds, {broken} broken", highlight=False)
            yield result


def _failure(result: Result) -> str:
    lines = [f"seed {result.seed} ({', '.join(result.strikes) or 'no trouble'}): {result.outcome}"]
    lines += [f"    {sentence}" for sentence in result.wrong]
    return "\n".join([*lines, f"    replay: python -m tests.campaign --first {result.seed} --seeds 1 --jobs 1"])


def _summary(results: list[Result]) -> None:
    faults = Counter(name for result in results for name in result.strikes)
    table = Table("fault", "room", "times", "reaction expected", title="Trouble", title_justify="left")
    for fault in FAULTS:
        if fault.weight or faults[fault.name]:
            table.add_row(fault.name, fault.room, str(faults[fault.name]), fault.reaction)
    console.print(table)

    worst: dict[str, tuple[float, int]] = {}
    for result in results:
        for name, value in result.figures.items():
            if name not in worst or value > worst[name][0]:
                worst[name] = (value, result.seed)
    table = Table("worst figure", "value", "seed", title="Worst figures", title_justify="left")
    for name in sorted(worst):
        table.add_row(name, f"{worst[name][0]:.3f}", str(worst[name][1]))
    console.print(table)

    hours = sum(result.virtual_s for result in results) / 3600
    cpu_s = sum(result.cpu_s for result in results)
    outcomes = ", ".join(f"{count} {name}" for name, count in Counter(r.outcome for r in results).most_common())
    broken = [result.seed for result in results if result.wrong]
    console.print(
        f"{len(results)} seeds, {hours:.1f} simulated hours, {sum(r.lives for r in results)} host lives,"
        f" {faults.total()} pieces of trouble; {outcomes}; {cpu_s / max(1, len(results)):.2f} s of CPU a seed."
    )
    console.print(f"{len(broken)} seeds broke a promise{': ' + ', '.join(map(str, broken[:50])) if broken else ''}.")


if __name__ == "__main__":
    sys.exit(main())
