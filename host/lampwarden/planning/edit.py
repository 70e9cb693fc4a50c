"""Single steps of editing a program, as a page makes them: each gives a new program, or says in a sentence why not."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from ..domain.chamber import Chamber, Zone
from ..domain.program import Checkpoint, Exposure, Program, ZonePlan
from ..domain.program_file import sentences
from ..domain.units import dose_j_cm2, duration_text
from ..errors import ProgramError
from ..trial.ladder import Scheme, Target, geometric_doses, zone_plans
from .power import lamp_powers_w


def changed(program: Program, **changes: Any) -> Program:
    """The program with some fields changed, checked as a whole. Raises ProgramError with a sentence."""
    fields = {name: getattr(program, name) for name in Program.model_fields}
    try:
        return Program(**{**fields, **changes})
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None


def with_exposures(program: Program, chamber: Chamber, exposures: Mapping[str, Sequence[Exposure]]) -> Program:
    """The program with these zones' exposures replaced, each zone's in order of their start.

    Raises ProgramError if one would begin before the one before it has ended.
    """
    known = [zone.name for zone in chamber.zones]
    for zone in exposures:
        _zone(chamber, zone)
    plans = {plan.zone: plan for plan in program.zones}
    try:
        for zone, some in exposures.items():
            plans[zone] = ZonePlan(zone=zone, exposures=tuple(sorted(some, key=lambda e: e.start_s)))
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None
    order = sorted(plans, key=lambda name: known.index(name) if name in known else len(known))
    new = changed(program, zones=tuple(plans[name] for name in order))
    worse = [says for says in new.fits(chamber) if says not in program.fits(chamber)]
    if worse:
        raise ProgramError("\n".join(worse))
    return new


def exposure(
    start_s: float, *, end_s: float | None = None, dose_j_cm2: float | None = None, level: float = 1.0
) -> Exposure:
    """An exposure by its end or by its dose. Raises ProgramError with a sentence."""
    try:
        return Exposure(start=start_s, end=end_s, dose_j_cm2=dose_j_cm2, level=level)
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None


def add(program: Program, chamber: Chamber, zone: str, new: Exposure) -> Program:
    """One exposure more on a zone."""
    return with_exposures(program, chamber, {zone: (*program.exposures_of(zone), new)})


def remove(program: Program, chamber: Chamber, zone: str, index: int) -> Program:
    """One exposure less, by its place in the zone's order from 0. The last light of a program stays."""
    some = _of(program, zone, index)
    return with_exposures(program, chamber, {zone: some[:index] + some[index + 1 :]})


def move(program: Program, chamber: Chamber, zone: str, index: int, start_s: float) -> Program:
    """The whole bar moved to another start: its length or dose stays."""
    old = _of(program, zone, index)[index]
    end_s = None if old.end_s is None else old.end_s + start_s - old.start_s
    return _replace(
        program, chamber, zone, index, [exposure(start_s, end_s=end_s, dose_j_cm2=old.dose_j_cm2, level=old.level)]
    )


def change(
    program: Program,
    chamber: Chamber,
    zone: str,
    index: int,
    *,
    start_s: float | None = None,
    end_s: float | None = None,
    dose_j_cm2: float | None = None,
    level: float | None = None,
) -> Program:
    """One exposure with new numbers. An end makes it end by time, a dose by dose; give one of them or neither.

    A new level leaves the end or the dose, whichever rules, as it is; so does a new start.
    """
    if end_s is not None and dose_j_cm2 is not None:
        raise ProgramError("Give the end or the dose, not both: the other follows.")
    old = _of(program, zone, index)[index]
    kept = end_s is None and dose_j_cm2 is None
    new = exposure(
        old.start_s if start_s is None else start_s,
        end_s=old.end_s if kept else end_s,
        dose_j_cm2=old.dose_j_cm2 if kept else dose_j_cm2,
        level=old.level if level is None else level,
    )
    return _replace(program, chamber, zone, index, [new])


def drag(
    program: Program,
    chamber: Chamber,
    zone: str,
    index: int,
    *,
    start_s: float | None = None,
    end_s: float | None = None,
) -> Program:
    """One end of a bar dragged. One that ends by dose still does: its dose follows the bar's length."""
    lamp = _zone(chamber, zone)
    old = _of(program, zone, index)[index]
    begin = old.start_s if start_s is None else start_s
    end = old.planned_end_s(lamp.irradiance_w_m2) if end_s is None else end_s
    if not end > begin:
        raise ProgramError(f"Zone '{zone}': an exposure must end after its start at {duration_text(begin)}.")
    new = _by_end(old, lamp, begin, end)
    return _replace(program, chamber, zone, index, [new])


def split(program: Program, chamber: Chamber, zone: str, index: int, at_s: float, pause_s: float = 0.0) -> Program:
    """One bar cut in two at a moment inside it, the second half later by a pause. Together they give the same dose."""
    lamp = _zone(chamber, zone)
    old = _of(program, zone, index)[index]
    end_s = old.planned_end_s(lamp.irradiance_w_m2)
    if not old.start_s < at_s < end_s:
        raise ProgramError(
            f"Zone '{zone}': cut the exposure between {duration_text(old.start_s)} and {duration_text(end_s)}."
        )
    halves = [_by_end(old, lamp, old.start_s, at_s), _by_end(old, lamp, at_s + pause_s, end_s + pause_s)]
    return _replace(program, chamber, zone, index, halves)


def copy_to(program: Program, chamber: Chamber, zone: str, others: Sequence[str], equal_dose: bool = False) -> Program:
    """A zone's exposures given to others in place of theirs: for the same times, or for the same dose by their own
    irradiance."""
    lamp = _zone(chamber, zone)
    some = program.exposures_of(zone)
    if equal_dose:
        some = tuple(
            exposure(e.start_s, dose_j_cm2=_dose(e, lamp), level=e.level) if e.dose_j_cm2 is None else e for e in some
        )
    elif any(e.dose_j_cm2 is not None for e in some):
        some = tuple(exposure(e.start_s, end_s=e.planned_end_s(lamp.irradiance_w_m2), level=e.level) for e in some)
    return with_exposures(program, chamber, dict.fromkeys(others, some))


def ladder_over(
    program: Program, chamber: Chamber, zones: Sequence[str], lowest_j_cm2: float, highest_j_cm2: float, scheme: Scheme
) -> Program:
    """A ladder of doses over some zones, in their order, in place of what they had."""
    doses = geometric_doses(lowest_j_cm2, highest_j_cm2, len(zones))
    targets = [Target(zone, dose) for zone, dose in zip(zones, doses, strict=True)]
    return with_targets(program, chamber, targets, scheme)


def with_targets(program: Program, chamber: Chamber, targets: Sequence[Target], scheme: Scheme) -> Program:
    """Target doses for some zones in place of what they had, laid out by a scheme under the chamber's power ceiling."""
    powers = lamp_powers_w(chamber)
    plans = zone_plans(chamber, targets, scheme, lamp_w=powers, power_w_max=chamber.power_w_max or sum(powers.values()))
    return with_exposures(program, chamber, {plan.zone: plan.exposures for plan in plans})


def add_checkpoint(
    program: Program, at_s: float, name: str = "", *, attended: bool = True, look_at: str | None = None
) -> Program:
    """One checkpoint more; without a name it is called by its time."""
    fields: dict[str, Any] = {
        "name": name or _free_name(program, duration_text(at_s)),
        "at_s": at_s,
        "attended": attended,
    }
    if look_at is not None:
        fields["look_at"] = look_at
    return _with_checkpoints(program, [*program.checkpoints, _made(Checkpoint, fields)])


def remove_checkpoint(program: Program, name: str) -> Program:
    """One checkpoint less."""
    _checkpoint(program, name)
    return _with_checkpoints(program, [c for c in program.checkpoints if c.name != name])


def change_checkpoint(program: Program, name: str, **changes: Any) -> Program:
    """One checkpoint with new numbers or words: name, at_s, attended, look_at, pause_s."""
    old = _checkpoint(program, name)
    new = _made(Checkpoint, {**_fields(old), **changes})
    return _with_checkpoints(program, [new if c is old else c for c in program.checkpoints])


def rescale(program: Program, chamber: Chamber, factor: float) -> Program:
    """All times, and with them all doses, multiplied by a factor; starts and checkpoints move along."""
    if not 0.01 <= factor <= 100:
        raise ProgramError(f"A factor of {factor:g} is out of range; give one from 0.01 to 100.")

    def scaled(e: Exposure) -> Exposure:
        return exposure(
            e.start_s * factor,
            end_s=None if e.end_s is None else e.end_s * factor,
            dose_j_cm2=None if e.dose_j_cm2 is None else e.dose_j_cm2 * factor,
            level=e.level,
        )

    stretched = {plan.zone: [scaled(e) for e in plan.exposures] for plan in program.zones}
    moved = [_made(Checkpoint, {**_fields(c), "at_s": c.at_s * factor}) for c in program.checkpoints]
    plans = tuple(ZonePlan(zone=zone, exposures=tuple(some)) for zone, some in stretched.items())
    new = changed(program, zones=plans, checkpoints=tuple(moved))
    if worse := [says for says in new.fits(chamber) if says not in program.fits(chamber)]:
        raise ProgramError("\n".join(worse))
    return new


def _zone(chamber: Chamber, name: str) -> Zone:
    for zone in chamber.zones:
        if zone.name == name:
            return zone
    raise ProgramError(f"The chamber has no zone '{name}'; its zones are {', '.join(z.name for z in chamber.zones)}.")


def _of(program: Program, zone: str, index: int) -> tuple[Exposure, ...]:
    some = program.exposures_of(zone)
    if not 0 <= index < len(some):
        raise ProgramError(f"Zone '{zone}' has no exposure number {index + 1}; it has {len(some)}.")
    return some


def _replace(program: Program, chamber: Chamber, zone: str, index: int, new: Sequence[Exposure]) -> Program:
    some = _of(program, zone, index)
    return with_exposures(program, chamber, {zone: (*some[:index], *new, *some[index + 1 :])})


def _dose(e: Exposure, lamp: Zone) -> float:
    return dose_j_cm2(lamp.irradiance_w_m2, e.planned_lit_s(lamp.irradiance_w_m2))


def _by_end(old: Exposure, lamp: Zone, start_s: float, end_s: float) -> Exposure:
    """The same exposure between two moments, ending by time or by dose as it did."""
    if old.end_s is not None:
        return exposure(start_s, end_s=end_s, level=old.level)
    return exposure(
        start_s, dose_j_cm2=dose_j_cm2(lamp.irradiance_w_m2, (end_s - start_s) * old.level), level=old.level
    )


def _checkpoint(program: Program, name: str) -> Checkpoint:
    for checkpoint in program.checkpoints:
        if checkpoint.name == name:
            return checkpoint
    raise ProgramError(f"There is no checkpoint '{name}'.")


def _with_checkpoints(program: Program, some: Sequence[Checkpoint]) -> Program:
    return changed(program, checkpoints=tuple(sorted(some, key=lambda c: c.at_s)))


def _fields(checkpoint: Checkpoint) -> dict[str, Any]:
    return {field: getattr(checkpoint, field) for field in Checkpoint.model_fields}


def _made(model: Callable[..., Any], fields: Mapping[str, Any]) -> Any:
    try:
        return model(**fields)
    except ValidationError as error:
        raise ProgramError(sentences(error)) from None


def _free_name(program: Program, name: str) -> str:
    taken = {checkpoint.name for checkpoint in program.checkpoints}
    if name not in taken:
        return name
    return next(f"{name} ({n})" for n in range(2, 200) if f"{name} ({n})" not in taken)
