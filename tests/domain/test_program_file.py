"""Program files: what is written comes back equal, and each mistake names its line, its key and what to do."""

import contextlib
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampwarden.domain.program import (
    Checkpoint,
    Exposure,
    Limits,
    Program,
    Rehearsal,
    Rules,
    ZonePlan,
)
from lampwarden.domain.program_file import parse, render
from lampwarden.errors import ProgramError

# --- round trip -------------------------------------------------------------------------------------------------------

# TOML is UTF-8 text: all but surrogates, which no file can hold.
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
names = st.text(st.characters(exclude_categories=["Cs", "Z", "C"]), min_size=1, max_size=20)
moments = st.floats(0, 6e5)


def between(low, high):
    return st.floats(low, high)


@st.composite
def exposures(draw):
    times = sorted(draw(st.sets(moments, max_size=6)))
    found = []
    for start_s, end_s in zip(times[::2], times[1::2], strict=False):
        end = {"end": end_s} if draw(st.booleans()) else {"dose_j_cm2": draw(between(1e-6, 1e5))}
        found.append(Exposure(start=start_s, level=draw(between(0.001, 1)), **end))
    return tuple(found)


@st.composite
def programs(draw):
    zones = tuple(
        ZonePlan(zone=name, exposures=draw(exposures()))
        for name in draw(st.lists(names, min_size=1, max_size=8, unique=True))
    )
    if not any(plan.exposures for plan in zones):
        zones = (ZonePlan(zone=zones[0].zone, exposures=(Exposure(end=1),)), *zones[1:])
    looks = draw(st.dictionaries(moments, names, max_size=4))
    looks = {name: at_s for at_s, name in looks.items()}
    checkpoints = [
        Checkpoint(name=name, at=at_s, attended=draw(st.booleans()), look_at=draw(texts), pause=draw(between(5, 3600)))
        for name, at_s in sorted(looks.items(), key=lambda look: look[1])
    ]
    air_c, bank_c = draw(between(0, 60)), draw(between(0, 60))
    return Program(
        title=draw(names),
        notes=draw(texts),
        zones=zones,
        checkpoints=checkpoints,
        limits=Limits(
            air_soft_c=air_c,
            air_hard_c=air_c + 2,
            bank_soft_c=bank_c,
            bank_hard_c=bank_c + 1.5,
            hysteresis_c=draw(between(0.5, 30)),
            handling_c=draw(between(0, 60)),
        ),
        rules=Rules(
            coolings_per_hour_max=draw(st.integers(0, 60)),
            after_restart=draw(st.sampled_from(["ask", "continue"])),
            gap_max=draw(between(0, 86400)),
            unanswered=draw(st.sampled_from(["wait", "continue"])),
            answer_within=draw(between(60, 6e5)),
        ),
        rehearsal=Rehearsal(fan_stops=draw(st.none() | moments), ambient_c=draw(between(0, 40))),
        inspection_level=draw(between(0, 1)),
    )


@settings(deadline=None, max_examples=100)
@given(programs())
def test_what_is_rendered_parses_back_equal(program):
    assert parse(render(program)) == program


def test_the_shipped_programs_come_back_equal():
    shipped = [f for f in (files("lampwarden.rig") / "scenario").iterdir() if f.name.endswith(".toml")]
    others = ("chamber.toml", "sheet.toml")
    programs = [parse(f.read_text(encoding="utf-8"), f.name) for f in shipped if f.name not in others]
    assert len(programs) >= 2
    for program in programs:
        assert parse(render(program)) == program


def test_times_may_be_text_and_keys_may_carry_their_unit():
    short = parse('title = "T"\n[[zones]]\nzone = "A"\nexposures = [{ start = "1 min", end = "1 h 30 min" }]\n')
    long = parse('title = "T"\n[[zones]]\nzone = "A"\n[[zones.exposures]]\nstart_s = 60\nend_s = 5400.0\n')
    assert short == long


# --- mistakes ---------------------------------------------------------------------------------------------------------

GOOD = """\
title = "Trial"  # line 1
inspection_level = 0.2

[[zones]]  # line 4
zone = "A"
exposures = [
  { start = 0, end = "1 h" },  # line 7
  { start = "2 h", end = "3 h", level = 0.5 },
]

[[zones]]  # line 11
zone = "B"
[[zones.exposures]]
start = 0
dose_j_cm2 = 5.0
[[zones.exposures]]  # line 16
start = "4 h"
level = 0.8
end = "5 h"

[[checkpoints]]  # line 21
name = "one"
at = 60
[[checkpoints]]
name = "two"  # line 25
at = 120

[limits]  # line 28
air_soft_c = 30
[rules]
unanswered = "wait"  # line 31
"""

MISTAKES = [
    # what is written, what is written instead, where the message says it is, what it says
    (
        "start = 0, end",
        "start = -1, end",
        "line 7, zones[1].exposures[1].start",
        "this should be greater than or equal to 0, not -1.",
    ),
    (
        "level = 0.5",
        "level = 2",
        "line 8, zones[1].exposures[2].level",
        "this should be less than or equal to 1, not 2.",
    ),
    (
        "level = 0.8",
        "level = 0",
        "line 18, zones[2].exposures[2].level",
        "this should be greater than or equal to 0.001, not 0.",
    ),
    (
        "level = 0.8",
        "levle = 1",
        "line 18, zones[2].exposures[2].levle",
        "this key is not known here; check its spelling or remove it.",
    ),
    (
        '"3 h"',
        '"3 hours"',
        "line 8, zones[1].exposures[2].end",
        "'3 hours' is no duration; write it like '45 s', '15 min', '8 h' or '1 h 30 min'.",
    ),
    (
        '"3 h"',
        "03:00:00",
        "line 8, zones[1].exposures[2].end",
        "03:00:00 is no duration; write seconds, or text like '45 s', '15 min', '8 h' or '1 h 30 min'.",
    ),
    (
        '"3 h"',
        '"8 d"',
        "line 8, zones[1].exposures[2].end",
        "this should be less than or equal to 604800, not '8 d'.",
    ),
    (
        '"3 h"',
        '"1 h"',
        "line 8, zones[1].exposures[2]",
        "the exposure ends at 3600 s, not after its start at 7200 s.",
    ),
    (
        '"3 h"',
        '"3 h", dose_j_cm2 = 1',
        "line 8, zones[1].exposures[2]",
        "an exposure needs either 'end' or 'dose_j_cm2', and not both.",
    ),
    (
        "dose_j_cm2 = 5.0\n",
        "\n",
        "line 13, zones[2].exposures[1]",
        "an exposure needs either 'end' or 'dose_j_cm2', and not both.",
    ),
    (
        "dose_j_cm2 = 5.0",
        "dose_j_cm2 = nan",
        "line 15, zones[2].exposures[1].dose_j_cm2",
        "this should be less than or equal to 100000, not nan.",
    ),
    (
        'start = "2 h"',
        'start = "30 min"',
        "line 4, zones[1]",
        (
            "zone 'A': the exposure starting at 1800 s begins before the one starting at 0 s has ended; order them "
            "and leave no overlap."
        ),
    ),
    (
        'start = "4 h"',
        "start = 0",
        "line 11, zones[2]",
        "zone 'B': two exposures start at 0 s; start the second after the first.",
    ),
    (
        'zone = "B"\n',
        "",
        "line 11, zones[2].zone",
        "this key is missing; add it.",
    ),
    (
        'zone = "B"',
        "zone = 2",
        "line 12, zones[2].zone",
        "this should be text; put it in quotes.",
    ),
    (
        'zone = "B"',
        'zone = " B"',
        "line 12, zones[2].zone",
        "this has a space at an end, or a sign that does not belong here; leave it out.",
    ),
    (
        'zone = "B"',
        'zone = "A"',
        "line 12",
        "zone 'A' is planned twice; put all its exposures in one [[zones]] table.",
    ),
    (
        'title = "Trial"',
        "",
        "title",
        "this key is missing; add it.",
    ),
    (
        "inspection_level",
        "inspection_levels",
        "line 2, inspection_levels",
        "this key is not known here; check its spelling or remove it.",
    ),
    (
        'name = "two"',
        'name = "one"',
        "line 25",
        "two checkpoints are called 'one'; give each its own name.",
    ),
    (
        "at = 120",
        "at = 60",
        "line 25",
        "checkpoint 'two' does not come after the one before it; order them by time.",
    ),
    (
        "at = 120",
        "when = 60",
        "line 24, checkpoints[2].at",
        (
            "this key is missing; add it.\nplan.toml, line 26, checkpoints[2].when: this key is not known here; check "
            "its spelling or remove it."
        ),
    ),
    (
        "air_soft_c = 30",
        "air_soft_c = 39.5",
        "line 28, limits",
        (
            "air_soft_c (39.5 °C) must be at least 1 °C below air_hard_c (40 °C), or the pause to cool could never "
            "come before the cutoff."
        ),
    ),
    (
        "[limits]",
        "[limit]",
        "line 28, limit",
        "this key is not known here; check its spelling or remove it.",
    ),
    (
        '"wait"',
        '"maybe"',
        "line 31, rules.unanswered",
        "this should be 'wait' or 'continue', not 'maybe'.",
    ),
    (
        "[[checkpoints]]",
        "[[checkpoint]]",
        "line 21, checkpoint",
        "this key is not known here; check its spelling or remove it.",
    ),
]


def test_the_file_without_a_mistake():
    assert [len(plan.exposures) for plan in parse(GOOD).zones] == [2, 2]


@pytest.mark.parametrize(("written", "instead", "where", "what"), MISTAKES)
def test_each_mistake_names_line_key_and_remedy(written, instead, where, what):
    assert written in GOOD
    with pytest.raises(ProgramError) as mistake:
        parse(GOOD.replace(written, instead), "plan.toml")
    assert str(mistake.value) == f"plan.toml, {where}: {what}"


def test_all_mistakes_are_told_at_once():
    text = GOOD.replace("level = 0.5", "level = 2").replace('"wait"', '"maybe"').replace("at = 60\n", "at = -1\n")
    with pytest.raises(ProgramError) as mistake:
        parse(text, "plan.toml")
    assert [line.split(",")[1] for line in str(mistake.value).splitlines()] == [" line 8", " line 23", " line 31"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('title = "T\n', "line 1"),
        ("title = T\n", "line 1"),
        ('title = "T"\ntitle = "T"\n', "line 2"),
        ("[[zones]\n", "line 1"),
    ],
)
def test_what_is_no_toml(text, said):
    with pytest.raises(ProgramError, match=r"not valid TOML: .* Check quotes, brackets and '=' there\.") as mistake:
        parse(text, "plan.toml")
    assert said in str(mistake.value)


@pytest.mark.parametrize(
    "text", ["", 'title = "T"\n', 'title = "T"\nzones = []\n', 'title = "T"\n[zones]\nzone = "A"\n']
)
def test_a_program_without_zones(text):
    with pytest.raises(ProgramError, match="zones"):
        parse(text)


def test_a_program_without_light():
    with pytest.raises(ProgramError, match="no zone has an exposure; give at least one zone light"):
        parse('title = "T"\n[[zones]]\nzone = "A"\n')


@given(st.text(max_size=200))
def test_any_text_is_a_program_or_a_program_error(text):
    with contextlib.suppress(ProgramError):
        parse(text)
