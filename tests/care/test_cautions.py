"""Which cautions a sheet and plan call for."""

import pytest

from lampwarden.care.cautions import Weight, cautions
from lampwarden.domain.sheet import Cell, Ink, InkKind, PaperKind, Sheet, Treatment

LIGHT = Treatment(light=True)
PEROXIDE = Treatment(chemical="hydrogen peroxide", strength_pct=3, wet_min=20)
BOTH = Treatment(light=True, chemical="hydrogen peroxide", strength_pct=3, wet_min=20)
COVERED = Treatment(covered=True)
WASH = Treatment(chemical="calcium hydroxide", strength_pct=0.1, wet_min=60)


def sheet(paper=PaperKind.RAG, inks=(), *, original=False, consent=True, sizing=""):
    return Sheet(id="t", title="t", paper=paper, inks=inks, original=original, consent=consent, sizing=sizing)


def keys(*args, **named):
    return {caution.key for caution in cautions(*args, **named)}


def ink(kind=InkKind.CARBON_BLACK, fugitive=False):
    return (Ink(name="i", kind=kind, fugitive=fugitive),)


def test_an_untreated_sheet_needs_no_caution():
    assert keys(sheet(), [COVERED, Treatment()]) == set()


def test_an_original_is_for_a_conservator_to_decide():
    (first, *_) = cautions(sheet(original=True, consent=False), [LIGHT])
    assert first.key == "original"
    assert first.weight is Weight.CONFIRM
    assert "trained paper conservator to decide" in first.statement.text
    assert "consent" in keys(sheet(consent=False), [LIGHT])
    assert not {"original", "consent"} & keys(sheet(), [LIGHT])


@pytest.mark.parametrize(
    ("paper", "treatment", "there", "absent"),
    [
        (PaperKind.GROUNDWOOD, LIGHT, {"groundwood-reverts"}, {"groundwood-wet", "paper-unknown"}),
        (PaperKind.GROUNDWOOD, PEROXIDE, {"groundwood-wet"}, {"groundwood-reverts"}),
        (PaperKind.UNKNOWN, LIGHT, {"groundwood-reverts", "paper-unknown"}, set()),
        (PaperKind.COATED, PEROXIDE, {"coated-wet"}, {"groundwood-wet"}),
        (PaperKind.COATED, LIGHT, {"eyes-light"}, {"coated-wet"}),
        (PaperKind.CHEMICAL, LIGHT, {"chemical-wood"}, {"groundwood-reverts"}),
        (PaperKind.RAG, LIGHT, {"rag-dry"}, {"groundwood-reverts"}),
        (PaperKind.RAG, BOTH, {"peroxide-light", "bath-acid"}, {"rag-dry"}),
    ],
)
def test_paper_and_treatment(paper, treatment, there, absent):
    found = keys(sheet(paper), [treatment])
    assert there <= found
    assert not absent & found


def test_groundwood_reverts_in_words_and_with_a_source():
    found = next(c for c in cautions(sheet(PaperKind.GROUNDWOOD), [LIGHT]) if c.key == "groundwood-reverts")
    assert "turns yellow again" in found.statement.text
    assert "Lee, Bogaard and Feller 1989" in found.statement.sourced
    assert found.weight is Weight.CONFIRM


@pytest.mark.parametrize(
    ("inks", "treatment", "there", "absent"),
    [
        (ink(), BOTH, set(), {"ink-wet", "ink-light", "iron-gall"}),
        (ink(InkKind.ORGANIC_RED_YELLOW), LIGHT, {"ink-light"}, {"ink-wet"}),
        (ink(InkKind.DYE), WASH, {"ink-wet"}, {"ink-light"}),
        (ink(InkKind.UNKNOWN), BOTH, {"ink-wet", "ink-light", "mineral-wet"}, set()),
        (ink(fugitive=True), WASH, {"ink-wet"}, set()),
        (ink(InkKind.MINERAL), WASH, {"mineral-wet"}, {"ink-light", "ink-wet"}),
        (ink(InkKind.MINERAL), LIGHT, {"ink-light"}, {"mineral-wet"}),
        (ink(InkKind.IRON_GALL), LIGHT, {"iron-gall"}, set()),
    ],
)
def test_inks_and_treatment(inks, treatment, there, absent):
    found = keys(sheet(inks=inks), [treatment])
    assert there <= found
    assert not absent & found


def test_gelatin_size_and_warm_baths():
    assert "gelatin" in keys(sheet(sizing="Gelatin"), [WASH])
    assert "gelatin" not in keys(sheet(sizing="Gelatin"), [LIGHT])


def test_peroxide_brings_eyes_gloves_air_rinse_and_storage():
    wanted = {"peroxide-eyes", "peroxide-air", "peroxide-bath", "peroxide-mix", "peroxide-rinse", "peroxide-store"}
    assert wanted <= keys(sheet(), [PEROXIDE])
    assert not wanted & keys(sheet(), [WASH, LIGHT])


def test_strong_peroxide_and_long_contact_must_be_confirmed():
    strong = Treatment(chemical="hydrogen peroxide", strength_pct=12, wet_min=45)
    found = {c.key: c for c in cautions(sheet(), [PEROXIDE, strong])}
    assert found["peroxide-long"].weight is Weight.CONFIRM
    assert [c for c in found if c.startswith("peroxide-strength")] != []
    assert "12 % is stronger" in found["peroxide-strength-1"].statement.text
    assert not any(key.startswith(("peroxide-strength", "peroxide-long")) for key in keys(sheet(), [PEROXIDE]))


def test_short_waves_are_for_experts():
    assert "short-band" in keys(sheet(), [LIGHT], peak_nm=405)
    assert "short-band" not in keys(sheet(), [LIGHT], peak_nm=435)
    assert "short-band" not in keys(sheet(), [PEROXIDE], peak_nm=405)


def test_the_cells_of_the_sheet_are_looked_at_by_default():
    cell = Cell(name="A1", zone="Z", x_mm=0, y_mm=0, width_mm=10, height_mm=10, treatment=BOTH)
    described = sheet().model_copy(update={"cells": (cell,)})
    assert cautions(described) == cautions(sheet(), [BOTH])
    assert cautions(sheet()) == ()


def test_weightiest_first_and_every_key_once():
    found = cautions(sheet(PaperKind.UNKNOWN, ink(InkKind.UNKNOWN), original=True), [BOTH, PEROXIDE])
    weights = [c.weight for c in found]
    assert weights == sorted(weights, reverse=True)
    assert len({c.key for c in found}) == len(found)
    assert all(c.statement.source for c in found)
