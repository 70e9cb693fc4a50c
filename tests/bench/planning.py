"""Is a plan reviewed as fast as one types? Against a rehearsed minute, in one run.

`python -m tests.bench.planning` prints the figures. The plan: eight zones with two lights each, eight checkpoints of
which some fall in the night, 60 cells in six blocks, an ink of every kind, all leaks measured.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from time import perf_counter
from zoneinfo import ZoneInfo

from lampwarden.domain.chamber import Chamber, Leak, Place, Zone
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Checkpoint, Exposure, Program, ZonePlan
from lampwarden.domain.sheet import Cell, Ink, InkKind, Sheet, Treatment
from lampwarden.planning import air_model, review
from lampwarden.rehearsal import rehearse

ZONES = [f"{row}{column}" for row in "AB" for column in range(1, 5)]
CHAMBER = Chamber(
    id="bench",
    zones=tuple(
        Zone(
            name=name,
            bank=1 + n // 2,
            irradiance_w_m2=80 + n,
            lamp_w=4,
            place=Place(x_mm=20 + 62 * (n % 4), y_mm=20 + 62 * (n // 4), width_mm=58, height_mm=58),
        )
        for n, name in enumerate(ZONES)
    ),
    leaks=tuple(Leak(**{"from": a, "to": b, "share": 0.003}) for a in ZONES for b in ZONES if a != b),
    power_w_max=40,
)
PROGRAM = Program(
    title="Bench",
    zones=tuple(
        ZonePlan(
            zone=zone,
            exposures=(
                Exposure(start=60 * n, end=3600 * (1 + n)),
                Exposure(start=40_000, dose_j_cm2=10 + 5 * n, level=0.5),
            ),
        )
        for n, zone in enumerate(ZONES[:7])
    ),
    checkpoints=tuple(Checkpoint(name=f"{3 * n} h", at=10_800 * n) for n in range(8)),
)
BATH = {"chemical": "hydrogen peroxide", "strength_pct": 3}
SHEET = Sheet(
    id="bench",
    title="Bench",
    width_mm=300,
    height_mm=200,
    inks=tuple(Ink(name=kind.value, kind=kind) for kind in InkKind),
    cells=tuple(
        Cell(
            name=f"C{n}",
            zone=ZONES[n % 8],
            x_mm=5 + 29 * (n % 10),
            y_mm=5 + 30 * (n // 10),
            width_mm=20,
            height_mm=20,
            treatment=Treatment(light=n % 8 < 7, covered=n % 8 == 7, **(BATH if n % 16 > 7 else {})),
            block=1 + n // 10,
        )
        for n in range(60)
    ),
)
PLAN = Plan(id="bench", title="Bench", chamber="bench", sheet="bench", program=PROGRAM)
START = datetime(2031, 3, 3, 8, 0, tzinfo=ZoneInfo("Europe/Berlin"))
TEN_MINUTES = Program(title="Ten minutes", zones=tuple(ZonePlan(zone=z, exposures=(Exposure(end=600),)) for z in ZONES))


@dataclass(frozen=True)
class Report:
    review_s: float
    rehearsed_minute_s: float

    @property
    def minutes(self) -> float:
        """A review lasts as long as so many minutes of a rehearsal of ten, with eight zones."""
        return self.review_s / self.rehearsed_minute_s

    def __str__(self) -> str:
        return (
            f"review of 8 zones and 60 cells {1000 * self.review_s:.1f} ms; a rehearsed minute"
            f" {1000 * self.rehearsed_minute_s:.1f} ms; ratio {self.minutes:.2f}"
        )


def measure(rounds: int = 5) -> Report:
    """The quickest of some rounds of each, taken in turn, so that what else the machine does hits both."""
    model = air_model(CHAMBER)
    reviews, minutes = [], []
    for _ in range(rounds):
        reviews.append(_took(lambda: review(PLAN, CHAMBER, SHEET, START, model)))
        reviews.append(_took(lambda: review(PLAN, CHAMBER, SHEET, START, model)))
        minutes.append(_took(lambda: rehearse(TEN_MINUTES, CHAMBER)) / 10)
    return Report(min(reviews), min(minutes))


def _took(work: Callable[[], object]) -> float:
    before = perf_counter()
    work()
    return perf_counter() - before


if __name__ == "__main__":
    sys.stdout.write(f"{measure()}\n")
