"""Exposures for target doses."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.program import Program
from lampwarden.errors import ProgramError
from lampwarden.trial.ladder import Scheme, Target, geometric_doses, reciprocity, zone_plans

LADDER = [Target("A1", 60), Target("A2", 120), Target("A3", 240), Target("B3", 0)]


def span(chamber, plan):
    irradiance = chamber.zones[chamber.zone_index(plan.zone)].irradiance_w_m2
    return plan.exposures[0].start_s, plan.exposures[0].planned_end_s(irradiance)


def doses(chamber, plans):
    return dict(
        zip((z.name for z in chamber.zones), Program(title="t", zones=plans).planned_dose_j_cm2(chamber), strict=True)
    )


def test_start_together(chamber):
    plans = zone_plans(chamber, LADDER, Scheme.START_TOGETHER)
    assert [p.exposures[0].start_s for p in plans[:3]] == [0, 0, 0]
    assert plans[3].exposures == ()
    given = doses(chamber, plans)
    assert [given[t.zone] for t in LADDER] == pytest.approx([60, 120, 240, 0])


def test_end_together(chamber):
    plans = zone_plans(chamber, LADDER, Scheme.END_TOGETHER)
    ends = [span(chamber, p)[1] for p in plans[:3]]
    assert max(ends) - min(ends) <= 1.0
    assert min(p.exposures[0].start_s for p in plans[:3]) == 0
    assert Program(title="t", zones=plans).fits(chamber) == []


def test_equal_irradiance_over_unequal_zones(chamber):
    plans = zone_plans(chamber, [Target("A1", 60, 40), Target("A2", 60, 40)], Scheme.START_TOGETHER)
    levels = [p.exposures[0].level for p in plans]
    assert levels == [round(40 / 84, 3), round(40 / 88, 3)]
    (_, one), (_, other) = (span(chamber, p) for p in plans)
    assert one == pytest.approx(other, rel=0.003)


def test_reciprocity_gives_equal_dose_at_two_levels(chamber):
    targets = reciprocity(["A1", "A2", "A3", "B1"], 100, 60)
    assert [t.irradiance_w_m2 for t in targets] == [60, 30, 60, 30]
    plans = zone_plans(chamber, targets, Scheme.END_TOGETHER)
    given = doses(chamber, plans)
    assert [given[t.zone] for t in targets] == pytest.approx([100] * 4)
    lasts = [b - a for a, b in (span(chamber, p) for p in plans)]
    assert lasts[1] / lasts[0] == pytest.approx(2, rel=0.01)
    with pytest.raises(ProgramError, match="two zones or more"):
        reciprocity(["A1"], 100, 60)


def draws(chamber, plans, lamp_w):
    """Highest power lit at once, W, looked at just after every start."""
    spans = [(*span(chamber, p), lamp_w[p.zone] * p.exposures[0].level) for p in plans if p.exposures]
    return max(sum(w for s, e, w in spans if s <= start < e) for start, _, _ in spans)


@settings(max_examples=60)
@given(st.lists(st.floats(1, 500), min_size=2, max_size=8), st.data())
def test_in_turn_never_draws_more_than_allowed(wanted, data):
    zones = tuple(Zone(name=f"Z{i}", irradiance_w_m2=80 + i) for i in range(len(wanted)))
    chamber = Chamber(zones=zones)
    lamp_w = {zone.name: 4.0 + i for i, zone in enumerate(zones)}
    power_w = data.draw(st.floats(max(lamp_w.values()), sum(lamp_w.values())))
    targets = [Target(zone.name, dose) for zone, dose in zip(zones, wanted, strict=True)]
    plans = zone_plans(chamber, targets, Scheme.IN_TURN, lamp_w=lamp_w, power_w_max=power_w)
    assert draws(chamber, plans, lamp_w) <= power_w + 1e-6
    assert list(doses(chamber, plans).values()) == pytest.approx(wanted)
    # Never longer than one after the other.
    assert max(span(chamber, p)[1] for p in plans) <= sum(b - a + 61 for a, b in (span(chamber, p) for p in plans))


def test_in_turn_lights_together_what_the_power_allows(chamber):
    lamp_w = {zone.name: 5.0 for zone in chamber.zones}
    plans = zone_plans(chamber, LADDER, Scheme.IN_TURN, lamp_w=lamp_w, power_w_max=10)
    starts = {p.zone: p.exposures[0].start_s for p in plans if p.exposures}
    assert starts["A3"] == starts["A2"] == 0  # the two longest
    assert starts["A1"] > span(chamber, plans[1])[1]  # the third follows with a gap


def test_a_lower_level_draws_less(chamber):
    lamp_w = {zone.name: 5.0 for zone in chamber.zones}
    targets = [Target("A1", 60, 42), Target("A2", 60, 44)]
    plans = zone_plans(chamber, targets, Scheme.START_TOGETHER, lamp_w=lamp_w, power_w_max=5.0)
    assert draws(chamber, plans, lamp_w) == pytest.approx(5.0)


LAMPS = dict.fromkeys(("A1", "A2", "A3", "B1", "B2", "B3"), 5.0)


@pytest.mark.parametrize(
    ("targets", "scheme", "power", "words"),
    [
        ([Target("C9", 60)], Scheme.START_TOGETHER, {}, "no zone 'C9'"),
        ([Target("A1", 60), Target("A1", 30)], Scheme.START_TOGETHER, {}, "two targets"),
        ([Target("A1", 0)], Scheme.START_TOGETHER, {}, "No zone gets any light"),
        ([Target("A1", -1)], Scheme.START_TOGETHER, {}, "outside 0 to 100,000"),
        ([Target("A1", float("nan"))], Scheme.START_TOGETHER, {}, "outside 0 to 100,000"),
        ([Target("A1", 60, 100)], Scheme.START_TOGETHER, {}, "gives up to 84 W/m², not 100"),
        ([Target("A1", 60, 0.01)], Scheme.START_TOGETHER, {}, "gives up to 84 W/m²"),
        ([Target("A1", 6000)], Scheme.START_TOGETHER, {}, "programs end within 168 h"),
        (LADDER, Scheme.IN_TURN, {}, "highest power that may be lit"),
        (LADDER, Scheme.IN_TURN, {"power_w_max": 9.0}, "needs the power of each zone"),
        (LADDER, Scheme.IN_TURN, {"power_w_max": 4.0, "lamp_w": LAMPS}, "alone draws 5.0 W"),
        (LADDER, Scheme.IN_TURN, {"power_w_max": 9.0, "lamp_w": {"A1": 5.0}}, "power of zone 'A2' is not given"),
        (LADDER, Scheme.END_TOGETHER, {"power_w_max": 9.0, "lamp_w": LAMPS}, "draw 15 W, more than 9 W"),
    ],
)
def test_targets_that_do_not_fit_are_refused(chamber, targets, scheme, power, words):
    with pytest.raises(ProgramError, match=words):
        zone_plans(chamber, targets, scheme, **power)


def test_the_lowest_levels_are_whole_steps(chamber):
    assert zone_plans(chamber, [Target("A1", 6, 0.5)], Scheme.START_TOGETHER)[0].exposures[0].level == 0.006


def test_geometric_doses():
    assert geometric_doses(30, 240, 4) == (30, 60, 120, 240)
    assert geometric_doses(10, 100, 2) == (10, 100)
    for wrong in ((0, 10, 3), (10, 10, 3), (10, 5, 3), (1, 10, 1)):
        with pytest.raises(ProgramError, match="A ladder from"):
            geometric_doses(*wrong)
