"""Do conclusions from photos agree with what the simulated paper truly did? `python -m tests.bench.agreement`.

For each seed the demo's trial: its sheet under its lamps, by its program, a photo by the fixed camera at each
checkpoint, read, concluded. The paper's fate is drawn from the seed: brightens, nothing at all, an ink fades, darkens.

A seed agrees if nothing that was concluded is false and nothing that is plain was missed. CHANGE_DE00 and the others
below are the grey zones between the two: there both answers pass, since a person could not call either wrong. Advice
"cannot tell" on light's plateau is an answer that claims nothing: it is counted as left open, not as a disagreement.
On a sheet where nothing happened every claim is false, whatever its kind.
"""

import argparse
import math
import os
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from copy import deepcopy
from dataclasses import dataclass
from datetime import timedelta
from importlib.resources import files
from multiprocessing import get_context

from lampwarden.colour.difference import de00
from lampwarden.demo import demo_sheet
from lampwarden.domain.chamber import Chamber
from lampwarden.domain.plan import Plan
from lampwarden.domain.program import Program
from lampwarden.domain.program_file import parse, parse_as
from lampwarden.domain.reading import Reading, Way
from lampwarden.domain.sheet import Sheet
from lampwarden.findings.advice import Kind
from lampwarden.findings.conclude import CellFindings, Conclusions, conclude
from lampwarden.findings.course import lit_changes
from lampwarden.findings.defaults import EQUAL_DE00, INK_LIMIT_DE00, PLATEAU_DE00
from lampwarden.photos.doses import cell_doses_j_cm2
from lampwarden.rig.camera.mounted import PHOTO_PX
from lampwarden.rig.clock import DEMO_UTC
from lampwarden.rig.paper.sheet import PaperState, SimPaper, measured_part
from lampwarden.service.seen import masks_of

CHANGE_DE00 = (0.3, 1.5)
"""A change claimed where less happened is false; one not told where more happened is missed. The camera's detection
limit may be 1.3 (the goal for a fixed camera and one JPEG)."""
INK_GREY_DE00 = 0.8
"""An ink so far over its limit must be told, one so far under must not: some 2 standard uncertainties of a change."""
PLATEAU_GREY_DE00 = 0.5
"""'Nothing more to gain' is false if so much more than the plateau's limit was still to come, 'go on' if less than this
was."""
EQUAL_GREY_DE00 = 0.5
"""'As good as' is false beyond the margin and this."""
PLATEAU_H = 40.0
"""So much more light takes what light can take; what returns and is taken again over weeks is not meant."""
AIR_C = 27.0
GOAL_PCT = 95.0


@dataclass(frozen=True, slots=True)
class Scene:
    """The demo's trial."""

    sheet: Sheet
    chamber: Chamber
    program: Program

    @classmethod
    def demo(cls) -> "Scene":
        folder = files("lampwarden.rig") / "scenario"
        chamber = parse_as(Chamber, (folder / "chamber.toml").read_text(encoding="utf-8"), "chamber.toml")
        return cls(demo_sheet(), chamber, parse((folder / "ferry_timetable.toml").read_text(encoding="utf-8")))

    def lamps(self, at_s: float) -> dict[str, float]:
        """Level of each zone that is lit at a moment."""
        return {
            zone.name: exposure.level
            for zone in self.chamber.zones
            for exposure in self.program.exposures_of(zone.name)
            if exposure.start_s <= at_s < exposure.planned_end_s(zone.irradiance_w_m2)
        }

    def turns(self) -> list[float]:
        """Every moment at which a lamp turns or a checkpoint is reached, s."""
        lights = (
            moment
            for zone in self.chamber.zones
            for exposure in self.program.exposures_of(zone.name)
            for moment in (exposure.start_s, exposure.planned_end_s(zone.irradiance_w_m2))
        )
        return sorted({*lights, *(checkpoint.at_s for checkpoint in self.program.checkpoints)})


@dataclass(frozen=True, slots=True)
class Moment:
    """One checkpoint as it truly was."""

    name: str
    at_s: float
    lit_s: tuple[float, ...]
    """Light of each zone so far, s."""
    paper: SimPaper
    """A copy that nothing moves on."""
    state: PaperState


def play(scene: Scene, seed: int, fate: str = "") -> list[Moment]:
    """The trial without photos, checkpoint by checkpoint. What has a bath is soaked after the baseline."""
    paper = SimPaper(scene.sheet, scene.chamber, seed, fate=fate)
    lit_s = dict.fromkeys((zone.name for zone in scene.chamber.zones), 0.0)
    moments: list[Moment] = []
    checkpoints = {checkpoint.at_s: checkpoint.name for checkpoint in scene.program.checkpoints}
    now_s = 0.0
    for turn_s in scene.turns():
        lamps = scene.lamps(now_s)
        paper.step(turn_s - now_s, lamps, AIR_C)
        for zone, level in lamps.items():
            lit_s[zone] += level * (turn_s - now_s)
        now_s = turn_s
        if now_s in checkpoints:
            moments.append(Moment(checkpoints[now_s], now_s, tuple(lit_s.values()), deepcopy(paper), paper.state()))
            if len(moments) == 1:
                paper.wet()
    return moments


def look(scene: Scene, moments: list[Moment], seed: int, size: tuple[int, int]) -> Conclusions:
    """What the product concludes from photos of these moments."""
    from lampwarden.imaging import measure_photos
    from lampwarden.rig.camera.photo import photograph

    mask = masks_of(scene.sheet)[0]
    readings: list[Reading] = []
    for shot, moment in enumerate(moments):
        taken = DEMO_UTC + timedelta(seconds=moment.at_s)
        photos = photograph(scene.sheet, mask, moment.state, seed, "fixed", shot=shot, size=size, taken_utc=taken)
        before = next((reading for reading in reversed(readings) if not reading.refused), None)
        utc = taken.strftime("%Y-%m-%dT%H:%M:%SZ")
        read = measure_photos(photos, mask, Way.FIXED, None, before, utc).reading
        about = {"id": moment.name, "session": "s", "checkpoint": moment.name, "session_s": moment.at_s}
        readings.append(read.model_copy(update=about))
    doses = {m.name: cell_doses_j_cm2(scene.sheet, scene.chamber, m.lit_s) for m in moments}
    plan = Plan(id="p", title="Trial", chamber=scene.chamber.id, sheet=scene.sheet.id, program=scene.program)
    return conclude(scene.sheet, plan, readings, doses, chamber=scene.chamber)


@dataclass(frozen=True, slots=True)
class Truth:
    """What one sheet truly did, ΔE00; whiter (a higher true ISO brightness) is positive."""

    scene: Scene
    moments: list[Moment]

    def gained(self, cell: str, at: str, since: str | None = None) -> float:
        """Change of a cell from one checkpoint (None: the first) to another."""
        by_name = {moment.name: moment.state for moment in self.moments}
        before = by_name[since] if since else self.moments[0].state
        return self._between(cell, before, by_name[at])

    def to_come(self, cell: str, at: str) -> float:
        """What light alone would still have done to a cell from a checkpoint on."""
        moment = next(moment for moment in self.moments if moment.name == at)
        paper = deepcopy(moment.paper)
        paper.step(PLATEAU_H * 3600, {zone.name: 1.0 for zone in self.scene.chamber.zones}, AIR_C)
        return self._between(cell, moment.state, paper.state())

    def _between(self, cell: str, before: PaperState, after: PaperState) -> float:
        part = measured_part(self.scene.sheet, cell)
        size = float(de00(before.lab_d50(cell, part), after.lab_d50(cell, part)))
        return math.copysign(size, after.r457_pct(cell, part) - before.r457_pct(cell, part))


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the conclusions of one seed compare with the truth."""

    seed: int
    fate: str
    false: tuple[str, ...]
    """Kinds of claims that are not so, one entry a claim."""
    missed: tuple[str, ...]
    """Kinds of plain facts that were not told."""
    told: tuple[str, ...]
    """Kinds of true answers."""
    open: int
    """Lit cells for which nothing is said of light's plateau though it changed plainly."""

    @property
    def agrees(self) -> bool:
        return not (self.false or self.missed)

    def __str__(self) -> str:
        wrong = [f"false: {each}" for each in self.false] + [f"missed: {each}" for each in self.missed]
        rest = f"{len(self.told)} told, {self.open} left open"
        return f"seed {self.seed} ({self.fate}): {'; '.join(wrong) or 'agrees'}; {rest}"


Judged = Iterator[tuple[str, str]]
"""Pairs of 'false', 'missed', 'told' or 'open', and the kind of statement with whom it is about."""


def judge(scene: Scene, moments: list[Moment], said: Conclusions, seed: int) -> Verdict:
    """Compares what was concluded with what happened."""
    truth, fate = Truth(scene, moments), moments[0].paper.fate
    found = [*_unread(scene, said), *_inks(truth, said), *_cells(truth, said), *_compared(truth, said)]
    found += _drifted(said)
    if fate == "nothing":
        found += [("false", f"{kind}: nothing happened") for kind in _claims(said)]
    sorts = {sort: tuple(what for each, what in found if each == sort) for sort in ("false", "missed", "told", "open")}
    return Verdict(seed, fate, sorts["false"], sorts["missed"], sorts["told"], len(sorts["open"]))


def _unread(scene: Scene, said: Conclusions) -> Judged:
    seen = {cell.cell for cell in said.cells}
    yield from (("missed", f"unread {cell.name}") for cell in scene.sheet.cells if cell.name not in seen)


def _inks(truth: Truth, said: Conclusions) -> Judged:
    for ink in said.inks:
        true = abs(truth.gained(ink.cell, ink.change.reading))
        if true > INK_LIMIT_DE00.value + INK_GREY_DE00:
            yield "told" if ink.fading else "missed", f"ink {ink.cell}"
        elif ink.fading and true < INK_LIMIT_DE00.value - INK_GREY_DE00:
            yield "false", f"ink {ink.cell}"
        if ink.over is False and true > INK_LIMIT_DE00.value + INK_GREY_DE00:
            yield "false", f"ink {ink.cell} under its limit"


def _cells(truth: Truth, said: Conclusions) -> Judged:
    least, plain = CHANGE_DE00
    watched = {ink.cell for ink in said.inks}
    for cell in said.cells:
        if cell.cell in watched:
            continue
        true = truth.gained(cell.cell, cell.end.reading)
        if cell.changed and (abs(true) < least or cell.end.gain.value * true < 0):
            yield "false", f"change {cell.cell}"
        elif abs(true) > plain:
            yield "told" if cell.changed else "missed", f"change {cell.cell}"
        if cell.advice is not None:
            yield from _advised(truth, cell)


def _advised(truth: Truth, cell: CellFindings) -> Judged:
    least, plain = CHANGE_DE00
    lit = lit_changes(cell.series)
    if cell.advice is None or not lit:
        return
    kind, at = cell.advice.kind, lit[-1].reading
    now, to_come = truth.gained(cell.cell, at), truth.to_come(cell.cell, at)
    fell = max(truth.gained(cell.cell, change.reading) for change in lit) - now
    darker = now < -least or fell > least
    if kind is Kind.DARKER:
        yield ("told" if darker else "false"), f"darker {cell.cell}"
    elif now < -plain:
        yield "missed", f"darker {cell.cell}"
    elif kind is Kind.ENOUGH:
        yield ("told" if to_come < PLATEAU_DE00.value + PLATEAU_GREY_DE00 else "false"), f"enough {cell.cell}"
    elif kind is Kind.GO_ON:
        yield ("told" if to_come > PLATEAU_GREY_DE00 else "false"), f"go on {cell.cell}"
    elif abs(now) > plain:
        yield "open", f"plateau {cell.cell}"


def _compared(truth: Truth, said: Conclusions) -> Judged:
    of = said.comparison
    if of is None:
        return
    ends = {cell.cell: cell.end.reading for cell in said.cells}
    gain = {arm.name: sum(truth.gained(cell, ends[cell]) for cell in arm.cells) / len(arm.cells) for arm in said.arms}
    for each in (*of.against_control, *of.pairs, *of.reciprocity):
        true = gain[each.one] - gain[each.other]
        if each.found and (abs(true) < CHANGE_DE00[0] or true * each.difference < 0):
            yield "false", f"difference {each.one} / {each.other}"
        if each.equal and abs(true) > EQUAL_DE00.value + EQUAL_GREY_DE00:
            yield "false", f"equal {each.one} / {each.other}"


def _drifted(said: Conclusions) -> Judged:
    """Neither control nor swatch ever truly changes on the simulated sheet."""
    yield from (("false", f"drift {name}") for name in (said.drift.moved if said.drift else ()))


def _claims(said: Conclusions) -> Iterator[str]:
    """All by which a person would be told that something happened."""
    yield from (f"change {cell.cell}" for cell in said.cells if cell.changed)
    yield from (f"reversion {cell.cell}" for cell in said.cells if any(each.found for each in cell.reversions))
    yield from (f"ink {ink.cell}" for ink in said.inks if ink.real)
    if said.advice.kind is not Kind.UNCLEAR:
        yield f"advice {said.advice.kind}"
    if said.comparison:
        of = said.comparison
        yield from (f"together {each.bath}" for each in of.interactions if each.found)
        for contrast in (*of.against_control, *of.pairs, *of.reciprocity):
            if contrast.found:
                yield f"difference {contrast.one} / {contrast.other}"


def one(seed: int, size: tuple[int, int] = PHOTO_PX, fate: str = "") -> Verdict:
    """The whole trial of one seed."""
    scene = Scene.demo()
    moments = play(scene, seed, fate)
    return judge(scene, moments, look(scene, moments, seed, size), seed)


def table(verdicts: Iterable[Verdict]) -> str:
    """The figures in lines."""
    found = sorted(verdicts, key=lambda each: each.seed)
    lines = [f"{'fate':<12}{'seeds':>6}{'agree':>7}{'with false claims':>19}{'with misses':>13}{'left open':>11}"]
    for fate in ["", *dict.fromkeys(sorted(each.fate for each in found))]:
        of = [each for each in found if fate in ("", each.fate)]
        lines.append(
            f"{fate or 'all':<12}{len(of):>6}{_pct(sum(v.agrees for v in of), len(of)):>7}"
            f"{sum(bool(v.false) for v in of):>19}{sum(bool(v.missed) for v in of):>13}{sum(v.open for v in of):>11}"
        )
    fading = [what for v in found for what in (*v.told, *v.missed) if what.startswith("ink ")]
    missed = sum(what.startswith("ink ") for v in found for what in v.missed)
    lines.append(f"inks that plainly faded: {len(fading)}, found: {len(fading) - missed}")
    for sort in ("told", "false", "missed"):
        kinds = Counter(what.split(" ")[0] for v in found for what in getattr(v, sort))
        lines.append(f"{sort}: {', '.join(f'{kind} {count}' for kind, count in kinds.most_common()) or 'none'}")
    return "\n".join(lines)


def _pct(part: int, whole: int) -> str:
    return f"{100 * part / whole:.0f} %" if whole else "-"


def main() -> int:
    """Prints each seed as it is done, then the table; 0 if at least 95 % agree."""
    parser = argparse.ArgumentParser("python -m tests.bench.agreement", description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--seeds", type=int, default=100)
    parser.add_argument("--first", type=int, default=1, help="number of the first seed")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    verdicts = []
    with ProcessPoolExecutor(asked.jobs, get_context("spawn"), os.nice, (10,)) as pool:
        for done in as_completed([pool.submit(one, asked.first + n) for n in range(asked.seeds)]):
            verdicts.append(done.result())
            print(verdicts[-1], flush=True)  # noqa: T201
    print(table(verdicts))  # noqa: T201
    return 0 if 100 * sum(each.agrees for each in verdicts) >= GOAL_PCT * len(verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())
