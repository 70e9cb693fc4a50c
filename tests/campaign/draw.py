"""One seed draws everything: the chamber, the program, and the schedule of what goes wrong.

All numbers are invented. Edge-biased: starts at 0, levels at full, limits near the room's temperature.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Checkpoint, Exposure, Limits, Program, Rules, ZonePlan
from lampwarden.rig.design import RigDesign

from .faults import FAULTS, TABLE, Strike

SETTLE_S = 10.0
"""Given to the board to boot and its sensors to settle, s."""
DRAWS_MAX = 200
"""A program that does not fit is drawn again at most this often."""


@dataclass(frozen=True, slots=True)
class Case:
    """All that a seed decides before the run."""

    seed: int
    chamber: Chamber
    program: Program
    design: RigDesign
    strikes: tuple[Strike, ...]
    calm_s: float
    """Virtual time from which nothing goes wrong any more: phase two."""
    patience_s: float
    """How long the person takes to answer in phase one, s; inf: never looks."""


def draw(seed: int, only: Sequence[str] = ()) -> Case:
    """The case of a seed. `only`: nothing but these kinds of trouble, the first one at least once."""
    rng = random.Random(f"{seed} case")
    chamber = _chamber(rng)
    design = _design(rng)
    program = _program(rng, chamber, design)
    planned_s = program.planned_session_s(chamber)
    near_ceiling = rng.random() < 0.1 or "lit_ceiling" in only
    if near_ceiling:  # just enough for the plan that begins, or preflight would refuse it
        worst_s = max(sum(e.planned_end_s(z.irradiance_w_m2) - e.start_s for e in program.exposures_of(z.name))
                      for z in chamber.zones)  # fmt: skip
        design = replace(design, lit_ceiling_s=int(worst_s) + 1)
    calm_s = SETTLE_S + max(120.0, min(2400.0, planned_s * rng.uniform(0.6, 1.4) + rng.uniform(0, 300)))
    count = 0 if not only and rng.random() < 0.03 else rng.choice((1, 2, 2, 3, 3, 4, 5, 6, 8))
    names = list(only) if only else [fault.name for fault in FAULTS]
    weights = [TABLE[name].weight or 1e-9 for name in names]
    strikes: list[Strike] = []
    for number in range(count):
        name = names[0] if only and number == 0 else rng.choices(names, weights)[0]
        strikes.append(_strike(rng, name, number, strikes, program, calm_s))
    if near_ceiling:
        strikes.append(Strike(count, "lit_ceiling", SETTLE_S + round(rng.uniform(1, planned_s / 2), 3), 0.0, 0.0))
    return Case(
        seed,
        chamber,
        program,
        design,
        tuple(sorted(strikes, key=lambda strike: (strike.at_s, strike.number))),
        calm_s,
        rng.choice((5.0, 20.0, 60.0, float("inf"))),
    )


def _strike(
    rng: random.Random, name: str, number: int, before: list[Strike], program: Program, calm_s: float
) -> Strike:
    fault = TABLE[name]
    if fault.at_start:
        return Strike(number, name, 0.0, 0.0, rng.random())
    low_s, high_s = fault.lasts_s
    lasts_s = round(low_s * (high_s / low_s) ** rng.random(), 3) if low_s else 0.0
    at_s = rng.uniform(SETTLE_S + 1, max(SETTLE_S + 2, calm_s - lasts_s))
    where = rng.random()
    if before and where < 0.35:  # trouble seldom comes alone
        other = rng.choice(before)
        at_s = rng.choice((other.at_s, other.end_s)) + rng.choice(
            (0.0, 0.05, rng.uniform(-1.2, 2.5), rng.uniform(2, 20))
        )
    elif where < 0.6:  # near a moment of the plan
        moments = [c.at_s for c in program.checkpoints]
        moments += [t for plan in program.zones for e in plan.exposures for t in (e.start_s, e.end_s or e.start_s + 5)]
        at_s = SETTLE_S + rng.choice(moments) + rng.choice((0.0, rng.uniform(-1.2, 3.0)))
    return Strike(number, name, round(min(max(at_s, SETTLE_S + 0.5), calm_s - 1), 3), lasts_s, rng.random())


def _chamber(rng: random.Random) -> Chamber:
    zones = rng.choice((1, 2, 3, 4, 6, 8))
    banks = rng.randint(1, min(4, zones))
    return Chamber(
        id="attic",
        title="Campaign chamber",
        inspection=rng.random() < 0.8,
        zones=tuple(
            Zone(name=f"Z{n + 1}", bank=min(n, banks - 1) + 1 if n < banks else rng.randint(1, banks),
                 irradiance_w_m2=rng.choice((20.0, 80.0, 200.0)))
            for n in range(zones)
        ),
    )  # fmt: skip


def _design(rng: random.Random) -> RigDesign:
    return RigDesign(
        ambient_c=rng.choice((15.0, 22.0, 22.0, 26.0)),
        air_rise_k=rng.uniform(4, 9),
        plate_rise_k=rng.uniform(8, 18),
        air_time_constant_s=rng.uniform(300, 1500),
        plate_time_constant_s=rng.uniform(60, 240),
        fan_strength=rng.choice((1.0, 1.0, 0.6)),
        boot_ms=rng.choice((500, 1000, 1900)),
    )


def _program(rng: random.Random, chamber: Chamber, design: RigDesign) -> Program:
    for _ in range(DRAWS_MAX):
        long = 5.0 if rng.random() < 0.05 else 1.0
        try:
            program = Program(
                title=f"Case {rng.randint(0, 10**6)}",
                zones=tuple(
                    ZonePlan(zone=zone.name, exposures=_exposures(rng, zone, long))
                    for zone in chamber.zones
                    if zone is chamber.zones[0] or rng.random() < 0.8
                ),
                checkpoints=_checkpoints(rng, long),
                limits=_limits(rng, design),
                rules=Rules(
                    coolings_per_hour_max=rng.choice((0, 2, 4, 30)),
                    after_restart=rng.choice(("ask", "continue")),
                    gap_max=rng.choice((0.0, 5.0, 60.0, 600.0)),
                    unanswered=rng.choice(("wait", "continue")),
                    answer_within=rng.choice((60.0, 300.0)),
                ),
                inspection_level=rng.choice((0.0, 0.3)),
            )
        except ValueError:
            continue
        if not program.fits(chamber):
            return program
    raise RuntimeError("no program fits; the draw is too wild")


def _exposures(rng: random.Random, zone: Zone, long: float) -> tuple[Exposure, ...]:
    found, start_s = [], rng.choice((0.0, 0.0, round(rng.uniform(0, 60), 2)))
    for _ in range(rng.choice((1, 1, 2, 3))):
        level = rng.choice((1.0, 1.0, round(rng.uniform(0.05, 1), 3)))
        lasts_s = round(rng.uniform(5, 200) * long, 2)
        if rng.random() < 0.5:
            found.append(Exposure(start=start_s, end=start_s + lasts_s, level=level))
        else:
            dose = round(zone.irradiance_w_m2 * 1e-4 * lasts_s * level, 4)
            found.append(Exposure(start=start_s, dose_j_cm2=max(dose, 0.001), level=level))
        # A dose may take a little longer than the time it was drawn from.
        start_s = round(start_s + lasts_s + rng.choice((0.3, rng.uniform(1, 40))), 2)
    return tuple(found)


def _checkpoints(rng: random.Random, long: float) -> tuple[Checkpoint, ...]:
    times = {0.0} if rng.random() < 0.3 else set()
    times |= {round(rng.uniform(0, 300 * long), 2) for _ in range(rng.choice((0, 1, 1, 2, 3)))}
    return tuple(
        Checkpoint(name=f"C{n}", at=at_s, attended=rng.random() < 0.6, pause=rng.choice((5.0, 20.0)))
        for n, at_s in enumerate(sorted(times))
    )


def _limits(rng: random.Random, design: RigDesign) -> Limits:
    """Above the room by more than the hysteresis, so that a chamber left alone cools below them; below the ceilings."""
    hysteresis_c = rng.choice((0.5, 3.0))
    air_c = design.ambient_c + hysteresis_c + 2 + rng.uniform(1, 9)
    bank_c = air_c + rng.uniform(4, 18)
    return Limits(
        air_soft_c=min(air_c, design.air_ceiling_c - 1.5),
        air_hard_c=min(air_c + rng.uniform(1, 5), design.air_ceiling_c),
        bank_soft_c=min(bank_c, design.bank_ceiling_c - 1.5),
        bank_hard_c=min(bank_c + rng.uniform(1, 8), design.bank_ceiling_c),
        hysteresis_c=hysteresis_c,
        handling_c=design.ambient_c + rng.choice((2.0, 5.0, 10.0)),
    )
