"""What the page Sheets says, and what its edits do to a sheet."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from lampwarden.domain.chamber import Chamber
from lampwarden.domain.program_file import parse_as, render
from lampwarden.domain.sheet import Cell, Ink, InkKind, PaperKind, Sheet, Treatment
from lampwarden.errors import ProgramError
from lampwarden.planning.place import Arm, changed, draw
from lampwarden.rehearsal import SCENARIOS, demo_chamber
from lampwarden.web import sheets_view as view
from lampwarden.web.pages.sheets import edits
from lampwarden.web.pages.sheets.draft import STEPS_MAX, Draft
from lampwarden.web.pages.sheets.edits import Box
from lampwarden.web.typed import number, whole
from lampwarden.web.wording import Taste

CHAMBER = demo_chamber()
BLANK = Sheet(id="try", title="Try", width_mm=240, height_mm=160)
SCENARIO = parse_as(Sheet, (SCENARIOS / "sheet.toml").read_text(encoding="utf-8"), "sheet.toml")


def six() -> Sheet:
    return edits.one_to_a_zone(BLANK, CHAMBER)


def test_every_kind_of_paper_and_ink_is_explained() -> None:
    assert set(view.PAPERS) == set(PaperKind)
    assert set(view.INKS) == set(InkKind)


@pytest.mark.parametrize(
    ("treatment", "words", "short"),
    [
        (Treatment(), "untreated", "untreated"),
        (Treatment(light=True), "light", "light"),
        (Treatment(covered=True), "covered control", "covered"),
        (
            Treatment(light=True, chemical="hydrogen peroxide", strength_pct=3, wet_min=30),
            "light and hydrogen peroxide 3 %, 30 min",
            "light + 3 %",
        ),
        (Treatment(wet_min=10), "dark, in plain water for 10 min", "dark + water"),
        (Treatment(light=True, wet_min=10), "light, in plain water for 10 min", "light + water"),
    ],
)
def test_treatments_in_words(treatment: Treatment, words: str, short: str) -> None:
    assert (view.treatment_words(treatment), view.short_treatment(treatment)) == (words, short)


def test_a_row_of_the_list() -> None:
    row = view.row(SCENARIO, 3, "2031-03-03T08:00:00.000Z", datetime(2031, 3, 3, 12, tzinfo=UTC), Taste())
    assert (row.about, row.cells, row.saved) == ("Test piece, groundwood, 240 × 160 mm", "7 cells", "version 3, 08:00")


def test_peroxide_speaks_above_three_per_cent() -> None:
    assert view.bath_cautions("hydrogen peroxide", 3.0) == ()
    assert view.bath_cautions("calcium hydroxide", 9.0) == ()
    assert view.bath_cautions("", None) == ()
    (first, *_) = view.bath_cautions("H2O2", 3.5)
    assert "stronger than paper needs" in first
    assert not any("confirm" in text for text in view.bath_cautions("hydrogen peroxide", 7.9))
    assert any("must confirm" in text for text in view.bath_cautions("hydrogen peroxide", 8))


def test_missing_controls_vanish_when_they_are_there() -> None:
    sheet = six()
    assert view.missing(sheet) == ()
    assert view.missing_words(sheet, ()) == "No cell has a treatment yet."
    lit = edits.with_cell(sheet, "A1", treatment=Treatment(light=True))
    assert any("No covered control" in said.text for said in view.missing(lit))
    covered = edits.with_cell(lit, "B3", treatment=Treatment(covered=True))
    assert not any("No covered control" in said.text for said in view.missing(covered))
    assert all(said.source for said in view.missing(covered))


def test_originals_and_consent_have_their_cautions() -> None:
    assert len(view.original_caution(changed(BLANK, original=True, consent=False))) == 2
    assert view.original_caution(changed(BLANK, original=False, consent=True)) == ()


def test_advice_is_grouped_by_weight() -> None:
    groups = dict(view.advice(SCENARIO, CHAMBER))
    assert list(groups) == ["To be confirmed before a start", "Mind", "Good to know"]
    assert any("yellow again" in said.text for said in groups["To be confirmed before a start"])


def test_the_mask_says_where_it_fits_and_why_not() -> None:
    assert not view.mask_view(BLANK).papers
    assert next(iter(view.mask_view(six()).papers)) == "a4"
    close = edits.put(six(), CHAMBER, "A2", Box(78, 31, 36, 36))
    shown = view.mask_view(close)
    assert not shown.papers
    assert any("2 mm apart" in sentence for sentence in shown.wrong)
    huge = changed(BLANK, width_mm=900, height_mm=900)
    spread = edits.add(edits.add(huge, CHAMBER, Box(0, 0, 40, 40))[0], CHAMBER, Box(860, 860, 40, 40))[0]
    wrong = " ".join(view.mask_view(spread).wrong)
    assert "paper of" in wrong
    assert "--" not in wrong


def test_the_drawing_is_true_to_the_sheet() -> None:
    sheet = six()
    shown = view.board(sheet, edits.places(CHAMBER, sheet), ["A2"], "", drawing=False, seq=4)
    assert (shown["width"], shown["height"], shown["seq"]) == (240, 160, 4)
    assert [zone["name"] for zone in shown["zones"]] == ["A1", "A2", "A3", "B1", "B2", "B3"]
    assert [cell["name"] for cell in shown["cells"] if cell["chosen"]] == ["A2"]
    for cell, zone in zip(shown["cells"], shown["zones"], strict=True):
        assert zone["x"] <= cell["x"]
        assert cell["x"] + cell["width"] <= zone["x"] + zone["width"]


@pytest.mark.parametrize(
    ("treatments", "how", "says", "fits"),
    [
        (1, "one", "at least two", False),
        (3, "one", "6 cells, 3 treatments: each comes 2 times", True),
        (6, "one", "each comes once", True),
        (4, "one", "cannot be shared evenly among 4", False),
        (3, "rows", "2 rows of 3 cells: each treatment comes once in every row", True),
        (2, "columns", "3 columns of 2 cells", True),
        (3, "columns", "Each column needs 3 cells, one for each treatment; column 1 has 2", False),
        (3, "square", "needs 3 rows; there are 2", False),
    ],
)
def test_whether_a_lot_can_be_drawn(treatments: int, how: str, says: str, fits: bool) -> None:
    words, can = view.lot(six(), treatments, how)
    assert says in words
    assert can is fits
    arms = [Arm(f"bath {n}", Treatment(chemical="x", strength_pct=n + 1)) for n in range(treatments)]
    if fits:  # what is said to be possible is possible
        assert len(draw(six(), arms, 1, "one" if how == "square" else how, square=how == "square").arms) == 6
    else:
        with pytest.raises(ProgramError):
            draw(six(), arms, 1, "one" if how == "square" else how, square=how == "square")


def test_words_about_the_zones() -> None:
    plain = CHAMBER.model_copy(update={"zones": tuple(z.model_copy(update={"place": None}) for z in CHAMBER.zones)})
    assert "middle of the zones" in view.zones_words(CHAMBER, edits.places(CHAMBER, BLANK))
    assert "only sketched" in view.zones_words(plain, edits.places(plain, BLANK))
    small = changed(BLANK, width_mm=100, height_mm=100)
    assert edits.places(CHAMBER, small) == {}
    assert "wider than this sheet" in view.zones_words(CHAMBER, {})


# --- edits ------------------------------------------------------------------------------------------------------------


def test_one_cell_to_each_zone_that_has_none() -> None:
    first, _ = edits.add(BLANK, CHAMBER, Box(40, 31, 36, 36))
    full = edits.one_to_a_zone(first, CHAMBER)
    assert [(cell.name, cell.zone) for cell in full.cells] == [(n, n) for n in ("A1", "A2", "A3", "B1", "B2", "B3")]
    assert all(value == int(value) for cell in full.cells for value in (cell.x_mm, cell.y_mm, cell.width_mm))
    with pytest.raises(ProgramError, match="Every zone"):
        edits.one_to_a_zone(full, CHAMBER)


def test_a_moved_cell_takes_the_zone_under_it() -> None:
    sheet, name = edits.add(BLANK, CHAMBER, Box(40, 31, 20, 20))
    assert (name, sheet.cells[0].zone) == ("A1", "A1")
    moved = edits.put(sheet, CHAMBER, "A1", Box(165, 95, 20, 20))
    assert moved.cells[0].zone == "B3"
    off = edits.put(moved, CHAMBER, "A1", Box(0, 0, 20, 20))
    assert off.cells[0].zone == "B3"
    assert "out of zone B3's light" in view.off_light(off.cells[0], edits.places(CHAMBER, off))
    assert view.off_light(moved.cells[0], edits.places(CHAMBER, moved)) == ""


@pytest.mark.parametrize(
    ("box", "why"),
    [
        (Box(110, 40, 36, 36), "overlap"),
        (Box(-1, 40, 36, 36), "left of"),
        (Box(220, 40, 36, 36), "right edge"),
        (Box(40, 140, 36, 36), "lower edge"),
        (Box(40, 40, 4, 36), "at least 5 mm"),
    ],
)
def test_impossible_places_are_refused_with_a_sentence(box: Box, why: str) -> None:
    with pytest.raises(ProgramError, match=why):
        edits.put(six(), CHAMBER, "A1", box)


def test_names_of_cells() -> None:
    sheet = six()
    with pytest.raises(ProgramError, match="already"):
        edits.rename(sheet, "A1", "A2")
    with pytest.raises(ProgramError, match="letter"):
        edits.rename(sheet, "A1", "1st")
    assert edits.rename(sheet, "A1", "left").cells[0].name == "left"
    assert edits.free_name(sheet, "A1") == "A1-2"
    assert edits.free_name(sheet, "the long one") == "C-1"


def test_a_copy_goes_to_a_free_place() -> None:
    sheet, name = edits.add(BLANK, CHAMBER, Box(40, 31, 30, 20))
    sheet = edits.with_cell(sheet, name, treatment=Treatment(light=True))
    copied, new = edits.copy_cell(sheet, CHAMBER, name)
    one, two = copied.cells
    assert (two.name, two.treatment, two.replicate) == (new, one.treatment, 2)
    assert (two.width_mm, two.height_mm) == (30, 20)
    assert not one.overlaps(two)
    full = changed(BLANK, width_mm=50, height_mm=50)
    full, name = edits.add(full, CHAMBER, Box(5, 5, 40, 40))
    with pytest.raises(ProgramError, match="no free place"):
        edits.copy_cell(full, CHAMBER, name)


def test_a_file_of_a_sheet_reads_back() -> None:
    sheet = changed(SCENARIO, photo="0" * 64, layout_seed=7, inks=(*SCENARIO.inks, Ink(name="stamp", fugitive=True)))
    assert parse_as(Sheet, render(sheet), "x") == sheet


def test_short_names_of_titles() -> None:
    assert edits.slug("Harbour Line, 1912", []) == "harbour-line-1912"
    assert edits.slug("Harbour Line, 1912", ["harbour-line-1912"]) == "harbour-line-1912-2"
    assert edits.slug("Ærø 💡", ["r"]) == "r-2"
    assert edits.slug("💡", []) == "sheet"
    assert len(edits.slug("x" * 80, ["x" * 28])) <= 32
    assert edits.copy_title("y" * 40) == "y" * 34 + ", copy"


# --- draft ------------------------------------------------------------------------------------------------------------


def titled(title: str) -> Sheet:
    return changed(BLANK, title=title)


def test_undo_and_redo() -> None:
    draft = Draft(BLANK, 1)
    draft.change(titled("a"))
    draft.change(titled("b"))
    draft.undo()
    assert (draft.sheet.title, draft.can_undo, draft.can_redo) == ("a", True, True)
    draft.redo()
    assert draft.sheet.title == "b"
    draft.undo()
    draft.undo()
    draft.undo()
    assert (draft.sheet, draft.dirty, draft.can_undo) == (BLANK, False, False)
    draft.redo()
    draft.change(titled("c"))
    assert not draft.can_redo


def test_one_drag_is_one_step() -> None:
    draft = Draft(BLANK, 1)
    for title in "abc":
        draft.change(titled(title), strand="keys 1")
    draft.change(titled("d"), strand="keys 2")
    draft.undo()
    assert draft.sheet.title == "c"
    draft.undo()
    assert draft.sheet == BLANK
    for title in "ab":
        draft.change(titled(title), strand="keys 2")
    draft.undo()
    assert draft.sheet == BLANK


def test_saving_keeps_the_way_back() -> None:
    draft = Draft(BLANK, 1)
    draft.change(titled("a"))
    draft.kept(2, draft.sheet)
    assert (draft.dirty, draft.revision) == (False, 2)
    draft.undo()
    assert draft.dirty
    draft.change(draft.sheet)
    assert draft.can_redo


def test_steps_are_bounded() -> None:
    draft = Draft(BLANK, 1)
    for step in range(STEPS_MAX + 20):
        draft.change(titled(f"step {step}"))
    for _ in range(STEPS_MAX + 20):
        draft.undo()
    assert draft.sheet.title == "step 19"


# --- numbers ----------------------------------------------------------------------------------------------------------


def test_numbers_as_people_type_them() -> None:
    assert number(" 12,5 mm", "width", 10, 20) == 12.5
    with pytest.raises(ProgramError, match=r"width can be 10 to 20 mm, not 5\."):
        number("5", "width", 10, 20)
    for text in ("", "wide", "nan", "1e999"):
        with pytest.raises(ProgramError, match="width"):
            number(text, "width", 10, 20)
    assert whole("7", "seed", 0, 9) == 7
    with pytest.raises(ProgramError, match="whole number"):
        whole("7.5", "seed", 0, 9)


def test_a_stray_zone_is_no_place() -> None:
    """A cell of another chamber's zone has no light to reach out of."""
    cell = Cell(name="X", zone="elsewhere", x_mm=0, y_mm=0, width_mm=10, height_mm=10)
    assert view.off_light(cell, edits.places(CHAMBER, BLANK)) == ""
    assert replace(view.cell_row(cell, {}, ["X"]), caution="").chosen


def test_a_chamber_without_places_still_takes_cells() -> None:
    plain = Chamber(zones=tuple(z.model_copy(update={"place": None}) for z in CHAMBER.zones))
    sheet, name = edits.add(BLANK, plain)
    assert sheet.cells[0].zone == "A1"
    assert edits.put(sheet, plain, name, Box(200, 120, 20, 20)).cells[0].zone == "A1"
