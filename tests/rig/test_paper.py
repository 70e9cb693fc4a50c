"""The simulated paper keeps to the laws it claims."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.linalg import expm

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.domain.sheet import Cell, Ink, InkKind, Sheet, Treatment
from lampwarden.errors import ProgramError
from lampwarden.rig.paper import change
from lampwarden.rig.paper.design import draw, shipped_design
from lampwarden.rig.paper.sheet import PaperState, SimPaper, measured_part
from lampwarden.rig.paper.spectra import lab, r457_pct, to_ks

DRY = {"light": Treatment(light=True), "cover": Treatment(covered=True)}
WET = Treatment(light=True, chemical="hydrogen peroxide", strength_pct=3, wet_min=30)
BATH = Treatment(chemical="hydrogen peroxide", strength_pct=3, wet_min=30)
CHAMBER = Chamber(zones=(Zone(name="Zone 1", irradiance_w_m2=80.0), Zone(name="Zone 2", irradiance_w_m2=40.0)))
INKS = (Ink(name="black"), Ink(name="the rules", kind=InkKind.ORGANIC_RED_YELLOW), Ink(name="teal"))


def sheet(**treatments: Treatment) -> Sheet:
    cells = tuple(
        Cell(name=name, zone="Zone 1", x_mm=5.0 + 20 * n, y_mm=5, width_mm=14, height_mm=14, treatment=treatment)
        for n, (name, treatment) in enumerate(treatments.items())
    )
    return Sheet(id="trial", title="Trial", inks=INKS, cells=cells)


def lit(paper: SimPaper, hours: float, share: float = 1.0, air_temp_c: float = 21.8) -> SimPaper:
    """Under Zone 1. At 21.8 C in the air a sheet under 80 W/m2 has the design's reference temperature."""
    paper.step(hours * 3600, {"Zone 1": share}, air_temp_c)
    return paper


def without_reversion():
    design = shipped_design()
    still = design.reversion.model_copy(update={"share_light": 0.0, "share_peroxide": 0.0})
    return design.model_copy(update={"reversion": still})


def chromophores(paper: SimPaper, cell: str) -> float:
    """K/S at 450 nm above the pulp's, from the true spectrum."""
    return float((to_ks(paper.state().reflectance(cell)) - paper.design.pulp_ks())[5])


def test_white_is_white_and_half_grey_is_l_76() -> None:
    assert lab(np.ones(31)) == pytest.approx([100, 0, 0], abs=1e-9)
    # CIE 15:2018 eq. 8.3 with Y/Yn = 0.5 (computed).
    assert lab(np.full((2, 31), 0.5), "d65")[1] == pytest.approx([76.0693, 0, 0], abs=1e-3)
    assert r457_pct(np.full(31, 0.62)) == pytest.approx(62)


def test_coarse_spectra_hardly_change_the_colour() -> None:
    colour = pytest.importorskip("colour")
    paper = SimPaper(sheet(A=DRY["light"]), CHAMBER, 1).state().reflectance("A")
    spectrum = colour.SpectralDistribution(paper * 1.0, np.arange(400, 701, 10))
    fine = spectrum.copy().interpolate(colour.SpectralShape(400, 700, 1))
    lamp = colour.SDS_ILLUMINANTS["D50"]
    xyz = colour.sd_to_XYZ(fine.extrapolate(colour.SpectralShape(360, 780, 1)), illuminant=lamp, method="Integration")
    outside = colour.XYZ_to_Lab(xyz / 100, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    assert lab(paper) == pytest.approx(outside, abs=0.25)


@pytest.mark.parametrize("rate_s", [0.0, 1e-7, 3e-5, 1 / 86400])
@pytest.mark.parametrize("share", [0.0, 0.35, 1.0])
def test_pool_follows_its_equations(rate_s: float, share: float) -> None:
    return_s, dt_s = 1 / 86400, 40000.0
    start = np.array([0.3, 0.05])
    exact = expm(np.array([[-rate_s, return_s], [share * rate_s, -return_s]]) * dt_s) @ start
    arrays = [np.array([value]) for value in (*start, rate_s, return_s, share)]
    assert change.pool_after(*arrays, dt_s)[:, 0] == pytest.approx(exact, rel=1e-9)


def test_light_takes_chromophores_exponentially_to_a_plateau() -> None:
    paper = SimPaper(sheet(A=DRY["light"]), CHAMBER, 4, fate="brightens", design=without_reversion())
    first = chromophores(paper, "A")
    left = [first, *(chromophores(lit(paper, 2), "A") for _ in range(3))]
    # The sheet's own rate is drawn: equal doses take equal shares of what can be taken.
    plateau = first * (1 - paper.design.paper.share_light)
    ratios = [(after - plateau) / (before - plateau) for before, after in pairwise(left)]
    assert ratios == pytest.approx([ratios[0]] * 3, rel=1e-6)
    assert paper.dose_j_cm2 == pytest.approx([80.0 * 6 * 3600 / 1e4])
    assert chromophores(lit(paper, 2000), "A") == pytest.approx(plateau, rel=1e-6)


def test_reciprocity_mostly_holds() -> None:
    """Half the light for twice the time gives the same dose, and 2 % more effect on the way."""
    design = without_reversion()
    warm = design.light.model_copy(update={"heating_k_per_w_m2": 0.0})
    design = design.model_copy(update={"light": warm})
    fast = lit(SimPaper(sheet(A=DRY["light"]), CHAMBER, 4, fate="brightens", design=design), 2)
    slow = lit(SimPaper(sheet(A=DRY["light"]), CHAMBER, 4, fate="brightens", design=design), 4, 0.5)
    assert fast.dose_j_cm2 == pytest.approx(slow.dose_j_cm2)
    plateau = chromophores(lit(SimPaper(sheet(A=DRY["light"]), CHAMBER, 4, design=design), 5000), "A")
    first = chromophores(SimPaper(sheet(A=DRY["light"]), CHAMBER, 4, design=design), "A")
    rates = [-np.log((chromophores(paper, "A") - plateau) / (first - plateau)) for paper in (fast, slow)]
    assert rates[1] / rates[0] == pytest.approx(2**0.03, rel=1e-4)


def test_one_long_step_is_many_short_ones() -> None:
    long, short = (SimPaper(sheet(A=WET, B=BATH), CHAMBER, 5, fate="ink_fades") for _ in range(2))
    for paper, steps in ((long, 1), (short, 97)):
        paper.wet()
        for _ in range(steps):
            lit(paper, 3 / steps)
    for cell in "AB":
        for part in long.state().cells[cell]:
            expected = pytest.approx(long.state().reflectance(cell, part), rel=1e-9)
            assert short.state().reflectance(cell, part) == expected


def test_where_nothing_happens_nothing_changes_at_all() -> None:
    paper = SimPaper(sheet(A=DRY["light"], B=WET, C=BATH, D=DRY["cover"]), CHAMBER, 6, fate="nothing")
    before = paper.state()
    paper.wet()
    for _ in range(10):
        lit(paper, 0.7)
    paper.rest(90)
    after = paper.state()
    for cell, parts in before.cells.items():
        for part, spectrum in parts.items():
            assert np.array_equal(after.reflectance(cell, part), spectrum), (cell, part)
    assert np.array_equal(after.swatches, before.swatches)


def test_covered_cells_and_swatches_stay_on_every_sheet() -> None:
    for fate in shipped_design().fates:
        paper = SimPaper(sheet(A=DRY["light"], D=DRY["cover"]), CHAMBER, 6, fate=fate)
        before, after = paper.state(), lit(paper, 8).state()
        assert np.array_equal(after.reflectance("D"), before.reflectance("D"))
        assert np.array_equal(after.swatches, before.swatches)
        assert np.array_equal(after.reflectance("A"), before.reflectance("A")) == (fate == "nothing")


def test_light_and_peroxide_each_act_and_help_each_other() -> None:
    paper = SimPaper(sheet(A=DRY["light"], B=WET, C=BATH), CHAMBER, 7, fate="brightens")
    start = {cell: chromophores(paper, cell) for cell in "ABC"}
    paper.wet()
    lit(paper, 2)
    light, both, bath = (1 - chromophores(paper, cell) / start[cell] for cell in "ABC")
    assert min(light, bath) > 0.04
    assert both > light + bath


def test_a_wet_cell_is_darker_until_it_has_dried() -> None:
    paper = SimPaper(sheet(C=BATH), CHAMBER, 7, fate="nothing")
    dry = paper.state()
    paper.wet("C")
    assert paper.state().lab_d50("C")[0] < dry.lab_d50("C")[0] - 1
    paper.step(30 * 60, {}, 22)
    assert paper.state().lab_d50("C")[0] < dry.lab_d50("C")[0] - 1
    paper.step(20 * 60, {}, 22)
    assert paper.state().lab_d50("C") == dry.lab_d50("C")


def test_an_ink_that_fades_does_so_and_black_does_not() -> None:
    paper = SimPaper(sheet(A=DRY["light"]), CHAMBER, 8, fate="ink_fades")
    before, after = paper.state(), lit(paper, 8).state()

    def chroma(state: PaperState, part: str) -> float:
        return float(np.hypot(*state.lab_d50("A", part)[1:]))

    assert chroma(after, "the rules") < chroma(before, "the rules") - 3
    assert np.linalg.norm(np.subtract(after.lab_d50("A", "black"), before.lab_d50("A", "black"))) < 1


def test_a_sheet_that_darkens_does_so() -> None:
    paper = SimPaper(sheet(A=DRY["light"]), CHAMBER, 9, fate="darkens")
    before = paper.state()
    assert lit(paper, 8).state().r457_pct("A") < before.r457_pct("A") - 2


def test_part_of_the_gain_is_lost_in_the_dark() -> None:
    paper = SimPaper(sheet(A=DRY["light"]), CHAMBER, 10, fate="brightens")
    first = chromophores(paper, "A")
    best = chromophores(lit(paper, 8), "A")
    lost = []
    for days in (12.0, 200.0):
        paper.rest(days)
        lost.append((chromophores(paper, "A") - best) / (first - best))
    reversion = paper.design.reversion
    assert lost[0] == pytest.approx(reversion.share_light * (1 - np.exp(-1)), rel=0.03)
    assert lost[1] == pytest.approx(reversion.share_light, rel=0.03)


def test_it_steps_along_with_the_light_of_the_simulated_lamps(desk) -> None:
    made = desk()
    chamber = made.world.chamber
    paper = SimPaper(sheet(A=DRY["light"], D=DRY["cover"]), chamber, 11, fate="brightens")
    paper.follow(made.world)
    before = paper.state()
    made.wait(6)
    made.arm()
    made.light(300)
    made.light(120, level=400)
    made.wait(90)
    true_j_cm2 = made.truth.lit_s(0) * chamber.zones[0].irradiance_w_m2 / 1e4
    assert true_j_cm2 > 3
    assert paper.dose_j_cm2 == pytest.approx([true_j_cm2, 0])
    assert paper.state().r457_pct("A") > before.r457_pct("A")


def test_every_fate_is_drawn_about_as_often_as_it_should() -> None:
    design = shipped_design()
    drawn = [draw(design, seed, 1, 1).fate for seed in range(600)]
    weights = {name: fate.weight for name, fate in design.fates.items()}
    for name, weight in weights.items():
        # 600 draws: 4 standard deviations are at most 0.082.
        assert drawn.count(name) / 600 == pytest.approx(weight / sum(weights.values()), abs=0.082)


def test_a_state_survives_being_written() -> None:
    state = lit(SimPaper(sheet(A=WET), CHAMBER, 12), 1).state()
    back = PaperState.from_json(state.to_json())
    assert back.to_json() == state.to_json()
    assert back.lab_d50("A", "teal") == state.lab_d50("A", "teal")
    for wrong in ("", "{}", "[]", state.to_json().replace("0.", "7.")):
        with pytest.raises(ProgramError, match=r"here\.json: no state"):
            PaperState.from_json(wrong, "here.json")


def test_an_ink_watch_cell_is_about_its_ink() -> None:
    cells = (
        Cell(name="V", zone="Zone 1", x_mm=5, y_mm=5, width_mm=14, height_mm=14, role="ink watch", ink="teal"),
        Cell(name="A", zone="Zone 1", x_mm=40, y_mm=5, width_mm=14, height_mm=14),
    )
    watched = Sheet(id="trial", title="Trial", inks=INKS, cells=cells)
    assert (measured_part(watched, "V"), measured_part(watched, "A")) == ("teal", "paper")
